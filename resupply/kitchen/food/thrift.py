"""Portions that come out at whole packs, and dishes that share opened ones.

In: the dishes chosen for variety and freshness alone. Out: the same or others, at the least of
that cost and of what would be left over together, and how much of each portion is taken. The
search goes dish by dish in an order of its own and stops after so many trials: the same input
gives the same menu on every machine.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from resupply.kitchen.food.assign import NEAR_REPEAT, TRIP_REPEAT
from resupply.kitchen.food.dishes import MealKind
from resupply.kitchen.food.larder import NOTHING, Wish
from resupply.kitchen.food.meals import USUAL_KCAL
from resupply.kitchen.food.mixed import eaten_shares

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from resupply.kitchen.food.assign import DishChoice
    from resupply.kitchen.food.dishes import Dish, Ingredient
    from resupply.kitchen.food.fits import Fits
    from resupply.kitchen.food.larder import Larder
    from resupply.kitchen.food.meals import Fit, MenuInput

__all__ = ["MEAL_SHARE", "improve", "portions_of"]

MEAL_SHARE: Final[dict[MealKind, float]] = {
    MealKind.BREAKFAST: 0.23,
    MealKind.LUNCH: 0.25,
    MealKind.DINNER: 0.30,
}
"""Of a day's energy, our choice; snacks and drinks give the rest."""
_GIVE: Final = 0.15
"""So much more or less than a dish states is still that dish: our choice."""
_PIECE_GIVE: Final = 1.0 / 3.0
"""A whole piece more or less is still that dish up to this share: three eggs may be two or four."""
_ROUND: Final = 5.0
"""Grams or millilitres in which a portion is told: what a kitchen scale is read to."""
_LEFT_PER_KG: Final = 30.0
"""Cost of a kilogram left over, beside the costs of `assign`: a dish twice on the trip is worth a
tenth of a kilogram."""
_CHANGED: Final = 4
"""Dishes changed at random before each further search: our choice."""
_MUCH_KG: Final = 0.15
"""A rider's share of what is left over from which on a quick search goes on: our choice."""
_FEW_MEALS: Final = 12
"""Trips of so many meals at most may use as many trials again then: our choice, they are cheap."""
_MOST_SEARCHES: Final = 25
"""Searches at most, however few trials they take: our choice, those of the best menu."""
_SAME: Final = 1e-6
"""Less of a cost is the rounding of floats."""
_NIBBLED: Final = 0.4
"""Of what is left of a snack so much counts: it will mostly be nibbled. Our choice."""


def portions_of(
    picked: Mapping[int, str],
    given: MenuInput,
    fits: Fits,
    larder: Larder,
) -> dict[int, tuple[float, ...]]:
    """Find how much of each portion is taken, beside what the dish states for so many people.

    Returns
    -------
    dict
        By position of the slot.
    """
    book = given.cookbook
    wishes: dict[str, list[Wish]] = {}
    for n, key in picked.items():
        for food, wish in _wishes(n, given, book.dishes[key], fits.at(n)[key]):
            wishes.setdefault(food, []).append(wish)
    amounts: dict[tuple[int, int], float] = {}
    for food, each in wishes.items():
        if book.ingredients[food].kit:
            amounts |= {wish.key: wish.want for wish in each}
        else:
            amounts |= larder.serve(food, each).amounts
    return {
        n: tuple(
            amounts[n, number] / (portion.amount * given.people)
            for number, portion in enumerate(book.dishes[key].portions)
        )
        for n, key in picked.items()
    }


def improve(
    picked: Mapping[int, str],
    choices: Sequence[DishChoice],
    given: MenuInput,
    fits: Fits,
    larder: Larder,
    *,
    window: int,
    leftovers: Mapping[str, frozenset[str]],
) -> dict[int, str]:
    """Change dishes as long as that leaves less over than it costs in variety.

    Parameters
    ----------
    picked
        The exact optimum without a thought for packs.
    window, leftovers
        As in `assign`. Dishes tied to leftovers stay where they are.
    """
    if given.helpings is None:
        return dict(picked)
    tied = {*leftovers, *(user for users in leftovers.values() for user in users)}
    search = _Search(dict(picked), given, fits, larder, window)
    search.costs = {(choice.slot, choice.dish): choice.cost for choice in choices}
    search.lay()
    options: dict[int, list[str]] = {}
    for choice in choices:
        dish = picked.get(choice.slot)
        if dish is None or dish == given.kept.get(choice.slot):
            continue
        if choice.dish not in tied and dish not in tied:
            options.setdefault(choice.slot, []).append(choice.dish)
    unused = search.descend(options, given.helpings.trials)
    if len(given.slots) <= _FEW_MEALS:
        unused += given.helpings.trials
    best, cost = dict(search.picked), search.cost()
    # The same draws each time: one seed, one menu.
    chance = random.Random(0)  # noqa: S311  (no secret)
    for number in range(1, _MOST_SEARCHES if options else 0):
        trials = given.helpings.trials
        if number >= given.helpings.searches:
            # Trials that the quick menu did not need are for a trip that leaves much over.
            trials = unused
            if trials <= 0 or search.left_kg() <= _MUCH_KG * given.helpings.scale:
                break
        for n in chance.sample(sorted(options), min(_CHANGED, len(options))):
            search.put(n, chance.choice(options[n]))
        unused = search.descend(options, trials)
        if search.cost() < cost - _SAME:
            best, cost = dict(search.picked), search.cost()
        else:
            for n in options:
                search.put(n, best[n])
    return best


@dataclass(slots=True)
class _Search:
    """A menu while it is changed, with what is left of each food."""

    picked: dict[int, str]
    given: MenuInput
    fits: Fits
    larder: Larder
    window: int
    costs: dict[tuple[int, str], float] = field(default_factory=dict)
    _wished: dict[str, dict[int, tuple[Wish, ...]]] = field(default_factory=dict)
    """Wishes by food and slot."""
    _left: dict[str, float] = field(default_factory=dict)
    """Cost of what is left of a food."""
    _of: dict[tuple[int, str], dict[str, tuple[Wish, ...]]] = field(default_factory=dict)

    def lay(self) -> None:
        """Add up the menu as it is."""
        for n, dish in self.picked.items():
            for food, wishes in self.wishes(n, dish).items():
                self._wished.setdefault(food, {})[n] = wishes
        self._left = {food: self._cost(food, each) for food, each in self._wished.items()}

    def wishes(self, n: int, dish: str) -> dict[str, tuple[Wish, ...]]:
        """Tell what a dish at a slot takes, by food, without the kit: nothing of it is left."""
        key = (n, dish)
        if key not in self._of:
            book, found = self.given.cookbook, dict[str, tuple[Wish, ...]]()
            fit = self.fits.at(n)[dish]
            for food, wish in _wishes(n, self.given, book.dishes[dish], fit):
                if not book.ingredients[food].kit:
                    found[food] = (*found.get(food, ()), wish)
            self._of[key] = found
        return self._of[key]

    def cost(self) -> float:
        """Add up what the menu costs, rests included."""
        chosen = sum(self.costs[n, dish] for n, dish in self.picked.items())
        repeats = sum(self._repeats(dish) for dish in sorted(set(self.picked.values())))
        return chosen + repeats + sum(self._left[food] for food in sorted(self._left))

    def left_kg(self) -> float:
        """Tell what is left over, as its cost has it."""
        return sum(self._left[food] for food in sorted(self._left)) / _LEFT_PER_KG

    def descend(self, options: Mapping[int, Sequence[str]], trials: int) -> int:
        """Change dishes, where most is left over first, until nothing is won by it.

        Returns the trials that were not needed.
        """
        changed = True
        while changed and trials > 0:
            changed = False
            for n in sorted(options, key=lambda n: (-self.left_at(n), n)):
                best, most = None, _SAME
                for dish in options[n]:
                    if dish == self.picked[n] or trials <= 0:
                        continue
                    trials -= 1
                    self.given.step()
                    won = self.gain(n, dish)
                    if won > most:
                        best, most = dish, won
                if best is not None:
                    self.put(n, best)
                    changed = True
        return trials

    def left_at(self, n: int) -> float:
        """Cost of what is left of the foods of a meal."""
        return sum(self._left[food] for food in self.wishes(n, self.picked[n]))

    def gain(self, n: int, dish: str) -> float:
        """How much cheaper the menu becomes with another dish at a slot."""
        old = self.picked[n]
        won = self.costs[n, old] - self.costs[n, dish]
        won += self._repeats(old) + self._repeats(dish)
        won -= self._repeats(old, without=n) + self._repeats(dish, also=n)
        if won < -_LEFT_PER_KG:
            return won
        before, after = self.wishes(n, old), self.wishes(n, dish)
        for food in {**before, **after}:
            won += self._left.get(food, 0.0) - self._cost(food, self._with(food, n, after))
        return won

    def put(self, n: int, dish: str) -> None:
        """Change a dish."""
        before, after = self.wishes(n, self.picked[n]), self.wishes(n, dish)
        self.picked[n] = dish
        for food in {**before, **after}:
            self._wished[food] = self._with(food, n, after)
            self._left[food] = self._cost(food, self._wished[food])

    def _with(
        self, food: str, n: int, after: Mapping[str, tuple[Wish, ...]]
    ) -> dict[int, tuple[Wish, ...]]:
        others = {slot: w for slot, w in self._wished.get(food, {}).items() if slot != n}
        return {**others, n: after[food]} if food in after else others

    def _cost(self, food: str, wished: Mapping[int, tuple[Wish, ...]]) -> float:
        part = self.given.cookbook.ingredients[food]
        if not wished or part.aisle == "household":
            return 0.0
        served = self.larder.serve(food, [wish for each in wished.values() for wish in each])
        counts = _NIBBLED if part.snack else 1.0
        return _LEFT_PER_KG * counts * served.wasted * part.unit_kg

    def _repeats(self, dish: str, *, without: int = -1, also: int = -1) -> float:
        """Cost of eating a dish more than once, as `assign` has it."""
        uses = {n for n, key in self.picked.items() if key == dish and n != without}
        if also >= 0:
            uses.add(also)
        if len(uses) < 2:
            return 0.0
        cost = TRIP_REPEAT * (len(uses) - 1)
        for start in range(max(len(self.given.slots) - self.window, 0) + 1):
            inside = sum(start <= n < start + self.window for n in uses)
            cost += NEAR_REPEAT * max(inside - 1, 0)
        return cost


def _wishes(n: int, given: MenuInput, dish: Dish, fit: Fit) -> Iterable[tuple[str, Wish]]:
    """Ask for more of a light dish, for less of a rich one, within what is still that dish."""
    book, slot = given.cookbook, given.slots[n]
    scale = given.people if given.helpings is None else given.helpings.scale
    kcal = book.kcal(dish)
    share = MEAL_SHARE[slot.kind] * USUAL_KCAL / kcal if kcal > 0.0 else 1.0
    share = min(max(share, 1.0 - _GIVE), 1.0 + _GIVE)
    eaten = eaten_shares(dish, book, given.diet, given.people) or (1.0,) * len(dish.portions)
    for number, (portion, bought) in enumerate(zip(dish.portions, fit.bought, strict=True)):
        part = book.ingredients[portion.use]
        stated = portion.amount * scale * eaten[number]
        if _counted(part):
            stated = _in_pieces(stated, portion.amount)
        low, want, high = _bounds(part, stated, share)
        yield portion.use, Wish((n, number), slot.when, bought.stop, low, want, high)


def _bounds(part: Ingredient, stated: float, share: float) -> tuple[float, float, float]:
    """Least, wished and most of one food."""
    low, high = stated * (1.0 - _GIVE), stated * (1.0 + _GIVE)
    if part.kit or part.kcal_per_unit * part.unit_kg <= NOTHING:
        return low, stated, high
    if part.unit != "piece":
        wanted = stated * share
        if wanted > _ROUND:
            wanted = min(max(round(wanted / _ROUND) * _ROUND, low), high)
        return low, wanted, high
    if not _counted(part):
        return low, stated, high
    # Outward to the next whole piece, where that is still the dish.
    more, less = float(-(-high // 1)), float(low // 1)
    high = more if more <= stated * (1.0 + _PIECE_GIVE) + NOTHING else stated
    low = less if less >= stated * (1.0 - _PIECE_GIVE) - NOTHING and less > 0.0 else stated
    return low, stated, high


def _counted(part: Ingredient) -> bool:
    """Whether it is eaten by the piece: eggs, rolls, chops, onions; what is in a tin is spooned."""
    return part.unit == "piece" and not part.kit and part.aisle != "tins"


def _in_pieces(amount: float, each: float) -> float:
    """Round to pieces as a dish states them for one: whole ones, halves or quarters.

    Appetites and a party of several diets do not make 2.3 eggs of two.
    """
    step = next((step for step in (1.0, 0.5) if each % step == 0.0), 0.25)
    return max(round(amount / step), 1) * step
