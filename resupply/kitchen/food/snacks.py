"""Snacks and drinks of the day: what the meals leave of the energy to eat, from rests first.

In: a menu with its portions, and how much energy a day is to give. Out: extras, each with its day,
stop and amount. What is left of packs for meals is nibbled as long as it keeps; the rest is food
that needs no cooler, in whole packs that are eaten up over the days, or weighed out at home.
Spreads are for days with bread alone: nobody nibbles jam by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from resupply.common.units import G_PER_KG
from resupply.kitchen.food.fits import sells
from resupply.kitchen.food.larder import NOTHING, fixed_wish, weighed_out
from resupply.kitchen.food.load import goes_in_cooler
from resupply.kitchen.food.meals import Extra
from resupply.kitchen.food.storage_classes import class_of
from resupply.kitchen.food.thrift import MEAL_SHARE

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from resupply.kitchen.food.dishes import Ingredient, MealKind
    from resupply.kitchen.food.larder import Larder, Served, Wish
    from resupply.kitchen.food.meals import Diet, Helpings, MenuInput, MenuMeal

__all__ = ["add_snacks", "day_share", "meal_kcal"]

_ENOUGH: Final = 0.04
"""Of a day's energy: less than that is not worth another thing to nibble. Our choice."""
_ONE_KIND: Final = 0.16
"""Of a day's energy: most that one kind of snack gives, so that a day has several. Our choice."""
_DENSE_PER_KG: Final = 2800.0
"""kcal in a kilogram of what is worth its weight in a tank bag: nuts, dried fruit, bars,
chocolate, biscuits; our choice."""
_LEAST: Final = 5.0
"""Grams: less of a rest is not put on a list of its own."""


@dataclass(slots=True)
class _Day:
    number: int
    stop: int
    """The last stop before its first meal."""
    from_when: dt.datetime
    when: dt.datetime
    """Its last meal: by then all is eaten."""
    lacks: float
    """kcal, whole party."""
    bread: bool
    """Something to put a spread on is eaten."""
    given: dict[str, float] = field(default_factory=dict)


def meal_kcal(meal: MenuMeal, given: MenuInput) -> float:
    """Energy of one meal, kcal for the whole party."""
    parts = given.cookbook.ingredients
    return sum(parts[use.ingredient].kcal_per_unit * use.amount for use in meal.uses(given.people))


def day_share(kinds: Sequence[MealKind]) -> float:
    """Of a day's energy, what is to be eaten on one that has only these meals, snacks included."""
    return sum(MEAL_SHARE[kind] for kind in kinds) / sum(MEAL_SHARE.values())


def add_snacks(meals: Sequence[MenuMeal], given: MenuInput, larder: Larder) -> tuple[Extra, ...]:
    """Choose snacks and drinks for every day, so that it gives what it is to give.

    None where nobody says how much is eaten.
    """
    helpings, diet = given.helpings, given.diet
    if helpings is None:
        return ()
    days = _days(meals, given, helpings)
    wishes: dict[str, list[Wish]] = {}
    for meal in meals:
        for use in meal.uses(given.people):
            wish = fixed_wish(
                (meal.slot.index, use.portion), meal.slot.when, use.bought.stop, use.amount
            )
            wishes.setdefault(use.ingredient, []).append(wish)
    foods = [part for part in larder.cookbook.ingredients.values() if _may_nibble(part, diet)]
    choice = _Choice(larder, helpings, wishes)
    for part in foods:
        if part.id in wishes:
            choice.nibble_rests(part, days)
    for part in larder.cookbook.ingredients.values():
        if part.kit and part.aisle == "drinks":
            choice.drink(part, days)
    dry = [part for part in foods if not goes_in_cooler(larder.storage.table, part.storage)]
    fruit = [part for part in dry if part.aisle == "produce"]
    dense = [part for part in dry if part.aisle != "produce" and _is_dense(part)]
    other = [part for part in dry if part not in fruit and part not in dense]
    spreads = [part for part in dry if _is_spread(part)]
    for number, day in enumerate(days):
        turned = _turned(dense, number)
        turned[1:1] = _turned(fruit, number)[:1]
        # Spreads once more at the end: by then there may be bread to put them on.
        for part in [*turned, *_turned(other, number), *fruit, *spreads]:
            if day.lacks > _ENOUGH * choice.full_kcal:
                choice.buy(part, days[number:])
    order = {key: n for n, key in enumerate(larder.cookbook.ingredients)}
    return tuple(sorted(choice.extras, key=lambda e: (e.day, order[e.ingredient], e.stop)))


def _days(meals: Sequence[MenuMeal], given: MenuInput, helpings: Helpings) -> list[_Day]:
    by_day: dict[int, list[MenuMeal]] = {}
    for meal in meals:
        if meal.dish is not None and 0 <= meal.slot.stretch < len(given.stops):
            by_day.setdefault(meal.slot.day, []).append(meal)
    return [
        _Day(
            number,
            min(meal.slot.stretch for meal in each),
            each[0].slot.when,
            each[-1].slot.when,
            helpings.day_kcal * day_share([meal.slot.kind for meal in each])
            - sum(meal_kcal(meal, given) for meal in each),
            any(
                _is_bread(given.cookbook.ingredients[use.ingredient])
                for meal in each
                for use in meal.uses(given.people)
            ),
        )
        for number, each in sorted(by_day.items())
    ]


def _may_nibble(part: Ingredient, diet: Diet) -> bool:
    return (
        diet.suits_all(part.diet)
        and part.snack > 0.0
        and part.kcal_per_unit > 0.0
        and not part.kit
        and not diet.avoid.intersection((*part.allergens, *part.may_contain))
    )


def _is_dense(part: Ingredient) -> bool:
    return part.kcal_per_unit >= _DENSE_PER_KG * part.unit_kg


def _is_bread(part: Ingredient) -> bool:
    return bool(part.aisle == "bakery")


def _is_spread(part: Ingredient) -> bool:
    return bool(part.aisle == "spreads")


def _turned(foods: Sequence[Ingredient], turn: int) -> list[Ingredient]:
    """Begin with another one each day."""
    start = turn % max(len(foods), 1)
    return [*foods[start:], *foods[:start]]


@dataclass(slots=True)
class _Choice:
    """What has been chosen so far."""

    larder: Larder
    helpings: Helpings
    wishes: dict[str, list[Wish]]
    extras: list[Extra] = field(default_factory=list)

    @property
    def full_kcal(self) -> float:
        """Energy of a whole day, whole party."""
        return self.helpings.day_kcal

    def drink(self, part: Ingredient, days: Sequence[_Day]) -> None:
        """Drink coffee and tea every day, out of the kit."""
        for day in days:
            amount = part.snack * self.helpings.appetite
            if amount > NOTHING:
                self._add(part, day, self._extra(part, day, 0, amount))

    def nibble_rests(self, part: Ingredient, days: Sequence[_Day]) -> None:
        """Eat what is left of a food's packs, day by day, as long as it keeps."""
        step = 1.0 if part.unit != "piece" else 0.5
        served = self.larder.serve(part.id, self.wishes[part.id])
        left = served.wasted
        for day in days:
            if left <= NOTHING:
                return
            for run in served.runs:
                amount = min(left, self._most(part, day))
                amount = min(left, amount // step * step if amount > step else amount)
                if run.bought <= NOTHING or amount * part.unit_kg < _LEAST / G_PER_KG:
                    continue
                # Never before the pack is opened anyway, nor out of a later stop's shop.
                if run.stop > day.stop or run.opened > day.when:
                    continue
                if not self.larder.lasts(part, run.stop, run.opened, day.when):
                    continue
                extra = Extra(day.number, day.when, part.id, run.stop, amount)
                other = self.larder.serve(part.id, [*self.wishes[part.id], self._wish(extra)])
                same = _bought(other) <= _bought(served) + NOTHING
                if same and other.wasted < left - 0.5 * amount:
                    self._add(part, day, extra)
                    left = other.wasted

    def buy(self, part: Ingredient, days: Sequence[_Day]) -> None:
        """Buy a snack for a day, and what is left of its pack for the days that follow."""
        first = days[0]
        number = self._shop(part, first.stop)
        if number is None:
            return
        stop = self.larder.stops[number]
        weighed = stop.weighed and weighed_out(part, self.larder.storage.table)
        spread = []
        for day in days:
            amount = min(self._most(part, day), _ONE_KIND * self.full_kcal / part.kcal_per_unit)
            amount -= day.given.get(part.id, 0.0)
            limit = self.larder.storage.use_by(part.storage, stop.when)
            if amount > NOTHING and limit.allows(day.when):
                spread.append((day, amount))
        if not spread or spread[0][0] is not first:
            return
        if weighed:
            step = float(part.loose or 1) if part.unit == "piece" or part.loose else 5.0
            amount = spread[0][1] // step * step
            if amount > NOTHING:
                self._add(part, first, self._extra(part, first, number, amount))
            return
        for size in sorted(part.sold, reverse=True):
            count = 1
            if part.loose:
                count = int(spread[0][1] // size)
            if count and sum(amount for _, amount in spread) >= size * count - NOTHING:
                self._spread(part, number, float(size * count), spread)
                return

    def _shop(self, part: Ingredient, last: int) -> int | None:
        """Find the last stop up to a given one that sells a food for sure: a baker has no nuts."""
        row = class_of(self.larder.storage.table, part.storage)
        stops = self.larder.stops
        return next((n for n in range(last, -1, -1) if sells(part, row, stops[n]) == "yes"), None)

    def _spread(
        self, part: Ingredient, stop: int, total: float, days: Sequence[tuple[_Day, float]]
    ) -> None:
        step = 1.0 if part.unit == "piece" else 5.0
        for day, most in days:
            amount = min(total, max(most // step * step, step))
            if amount > NOTHING:
                self._add(part, day, self._extra(part, day, stop, amount))
                total -= amount
        if total > NOTHING:
            day = days[-1][0]
            self._add(part, day, self._extra(part, day, stop, total))

    def _most(self, part: Ingredient, day: _Day) -> float:
        """How much more of a food a day takes: as a snack, and of what it lacks."""
        if _is_spread(part) and not day.bread:
            return 0.0
        most = part.snack * self.helpings.scale - day.given.get(part.id, 0.0)
        return max(min(most, day.lacks / part.kcal_per_unit), 0.0)

    def _extra(self, part: Ingredient, day: _Day, stop: int, amount: float) -> Extra:
        return Extra(day.number, day.when, part.id, stop, amount)

    def _wish(self, extra: Extra) -> Wish:
        key = (-1, len(self.extras))
        return fixed_wish(key, extra.when, extra.stop, extra.amount)

    def _add(self, part: Ingredient, day: _Day, extra: Extra) -> None:
        self.wishes.setdefault(part.id, []).append(self._wish(extra))
        self.extras.append(extra)
        day.bread = day.bread or _is_bread(part)
        day.lacks -= extra.amount * part.kcal_per_unit
        day.given[part.id] = day.given.get(part.id, 0.0) + extra.amount


def _bought(served: Served) -> float:
    return sum(run.bought for run in served.runs)
