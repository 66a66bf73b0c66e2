"""What tags say of days and times on which a place is not there, whatever its hours say."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from worlds import shop

from resupply.common import show
from resupply.hours.describe import describe
from resupply.hours.limits import (
    MAY_BE_DRY,
    OUT_OF_SEASON,
    SEASON_OVER,
    is_limit,
    last_checked,
    limited,
)
from resupply.hours.state import OpenState, Segment
from resupply.hours.stated import stated_hours
from resupply.hours.timetable import build_timetable, is_limited, states

OPEN, SHUT, UNKNOWN = OpenState.OPEN, OpenState.SHUT, OpenState.UNKNOWN
YEAR = (dt.date(2027, 1, 1), dt.date(2028, 1, 1))
ZONE = "Atlantic/Azores"


def segments(hours="24/7", *, north=True, **tags):
    tags = {key.replace("__", ":"): value for key, value in tags.items()}
    return limited(stated_hours(hours, *YEAR).segments, tags, hours, north=north)


def on(month, day, hour=12, *, hours="24/7", **tags):
    at = dt.datetime.combine(dt.date(2027, month, day), dt.time(hour))
    found = next(s for s in segments(hours, **tags) if s.start <= at < s.end)
    return found.state, found.note


def test_a_place_past_its_end_is_shut_and_before_it_as_tagged():
    assert on(6, 1, end_date="2026") == (SHUT, "no longer there since 2026, says the map")
    assert on(6, 1, end_date="2027-05-31")[0] is SHUT
    assert on(5, 30, end_date="2027-05-31") == (OPEN, "")
    assert on(6, 1, end_date="2028")[0] is OPEN


def test_within_the_year_or_month_of_its_end_nobody_knows():
    assert on(6, 1, end_date="2027")[0] is UNKNOWN
    assert on(6, 1, end_date="2027-06")[0] is UNKNOWN
    assert on(7, 1, end_date="2027-06")[0] is SHUT


@pytest.mark.parametrize("text", ["soon", "~2031", "C21", "2027-13", "0000", "<b>"])
def test_an_end_that_cannot_be_read_is_a_doubt(text):
    assert on(6, 1, end_date=text)[0] is UNKNOWN


@pytest.mark.parametrize("key", ["start_date", "opening_date"])
def test_a_place_still_to_open_is_shut_before_and_open_after(key):
    assert on(6, 1, **{key: "2027-07-01"}) == (SHUT, "not open before 2027-07-01, says the map")
    assert on(7, 1, **{key: "2027-07-01"})[0] is OPEN
    assert on(7, 15, **{key: "2027-07"})[0] is UNKNOWN
    assert on(6, 1, **{key: "1930"})[0] is OPEN
    assert on(6, 1, **{key: "before 1900"})[0] is OPEN


def test_a_season_with_months_shuts_outside_and_opens_within():
    for text in ("15 Jun-15 Sep", "Jun 15-Sep 15"):
        assert on(10, 20, seasonal=text) == (SHUT, SEASON_OVER)
        assert on(7, 1, seasonal=text)[0] is OPEN
        assert on(10, 20, hours=text)[0] is SHUT
        assert on(7, 1, hours=text)[0] is OPEN
    assert on(7, 1, hours="Nov-Mar")[0] is SHUT
    assert on(7, 1, hours="closed")[0] is SHUT
    # Hours with months know better.
    assert on(7, 1, hours="Jul", seasonal="Aug")[0] is OPEN


def test_a_season_by_name_or_not_named_is_a_doubt_even_without_hours():
    assert on(10, 20, seasonal="summer") == (UNKNOWN, OUT_OF_SEASON)
    assert on(10, 20, hours="", seasonal="summer") == (UNKNOWN, OUT_OF_SEASON)
    assert on(7, 1, seasonal="summer")[0] is OPEN
    assert on(7, 1, seasonal="summer", north=False)[0] is UNKNOWN
    assert on(7, 1, seasonal="yes")[0] is UNKNOWN
    assert on(7, 1, seasonal="May-Broken 9")[0] is UNKNOWN


def test_an_intermittent_source_may_be_dry_on_any_day():
    assert on(6, 1, intermittent="yes") == (UNKNOWN, MAY_BE_DRY)
    assert on(6, 1, intermittent="no")[0] is OPEN


def test_access_at_times_shuts_then():
    assert on(6, 1, access__conditional="no @ (Nov-Mar)")[0] is OPEN
    assert on(1, 1, access__conditional="no @ (Nov-Mar)")[0] is SHUT
    private = {"access": "private", "access__conditional": "yes @ (Sa 09:00-12:00)"}
    assert on(6, 5, 10, **private)[0] is OPEN
    assert on(6, 5, 13, **private)[0] is SHUT
    assert on(6, 6, 10, **private)[0] is SHUT
    assert on(6, 1, access__conditional="customers @ (Mo-Su)")[0] is OPEN
    assert on(6, 1, access__conditional="no @ (stay > 2 h)")[0] is UNKNOWN
    assert on(6, 1, access__conditional="ask")[0] is UNKNOWN


LIMITS = st.fixed_dictionaries(
    {},
    optional={
        "end_date": st.sampled_from(["2026", "2027", "2027-06-10", "x", ""]),
        "start_date": st.sampled_from(["1950", "2027-03", "2030", "x"]),
        "opening_date": st.sampled_from(["2027-05-05", "x"]),
        "seasonal": st.sampled_from(["yes", "no", "summer", "Jun-Sep", "15 Jun-15 Sep", "Jun-X"]),
        "intermittent": st.sampled_from(["yes", "no"]),
        "access": st.sampled_from(["private", "yes", "private;customers"]),
        "access:conditional": st.sampled_from(["no @ (Nov-Mar)", "yes @ (Mo-Fr)", "no @ wet", "@"]),
    },
)  # fmt: skip


@given(LIMITS, st.sampled_from(["24/7", "Mo-Fr 09:00-18:00", "", "broken 9", "Jun-Aug"]))
def test_no_limit_opens_a_door_and_the_days_stay_covered(tags, hours):
    before = stated_hours(hours, *YEAR).segments
    after = limited(before, tags, hours, north=True)
    assert after[0].start == before[0].start
    assert after[-1].end == before[-1].end
    assert all(a.end == b.start for a, b in pairwise(after))
    # The arrays need neighbours that differ unless both are unknown.
    for a, b in pairwise(after):
        assert a.state is not b.state or a.state is UNKNOWN

    def at(rows: tuple[Segment, ...], when: dt.datetime):
        return next(row.state for row in rows if row.start <= when < row.end)

    for day in range(0, 365, 7):
        when = dt.datetime.combine(YEAR[0] + dt.timedelta(days=day), dt.time(10))
        old, new = at(before, when), at(after, when)
        assert new is not OPEN or old is OPEN
        assert old is not SHUT or new is SHUT


def timetable(**options):
    day = dt.datetime(2027, 10, 20, tzinfo=dt.UTC)
    return build_timetable([shop(1, -28.0, 38.5, **options)], start=day, end=day, zone_of=ZONE)


NOON_S = dt.datetime(2027, 10, 20, 13, tzinfo=dt.UTC).timestamp()


def test_a_shop_that_is_gone_says_so_and_has_no_usual_hours():
    table = timetable(tags={"end_date": "2019"})
    said = describe(table, 0, NOON_S)
    assert (said.state, said.usual) == (SHUT, "")
    assert show.text(said.words) == "shut (no longer there since 2019, says the map)"
    gone = timetable(hours="24/7", tags={"end_date": "2019"})
    assert states(gone, 0, NOON_S, 0.0, 900.0) == SHUT


def test_out_of_season_without_hours_says_why_nothing_is_known():
    table = timetable(tags={"seasonal": "summer"})
    assert is_limited(table, 0, NOON_S)
    assert OUT_OF_SEASON in show.text(describe(table, 0, NOON_S).words)
    assert is_limit(OUT_OF_SEASON)
    assert not is_limited(timetable(), 0, NOON_S)


def test_a_check_many_years_old_is_said_and_a_recent_one_is_not():
    for hours, known in (("24/7", "open around the clock"), (None, "hours not known")):
        old = timetable(hours=hours, tags={"check_date": "2014-05"})
        assert show.text(describe(old, 0, NOON_S).words) == f"{known}; last checked in 2014"
        for tags in ({"check_date": "2014", "survey:date": "2026"}, {"check_date": "long ago"}, {}):
            assert show.text(describe(timetable(hours=hours, tags=tags), 0, NOON_S).words) == known
    assert last_checked({"check_date:opening_hours": "2020-02"}) == dt.date(2020, 2, 29)


def test_pumps_without_staff_are_usually_open_at_night():
    night_s = dt.datetime(2027, 10, 20, 3, tzinfo=dt.UTC).timestamp()
    pump = timetable(kind="amenity=fuel", tags={"automated": "yes"})
    assert describe(pump, 0, night_s).usual == "usually open then (estimate)"
    assert describe(timetable(kind="amenity=fuel"), 0, night_s).usual == ""
