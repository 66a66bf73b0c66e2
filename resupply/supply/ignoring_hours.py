"""What a plan that ignores opening hours would run into."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import OpenState
from resupply.supply.food_stops import walk_steps
from resupply.supply.stop_solver import STEP_MIN, solve

if TYPE_CHECKING:
    from resupply.route.clock import RideClock
    from resupply.supply.candidates import Candidates
    from resupply.supply.stop_solver import StopProblem

__all__ = ["NaivePlan", "naive_plan"]


@dataclass(frozen=True, slots=True)
class NaivePlan:
    """Stops chosen as if every shop were always open."""

    rows: tuple[int, ...]
    """Pass rows of its stops."""
    shut_rows: tuple[int, ...]
    """Those that are shut on arrival."""
    shut_arrive_s: tuple[float, ...]
    """UTC epoch of arrival at these."""
    longest_meals: int
    """Longest stretch between open doors, in meals: from one that is shut on to the next open."""


def naive_plan(problem: StopProblem, candidates: Candidates, clock: RideClock) -> NaivePlan:
    """Choose stops without looking at hours, then look."""
    blind = replace(problem, risk=np.zeros_like(problem.risk))
    steps = walk_steps(blind, list(solve(blind).chosen))
    nominal_s = candidates.nominal_s(clock)
    shut, meals = [], [0]
    for j, lost in steps:
        at = j
        if problem.risk[j, lost] == OpenState.SHUT:
            shut.append((int(candidates.row[j]), float(nominal_s[j]) + lost * STEP_MIN * 60.0))
            at = _next_open(problem, candidates, j, lost)
        meals.append(int(problem.meals[at]) if at >= 0 else problem.end_meals)
    meals = [*sorted(meals), problem.end_meals]
    return NaivePlan(
        rows=tuple(int(candidates.row[j]) for j, _ in steps),
        shut_rows=tuple(row for row, _ in shut),
        shut_arrive_s=tuple(at for _, at in shut),
        longest_meals=max(b - a for a, b in pairwise(meals)),
    )


def _next_open(problem: StopProblem, candidates: Candidates, j: int, lost: int) -> int:
    """Give the next candidate with an open door after a shut one, -1 if there is none.

    Nobody stands before a shut door until the end of the trip: the rider goes on to the next one,
    whether it was a stop or not. Usually shut is not open.
    """
    after = np.arange(j + 1, len(candidates.row))
    steps = np.where(problem.leg_ix[after] == problem.leg_ix[j], lost, 0)
    is_open = ~np.isin(problem.risk[after, steps], (OpenState.SHUT, OpenState.USUALLY_SHUT))
    found = after[is_open]
    return int(found[0]) if found.size else -1
