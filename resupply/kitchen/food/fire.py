"""Open fire: when a meal may be cooked over it, and what that takes.

In: what the rider and the map say of fires, the day's heat, dishes. Out: a `Fire` for a meal, and
the cookbook with every dish on the heat it is really cooked on. That a fire may be lit is never
taken for granted: where nobody says so, dishes go to the stove.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from resupply.kitchen.food.dishes import Heat, MealKind, Portion
from resupply.kitchen.food.meals import Fire

if TYPE_CHECKING:
    from resupply.kitchen.food.dishes import Cookbook, Dish

__all__ = ["COALS_MIN", "TOO_HOT_C", "fire_at", "on_its_heat"]

TOO_HOT_C = 30.0
"""On days with such a high no fire is lit: dry heat spreads it (our choice; local rules first)."""
COALS_MIN = 40
"""Until a fire has burnt down to coals to cook on, minutes (common practice, no source)."""
_GOODS = (Portion("charcoal", 350.0, "g"), Portion("lighter", 0.01, "piece"))
"""What a person's meal over coals takes besides the food (from memory). A lighter lasts for many
trips: one is bought, whatever the share."""


def fire_at(
    kind: MealKind,
    *,
    resting: bool,
    ban: bool,
    wanted: bool,
    camp: bool | None,
    high_c: float | None,
) -> Fire:
    """Whether a meal may be cooked over a fire.

    Parameters
    ----------
    resting
        Whether the day is one of rest: a fire takes an evening, or a day without a ride.
    ban
        The rider says that fires are banned.
    wanted
        The rider says that there will be a fire.
    camp
        Whether the map says that the camp has a place for one; None where it says nothing.
    high_c
        The day's high; None where not known. The rider's word then stands, the map's does not.
    """
    if ban:
        return Fire.BANNED
    if camp is False:
        return Fire.NOT_HERE
    if not wanted and (camp is None or high_c is None):
        return Fire.UNKNOWN
    if high_c is not None and high_c >= TOO_HOT_C:
        return Fire.TOO_HOT
    if kind is not MealKind.DINNER and not resting:
        return Fire.NO_TIME
    return Fire.YES


def on_its_heat(cookbook: Cookbook, *, stove: bool) -> Cookbook:
    """Put every dish on what it is cooked on, with what a fire takes in goods and minutes."""
    return replace(
        cookbook, dishes={key: _on(dish, stove) for key, dish in cookbook.dishes.items()}
    )


def _on(dish: Dish, stove: bool) -> Dish:
    if dish.heat is Heat.EITHER and stove:
        return replace(dish, heat=Heat.STOVE)
    if dish.heat in (Heat.FIRE, Heat.EITHER):
        return replace(
            dish,
            heat=Heat.FIRE,
            minutes=dish.minutes + COALS_MIN,
            portions=(*dish.portions, *_GOODS),
        )
    return dish
