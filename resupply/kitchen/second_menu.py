"""What to eat, leave and buy if ice that is only likely is not there.

In: the plan's meals, shops, cooler, menu and ice. Out: for each such stop another menu from there
on, and how it differs from the first. The rider learns it on arrival: what was eaten and bought
before stays as it is, what is on board may only be eaten earlier or not at all. `menu_difference`
compares any two menus of the same meals.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from resupply.kitchen.food.larder import NOTHING
from resupply.kitchen.food.menu import plan_menu, retell_menu
from resupply.kitchen.food.shopping import make_shopping
from resupply.kitchen.food.storage import make_storage
from resupply.kitchen.history import history_of, warmest
from resupply.kitchen.menu_input import food_inside
from resupply.places.place import Confidence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.kitchen.cold.ice_plan import IcePlan, Without
    from resupply.kitchen.cold.ice_search import IceChance
    from resupply.kitchen.cold.steps import Stored
    from resupply.kitchen.coolers import FoodCooler
    from resupply.kitchen.food.dishes import Dish
    from resupply.kitchen.food.meals import MealSlot, Menu, MenuInput, MenuMeal
    from resupply.kitchen.food.shopping import Shopping

__all__ = [
    "ChangedMeal",
    "ListChange",
    "MenuDifference",
    "SecondMenu",
    "menu_difference",
    "second_menus",
]

_MOST: Final = 3
"""Second menus are made for the first so many stops (our choice); of the rest that is told."""
_ROUNDS: Final = 3
"""Menu and cooler are worked out in turn at most so often."""
_VISIT_S: Final = 60.0
"""Ice and food whose times differ by less are one visit."""


@dataclass(frozen=True, slots=True)
class ChangedMeal:
    """A meal with another dish."""

    slot: MealSlot
    before: Dish | None
    after: Dish | None
    """None: nothing fits, or what was on board for it is gone; a spare meal is eaten."""


@dataclass(frozen=True, slots=True)
class ListChange:
    """What is bought more or less of one food at a stop."""

    ingredient: str
    amount: float
    """In its unit, whole party; less than 0 for what is left in the shop."""
    gone: bool
    """None of it is bought any more."""


@dataclass(frozen=True, slots=True)
class MenuDifference:
    """How one menu differs from another from a moment on."""

    meals: tuple[ChangedMeal, ...]
    eat_first: tuple[str, ...]
    """Ids of foods on board at that moment that need cold."""
    lists: tuple[tuple[int, tuple[ListChange, ...]], ...]
    """Number of the menu's stop and what changes on its list, of the dishes that change."""


@dataclass(frozen=True, slots=True)
class SecondMenu:
    """What to do if one stop has no ice."""

    stop: IceChance
    cold_until_s: float | None
    """UTC epoch at which the cooler passes the limit then; None: not as far as is known."""
    difference: MenuDifference | None
    """None: not worked out, as menu and cooler did not settle, or for too many stops before it."""


def second_menus(
    given: MenuInput,
    box: FoodCooler,
    own: Sequence[Stored],
    planned: tuple[Menu, Shopping],
    ice: IcePlan,
) -> tuple[SecondMenu, ...]:
    """Plan again without the ice of each purchase that is only likely.

    Parameters
    ----------
    own
        What is in the cooler beside the menu's food.
    planned
        Menu and lists of the plan.
    ice
        Its ice.
    """
    doubts = [d for d in ice.without if d.stop.confidence is not Confidence.STATED]
    made = []
    for number, doubt in enumerate(doubts):
        difference = None
        if number < _MOST:
            menu = _menu_without(given, box, own, planned, ice, doubt)
            if menu is not None:
                difference = menu_difference(given, planned, menu, doubt.stop.at_s)
        made.append(SecondMenu(doubt.stop, doubt.fails_at_s, difference))
    return tuple(made)


def menu_difference(
    given: MenuInput,
    first: tuple[Menu, Shopping],
    second: tuple[Menu, Shopping],
    since_s: float,
) -> MenuDifference:
    """Tell what changes from a moment on between two menus of the same meals.

    Parameters
    ----------
    since_s
        UTC epoch: meals after it, and shops from it on, are compared.
    """
    meals = tuple(
        ChangedMeal(old.slot, old.dish, new.dish)
        for old, new in zip(first[0].meals, second[0].meals, strict=True)
        if old.slot.when.timestamp() >= since_s and old.dish != new.dish
    )
    parts = given.cookbook.ingredients
    dishes = [dish for meal in meals for dish in (meal.before, meal.after) if dish is not None]
    foods = {p.use for dish in dishes for p in dish.portions if not parts[p.use].kit}
    lists = []
    for stop, visit in enumerate(given.stops):
        if visit.when.timestamp() >= since_s - _VISIT_S:
            changes = _changes(first[1], second[1], stop, foods)
            if changes:
                lists.append((stop, changes))
    return MenuDifference(meals, _on_board_cold(given, first[0], since_s), tuple(lists))


def _changes(
    first: Shopping, second: Shopping, stop: int, foods: set[str]
) -> tuple[ListChange, ...]:
    old, new = (
        {line.ingredient: line.bought for line in shopping.stops[stop].lines}
        for shopping in (first, second)
    )
    return tuple(
        ListChange(key, more, new.get(key, 0.0) <= NOTHING)
        for key in sorted(foods & (old.keys() | new.keys()))
        if abs(more := new.get(key, 0.0) - old.get(key, 0.0)) > NOTHING
    )


def _on_board_cold(given: MenuInput, menu: Menu, since_s: float) -> tuple[str, ...]:
    """Name what needs cold, was bought before a moment and is eaten after it, soonest first."""
    found: dict[str, None] = {}
    for meal in menu.meals:
        if meal.slot.when.timestamp() < since_s:
            continue
        for use in meal.uses(given.people):
            part = given.cookbook.ingredients[use.ingredient]
            bought_s = given.stops[use.bought.stop].when.timestamp()
            if bought_s < since_s - _VISIT_S and given.storage.classes[part.storage].needs_cold:
                found[part.id] = None
    return tuple(found)


def _menu_without(
    given: MenuInput,
    box: FoodCooler,
    own: Sequence[Stored],
    planned: tuple[Menu, Shopping],
    ice: IcePlan,
    doubt: Without,
) -> tuple[Menu, Shopping] | None:
    """Menu and lists without one purchase; None where menu and cooler do not settle."""
    at_s = doubt.stop.at_s
    k = next(n for n, bought in enumerate(ice.purchases) if bought.stop is doubt.stop)
    # As the ice plan has it: past the next two purchases things go on as planned.
    bought = replace(
        ice, purchases=(*ice.purchases[:k], *doubt.then, *ice.purchases[k + 3 :]), without=()
    )
    menu, shopping = planned
    kept = {n: meal.dish.id for n, meal in enumerate(menu.meals) if meal.dish is not None}
    given = replace(given, kept=kept)
    if given.helpings is not None:
        # Packs come out whole as far as portions give; no further dish is changed for them.
        given = replace(given, helpings=replace(given.helpings, trials=0, searches=1))
    only = _eaten_from(given, menu, at_s)
    stored = food_inside(given, menu, shopping)
    history = history_of(box.follow((*own, *stored), bought))
    for _ in range(_ROUNDS):
        other = plan_menu(given, history, strict=True, keep=menu, say_moves=False, only=only)
        other = _eaten_once(given, other, menu, at_s)
        storage = make_storage(given.storage, history, strict=True)
        lists = make_shopping(given, other, storage)
        followed = history_of(box.follow((*own, *food_inside(given, other, lists)), bought))
        if retell_menu(given, other, followed) is not None:
            return other, lists
        history = warmest(history, followed)
    return None


def _eaten_from(given: MenuInput, menu: Menu, at_s: float) -> dict[int, frozenset[str]]:
    """Dishes that may still be chosen, by position of the meal; all of them where none is named.

    Before the moment those that are planned. After it, as long as no shop comes, those for which
    the food is on board.
    """
    waiting = {n: meal for n, meal in enumerate(menu.meals) if _from_board(given, meal, at_s)}
    on_board = frozenset(meal.dish.id for meal in waiting.values() if meal.dish is not None)
    only = dict.fromkeys(waiting, on_board)
    for n, meal in enumerate(menu.meals):
        if meal.slot.when.timestamp() < at_s:
            only[n] = frozenset() if meal.dish is None else frozenset((meal.dish.id,))
    return only


def _from_board(given: MenuInput, meal: MenuMeal, at_s: float) -> bool:
    """Whether a meal is eaten after a moment from food bought before it."""
    if not 0 <= meal.slot.stretch < len(given.stops):
        return False
    bought_s = given.stops[meal.slot.stretch].when.timestamp()
    return bought_s < at_s - _VISIT_S and meal.slot.when.timestamp() >= at_s


def _eaten_once(given: MenuInput, other: Menu, menu: Menu, at_s: float) -> Menu:
    """Leave a meal empty where food on board would be eaten twice: there is one of it."""
    waiting = [meal for meal in menu.meals if _from_board(given, meal, at_s)]
    left = [meal.dish.id for meal in waiting if meal.dish is not None]
    meals = []
    for meal in other.meals:
        kept = meal
        if meal.dish is not None and _from_board(given, meal, at_s):
            if meal.dish.id in left:
                left.remove(meal.dish.id)
            else:
                kept = replace(meal, dish=None, bought=(), use_by=None, shares=())
        meals.append(kept)
    return replace(other, meals=tuple(meals))
