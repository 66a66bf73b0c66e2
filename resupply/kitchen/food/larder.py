"""Packs for the meals that need one food: which to buy where, and how large the portions are.

In: wishes of meals for one food, each from so much to so much. Out: the packs bought for each run
of meals that may share an opened pack, what each meal gets, and what no meal uses. Portions give
way to whole packs, what is left of a pack is used by later meals as long as it keeps, and at home
food that can be weighed out is taken in the amount needed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING

from resupply.common.units import S_PER_DAY
from resupply.kitchen.food.storage_classes import class_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from resupply.kitchen.food.dishes import Cookbook, Ingredient
    from resupply.kitchen.food.meals import ShopVisit
    from resupply.kitchen.food.storage import Storage
    from resupply.kitchen.food.storage_classes import StorageTable

__all__ = ["NOTHING", "Larder", "Run", "Served", "Wish", "fixed_wish", "weighed_out"]

NOTHING = 1e-9
"""Less of an amount is the rounding of floats."""
_BEAM = 8
"""So many ways of buying one food are followed at a time: our choice, more changes nothing."""
_OFF = 0.05
"""Cost of a portion that is off by so much of a kilogram, beside one for a kilogram wasted."""
_CARRIED = 0.1
"""Cost of carrying a kilogram from home for a day, beside one for a kilogram wasted: our choice."""
_AHEAD = 3
"""Packs are bought for so many later runs of meals at the most: our choice."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What one meal takes of one food, whole party, in the food's unit."""

    key: tuple[int, int]
    """Of whoever asks: slot and number of the portion, say."""
    when: dt.datetime
    stop: int
    """Where it is bought, unless enough is left of packs from before."""
    low: float
    want: float
    high: float


def fixed_wish(key: tuple[int, int], when: dt.datetime, stop: int, amount: float) -> Wish:
    """Wish for just one amount, in the unit in which the food is sold."""
    return Wish(key, when, stop, amount, amount, amount)


@dataclass(frozen=True, slots=True)
class Run:
    """Meals in a row from one stop that may share an opened pack."""

    stop: int
    opened: dt.datetime
    wishes: tuple[Wish, ...]
    taken: float
    """Of earlier packs."""
    taken_stop: int
    """Where those were bought."""
    bought: float
    served: float
    from_home: float = 0.0
    """Weighed out at home for it, beside what is bought at its stop."""


@dataclass(frozen=True, slots=True)
class Served:
    """One food for all its meals."""

    runs: tuple[Run, ...]
    amounts: Mapping[tuple[int, int], float]
    """By the wishes' keys."""
    left: Mapping[int, float]
    """What no meal uses of the packs bought at a stop."""

    @property
    def wasted(self) -> float:
        """What no meal uses, in the food's unit."""
        return sum(self.left.values())


@dataclass(frozen=True, slots=True)
class _State:
    """One way of buying so far."""

    cost: float
    rest: float
    rest_stop: int
    opened: dt.datetime | None
    left: tuple[tuple[int, float], ...]
    steps: tuple[tuple[float, int, float, float, float], ...]
    """Taken of earlier packs, bought where, bought now, served, brought from home: by run."""


@dataclass(frozen=True, slots=True, eq=False)
class _Need:
    """What one run of meals needs of a food, the same for every way of buying so far."""

    run: Sequence[Wish]
    stop: int
    opened: dt.datetime
    low: float
    want: float
    high: float
    later: Sequence[float]
    """What the next runs wish of a pack opened now, added up."""
    from_home: bool
    """Whether it may be weighed out at home."""
    amounts: dict[float, list[float]] = field(default_factory=dict)
    """That may be bought, by what is left of earlier packs."""


def weighed_out(part: Ingredient, table: StorageTable) -> bool:
    """Whether a food can be taken from the cupboard in the amount needed, the rest staying there.

    Dry food, spreads, bread, fruit, eggs, butter and cheese in the block; not what comes in tins,
    cartons and tubs, meat, fish, or a vegetable that would have to be cut.
    """
    row = class_of(table, part.storage)
    if row.kind == "fresh" and row.keeping == "room":
        return row.unopened is not None or part.loose is not None
    return row.kind in ("dry", "bread") or part.aisle == "eggs"


@dataclass(slots=True)
class Larder:
    """Shops, packs and storage limits for one temperature; remembers what it has worked out."""

    cookbook: Cookbook
    storage: Storage
    stops: Sequence[ShopVisit]
    _until_s: dict[tuple[str, int, dt.datetime], float] = field(default_factory=dict)
    _served: dict[tuple[str, tuple[Wish, ...]], Served] = field(default_factory=dict)

    def lasts(self, part: Ingredient, stop: int, opened: dt.datetime, when: dt.datetime) -> bool:
        """Whether a pack bought at a stop and opened then may still be eaten."""
        key = (part.storage, stop, opened)
        if key not in self._until_s:
            limit = self.storage.use_by(part.storage, self.stops[stop].when, opened=opened)
            self._until_s[key] = limit.until_s
        return when.timestamp() <= self._until_s[key]

    def serve(self, ingredient: str, wishes: Sequence[Wish]) -> Served:
        """Buy one food for all who wish for it, with the least left over.

        Parameters
        ----------
        wishes
            In any order.
        """
        ordered = tuple(sorted(wishes, key=lambda wish: (wish.stop, wish.when, wish.key)))
        key = (ingredient, ordered)
        if key not in self._served:
            self._served[key] = self._serve(self.cookbook.ingredients[ingredient], ordered)
        return self._served[key]

    def _serve(self, part: Ingredient, wishes: tuple[Wish, ...]) -> Served:
        runs = self._runs(part, wishes)
        states = [_State(0.0, 0.0, -1, None, (), ())]
        for number in range(len(runs)):
            need = self._need(part, runs, number)
            found = [new for state in states for new in self._go_on(part, state, need)]
            found.sort(key=lambda state: (state.cost, state.rest, state.steps))
            states = found[:_BEAM]
        best = min(states, key=lambda state: (state.cost + state.rest * part.unit_kg, state.steps))
        return _told(part, runs, best)

    def _runs(self, part: Ingredient, wishes: Sequence[Wish]) -> list[list[Wish]]:
        runs: list[list[Wish]] = []
        for wish in wishes:
            last = runs[-1] if runs else None
            if (
                last is not None
                and last[0].stop == wish.stop
                and self.lasts(part, wish.stop, last[0].when, wish.when)
            ):
                last.append(wish)
            else:
                runs.append([wish])
        return runs

    def _need(self, part: Ingredient, runs: Sequence[Sequence[Wish]], number: int) -> _Need:
        run = runs[number]
        stop = run[0].stop
        return _Need(
            run=run,
            stop=stop,
            opened=run[0].when,
            low=sum(wish.low for wish in run),
            want=sum(wish.want for wish in run),
            high=sum(wish.high for wish in run),
            later=self._later(part, runs, number),
            from_home=self._from_home(part, stop),
        )

    def _go_on(self, part: Ingredient, state: _State, need: _Need) -> list[_State]:
        stop, opened = need.stop, need.opened
        low, want, high = need.low, need.want, need.high
        usable = 0.0
        if state.rest > NOTHING and state.opened is not None:
            alive = [
                wish
                for wish in need.run
                if self.lasts(part, state.rest_stop, state.opened, wish.when)
            ]
            usable = min(state.rest, sum(wish.high for wish in alive))
        if usable not in need.amounts:
            need.amounts[usable] = self._amounts(part, need, usable)
        found = []
        for bought in need.amounts[usable]:
            at_hand = usable + bought
            if at_hand < low - NOTHING:
                continue
            servings = {min(at_hand, high)}
            if need.later or state.rest > usable:
                servings.add(min(at_hand, max(want, low)))
            found += [
                _after(part, state, stop, opened, usable, bought, served, want)
                for served in sorted(servings)
            ]
        if need.from_home and usable < want - NOTHING:
            # Weighed out at home, carried until now: better than most of a pack left over.
            days = (opened - self.stops[0].when).total_seconds() / S_PER_DAY
            new = _after(part, state, stop, opened, usable, 0.0, usable, usable)
            taken, from_stop, *_ = new.steps[-1]
            step = (taken, from_stop, 0.0, want, want - usable)
            cost = new.cost + _CARRIED * days * (want - usable) * part.unit_kg
            found.append(replace(new, cost=cost, steps=(*new.steps[:-1], step)))
        return found

    def _from_home(self, part: Ingredient, stop: int) -> bool:
        table = self.storage.table
        return (
            stop > 0
            and self.stops[0].weighed
            and weighed_out(part, table)
            and class_of(table, part.storage).keeps_opened
        )

    def _later(self, part: Ingredient, runs: Sequence[Sequence[Wish]], number: int) -> list[float]:
        """Add up what the next runs wish of a pack opened now, as long as it is good."""
        stop, opened = runs[number][0].stop, runs[number][0].when
        added, total = [], 0.0
        for run in runs[number + 1 : number + 1 + _AHEAD]:
            if not self.lasts(part, stop, opened, run[-1].when):
                break
            total += sum(wish.want for wish in run)
            added.append(total)
        return added

    def _amounts(self, part: Ingredient, need: _Need, usable: float) -> list[float]:
        """Amounts that may be bought for a run."""
        needs = [max(each - usable, 0.0) for each in (need.low, need.want, need.high)]
        if self.stops[need.stop].weighed and weighed_out(part, self.storage.table):
            step = float(part.loose or 1) if part.unit == "piece" or part.loose else 0.0
            if not step:
                return [needs[1]]
            near = [math.floor(needs[1] / step + NOTHING) * step, needs[1]]
            near[1] = math.ceil(needs[1] / step - NOTHING) * step
            return sorted({amount for amount in near if amount >= needs[0] - NOTHING})
        sizes = part.sold
        found = {0.0} if needs[0] <= NOTHING else set()
        found |= set(_totals(sizes, *needs))
        for more in need.later:
            found |= set(_totals(sizes, *(each + more for each in needs)))
        return sorted(found)


def _after(
    part: Ingredient,
    state: _State,
    stop: int,
    opened: dt.datetime,
    usable: float,
    bought: float,
    served: float,
    want: float,
) -> _State:
    taken = min(usable, served)
    rest, rest_stop, since = state.rest - taken, state.rest_stop, state.opened
    left = state.left
    cost = state.cost + _OFF * abs(served - want) * part.unit_kg
    if bought > NOTHING:
        if rest > NOTHING:
            # A new pack is opened before the old one is empty only where the old one is past it.
            left = (*left, (rest_stop, rest))
            cost += rest * part.unit_kg
        rest, rest_stop, since = max(bought - (served - taken), 0.0), stop, opened
    step = (taken, state.rest_stop, bought, served, 0.0)
    return _State(cost, rest, rest_stop, since, left, (*state.steps, step))


def _told(part: Ingredient, runs: Sequence[Sequence[Wish]], state: _State) -> Served:
    left: dict[int, float] = {}
    for stop, amount in (*state.left, (state.rest_stop, state.rest)):
        if amount > NOTHING:
            left[stop] = left.get(stop, 0.0) + amount
    amounts: dict[tuple[int, int], float] = {}
    told = []
    for run, (taken, from_stop, bought, served, home) in zip(runs, state.steps, strict=True):
        amounts |= _split(part, run, served)
        told.append(
            Run(run[0].stop, run[0].when, tuple(run), taken, from_stop, bought, served, home)
        )
    return Served(tuple(told), amounts, left)


def _split(part: Ingredient, run: Sequence[Wish], total: float) -> dict[tuple[int, int], float]:
    """Share out what a run of meals gets, each within its bounds, in whole units where asked."""
    wanted = sum(wish.want for wish in run)
    if abs(total - wanted) <= NOTHING:
        return {wish.key: wish.want for wish in run}
    more = total > wanted
    room = [(wish.high - wish.want) if more else (wish.want - wish.low) for wish in run]
    share = (total - wanted) / sum(room) if sum(room) > NOTHING else 0.0
    given = [wish.want + share * each for wish, each in zip(run, room, strict=True)]
    # Whole grams and pieces, or halves of them, the rounding carried on so that the sum stays.
    whole = part.unit != "piece" or all(wish.want % 1.0 == 0.0 for wish in run)
    step = 1.0 if whole else 0.5
    exact = carried = 0.0
    shares = {}
    for wish, amount in zip(run, given, strict=True):
        exact += amount
        rounded = min(max(round((exact - carried) / step) * step, 0.0), wish.high + step)
        shares[wish.key] = rounded
        carried += rounded
    last = run[-1].key
    shares[last] += total - carried
    if min(shares.values()) <= NOTHING:
        return {wish.key: amount for wish, amount in zip(run, given, strict=True)}
    return shares


@cache
def _reachable(sizes: tuple[int, ...], top: int) -> tuple[int, ...]:
    """All totals of packs up to `top`."""
    found = {0}
    for size in sizes:
        found = {
            total + size * count for total in found for count in range((top - total) // size + 1)
        }
    return tuple(sorted(found))


_MANY = 400
"""With more packs than this of the smallest size, the totals are not listed one by one."""


def _totals(sizes: Sequence[int], low: float, want: float, high: float) -> list[float]:
    """Totals of packs worth trying: the nearest to what is wanted, and the least that is enough."""
    smallest = min(sizes)
    if len(sizes) == 1 or low / smallest > _MANY:
        counts = {math.ceil(low / smallest - NOTHING), math.floor(high / smallest + NOTHING)}
        counts |= {round(want / smallest), math.ceil(want / smallest - NOTHING)}
        return [
            float(n * smallest) for n in sorted(counts) if n > 0 and n * smallest >= low - NOTHING
        ]
    top = math.ceil(high) + max(sizes)
    totals = [t for t in _reachable(tuple(sizes), top) if t > 0 and t >= low - NOTHING]
    enough = [t for t in totals if t >= want - NOTHING][:1]
    near = sorted((t for t in totals if t <= high + NOTHING), key=lambda t: (abs(t - want), t))[:2]
    return [float(t) for t in {*totals[:1], *enough, *near}]
