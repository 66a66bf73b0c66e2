"""What a menu is planned from."""

from __future__ import annotations

import datetime as dt

import pytest
from worlds import prepared_world, shops_along, trip_of, winding_route

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
