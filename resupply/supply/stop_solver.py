"""Choose the stops: an exact dynamic programme over passes, meals eaten and time lost that day.

The objective, in this order, each part a whole number:

1. *excess*: meals carried over the limit, summed over the trip (0 if the route allows);
2. *minutes*: detour and time in shop, plus the stated weights (small shop, tight or not known
   hours, meals over the habit, minutes in camp after the latest time);
3. *burden*: for each meal, how many meals it was on board before it was eaten; small means
   little carried and fresh food.

A label is (pass, minutes lost today before it), because a stop delays what follows on the same
day and may find a later shop shut. What a stretch costs depends only on the meals eaten on it,
and between two passes of one day that is lunch or nothing; so earlier labels fold into two small
tables, by meals eaten (earlier days) and by minutes lost (today). Cost: O(passes x (meals in
reach + time steps)); nothing is left out, so the answer is the true minimum. Bellman, Dynamic
Programming, 1957, is the principle; the checks against other solvers are in tests/checks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.hours.state import OpenState

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["STEP_MIN", "Cost", "Solution", "StopProblem", "Weights", "path_cost", "solve"]

STEP_MIN: Final = 5
"""Times in shops and detours are counted in steps of so many minutes, rounded up."""

_HOLIDAY_ONE_IN: Final = 20
"""Ten to fifteen public holidays a year, and riders ride on them: one day in twenty (ours)."""

# One sum for three aims in their order: a meal over the limit is above all minutes, and a
# minute above all meals carried; all sums stay below 2**61.
_EXCESS: Final = 10**13
_MINUTE: Final = 10**7
_NEVER: Final = 2**61


@dataclass(frozen=True, slots=True)
class Weights:
    """Weights in minutes; see the trip file's `[food]`."""

    limit_meals: int = 9
    habit_meals: int = 6
    tight_min: int = 20
    usual_min: int = 20
    unknown_min: int = 60
    habit_min: int = 15
    late_min_per_min: int = 2
    """Each minute in camp after the latest time counts so many more."""

    def doubt_min(
        self, risk: NDArray[np.int8], open_share: NDArray[np.float64]
    ) -> NDArray[np.int64]:
        """Minutes that the doubt about a door weighs; SHUT is never allowed.

        Parameters
        ----------
        risk
            Codes of `OpenState`.
        open_share
            Same shape: the share of the visit's window in which the door is open; asked only
            where the state is TIGHT. Half open weighs `tight_min`, hardly open twice that.
        """
        by_code = np.zeros(len(OpenState), dtype=np.int64)
        by_code[OpenState.UNLESS_HOLIDAY] = self.unknown_min // _HOLIDAY_ONE_IN
        by_code[OpenState.USUALLY_OPEN] = self.usual_min
        by_code[OpenState.UNKNOWN] = self.unknown_min
        # Usually shut is three times as doubtful as no estimate at all: a stated habit, no source.
        by_code[OpenState.USUALLY_SHUT] = 3 * self.unknown_min
        tight = np.rint(2.0 * self.tight_min * (1.0 - open_share)).astype(np.int64)
        return np.asarray(np.where(risk == OpenState.TIGHT, tight, by_code[risk]))


@dataclass(frozen=True, slots=True, eq=False)
class StopProblem:
    """n candidate passes in order of chainage, over L legs, at D time steps of delay."""

    leg_ix: NDArray[np.int64]
    """(n,) non-decreasing."""
    meals: NDArray[np.int64]
    """(n,) meals eaten before each pass; within one leg they differ by lunch at the most."""
    risk: NDArray[np.int8]
    """(n, D) code of the `OpenState`, arriving with d steps lost."""
    open_share: NDArray[np.float64]
    """(n, D) share of the visit's window in which the door is open."""
    stop_steps: NDArray[np.int64]
    """(n,) time in shop and detour, in steps."""
    weight_min: NDArray[np.int64]
    """(n,) extra weight of the pass itself, e.g. a small shop."""
    late_min: NDArray[np.int64]
    """(L, 2D) minutes after the latest time in camp with d steps lost that day."""
    pinned: NDArray[np.bool_]
    """(n,) the rider stops here, unless it is shut whenever it can be reached: a wish makes no
    food. Earlier wishes go before later ones."""
    end_meals: int
    weights: Weights
    on_board_meals: int | None = None
    """Meals on board at the start; None if the rider can buy there what is needed."""

    @property
    def start_limit(self) -> int:
        """Most meals that may be eaten before the first stop."""
        if self.on_board_meals is None:
            return self.weights.limit_meals
        return min(self.on_board_meals, self.weights.limit_meals)

    @property
    def steps(self) -> int:
        """D: the most steps that may be lost before another stop on the same day."""
        return int(self.risk.shape[1])

    def doubt_min(self) -> NDArray[np.int64]:
        """(n, D) minutes that the doubt about each door weighs."""
        return self.weights.doubt_min(self.risk, self.open_share)


@dataclass(frozen=True, slots=True, order=True)
class Cost:
    """The objective; compares in its order."""

    excess: int
    minutes: int
    burden: int


@dataclass(frozen=True, slots=True)
class Solution:
    """The chosen candidates, in order, and what they cost."""

    chosen: tuple[int, ...]
    cost: Cost


def _edge_costs(problem: StopProblem, limit_meals: int) -> NDArray[np.int64]:
    """(end_meals + 1,) cost of carrying that many meals to the next stop."""
    w, m = problem.weights, np.arange(problem.end_meals + 1, dtype=np.int64)
    excess = np.maximum(m - limit_meals, 0)
    over_habit = np.maximum(m - w.habit_meals, 0)
    cost = excess * _EXCESS + over_habit * w.habit_min * _MINUTE + m * (m + 1) // 2
    return np.asarray(cost, dtype=np.int64)


def _stop_costs(problem: StopProblem) -> NDArray[np.int64]:
    """(n, D) cost of stopping at each pass after each delay; `_NEVER` where it is shut."""
    w, steps = problem.weights, problem.steps
    delay = np.arange(steps)
    late = problem.late_min[problem.leg_ix]
    after = np.minimum(delay[None, :] + problem.stop_steps[:, None], 2 * steps - 1)
    more_late = np.take_along_axis(late, after, axis=1) - late[:, :steps]
    minutes = (
        problem.doubt_min()
        + (problem.stop_steps * STEP_MIN + problem.weight_min)[:, None]
        + w.late_min_per_min * more_late
    )
    return np.where(problem.risk == OpenState.SHUT, _NEVER, minutes * _MINUTE)


def solve(problem: StopProblem) -> Solution:
    """Return the stops with the smallest cost; among equals the first found, so it is stable.

    Parameters
    ----------
    problem
        See `StopProblem`. No candidates at all is allowed: then nothing is chosen.
    """
    n, steps = problem.risk.shape
    edge = _edge_costs(problem, problem.weights.limit_meals)
    from_start = _edge_costs(problem, problem.start_limit)
    edge_back, lunch_edge = edge[::-1], int(edge[min(1, len(edge) - 1)])
    stop, meals, own_steps = (
        _stop_costs(problem),
        problem.meals.tolist(),
        problem.stop_steps.tolist(),
    )
    pinned, legs = problem.pinned.tolist(), problem.leg_ix.tolist()
    # Tables: the best label by meals eaten (earlier days and the start), and today's by steps
    # lost, one row for passes before lunch and one for those after.
    early = np.full(problem.end_meals + 1, _NEVER)
    early_from = np.full(problem.end_meals + 1, -1)
    today = np.full((2, steps), _NEVER)
    today_from = np.full((2, steps), -1)
    tonight: dict[int, tuple[int, int]] = {}
    came_from = np.full((n, steps), -1)
    offsets = np.arange(steps)
    leg, morning, any_today, may_start = -1, 0, False, True
    for j in range(n):
        if legs[j] != leg:
            leg, morning = legs[j], meals[j]
            _fold(tonight, early, early_from)
            tonight.clear()
            if any_today:
                today.fill(_NEVER)
                any_today = False
        eaten, row = meals[j], meals[j] - morning
        reach = early[: eaten + 1] + edge_back[problem.end_meals - eaten :]
        best = int(reach.argmin())
        value, source = np.full(steps, _NEVER), came_from[j]
        if any_today:
            value[:], source[:] = today[row], today_from[row]
            if row == 1:
                over_lunch = today[0] + lunch_edge
                better = over_lunch < value
                value[better], source[better] = over_lunch[better], today_from[0][better]
        if reach[best] < value[0]:
            value[0], source[0] = reach[best], early_from[best]
        if may_start and from_start[eaten] < value[0]:
            value[0], source[0] = from_start[eaten], -1
        value += stop[j]
        label = int(value.argmin())
        if value[label] >= _NEVER:
            continue
        if pinned[j]:
            # Every way on leads through here.
            early.fill(_NEVER)
            today.fill(_NEVER)
            tonight.clear()
            may_start = False
        if eaten not in tonight or value[label] < tonight[eaten][0]:
            tonight[eaten] = (int(value[label]), j * steps + label)
        lost = own_steps[j]
        if lost < steps:
            better = value[: steps - lost] < today[row, lost:]
            today[row, lost:][better] = value[: steps - lost][better]
            today_from[row, lost:][better] = (j * steps + offsets[: steps - lost])[better]
            any_today = True
    _fold(tonight, early, early_from)
    final = early + edge_back
    best = int(final.argmin())
    label = int(early_from[best])
    if may_start and from_start[problem.end_meals] <= final[best]:
        label = -1
    chosen: list[int] = []
    while label >= 0:
        j, d = divmod(label, steps)
        chosen.append(j)
        label = int(came_from[j, d])
    chosen.reverse()
    return Solution(tuple(chosen), path_cost(problem, chosen))


def _fold(
    tonight: dict[int, tuple[int, int]],
    early: NDArray[np.int64],
    early_from: NDArray[np.int64],
) -> None:
    for count, (cost, label) in tonight.items():
        if cost < early[count]:
            early[count], early_from[count] = cost, label


def path_cost(problem: StopProblem, chosen: Sequence[int]) -> Cost:
    """Cost of given stops, walked through one by one.

    A stop that is shut supplies nothing, so it is counted as all the meals of the trip over the
    limit: worse than any other way.
    """
    w = problem.weights
    excess = minutes = burden = 0
    leg, lost, eaten, limit = -1, 0, 0, problem.start_limit

    def carry(meals: int) -> None:
        nonlocal excess, minutes, burden, limit
        excess += max(meals - limit, 0)
        limit = w.limit_meals
        minutes += w.habit_min * max(meals - w.habit_meals, 0)
        burden += meals * (meals + 1) // 2

    for j in chosen:
        if problem.leg_ix[j] != leg:
            leg, lost = int(problem.leg_ix[j]), 0
        if lost >= problem.steps or problem.risk[j, lost] == OpenState.SHUT:
            return Cost(problem.end_meals * (problem.end_meals + 1), minutes, burden)
        count = int(problem.meals[j])
        carry(count - eaten)
        eaten = count
        stop = int(problem.stop_steps[j])
        late = problem.late_min[leg]
        top = len(late) - 1
        doubt = w.doubt_min(problem.risk[j, lost], problem.open_share[j, lost])
        minutes += int(doubt) + stop * STEP_MIN
        minutes += int(problem.weight_min[j])
        minutes += w.late_min_per_min * int(late[min(lost + stop, top)] - late[min(lost, top)])
        lost += stop
    carry(problem.end_meals - eaten)
    return Cost(excess, minutes, burden)
