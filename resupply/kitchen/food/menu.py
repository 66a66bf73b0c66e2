"""The menu: a dish for every meal of the plan, with the reason for each.

In: meal slots, shop stops, dishes, what the party eats and cooks on (`MenuInput`), and the
temperature at which food is kept. Out: a `Menu`. What spoils first is eaten first, dry and tinned
food last, nothing past its limit. A meal for which nothing fits is part of the result, not an
error.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from resupply.common.quantity import joined
from resupply.common.units import S_PER_DAY
from resupply.kitchen.food.assign import DishChoice, assign, total_cost
from resupply.kitchen.food.dishes import Heat, MealKind
from resupply.kitchen.food.fits import Fits, find_fits
from resupply.kitchen.food.larder import Larder
from resupply.kitchen.food.meals import Cause, Menu, MenuMeal, MovedDish
from resupply.kitchen.food.mixed import eaten_shares, kept_apart
from resupply.kitchen.food.reasons import (
    say_choice,
    say_empty,
    say_move,
    say_moved_from,
    say_moved_to,
    told_first,
)
from resupply.kitchen.food.snacks import add_snacks
from resupply.kitchen.food.storage import make_storage
from resupply.kitchen.food.thrift import improve, portions_of
from resupply.kitchen.food.warm_time import make_history

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from resupply.kitchen.food.dishes import Cookbook, Dish
    from resupply.kitchen.food.meals import Diet, Fit, MealSlot, MenuInput, Misfit, ShopVisit
    from resupply.kitchen.food.warm_time import TempHistory

__all__ = ["plan_menu", "reserve_dishes", "retell_menu"]

# Weights below those of `assign`: at most 2 for fresh food, less for when it is eaten.
_FRESH = 1.0
_URGENT = 2.0
_DOUBTFUL = 1.5
_HEAVY_PER_KG_DAY = 0.001

_PREFERRED = 2.5  # a dish the rider likes or has in the freezer, less than eating it twice costs
_ROADSIDE = 0.15  # a lunch on the road that needs cooking
_KEPT = 0.2  # a meal that need not change stays as it was
_APART = 1.0  # a dish some of the party do not eat whole, less than fresh food is worth: our choice
_STAYS = 25.0  # the dish of the plan that is ridden stays: only one eaten twice in a row costs more
_MOVED = 0.4  # what the heat drives out is eaten earlier rather than not at all
_VARIETY_MEALS = 6
"""Of so many meals in a row no dish should come twice: our choice, two days."""

_ORDER = 0.0001  # among equals, what stands first in the collection

_UNKNOWN_WARNING = (
    "For part of the trip nobody can tell how warm the food is. There, food that needs cold is "
    "planned only within 1 h of the shop; the rest is food that keeps."
)


def plan_menu(
    given: MenuInput,
    history: TempHistory | None,
    *,
    strict: bool = False,
    keep: Menu | None = None,
    say_moves: bool = True,
    only: Mapping[int, Collection[str]] | None = None,
) -> Menu:
    """Assign a dish to every slot.

    Parameters
    ----------
    history
        Temperature where perishables are kept, over the whole trip; None where nothing is known
        (or there is no cooler): then they last one hour only.
    strict
        Plan without the warm time that published rules allow; see `make_storage`.
    keep
        The menu of the same meals for food that stays cold, to stay close to; None to work it
        out where it is needed.
    say_moves
        Whether to tell what the warmth moved; without a cooler it moves everything.
    only
        Dishes that may be chosen, by position of the meal; None, and meals not named, for all.

    Returns
    -------
    Menu
        Without `helpings` the exact optimum of the objective given in
        `resupply.kitchen.food.assign`; with them what `thrift` finds from there: portions come out
        at whole packs, dishes share opened ones, and snacks give what the meals lack.
    """
    n_slots = len(given.slots)
    storage = make_storage(given.storage, history, strict=strict)
    fits = find_fits(given, storage)
    leftovers = _leftovers(given.cookbook)
    choices = _choices(given, fits)
    if only is not None:
        choices = [c for c in choices if c.slot not in only or c.dish in only[c.slot]]
    wanted = None if keep is None else _picked(keep)
    if wanted is not None:
        choices = _close_to(wanted, choices, given.slots, fits)
    picked = assign(n_slots, choices, window=_VARIETY_MEALS, leftovers=leftovers)
    larder = Larder(given.cookbook, storage, given.stops)
    if given.helpings is not None:
        picked = improve(
            picked,
            choices,
            given,
            fits,
            larder,
            window=_VARIETY_MEALS,
            leftovers=leftovers,
        )
    moves: tuple[MovedDish, ...] = ()
    causes = {m.cause for n in range(n_slots) for m in fits.misfits(n).values()}
    if say_moves and Cause.WARM in causes:
        # What would be eaten if the food stayed cold: the difference is what the warmth moved.
        if wanted is None:
            air = None if history is None else history.air or history
            steady = make_history([0.0, 1.6e10], [0.0, 0.0], air=air)
            always_cold = make_storage(given.storage, steady)
            cold = _choices(given, find_fits(given, always_cold))
            wanted = assign(n_slots, cold, window=_VARIETY_MEALS, leftovers=leftovers)
        moves = _moves(given, wanted, picked, fits)
    meals = _told(given, picked, fits, moves)
    if given.helpings is not None:
        shares = portions_of(picked, given, fits, larder)
        meals = tuple(replace(meal, shares=shares.get(n, ())) for n, meal in enumerate(meals))
    return Menu(
        meals=meals,
        extras=add_snacks(meals, given, larder),
        moves=moves,
        cost=total_cost(n_slots, choices, picked, window=_VARIETY_MEALS),
        warnings=(_UNKNOWN_WARNING,) if Cause.UNKNOWN in causes else (),
    )


def retell_menu(given: MenuInput, menu: Menu, history: TempHistory) -> Menu | None:
    """Tell the same menu for another temperature, planned strictly.

    Returns
    -------
    Menu or None
        The same dishes from the same shops with their times and reasons; None if one of them
        may not be eaten then, or would have to come from elsewhere.
    """
    storage = make_storage(given.storage, history, strict=True)
    fits = find_fits(given, storage)
    picked = _picked(menu)
    for n, dish in picked.items():
        fit = fits.at(n).get(dish)
        if fit is None or [b.stop for b in fit.bought] != [b.stop for b in menu.meals[n].bought]:
            return None
    told = _told(given, picked, fits, menu.moves)
    meals = tuple(
        old if old.dish is None else replace(new, shares=old.shares)
        for old, new in zip(menu.meals, told, strict=True)
    )
    # What is left of an opened pack may keep for less long now.
    larder = Larder(given.cookbook, storage, given.stops)
    return replace(menu, meals=meals, extras=add_snacks(meals, given, larder))


def reserve_dishes(cookbook: Cookbook, diet: Diet, meals: int) -> tuple[Dish, ...]:
    """Choose emergency meals: shelf-stable, no cooking, in turn, lightest first.

    Parameters
    ----------
    meals
        How many. Fewer come back only if the diet leaves no reserve dish at all.
    """
    fitting = [
        dish
        for dish in cookbook.dishes.values()
        if dish.reserve
        and not dish.labels & diet.leave_out
        and not diet.avoid.intersection(cookbook.allergens(dish))
        and diet.suits_all(cookbook.diet(dish))
    ]
    fitting.sort(key=lambda dish: (cookbook.mass_kg(dish), dish.id))
    return tuple(fitting[n % len(fitting)] for n in range(meals)) if fitting else ()


def _close_to(
    wanted: Mapping[int, str], choices: Sequence[DishChoice], slots: Sequence[MealSlot], fits: Fits
) -> list[DishChoice]:
    """Make a menu cheaper the less it differs from the wanted one."""
    driven = {dish: slots[n].stretch for n, dish in wanted.items() if dish not in fits.at(n)}
    found = []
    for choice in choices:
        bonus = 0.0
        if wanted.get(choice.slot) == choice.dish:
            bonus = _KEPT
        elif driven.get(choice.dish) == slots[choice.slot].stretch:
            bonus = _MOVED
        found.append(replace(choice, cost=choice.cost - bonus))
    return found


def _picked(menu: Menu) -> dict[int, str]:
    return {n: meal.dish.id for n, meal in enumerate(menu.meals) if meal.dish is not None}


def _choices(given: MenuInput, fits: Fits) -> list[DishChoice]:
    cookbook = given.cookbook
    mass_kg = {key: cookbook.mass_kg(dish) for key, dish in cookbook.dishes.items()}
    order = {key: _ORDER * n for n, key in enumerate(cookbook.dishes)}
    liked = {key: _liking(dish, given) for key, dish in cookbook.dishes.items()}
    choices = []
    for n, slot in enumerate(given.slots):
        for key, fit in fits.at(n).items():
            cost = _cost(slot, given.stops, fit, mass_kg[key]) + order[key]
            dish = cookbook.dishes[key]
            if slot.kind is MealKind.LUNCH and dish.heat is not Heat.NONE:
                cost += _ROADSIDE
            for more in liked[key]:
                cost += more
            if given.kept.get(n) == key:
                cost -= _STAYS
            choices.append(DishChoice(n, key, cost))
    return choices


def _liking(dish: Dish, given: MenuInput) -> tuple[float, ...]:
    """Costs of a dish at whatever meal, by who eats; below 0 for what is preferred."""
    cookbook, diet = given.cookbook, given.diet
    found = []
    if diet.avoid.intersection(cookbook.label_decides(dish)):
        found.append(_DOUBTFUL)
    if kept_apart(dish, cookbook, diet):
        found.append(_APART)
    if any(part.frozen for part in cookbook.parts(dish)):
        found.append(-_PREFERRED)
    if dish.labels & diet.prefer:
        found.append(-_PREFERRED)
    return tuple(found)


def _cost(slot: MealSlot, stops: Sequence[ShopVisit], fit: Fit, mass_kg: float) -> float:
    """Cost of one dish at one slot.

    Within a stretch the cost of waiting is (days since the shop) × (a weight that falls with the
    food's remaining life). By the rearrangement inequality the cheapest order of given dishes is
    then that of their use-by times.
    """
    days = _days_since(stops, slot)
    cost = _DOUBTFUL if fit.doubtful else 0.0
    first = fit.first
    if first is None or first.use_by.when is None:
        return cost + _HEAVY_PER_KG_DAY * mass_kg * days
    bought_s = stops[max(slot.stretch, 0)].when.timestamp()
    life_days = max(first.use_by.when.timestamp() - bought_s, 0.0) / S_PER_DAY
    urgency = 1.0 / (1.0 + life_days)
    return cost - _FRESH - _URGENT * urgency + urgency * days


def _days_since(stops: Sequence[ShopVisit], slot: MealSlot) -> float:
    if not 0 <= slot.stretch < len(stops):
        return 0.0
    return (slot.when.timestamp() - stops[slot.stretch].when.timestamp()) / S_PER_DAY


def _leftovers(cookbook: Cookbook) -> dict[str, frozenset[str]]:
    users: dict[str, set[str]] = {}
    for dish in cookbook.dishes.values():
        if dish.leftover_of is not None:
            users.setdefault(dish.leftover_of, set()).add(dish.id)
    return {maker: frozenset(ids) for maker, ids in users.items()}


def _told(
    given: MenuInput, picked: Mapping[int, str], fits: Fits, moves: Sequence[MovedDish]
) -> tuple[MenuMeal, ...]:
    slots = given.slots
    meals = [_meal(n, given, picked, fits) for n in range(len(slots))]
    place = {slot.index: n for n, slot in enumerate(slots)}
    for move in moves:
        n, dish = place[move.from_slot], given.cookbook.dishes[move.dish]
        said = say_moved_from(dish, move.because)
        meals[n] = replace(meals[n], why=joined(meals[n].why, said))
        if move.to_slot is not None:
            to = place[move.to_slot]
            meals[to] = replace(meals[to], why=joined(meals[to].why, say_moved_to(slots[n])))
    return tuple(meals)


def _meal(n: int, given: MenuInput, picked: Mapping[int, str], fits: Fits) -> MenuMeal:
    slots = given.slots
    slot = slots[n]
    misfits = fits.misfits(n)
    if n not in picked:
        return MenuMeal(slot, None, (), None, say_empty(slot, misfits, n_fits=len(fits.at(n))))
    dish = given.cookbook.dishes[picked[n]]
    fit = fits.at(n)[dish.id]
    before = [slots[k] for k in range(n) if picked.get(k) == dish.id]
    why = say_choice(
        dish,
        slot,
        fit,
        given=given,
        misfits=misfits,
        eaten_before=before[-1] if before else None,
    )
    first = told_first(fit)
    shares = eaten_shares(dish, given.cookbook, given.diet, given.people)
    return MenuMeal(slot, dish, fit.bought, first.use_by if first else None, why, shares)


def _moves(
    given: MenuInput, wanted: Mapping[int, str], picked: Mapping[int, str], fits: Fits
) -> tuple[MovedDish, ...]:
    """Compare the menu with the one for food that stays cold, and name what warmth moved."""
    moves = []
    landed = {n for n, key in picked.items() if wanted.get(n) != key}
    for n, key in sorted(wanted.items()):
        misfit = fits.misfits(n).get(key)
        if misfit is None or misfit.cause is not Cause.WARM:
            continue
        to = min(
            (k for k in landed if picked[k] == key), key=lambda k: (abs(k - n), k), default=None
        )
        landed.discard(-1 if to is None else to)
        moves.append(_move(given.slots, n, to, given.cookbook.dishes[key], misfit))
    return tuple(moves)


def _move(
    slots: Sequence[MealSlot], n: int, to: int | None, dish: Dish, misfit: Misfit
) -> MovedDish:
    return MovedDish(
        dish=dish.id,
        from_slot=slots[n].index,
        to_slot=None if to is None else slots[to].index,
        warm_from=misfit.warm_from,
        because=misfit.why,
        why=say_move(dish, slots[n], None if to is None else slots[to], misfit),
    )
