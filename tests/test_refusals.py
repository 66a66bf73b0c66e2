"""What a rider may write that cannot be: each is refused in words that name it."""

from __future__ import annotations

import datetime as dt

import pytest
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.api import cook
from resupply.common.errors import OutputError, TripFileError
from resupply.hours.usual import read_usual_hours
from resupply.kitchen.cold.weather import DayWeather
from resupply.plan.pipeline import plan_trip
from resupply.plan.prepare import prepare
from resupply.report.log import add_to_log
from resupply.trip.read_file import make_trip, parse_trip


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[pace]\ndaily_km = 200\ndaily_mi = 120", "daily_km is given twice, in two units"),
        ("[pace]\nrest_every_h = 0.05", "must be 0 for no rests, or at least 0.1"),
        ("[weather]\ndays = [{ low_c = 1, high_c = 2 }]", "give either day or date"),
        (
            "[weather]\ndays = [{ day = 1, date = 2027-07-09, low_c = 1, high_c = 2 }]",
            "give either day or date",
        ),
    ],
)
def test_values_that_cannot_be_meant_are_refused(text, says):
    with pytest.raises(TripFileError, match=says):
        parse_trip(text)


def test_an_option_within_what_is_no_table_is_named():
    with pytest.raises(TripFileError, match="pace"):
        make_trip({"pace": 3}, overrides={"pace.daily_km": 200.0})


def test_a_trip_without_a_route_says_how_to_name_one(tmp_path):
    with pytest.raises(TripFileError, match="no route is given"):
        prepare(make_trip({}), tmp_path)


def test_an_unknown_allergen_is_refused_with_the_names_that_are_known(tmp_path):
    trip = trip_of(party={"allergens": ["peanutz"]}, pace={"daily_km": 100})
    route = winding_route(250)
    plan = plan_trip(prepared_world(route, shops_along(route, [20, 120, 220]), trip), trip)
    with pytest.raises(TripFileError, match=r"peanutz.*Use these names: .*peanuts"):
        cook(plan, tmp_path)


def test_a_log_that_is_no_table_is_left_alone(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(b"\xff\xfe not a table")
    with pytest.raises(OutputError, match="the log cannot be read"):
        add_to_log(path, {"at_km": 3.0})
    assert path.read_bytes() == b"\xff\xfe not a table"


def test_the_low_of_a_day_comes_before_its_high():
    with pytest.raises(TripFileError, match="low must come before the high"):
        DayWeather(
            dt.date(2027, 7, 9), 10.0, 20.0, "own", low_at=dt.time(16, 0), high_at=dt.time(15, 0)
        )


def test_a_table_of_usual_hours_of_megabytes_is_not_read(tmp_path):
    path = tmp_path / "usual.toml"
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(TripFileError, match="larger than 1 MB"):
        read_usual_hours(path)
