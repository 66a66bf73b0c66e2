"""Knowing less about fuel, water, ice, nights or roads makes no plan look safer than it is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from examples import examples
from hypothesis import example, given, settings
from hypothesis import strategies as st
from told import plan_document
from worlds import prepared_world, shop, trip_of, winding_route

from resupply.api import cook, ice_chances
from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.place import Confidence, RouteSpan, Supply
from resupply.plan.pipeline import plan_trip
from resupply.say.states import words_of

ROUTE = winding_route(600, points=400)
LENGTH_KM = ROUTE.length_m / 1000.0
HOURS = ("Mo-Sa 08:00-19:00", None, "24/7", "Mo-Fr 09:00-12:30,15:00-19:00", "off")
# Kind of place and what it has, in turn along the road.
THINGS = (
    ("shop=supermarket", {Supply.GROCERIES: Confidence.STATED, Supply.ICE: Confidence.STATED}),
    ("amenity=fuel", {Supply.FUEL: Confidence.STATED, Supply.ICE: Confidence.LIKELY}),
    ("amenity=drinking_water", {Supply.WATER: Confidence.STATED}),
    ("tourism=camp_site", {Supply.CAMP: Confidence.STATED, Supply.WATER: Confidence.LIKELY}),
)
NEEDED = (Supply.GROCERIES, Supply.ICE, Supply.WATER, Supply.FUEL)
FEW = settings(max_examples=examples(5))

things = st.lists(
    st.tuples(st.floats(5, LENGTH_KM - 5), st.sampled_from(range(4)), st.sampled_from(HOURS)),
    min_size=1,
    max_size=10,
    unique_by=lambda thing: round(thing[0]),
).map(sorted)
picks = st.sets(st.integers(0, 9), min_size=1, max_size=5)
SIX = "Mo-Sa 08:00-19:00"
here = st.sampled_from([None, 0.0, 150.0, 310.0])


def places_of(found):
    places = []
    for n, (km, kind, hours) in enumerate(found, 1):
        lon, lat = ROUTE.position_at(km * 1000.0)
        name, supplies = THINGS[kind]
        tags = {"tents": "yes"} if kind == 3 else {}
        places.append(
            shop(n, lon, lat + 0.004, hours=hours, kind=name, supplies=supplies, tags=tags)
        )
    return tuple(places)


def trip_from(at_km=None, *, now=None, **tables):
    if at_km is not None:
        now = {"at_km": at_km, "time": "2027-07-10T11:00:00", "food_meals": 6, **(now or {})}
    tables.setdefault("weather", {"low_c": 16, "high_c": 34})
    return trip_of(
        pace={"daily_km": 220.0, "speed_kmh": 50.0},
        fuel={"range_km": 260, "reserve_km": 40},
        night={"camps": True, "tolerance_km": 60},
        cooler={"kind": "hard", "volume_l": 20.0},
        food={"plan_menu": False},
        now=now or {},
        **tables,
    )


def planned(places, trip, *, unknown=(), no_road=(), **changes):
    world = prepared_world(ROUTE, places, trip, unknown=unknown)
    lost = {place.id for i, place in enumerate(places) if i in no_road}
    ids = [world.places.places[ix].id for ix in world.passes.place_ix]
    whys = tuple("no road" if place_id in lost else "" for place_id in ids)
    return plan_trip(replace(world, no_road=whys, **changes), trip)


def document_of(plan):
    return plan_document(plan, cook(plan, Path()))


def missing_fuel_m(plan):
    return sum(gap.missing_m for gap in plan.fuel.gaps)


def cautions_of(document):
    return " ".join(document["summary"]["cautions"])


@FEW
@example(found=[(5.0, 0, SIX), (6.0, 0, SIX), (601.0, 3, SIX)], lost={2}, at_km=None)
@given(found=things, lost=picks, at_km=here)
def test_losing_places_shortens_no_way_to_fuel_water_ice_or_camp(found, lost, at_km):
    places, trip = places_of(found), trip_from(at_km, show={"remedies": False})
    full = planned(places, trip)
    less = planned(tuple(p for i, p in enumerate(places) if i not in lost), trip)
    # A day that ends at another camp, or at none, has its meals elsewhere.
    if [leg.end_m for leg in less.legs] == [leg.end_m for leg in full.legs]:
        assert less.supply.cost.excess >= full.supply.cost.excess
    # Shops and camps leave the road and the clock alone here: ways are a few minutes.
    for kind in (Supply.WATER, Supply.CAMP):
        known = {gap.end_m for gap in full.gaps[kind]}
        assert {gap.end_m for gap in less.gaps[kind]} <= known
        longest = (plan.gaps[kind].longest.length_m for plan in (less, full))
        assert next(longest) >= next(longest)
    assert sum(n.row >= 0 for n in less.nights) <= sum(n.row >= 0 for n in full.nights)


@FEW
@given(found=things, lost=picks, at_km=here)
def test_losing_stations_makes_no_more_fuel(found, lost, at_km):
    stations = [(km, 1, "24/7") for km, _, _ in found]
    # Likely ice is left out, so that the other stops are the same.
    places = tuple(
        replace(p, supplies={Supply.FUEL: Confidence.STATED}) for p in places_of(stations)
    )
    trip = trip_from(at_km, show={"remedies": False})
    full = planned(places, trip)
    less = planned(tuple(p for i, p in enumerate(places) if i not in lost), trip)
    assert missing_fuel_m(less) >= missing_fuel_m(full) - 1.0
    # On a tank that is not known, the nearest station comes first: losing it makes that longer.
    if trip.now.at_km is not None:
        assert less.fuel.gaps[0].road_m >= full.fuel.gaps[0].road_m - 1.0


@FEW
@given(found=things, lost=picks, at_km=here)
def test_a_place_without_a_known_road_counts_as_little_as_none(found, lost, at_km):
    places, trip = places_of(found), trip_from(at_km, show={"remedies": False})
    doubted = planned(places, trip, no_road=lost)
    # A camp stays one, as a doubtful night; what else it has is not counted on.
    gone = planned(
        tuple(
            p if i not in lost else replace(p, supplies={Supply.CAMP: Confidence.STATED})
            for i, p in enumerate(places)
            if i not in lost or Supply.CAMP in p.supplies
        ),
        trip,
    )
    if not any(Supply.CAMP in p.supplies for i, p in enumerate(places) if i in lost):
        assert gone.supply.cost == doubted.supply.cost
    for kind in NEEDED:
        assert [(g.start_m, g.end_m) for g in gone.gaps[kind]] == [
            (g.start_m, g.end_m) for g in doubted.gaps[kind]
        ]
    used = [stop.row for stop in (*doubted.supply.stops, *doubted.ice, *doubted.fuel.stops)]
    used += [stop.fallback.row for stop in doubted.supply.stops]
    used += [int(chance.key[1:]) for chance in ice_chances(doubted)]
    assert all(not doubted.prepared.no_road[row] for row in used if row >= 0)
    here_m = doubted.legs[0].start_m
    ahead = doubted.prepared.passes.chainage_m >= here_m
    # Water that no road leads to is not counted on, and no warning either.
    supplies = [doubted.prepared.supply[kind] for kind in NEEDED if kind is not Supply.WATER]
    needed = np.any(supplies, axis=0)
    if (needed & ahead & ~doubted.prepared.reachable).any():
        assert "The map shows no road to Shop" in cautions_of(plan_document(doubted))


@FEW
@given(found=things, at_km=here)
def test_whatever_is_relied_on_is_stated_open_or_named(found, at_km):
    document = document_of(planned(places_of(found), trip_from(at_km)))
    ice = [row for row in document["ice"]["stops"] if row["buy"]]
    relied_on = [*document["stops"], *document["fuel"]["stops"], *ice]
    doubtful = {row["pass"] for row in relied_on if row["state"] != "open"}
    named = 0
    for caution in document["summary"]["cautions"]:
        names, may_be_shut, _ = caution.partition(" may be shut when you arrive. ")
        if may_be_shut:
            listed, _, more = names.partition(" and ")
            named += len(listed.split(", ")) + int(more.split(" ")[0] or 0)
    assert named == len(doubtful)
    for stop in document["fuel"]["stops"]:
        assert words_of(stop["state"]).doubt in stop["words"]


@FEW
@given(found=things, at_km=here)
def test_losing_all_hours_leaves_nothing_open_and_says_so(found, at_km):
    bare = tuple(replace(p, opening_hours=None) for p in places_of(found))
    plan = planned(bare, trip_from(at_km))
    assert not np.isin(plan.risk, (OpenState.OPEN, OpenState.TIGHT, OpenState.SHUT)).any()
    document = document_of(plan)
    for kind in ("fuel", "ice"):
        if document["gaps"][kind]["count_passes"]:
            assert "may be shut count as open here" in document["gaps"][kind]["longest"]["words"]
    unknown = {"usually_open", "unknown", "usually_shut"}
    assert {row["state"] for row in document["fuel"]["stops"]} <= unknown


@FEW
@given(found=things, start=st.floats(0, 500), length=st.floats(20, 200), at_km=here)
def test_losing_coverage_is_said_of_every_supply_it_touches(found, start, length, at_km):
    hole = RouteSpan(start * 1000, min(start + length, LENGTH_KM) * 1000, "lost")
    kept = [f for f in found if not start - 2 <= f[0] <= start + length + 2]
    plan = planned(places_of(kept), trip_from(at_km), unknown=(hole,))
    here_m = plan.legs[0].start_m
    ahead = hole.end_m > here_m
    gaps = [gap for found in (*plan.gaps.values(), plan.ice_gaps) for gap in found]
    for gap in gaps:
        assert gap.crosses_unknown == (gap.start_m < hole.end_m and gap.end_m > hole.start_m)
    for gap in plan.fuel.gaps:
        start_m, end_m = gap.start_m + here_m, gap.end_m + here_m
        assert gap.crosses_unknown == (start_m < hole.end_m and end_m > hole.start_m)
    document = document_of(plan)
    assert bool(document["coverage"]["unknown"]) == ahead
    longest = max(plan.fuel.gaps, key=lambda gap: gap.road_m)
    if longest.crosses_unknown and not document["fuel"]["exceeded"]:
        assert "Map data is missing" in document["fuel"]["words"]
    if document["water"]["longest"]["crosses_unknown"]:
        assert "Map data is missing" in document["water"]["words"]


@FEW
@given(found=things, water_l=st.floats(0, 30), at_km=st.sampled_from([0.0, 150.0, 310.0]))
def test_losing_the_weather_makes_no_water_last_that_would_not(found, water_l, at_km):
    places = places_of(found)
    hot, unknown = (
        document_of(planned(places, trip_from(at_km, now={"water_l": water_l}, **weather)))
        for weather in ({}, {"weather": {}})
    )
    if unknown["water"]["on_board"]["lasts"]:
        assert hot["water"]["on_board"]["lasts"]
    assert unknown["water"]["unknown_heat"] == [leg["number"] for leg in unknown["legs"]]
    assert "No heat is known for any day" in cautions_of(unknown)
    assert "No heat is known" not in cautions_of(hot)
    cold = [c["state"] for c in unknown["cold"]["coolers"] if c["safety"]]
    assert "holds" not in cold


@FEW
@given(
    found=things,
    at_km=st.sampled_from([0.0, 150.0, 310.0]),
    fuel_km=st.floats(0, 400),
    less_km=st.floats(0, 400),
)
def test_less_fuel_on_board_reaches_no_farther_and_unknown_fuel_is_said(
    found, at_km, fuel_km, less_km
):
    places = places_of(found)
    much, little = sorted((fuel_km, less_km), reverse=True)
    full, less, unknown = (
        planned(places, trip_from(at_km, now=now))
        for now in ({"fuel_km": much}, {"fuel_km": little}, {})
    )
    assert missing_fuel_m(less) >= missing_fuel_m(full) - 1.0
    first = less.fuel.gaps[0]
    said = plan_document(less)["fuel"]["exceeded"]
    if first.road_m > little * 1000.0:
        assert said[0]["words"].startswith("Your fuel does not last")
    document = plan_document(unknown)
    assert document["fuel"]["tank_m"] is None
    assert document["fuel"]["tank_words"] in document["summary"]["cautions"]
    # No plan is nearer to its first station than the one that does not know its tank.
    assert unknown.fuel.gaps[0].road_m <= min(full.fuel.gaps[0].road_m, first.road_m) + 1.0


@FEW
@given(
    found=things,
    at_km=st.sampled_from([0.0, 150.0, 310.0]),
    meals=st.integers(1, 9),
    kg=st.floats(0.5, 6.0),
)
def test_not_stating_food_or_ice_on_board_counts_as_having_none(found, at_km, meals, kg):
    places = places_of(found)
    stated, silent = (
        planned(places, trip_from(at_km, now=now))
        for now in ({"food_meals": meals, "ice_kg": kg}, {"food_meals": 0})
    )
    assert silent.supply.cost.excess >= stated.supply.cost.excess
    for document in map(document_of, (stated, silent)):
        assert "on board" in document["start_carry"]["words"]


@FEW
@given(found=things, at_km=here)
def test_losing_the_calendar_is_told_wherever_a_door_is_shown_open(found, at_km):
    trip = trip_from(at_km)
    plan = planned(places_of(found), trip, country="XX")
    prepared = plan.prepared
    needed = np.any([prepared.supply[kind] for kind in NEEDED], axis=0)
    ahead = prepared.passes.chainage_m >= plan.legs[0].start_m
    shown = (needed & ahead & np.isin(plan.risk, (*BY_HOURS, OpenState.TIGHT))).any()
    assert ("Public holidays are not known" in cautions_of(plan_document(plan))) == shown


@FEW
@given(found=things, at_km=here)
def test_without_roads_every_way_is_said_to_be_an_estimate(found, at_km):
    plan = planned(places_of(found), trip_from(at_km))
    document = plan_document(plan)
    prepared = plan.prepared
    needed = np.any([prepared.supply[kind] for kind in NEEDED], axis=0)
    any_ahead = (needed & (prepared.passes.chainage_m >= plan.legs[0].start_m)).any()
    assert ("No roads are known on this map" in cautions_of(document)) == any_ahead
    assert all("estimate" in row["detour_source"] for row in document["passes"])


# What a mapper may add to a place: each can only take away from what is sure.
WARNINGS = (
    {"end_date": "2025"},
    {"end_date": "2027"},
    {"opening_date": "2028"},
    {"seasonal": "winter"},
    {"seasonal": "yes"},
    {"seasonal": "Nov-Mar"},
    {"intermittent": "yes"},
    {"access:conditional": "no @ (Mo-Su)"},
    {"access:conditional": "no @ (some days)"},
    {"check_date": "2012"},
    {"fuel:h70": "yes"},
    {"fuel:diesel": "yes"},
    {"fuel:octane_95": "no"},
    {"drinking_water:legal": "no"},
)
warned = st.dictionaries(st.integers(0, 9), st.sampled_from(WARNINGS), min_size=1, max_size=5)


@FEW
@given(found=things, warnings=warned, at_km=here)
def test_a_warning_on_a_place_makes_nothing_surer(found, warnings, at_km):
    places, trip = places_of(found), trip_from(at_km, show={"remedies": False})
    doubted = tuple(
        replace(p, tags={**p.tags, **warnings.get(i, {})}) for i, p in enumerate(places)
    )
    full, less = planned(places, trip), planned(doubted, trip)
    # Times differ by the stops made: a place is compared where it is judged at one time.
    same = full.arrive_s == less.arrive_s if len(full.risk) == len(less.risk) else None
    if same is not None and not trip_differs(full, less):
        assert (less.risk[same & (full.risk == OpenState.SHUT)] == OpenState.SHUT).all()
        assert (full.risk[same & (less.risk == OpenState.OPEN)] == OpenState.OPEN).all()
        for kind in (Supply.WATER, Supply.CAMP):
            assert less.gaps[kind].longest.length_m >= full.gaps[kind].longest.length_m
    document = document_of(less)
    sure = {row["pass"] for row in document["fuel"]["stops"] if row["confidence"] == "stated"}
    where = {row["id"]: row["place"] for row in document["passes"]}
    for i, place in enumerate(doubted):
        named = [key for key in place.tags if key.startswith("fuel:")]
        if named and Supply.FUEL in place.supplies:
            assert place.id not in {where[key] for key in sure}
        gone = place.tags.get("end_date") == "2025" or place.tags.get("opening_date") == "2028"
        if gone:
            stops = (*less.supply.stops, *less.ice, *less.fuel.stops)
            used = {places_at(less, stop.row) for stop in stops}
            used |= {places_at(less, night.row) for night in less.nights if night.row >= 0}
            assert places[i].id not in used


def places_at(plan, row):
    return plan.prepared.places.places[int(plan.prepared.passes.place_ix[row])].id


def trip_differs(one, other):
    return [leg.end_m for leg in one.legs] != [leg.end_m for leg in other.legs]
