"""What the plan says of a stretch without a shop, and of what to do if one is shut."""

from __future__ import annotations

import numpy as np
from worlds import SMALL, prepared_world, shop, trip_of

from resupply.places.place import Supply
from resupply.plan.pipeline import plan_trip
from resupply.report.document.document import plan_document
from resupply.route.route import make_route

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
    assert "With small shops" in full["longest"]["words"]
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
    assert facts["The same by stated hours alone"] == f"300 km, {block['stated']['meals']} meals"


def test_what_is_usually_shut_ends_no_stretch_without_a_shop():
    # Nothing is stated for km 350, which is passed on Sunday at lunch.
    plan = planned((200, ALWAYS), (350, None), (500, ALWAYS), region={"country": "AT"})
    assert [round(gap.end_m / 1000) for gap in plan.gaps[Supply.GROCERIES]][:2] == [200, 500]
