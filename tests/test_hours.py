"""Timetables of places and the state of visits."""

from __future__ import annotations

import datetime as dt
import itertools
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from resupply.common import show
from resupply.hours.describe import describe
from resupply.hours.intervals import row_of
from resupply.hours.timetable import (
    OpenState,
    build_timetable,
    known_around,
    states,
    usual_states,
)
from resupply.hours.usual import UsualHours, UsualRow
from resupply.places.place import Place

OPEN, TIGHT = OpenState.OPEN, OpenState.TIGHT
SHUT, UNKNOWN = OpenState.SHUT, OpenState.UNKNOWN
AZORES = ZoneInfo("Atlantic/Azores")
FRIDAY = dt.date(2027, 7, 9)
WEEKDAYS = "Mo-Fr 08:00-12:00,14:00-18:00; Sa 08:00-12:00; PH off"
HOUR_S = 3600.0


def place(hours: str | None = None, *, lon=-28.0, lat=47.0, kind="shop=supermarket", **tags):
    return Place(f"node/{lon},{lat}", lon, lat, "", kind, {}, hours, tags)


def local(day: dt.date, clock: str, zone=AZORES) -> dt.datetime:
    return dt.datetime.combine(day, dt.time.fromisoformat(clock), tzinfo=zone)


def table_of(*places, zone="Atlantic/Azores", country="AT", days=14, start=FRIDAY, **options):
    first = local(start, "00:00")
    return build_timetable(
        places,
        start=first,
        end=first + dt.timedelta(days=days),
        zone_of=zone,
        country=country,
        **options,
    )


def visit(
    table, clock, *, day=FRIDAY, zone=AZORES, ix=0, half_min=0.0, stay_min=0.0, ask=states
) -> OpenState:
    at_s = local(day, clock, zone).timestamp()
    return OpenState(int(ask(table, ix, at_s, half_min * 60.0, stay_min * 60.0)))


@pytest.mark.parametrize(
    ("clock", "half_min", "stay_min", "expected"),
    [
        ("10:00", 30, 30, OPEN),
        ("08:00", 0, 0, OPEN),
        ("08:10", 15, 10, TIGHT),
        ("07:50", 5, 4, SHUT),
        ("07:50", 5, 6, SHUT),
        ("11:30", 0, 30, OPEN),
        ("11:30", 1, 30, TIGHT),
        ("12:00", 0, 0, SHUT),
        ("13:00", 59, 0, SHUT),
        ("13:00", 62, 0, SHUT),
        ("13:00", 300, 0, SHUT),
        ("17:59", 10, 20, TIGHT),
        ("18:00", 10, 20, SHUT),
        ("18:11", 10, 20, SHUT),
    ],
)
def test_state_of_a_visit_depends_on_doubt_and_stay(clock, half_min, stay_min, expected):
    table = table_of(place(WEEKDAYS))

    assert visit(table, clock, half_min=half_min, stay_min=stay_min) is expected


def test_sunday_is_shut_all_day():
    table, sunday = table_of(place(WEEKDAYS)), FRIDAY + dt.timedelta(days=2)

    assert {visit(table, f"{hour:02d}:00", day=sunday) for hour in range(24)} == {SHUT}


@pytest.mark.parametrize("hours", [None, "Mo-Fr 9-17", '"by appointment"', "unknown", "SH"])
@pytest.mark.parametrize("half_min", [0, 60, 600])
def test_what_is_not_known_is_never_open_tight_or_shut(hours, half_min):
    assert visit(table_of(place(hours)), "10:00", half_min=half_min) is UNKNOWN


def test_a_visit_that_touches_something_unknown_is_not_known():
    table = table_of(place("Mo-Fr 08:00-12:00+"))

    assert visit(table, "11:30", stay_min=30) is OPEN
    assert visit(table, "11:30", stay_min=31) is UNKNOWN


def test_outside_the_timetable_nothing_is_known():
    table = table_of(place("24/7"))

    assert visit(table, "12:00") is OPEN
    assert visit(table, "12:00", day=dt.date(2026, 1, 1)) is UNKNOWN
    assert visit(table, "12:00", day=dt.date(2028, 1, 1)) is UNKNOWN


def test_equal_texts_are_evaluated_once():
    table = table_of(*[place(WEEKDAYS, lon=-28.0 + i / 100.0) for i in range(50)], place(None))

    assert len(set(table.row.tolist())) == 2


def test_texts_by_the_sun_are_evaluated_where_the_place_is():
    table = table_of(place("sunrise-sunset", lon=-28.0), place("sunrise-sunset", lon=-24.0))

    # Four degrees of longitude are 16 minutes of the sun.
    opens = [describe(table, ix, local(FRIDAY, "03:00").timestamp()).next_open for ix in (0, 1)]
    assert dt.timedelta(minutes=14) < opens[0] - opens[1] < dt.timedelta(minutes=18)


def test_hours_are_local_on_both_sides_of_a_zone_border():
    zones = {10.0: "Europe/Rome", 30.0: "Europe/Helsinki"}
    table = table_of(
        place("08:00-12:00", lon=10.0),
        place("08:00-12:00", lon=30.0),
        zone=lambda lon, _lat: zones[lon],
        country=None,
    )
    at_s = dt.datetime(2027, 7, 9, 5, 30, tzinfo=dt.UTC).timestamp()

    # 05:30 UTC is 07:30 in Rome and 08:30 in Helsinki.
    assert [OpenState(int(code)) for code in states(table, [0, 1], at_s, 0, 0)] == [SHUT, OPEN]


@pytest.mark.parametrize("zone", [None, "", "Mars/Olympus", "../../etc/passwd"])
def test_without_a_time_zone_nothing_is_known(zone):
    table = table_of(place("24/7"), zone=lambda _lon, _lat: zone)

    assert visit(table, "12:00") is UNKNOWN
    assert show.text(describe(table, 0, local(FRIDAY, "12:00").timestamp()).words).startswith(
        "hours not known"
    )


@pytest.mark.parametrize(
    ("day", "offset_h"),
    [(dt.date(2027, 3, 28), 2), (dt.date(2027, 10, 31), 1)],
)
def test_hours_are_right_on_the_day_the_clock_changes(day, offset_h):
    vienna = ZoneInfo("Europe/Vienna")
    table = table_of(place("Su,PH 09:00-10:00"), zone="Europe/Vienna", start=day)
    opens = dt.datetime.combine(day, dt.time(9 - offset_h), tzinfo=dt.UTC).timestamp()

    found = [
        OpenState(int(c)) for c in states(table, 0, opens + np.array([-1, 0, 3599, 3600]), 0, 0)
    ]
    assert found == [SHUT, OPEN, OPEN, SHUT]
    assert visit(table, "09:30", day=day, zone=vienna) is OPEN


def test_a_night_with_a_clock_change_leaves_no_hole():
    for text in ("24/7", "Sa 22:00-06:00", "Su 02:30-04:00", "Su 02:00-03:00"):
        for day in (dt.date(2027, 3, 28), dt.date(2027, 10, 31)):
            table = table_of(place(text), zone="Europe/Vienna", start=day)
            parts = row_of(table.stated, 0)

            assert parts[0].start_s == table.start_s
            assert parts[-1].end_s == table.end_s
            assert all(one.end_s == two.start_s for one, two in itertools.pairwise(parts))
            assert all(one.start_s < one.end_s for one in parts)


def test_the_country_comes_from_the_zone_if_not_stated():
    feast = dt.date(2027, 10, 26)
    abroad = table_of(place(WEEKDAYS), zone="Europe/Berlin", country=None, start=feast)
    austria = table_of(place(WEEKDAYS), zone="Europe/Vienna", country=None, start=feast)

    assert visit(austria, "10:00", day=feast, zone=ZoneInfo("Europe/Vienna")) is SHUT
    assert visit(abroad, "10:00", day=feast, zone=ZoneInfo("Europe/Berlin")) is OPEN


def test_hours_hold_unless_it_is_a_public_holiday_where_the_country_is_not_known():
    table = table_of(place(WEEKDAYS), place("24/7"), zone="Etc/GMT+2", country=None)

    at_sea = ZoneInfo("Etc/GMT+2")

    assert visit(table, "10:00", zone=at_sea) is OpenState.UNLESS_HOLIDAY
    assert visit(table, "11:50", zone=at_sea, stay_min=30) is TIGHT
    assert visit(table, "20:00", zone=at_sea) is SHUT
    assert visit(table, "10:00", zone=at_sea, ix=1) is OPEN
    at_s = dt.datetime(2027, 7, 9, 10, tzinfo=dt.timezone(dt.timedelta(hours=-2))).timestamp()
    assert (
        show.text(describe(table, 0, at_s).words)
        == "open 08:00–12:00 unless it is a public holiday"
    )


def test_the_country_is_that_of_the_place_where_only_the_clock_is_stated():
    feast = dt.date(2027, 10, 26)
    table = table_of(
        place(WEEKDAYS),
        zone="Europe/Berlin",
        country=None,
        country_zone_of=lambda _lon, _lat: "Europe/Vienna",
        start=feast,
    )

    assert visit(table, "10:00", day=feast, zone=ZoneInfo("Europe/Berlin")) is SHUT


def test_a_seasonal_place_is_not_known_out_of_season():
    july = table_of(place("08:00-20:00", seasonal="summer"), place("08:00-20:00", seasonal="yes"))
    march = table_of(place("08:00-20:00", seasonal="summer"), start=dt.date(2027, 3, 9))

    assert visit(july, "10:00") is OPEN
    assert visit(july, "10:00", ix=1) is UNKNOWN
    assert visit(march, "10:00", day=dt.date(2027, 3, 9)) is UNKNOWN
    assert visit(march, "21:00", day=dt.date(2027, 3, 9)) is SHUT


USUAL = UsualHours(
    ({("", "shop=supermarket"): UsualRow("Mo-Sa 08:00-19:00; PH off", "a test"),
      ("FR", "shop=supermarket"): UsualRow("Tu-Sa 09:00-12:00", "a test")},)
)  # fmt: skip


def test_usual_hours_are_asked_for_places_without_readable_hours_only():
    table = table_of(
        place(None),
        place("Mo-Fr 9-17"),
        place("Su 10:00-12:00"),
        place('"by appointment"'),
        place(None, kind="shop=farm"),
        usual=USUAL,
    )

    assert [visit(table, "10:00", ix=ix, ask=usual_states) for ix in range(5)] == [
        OPEN,
        OPEN,
        UNKNOWN,
        UNKNOWN,
        UNKNOWN,
    ]
    assert [visit(table, "10:00", ix=ix) for ix in range(5)] == [
        UNKNOWN,
        UNKNOWN,
        SHUT,
        UNKNOWN,
        UNKNOWN,
    ]


def test_usual_hours_are_those_of_the_country():
    table = table_of(place(None), zone="Europe/Paris", country="FR", usual=USUAL)
    paris = ZoneInfo("Europe/Paris")

    assert visit(table, "10:00", zone=paris, ask=usual_states) is OPEN
    assert visit(table, "14:00", zone=paris, ask=usual_states) is SHUT
    assert visit(table, "11:50", zone=paris, half_min=15, ask=usual_states) is TIGHT


def test_a_seasonal_place_has_no_estimate_out_of_season():
    table = table_of(place(None, seasonal="winter"), usual=USUAL)

    assert visit(table, "10:00", ask=usual_states) is UNKNOWN


def test_without_a_table_there_is_no_estimate():
    assert visit(table_of(place(None)), "10:00", ask=usual_states) is UNKNOWN


def test_queries_are_broadcast():
    table = table_of(place(WEEKDAYS), place("24/7"))
    at_s = local(FRIDAY, "10:00").timestamp() + np.arange(0.0, 6.0) * HOUR_S

    found = states(table, np.array([[0], [1]]), at_s, 600.0, 900.0)
    assert found.shape == (2, 6)
    assert found.dtype == np.int8


def test_no_places_make_an_empty_timetable():
    table = table_of()

    assert states(table, np.zeros(0, dtype=int), np.zeros(0), 0.0, 0.0).shape == (0,)


def words(hours, clock, *, day=FRIDAY, **options):
    return describe(table_of(place(hours), **options), 0, local(day, clock).timestamp())


SUNDAY = FRIDAY + dt.timedelta(days=2)


@pytest.mark.parametrize(
    ("hours", "day", "clock", "expected"),
    [
        (WEEKDAYS, FRIDAY, "10:00", "open 08:00–12:00"),
        (WEEKDAYS, FRIDAY, "13:00", "shut, opens 14:00"),
        (WEEKDAYS, SUNDAY, "13:00", "shut, opens Mon 08:00"),
        ("24/7", FRIDAY, "10:00", "open around the clock"),
        ("off", FRIDAY, "10:00", "shut, and for a week after"),
        ("Mo-Su 08:00-24:00", FRIDAY, "10:00", "open 08:00–24:00"),
        ("Fr 20:00-02:00", FRIDAY, "21:00", "open 20:00–02:00"),
        ("Th 20:00-02:00", FRIDAY, "01:00", "open until 02:00"),
        ("Fr-Su", FRIDAY, "10:00", "open until Mon 00:00"),
        ("Jul 16 10:00-12:00", FRIDAY, "10:00", "shut, opens Fri 16 Jul 10:00"),
        ("Jul 20 10:00-12:00", FRIDAY, "10:00", "shut, and for a week after"),
        ("08:00-12:00+", FRIDAY, "10:00",
         "open until 12:00, then not known (closing time not given)"),
        ("08:00+", FRIDAY, "07:00", "shut, from 08:00 not known (closing time not given)"),
        ("08:00+", FRIDAY, "09:00",
         "hours not known then (closing time not given; on the map: 08:00+)"),
        (None, FRIDAY, "10:00", "hours not known"),
        ("Mo-Fr 9-17", FRIDAY, "10:00", "hours not known (on the map: Mo-Fr 9-17)"),
        ("x" * 2000, FRIDAY, "10:00", f"hours not known (on the map: {'x' * 119}…)"),
    ],
)  # fmt: skip
def test_hours_in_plain_words(hours, day, clock, expected):
    assert show.text(words(hours, clock, day=day).words) == expected


def test_next_opening_and_closing_are_local_times():
    shut = words(WEEKDAYS, "13:00", day=SUNDAY)
    monday = FRIDAY + dt.timedelta(days=3)

    assert shut.state is SHUT
    assert shut.next_open == local(monday, "08:00")
    assert shut.next_close == local(monday, "12:00")
    assert shut.next_open.tzinfo is not None
    assert shut.next_open.utcoffset() == dt.timedelta(0)

    open_now = words(WEEKDAYS, "10:00")
    assert open_now.state is OPEN
    assert open_now.next_close == local(FRIDAY, "12:00")
    assert open_now.next_open == local(FRIDAY, "14:00")


def test_what_never_changes_has_no_next_opening_or_closing():
    for hours in ("24/7", "off", None):
        found = words(hours, "10:00")
        assert found.next_open is None
        assert found.next_close is None


def test_an_end_that_is_not_known_is_no_closing():
    found = words("08:00-12:00+", "10:00")

    assert found.next_close is None


def test_an_arrival_outside_the_timetable_is_described_as_not_known():
    late = local(dt.date(2031, 1, 1), "10:00").timestamp()

    assert describe(table_of(place("24/7")), 0, late).state is UNKNOWN
    assert (
        show.text(describe(table_of(place(None)), 0, late).words)
        == "hours not known (outside the trip's dates)"
    )


def test_the_estimate_is_called_an_estimate():
    open_then = describe(table_of(place(None), usual=USUAL), 0, local(FRIDAY, "10:00").timestamp())
    shut_then = describe(table_of(place(None), usual=USUAL), 0, local(SUNDAY, "10:00").timestamp())

    assert open_then.usual == "usually open then (estimate)"
    assert shut_then.usual == "usually shut then (estimate)"
    assert open_then.state is shut_then.state is UNKNOWN
    assert words(WEEKDAYS, "10:00", usual=USUAL).usual == ""


@pytest.mark.parametrize("name", ["Europe", "x" * 300, "Nowhere/Else", "..", ""])
def test_a_name_that_is_no_time_zone_leaves_the_hours_not_known(name):
    table = table_of(place("24/7"), zone=name)
    assert table.problems == ("the time zone is not known",)
    assert table.zones == ("",)


@pytest.mark.parametrize("text", [WEEKDAYS, "Mo-Fr 08:00-12:00; Sa unknown; Su off", "24/7"])
def test_what_is_known_around_a_time_has_no_hole_and_agrees_with_the_states(text):
    table = table_of(place(text))
    for hour in range(0, 14 * 24, 5):
        at_s = local(FRIDAY, "00:30").timestamp() + hour * HOUR_S
        found = known_around(table, 0, at_s)
        now = OpenState(int(states(table, 0, at_s, 0.0, 0.0)))
        assert bool(found) is (now is not UNKNOWN)
        for before, after in itertools.pairwise(found):
            assert before.end_s == after.start_s
        for part in found:
            middle_s = (part.start_s + part.end_s) / 2
            assert OpenState(int(states(table, 0, middle_s, 0.0, 0.0))) is part.state
        if found:
            assert found[0].start_s <= at_s < found[-1].end_s


def test_nothing_is_known_around_a_time_without_hours_or_outside_the_span():
    table = table_of(place(None), place("24/7"))
    noon_s = local(FRIDAY, "12:00").timestamp()
    assert known_around(table, 0, noon_s) == ()
    assert known_around(table, 1, noon_s + 300 * 24 * HOUR_S) == ()
