import datetime as dt
import math
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from cold_world import DAY, DAY0, HOUR, air_c, ambient_of, make_days, utc

from resupply.common.errors import TripFileError
from resupply.kitchen.cold.weather import DayWeather, make_ambient, sun_spans


def at(day, hour, zone=dt.UTC):
    return dt.datetime.combine(DAY0 + dt.timedelta(days=day), dt.time(hour), zone).timestamp()


def test_low_at_sunrise_and_high_in_the_afternoon():
    ambient = ambient_of((10, 20), (12, 30), (14, 26))
    assert ambient.at([at(0, 6), at(0, 15), at(1, 6)]) == pytest.approx([12, 30, 14])


def test_curve_agrees_with_one_written_out_by_hand():
    days = make_days([(10, 20), (12, 30), (14, 26), (3, 35)])
    times = np.arange(at(-1, 0), at(2, 23), 1777.0)
    expected = [air_c(days, t) for t in times]
    assert make_ambient(days, utc).at(times) == pytest.approx(expected, abs=1e-9)


def test_mean_is_the_integral_of_the_curve():
    ambient = ambient_of((10, 20), (12, 30), (14, 26))
    start, end = at(0, 3) + 700.0, at(1, 20)
    times = np.linspace(start, end, 200_001)
    fine = np.trapezoid(ambient.at(times), times) / (end - start)
    assert ambient.mean([start], [end])[0] == pytest.approx(fine, abs=1e-6)


def test_day_without_figures_is_not_known_and_its_neighbours_are():
    ambient = ambient_of((10, 20), (12, 30), None, (14, 26))
    assert math.isnan(ambient.at(at(1, 12)))
    assert not math.isnan(ambient.at(at(0, 23)))
    assert not math.isnan(ambient.at(at(2, 1)))
    assert math.isnan(ambient.mean([at(0, 20)], [at(1, 2)])[0])


def test_day_that_is_not_given_is_not_known():
    days = make_days([(10, 20), (12, 30)])
    assert math.isnan(make_ambient([days[0]], utc).at(at(0, 12)))
    assert np.isnan(make_ambient([], utc).at([at(0, 12), at(1, 0)])).all()
    assert np.isnan(make_ambient([], utc).mean([at(0, 12)], [at(1, 0)])).all()


def test_only_one_figure_is_not_enough():
    day = DayWeather(DAY0, None, 30.0, "half")
    assert not day.known
    assert math.isnan(make_ambient([day], utc).at(at(0, 12)))


def test_low_and_high_are_local_times():
    zone = ZoneInfo("Atlantic/Azores")
    ambient = make_ambient(make_days([(10, 20), (12, 30), (14, 26)]), lambda _date: zone)
    assert ambient.at([at(0, 6, zone), at(0, 15, zone)]) == pytest.approx([12, 30])


def test_clock_change_leaves_no_hole():
    zone = ZoneInfo("Europe/Vienna")
    first = dt.date(2027, 3, 27)
    days = [DayWeather(first + dt.timedelta(days=i), 2, 12, "t") for i in range(4)]
    ambient = make_ambient(days, lambda _date: zone)
    start = dt.datetime(2027, 3, 27, tzinfo=zone).timestamp()
    end = dt.datetime(2027, 3, 30, 12, tzinfo=zone).timestamp()
    assert not np.isnan(ambient.at(np.arange(start, end, 600.0))).any()


def test_low_above_high_is_refused():
    with pytest.raises(TripFileError, match="low is above high"):
        DayWeather(DAY0, 21.0, 20.0, "t")


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_figure_that_is_no_number_is_refused(value):
    with pytest.raises(TripFileError, match="numbers"):
        DayWeather(DAY0, 10.0, value, "t")


def test_date_given_twice_is_refused():
    day = DayWeather(DAY0, 10.0, 20.0, "t")
    with pytest.raises(TripFileError, match="twice"):
        make_ambient([day, day], utc)


def test_sun_shines_while_riding_and_in_an_open_camp():
    ride = (at(0, 9), at(0, 16))
    dates = [DAY0]
    riding = sun_spans([ride], dates, utc, shaded_riding=False, shaded_camp=True)
    camp = sun_spans([ride], dates, utc, shaded_riding=True, shaded_camp=False)
    assert riding == (ride,)
    assert camp == ((at(0, 8), at(0, 9)), (at(0, 16), at(0, 18)))
    assert sun_spans([ride], dates, utc, shaded_riding=True, shaded_camp=True) == ()


def test_day_in_an_open_camp_is_sunny_for_ten_hours():
    spans = sun_spans([], [DAY0], utc, shaded_riding=True, shaded_camp=False)
    assert sum(b - a for a, b in spans) == 10 * HOUR


def test_known_days_in_a_row_are_one_span():
    ambient = ambient_of(*[(10, 20)] * 5)
    assert len(ambient.known) == 1
    assert ambient.known[0][1] - ambient.known[0][0] == 5 * DAY
