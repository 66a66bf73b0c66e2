"""What is read on the road: the state of a door and the time of an arrival, in both languages."""

from __future__ import annotations

import datetime as dt
import json
import shutil
import subprocess

import numpy as np
import pytest
from conftest import ROOT
from hypothesis import given
from hypothesis import strategies as st

from resupply.hours.intervals import OpenSpan, look_up, make_timeline
from resupply.hours.state import OpenState
from resupply.route.arrivals import arrivals_of
from resupply.route.clock import MealTimes, make_clock
from resupply.route.legs import RideTime, SetOut, make_legs
from resupply.trip.pace import Pace

TABLE = json.loads((ROOT / "docs" / "open_doors.json").read_text("utf-8"))["doors"]
NODE = shutil.which("node")
LATER_S = 10**6


def line_of(doors):
    """The planner's own form of what a pass tells of its doors."""
    known = OpenState.UNLESS_HOLIDAY if doors["unless_holiday"] else OpenState.OPEN
    spans, at_s = (
        [OpenSpan(-LATER_S, doors["known_from_s"], OpenState.UNKNOWN, "")],
        doors["known_from_s"],
    )
    for since_s, until_s in doors["open"]:
        if since_s > at_s:
            spans.append(OpenSpan(at_s, since_s, OpenState.SHUT, ""))
        spans.append(OpenSpan(since_s, until_s, known, ""))
        at_s = until_s
    if at_s < doors["known_to_s"]:
        spans.append(OpenSpan(at_s, doors["known_to_s"], OpenState.SHUT, ""))
    spans.append(OpenSpan(doors["known_to_s"], LATER_S, OpenState.UNKNOWN, ""))
    return make_timeline([spans], -LATER_S, LATER_S)


@pytest.mark.parametrize("case", TABLE, ids=[case["told"] for case in TABLE])
def test_the_planner_judges_doors_as_the_table_says(case):
    doors, line = case["doors"], line_of(case["doors"])
    for at_s, doubt_s, wanted in case["visits"]:
        until_s = at_s + doubt_s + doors["stay_s"]
        (code,) = look_up(line, [0], [at_s - doubt_s], [until_s], [at_s])
        state = OpenState(int(code))
        name = "open_unless_holiday" if state is OpenState.UNLESS_HOLIDAY else state.name.lower()
        assert (at_s, doubt_s, name) == (at_s, doubt_s, wanted)


@pytest.mark.skipif(NODE is None, reason="Node is not installed")
def test_the_page_s_own_computing_passes_its_tests():
    tests = sorted(str(path) for path in (ROOT / "tests" / "node").glob("*.test.js"))
    done = subprocess.run(
        [NODE, "--test", *tests], capture_output=True, encoding="utf-8", timeout=120, check=False
    )
    assert done.returncode == 0, done.stdout[-3000:]


LEG_M = 240_000.0


def clock_with(stops, rest_every_h=2.0, crossings=()):
    knots_m = np.linspace(0.0, 2 * LEG_M, 97)
    pace_s = 60.0 + 30.0 * np.sin(np.arange(97))
    ride = RideTime(knots_m, np.cumsum(pace_s) * 5.0 - pace_s[0] * 5.0, "roads", crossings)
    pace = Pace(rest_every_h=rest_every_h)
    legs = make_legs(
        (LEG_M, 2 * LEG_M),
        pace=pace,
        ride_time=ride,
        set_out=SetOut(dt.date(2027, 7, 9)),
        zone_at=lambda _: dt.UTC,
    )
    clock = make_clock(legs, pace, MealTimes())
    return clock.with_stops([at_m for at_m, _ in stops], [long_s for _, long_s in stops])


@given(
    st.lists(
        st.tuples(st.floats(1_000.0, 2 * LEG_M - 1_000.0), st.floats(300.0, 3_000.0)), max_size=4
    ),
    st.floats(0.0, 2 * LEG_M),
    st.sampled_from([0.0, 1.5, 3.0]),
)
def test_the_table_of_arrivals_agrees_with_the_clock(stops, at_m, rest_every_h):
    clock = clock_with(stops, rest_every_h)
    leg = clock.legs[int(clock.leg_ix(at_m)[()])]
    table = arrivals_of(clock, leg)
    assert (np.diff(table.chainage_m) >= 0.0).all()
    assert (np.diff(table.arrive_s) >= 0.0).all()
    # Where a halt stands, either of its two times will do.
    told = [float(np.interp(at_m + side, table.chainage_m, table.arrive_s)) for side in (-1, 1)]
    assert told[0] - 60.0 <= float(clock.arrive_s(at_m)[0]) <= told[1] + 60.0


def test_a_halt_stands_twice_and_the_ends_of_a_day_once():
    clock = clock_with([(100_000.0, 1_200.0)], rest_every_h=0.0)
    table = arrivals_of(clock, clock.legs[0])
    here = np.flatnonzero(table.chainage_m == 100_000.0)
    waits = np.diff(table.arrive_s[here])
    assert waits.max() == pytest.approx(1_200.0, abs=1.0)
    assert table.chainage_m[[0, -1]].tolist() == [0.0, LEG_M]
    assert table.arrive_s[0] == pytest.approx(clock.depart_s[0], abs=0.1)
    assert table.arrive_s[-1] == pytest.approx(float(clock.arrive_s(LEG_M)[0]), abs=0.1)
    assert table.half_width_s[0] == pytest.approx(600.0, abs=0.1)


def test_the_second_day_begins_at_its_own_departure():
    clock = clock_with([(LEG_M, 900.0)])
    table = arrivals_of(clock, clock.legs[1])
    assert table.arrive_s[0] == pytest.approx(clock.depart_s[1], abs=0.1)


def test_a_crossing_takes_its_time_at_one_place():
    clock = clock_with([], rest_every_h=0.0, crossings=((50_000.0, 7_200.0),))
    table = arrivals_of(clock, clock.legs[0])
    here = np.flatnonzero(table.chainage_m == 50_000.0)
    assert np.diff(table.arrive_s[here]).max() == pytest.approx(7_200.0, abs=1.0)
