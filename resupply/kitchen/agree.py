"""Menu, packs and ice that agree with each other, found by one search of so many rounds.

What is in the cooler decides its temperature, and its temperature decides what may be in it. In
each round the lists are made for a menu, what they put in the cooler is followed with ice, and the
menu is told again at the temperature that gives: is every dish still good, and do the lists stay
the same, rests of packs included? Then the three agree. A dish that is not good any more has the
menu chosen anew, close to the first one, for the warmest of all rounds so far, so that each menu
is at least as careful as the last.

Then the ice is weighed (`kitchen/ice_price.py`): a stretch whose ice outweighs its cold food by far
does without, and the three are brought to agree once more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.units import S_PER_HOUR
from resupply.kitchen.cold.ice_plan import IceState
from resupply.kitchen.food.menu import plan_menu, retell_menu
from resupply.kitchen.food.shopping import make_shopping
from resupply.kitchen.food.storage import make_storage
from resupply.kitchen.food.warm_time import make_history
from resupply.kitchen.history import AFTER_S, history_of, warmest
from resupply.kitchen.ice_price import from_cold, outweighed, weighed
from resupply.kitchen.menu_input import food_inside

if TYPE_CHECKING:
    from resupply.kitchen.cold.ice_plan import IcePlan
    from resupply.kitchen.cold.steps import Stored
    from resupply.kitchen.coolers import FoodCooler
    from resupply.kitchen.food.dishes import Dish
    from resupply.kitchen.food.meals import Menu, MenuInput
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.food.warm_time import TempHistory
    from resupply.kitchen.ice_price import Spared

__all__ = ["Agreed", "agree"]

_COLD_C = 3.0
"""Inside of the cooler in the first round, before it is worked out."""
_ROUNDS = 6
"""Rounds of menu, lists and ice, at most: our choice; trips of the tests take four at most."""

_MORE_KG = 0.15
"""So much more left over a rider than with all kept cold is worth another menu: our choice."""
_FINE = (IceState.HOLDS, IceState.NO_NEED)
_NOT_SETTLED = "Menu and cooler did not settle: check the cooler by hand."


@dataclass(frozen=True, slots=True, eq=False)
class Agreed:
    """What is eaten, bought and cooled."""

    menu: Menu
    shopping: Shopping
    stored: tuple[Stored, ...]
    """All that lies in the cooler."""
    ice: IcePlan
    problems: tuple[str, ...] = ()
    """Sentences; empty where the three agree."""
    rounds: int = 1
    """How many it took."""
    given: MenuInput | None = None
    """What they were chosen for; None as asked."""
    spared: Spared | None = None
    """What the weight of its ice made the menu do without; None for nothing."""


def agree(
    given: MenuInput,
    box: FoodCooler,
    own: tuple[Stored, ...],
    reserve: tuple[Dish, ...],
) -> Agreed:
    """Choose menu, packs and ice together.

    Parameters
    ----------
    own
        What is in the cooler beside the menu's food.
    reserve
        Spare meals, which stand on the lists too.
    """
    if box.cooler.kind == "none":
        # What is in no cooler leaves the air as warm as it is: nothing to agree on.
        none = box.plan(())
        menu = plan_menu(given, history_of(none), say_moves=False)
        shopping = _lists(given, menu, history_of(none), reserve, strict=False)
        return Agreed(menu, shopping, (*own, *food_inside(given, menu, shopping)), none)
    first = _settle(given, box, own, reserve)
    if given.kept:
        # The dishes that stay were weighed when they were chosen.
        return first
    dear = outweighed(box, given.stops, first.stored, first.ice)
    if not dear:
        return first
    without = replace(given, uncooled=dear)
    then = _settle(without, box, own, reserve, near=first)
    if not _pays(first, then):
        return first
    spared = weighed(without, box, (first.menu, then.menu), (first.ice, then.ice), first.stored)
    return replace(then, given=without, spared=spared)


def _pays(first: Agreed, then: Agreed) -> bool:
    """Whether less ice is bought, at no more stops, and nothing else is worse."""
    return (
        then.ice.bought_kg < first.ice.bought_kg
        and _own_stops(then.ice) <= _own_stops(first.ice)
        and len(then.menu.unfilled) <= len(first.menu.unfilled)
        and len(then.problems) <= len(first.problems)
        and (then.ice.state is first.ice.state or then.ice.state in _FINE)
    )


def _own_stops(ice: IcePlan) -> int:
    """Count the stops made for ice alone."""
    return sum(buy.stop.counts and not buy.stop.anyway for buy in ice.purchases)


def _settle(
    given: MenuInput,
    box: FoodCooler,
    own: tuple[Stored, ...],
    reserve: tuple[Dish, ...],
    near: Agreed | None = None,
) -> Agreed:
    """Bring menu, packs and ice to agree.

    Parameters
    ----------
    near
        What was chosen for the same meals with more cold food, to stay close to.
    """
    steady = _steady(box) if near is None else _without_cold(given, box, near)
    only = None if near is None else _as_before(given, near.menu)
    menu = wanted = plan_menu(given, steady, strict=True, only=only)
    shopping = _lists(given, menu, steady, reserve)
    stored = (*own, *food_inside(given, menu, shopping))
    hoped_kg = _left_kg(given, shopping)
    ice: IcePlan | None = None
    warm: TempHistory | None = None
    held = False
    for number in range(1, _ROUNDS + 1):
        told, ice = _with_ice(given, menu, box, stored, ice, held=held)
        if told is not None:
            # The lists use a rest only if it was cold all the time, as the menu is.
            shopping = _lists(given, told, history_of(ice), reserve)
            if warm is None and _left_kg(given, shopping) > hoped_kg + _MORE_KG * given.people:
                # All may be eaten, but opened packs do not keep as was hoped: once, another menu.
                told = None
        held = told is not None
        if told is not None:
            menu = told
        else:
            found = history_of(ice, planning=True)
            warm = found if warm is None else warmest(warm, found)
            menu = plan_menu(given, warm, strict=True, keep=wanted)
            shopping = _lists(given, menu, warm, reserve)
        before, stored = stored, (*own, *food_inside(given, menu, shopping))
        if held and stored == before:
            return Agreed(menu, shopping, stored, ice, rounds=number)
    followed = box.plan(stored) if ice is None else box.follow(stored, ice)
    return Agreed(menu, shopping, stored, followed, (_NOT_SETTLED,), _ROUNDS)


def _without_cold(given: MenuInput, box: FoodCooler, near: Agreed) -> TempHistory:
    """As warm as it gets with the ice that what is left of the cold food takes."""
    gone = from_cold(given.stops, near.stored, given.uncooled)
    return history_of(box.plan([food for food in near.stored if food not in gone]))


def _as_before(given: MenuInput, menu: Menu) -> dict[int, frozenset[str]]:
    """Dishes that may be chosen where most of a menu stays.

    A meal stays as it was unless its stretch has no cold food any more, or it hangs together with
    another by its leftovers.
    """
    makers = {dish.leftover_of for dish in given.cookbook.dishes.values()}
    return {
        n: frozenset({meal.dish.id})
        for n, meal in enumerate(menu.meals)
        if meal.dish is not None
        and not any(bought.stop in given.uncooled for bought in meal.bought)
        and meal.dish.leftover_of is None
        and meal.dish.id not in makers
    }


def _left_kg(given: MenuInput, shopping: Shopping) -> float:
    """Add up what no meal uses of the packs on the lists."""
    parts = given.cookbook.ingredients
    return sum(
        line.left_over * parts[line.ingredient].unit_kg
        for listed in shopping.stops
        for line in listed.lines
        if not parts[line.ingredient].kit
    )


def _steady(box: FoodCooler) -> TempHistory:
    """As if the cooler stayed cold; what rides beside it has the heat of the air."""
    times_s = np.arange(box.around.start_s, box.around.end_s, S_PER_HOUR)
    return make_history(
        [box.around.start_s - S_PER_HOUR, box.around.end_s + AFTER_S],
        [_COLD_C, _COLD_C],
        air=make_history(times_s, box.around.ambient.at(times_s)),
    )


def _with_ice(
    given: MenuInput,
    menu: Menu,
    box: FoodCooler,
    stored: tuple[Stored, ...],
    ice: IcePlan | None,
    *,
    held: bool,
) -> tuple[Menu | None, IcePlan]:
    """Tell a menu again with ice for what lies in the cooler; None if it may not be eaten so.

    Ice that held before is kept where it still does; otherwise it is planned for this food, and
    where that is not enough, the ice of the round before is tried with it.
    """
    for keep in (True, False) if held else (False, True):
        if keep and ice is None:
            continue
        found = box.follow(stored, ice) if keep and ice is not None else box.plan(stored)
        told = retell_menu(given, menu, history_of(found))
        if told is not None:
            break
    return told, found


def _lists(
    given: MenuInput,
    menu: Menu,
    history: TempHistory,
    reserve: tuple[Dish, ...],
    *,
    strict: bool = True,
) -> Shopping:
    """Make the lists; rests are used only if they kept at this temperature."""
    return make_shopping(given, menu, make_storage(given.storage, history, strict=strict), reserve)
