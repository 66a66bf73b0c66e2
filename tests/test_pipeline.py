from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from told import plan_document
from worlds import FULL, prepared_world, shop, shops_along, trip_of, winding_route

from resupply.api import cook, ice_chances, plan_prepared
from resupply.common.errors import TripFileError
from resupply.common.quantity import at, line, way
from resupply.common.show import text
from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.place import Confidence, RouteSpan, Supply
from resupply.plan.pipeline import plan_trip
from resupply.plan.prepare import join_passes
from resupply.plan.prepared import USUAL_KMH
from resupply.route.route import make_route
from resupply.say.carry import remedy_words
from resupply.supply.daily_distance import PaceResult
from resupply.trip.read_file import make_trip

ROUTE = winding_route(1000)
KM = (40, 150, 260, 380, 470, 620, 700, 790, 930)


def world(trip, *, hours=("Mo-Sa 08:00-19:00",), km=KM, **options):
    return prepared_world(ROUTE, shops_along(ROUTE, km, hours=hours), trip, **options)


def planned(*, hours=("Mo-Sa 08:00-19:00",), km=KM, unknown=(), **tables):
    tables.setdefault("pace", {"daily_km": 200.0, "speed_kmh": 50.0})
    trip = trip_of(**tables)
    return plan_trip(world(trip, hours=hours, km=km, unknown=unknown), trip)


def test_no_stop_is_at_a_shop_that_is_shut_on_arrival():
    plan = planned()
    assert plan.supply.stops
    for stop in plan.supply.stops:
        assert stop.risk == OpenState.OPEN
        local = plan.clock.local(stop.chainage_m, stop.arrive_s)
        assert local.weekday() != 6
        assert 8 <= local.hour < 19


def test_a_shop_north_of_a_road_to_the_east_is_on_its_left():
    route = make_route([(np.linspace(-28.0, -27.0, 50), np.full(50, 46.0), None)])
    spots = [(-27.9, 46.01), (-27.5, 45.99), (-27.2, 46.0)]
    trip = trip_of(pace={"speed_kmh": 50.0})
    shops = tuple(shop(n, *spot) for n, spot in enumerate(spots))
    document = plan_document(plan_trip(prepared_world(route, shops, trip), trip))
    assert [row["side"] for row in document["passes"]] == ["left", "right", "on"]


def test_a_shop_without_hours_is_never_called_open():
    plan = planned(hours=(None,))
    assert not (plan.risk == OpenState.OPEN).any()
    document = plan_document(plan)
    unknown = {"usually_open", "unknown", "usually_shut"}
    assert {p["state"] for p in document["passes"]} <= unknown
    # Doubtful stops are named in the first lines a rider reads.
    assert any("may be shut when you arrive" in text for text in document["summary"]["cautions"])


def test_a_gap_over_missing_data_says_so():
    plan = planned(unknown=(RouteSpan(300e3, 500e3, "the extract ends here"),))
    gaps = [gap for gap in plan.gaps[Supply.GROCERIES] if gap.crosses_unknown]
    assert all(gap.start_m < 500e3 and gap.end_m > 300e3 for gap in gaps)
    assert gaps
    assert "missing" in " ".join(plan_document(plan)["summary"]["cautions"])


def test_shut_shops_are_no_passes_for_the_longest_gap():
    all_week = planned(hours=("24/7",)).gaps[Supply.GROCERIES]
    weekdays = planned(hours=("Mo-Fr 08:00-18:00",)).gaps[Supply.GROCERIES]
    assert max(g.length_m for g in weekdays) > max(g.length_m for g in all_week)


def test_a_gone_shop_is_not_planned_and_a_pinned_one_is():
    free = planned()
    used = free.prepared.places.places[
        int(free.prepared.passes.place_ix[free.supply.stops[0].row])
    ].id
    unused = next(
        p.id
        for p in free.prepared.places.places
        if p.id not in {_stop_id(free, stop) for stop in free.supply.stops}
    )
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0}, shops={"pinned": [unused], "gone": [used]}
    )
    kept = tuple(p for p in shops_along(ROUTE, KM) if p.id != used)
    plan = plan_trip(prepared_world(ROUTE, kept, trip), trip)
    ids = {_stop_id(plan, stop) for stop in plan.supply.stops}
    assert unused in ids
    assert used not in ids


def _stop_id(plan, stop):
    return plan.prepared.places.places[int(plan.prepared.passes.place_ix[stop.row])].id


def test_sweep_names_the_present_distance_and_agrees_with_its_plan():
    plan = planned(show={"sweep": True})
    (own,) = [row for row in plan.sweep if row.outcome.daily_m == 200e3]
    most = max(plan.supply.start_carry_meals, *(stop.carry_meals for stop in plan.supply.stops))
    assert own.outcome.max_carry_meals == most
    assert own.outcome.stops == len(plan.supply.stops)
    assert own.outcome.days == 6
    assert {name for row in plan.sweep for name in row.best} == {
        "least food on board",
        "least time at shops",
        "surest shops",
    }


@pytest.mark.parametrize("style", ["fresh", "few"])
def test_a_row_of_the_comparison_equals_the_plan_made_at_that_distance(style):
    settings = {"show": {"sweep": True}, "food": {"style": style}, "hours": ("Mo-Sa 09:00-19:00",)}
    plan = planned(**settings)
    for n, row in enumerate(plan.sweep[3::11]):
        daily_km = row.outcome.daily_m / 1000.0
        pace = {"daily_km": daily_km, "speed_kmh": 50.0}
        other = planned(**{**settings, "pace": pace, "show": {"sweep": n == 0}})
        figures, legs = other.styles[style], other.legs
        shut = other.prepared.food & (other.risk == OpenState.SHUT)
        if other.sweep:
            same = [r.outcome for r in other.sweep if r.outcome.daily_m == row.outcome.daily_m]
            assert same == [row.outcome]
        assert row.outcome == PaceResult(
            daily_m=daily_km * 1000.0,
            start_date=legs[0].date,
            days=(legs[-1].date - legs[0].date).days + 1,
            stops=len(other.supply.stops),
            max_carry_meals=other.supply.most_meals,
            excess_meals=sum(one.excess_meals for one in other.supply.shortfalls),
            extra_min=figures.minutes,
            shut_on_arrival=int(shut.sum()),
            doubtful_stops=sum(stop.risk not in BY_HOURS for stop in other.supply.stops),
        )


def test_the_compared_distances_and_the_best_of_them_do_not_move_with_the_setting():
    def told(daily_km):
        plan = planned(show={"sweep": True}, pace={"daily_km": daily_km, "speed_kmh": 50.0})
        return {row.outcome.daily_m: row for row in plan.sweep}

    slow, fast = told(173.0), told(391.0)
    assert set(slow) - {173e3} == set(fast) - {391e3}
    assert slow.keys() ^ fast.keys() == {173e3, 391e3}
    assert {m: row for m, row in slow.items() if row.best} == {
        m: row for m, row in fast.items() if row.best
    }


def test_where_the_cooler_asks_for_stops_distances_are_told_without_them():
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0}, show={"sweep": True})
    prepared = world(trip)
    row = int(plan_trip(prepared, trip).supply.candidates.row[0])
    document = plan_document(plan_trip(prepared, trip, ice_rows=frozenset({row})))
    assert "only the cooler asks for are left out" in document["sweep"]["words"]
    assert "cooler" not in plan_document(planned(show={"sweep": True}))["sweep"]["words"]


def test_with_a_cooler_the_figures_of_what_is_not_cooked_are_told_as_about():
    def about(document):
        told = {one["style"]: one for one in document["styles"]}
        for one in told.values():
            assert one["words"].startswith("about ") == one["approximate"]
        return {name for name, one in told.items() if one["approximate"]}

    cooler = {"kind": "soft", "volume_l": 20.0}
    plan = planned(cooler=cooler, food={"plan_menu": False})
    dragged, cooked = plan_document(plan), plan_document(plan, cook(plan, Path()))
    assert about(dragged) == {"fresh", "balanced", "few"}
    assert " with about " in dragged["summary"]["headline"]
    assert about(cooked) == {"fresh", "few"}
    assert "about" not in cooked["summary"]["headline"]
    dry = plan_document(planned())
    assert about(dry) == set()
    assert "about" not in dry["summary"]["headline"]


def test_what_a_drag_tells_of_the_three_styles_is_what_the_whole_plan_tells():
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0}, food={"plan_menu": False})
    plan = plan_prepared(world(trip), trip, Path())
    (dragged, _), whole = plan.quick_document(), plan.document
    assert len(whole.styles) == 3
    assert dragged.styles == whole.styles
    assert dragged.summary.headline == whole.summary.headline
    assert dragged.answers.shops == whole.answers.shops
    assert [stop.place for stop in dragged.stops] == [stop.place for stop in whole.stops]


def test_a_menu_that_nobody_waits_for_any_more_is_given_up():
    trip, wanted = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0}), 1_000_000
    asked = 0

    def step():
        nonlocal asked
        asked += 1
        if asked > wanted:
            raise TimeoutError

    plan = plan_prepared(world(trip), trip, Path(), step=step)
    # Once before the kitchen begins, then between two dishes that are tried.
    wanted = asked + 2
    with pytest.raises(TimeoutError):
        plan.stops  # noqa: B018  (planned when asked for)
    assert asked == wanted + 1


def test_sweep_over_weekdays_plans_each_start():
    plan = planned(show={"sweep": True, "sweep_weekdays": True})
    starts = {row.outcome.start_date for row in plan.sweep}
    assert starts == {dt.date(2027, 7, 9) + dt.timedelta(days=n) for n in range(7)}


def test_remedies_are_plans_that_were_really_made():
    plan = planned(km=(40, 930), food={"carry_limit_days": 3.0})
    assert plan.supply.shortfalls
    assert plan.remedies
    best = plan.remedies[0]
    (key, value), *rest = best.change.keys
    assert not rest
    table, name = key.split(".")
    tables = {"pace": {"daily_km": 200.0, "speed_kmh": 50.0}}
    tables.setdefault(table, {})[name] = value
    trip = trip_of(**tables)
    again = plan_trip(prepared_world(ROUTE, shops_along(ROUTE, (40, 930)), trip), trip)
    assert again.supply.cost.excess == best.excess_meals < plan.supply.cost.excess


def test_every_stop_says_why_and_why_not_the_one_before():
    document = plan_document(planned())
    assert all(stop["why"].endswith(".") for stop in document["stops"])
    assert any(stop["why_not_previous"] for stop in document["stops"])


def test_a_shut_shop_before_a_stop_is_named_as_the_reason():
    # Day 3 is a Sunday: the shop at km 470 is shut, the one after it is open all week.
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        food={"carry_limit_days": 2.0},
    )
    route = ROUTE
    closed = shop(1, *_near(route, 470), hours="Mo-Sa 08:00-19:00")
    opened = shop(2, *_near(route, 520), hours="24/7")
    late = shop(3, *_near(route, 800), hours="24/7")
    plan = plan_trip(prepared_world(route, (closed, opened, late), trip), trip)
    document = plan_document(plan)
    reasons = [s["why_not_previous"] for s in document["stops"] if s["place"] == "node/2"]
    assert reasons
    assert "Shop 1" in reasons[0]
    assert "shut" in reasons[0]


def _near(route, km):
    lon, lat = route.position_at(km * 1000.0)
    return lon, lat + 0.005


def test_two_time_zones_on_the_way_are_each_local():
    trip = trip_of(pace={"daily_km": 400.0, "speed_kmh": 50.0})
    places = (
        shop(1, *_near(ROUTE, 100), hours="24/7"),
        shop(2, *_near(ROUTE, 900), hours="24/7"),
    )
    prepared = prepared_world(ROUTE, places, trip)
    # By position: the west of the road lies in another zone than the east.
    from resupply.plan.prepare import zone_at

    free = replace(prepared, zone=None)
    plan = plan_trip(free, trip)
    zones = {place: zone_at(p.lon, p.lat) for place, p in enumerate(places)}
    assert len(set(zones.values())) == 2
    document = plan_document(plan)
    offsets = {p["place"]: p["eta"][-6:] for p in document["passes"]}
    assert offsets["node/1"] != offsets["node/2"]
    instants = [dt.datetime.fromisoformat(p["eta"]) for p in document["passes"]]
    assert instants == sorted(instants)


def test_a_plan_needs_a_date_and_a_real_time_zone():
    trip = trip_of(pace={"daily_km": 200.0})
    undated = trip.model_copy(update={"start": trip.start.model_copy(update={"date": None})})
    with pytest.raises(TripFileError, match=r"start\.date"):
        plan_trip(world(trip), undated)
    with pytest.raises(TripFileError, match="no such time zone"):
        plan_trip(replace(world(trip), zone="Atlantis/Deep"), trip)


def test_a_plan_without_any_shop_is_a_result():
    trip = trip_of(pace={"daily_km": 200.0})
    document = plan_document(plan_trip(prepared_world(ROUTE, (), trip), trip))
    assert document["stops"] == []
    assert document["shortfalls"][0]["excess_meals"] > 0
    assert "nan" not in json.dumps(document).lower().replace("financ", "")


def test_ice_is_stated_before_likely_and_late_before_early():
    stated = {Supply.ICE: Confidence.STATED}
    trip = trip_of(pace={"daily_km": 400.0, "speed_kmh": 50.0})
    places = (
        shop(1, *_near(ROUTE, 100), hours="24/7", supplies=stated),
        shop(2, *_near(ROUTE, 200), hours="24/7", supplies=stated),
        shop(3, *_near(ROUTE, 390), hours="24/7", supplies=FULL),
    )
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    first = plan.ice[0]
    assert plan.prepared.places.places[int(plan.prepared.passes.place_ix[first.row])].id == "node/2"
    assert first.confidence is Confidence.STATED


def test_arrays_of_a_plan_line_up():
    plan = planned()
    m = len(plan.prepared.passes)
    for array in (plan.arrive_s, plan.half_width_s, plan.risk, plan.detour_s, plan.detour_m):
        assert array.shape == (m,)
    assert np.isfinite(plan.arrive_s).all()


def test_no_night_lies_between_a_pass_and_its_shop():
    # The road to the shop leaves on day 1; the shop is nearest to the route on day 2.
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0})
    prepared = prepared_world(ROUTE, (shop(1, *_near(ROUTE, 201), hours="24/7"),), trip)
    detours = replace(prepared.detours, leave_m=np.array([198e3]))
    plan = plan_trip(replace(prepared, detours=detours, by_road=np.array([True])), trip)
    row = plan_document(plan)["passes"][0]
    assert (row["leg"], row["eta"][:10]) == (2, "2027-07-10")
    # From camp at km 200 back to km 198, and there: the shop is 0.6 km or so off the route.
    back_s = 2_000.0 / 50.0 * 3.6
    assert plan.detour_s[0] >= 2.0 * back_s
    hours = (plan.arrive_s[0] - plan.legs[1].depart.timestamp()) / 3600.0
    assert back_s / 3600.0 < hours < 0.1
    assert plan.half_width_s[0] == pytest.approx(600.0 + 360.0 * hours)


def test_a_folder_of_time_zones_is_no_time_zone():
    trip = trip_of(pace={"daily_km": 200.0})
    with pytest.raises(TripFileError, match="no such time zone"):
        plan_trip(replace(world(trip), zone="Europe"), trip)


def test_sweep_counts_doubtful_and_shut_shops_at_the_times_of_its_plan():
    # An hour in the first shop makes the rider late for the others of the same day.
    trip = trip_of(
        pace={"daily_km": 400.0, "speed_kmh": 50.0},
        food={"full_stop_min": 60, "carry_limit_days": 5},
        choice={"evening_way_min": 0},
        shops={"pinned": ["node/1", "node/2"]},
        show={"sweep": True},
    )
    places = (
        shop(1, *_near(ROUTE, 100), hours="24/7"),
        shop(2, *_near(ROUTE, 150), hours="08:00-13:00"),
        shop(3, *_near(ROUTE, 200), hours="08:00-13:15"),
    )
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    (own,) = [row.outcome for row in plan.sweep if row.outcome.daily_m == 400e3]
    assert own.doubtful_stops == sum(stop.risk != OpenState.OPEN for stop in plan.supply.stops) == 1
    assert own.shut_on_arrival == int((plan.risk == OpenState.SHUT).sum()) == 1


def test_a_pinned_shop_that_is_shut_is_no_stop_and_makes_no_food():
    hours = {"hours": ("Mo 03:00-04:00",)}
    free, plan = planned(**hours), planned(**hours, shops={"pinned": ["node/3"]})
    assert plan.supply.stops == free.supply.stops == ()
    assert plan.supply.start_carry_meals == free.supply.start_carry_meals
    cautions = plan_document(plan)["summary"]["cautions"]
    (said,) = [text for text in cautions if "asked to stop at Shop 3" in text]
    assert "shut when you pass" in said
    assert "opens Mon 03:00" in said
    assert "no stop is planned there" in said


def test_a_pin_that_cannot_be_kept_is_said():
    plan = planned(shops={"pinned": ["node/999"]})
    cautions = plan_document(plan)["summary"]["cautions"]
    assert any("asked to stop at node/999" in text for text in cautions)
    assert not any("asked to stop" in c for c in plan_document(planned())["summary"]["cautions"])


def test_a_day_that_lasts_into_the_next_departure_is_said():
    trip = trip_of(pace={"daily_km": 600.0, "speed_kmh": 20.0})
    document = plan_document(plan_trip(world(trip), trip))
    assert document["legs"][0]["cautions"][0].startswith("This day cannot be ridden")
    assert not any("cannot be ridden" in text for text in document["legs"][-1]["cautions"])
    fine = plan_document(planned())
    assert not any("cannot be ridden" in t for leg in fine["legs"] for t in leg["cautions"])


def test_finding_a_shut_door_costs_the_way_to_it_and_back():
    # Shop 1 is the stop; a kitchen further on serves until 13:00, by when only a rider who had
    # not first gone to the shut door would be there.
    trip = trip_of(pace={"daily_km": 400.0, "speed_kmh": 50.0}, shops={"pinned": ["node/1"]})
    meal = {Supply.MEAL_OUT: Confidence.STATED}
    places = (
        shop(1, *_near(ROUTE, 100), hours="24/7"),
        shop(2, *_near(ROUTE, 160), hours="10:00-13:00", kind="amenity=cafe", supplies=meal),
    )
    prepared = prepared_world(ROUTE, places, trip)
    free = plan_trip(prepared, trip).supply.stops[0].meal_out
    far = replace(prepared.detours, extra_s=np.array([7200.0, 0.0]))
    late = plan_trip(replace(prepared, detours=far), trip).supply.stops[0].meal_out
    assert free.kind == "meal_out"
    assert free.risk != OpenState.SHUT
    assert late.kind == "none"


def test_the_shop_next_door_is_the_way_out_of_a_shut_door():
    trip = trip_of(pace={"daily_km": 400.0, "speed_kmh": 50.0}, shops={"pinned": ["node/1"]})
    lon, lat = _near(ROUTE, 100)
    for aside in (-0.0006, 0.0006):  # 47 m back, 47 m on
        places = (
            shop(1, lon, lat, hours="24/7"),
            shop(2, lon + aside, lat, hours="24/7"),
            shop(3, *_near(ROUTE, 200), hours="24/7"),
        )
        plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
        (stop,) = [s for s in plan.supply.stops if _stop_id(plan, s) == "node/1"]
        assert _stop_id(plan, stop.fallback) == "node/2"
        assert stop.fallback.distance_m < 100.0
        assert stop.fallback.arrive_s >= stop.arrive_s
        (row,) = [r for r in plan_document(plan)["stops"] if r["place"] == "node/1"]
        assert "Go to Shop 2, within 0.1 km of it" in row["fallback"]["words"]


def test_the_same_shop_passed_again_is_no_way_out_of_its_shut_door():
    lon = np.concatenate([np.linspace(-28.0, -26.8, 120), np.linspace(-26.8, -28.0, 120)[1:]])
    loop = make_route([(lon, np.full(lon.shape, 46.0), None)], name="there and back")
    trip = trip_of(pace={"daily_km": 60.0, "speed_kmh": 50.0}, shops={"pinned": ["node/1"]})
    places = (shop(1, -27.7, 46.002, hours="24/7"),)
    plan = plan_trip(prepared_world(loop, places, trip), trip)
    assert len(plan.prepared.passes) == 2
    first = plan.supply.stops[0]
    assert first.fallback.kind == "none"
    assert first.if_shut_meals == plan.clock.end_meals


THING = {
    Supply.FUEL: "amenity=fuel",
    Supply.WATER: "amenity=drinking_water",
    Supply.ICE: "shop=supermarket",
    Supply.GROCERIES: "shop=supermarket",
    Supply.MEAL_OUT: "amenity=cafe",
    Supply.CAMP: "tourism=camp_site",
}


@pytest.mark.parametrize("kind", THING)
def test_a_place_to_which_no_road_is_known_is_counted_on_for_nothing_and_named(kind):
    trip = trip_of(
        pace={"daily_km": 400.0, "speed_kmh": 50.0},
        fuel={"range_km": 800},
        cooler={"kind": "hard"},
    )
    place = shop(
        1, *_near(ROUTE, 200), hours="24/7", kind=THING[kind], supplies={kind: Confidence.STATED}
    )
    reached = prepared_world(ROUTE, (place,), trip)
    lost = replace(reached, no_road=("no road within 500 m of it",))
    for world, count in ((reached, 1), (lost, 0)):
        plan = plan_trip(world, trip)
        used = {
            Supply.GROCERIES: plan.supply.candidates.row,
            Supply.ICE: (*plan.ice, *ice_chances(plan))[:1],
            Supply.FUEL: plan.fuel.stops,
        }
        assert len(plan.gaps[kind]) - 1 == count
        assert len(used.get(kind, plan.gaps[kind][1:])) == count
        cautions = plan_document(plan)["summary"]["cautions"]
        said = any("The map shows no road to Shop 1" in text for text in cautions)
        # Nobody starves for want of a camp or a café, and a spring on a hillside is no news.
        quiet = (Supply.CAMP, Supply.MEAL_OUT, Supply.WATER)
        assert said == (count == 0 and kind not in quiet)


def test_a_camp_to_which_no_road_is_known_is_doubtful_and_says_so():
    trip = trip_of(
        pace={"daily_km": 400.0, "speed_kmh": 50.0}, night={"camps": True, "tolerance_km": 40}
    )
    camps = tuple(
        shop(
            n,
            *_near(ROUTE, km),
            kind="tourism=camp_site",
            supplies={Supply.CAMP: Confidence.STATED},
            tags={"tents": "yes"},
        )
        for n, km in enumerate((370, 400), 1)
    )
    world = prepared_world(ROUTE, camps, trip)
    both = plan_trip(replace(world, no_road=("", "no road")), trip)
    assert round(both.legs[0].end_m / 1000) == 370
    alone = plan_trip(replace(world, no_road=("no road", "no road")), trip)
    assert "no road to it is known" in plan_document(alone)["legs"][0]["night"]["words"]


def test_ways_without_any_known_road_are_said_to_be_estimates():
    cautions = plan_document(planned())["summary"]["cautions"]
    assert any("No roads are known on this map" in text for text in cautions)


FAR = (shop(1, *_near(ROUTE, 200), hours="24/7"), shop(2, *_near(ROUTE, 650), hours="24/7"))
FAR = (replace(FAR[0], lat=FAR[0].lat + 0.068), *FAR[1:])  # 8 km off the route
TIGHT = {"pace": {"daily_km": 200.0, "speed_kmh": 50.0}, "food": {"carry_limit_days": 1.0}}


def _corridor_remedy(trip, **changes):
    world = replace(prepared_world(ROUTE, FAR, trip), **changes)
    plan = plan_trip(world, trip)
    told = [text(remedy_words(plan, remedy)) for remedy in plan.remedies]
    found = [said.partition(":")[0] for said in told if said.startswith("Look for shops")]
    return found[0] if found else None


def test_a_wider_corridor_is_offered_as_far_as_places_were_read():
    assert _corridor_remedy(trip_of(**TIGHT)) == "Look for shops up to 10 km from the route"
    narrow = {"corridor_km": 5.0, "camp_km": 8.5}
    near = _corridor_remedy(trip_of(**TIGHT, map=narrow))
    assert near == "Look for shops up to 8.5 km from the route"
    # Nothing beyond the corridor was read: no remedy is made of what nobody looked for.
    assert _corridor_remedy(trip_of(**TIGHT, map={**narrow, "camp_km": 5.0})) is None


def test_a_wider_corridor_keeps_the_roads_that_are_known():
    trip = trip_of(**TIGHT)
    world = prepared_world(ROUTE, FAR, trip)
    assert len(world.passes) == 1
    by_road = replace(
        world,
        detours=replace(world.detours, extra_m=np.array([777.0]), leave_m=np.array([640e3])),
        by_road=np.array([True]),
    )
    wide = make_trip(trip.model_dump(), overrides={"map.corridor_km": 10.0})
    wider = by_road.with_passes(*join_passes(ROUTE, world.places, wide))
    assert wider.by_road.tolist() == [False, True]
    assert wider.detours.extra_m[1] == 777.0
    assert wider.leave_m[1] == 640e3
    lost = replace(world, no_road=("a river",)).with_passes(wider.passes, wider.supply)
    assert lost.no_road == ("", "a river")


def test_a_day_that_is_a_public_holiday_is_told_and_no_other():
    # 26 October is Austria's national day (BGBl. 298/1967); 2027 it is a Tuesday.
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        start={"date": "2027-10-25"},
        region={"country": "AT", "time_zone": "Atlantic/Azores"},
    )
    said = [
        text
        for text in plan_document(plan_trip(world(trip), trip))["summary"]["cautions"]
        if "public holiday" in text
    ]
    assert len(said) == 1
    assert said[0].startswith("Day 2 falls on a public holiday: the hours of 2 of the 2 shops")


def test_a_place_called_gone_that_the_map_does_not_have_is_told():
    plan = planned(shops={"gone": ["node/3", "node/999"]})
    (said,) = [c for c in plan_document(plan)["summary"]["cautions"] if "is gone" in c]
    assert "You said that node/999 is gone" in said
    assert not any("is gone" in c for c in plan_document(planned())["summary"]["cautions"])


def test_a_shop_off_the_way_that_is_named_instead_says_how_far_the_detour_is():
    lon, lat = ROUTE.position_at(200e3)
    far_lon, far_lat = ROUTE.position_at(215e3)
    places = (
        shop(1, lon, lat + 0.002, hours="24/7"),
        shop(2, far_lon, far_lat + 0.03, hours="24/7"),
    )
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0}, shops={"pinned": ["node/1"]})
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    document = plan_document(plan)
    stop = next(stop for stop in document["stops"] if stop["place"] == "node/1")
    fallback = stop["fallback"]
    passes = {row["id"]: row for row in document["passes"]}
    detour_km = passes[fallback["pass"]]["detour_m"] / 1000.0
    assert detour_km > 2.0
    assert f"Go on to Shop 2, 16 km further (detour {detour_km:.1f} km), there" in fallback["words"]


def test_the_edge_of_the_map_is_told_once_after_all_that_matters_more():
    trip = trip_of(pace={"daily_km": 200.0}, show={"units": "imperial"}, map={"corridor_km": 10.0})
    prepared = world(trip)
    near_edge = (RouteSpan(10_000.0, 50_000.0), RouteSpan(90_000.0, 98_000.0))
    coverage = replace(prepared.places.coverage, near_edge=near_edge)
    places = replace(prepared.places, coverage=coverage, warnings=("the map is old",))
    document = plan_document(plan_trip(replace(prepared, places=places), trip))
    cautions = document["summary"]["cautions"]
    assert sum("extract ends" in text for text in cautions) == 1
    assert cautions[-1] == (
        "The map extract ends within 6.2 mi of the route on 30 mi of it: places beyond its edge "
        "are not known."
    )


def test_what_was_said_before_the_units_were_known_is_told_in_miles():
    trip = trip_of(
        pace={"daily_km": 200.0}, show={"units": "imperial"}, cooler={"volume_l": 18.92705892}
    )
    prepared = world(trip)
    told = line("The line jumps {far} at {there}", far=way(29_700.0), there=at(1_360_400.0))
    places = replace(prepared.places, warnings=("Gathered at Café 24 km",))
    document = plan_document(
        plan_trip(replace(prepared, places=places, route=replace(ROUTE, warnings=(told,))), trip)
    )
    said = ["Gathered at Café 24 km", "The line jumps 18 mi at mile 845"]
    assert document["coverage"]["warnings"] + document["route"]["warnings"] == said
    assert set(said) <= set(document["summary"]["cautions"])
    assert document["trip"]["settings"]["cooler.volume_l"] == 18.9271


def test_without_any_shop_no_daily_distance_is_called_best():
    bare = plan_document(planned(km=(), show={"sweep": True}))["sweep"]
    assert bare["words"] == (
        "No shop is known on the way: the distances cannot be compared by shops."
    )
    assert not any(row["best"] for row in bare["rows"])
    full = plan_document(planned(show={"sweep": True}))["sweep"]
    assert any(row["best"] for row in full["rows"])


def test_a_shop_is_reached_after_the_whole_way_from_the_route_to_its_door():
    # Left at km 40 and joined again far on: nothing is ridden more, but the door is 10 min away.
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0})
    world = prepared_world(ROUTE, shops_along(ROUTE, (40, 80)), trip)
    ways = replace(
        world.detours, extra_s=np.zeros(2), extra_m=np.zeros(2), out_s=np.array([600.0, 0.0])
    )
    plan = plan_trip(replace(world, detours=ways), trip)
    by_the_way_s = plan.clock.arrive_s(plan.prepared.leave_m)
    factor = USUAL_KMH / 50.0
    assert plan.arrive_s - by_the_way_s == pytest.approx([600.0 * factor, 0.0])
    assert plan.supply.candidates.nominal_s(plan.clock) == pytest.approx(plan.arrive_s.tolist())
