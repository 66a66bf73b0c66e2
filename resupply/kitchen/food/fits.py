"""Which dish may be eaten at which meal, and if not, why not.

In: slots, stops, dishes, storage limits. Out: for every slot and dish a `Fit` (with the stop at
which each ingredient is bought) or a `Misfit`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from resupply.common.quantity import line, moment, name
from resupply.kitchen.food.dishes import Heat
from resupply.kitchen.food.meals import Bought, Cause, Fire, Fit, Misfit
from resupply.kitchen.food.mixed import kept_apart
from resupply.kitchen.food.storage import Limit, UseBy
from resupply.kitchen.food.storage_classes import class_of
from resupply.kitchen.food.trades import sold_by_trade

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.kitchen.food.dishes import Cookbook, Dish, Ingredient
    from resupply.kitchen.food.meals import Diet, Kitchen, MealSlot, MenuInput, ShopVisit
    from resupply.kitchen.food.storage import Storage
    from resupply.kitchen.food.storage_classes import StorageClass

__all__ = ["Fits", "find_fits", "minutes_limit", "sells"]

_CAUSES = {
    Limit.WARM: Cause.WARM,
    Limit.UNKNOWN: Cause.UNKNOWN,
    Limit.DAYS: Cause.DAYS,
    Limit.ROOM: Cause.DAYS,
    Limit.ICE: Cause.ICE,
}
_NO_ICE = "no ice is bought for it, which would weigh too much for what it keeps"


@dataclass(frozen=True, slots=True)
class Fits:
    """Answers for every slot and dish; rows in the order of the slots."""

    rows: tuple[Mapping[str, Fit | Misfit], ...]
    _at: dict[int, dict[str, Fit]] = field(default_factory=dict)

    def at(self, slot: int) -> Mapping[str, Fit]:
        """Dishes that fit a slot."""
        if slot not in self._at:
            answers = self.rows[slot].items()
            self._at[slot] = {key: fit for key, fit in answers if isinstance(fit, Fit)}
        return self._at[slot]

    def misfits(self, slot: int) -> dict[str, Misfit]:
        """Dishes that do not."""
        return {key: fit for key, fit in self.rows[slot].items() if isinstance(fit, Misfit)}


def find_fits(given: MenuInput, storage: Storage) -> Fits:
    """Ask every dish of every slot. Reserve dishes are never planned and do not appear."""
    stops, cookbook = given.stops, given.cookbook
    dishes = [dish for dish in cookbook.dishes.values() if not dish.reserve]
    unwanted = {dish.id: _unwanted(dish, cookbook, given.diet) for dish in dishes}
    parts = {dish.id: cookbook.parts(dish) for dish in dishes}
    known: dict[tuple[str, int], UseBy] = {}
    offered: dict[tuple[str, int], list[tuple[float, Bought]]] = {}

    def use_by(class_id: str, stop: int) -> UseBy:
        key = (class_id, stop)
        if key not in known:
            known[key] = storage.use_by(class_id, stops[stop].when)
            if stop in given.uncooled and class_of(storage.table, class_id).needs_cold:
                known[key] = _eaten_soon(known[key], stops[stop].when, storage)
        return known[key]

    def offers(part: Ingredient, stretch: int) -> list[tuple[float, Bought]]:
        """Who sells it, the last shop before the meal first, each with the end of its time."""
        if stretch < 0:
            return []
        key = (part.id, stretch)
        if key not in offered:
            offered[key] = offers(part, stretch - 1)
            sold = sells(part, class_of(storage.table, part.storage), stops[stretch])
            if sold != "no":
                limit = use_by(part.storage, stretch)
                here = Bought(part.id, stretch, limit, doubtful=sold == "maybe")
                offered[key] = [(limit.until_s, here), *offered[key]]
        return offered[key]

    def buy(part: Ingredient, slot: MealSlot, when_s: float) -> Bought | _Past:
        if part.kit and slot.stretch >= 0 and stops:
            return Bought(part.id, 0, use_by(part.storage, 0), doubtful=False)
        doubtful: Bought | None = None
        past: UseBy | None = None
        # The own shop first, then what an earlier one sells and what lasts until this meal.
        for until_s, bought in offers(part, min(slot.stretch, len(stops) - 1)):
            if when_s > until_s:
                past = past or bought.use_by
            elif not bought.doubtful:
                return bought
            else:
                doubtful = doubtful or bought
        return doubtful or _Past(part, past)

    def ask(slot: MealSlot, dish: Dish) -> Fit | Misfit:
        fault = unwanted[dish.id] or _uncookable(dish, slot, given.cooking)
        if fault is not None:
            return fault
        if dish.leftover_of is not None:
            fault = _stale(dish, slot, given.slots, cookbook, storage)
            if fault is not None:
                return fault
        when_s = slot.when.timestamp()
        bought = [buy(part, slot, when_s) for part in parts[dish.id]]
        faults = [item for item in bought if isinstance(item, _Past)]
        if faults:
            # A warm spell is the most telling reason; a lack in the shop the least.
            first = min(faults, key=lambda item: item.cause not in (Cause.WARM, Cause.UNKNOWN))
            return first.misfit(slot)
        return Fit(tuple(item for item in bought if isinstance(item, Bought)))

    return Fits(tuple({dish.id: ask(slot, dish) for dish in dishes} for slot in given.slots))


def _eaten_soon(limit: UseBy, bought: dt.datetime, storage: Storage) -> UseBy:
    """Within the hour from the shop, as anything that is put in no cooler."""
    soon = bought + dt.timedelta(hours=storage.table.rule["hot_h"].value)
    return limit if limit.until_s < soon.timestamp() else UseBy(soon, Limit.ICE, _NO_ICE)


def sells(part: Ingredient, row: StorageClass, stop: ShopVisit) -> str:
    """Whether a shop sells a food: yes, maybe or no."""
    if part.frozen:
        return "yes" if stop.freezer else "no"
    if stop.full:
        return "yes"
    said = sold_by_trade(part, stop.trade) or row.small_shop
    return {"usually": "yes", "maybe": "maybe", "rarely": "no"}[said]


def _unwanted(dish: Dish, cookbook: Cookbook, diet: Diet) -> Misfit | None:
    if dish.labels & diet.leave_out:
        return Misfit(Cause.LEFT_OUT, "left out by the rider")
    if not diet.suits(cookbook.diet(dish)):
        return Misfit(Cause.DIET, "not vegan" if diet.vegan else "not vegetarian")
    if kept_apart(dish, cookbook, diet) is None:
        return Misfit(Cause.DIET, "not for all of you, and no meal without what some do not eat")
    hit = [str(allergen) for allergen in cookbook.allergens(dish) if allergen in diet.avoid]
    return Misfit(Cause.ALLERGEN, f"contains {', '.join(hit)}") if hit else None


def _uncookable(dish: Dish, slot: MealSlot, kitchen: Kitchen) -> Misfit | None:
    if slot.kind not in dish.kinds:
        return Misfit(Cause.KIND, f"not for {slot.kind}")
    if dish.heat is not Heat.NONE:
        if slot.no_cook:
            return Misfit(Cause.COOKING, "needs cooking on a day without")
        if dish.heat is Heat.FIRE and slot.fire is not Fire.YES:
            return Misfit(Cause.FIRE, f"needs a fire, and {slot.fire.words}")
        if dish.heat is Heat.STOVE and not kitchen.stove:
            return Misfit(Cause.COOKING, "needs a stove")
        if dish.heat is Heat.EITHER and not kitchen.stove and slot.fire is not Fire.YES:
            return Misfit(Cause.COOKING, "needs a stove or a fire")
    limit = minutes_limit(slot, kitchen)
    if limit is not None and dish.minutes > limit:
        return Misfit(Cause.TIME, f"takes {dish.minutes} minutes of at most {limit}")
    return None


def minutes_limit(slot: MealSlot, kitchen: Kitchen) -> int | None:
    """Longest cooking at a slot, minutes; None for no limit."""
    limits = [kitchen.late_minutes] if slot.late else []
    if slot.cook_minutes_limit is not None:
        limits.append(slot.cook_minutes_limit)
    return min(limits, default=None)


def _stale(
    dish: Dish,
    slot: MealSlot,
    slots: Sequence[MealSlot],
    cookbook: Cookbook,
    storage: Storage,
) -> Misfit | None:
    """Leftovers go into the next meal only, and only if they last until then."""
    maker = cookbook.dishes[dish.leftover_of or ""]
    before = next((other for other in slots if other.index == slot.index - 1), None)
    if before is None or before.kind not in maker.kinds or maker.leftover is None:
        return Misfit(Cause.LEFTOVER, line("{dish} is not the meal before", dish=name(maker.name)))
    if class_of(storage.table, maker.leftover).needs_cold:
        # A cooler cannot chill warm food, so leftovers that need cold have the shorter limit.
        hours = storage.table.rule["hot_h"].value
        if slot.when - before.when > dt.timedelta(hours=hours):
            return Misfit(Cause.LEFTOVER, f"leftovers are thrown out after {hours:g} h")
        return None
    limit = storage.use_by(maker.leftover, before.when)
    return None if limit.allows(slot.when) else Misfit(Cause.LEFTOVER, limit.why)


class _Past(NamedTuple):
    """A food that cannot be had for a meal; said in words only where a dish fails for it."""

    part: Ingredient
    limit: UseBy | None
    """Of the nearest shop that sells it; None where none does."""

    @property
    def cause(self) -> Cause:
        return Cause.SHOP if self.limit is None else _CAUSES[self.limit.limit]

    def misfit(self, slot: MealSlot) -> Misfit:
        food, limit = name(self.part.name), self.limit
        if limit is None:
            return Misfit(Cause.SHOP, line("no shop before it sells {food}", food=food))
        until = None
        if limit.when is not None and limit.when != limit.warm_from:
            until = line(
                ", so {food} would have to be eaten by {when}",
                food=food,
                when=moment(limit.when, slot.when),
            )
        why = line("{why}{until}", why=limit.why, until=until)
        return Misfit(_CAUSES[limit.limit], why, limit.warm_from, limit.spell)
