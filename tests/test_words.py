"""Sentences carry values: what a plan says does not depend on the units it is shown in."""

from __future__ import annotations

import numpy as np
import pytest
from worlds import SMALL, prepared_world, shop, trip_of

from resupply.common.show import Show, with_text
from resupply.places.place import Confidence, RouteSpan, Supply
from resupply.plan.pipeline import plan_trip
from resupply.report.document.document import plan_document
from resupply.report.document.in_words import in_words
from resupply.route.route import make_route

ROUTE = make_route([(np.linspace(-28.0, -20.252, 400), np.full(400, 46.0), None)], name="straight")
"""600 km from west to east."""
ALL = dict.fromkeys((Supply.GROCERIES, Supply.ICE, Supply.FUEL), Confidence.LIKELY)
TRIPS = {
    "at home": {"food": {"carry_limit_days": 1, "carry_habit_days": 1}},
    "under way": {
        "start": {"date": "2027-07-09"},
        "now": {"at_km": 210, "time": "2027-07-10T14:10:00", "food_meals": 2, "fuel_km": 60},
        "show": {"sweep": False},
    },
    "without map data": {"region": {"country": "AT"}},
}


def planned(name, units):
    trip = trip_of(
        pace={"daily_km": 150.0, "speed_kmh": 50.0}, fuel={"range_km": 150.0}, **TRIPS[name]
    )
    trip = trip.model_copy(update={"show": trip.show.model_copy(update={"units": units})})
    places = [
        shop(n, *ROUTE.position_at(km * 1000.0), hours=hours, supplies=supplies)
        for n, (km, hours, supplies) in enumerate(
            [
                (55, "24/7", ALL),
                (180, None, SMALL),
                (330, "Mo-Sa 08:00-19:00", ALL),
                (520, None, ALL),
            ]
        )
    ]
    unknown = (RouteSpan(380e3, 470e3, "lost"),) if name == "without map data" else ()
    return plan_trip(prepared_world(ROUTE, tuple(places), trip, unknown=unknown), trip)


@pytest.mark.parametrize("name", TRIPS)
def test_a_plan_switched_to_miles_is_the_plan_made_in_miles(name):
    metric, imperial = (plan_document(planned(name, units)) for units in ("metric", "imperial"))
    switched = with_text(metric, Show("imperial", metric["trip"]["clock"]))
    made = in_words(imperial)
    del switched["trip"], made["trip"]
    assert switched == made
    assert " mi" in str(made["gaps"]["groceries"]["longest"]["words"])
    assert " km" not in str([made["summary"], made["stops"], made["gaps"], made["shortfalls"]])
