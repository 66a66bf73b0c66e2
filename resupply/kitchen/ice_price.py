"""Whether ice is worth its weight, and which stretches do without cold food as it is not.

In: what is in the cooler, from which shop, and the ice it takes. Out: the shops from which nothing
that needs cold is carried, and what that saves and costs. The price of a stretch's cold food is the
ice that would not be bought without it: the ice is planned with and without.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from resupply.kitchen.cold.ice_plan import IcePlan
    from resupply.kitchen.cold.steps import Stored
    from resupply.kitchen.coolers import FoodCooler
    from resupply.kitchen.food.meals import Menu, MenuInput, MenuMeal, ShopVisit

__all__ = ["Spared", "from_cold", "outweighed", "stays_at_home", "weighed"]

_SAME_S = 1.0
"""Times of a purchase that differ by less are one: the rounding of clocks."""


@dataclass(frozen=True, slots=True)
class Spared:
    """Cold food that is not planned, as its ice would outweigh it by far."""

    places: tuple[str, ...]
    """Shops, or home: what is carried from there needs no cold. Hostile map text."""
    times: float
    """The ice would weigh more than so many times the food."""
    ice_kg: float
    """Not bought."""
    food_kg: float
    """That would have needed cold."""
    meals: tuple[MenuMeal, ...]
    """Given up, in order of time: as they would have been."""


def from_cold(
    stops: Sequence[ShopVisit], stored: Iterable[Stored], numbers: Collection[int]
) -> list[Stored]:
    """List what was bought at some of the stops and must stay cold."""
    times_s = [stops[number].when.timestamp() for number in numbers]
    return [
        food
        for food in stored
        if food.perishable and any(abs(food.in_s - at_s) < _SAME_S for at_s in times_s)
    ]


def outweighed(
    box: FoodCooler,
    stops: Sequence[ShopVisit],
    stored: Sequence[Stored],
    ice: IcePlan,
) -> frozenset[int]:
    """Find the stops whose cold food takes more ice than `box.ice_times_food` times its weight.

    First each by itself. What is left is then weighed all together, as stretches that follow on
    each other share their ice: alone none of them would save it.
    """
    each_kg = {
        number: sum(food.mass_kg for food in from_cold(stops, stored, [number]))
        for number in range(len(stops))
    }
    cold = [number for number, kg in each_kg.items() if kg > 0.0]

    def ice_kg(without: Sequence[int]) -> float:
        gone = from_cold(stops, stored, without)
        return box.plan([food for food in stored if food not in gone]).bought_kg

    def dear(numbers: Sequence[int], without: Sequence[int], from_kg: float) -> bool:
        most_kg = box.ice_times_food * sum(each_kg[number] for number in numbers)
        return from_kg > most_kg and from_kg - ice_kg([*without, *numbers]) > most_kg

    alone = [number for number in cold if dear([number], [], ice.bought_kg)]
    others = [number for number in cold if number not in alone]
    if others and dear(others, alone, ice_kg(alone) if alone else ice.bought_kg):
        return frozenset(cold)
    return frozenset(alone)


def stays_at_home(ice: IcePlan) -> bool:
    """Whether a cooler has nothing to do: nothing in it must stay cold, and it holds no ice."""
    held = ice.purchases or ice.stated or ice.cooler.packs_kg > 0.0
    return not held and not ice.need_spans


def weighed(
    given: MenuInput,
    box: FoodCooler,
    menus: tuple[Menu, Menu],
    ice: tuple[IcePlan, IcePlan],
    stored: Sequence[Stored],
) -> Spared:
    """Tell what the weighing changed.

    Parameters
    ----------
    menus, ice
        Before and after.
    stored
        What was in the cooler before.
    """
    parts, classes = given.cookbook.ingredients, given.storage.classes
    still = {meal.dish.id for meal in menus[1].meals if meal.dish is not None}
    meals = tuple(
        meal
        for meal in menus[0].meals
        if meal.dish is not None
        and meal.dish.id not in still
        and any(
            bought.stop in given.uncooled and classes[parts[bought.ingredient].storage].needs_cold
            for bought in meal.bought
        )
    )
    return Spared(
        places=tuple(given.stops[number].name for number in sorted(given.uncooled)),
        times=box.ice_times_food,
        ice_kg=ice[0].bought_kg - ice[1].bought_kg,
        food_kg=sum(food.mass_kg for food in from_cold(given.stops, stored, given.uncooled)),
        meals=meals,
    )
