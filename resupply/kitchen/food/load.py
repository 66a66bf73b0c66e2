"""Mass and room on board along the trip: up at a shop, down at a meal.

In: the menu, the lists, what else the lead carries (ice, water, fuel). Out: the load after every
event, its peak, and by how much it exceeds the luggage. Masses are those of `ingredients.toml`
(round figures from memory), without the packaging of fresh food.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import accumulate
from typing import TYPE_CHECKING, Literal

from resupply.kitchen.food.storage_classes import class_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from resupply.kitchen.food.meals import Menu, MenuInput
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.food.storage_classes import StorageTable

__all__ = [
    "ROUNDING",
    "LoadChange",
    "LoadLimits",
    "LoadOnBoard",
    "LoadPoint",
    "goes_in_cooler",
    "make_load",
    "on_board_after",
]

# At the same moment one buys, then eats.
_ORDER = {"stop": 0, "other": 1, "meal": 2}

ROUNDING = 1e-6
"""Less over a limit, kg or litres, is the rounding of floats: it fits."""


@dataclass(frozen=True, slots=True)
class LoadChange:
    """Something that comes on board or leaves it."""

    when: dt.datetime
    kind: Literal["stop", "meal", "other"]
    index: int
    """Of the stop or the slot; 0 for others."""
    label: str
    mass_kg: float
    """Signed."""
    bag_l: float
    """Room in the food bag, signed."""
    cooler_l: float
    """Room in the cooler, signed."""


@dataclass(frozen=True, slots=True)
class LoadPoint:
    """What is on board after an event."""

    change: LoadChange
    mass_kg: float
    bag_l: float
    cooler_l: float


@dataclass(frozen=True, slots=True)
class LoadOnBoard:
    """The load along the trip."""

    points: tuple[LoadPoint, ...]
    peak_kg: LoadPoint | None
    peak_bag_l: LoadPoint | None
    peak_cooler_l: LoadPoint | None
    over_kg: float
    """Peak above the luggage's limit; 0 if within, or if no limit is given."""
    over_bag_l: float
    over_cooler_l: float


@dataclass(frozen=True, slots=True)
class LoadLimits:
    """What cooler and luggage may take."""

    cooler_l: float | None
    """What food, packs and ice may fill of the cooler; None without one: then all food is in the
    bag."""
    luggage_kg: float | None = None
    """None where not stated."""
    bag_l: float | None = None


def make_load(
    given: MenuInput,
    menu: Menu,
    shopping: Shopping,
    limits: LoadLimits,
    *,
    others: Sequence[LoadChange] = (),
    room_l: Callable[[float], float] | None = None,
) -> LoadOnBoard:
    """Add up the load.

    Parameters
    ----------
    others
        Ice, water and fuel, as changes with kind `other`.
    room_l
        Room really taken in the cooler just after an instant, UTC seconds to litres, packs and
        melting ice included; None counts the food alone.
    """
    cooled = limits.cooler_l is not None
    changes = list(others)
    for listed in shopping.stops:
        stop = given.stops[listed.stop]
        reserve = (*shopping.reserve, *shopping.kit) if listed.stop == 0 else ()
        bought = [(line.ingredient, line.bought) for line in (*listed.lines, *reserve)]
        gone = [(key, -amount) for key, amount in _gone(shopping, listed.stop)]
        kg, bag_l, cooler_l = _sums([*bought, *gone], given, cooled=cooled)
        changes.append(LoadChange(stop.when, "stop", listed.stop, stop.name, kg, bag_l, cooler_l))
    for meal in menu.meals:
        if meal.dish is not None:
            eaten = [(use.ingredient, -use.amount) for use in meal.uses(shopping.people)]
            sums, slot = _sums(eaten, given, cooled=cooled), meal.slot
            changes.append(LoadChange(slot.when, "meal", slot.index, meal.dish.name, *sums))
    for extra in menu.extras:
        sums = _sums([(extra.ingredient, -extra.amount)], given, cooled=cooled)
        label = given.cookbook.ingredients[extra.ingredient].name
        changes.append(LoadChange(extra.when, "other", 0, label, *sums))
    changes.sort(key=lambda c: (c.when.timestamp(), _ORDER[c.kind], c.index))
    points = tuple(
        LoadPoint(change, mass, bag, cool)
        for change, mass, bag, cool in zip(
            changes,
            accumulate(c.mass_kg for c in changes),
            accumulate(c.bag_l for c in changes),
            accumulate(c.cooler_l for c in changes),
            strict=True,
        )
    )
    if room_l is not None:
        points = tuple(replace(p, cooler_l=room_l(p.change.when.timestamp())) for p in points)
    peak_kg = max(points, key=lambda p: p.mass_kg, default=None)
    peak_bag = max(points, key=lambda p: p.bag_l, default=None)
    peak_cooler = max(points, key=lambda p: p.cooler_l, default=None)
    return LoadOnBoard(
        points=points,
        peak_kg=peak_kg,
        peak_bag_l=peak_bag,
        peak_cooler_l=peak_cooler,
        over_kg=_over(peak_kg.mass_kg if peak_kg else 0.0, limits.luggage_kg),
        over_bag_l=_over(peak_bag.bag_l if peak_bag else 0.0, limits.bag_l),
        over_cooler_l=_over(peak_cooler.cooler_l if peak_cooler else 0.0, limits.cooler_l),
    )


def on_board_after(given: MenuInput, menu: Menu, shopping: Shopping, stop: int) -> dict[str, float]:
    """Amount of each food on board leaving a stop, packs as bought; without the spare meals.

    In each food's unit, for the whole party.
    """
    left = given.stops[stop].when.timestamp()
    amounts: dict[str, float] = {}
    changes = [(line.ingredient, line.bought) for line in shopping.kit]
    for listed in shopping.stops[: stop + 1]:
        changes += [(line.ingredient, line.bought) for line in listed.lines]
        changes += [(key, -amount) for key, amount in _gone(shopping, listed.stop)]
    for meal in menu.meals:
        if meal.slot.when.timestamp() < left:
            changes += [(use.ingredient, -use.amount) for use in meal.uses(shopping.people)]
    for extra in menu.extras:
        if extra.when.timestamp() < left:
            changes.append((extra.ingredient, -extra.amount))
    for key, amount in changes:
        amounts[key] = amounts.get(key, 0.0) + amount
    return {key: amount for key, amount in amounts.items() if amount > ROUNDING}


def goes_in_cooler(table: StorageTable, class_id: str) -> bool:
    """Whether a class rides in the cooler: what needs cold, and what keeps longer in it."""
    return class_of(table, class_id).in_cooler


def _gone(shopping: Shopping, stop: int) -> list[tuple[str, float]]:
    """Name what is left over from the stop before and does not keep: it leaves at this one."""
    if stop == 0:
        return []
    before = shopping.stops[stop - 1]
    return [(line.ingredient, line.left_over) for line in before.lines if not line.keeps]


def _sums(
    amounts: Sequence[tuple[str, float]], given: MenuInput, *, cooled: bool
) -> tuple[float, float, float]:
    """Add up kg, litres in the bag and litres in the cooler."""
    mass_kg = bag_l = cooler_l = 0.0
    for key, amount in amounts:
        part = given.cookbook.ingredients[key]
        kg = amount * part.unit_kg
        mass_kg += kg
        if cooled and goes_in_cooler(given.storage, part.storage):
            cooler_l += kg * part.l_per_kg
        else:
            bag_l += kg * part.l_per_kg
    return mass_kg, bag_l, cooler_l


def _over(peak: float, limit: float | None) -> float:
    over = 0.0 if limit is None else peak - limit
    return over if over > ROUNDING else 0.0
