"""Sentences carry values: what a plan says does not depend on the units it is shown in."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from demo_plans import demo_document
from worlds import SMALL, prepared_world, shop, trip_of

from resupply.common.show import Show
from resupply.places.place import Confidence, RouteSpan, Supply
from resupply.plan.pipeline import plan_trip
from resupply.report.document.document import plan_document
from resupply.report.document.in_words import in_words
from resupply.report.document.model.as_json import to_dict
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
    switched, made = to_dict(metric, Show("imperial")), in_words(imperial)
    del switched["trip"], made["trip"]
    assert switched == made
    assert " mi" in str(made["gaps"]["groceries"]["longest"]["words"])
    assert " km" not in str([made["summary"], made["stops"], made["gaps"], made["shortfalls"]])


KITCHENS: dict[str, dict[str, Any]] = {
    "at home": {"drinks_cooler__kind": "soft", "drinks_cooler__volume_l": 12},
    "under way": {
        "now__at_km": 500,
        "now__time": "2027-07-11T11:00:00",
        "now__food_meals": 3,
        "now__ice_kg": 2.0,
    },
}
"""Changes of a sample trip."""
AWAY = Show("imperial", 12)
QUANTITY = re.compile(r"\d ?(?:km|mi|kg|lb|L|qt|gal)\b|\d ?°|\b\d{1,2}:\d\d\b")


def told(name, **show):
    """Plan of a sample trip with kitchen; the same one as other tests plan, where it can be."""
    keys = {"show__sweep": False, "show__remedies": False, **KITCHENS[name], **show}
    return demo_document("coast_loop", **keys)[0]


def sentences(tree):
    """Every sentence of a document as JSON: lists of words and quantities."""
    if isinstance(tree, list) and any(isinstance(part, str) for part in tree):
        yield tree
    elif isinstance(tree, dict | list):
        for branch in tree.values() if isinstance(tree, dict) else tree:
            yield from sentences(branch)


@pytest.mark.parametrize("name", KITCHENS)
def test_a_trip_with_kitchen_switched_to_miles_and_12_hours_is_the_trip_planned_so(name):
    home = to_dict(told(name), AWAY)
    away = in_words(told(name, show__units="imperial", show__clock=12))
    del home["trip"], away["trip"]
    assert home == away


@pytest.mark.parametrize("name", KITCHENS)
def test_no_word_of_a_sentence_holds_what_units_or_clock_change(name):
    document = to_dict(told(name))
    # What others published is quoted in their own units.
    del document["cold"]["sources"]
    said = list(sentences(document))
    assert len(said) > 300
    plain = [part for one in said for part in one if isinstance(part, str)]
    assert [part for part in plain if QUANTITY.search(part)] == []
