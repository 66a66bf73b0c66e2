"""Water between the places to fill up."""

from dataclasses import replace

import numpy as np
import pytest
from builders import straight_legs
from demo_plans import demo_plan, demo_read

from resupply.common.show import text
from resupply.hours.state import OpenState
from resupply.places.place import Confidence, Place, RouteSpan, Supply
from resupply.plan.cautions import rows_without_road
from resupply.report.document.supplies import water_shops
from resupply.say.names import Words
from resupply.say.water import water_to_take
from resupply.supply.water import WaterDay, needs_treating, split_day, water_gaps

LEGS = straight_legs(600.0, 200.0)
DAYS = [WaterDay(road_l=4.0, camp_l=6.0)] * 3


def gaps_at(*km, treat=None, **options):
    return water_gaps(
        [1000.0 * at for at in km],
        range(len(km)),
        treat or [False] * len(km),
        **{"legs": LEGS, "days": DAYS, **options},
    )


def water_place(kind, sure=Confidence.STATED, **tags):
    return Place("node/1", 0.0, 0.0, "", kind, {Supply.WATER: sure}, tags=tags)


def test_litres_on_the_road_follow_the_distance_of_the_day():
    first, second, _, _ = gaps_at(50, 100, 199.8)
    assert first.litres == pytest.approx(1.0)
    assert second.litres == pytest.approx(1.0)
    assert first.dry_camps == second.dry_camps == 0


def test_a_night_without_water_is_carried():
    gap = gaps_at(150, 250)[1]
    assert gap.dry_camps == 1
    assert gap.litres == pytest.approx(1.0 + 6.0 + 1.0)


def test_a_camp_with_water_needs_none_carried_for_the_night():
    gaps = gaps_at(150, 200, 250)
    assert [gap.dry_camps for gap in gaps[:3]] == [0, 0, 0]
    assert gaps[1].litres == pytest.approx(1.0)


def test_all_water_of_the_trip_is_accounted_for():
    assert sum(gap.litres for gap in gaps_at(90, 310, 530)) == pytest.approx(3 * 4.0 + 2 * 6.0)
    (whole,) = gaps_at()
    assert whole.litres == pytest.approx(3 * 4.0 + 2 * 6.0)
    assert whole.dry_camps == 2


def test_a_rest_day_in_a_dry_camp_needs_another_days_water():
    legs = straight_legs(600.0, 200.0, rest_days_after={1: 1})
    gap = gaps_at(150, 250, legs=legs)[1]
    assert gap.litres == pytest.approx(1.0 + 2 * 6.0 + 1.0)


def test_water_from_a_spring_is_marked_to_treat_in_the_gap_it_serves():
    gaps = gaps_at(100, 300, treat=[True, False])
    assert [gap.treat for gap in gaps] == [False, True, False]


def test_missing_map_data_is_said():
    gaps = gaps_at(100, 300, unknown=(RouteSpan(310e3, 320e3),))
    assert [gap.crosses_unknown for gap in gaps] == [False, False, True]
    words = Words(demo_read("coast_loop").trip_plan)
    said = [text(water_to_take(replace(gap, start_row=-1, end_row=-1), words)) for gap in gaps]
    less = "Map data is missing on part of it: less if you find water there."
    assert [less in one for one in said] == [False, False, True]


def test_springs_and_wells_are_treated_unless_stated_as_drinkable():
    assert needs_treating(water_place("natural=spring"))
    assert not needs_treating(water_place("natural=spring", drinking_water="yes"))
    assert needs_treating(
        water_place("natural=spring", drinking_water="yes", **{"drinking_water:legal": "no"})
    )
    assert needs_treating(water_place("man_made=water_well"))
    assert not needs_treating(water_place("amenity=drinking_water"))
    assert needs_treating(water_place("man_made=water_tap", Confidence.LIKELY))
    assert not needs_treating(water_place("man_made=water_tap", drinking_water="yes"))


def test_the_day_is_split_between_road_and_camp():
    day = split_day(drink_l=6.0, cook_l=2.0, riding_h=8.0)
    assert (day.road_l, day.camp_l) == (3.0, 5.0)
    assert split_day(drink_l=6.0, cook_l=0.0, riding_h=20.0).camp_l == 0.0
    assert split_day(drink_l=6.0, cook_l=2.0, riding_h=0.0) == WaterDay(0.0, 8.0)


def test_water_gets_its_way_by_road_like_any_other_place():
    prepared = demo_read().prepared
    water = prepared.supply[Supply.WATER]
    known = water & prepared.by_road
    assert known.sum() > 30
    assert all(prepared.no_road[row] for row in np.flatnonzero(water & ~prepared.by_road))
    on_foot_m = prepared.detours.walk_m[known]
    assert (prepared.detours.extra_m[known] >= 2.0 * on_foot_m).all()


def test_the_way_to_water_off_the_route_is_told_with_the_part_on_foot():
    plan = demo_read()._settled[0]
    words = Words(plan)
    passes = {row["id"]: row for row in demo_plan()[0]["passes"]}
    told = [text(said) for said in map(words.off_route, range(len(passes))) if said]
    assert any(said.endswith(" m on foot") for said in told)
    assert all(" km off the route" in said for said in told)
    assert any(row.get("walk_m", 0) >= 50 for row in passes.values())
    said = text(demo_plan()[0]["water"]["words"])
    assert "unnamed drinking water, 0.2 km off the route" in said


def test_a_spring_without_a_road_is_no_caution_and_a_shop_without_one_is():
    plan = demo_read()._settled[0]
    supply, n = plan.prepared.supply, len(plan.prepared.no_road)
    none = replace(plan, prepared=replace(plan.prepared, no_road=("no road",) * n))
    told = rows_without_road(none)
    others = (Supply.GROCERIES, Supply.ICE, Supply.FUEL)
    spring = supply[Supply.WATER] & ~np.any(
        [supply[kind] for kind in Supply if kind is not Supply.WATER], axis=0
    )
    assert spring.any()
    assert not set(np.flatnonzero(spring)) & set(told)
    assert set(np.flatnonzero(np.any([supply[kind] for kind in others], axis=0))) <= set(told)


def test_water_is_bought_where_food_is_bought_at_an_open_full_shop():
    gaps = gaps_at(150, 250, buy=[False, True])
    assert [gap.buy for gap in gaps] == [False, False, True]
    plan = demo_read("coast_loop")
    bought = water_shops(plan.trip_plan)
    stops = plan.trip_plan.supply.stops
    assert [row for _, row in bought] == [stop.row for stop in stops if stop.full]
    told = {row.pass_id: row for row in plan.document.water.gaps}
    for stop in plan.document.stops:
        if stop.pass_id in told:
            assert told[stop.pass_id].buy
            assert not told[stop.pass_id].treat
            assert "Buy it there, with the food." in text(told[stop.pass_id].words)
    no_hours = replace(
        plan.trip_plan,
        supply=replace(
            plan.trip_plan.supply,
            stops=tuple(replace(stop, risk=OpenState.UNKNOWN) for stop in stops),
        ),
    )
    assert water_shops(no_hours) == []
