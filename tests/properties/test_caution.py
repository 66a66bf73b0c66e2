"""Knowing less may only make the plan more careful, or more explicit about what it misses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.pipeline import plan_trip
from resupply.places.model import Stretch, Supply
from resupply.supply.gaps import longest_gap
from resupply.supply.solve import Risk

ROUTE = winding_route(900, points=600)
HOURS = ("Mo-Sa 08:00-19:00", None, "24/7", "Mo-Fr 09:00-12:30,15:00-19:00", "broken 9-17")
TRIP = trip_of(pace={"daily_km": 220.0, "speed_kmh": 50.0})
KM = st.lists(st.floats(1, 890), min_size=1, max_size=8, unique=True).map(sorted)


def plan_of(places, unknown=()):
    return plan_trip(prepared_world(ROUTE, places, TRIP, unknown=unknown), TRIP)


@settings(max_examples=12, deadline=None)
@given(km=KM, lost=st.integers(0, 7), seed=st.integers(0, 99))
def test_losing_a_shop_shortens_no_gap_and_lowers_no_excess(km, lost, seed):
    places = shops_along(ROUTE, km, hours=HOURS[seed % 5 :] + HOURS, seed=seed)
    fewer = tuple(p for i, p in enumerate(places) if i != lost % len(places))
    full, less = plan_of(places), plan_of(fewer)
    assert less.supply.cost.excess >= full.supply.cost.excess
    mapped_full = np.sort(full.prepared.passes.chainage_m[full.prepared.food])
    mapped_less = np.sort(less.prepared.passes.chainage_m[less.prepared.food])
    assert set(mapped_less.tolist()) <= set(mapped_full.tolist())


@settings(max_examples=12, deadline=None)
@given(km=KM, seed=st.integers(0, 99))
def test_losing_the_hours_opens_no_shop(km, seed):
    places = shops_along(ROUTE, km, hours=HOURS, seed=seed)
    bare = tuple(replace(p, opening_hours=None) for p in places)
    plan = plan_of(bare)
    assert not np.isin(plan.risk, [Risk.OPEN, Risk.TIGHT, Risk.SHUT]).any()
    assert all(stop.risk >= Risk.USUAL for stop in plan.supply.stops)


@settings(max_examples=12, deadline=None)
@given(km=KM, start=st.floats(0, 800), length=st.floats(1, 300))
def test_losing_coverage_is_said_on_every_gap_it_touches(km, start, length):
    hole = Stretch(start * 1000, min(start + length, 900) * 1000, "lost")
    places = shops_along(ROUTE, km)
    inside = [
        p for p in places if not any(hole.start_m <= c <= hole.end_m for c in _passes_of(p, places))
    ]
    plan = plan_of(tuple(inside), unknown=(hole,))
    for gap in plan.gaps[Supply.GROCERIES]:
        touches = gap.start_m < hole.end_m and gap.end_m > hole.start_m
        assert gap.crosses_unknown == touches


def _passes_of(place, places):
    plan = prepared_world(ROUTE, places, TRIP)
    ix = [i for i, p in enumerate(plan.places.places) if p.id == place.id][0]
    return plan.passes.chainage_m[plan.passes.place_ix == ix].tolist()


@settings(max_examples=12, deadline=None)
@given(km=KM, extra=st.floats(1, 890))
def test_a_shop_more_never_lengthens_the_longest_gap_as_mapped(km, extra):
    from resupply.supply.gaps import find_gaps

    def longest(kms):
        plan = plan_of(shops_along(ROUTE, kms, hours=("24/7",), seed=3))
        clock = plan.clock.with_stops([], [])
        at_m = np.sort(plan.prepared.passes.chainage_m[plan.prepared.food])
        return longest_gap(find_gaps(at_m, clock=clock, length_m=ROUTE.length_m)).length_m

    places = shops_along(ROUTE, km, seed=3)
    assert len(places) == len(km)
    assert longest(sorted([*km, extra])) <= longest(km)
