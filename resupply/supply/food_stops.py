"""The supply plan: chosen stops, what to carry from each, and what if one is shut.

In: every visit that may be made (`VisitOptions`). Out: a `SupplyPlan`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import MEALS_PER_DAY
from resupply.hours.state import OpenState
from resupply.supply.if_shut import Fallback, find_fallback, find_meal_out, lost_at_shut_door_s
from resupply.supply.visit_solver import VisitCost, solve
from resupply.supply.visit_walk import loads_of, walk, with_visits

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.supply.candidates import Candidates, Judge
    from resupply.supply.visit_options import Asked, VisitOptions

__all__ = ["FoodStop", "Shortfall", "SupplyInput", "SupplyPlan", "plan_supply"]


@dataclass(frozen=True, slots=True)
class FoodStop:
    """One chosen stop."""

    number: int
    """From 1, in order of time."""
    row: int
    candidate: int
    visit: int
    """Row of the options."""
    chainage_m: float
    """Where the route is left for it."""
    on_board_m: float
    """Where the food comes on board: the same, or the camp from which the shop is visited."""
    from_camp: bool
    """Visited from camp, in the evening or on a rest day; there and back."""
    leg_ix: int
    """Day on which it is visited."""
    arrive_s: float
    leave_s: float
    way_s: float
    """Riding time there and back."""
    risk: int
    shut_chance: float
    full: bool
    carry_meals: int
    """Meals to eat on board when leaving; spare ones not counted."""
    to_m: float
    """Chainage at which the next food comes on board, or of the end."""
    fallback: Fallback
    meal_out: Fallback
    """Nearest meal out after the stop, before the fallback; kind `none` if there is none."""
    if_shut_meals: int
    """Meals from the stop before to the fallback: the gap if this one is shut."""


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A stretch on which the carry limit cannot be kept. A result, not an error."""

    start_m: float
    end_m: float
    start_number: int
    """Number of the stop before it, 0 for the start."""
    meals: int
    excess_meals: int
    last_shop_m: float
    """Chainage of the last usable shop before `end_m`; `start_m` if there is none between."""
    bare_m: tuple[float, float]
    """The part of it without a usable shop on which most meals fall: between which chainages."""


@dataclass(frozen=True, slots=True, eq=False)
class SupplyPlan:
    """The chosen stops and what follows from them."""

    stops: tuple[FoodStop, ...]
    start_carry_meals: int
    start_to_m: float
    shortfalls: tuple[Shortfall, ...]
    spare_meals: int
    """Always on board on top of the meals to eat, a person."""
    worst_more_meals: int
    """Meals that the worst single shut door needs on top of those to eat; the spare may not do."""
    worst_stop: int
    """Number of that stop; 0 if none."""
    longest_if_shut_meals: int
    cost: VisitCost
    asked: Asked
    options: VisitOptions
    candidates: Candidates
    clock: RideClock
    """With the stops made."""

    def days_with(self, meals: int) -> float:
        """Days of food on board with so many meals to eat, the spare ones with them."""
        return (meals + self.spare_meals) / MEALS_PER_DAY

    @property
    def most_meals(self) -> int:
        """Meals to eat of the largest load, a person."""
        return max([self.start_carry_meals, *(stop.carry_meals for stop in self.stops)])


@dataclass(frozen=True, slots=True, eq=False)
class SupplyInput:
    """What food stops are chosen from."""

    candidates: Candidates
    clock: RideClock
    options: VisitOptions
    """Made from `candidates` and `clock`."""
    asked: Asked
    judge: Judge
    spare_meals: int
    length_m: float
    meal_out: tuple[NDArray[np.int64], NDArray[np.float64]]
    """Rows and chainages (metres, increasing) of passes where a meal can be bought."""
    start_m: float = 0.0
    """For a trip under way: where it goes on."""


def plan_supply(given: SupplyInput) -> SupplyPlan:
    """Choose the stops and work out carry, fallbacks, the worst shut door and shortfalls."""
    candidates, clock, options, judge = given.candidates, given.clock, given.options, given.judge
    problem = options.problem
    solution = solve(problem)
    made = walk(options, candidates, clock, solution.chosen)
    timed = with_visits(clock, options, candidates, made)
    loads = loads_of(options, solution.chosen)
    to_m = [*(one.at_m for one in made), given.length_m]
    stops: list[FoodStop] = []
    for k, one in enumerate(made):
        j = one.candidate
        fallback, fallback_meals = find_fallback(k, made, candidates, clock, problem, judge)
        stops.append(
            FoodStop(
                number=k + 1,
                row=int(candidates.row[j]),
                candidate=j,
                visit=one.visit,
                chainage_m=float(candidates.chainage_m[j]),
                on_board_m=one.at_m,
                from_camp=one.from_camp,
                leg_ix=one.leg_ix,
                arrive_s=one.arrive_s,
                leave_s=one.arrive_s + one.stop_min * 60.0,
                way_s=one.way_s,
                risk=one.state,
                shut_chance=one.shut_chance,
                full=bool(candidates.full[j]),
                carry_meals=loads[k + 1],
                to_m=to_m[k + 1],
                fallback=fallback,
                meal_out=find_meal_out(
                    one.at_m,
                    fallback.chainage_m,
                    one.arrive_s,
                    clock,
                    judge,
                    given.meal_out,
                    leg_ix=one.leg_ix,
                    lost_s=lost_at_shut_door_s(one, clock),
                ),
                if_shut_meals=max(fallback_meals, one.meals) - (one.meals - loads[k]),
            )
        )
    extra = [stop.if_shut_meals - loads[k] for k, stop in enumerate(stops)]
    worst = int(np.argmax(extra)) if extra else -1
    return SupplyPlan(
        stops=tuple(stops),
        start_carry_meals=loads[0],
        start_to_m=to_m[0],
        shortfalls=tuple(_shortfalls(options, candidates, clock, loads, [given.start_m, *to_m])),
        spare_meals=given.spare_meals,
        worst_more_meals=max(extra, default=0),
        worst_stop=worst + 1,
        longest_if_shut_meals=max((s.if_shut_meals for s in stops), default=0),
        cost=solution.cost,
        asked=given.asked,
        options=options,
        candidates=candidates,
        clock=timed,
    )


def _shortfalls(
    options: VisitOptions,
    candidates: Candidates,
    clock: RideClock,
    loads: list[int],
    ends_m: list[float],
) -> Iterator[Shortfall]:
    """Stretches over the limit; stretch k runs from `ends_m[k]` to the next."""
    problem = options.problem
    for k, load in enumerate(loads):
        over = load - (problem.limit if k else problem.start_limit)
        if over > 0:
            usable_m = _usable_m(options, candidates, ends_m[k], ends_m[k + 1])
            yield Shortfall(
                start_m=ends_m[k],
                end_m=ends_m[k + 1],
                start_number=k,
                meals=load,
                excess_meals=over,
                last_shop_m=usable_m[-2] if len(usable_m) > 2 else usable_m[0],
                bare_m=_barest_m(usable_m, clock),
            )


def _usable_m(
    options: VisitOptions, candidates: Candidates, start_m: float, end_m: float
) -> list[float]:
    """Chainages of the shops of a stretch that are not shut, its ends before and after them."""
    inside = (candidates.chainage_m > start_m) & (candidates.chainage_m < end_m)
    state = options.state[options.on_road(), 0]
    usable = candidates.chainage_m[inside & (state != OpenState.SHUT)]
    return [start_m, *usable.tolist(), end_m]


def _barest_m(usable_m: list[float], clock: RideClock) -> tuple[float, float]:
    """Give the ends of the part between two usable shops on which most meals fall."""
    meals = clock.meals_before(usable_m)
    most = int(np.argmax(np.diff(meals)))
    return usable_m[most], usable_m[most + 1]
