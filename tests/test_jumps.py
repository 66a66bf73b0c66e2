"""A jump of the line is asked about, and never ridden in no time and with no fuel."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_classes import as_plan
from told import plan_document
from worlds import prepared_world, shop, trip_of

from resupply.cli.terminal import waited
from resupply.places.place import Confidence, RouteSpan, Supply
from resupply.plan.pipeline import plan_trip
from resupply.plan.prepare import prepare
from resupply.route.jumps import with_ridden_jumps
from resupply.route.route import make_route

KM_PER_DEGREE = 77.46
"""Along 46° N."""


def line(*parts_km):
    """A line from west to east in parts, each from one kilometre to another."""
    parts = []
    for begin, end in parts_km:
        lon = -28.0 + np.linspace(begin, end, 50) / KM_PER_DEGREE
        parts.append((lon, np.full(50, 46.0), None))
    return make_route(parts, name="over the sound")


SEA = line((0, 150), (350, 500))
"""150 km, a jump of 200 km, 150 km."""


def planned(route=SEA, *, fuel=True, at=(100, 220), **tables):
    places = []
    for n, km in enumerate(at, 1):
        lon, lat = route.position_at(km * 1000.0)
        has = {Supply.GROCERIES: Confidence.STATED, Supply.FUEL: Confidence.STATED}
        places.append(shop(n, lon, lat + 0.002, hours="24/7", supplies=has))
    if fuel:
        tables.setdefault("fuel", {"range_km": 250, "reserve_km": 40})
    pace = {"daily_km": 300.0, "speed_kmh": 60.0, "rest_min": 0.0, **tables.pop("pace", {})}
    trip = trip_of(pace=pace, **tables)
    route = with_ridden_jumps(route, trip.jumps)
    return plan_trip(prepared_world(route, tuple(places), trip), trip)


def cautions(plan):
    return plan_document(plan)["summary"]["cautions"]


def hours_ridden(plan):
    return (plan.legs[-1].arrive - plan.legs[0].depart).total_seconds() / 3600.0


def test_a_long_jump_is_asked_about_and_takes_time_and_fuel():
    plan = planned()
    (asked,) = [text for text in cautions(plan) if "The file does not say" in text]
    assert asked.startswith("The line jumps 200 km after km 150: a ferry, or do you ride it?")
    assert 'jumps.kind = "ferry" or "ridden"' in asked
    # An hour's wait and 200 km at 30 km/h besides 300 km at 60 km/h.
    assert hours_ridden(plan) == pytest.approx(5.0 + 1.0 + 200 / 30, abs=0.05)
    # From km 100 to km 220 over the jump are 320 km, more than the 210 km of the tank.
    assert any(gap.missing_m > 100e3 for gap in plan.fuel.shortfalls)


def test_a_ferry_takes_time_and_no_fuel_and_is_told_as_the_riders_word():
    plan = planned(jumps={"kind": "ferry"})
    assert not plan.fuel.shortfalls
    assert hours_ridden(plan) == pytest.approx(5.0 + 1.0 + 200 / 30, abs=0.05)
    said = " ".join(cautions(plan))
    assert "a ferry, as you say" in said
    assert "does not say" not in said


def test_the_time_of_a_crossing_can_be_stated():
    plan = planned(jumps={"kind": "ferry", "hours": {1: 2.5}})
    assert hours_ridden(plan) == pytest.approx(7.5, abs=0.05)
    assert plan_document(plan)["route"]["breaks"][0]["crossing_s"] == 9000


def test_a_jump_that_is_ridden_is_part_of_the_line():
    ridden = with_ridden_jumps(SEA, trip_of(jumps={"each": {1: "ridden"}}).jumps)
    assert ridden.breaks == ()
    assert ridden.length_m == pytest.approx(SEA.length_m + SEA.breaks[0].length_m)
    plan = planned(jumps={"kind": "ridden"}, at=(100, 420))
    assert sum(leg.ride_s for leg in plan.legs) == pytest.approx(500 / 60 * 3600, rel=0.01)
    assert any("count as ridden in a straight line" in text for text in cautions(plan))


def test_nothing_is_known_of_the_way_of_a_ridden_jump(tmp_path):
    trip = trip_of(jumps={"kind": "ridden"})
    unknown = prepare(trip, tmp_path, route=SEA).places.coverage.unknown
    assert sum(s.end_m - s.start_m for s in unknown) == pytest.approx(500e3, rel=0.01)
    starts = [span.start_m for span in unknown]
    assert starts == sorted(starts)
    assert all(isinstance(span, RouteSpan) for span in unknown)


def test_single_jumps_may_be_different_things():
    route = line((0, 100), (150, 200), (260, 400))
    keys = trip_of(jumps={"each": {1: "ridden"}}).jumps
    ridden = with_ridden_jumps(route, keys)
    (left,) = ridden.breaks
    assert left.number == 2
    assert left.chainage_m == pytest.approx(200e3, rel=0.01)


def test_a_crossing_over_night_costs_a_day_and_its_meals():
    route = line((0, 150), (350, 650))
    dry = planned(route, jumps={"kind": "ferry", "hours": {1: 0.0}})
    wet = planned(route, jumps={"kind": "ferry", "hours": {1: 30.0}})
    assert wet.arrive_s[1] - dry.arrive_s[1] == pytest.approx(30 * 3600.0)
    assert wet.clock.end_meals == dry.clock.end_meals + 3
    for before, after in pairwise(wet.legs):
        assert after.depart > before.arrive


def test_a_day_at_sea_is_no_day_of_rest():
    keys = {"kind": "ferry", "hours": {1: 30.0}}
    plan = planned(line((0, 150), (350, 650)), jumps=keys, pace={"rest_days": {1: 1}})
    (_, after) = as_plan(plan_document(plan)).legs
    # Nobody rests in a camp that is reached a day later.
    assert (after.crossing_days_before, after.rest_days_before) == (1, 2)
    assert list(waited(after)) == [(1, "rest day"), (1, "day on a crossing")]


def test_a_stretch_over_a_jump_says_so():
    document = plan_document(planned(at=(100, 290)))
    longest = document["gaps"]["groceries"]["longest"]
    assert longest["jump_m"] == pytest.approx(200e3, rel=0.01)
    assert "The line jumps 200 km on it" in longest["words"]
    facts = {fact["label"]: fact for fact in document["summary"]["facts"]}
    assert (
        "the line jumps 200 km on it" in facts["Longest stretch without a full shop"]["value_words"]
    )


def test_a_short_jump_is_told_and_not_asked_about():
    document = plan_document(planned(line((0, 150), (151, 300))))
    assert "does not say" not in " ".join(document["summary"]["cautions"])
    (note,) = document["route"]["warnings"]
    assert note.startswith("The line jumps 1 km after km 150")


@settings(max_examples=examples(7))
@given(jump_km=st.floats(0.1, 400), kind=st.sampled_from(["unknown", "ferry", "ridden"]))
def test_no_jump_is_ever_free(jump_km, kind):
    route = line((0, 150), (150 + jump_km, 300 + jump_km))
    plan = planned(route, jumps={"kind": kind}, fuel=False)
    assert hours_ridden(plan) > 5.0 + jump_km / 60.0 * 0.98 - 0.01
    told = plan_document(plan)
    assert "line jumps" in " ".join(told["summary"]["cautions"])
