"""Knowing less may only make the plan more careful, or more explicit about what it misses."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
from cooler_trips import faults
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from told import plan_document
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.api import cook
from resupply.common.quantity import meals as meal_words
from resupply.hours.state import OpenState
from resupply.places.place import Confidence, RouteSpan, Supply
from resupply.plan.pipeline import plan_trip
from resupply.plan.prepared import cover_span
from resupply.supply.gaps import find_gaps
from resupply.supply.open_risk import judge_of

ROUTE = winding_route(900, points=600)
SHORT = winding_route(450, points=300)
HOURS = ("Mo-Sa 08:00-19:00", None, "24/7", "Mo-Fr 09:00-12:30,15:00-19:00", "broken 9-17")
TRIP = trip_of(pace={"daily_km": 220.0, "speed_kmh": 50.0})
KM = st.lists(st.floats(1, 890), min_size=1, max_size=8, unique=True).map(sorted)


def plan_of(places, unknown=()):
    return plan_trip(prepared_world(ROUTE, places, TRIP, unknown=unknown), TRIP)


@settings(max_examples=examples(7))
@given(km=KM, lost=st.integers(0, 7), seed=st.integers(0, 99))
def test_losing_a_shop_shortens_no_gap_and_lowers_no_excess(km, lost, seed):
    places = shops_along(ROUTE, km, hours=HOURS[seed % 5 :] + HOURS, seed=seed)
    fewer = tuple(p for i, p in enumerate(places) if i != lost % len(places))
    full, less = plan_of(places), plan_of(fewer)
    assert less.supply.cost.excess >= full.supply.cost.excess
    mapped_full = np.sort(full.prepared.passes.chainage_m[full.prepared.food])
    mapped_less = np.sort(less.prepared.passes.chainage_m[less.prepared.food])
    assert set(mapped_less.tolist()) <= set(mapped_full.tolist())


@settings(max_examples=examples(7))
@given(km=KM, seed=st.integers(0, 99))
def test_losing_the_hours_opens_no_shop(km, seed):
    places = shops_along(ROUTE, km, hours=HOURS, seed=seed)
    bare = tuple(replace(p, opening_hours=None) for p in places)
    plan = plan_of(bare)
    assert not np.isin(plan.risk, [OpenState.OPEN, OpenState.TIGHT, OpenState.SHUT]).any()
    assert all(stop.risk >= OpenState.USUALLY_OPEN for stop in plan.supply.stops)


@settings(max_examples=examples(7))
@given(km=KM, start=st.floats(0, 800), length=st.floats(1, 300))
def test_losing_coverage_is_said_on_every_gap_it_touches(km, start, length):
    hole = RouteSpan(start * 1000, min(start + length, 900) * 1000, "lost")
    places = shops_along(ROUTE, km)
    inside = [
        p for p in places if not any(hole.start_m <= c <= hole.end_m for c in _passes_of(p, places))
    ]
    plan = plan_of(tuple(inside), unknown=(hole,))
    for gap in plan.gaps[Supply.GROCERIES]:
        touches = gap.start_m < hole.end_m and gap.end_m > hole.start_m
        assert gap.crosses_unknown == touches


@settings(max_examples=examples(7))
@given(km=KM, seed=st.integers(0, 99))
def test_losing_the_calendar_of_holidays_makes_no_door_surer(km, seed):
    hours = (
        "Mo-Sa 08:00-19:00; PH off",
        "Mo-Sa 08:00-19:00",
        "Mo-Fr 08:00-12:00; Su 09:00-10:00; PH 15:00-16:00",
    )
    places = shops_along(ROUTE, km, hours=hours, seed=seed)
    known = plan_of(places)
    world = replace(prepared_world(ROUTE, places, TRIP), country="XX")
    world = cover_span(world, dt.date(2027, 7, 8), dt.date(2027, 8, 8))
    rows = np.arange(len(known.risk))
    lost = judge_of(world)(rows, known.arrive_s, known.half_width_s, known.stay_s).state
    assert (lost >= known.risk).all()
    assert not (lost == OpenState.OPEN).any()


@settings(max_examples=examples(7))
@given(km=KM, seed=st.integers(0, 99), early=st.integers(0, 23))
def test_no_stop_is_planned_at_a_door_that_is_shut_at_the_planned_time(km, seed, early):
    hours = (f"{early:02d}:00-{early + 1:02d}:00", "Mo-Fr 09:00-12:30,15:00-19:00; PH off")
    plan = plan_of(shops_along(ROUTE, km, hours=hours, seed=seed))
    rows, none = np.arange(len(plan.risk)), np.zeros(len(plan.risk))
    then = judge_of(plan.prepared)(rows, plan.arrive_s, none, none).state
    assert ((then != OpenState.SHUT) | (plan.risk == OpenState.SHUT)).all()
    for stop in plan.supply.stops:
        assert then[stop.row] != OpenState.SHUT
        assert plan.risk[stop.row] == stop.risk


def _passes_of(place, places):
    plan = prepared_world(ROUTE, places, TRIP)
    ix = next(i for i, p in enumerate(plan.places.places) if p.id == place.id)
    return plan.passes.chainage_m[plan.passes.place_ix == ix].tolist()


@settings(max_examples=examples(7))
@given(km=KM, extra=st.floats(1, 890))
def test_a_shop_more_never_lengthens_the_longest_gap_as_mapped(km, extra):
    def longest(kms):
        plan = plan_of(shops_along(ROUTE, kms, hours=("24/7",), seed=3))
        clock = plan.clock.with_stops([], [])
        at_m = np.sort(plan.prepared.passes.chainage_m[plan.prepared.food])
        return find_gaps(at_m, clock=clock, length_m=ROUTE.length_m).longest.length_m

    places = shops_along(ROUTE, km, seed=3)
    assert len(places) == len(km)
    assert longest(sorted([*km, extra])) <= longest(km)


# -- anything lost, judged by the whole data at the times of the poorer plan --

DAYS = 8
WARM = [{"day": n + 1, "low_c": 14.0, "high_c": 22.0 + 2.0 * (n % 5)} for n in range(DAYS)]
COLD_TRIP = {
    "pace": {"daily_km": 220.0, "speed_kmh": 50.0},
    "cooler": {"kind": "hard", "volume_l": 20.0},
}
losses = st.lists(
    st.tuples(st.sampled_from(["shop", "hours", "ice", "stated ice"]), st.integers(0, 7)),
    max_size=6,
)


def poorer(places, lost):
    """Take from the places what is lost: a shop, its hours, its ice, or that its ice is stated."""
    left = dict(enumerate(places))
    for what, n in lost:
        place = left.get(n % len(places))
        if place is None:
            continue
        supplies = dict(place.supplies)
        if what == "shop":
            del left[n % len(places)]
            continue
        if what == "ice":
            supplies.pop(Supply.ICE, None)
        elif what == "stated ice" and Supply.ICE in supplies:
            supplies[Supply.ICE] = Confidence.LIKELY
        hours = None if what == "hours" else place.opening_hours
        left[n % len(places)] = replace(place, supplies=supplies, opening_hours=hours)
    return tuple(left.values())


def stating_ice(places):
    return tuple(
        replace(p, supplies={**p.supplies, Supply.ICE: Confidence.STATED}) if i % 2 else p
        for i, p in enumerate(places)
    )


def risk_by(places, plan):
    """Risk of every pass of a plan at its own times, by other data on the same places."""
    ids = [plan.prepared.places.places[ix].id for ix in plan.prepared.passes.place_ix]
    world = prepared_world(ROUTE, places, plan.trip)
    world = cover_span(world, dt.date(2027, 7, 8), dt.date(2027, 8, 8))
    row_of = {}
    for row, ix in enumerate(world.passes.place_ix):
        row_of.setdefault(world.places.places[ix].id, row)
    rows = np.array([row_of[place_id] for place_id in ids], dtype=np.int64)
    return judge_of(world)(rows, plan.arrive_s, plan.half_width_s, plan.stay_s).state


@settings(max_examples=examples(7))
@given(km=KM, lost=losses, seed=st.integers(0, 99))
def test_whatever_is_lost_open_is_open_by_the_whole_data(km, lost, seed):
    places = shops_along(ROUTE, km, hours=HOURS[seed % 5 :] + HOURS, seed=seed)
    plan = plan_of(poorer(places, lost))
    by_all = risk_by(places, plan)
    assert (by_all[plan.risk == OpenState.OPEN] == OpenState.OPEN).all()
    document = plan_document(plan)
    shown = {row["id"]: row["state"] for row in document["passes"]}
    dates = {leg["number"]: leg["date"] for leg in document["legs"]}
    assert all(row["eta"][:10] == dates[row["leg"]] for row in document["passes"])
    for row, risk in enumerate(by_all.tolist()):
        if shown.get(f"p{row}") == "open":
            assert risk == OpenState.OPEN


@settings(max_examples=examples(7))
@given(km=KM, lost=losses, seed=st.integers(0, 99))
def test_whatever_is_lost_the_gap_by_stated_hours_is_no_shorter_and_is_said(km, lost, seed):
    places = shops_along(ROUTE, km, hours=HOURS[seed % 5 :] + HOURS, seed=seed)
    plan = plan_of(poorer(places, lost))
    sure = risk_by(places, plan) == OpenState.OPEN
    at_m = plan.prepared.passes.chainage_m[sure & plan.prepared.supply[Supply.GROCERIES]]
    by_all = find_gaps(np.sort(at_m), clock=plan.clock, length_m=ROUTE.length_m).longest
    assert plan.sure_gap.length_m >= by_all.length_m - 1e-6
    shown = plan.gaps[Supply.GROCERIES].longest
    assert plan.sure_gap.length_m >= shown.length_m
    document = plan_document(plan)
    # Whole kilometres are shown.
    block = document["gaps"]["groceries"]
    assert block["stated"]["length_m"] == round(plan.sure_gap.length_m)
    if plan.sure_gap.length_m > shown.length_m + 1_000.0:
        meals = meal_words(plan.sure_gap.meals)
        assert "open by stated hours, not by an estimate" in block["longest"]["words"]
        assert f", {meals}." in block["longest"]["words"]
        facts = {fact["label"]: fact for fact in document["summary"]["facts"]}
        assert facts["Counting only shops with known hours"]["tone"] == "caution"
        assert facts["Counting only shops with known hours"]["value_words"].endswith(f", {meals}")


@settings(max_examples=examples(7))
@given(km=KM, lost=losses, seed=st.integers(0, 99))
def test_only_full_shops_that_are_not_usually_shut_end_a_gap(km, lost, seed):
    places = shops_along(ROUTE, km, hours=HOURS[seed % 5 :] + HOURS, seed=seed)
    plan = plan_of(poorer(places, lost))
    document = plan_document(plan)
    for kind, mask in (
        (Supply.GROCERIES, plan.prepared.supply[Supply.GROCERIES]),
        (Supply.SMALL_GROCERIES, plan.prepared.food),
    ):
        ends = [gap.end_row for gap in plan.gaps[kind][:-1]]
        assert mask[ends].all()
        assert not np.isin(plan.risk[ends], (OpenState.SHUT, OpenState.USUALLY_SHUT)).any()
        assert document["gaps"][str(kind)]["count_passes"] == len(ends)
        for gap, row in zip(plan.gaps[kind], document["gaps"][str(kind)]["all"], strict=True):
            left_out = mask & np.isin(plan.risk, (OpenState.SHUT, OpenState.USUALLY_SHUT))
            at_m = plan.prepared.passes.chainage_m[left_out]
            if ((gap.start_m < at_m) & (at_m < gap.end_m)).any():
                assert " shop open, " in row["words"]


@settings(max_examples=examples(7))
@given(km=KM, seed=st.integers(0, 99))
def test_a_small_shop_stands_in_only_for_what_it_sells(km, seed):
    plan = plan_of(shops_along(ROUTE, km, hours=HOURS[seed % 5 :] + HOURS, seed=seed))
    supply, clock = plan.supply, plan.clock
    sells = dict(
        zip(supply.candidates.row.tolist(), supply.candidates.sells_meals.tolist(), strict=True)
    )
    chosen = {stop.row for stop in supply.stops}
    ends = [stop.chainage_m for stop in supply.stops[1:]]
    for stop, next_m in zip(supply.stops, [*ends, None], strict=False):
        if stop.fallback.kind == "shop" and stop.fallback.row not in chosen:
            until = clock.end_meals if next_m is None else int(clock.meals_before(next_m)[0])
            needed = until - int(clock.meals_before(stop.fallback.chainage_m)[0])
            assert sells[stop.fallback.row] >= needed


@settings(max_examples=examples(7))
@given(km=KM, start=st.floats(0, 800), length=st.floats(10, 300))
def test_missing_map_data_is_said_in_the_summary_and_never_as_no_shop(km, start, length):
    hole = RouteSpan(start * 1000, min(start + length, 890) * 1000, "lost")
    plan = plan_of(shops_along(ROUTE, km), unknown=(hole,))
    document = plan_document(plan)
    summary = document["summary"]
    assert document["coverage"]["words"] in summary["cautions"]
    assert "is not known" in document["coverage"]["words"]
    facts = {fact["label"]: fact for fact in summary["facts"]}
    assert facts["Map data"]["value_words"].startswith("missing on ")
    assert "on the known part" in summary["headline"]
    assert "is shut" in (kept := facts["Spare"]["value_words"]) or "is not known" in kept
    assert facts["Map data"]["tone"] == "caution"
    for block in document["gaps"].values():
        longest = block["longest"]
        if longest["crosses_unknown"]:
            assert "Map data is missing" in longest["words"]
    for short, row in zip(plan.supply.shortfalls, document["shortfalls"], strict=True):
        begin_m, end_m = short.bare_m
        touches = begin_m < hole.end_m - 1.0 and end_m > hole.start_m + 1.0
        assert ("map data is missing on" in row["words"]) == touches
        assert ("has no shop" in row["words"]) <= (not touches)


def test_without_any_map_data_nothing_is_promised():
    whole = RouteSpan(0.0, ROUTE.length_m, "no map data was given")
    summary = plan_document(plan_of((), unknown=(whole,)))["summary"]
    facts = {fact["label"]: fact for fact in summary["facts"]}
    assert "without map data: where there are shops is not known" in summary["headline"]
    assert facts["Map data"]["value_words"] == "none"
    assert facts["Spare"]["value_words"] == "3 meals each; whether that is enough is not known"


@settings(max_examples=examples(7))
@given(km=KM, lost=losses)
def test_ice_that_is_likely_is_never_said_to_be_on_the_map(km, lost):
    places = stating_ice(shops_along(ROUTE, km))
    plan = plan_of(poorer(places, lost))
    stated = {p.id for p in places if p.supplies.get(Supply.ICE) is Confidence.STATED}
    document = plan_document(plan)
    passes = {row["id"]: row["place"] for row in document["passes"]}
    for row in (*document["ice"]["stops"], *document["ice"]["spare"]):
        if row["confidence"] == "stated" or "is on the map" in row["words"]:
            assert passes[row["pass"]] in stated
        else:
            assert "likely" in row["words"]


def cold_document(places, days):
    trip = trip_of(**COLD_TRIP, weather={"days": days})
    plan = plan_trip(prepared_world(SHORT, places, trip), trip)
    return plan_document(plan, cook(plan, Path()))


@settings(max_examples=examples(4))
@given(km=KM, lost=st.sets(st.integers(0, 2), min_size=1, max_size=2))
def test_losing_a_days_weather_is_said_and_never_makes_the_cooler_hold(km, lost):
    places = stating_ice(shops_along(SHORT, [at / 2 for at in km], hours=("24/7",)))
    full = cold_document(places, WARM)["cold"]["coolers"][0]
    document = cold_document(places, [row for n, row in enumerate(WARM) if n not in lost])
    less = document["cold"]["coolers"][0]
    assert less["state"] != "holds" or full["state"] == "holds"
    assert any("No weather is known" in text for text in document["summary"]["cautions"])


@settings(max_examples=examples(4))
@given(
    km=KM,
    lost=losses,
    volume_l=st.floats(5, 25),
    packs_kg=st.sampled_from([0.0, 0.5, 2.0]),
    people=st.integers(1, 8),
)
def test_whatever_is_lost_a_cooler_said_to_stay_cold_is_not_over_full(
    km, lost, volume_l, packs_kg, people
):
    places = poorer(stating_ice(shops_along(SHORT, [at / 2 for at in km], hours=("24/7",))), lost)
    cooler = {"kind": "hard", "volume_l": volume_l, "packs_kg": packs_kg}
    party = {"people": people}
    trip = trip_of(**{**COLD_TRIP, "cooler": cooler, "party": party, "weather": {"days": WARM}})
    plan = plan_trip(prepared_world(SHORT, places, trip), trip)
    assert faults(plan_document(plan, cook(plan, Path())), trip) == []


def test_shops_in_a_country_without_a_holiday_calendar_are_told():
    places = shops_along(ROUTE, [100, 300, 500, 700])
    known = plan_trip(prepared_world(ROUTE, places, TRIP), TRIP)
    assert known.supply.stops
    nowhere = replace(prepared_world(ROUTE, places, TRIP), country="XX")
    told = plan_document(plan_trip(nowhere, TRIP))["summary"]["cautions"]
    assert any("Public holidays are not known" in text for text in told)
    assert not any("holidays are not" in t for t in plan_document(known)["summary"]["cautions"])
