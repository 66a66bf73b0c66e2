"""The menu: a dish for every meal of the plan, with the reason for each.

In: meal slots, shop stops, the temperature at which food is kept, dishes, what the party eats and
cooks on. Out: a `Menu`. What spoils first is eaten first, dry and tinned food last, nothing past
its limit. A meal for which nothing fits is part of the result, not an error.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.food.assign import Choice, assign, total_cost
from resupply.food.fits import Fits, find_fits
from resupply.food.history import make_history
from resupply.food.model import Cause, Diet, Fit, Kitchen, Meal, Menu, Move
from resupply.food.reasons import say_choice, say_empty, say_move
from resupply.food.storage import make_storage

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.food.classes import StorageTable
    from resupply.food.dishes import Cookbook, Dish
    from resupply.food.history import TempHistory
    from resupply.food.model import MealSlot, Misfit, Stop

__all__ = ["plan_menu", "reserve_dishes"]

# Weights below those of `assign`: at most 2 for fresh food, less for when it is eaten.
_FRESH = 1.0
_URGENT = 2.0
_DOUBTFUL = 1.5
_HEAVY_PER_KG_DAY = 0.001

_ORDER = 0.0001  # among equals, what stands first in the collection

_UNKNOWN_WARNING = (
    "For part of the trip nobody can tell how warm the food is. There, food that needs cold is "
    "planned only within 1 h of the shop; the rest is food that keeps."
)


def plan_menu(
    slots: Sequence[MealSlot],
    stops: Sequence[Stop],
    *,
    cookbook: Cookbook,
    storage_table: StorageTable,
    history: TempHistory | None,
    diet: Diet | None = None,
    kitchen: Kitchen | None = None,
    variety_meals: int = 6,
) -> Menu:
    """Assign a dish to every slot.

    Parameters
    ----------
    slots
        In order of time, `index` counting up by one.
    stops
        In order of time; a slot's `stretch` is the index of the stop it is bought at.
    history
        Temperature where perishables are kept, over the whole trip; None where nothing is known
        (or there is no cooler): then they last one hour only.
    diet, kitchen
        None for a party that eats everything, with a stove and a fire.
    variety_meals
        Number of consecutive meals in which no dish should come twice.

    Returns
    -------
    Menu
        The exact optimum of the objective given in `resupply.food.assign`.
    """
    diet, kitchen = diet or Diet(), kitchen or Kitchen()
    fits = find_fits(
        slots,
        stops,
        cookbook=cookbook,
        storage=make_storage(storage_table, history),
        diet=diet,
        kitchen=kitchen,
    )
    leftovers = _leftovers(cookbook)
    choices = _choices(slots, stops, fits, cookbook)
    picked = assign(len(slots), choices, window=variety_meals, leftovers=leftovers)
    meals = tuple(_meal(n, slots, picked, fits, cookbook, kitchen) for n in range(len(slots)))
    moves: tuple[Move, ...] = ()
    causes = {m.cause for n in range(len(slots)) for m in fits.misfits(n).values()}
    if Cause.WARM in causes:
        # What would be eaten if the food stayed cold: the difference is what the warmth moved.
        cold = find_fits(
            slots,
            stops,
            cookbook=cookbook,
            storage=make_storage(storage_table, make_history([0.0, 1.6e10], [0.0, 0.0])),
            diet=diet,
            kitchen=kitchen,
        )
        wanted = assign(
            len(slots),
            _choices(slots, stops, cold, cookbook),
            window=variety_meals,
            leftovers=leftovers,
        )
        moves = _moves(slots, wanted, picked, fits, cookbook)
    return Menu(
        meals=meals,
        moves=moves,
        cost=total_cost(len(slots), choices, picked, window=variety_meals),
        warnings=(_UNKNOWN_WARNING,) if Cause.UNKNOWN in causes else (),
    )


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
        and dish.id not in diet.leave_out
        and not diet.avoid.intersection(cookbook.allergens(dish))
        and not (diet.vegan and cookbook.diet(dish) != "vegan")
        and not (diet.vegetarian and cookbook.diet(dish) not in ("vegan", "vegetarian"))
    ]
    fitting.sort(key=lambda dish: (cookbook.mass_kg(dish), dish.id))
    return tuple(fitting[n % len(fitting)] for n in range(meals)) if fitting else ()


def _choices(
    slots: Sequence[MealSlot], stops: Sequence[Stop], fits: Fits, cookbook: Cookbook
) -> list[Choice]:
    mass_kg = {key: cookbook.mass_kg(dish) for key, dish in cookbook.dishes.items()}
    order = {key: _ORDER * n for n, key in enumerate(cookbook.dishes)}
    choices = []
    for n, slot in enumerate(slots):
        for key, fit in fits.at(n).items():
            cost = _cost(slot, stops, fit, mass_kg[key]) + order[key]
            choices.append(Choice(n, key, cost))
    return choices


def _cost(slot: MealSlot, stops: Sequence[Stop], fit: Fit, mass_kg: float) -> float:
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
    life_days = max(first.use_by.when.timestamp() - bought_s, 0.0) / 86_400.0
    urgency = 1.0 / (1.0 + life_days)
    return cost - _FRESH - _URGENT * urgency + urgency * days


def _days_since(stops: Sequence[Stop], slot: MealSlot) -> float:
    if not 0 <= slot.stretch < len(stops):
        return 0.0
    return (slot.when.timestamp() - stops[slot.stretch].when.timestamp()) / 86_400.0


def _leftovers(cookbook: Cookbook) -> dict[str, frozenset[str]]:
    users: dict[str, set[str]] = {}
    for dish in cookbook.dishes.values():
        if dish.leftover_of is not None:
            users.setdefault(dish.leftover_of, set()).add(dish.id)
    return {maker: frozenset(ids) for maker, ids in users.items()}


def _meal(
    n: int,
    slots: Sequence[MealSlot],
    picked: Mapping[int, str],
    fits: Fits,
    cookbook: Cookbook,
    kitchen: Kitchen,
) -> Meal:
    slot = slots[n]
    misfits = fits.misfits(n)
    if n not in picked:
        return Meal(slot, None, (), None, say_empty(slot, misfits, n_fits=len(fits.at(n))))
    dish = cookbook.dishes[picked[n]]
    fit = fits.at(n)[dish.id]
    before = [slots[k] for k in range(n) if picked.get(k) == dish.id]
    why = say_choice(
        dish,
        slot,
        fit,
        cookbook=cookbook,
        kitchen=kitchen,
        misfits=misfits,
        eaten_before=before[-1] if before else None,
    )
    first = fit.first
    return Meal(slot, dish, fit.bought, first.use_by if first else None, why)


def _moves(
    slots: Sequence[MealSlot],
    wanted: Mapping[int, str],
    picked: Mapping[int, str],
    fits: Fits,
    cookbook: Cookbook,
) -> tuple[Move, ...]:
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
        moves.append(_move(slots, n, to, cookbook.dishes[key], misfit))
    return tuple(moves)


def _move(slots: Sequence[MealSlot], n: int, to: int | None, dish: Dish, misfit: Misfit) -> Move:
    return Move(
        dish=dish.id,
        from_slot=slots[n].index,
        to_slot=None if to is None else slots[to].index,
        warm_from=misfit.warm_from,
        why=say_move(dish, slots[n], None if to is None else slots[to], misfit),
    )
