"""One meal for a party whose members do not all eat the same.

In: a dish and what the party eats. Out: which of its foods only some of them eat, as a camp cook
does it: what all eat is cooked for all, and meat, fish or cheese is kept apart for those who eat
it. A dish of which too little would be left without is not for such a party.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from resupply.kitchen.food.dishes import Cookbook, Dish
    from resupply.kitchen.food.meals import Diet

__all__ = ["eaten_shares", "kept_apart"]

_MOST_APART: Final = 0.4
"""Of a dish's energy so much may be kept apart, and the rest is still a meal: our choice."""
_FEWEST_LEFT: Final = 2
"""Foods beside the kit that must be left: bread alone is no meal. Our choice."""


def kept_apart(dish: Dish, cookbook: Cookbook, diet: Diet) -> tuple[int, ...] | None:
    """Name the portions of a dish that some of the party do not eat, by number.

    Returns
    -------
    tuple of int, or None
        Empty where all eat all of it. None where it is no meal without them, or where they cannot
        be taken out, as of what is left of another dish.
    """
    parts = cookbook.parts(dish)
    apart = tuple(n for n, part in enumerate(parts) if not diet.suits_all(part.diet))
    if dish.leftover_of is not None:
        maker = cookbook.dishes[dish.leftover_of]
        if not diet.suits_all(cookbook.diet(maker)):
            return None
    if not apart:
        return ()
    if dish.together:
        return None
    kcal = [part.kcal_per_unit * p.amount for part, p in zip(parts, dish.portions, strict=True)]
    left = [n for n, part in enumerate(parts) if n not in apart and not part.kit]
    fills = sum(kcal[n] for n in apart) <= _MOST_APART * sum(kcal)
    return apart if fills and len(left) >= _FEWEST_LEFT else None


def eaten_shares(dish: Dish, cookbook: Cookbook, diet: Diet, people: int) -> tuple[float, ...]:
    """Of each portion for the whole party, how much is made; empty where all eat all of it."""
    if not kept_apart(dish, cookbook, diet):
        return ()
    return tuple(diet.eaters(part.diet, people) / people for part in cookbook.parts(dish))
