"""Who carries what, stop by stop, where several bikes ride together.

In: a `KitchenPlan`, its lists, the water and the kitchen's gear. Out: the bikes loaded at each
stop, for the most ice and water on board until the next. What lies on a bike stays there as long as
nothing gets too heavy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.kitchen.food.bikes import Bike, Parcel, share_out
from resupply.kitchen.food.load import on_board_after
from resupply.kitchen.food.packing import drips, place_of
from resupply.kitchen.on_board import coolers_of, water_changes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from resupply.kitchen.food.bikes import Carried, ParcelKind
    from resupply.kitchen.food.gear import Gear
    from resupply.kitchen.food.meals import Menu
    from resupply.kitchen.food.rations import WaterNeed
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.plan import KitchenPlan
    from resupply.route.clock import RideClock
    from resupply.supply.water import WaterGap
    from resupply.trip.settings import Trip

__all__ = ["bikes_of", "loaded_bikes"]

_GEAR_L_PER_KG: Final = 3.0
"""Room of kitchen gear: pots nest, but not tightly (our choice)."""


def bikes_of(trip: Trip) -> tuple[Bike, ...]:
    """Bikes to share out over; none where one carries all, or nothing is said of them."""
    rows = trip.party.bikes
    if len(rows) < 2:
        return ()
    return tuple(
        Bike(row.name.strip() or f"Bike {number}", row.load_kg, row.room_l)
        for number, row in enumerate(rows, start=1)
    )


def loaded_bikes(
    trip: Trip,
    clock: RideClock,
    kitchen: KitchenPlan,
    planned: tuple[Menu, Shopping],
    water: tuple[Mapping[int, WaterNeed], Sequence[WaterGap]],
    gear: Sequence[Gear],
) -> tuple[tuple[Carried, ...], ...]:
    """Load the bikes at each of the menu's stops; empty with fewer than two.

    Parameters
    ----------
    planned
        The kitchen's menu and lists.
    water
        As in `load_on_board`.
    """
    bikes = bikes_of(trip)
    if not bikes:
        return ()
    changes = sorted(water_changes(clock, *water), key=lambda c: (c.when.timestamp(), c.mass_kg))
    times_s = np.array([change.when.timestamp() for change in changes])
    litres = np.cumsum([change.mass_kg for change in changes])
    before: dict[str, int] = {}
    out = []
    for stop in range(len(kitchen.given.stops)):
        span = _until_next(kitchen, stop)
        parcels = list(_parcels(kitchen, *planned, stop, span, gear))
        water_kg = _most(times_s, litres, span)
        loaded = share_out(bikes, parcels, water_kg=water_kg, before=before)
        before = {p.key: n for n, one in enumerate(loaded) for p in one.parcels}
        out.append(loaded)
    return tuple(out)


def _until_next(kitchen: KitchenPlan, stop: int) -> tuple[float, float]:
    """From leaving a stop to the next, UTC epoch seconds."""
    stops = kitchen.given.stops
    end_s = stops[stop + 1].when.timestamp() if stop + 1 < len(stops) else float("inf")
    return stops[stop].when.timestamp(), end_s


def _most(times_s: np.ndarray, amounts: np.ndarray, span: tuple[float, float]) -> float:
    """Most of what is on board within a span, by what it is after each change."""
    first = max(int(np.searchsorted(times_s, span[0] + 1.0, side="right")) - 1, 0)
    last = int(np.searchsorted(times_s, span[1], side="left"))
    inside = amounts[first : max(last, first + 1)]
    known = inside[np.isfinite(inside)]
    return max(float(known.max()), 0.0) if len(known) else 0.0


def _parcels(
    kitchen: KitchenPlan,
    menu: Menu,
    shopping: Shopping,
    stop: int,
    span: tuple[float, float],
    gear: Sequence[Gear],
) -> Iterator[Parcel]:
    given = kitchen.given
    parts = given.cookbook.ingredients
    cooled = kitchen.cooled
    together: dict[str, list[str]] = {"cooler": [], "raw": [], "kitchen": []}
    weights: dict[str, tuple[float, float]] = {}
    for key, amount in sorted(on_board_after(given, menu, shopping, stop).items()):
        part = parts[key]
        kg = amount * part.unit_kg
        weights[key] = (kg, kg * part.l_per_kg)
        place = place_of(part, given.storage, cooled=cooled)
        if place == "cooler":
            together["cooler"].append(key)
        elif place == "spices":
            together["kitchen"].append(key)
        elif drips(part, given.storage):
            together["raw"].append(key)
        else:
            yield Parcel(f"food:{key}", "food", *weights[key], (key,))
    for ice in coolers_of(kitchen):
        box = ice.cooler
        food = together["cooler"] if box.name == kitchen.food_ice.cooler.name else []
        kg = _most(ice.trace.times_s, ice.trace.ice_kg, span) + box.packs_kg
        kg += sum(weights[key][0] for key in food)
        kind: ParcelKind = "cooler" if ice is kitchen.food_ice else "drinks"
        yield Parcel(f"cooler:{box.name}", kind, kg, 0.0, tuple(food))
    if together["raw"]:
        yield _as_one("raw", together["raw"], weights)
    gear_kg = sum(one.mass_kg for one in gear)
    spices = _as_one("kitchen", together["kitchen"], weights)
    yield Parcel(
        "kitchen",
        "kitchen",
        gear_kg + spices.mass_kg,
        gear_kg * _GEAR_L_PER_KG + spices.room_l,
        spices.foods,
    )
    for row in shopping.reserve:
        part = parts[row.ingredient]
        kg = row.bought * part.unit_kg
        yield Parcel(f"spare:{part.id}", "spare", kg, kg * part.l_per_kg, (part.id,))


def _as_one(
    kind: ParcelKind, foods: Sequence[str], weights: Mapping[str, tuple[float, float]]
) -> Parcel:
    return Parcel(
        kind,
        kind,
        sum(weights[key][0] for key in foods),
        sum(weights[key][1] for key in foods),
        tuple(foods),
    )
