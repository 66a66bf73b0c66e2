"""Sentences on what to eat, leave and buy if ice that is only likely is not there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import Part, day_time, joined, line, listed, name
from resupply.kitchen.food.amounts import rounded, say_amount
from resupply.kitchen.food.reasons import say_meal

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from resupply.common.quantity import Sentence
    from resupply.kitchen.food.meals import MenuInput
    from resupply.kitchen.second_menu import ChangedMeal, ListChange, SecondMenu
    from resupply.say.cooler import Local

__all__ = ["second_menu_words"]


def second_menu_words(second: SecondMenu, given: MenuInput, local: Local) -> tuple[Sentence, ...]:
    """Say what to do if there is no ice: what to eat first, the meals, the lists.

    Empty where nothing changes.
    """
    if second.difference is None:
        return (
            line(
                "No ice: no second menu is worked out for here. Leave what needs cold, buy food "
                "that keeps."
            ),
        )
    return tuple(_told(second, given, local))


def _told(second: SecondMenu, given: MenuInput, local: Local) -> Iterator[Sentence]:
    difference, parts = second.difference, given.cookbook.ingredients
    if difference is None or not (difference.meals or difference.lists):
        return
    until_s = second.cold_until_s
    if difference.eat_first and until_s is not None:
        yield line(
            "No ice: eat first, it is cold until {until}: {foods}.",
            until=day_time(local(until_s)),
            foods=_foods(parts[key].name for key in difference.eat_first),
        )
    for stop, changes in difference.lists:
        left = [parts[c.ingredient].name for c in changes if c.gone]
        less = [_amount(c, given) for c in changes if c.amount < 0.0 and not c.gone]
        more = [_amount(c, given) for c in changes if c.amount > 0.0]
        said = [
            line("Leave {foods}.", foods=_foods(left)) if left else None,
            line("Take less: {foods}.", foods=listed(less, "; ")) if less else None,
            line("Buy {foods}.", foods=listed(more, "; ")) if more else None,
        ]
        yield line(
            "No ice at {shop}: {what}", shop=name(given.stops[stop].name), what=joined(*said)
        )
    if difference.meals:
        yield line("No ice: {meals}.", meals=listed(map(_meal, difference.meals), "; "))


def _foods(names: Iterable[str]) -> Sentence:
    # Names of food hold commas of their own.
    return listed(map(name, names), "; ")


def _amount(change: ListChange, given: MenuInput) -> Part:
    part = given.cookbook.ingredients[change.ingredient]
    much = say_amount(rounded(abs(change.amount), part.unit), part.unit)
    return line("{food} {much}", food=name(part.name), much=much)


def _meal(meal: ChangedMeal) -> Sentence:
    after: Part = "a spare meal" if meal.after is None else name(meal.after.name)
    return line(
        "{meal} {after}{before}",
        meal=say_meal(meal.slot),
        after=after,
        before=None
        if meal.before is None
        else line(" instead of {dish}", dish=name(meal.before.name)),
    )
