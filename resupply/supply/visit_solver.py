"""Choose the visits to shops: an exact dynamic programme over places, meals and time lost that day.

A visit buys all meals up to the next one; one that buys nothing is not made unless it is wished for
(else the optimum loiters in shops until the next one opens). The objective, in this order:

1. the smallest *worst* stretch over the carry limit, in meals (0 if the route allows it);
2. the smallest sum of meals over the limit;
3. one sum in minutes: the visits (riding there and back, time in the shop, what kind of shop it is,
   the chance of a shut door, late arrival in camp) and, times the style's factor, carrying less
   freshness, with a charge on the trip's largest load over the habit.

Carrying, freshness and meals go by the *nominal* time at a place (no stops made), opening, risk and
lateness by the time with the day's earlier stops; so what a stretch costs depends only on the visit
it starts at and the meal it ends with, and the state is (visit, time lost today). Earlier days fold
into a table by meals, the day itself into tables by meals and time lost. Nothing is left out: the
answer is the true minimum (Bellman, Dynamic Programming, 1957, is the principle; the checks against
full enumeration and a mixed-integer solver are in tests/checks). Times are whole milli-minutes, so
that equal sums are equal on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

__all__ = ["HOME", "NEVER", "STEP_MIN", "VisitCost", "VisitProblem", "Visits", "cost_of", "solve"]

STEP_MIN: Final = 5
"""Time lost in shops and on the way there is counted in steps of so many minutes, rounded up."""
NEVER: Final = 2**60
"""What a visit costs that cannot be made."""
HOME: Final = -1
"""The first stretch starts at home (or where a rider under way is)."""

_BEFORE_ALL: Final = -NEVER
"""Before any visit of a day."""
_EXCESS: Final = 10**13
"""A meal over the limit, in milli-minutes: more than all minutes of any trip (our choice)."""
_REACHED: Final = NEVER // 2
"""Sums from here on hold a `NEVER`; freshness may take a little off it."""
_MILLI: Final = 1000
"""Milli-minutes a minute: equal sums are equal on every machine (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class VisitProblem:
    """n possible visits in order of day and time, over M meals, at D steps of time lost."""

    leg_ix: Ints
    """(n,) the day it belongs to, never falling."""
    from_camp: Ints
    """(n,) 0 on the road; from camp k > 0 after the day's ride, k < 0 before it, the times in
    order; visits of one leg and k cannot both be made. Never falling on a leg."""
    meals: Ints
    """(n,) meals eaten before it, by the nominal time; never falling on the road of a leg."""
    own_steps: Ints
    """(n,) steps lost by it to the rest of the day; 0 from camp."""
    cost: Ints
    """(n, D) milli-minutes of the visit by steps lost before; `NEVER` where its door is shut. From
    camp only the first column counts."""
    load_from: Floats
    """(n + 1,) weighted hours from each visit, and from home (last), to the first meal eaten of it;
    never negative."""
    over_from: Ints
    """(n, M + 1) milli-minutes for buying so many meals at such a shop: an emergency shop is no
    supply for two days."""
    meal_hours: Floats
    """(M,) weighted hours at which each meal is eaten."""
    dinner: Ints
    """(n + 1,) index of the dinner of that day; -1 where there is none."""
    fresh_min: Floats
    """(n + 1,) minutes that dinner is worth if cooked from this visit (last: from home)."""
    style: float
    """Factor on carrying, freshness and the habit's charge."""
    carry_min: float
    """Minutes per meal and weighted hour."""
    convex_from: int
    """Meals above so many weigh more with each one."""
    limit: int
    """Most meals to carry, spare ones not counted."""
    start_limit: int
    """The same for the first stretch: what a rider under way has on board."""
    habit: int
    habit_min: float
    """Minutes for each meal of the largest load over the habit."""

    @property
    def meal_count(self) -> int:
        """M."""
        return len(self.meal_hours)

    @property
    def steps(self) -> int:
        """D."""
        return int(self.cost.shape[1])

    @property
    def wished(self) -> NDArray[np.bool_]:
        """(n,) visits worth more than they cost; all others buy a meal or are not made."""
        return np.asarray((self.cost < 0).any(axis=1))


@dataclass(frozen=True, slots=True, order=True)
class VisitCost:
    """The objective; compares in its order."""

    worst_excess: int
    excess: int
    milli_min: int


@dataclass(frozen=True, slots=True)
class Visits:
    """The chosen visits, in order, and what they cost."""

    chosen: tuple[int, ...]
    cost: VisitCost
    most_meals: int
    """Meals of the largest load."""


def solve(problem: VisitProblem) -> Visits:
    """Find the visits of the smallest cost; among equals the first found, so it is stable.

    Parameters
    ----------
    problem
        See `VisitProblem`; no possible visits at all is allowed.
    """
    stretch = _stretch_of(problem)
    worst = 0
    found = _shortest(problem, stretch, worst)
    while found is None:
        worst += 1
        found = _shortest(problem, stretch, worst)
    best = _costed(problem, found)
    # The habit is a charge on the largest load: plans of smaller loads are tried while they can
    # still be better. Without it what a plan costs is at least what the last one found cost.
    trial = best
    while trial.most_meals > problem.habit:
        chosen = _shortest(problem, stretch, worst, most=trial.most_meals - 1)
        if chosen is None:
            break
        trial = _costed(problem, chosen)
        if (trial.cost, trial.most_meals) < (best.cost, best.most_meals):
            best = trial
    return best


def cost_of(problem: VisitProblem, chosen: Sequence[int]) -> VisitCost | None:
    """Cost of given visits, walked through one by one; None if one of them cannot be made."""
    counts = [0, *problem.meals[list(chosen)].tolist(), problem.meal_count]
    total, leg, lost, turn, over = 0, -1, 0, _BEFORE_ALL, []
    for at, (a, b) in zip([HOME, *chosen], pairwise(counts), strict=False):
        if at != HOME:
            if problem.leg_ix[at] != leg:
                leg, lost, turn = int(problem.leg_ix[at]), 0, _BEFORE_ALL
            kind = int(problem.from_camp[at])
            if kind < turn or (kind != 0 and kind == turn):
                return None
            turn = kind
            steps = 0 if kind else lost
            if steps >= problem.steps or problem.cost[at, steps] >= NEVER:
                return None
            total += int(problem.cost[at, steps])
            lost += int(problem.own_steps[at])
        if b < a or (b == a and at != HOME and not (problem.cost[at] < 0).any()):
            return None
        limit = problem.start_limit if at == HOME else problem.limit
        over.append(max(b - a - limit, 0))
    loads = np.diff(counts)
    total += int(_stretch_of(problem).milli(np.array([HOME, *chosen]), loads).sum())
    return VisitCost(max(over), sum(over), total + _peak_milli(problem, int(loads.max())))


def _costed(problem: VisitProblem, chosen: tuple[int, ...]) -> Visits:
    cost = cost_of(problem, chosen)
    if cost is None:
        raise AssertionError("the programme chose a visit that cannot be made")
    counts = [0, *problem.meals[list(chosen)].tolist(), problem.meal_count]
    return Visits(chosen, cost, max(b - a for a, b in pairwise(counts)))


def _peak_milli(problem: VisitProblem, most: int) -> int:
    over = max(most - problem.habit, 0)
    return round(over * problem.habit_min * problem.style * _MILLI)


class _Stretch:
    """What the way from one visit to the next costs, by the meals eaten on it."""

    def __init__(self, problem: VisitProblem) -> None:
        self.problem = problem
        count = problem.meal_count
        n = np.arange(count + 1, dtype=float)
        over = np.maximum(n - problem.convex_from, 0)
        self.burden = problem.style * problem.carry_min * (n + over * (over + 1) / 2)
        """(M + 1,) minutes per weighted hour with so many meals on board."""
        apart = np.diff(problem.meal_hours)
        # later[a, n]: minutes carried after meal a, the first of n: the k-th leaves n - k on board.
        self.later = np.zeros((count + 1, count + 1))
        for a in range(count - 1):
            leaves = np.convolve(apart[a:], self.burden[1:])[: count - a - 1]
            self.later[a, 2 : 2 + len(leaves)] = leaves
        self.meals = np.append(problem.meals, 0)
        home = np.zeros((1, count + 1), dtype=np.int64)
        self.over = np.vstack([problem.over_from, home])

    def milli(self, at: Ints, n: Ints) -> Ints:
        """Milli-minutes from visits, or `HOME`, over so many meals; without excess.

        Parameters
        ----------
        at, n
            (k, 1) and (1, w), or (k,) each; `n` within the meals that are left.
        """
        p = self.problem
        a = self.meals[at]
        dinner = p.dinner[at]
        minutes = p.load_from[at] * self.burden[n] + self.later[a, n]
        fresh = (dinner >= a) & (a + n > dinner)
        minutes = np.where(n > 0, minutes - fresh * p.style * p.fresh_min[at], 0.0)
        milli = np.rint(minutes * _MILLI).astype(np.int64)
        return np.asarray(milli + self.over[at, n])


# The reasons of every stop of a plan are costed on the same problem.
@lru_cache(maxsize=4)
def _stretch_of(problem: VisitProblem) -> _Stretch:
    return _Stretch(problem)


def _shortest(
    problem: VisitProblem, stretch: _Stretch, worst: int, most: int | None = None
) -> tuple[int, ...] | None:
    """Visits of the least sum with no stretch more than `worst` over its limit; None if none."""
    return _Programme(problem, stretch, worst, most).run()


class _Programme:
    """One run of the dynamic programme. A label is `visit * D + steps lost`."""

    def __init__(
        self, problem: VisitProblem, stretch: _Stretch, worst: int, most: int | None
    ) -> None:
        self.problem, self.stretch = problem, stretch
        self.worst, self.most = worst, problem.meal_count if most is None else most
        self.wished = problem.wished
        self.edges = self._edges()
        self.width = self.edges.shape[1]
        # As long as the longest stretch from the last meal, so that none has to be cut.
        self.early = np.full(problem.meal_count + self.width, NEVER)
        """Least cost with food up to each meal, from home and earlier days."""
        self.early_from = np.full(self.early.shape, HOME)
        self.came_from = np.full((len(problem.leg_ix), problem.steps), HOME)

    def run(self) -> tuple[int, ...] | None:
        p = self.problem
        self.early[: self.width] = self.edges[HOME]
        n, at = len(p.leg_ix), 0
        while at < n:
            end = at + int(np.searchsorted(p.leg_ix[at:], p.leg_ix[at], side="right"))
            road = at + int(np.searchsorted(p.from_camp[at:end], 0, side="left"))
            camp = at + int(np.searchsorted(p.from_camp[at:end], 0, side="right"))
            self._from_camp(at, road)
            self._ride(road, camp)
            self._from_camp(camp, end)
            at = end
        if self.early[p.meal_count] >= _REACHED:
            return None
        chosen: list[int] = []
        label = int(self.early_from[p.meal_count])
        while label >= 0:
            visit, lost = divmod(label, p.steps)
            chosen.append(visit)
            label = int(self.came_from[visit, lost])
        return tuple(reversed(chosen))

    def _edges(self) -> Ints:
        """(n + 1, w) of each visit, and last from home: costs of stretches of so many meals.

        `NEVER` where a stretch is not allowed.
        """
        p = self.problem
        count, at = p.meal_count, np.append(np.arange(len(p.leg_ix)), HOME)
        limit = np.append(np.full(len(p.leg_ix), p.limit), p.start_limit)
        left = count - np.append(p.meals, 0)
        longest = np.minimum(np.minimum(limit + self.worst, self.most), left)
        n = np.arange(int(longest.max(initial=0)) + 1)
        milli = self.stretch.milli(at[:, None], np.minimum(n[None, :], left[:, None]))
        cost = milli + np.maximum(n[None, :] - limit[:, None], 0) * _EXCESS
        cost[:-1, 0][~self.wished] = NEVER
        return np.asarray(np.where(n[None, :] <= longest[:, None], cost, NEVER))

    def _ride(self, first: int, end: int) -> None:
        """Visits on the road of one day: each delays those after it."""
        p = self.problem
        later, later_from = self.early.copy(), self.early_from.copy()
        changes = np.flatnonzero(np.diff(p.meals[first:end])) + 1 + first
        bounds = [first, *changes.tolist(), end] if end > first else []
        today = {
            int(p.meals[at]): (np.full(p.steps, NEVER), np.full(p.steps, HOME))
            for at in bounds[:-1]
        }
        for at, after in pairwise(bounds):
            a = int(p.meals[at])
            value, source = today[a]
            if self.early[a] < value[0]:
                value[0], source[0] = self.early[a], self.early_from[a]
            # Between the same meals no visit follows another, but for those that are wished.
            one_by_one = self.wished[at:after].any()
            parts = ((i, i + 1) for i in range(at, after)) if one_by_one else [(at, after)]
            for part in parts:
                self._visit(*part, today, (later, later_from))
        self.early, self.early_from = later, later_from

    def _visit(
        self,
        first: int,
        end: int,
        today: dict[int, tuple[Ints, Ints]],
        later: tuple[Ints, Ints],
    ) -> None:
        """Visits between the same two meals of a day, at most one of which is made."""
        p = self.problem
        steps, a, edges = p.steps, int(p.meals[first]), self.edges[first:end]
        value, source = today[a]
        value = value + p.cost[first:end]
        self.came_from[first:end] = source
        rows = np.arange(end - first)
        lost = value.argmin(axis=1)
        label = (first + rows) * steps + lost
        total = value[rows, lost][:, None] + edges
        who = total.argmin(axis=0)
        span = slice(a, a + self.width)
        _lower(later[0][span], later[1][span], total[who, np.arange(self.width)], label[who])
        # What was lost before each: its own steps less than what is lost after it.
        before = np.arange(steps)[None, :] - p.own_steps[first:end][:, None]
        shifted = np.take_along_axis(value, np.maximum(before, 0), axis=1)
        shifted[before < 0] = NEVER
        for b, (row, row_from) in today.items():
            if 0 <= b - a < self.width:
                total = shifted + edges[:, b - a][:, None]
                who = total.argmin(axis=0)
                column = np.arange(steps)
                _lower(
                    row,
                    row_from,
                    total[who, column],
                    (first + who) * steps + np.maximum(before[who, column], 0),
                )

    def _from_camp(self, first: int, end: int) -> None:
        """Visits from camp: one of each time, before the day's ride or after it."""
        p, at = self.problem, first
        while at < end:
            same = at + int(np.searchsorted(p.from_camp[at:end], p.from_camp[at], side="right"))
            before, before_from = self.early.copy(), self.early_from.copy()
            for visit in range(at, same):
                a = int(p.meals[visit])
                reached = int(before[a]) + int(p.cost[visit, 0])
                if reached < _REACHED:
                    self.came_from[visit, 0] = before_from[a]
                    span = slice(a, a + self.width)
                    _lower(
                        self.early[span],
                        self.early_from[span],
                        reached + self.edges[visit],
                        np.full(self.width, visit * p.steps),
                    )
            at = same


def _lower(row: Ints, row_from: Ints, other: Ints, label: Ints) -> None:
    """Keep the smaller of each, and where it came from."""
    better = (other < row) & (other < _REACHED)
    row[better] = other[better]
    row_from[better] = label[better]
