"""What the plan says of a stretch without a shop, and of what to do if one is shut."""

from __future__ import annotations

import numpy as np
from builders import candidates_at, plan_at, straight_clock
from told import plan_document
from worlds import SMALL, prepared_world, shop, trip_of

from resupply.hours.state import OpenState
from resupply.places.place import RouteSpan, Supply
from resupply.plan.pipeline import plan_trip
from resupply.route.route import make_route
from resupply.supply.ignoring_hours import naive_plan
from resupply.trip.choice import ChoiceKeys

ROUTE = make_route([(np.linspace(-28.0, -20.252, 400), np.full(400, 46.0), None)], name="straight")
"""600 km from west to east."""
ALWAYS, SUNDAY_OFF = "24/7", "Mo-Sa 00:00-24:00"


def shops(*told):
    """Places from (km, hours) for supermarkets and (km, hours, kind) for small shops."""
    places = []
    for n, (km, hours, *kind) in enumerate(told, 1):
        lon, lat = ROUTE.position_at(km * 1000.0)
        small = {"kind": kind[0], "supplies": SMALL} if kind else {}
        places.append(shop(n, lon, lat + 0.002, hours=hours, **small))
    return tuple(places)


def planned(*told, route=ROUTE, unknown=(), **tables):
    tables.setdefault("pace", {"daily_km": 150.0, "speed_kmh": 50.0})
    trip = trip_of(**tables)
    return plan_trip(prepared_world(route, shops(*told), trip, unknown=unknown), trip)


def kms(gap):
    return round(gap["start_m"], -3) // 1000, round(gap["end_m"], -3) // 1000


def test_a_bakery_does_not_end_a_stretch_without_a_full_shop():
    document = plan_document(planned((100, ALWAYS), (250, ALWAYS, "shop=bakery"), (500, ALWAYS)))
    full, any_shop = document["gaps"]["groceries"], document["gaps"]["small_groceries"]
    assert kms(full["longest"]) == (100, 500)
    assert (full["count_passes"], any_shop["count_passes"]) == (2, 3)
    assert kms(any_shop["longest"]) == (250, 500)
    assert "without a full food shop" in full["longest"]["words"]
    assert "Small shops counted too" in full["longest"]["words"]
    facts = {fact["label"]: fact["value_words"] for fact in document["summary"]["facts"]}
    assert facts["Longest stretch without a full shop"].startswith("400 km, ")


def test_a_stretch_with_a_shut_shop_is_no_shop_open_and_not_no_shop():
    # The trip starts on a Friday, so km 350 is passed on Sunday.
    document = plan_document(planned((200, ALWAYS), (350, SUNDAY_OFF), (500, ALWAYS)))
    longest = document["gaps"]["groceries"]["longest"]
    assert kms(longest) == (200, 500)
    assert longest["has_shut"]
    assert "with no full food shop open" in longest["words"]
    assert "Shops on it are shut or usually shut when you pass." in longest["words"]
    labels = {fact["label"] for fact in document["summary"]["facts"]}
    assert "Longest stretch with no full shop open" in labels


def test_the_longest_stretch_is_told_with_and_without_the_estimate_each_with_its_meals():
    document = plan_document(planned((100, ALWAYS), (250, None), (400, ALWAYS)))
    block = document["gaps"]["groceries"]
    assert kms(block["longest"]) == (400, 600)
    assert kms(block["stated"]) == (100, 400)
    assert "with no full food shop open by stated hours" in block["stated"]["words"]
    assert f"{block['stated']['meals']} meals" in block["longest"]["words"]
    facts = {fact["label"]: fact["value_words"] for fact in document["summary"]["facts"]}
    assert (
        facts["Counting only shops with known hours"] == f"300 km, {block['stated']['meals']} meals"
    )


def test_what_is_usually_shut_ends_no_stretch_without_a_shop():
    # Nothing is stated for km 350, which is passed on Sunday at lunch.
    plan = planned((200, ALWAYS), (350, None), (500, ALWAYS), region={"country": "AT"})
    assert [round(gap.end_m / 1000) for gap in plan.gaps[Supply.GROCERIES]][:2] == [200, 500]


# -- what to do if a shop is shut --


def test_a_small_shop_replaces_no_two_day_shop():
    # From km 300 six meals have to last to km 900; the small shop next door has three.
    never = ChoiceKeys(evening_way_min=0)
    found = plan_at(
        candidates_at(300, 310, 900, small=(310,), pinned=(300, 900)),
        length_km=1000, daily_km=300, weights=never, style=0.0,
    )  # fmt: skip
    stop = found.stops[0]
    assert stop.carry_meals == 6
    assert stop.fallback.chainage_m == 900e3
    assert found.worst_more_meals == 6


def test_a_small_shop_is_a_fallback_where_a_day_is_left_to_the_next_stop():
    found = plan_at(
        candidates_at(300, 310, 400, small=(310,), pinned=(300, 400)), length_km=600, daily_km=300
    )
    stop = found.stops[0]
    assert stop.carry_meals <= 3
    assert stop.fallback.chainage_m == 310e3


def test_a_bakery_makes_a_meal_and_a_farm_shop_a_day():
    bakery, farm, full = (
        planned((100, ALWAYS), (100.5, ALWAYS, *kind)).supply.candidates.sells_meals[1]
        for kind in (("shop=bakery",), ("shop=farm",), ())
    )
    assert (bakery, farm) == (1, 3)
    assert full > 90


def test_a_fallback_that_is_a_small_shop_is_called_one():
    document = plan_document(
        planned(
            (140, ALWAYS), (290, ALWAYS), (300, ALWAYS, "shop=convenience"), (440, ALWAYS),
            food={"carry_habit_days": 1},
        )
    )  # fmt: skip
    said = {stop["fallback"]["chainage_m"] // 1000: stop["fallback"] for stop in document["stops"]}
    assert said[300]["words"].endswith("It is a small shop.")


# -- where the limit cannot be kept --

FAR = {"food": {"carry_limit_days": 1, "carry_habit_days": 1}, "show": {"remedies": False}}


def shortfall_words(*told, **options):
    return plan_document(planned(*told, **FAR, **options))["shortfalls"][0]["words"]


def test_no_shop_on_the_map_is_said_only_where_the_map_is_known():
    told = ((50, ALWAYS), (550, ALWAYS))
    known = shortfall_words(*told)
    assert "From km 50 to km 550 the map has no shop in reach." in known
    assert "whatever stops you make" in known
    said = shortfall_words(*told, unknown=(RouteSpan(200e3, 290e3, "lost"),))
    assert "no shop is known, and map data is missing on 90 km of it." in said
    assert "Unless you find one there, you carry" in said
    for word in ("has no shop", "usable", "must", "whatever"):
        assert word not in said


def test_shops_that_are_shut_are_not_no_shop_where_the_limit_cannot_be_kept():
    # Km 300 to 450 are ridden on Sunday.
    said = shortfall_words((50, ALWAYS), (350, SUNDAY_OFF), (550, ALWAYS))
    assert "no shop is open when you pass." in said


# -- a plan that ignores hours --


def test_before_a_shut_door_the_rider_goes_on_to_the_next_open_one():
    # The plan that ignores hours stops at km 300, 600 and 900; the shop after the shut one is open.
    candidates = candidates_at(300, 600, 620, 900, pinned=(300, 600, 900))
    risk = {1: OpenState.SHUT}
    found = plan_at(candidates, length_km=1500, daily_km=300, risk=risk)
    clock = straight_clock(1500, 300)
    naive = naive_plan(found)
    assert naive.shut_rows == (1,)
    to_next = int(clock.meals_before(620e3)[0])
    rest = clock.end_meals - int(clock.meals_before(900e3)[0])
    assert naive.longest_meals == max(to_next - int(clock.meals_before(300e3)[0]), rest)


def test_the_last_shut_door_does_not_cost_the_food_to_the_end_of_the_trip():
    candidates = candidates_at(300, 600, 620, pinned=(600,))
    found = plan_at(candidates, length_km=900, daily_km=300, risk={1: OpenState.SHUT})
    clock = straight_clock(900, 300)
    naive = naive_plan(found)
    assert naive.shut_rows == (1,)
    ends = [0, *clock.meals_before([300e3, 620e3]).tolist(), clock.end_meals]
    assert naive.rows == (0, 1)
    assert naive.longest_meals == int(np.diff(ends).max()) < clock.end_meals
