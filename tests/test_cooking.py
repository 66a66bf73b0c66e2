"""What a menu is planned from."""

from __future__ import annotations

import datetime as dt

import pytest
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.common.show import text
from resupply.kitchen.food.menu import plan_menu
from resupply.kitchen.food.warm_time import make_history
from resupply.kitchen.menu_input import make_menu_input
from resupply.plan.pipeline import plan_trip

ROUTE = winding_route(1000)


def dates_without_cooking(now=None):
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0, "rest_days": {1: 1}},
        food={"no_cook_days": [3]},
        now=now or {},
    )
    places = shops_along(ROUTE, (40, 210, 260, 380, 470, 620, 700, 930), hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    table = make_menu_input(
        trip, plan.supply, [f"stop {stop.number}" for stop in plan.supply.stops]
    )
    return {slot.when.date() for slot in table.slots if slot.no_cook}


@pytest.mark.parametrize(
    "now", [None, {"at_km": 210, "time": "2027-07-11T08:30:00", "food_meals": 0}]
)
def test_days_without_cooking_are_days_of_the_trip_rest_days_and_those_ridden_counted(now):
    # 9 July is day 1, 10 July the rest day, 11 July the second day of riding.
    assert dates_without_cooking(now) == {dt.date(2027, 7, 11)}


def table_without_cooler(shops_km, **keys):
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0, "depart": "12:30:00"},
        food={"style": "fresh"},
        **keys,
    )
    places = shops_along(ROUTE, shops_km, hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    names = [f"stop {stop.number}" for stop in plan.supply.stops]
    return make_menu_input(trip, plan.supply, names)


def test_without_a_cooler_dinner_from_a_shop_just_before_camp_is_cooked_on_arrival():
    shops_km = (190, 390, 590, 790)
    given = table_without_cooler(shops_km)
    soon = [slot for slot in given.slots if slot.at_once]
    assert soon
    for slot in soon:
        stop = max((s for s in given.stops if s.when < slot.when), key=lambda s: s.when)
        assert slot.kind == "dinner"
        assert dt.timedelta(0) < slot.when - stop.when < dt.timedelta(hours=2)
        assert dt.time(17, 0) <= slot.when.time() < dt.time(19, 0)
    cooled = table_without_cooler(shops_km, cooler={"kind": "soft"})
    assert not any(slot.at_once for slot in cooled.slots)


def test_without_a_cooler_meat_bought_in_the_evening_is_on_the_menu_but_not_in_great_heat():
    shops_km = (190, 390, 590, 790)

    def cold_dinners(temp_c):
        given = table_without_cooler(shops_km)
        start_s = given.stops[0].when.timestamp()
        kept = make_history([start_s - 1e5, start_s + 1e6], [temp_c, temp_c], name="the food bag")
        menu = plan_menu(given, kept, say_moves=False)
        needs = given.storage.classes
        return [
            meal
            for meal in menu.meals
            if meal.slot.at_once
            and any(needs[p.storage].needs_cold for p in given.cookbook.parts(meal.dish))
        ]

    mild = cold_dinners(24.0)
    assert mild
    assert all("cooked on arrival" in text(meal.why) for meal in mild)
    hot = cold_dinners(34.0)
    for meal in hot:  # an hour at the most
        stops = [bought.use_by.when for bought in meal.bought if bought.use_by.when]
        assert all(when >= meal.slot.when for when in stops)
    assert len(hot) < len(mild)


@pytest.mark.parametrize(
    ("country", "key", "storage"),
    [
        ("AT", "by_country", "shelf-eggs"),
        ("US", "by_country", "raw-eggs"),
        ("US", "unchilled", "shelf-eggs"),
        ("AT", "chilled", "raw-eggs"),
    ],
)
def test_eggs_are_kept_as_they_are_sold(country, key, storage):
    trip = trip_of(food={"eggs": key}, region={"country": country})
    plan = plan_trip(prepared_world(ROUTE, shops_along(ROUTE, (40, 210)), trip), trip)
    given = make_menu_input(trip, plan.supply, [f"stop {s.number}" for s in plan.supply.stops])
    assert given.cookbook.ingredients["eggs"].storage == storage
