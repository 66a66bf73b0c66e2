"""When a meal may be cooked over an open fire, and what that takes."""

from __future__ import annotations

import pytest
from kitchen_world import cookbook, home, make_slots, plan, shop
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.kitchen.food.dishes import Heat, MealKind
from resupply.kitchen.food.fire import COALS_MIN, fire_at, on_its_heat
from resupply.kitchen.food.meals import Fire, Kitchen
from resupply.kitchen.menu_input import MapFacts, make_menu_input
from resupply.plan.pipeline import plan_trip
from resupply.supply.camps import fire_in_camp

CALM = {"resting": False, "ban": False, "wanted": True, "camp": None, "high_c": 20.0}


@pytest.mark.parametrize(
    ("said", "fire"),
    [
        ({}, Fire.YES),
        ({"wanted": False}, Fire.UNKNOWN),
        ({"wanted": False, "camp": True}, Fire.YES),
        ({"wanted": False, "camp": True, "high_c": None}, Fire.UNKNOWN),
        ({"high_c": None}, Fire.YES),
        ({"camp": False}, Fire.NOT_HERE),
        ({"ban": True, "camp": True}, Fire.BANNED),
        ({"high_c": 29.9}, Fire.YES),
        ({"high_c": 30.0}, Fire.TOO_HOT),
    ],
)
def test_a_fire_needs_the_word_of_the_rider_or_the_map_and_a_day_that_is_not_hot(said, fire):
    assert fire_at(MealKind.DINNER, **{**CALM, **said}) is fire


def test_no_fire_is_lit_for_a_meal_before_a_ride():
    assert fire_at(MealKind.BREAKFAST, **CALM) is Fire.NO_TIME
    assert fire_at(MealKind.LUNCH, **CALM) is Fire.NO_TIME
    assert fire_at(MealKind.BREAKFAST, **{**CALM, "resting": True}) is Fire.YES


@pytest.mark.parametrize(
    ("tags", "fire"),
    [
        ({}, None),
        ({"openfire": "yes"}, True),
        ({"fireplace": "yes"}, True),
        ({"bbq": "yes"}, True),
        ({"openfire": "no", "bbq": "yes"}, False),
        ({"bbq": "no"}, None),
        ({"openfire": "by arrangement"}, None),
    ],
)
def test_the_map_says_of_a_camp_whether_a_fire_may_be_lit(tags, fire):
    assert fire_in_camp(tags) is fire


def test_where_nobody_speaks_of_a_fire_everything_is_cooked_on_the_stove():
    menu = plan(make_slots(4), [home()], cookbook=on_its_heat(cookbook(), stove=True))
    assert {meal.dish.heat for meal in menu.meals} == {Heat.NONE, Heat.STOVE}


def test_a_fire_takes_charcoal_a_lighter_and_the_time_of_its_coals():
    book = on_its_heat(cookbook(), stove=False)
    slots = make_slots(2, fire=Fire.YES)
    menu = plan(slots, [home()], cookbook=book, kitchen=Kitchen(stove=False))
    fires = [meal.dish for meal in menu.meals if meal.dish.heat is Heat.FIRE]
    assert fires
    for dish in fires:
        assert dish.minutes == cookbook().dishes[dish.id].minutes + COALS_MIN
    lists = shop(menu, [home()], book=book)
    bought = {line.ingredient: line.packs for line in lists.stops[0].lines}
    assert "lighter" in {line.ingredient for line in lists.kit}
    assert sum(size * count for size, count in bought["charcoal"]) >= 350 * 2 * len(fires)


def test_a_late_arrival_leaves_no_time_for_coals():
    book = on_its_heat(cookbook(), stove=False)
    slots = make_slots(3, fire=Fire.YES, late=True)
    menu = plan(slots, [home()], cookbook=book, kitchen=Kitchen(stove=False))
    assert {meal.dish.heat for meal in menu.meals} == {Heat.NONE}


def test_the_map_word_on_a_camp_counts_for_the_evening_spent_there_alone():
    route = winding_route(600)
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0}, weather={"low_c": 9, "high_c": 19})
    plan_ = plan_trip(
        prepared_world(route, shops_along(route, (40, 210), hours=("24/7",)), trip), trip
    )
    days = {leg.date: leg.number for leg in plan_.legs}
    from resupply.kitchen.coolers import day_weather

    table = make_menu_input(
        trip,
        plan_.supply,
        [f"stop {stop.number}" for stop in plan_.supply.stops],
        weather=day_weather(trip, sorted(days)),
        said=MapFacts(camp_fires={1: True, 2: False}),
    )
    dinners = {
        days[slot.when.date()]: slot.fire for slot in table.slots if slot.kind is MealKind.DINNER
    }
    assert dinners[1] is Fire.YES
    assert dinners[2] is Fire.NOT_HERE
