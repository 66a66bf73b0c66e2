"""What a plan that ignores opening hours would run into."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import OpenState
from resupply.supply.candidates import Judged
from resupply.supply.visit_options import make_options
from resupply.supply.visit_solver import solve
from resupply.supply.visit_walk import walk

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.supply.food_stops import SupplyPlan
    from resupply.supply.visit_options import VisitOptions
    from resupply.supply.visit_walk import Made

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


def _always_open(
    rows: NDArray[np.int64],
    arrive_s: NDArray[np.float64],
    half_width_s: NDArray[np.float64],
    stay_s: NDArray[np.float64],
) -> Judged:
    del half_width_s, stay_s
    shape = np.broadcast_shapes(rows.shape, arrive_s.shape)
    return Judged(np.full(shape, OpenState.OPEN, dtype=np.int8), np.ones(shape))


def naive_plan(supply: SupplyPlan) -> NaivePlan:
    """Choose stops on the road as a supply plan does, but without looking at hours; then look."""
    options, candidates, asked = supply.options, supply.candidates, supply.asked
    clock = supply.clock.with_stops([], [])
    blind = make_options(candidates, clock, _always_open, asked)
    made = walk(blind, candidates, clock, solve(blind.problem).chosen)
    road = options.on_road()
    shut, meals = [], [0]
    for one in made:
        door, eaten = int(road[one.candidate]), one.meals
        if not one.from_camp and options.state[door, one.lost] == OpenState.SHUT:
            shut.append((int(candidates.row[one.candidate]), one.arrive_s))
            at = _next_open(options, road, one)
            eaten = int(options.problem.meals[at]) if at >= 0 else options.problem.meal_count
        meals.append(eaten)
    meals = [*sorted(meals), options.problem.meal_count]
    return NaivePlan(
        rows=tuple(int(candidates.row[one.candidate]) for one in made),
        shut_rows=tuple(row for row, _ in shut),
        shut_arrive_s=tuple(at for _, at in shut),
        longest_meals=max(b - a for a, b in pairwise(meals)),
    )


def _next_open(options: VisitOptions, road: NDArray[np.int64], one: Made) -> int:
    """Give the visit to the next open door after a shut one, -1 if there is none.

    Nobody stands before a shut door until the end of the trip: the rider goes on to the next one,
    whether it was a stop or not. Usually shut is not open.
    """
    after = road[one.candidate + 1 :]
    lost = np.where(options.problem.leg_ix[after] == one.leg_ix, one.lost, 0)
    is_open = ~np.isin(options.state[after, lost], (OpenState.SHUT, OpenState.USUALLY_SHUT))
    return int(after[is_open][0]) if is_open.any() else -1
