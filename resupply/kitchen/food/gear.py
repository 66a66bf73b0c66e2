"""What to bring to cook with and to eat from, once for the party.

In: the menu and how many eat. Out: a list with numbers and masses. It is what campers bring (common
practice, no source); masses are ours, for the load.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import TYPE_CHECKING, Final

from resupply.common.quantity import line, listed, pack, volume
from resupply.common.units import G_PER_KG
from resupply.kitchen.food.dishes import Heat
from resupply.kitchen.food.meals import Fire
from resupply.kitchen.food.packing import drips
from resupply.kitchen.food.storage_classes import class_of
from resupply.kitchen.food.stove import pots_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.common.quantity import Part
    from resupply.kitchen.food.meals import Menu, MenuInput
    from resupply.kitchen.food.stove import FuelUse

__all__ = ["Gear", "kitchen_gear"]

_CARTRIDGES_G: Final = (100, 230, 450)
"""Gas in a cartridge as sold (from memory)."""
_FEW: Final = 3
"""Beyond so many all others are of the largest size: our choice."""
_CARTRIDGE: Final = 1.65
"""A full cartridge weighs so many times its gas (from memory)."""
_POT_L: Final = 0.7
"""Room in a pot for a portion, litres (our choice)."""
_HOT_DRINK: Final = "drinks-dry"
"""Storage class of coffee and tea."""
_STOVES_PER_PARTY: Final = 6
"""So many riders cook on one stove; two flames feed more (our choice)."""


@dataclass(frozen=True, slots=True)
class Gear:
    """One thing to bring."""

    id: str
    name: str
    count: int
    mass_kg: float
    """Of all of it."""
    note: Part | None = None
    """Why, or of what size."""


def kitchen_gear(
    given: MenuInput,
    menu: Menu,
    fuel: Sequence[FuelUse],
    *,
    cooler: bool,
    heights_known: bool = True,
) -> tuple[Gear, ...]:
    """List what the menu is cooked with and eaten from.

    Parameters
    ----------
    fuel
        Of the meals cooked on the stove.
    cooler
        Whether there is a cooler, with a thermometer of its own.
    heights_known
        Whether the height of all camps is known.
    """
    flame = tuple(_flame(given.people, fuel, heights_known=heights_known)) if fuel else ()
    return (*flame, *_tools(given, menu, cooler=cooler, boils=bool(fuel) and _drinks(given, menu)))


def _flame(people: int, fuel: Sequence[FuelUse], *, heights_known: bool) -> Iterator[Gear]:
    stoves = -(-people // _STOVES_PER_PARTY)
    yield Gear("stove", "Stove with windshield", stoves, 0.5 * stoves)
    yield _gas(fuel, heights_known=heights_known)
    yield Gear("lighter", "Lighter and dry matches", 1, 0.05)


def _drinks(given: MenuInput, menu: Menu) -> bool:
    """Whether coffee or tea is on the menu."""
    parts = given.cookbook.ingredients
    return any(parts[extra.ingredient].storage == _HOT_DRINK for extra in menu.extras)


def _tools(given: MenuInput, menu: Menu, *, cooler: bool, boils: bool) -> Iterator[Gear]:
    people = given.people
    served = [(meal.slot, meal.dish) for meal in menu.meals if meal.dish is not None]
    methods = {dish.method for _, dish in served}
    parts = [part for _, dish in served for part in given.cookbook.parts(dish)]
    pots = pots_for(people)
    # Water for coffee and tea boils in it too.
    if "pot" in methods or boils:
        size_l = max(-(-people * _POT_L // pots), 1.0)
        each = line("{size} or more each", size=volume(size_l))
        yield Gear("pot", "Pot with lid", pots, 0.5 * pots, each)
    if "pan" in methods:
        yield Gear("pan", "Pan", pots, 0.6 * pots)
    if any(dish.heat is Heat.FIRE and slot.fire is Fire.YES for slot, dish in served):
        yield Gear("tongs", "Tongs and a glove for the coals", 1, 0.4)
    if any(class_of(given.storage, part.storage).cook_to for part in parts):
        yield Gear("food-thermometer", "Food thermometer", 1, 0.05, "for what must be hot inside")
    if cooler:
        yield Gear("cooler-thermometer", "Thermometer for the cooler", 1, 0.05)
    boards = 2 if any(drips(part, given.storage) for part in parts) else 1
    only = "one for raw meat only" if boards > 1 else None
    yield Gear("board", "Cutting board", boards, 0.2 * boards, only)
    yield Gear("knife", "Sharp knife in a sheath", 1, 0.1)
    if any(part.aisle == "tins" for part in parts):
        yield Gear("tin-opener", "Tin opener", 1, 0.1)
    yield Gear("place", "Bowl, cup and spoon", people, 0.3 * people, "for each of you")
    yield Gear("wash", "Soap, hand gel, sponge, towel, bags for rubbish", 1, 0.4)


def _gas(fuel: Sequence[FuelUse], *, heights_known: bool) -> Gear:
    need_g, liquid_l = sum(use.gas_g for use in fuel), sum(use.fuel_l for use in fuel)
    packs = Counter(_cartridges(need_g))
    said = listed(
        (line("{n} × {size}", n=n, size=pack(size, "g")) for size, n in packs.items()), " + "
    )
    return Gear(
        "gas",
        "Stove gas",
        packs.total(),
        sum(packs.elements()) * _CARTRIDGE / G_PER_KG,
        line(
            "{need} by the dishes and the camps' height{unknown}: {said}; or {liquid} of liquid "
            "fuel",
            need=pack(round(need_g, -1), "g"),
            unknown=None if heights_known else " (the route has none: as at the sea)",
            said=said,
            liquid=volume(liquid_l),
        ),
    )


def _cartridges(need_g: float) -> tuple[int, ...]:
    """Choose the fewest that hold enough, of those the lightest; the largest first."""
    count = max(math.ceil(need_g / max(_CARTRIDGES_G)), 1)
    ways = combinations_with_replacement(sorted(_CARTRIDGES_G, reverse=True), min(count, _FEW))
    bulk = (max(_CARTRIDGES_G),) * max(count - _FEW, 0)
    return (*bulk, *min((w for w in ways if sum(w) + sum(bulk) >= need_g), key=sum))
