"""Sentences about what ice weighs beside the food it keeps, and what is given up to save it.

In: an `IcePlan`, what the weighing changed (`Spared`). Out: sentences.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import joined, line, listed, mass, name
from resupply.kitchen.food.reasons import say_meal
from resupply.kitchen.ice_price import stays_at_home

if TYPE_CHECKING:
    from resupply.common.quantity import Sentence
    from resupply.kitchen.cold.ice_plan import IcePlan
    from resupply.kitchen.food.meals import MenuMeal
    from resupply.kitchen.ice_price import Spared

__all__ = ["price_words", "spared_words"]

_DEAR = 3.0
"""So much more ice than food hardly pays: our choice."""


def price_words(plan: IcePlan) -> Sentence | None:
    """Set the ice beside the food it keeps; None without either."""
    if not plan.bought_kg or not plan.cold_kg:
        return None
    said = line(
        "{ice} of ice for {food} of food that must stay cold.",
        ice=mass(plan.bought_kg),
        food=mass(plan.cold_kg),
    )
    if plan.bought_kg < _DEAR * plan.cold_kg:
        return said
    leave = (
        "The ice outweighs what it saves: with the cooler at home you save it, and give up food "
        "that needs cold unless it is bought just before it is cooked."
    )
    return joined(said, leave)


def spared_words(plan: IcePlan, spared: Spared) -> Sentence:
    """Say where the menu does without cold food, what that saves and what is given up."""
    leave = None
    if stays_at_home(plan):
        leave = "The cooler may stay at home."
    return joined(
        line(
            "No cold food from {places}: {food} of it would take {ice} of ice more, over {times} "
            "times as much (cooler.ice_times_food in the trip file).",
            places=listed(name(place) for place in spared.places),
            food=mass(spared.food_kg),
            ice=mass(spared.ice_kg),
            times=f"{spared.times:g}",
        ),
        line("Given up: {meals}.", meals=listed(map(_meal, spared.meals)))
        if spared.meals
        else None,
        leave,
    )


def _meal(meal: MenuMeal) -> Sentence:
    dish = "" if meal.dish is None else meal.dish.name
    return line("{dish} ({meal})", dish=name(dish), meal=say_meal(meal.slot))
