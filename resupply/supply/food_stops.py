"""The supply plan: chosen stops, what to carry from each, and what if one is shut.

In: candidate passes, a clock and a judge of opening hours. Out: a `SupplyPlan`. The judge is
asked with arrival times that include the stops so far, never with one state fixed beforehand.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import MEALS_PER_DAY
from resupply.hours.state import OpenState
from resupply.supply.if_shut import Fallback, find_fallback, find_meal_out, lost_at_shut_door_s
from resupply.supply.stop_solver import (
    STEP_MIN,
    Cost,
    StopProblem,
    Weights,
    solve,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.supply.candidates import Candidates, Judge

__all__ = [
    "FoodStop",
    "Shortfall",
    "SupplyPlan",
    "make_problem",
    "plan_supply",
    "walk_steps",
]

_DELAY_STEPS = 48
"""Up to four hours in earlier shops of the same day."""


@dataclass(frozen=True, slots=True)
class FoodStop:
    """One chosen stop."""

    number: int
    """From 1."""
    row: int
    candidate: int
    chainage_m: float
    leg_ix: int
    arrive_s: float
    leave_s: float
    risk: int
    full: bool
    carry_meals: int
    """Meals on board when leaving."""
    to_m: float
    """Chainage of the next stop, or of the end."""
    fallback: Fallback
    meal_out: Fallback
    """Nearest meal out after the stop, before the fallback; kind `none` if there is none."""
    if_shut_meals: int
    """Meals from the stop before to the fallback: the gap if this one is shut."""

    @property
    def carry_days(self) -> float:
        """Days of food on board when leaving."""
        return self.carry_meals / MEALS_PER_DAY


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
    reserve_meals: int
    """Meals that cover any single stop being shut."""
    reserve_stop: int
    """Number of the stop that decides the reserve; 0 if none."""
    longest_if_shut_meals: int
    cost: Cost
    weights: Weights
    problem: StopProblem
    candidates: Candidates
    clock: RideClock
    """With the stops made."""


def make_problem(
    candidates: Candidates,
    clock: RideClock,
    judge: Judge,
    *,
    latest_camp: dt.time,
    weights: Weights,
    on_board_meals: int | None = None,
) -> StopProblem:
    """Lay out the solver's tables: meals and risk for every pass and every possible delay.

    The candidates' ways keep to their days; see `Candidates.within_days`.
    """
    leg_ix = clock.leg_ix(candidates.chainage_m)
    stop_steps = np.ceil(
        (candidates.stop_min * 60.0 + candidates.detour_s) / (STEP_MIN * 60.0) - 1e-9
    ).astype(np.int64)
    # Pinned stops may need more than the usual four hours in one day.
    pinned_steps = int(stop_steps[candidates.pinned].sum())
    steps = _DELAY_STEPS + pinned_steps
    lost_s = np.arange(steps) * STEP_MIN * 60.0
    arrive_s = candidates.nominal_s(clock)[:, None] + lost_s[None, :]
    shape = arrive_s.shape
    judged = judge(
        np.broadcast_to(candidates.row[:, None], shape),
        arrive_s,
        clock.half_width_s(np.broadcast_to(candidates.chainage_m[:, None], shape), arrive_s),
        np.broadcast_to(candidates.stop_min[:, None] * 60.0, shape),
    )
    late_min = np.stack(
        [
            np.maximum(
                np.ceil(
                    (leg.arrive - _at(leg.date, latest_camp, leg.depart.tzinfo)).total_seconds()
                    / 60.0
                    + STEP_MIN * np.arange(2 * steps)
                ),
                0,
            )
            for leg in clock.legs
        ]
    ).astype(np.int64)
    return StopProblem(
        leg_ix=leg_ix,
        meals=clock.meals_before(candidates.chainage_m),
        risk=judged.state,
        open_share=judged.open_share,
        stop_steps=stop_steps,
        weight_min=candidates.weight_min,
        late_min=late_min,
        pinned=candidates.pinned,
        end_meals=clock.end_meals,
        weights=weights,
        on_board_meals=on_board_meals,
    )


def _at(day: dt.date, time: dt.time, zone: dt.tzinfo | None) -> dt.datetime:
    return dt.datetime.combine(day, time, tzinfo=zone)


def plan_supply(
    candidates: Candidates,
    clock: RideClock,
    judge: Judge,
    *,
    length_m: float,
    latest_camp: dt.time,
    weights: Weights,
    meal_out: tuple[NDArray[np.int64], NDArray[np.float64]],
    start_m: float = 0.0,
    on_board_meals: int | None = None,
) -> SupplyPlan:
    """Choose the stops and work out carry, fallbacks, reserve and shortfalls.

    The candidates' ways keep to their days; see `Candidates.within_days`.

    Parameters
    ----------
    meal_out
        Rows and chainages (metres, increasing) of passes where a meal can be bought.
    start_m, on_board_meals
        For a trip under way: where it goes on, and with how many meals on board.
    """
    problem = make_problem(
        candidates,
        clock,
        judge,
        latest_camp=latest_camp,
        weights=weights,
        on_board_meals=on_board_meals,
    )
    solution = solve(problem)
    chosen = list(solution.chosen)
    stop_m = candidates.chainage_m[chosen]
    stop_s = problem.stop_steps[chosen] * STEP_MIN * 60.0
    timed = clock.with_stops(stop_m.tolist(), stop_s.tolist())
    lost = [steps for _, steps in walk_steps(problem, chosen)]
    arrive_s = (candidates.nominal_s(clock)[chosen] + np.array(lost) * STEP_MIN * 60.0).tolist()
    counts = [0, *problem.meals[chosen].tolist()]
    counts.append(clock.end_meals)
    to_m = [*stop_m.tolist(), length_m]
    stops: list[FoodStop] = []
    for k, j in enumerate(chosen):
        fallback = find_fallback(k, chosen, candidates, clock, problem, judge, lost, length_m)
        after = fallback.chainage_m
        fallback_meals = max(_meals_at(fallback, clock), counts[k + 1])
        stops.append(
            FoodStop(
                number=k + 1,
                row=int(candidates.row[j]),
                candidate=j,
                chainage_m=float(candidates.chainage_m[j]),
                leg_ix=int(problem.leg_ix[j]),
                arrive_s=arrive_s[k],
                leave_s=arrive_s[k] + float(candidates.stop_min[j]) * 60.0,
                risk=int(problem.risk[j, lost[k]]),
                full=bool(candidates.full[j]),
                carry_meals=counts[k + 2] - counts[k + 1],
                to_m=to_m[k + 1],
                fallback=fallback,
                meal_out=find_meal_out(
                    candidates.chainage_m[j],
                    after,
                    arrive_s[k],
                    clock,
                    judge,
                    meal_out,
                    leg_ix=int(problem.leg_ix[j]),
                    lost_s=lost_at_shut_door_s(lost[k], float(candidates.detour_s[j])),
                ),
                if_shut_meals=fallback_meals - counts[k],
            )
        )
    shortfalls = tuple(
        Shortfall(
            start_m=start_m if k == 0 else to_m[k - 1],
            end_m=to_m[k],
            start_number=k,
            meals=counts[k + 1] - counts[k],
            excess_meals=over,
            last_shop_m=usable_m[-2] if len(usable_m) > 2 else usable_m[0],
            bare_m=_barest_m(usable_m, clock),
        )
        for k in range(len(to_m))
        for over in (
            counts[k + 1] - counts[k] - (problem.start_limit if k == 0 else weights.limit_meals),
        )
        if over > 0
        for usable_m in (
            _usable_m(problem, candidates, start_m if k == 0 else to_m[k - 1], to_m[k]),
        )
    )
    extra = [s.if_shut_meals - (counts[s.number] - counts[s.number - 1]) for s in stops]
    worst = int(np.argmax(extra)) if extra else -1
    return SupplyPlan(
        stops=tuple(stops),
        start_carry_meals=counts[1],
        start_to_m=to_m[0],
        shortfalls=shortfalls,
        reserve_meals=max(extra, default=0),
        reserve_stop=worst + 1,
        longest_if_shut_meals=max((s.if_shut_meals for s in stops), default=0),
        cost=solution.cost,
        weights=weights,
        problem=problem,
        candidates=candidates,
        clock=timed,
    )


def _usable_m(
    problem: StopProblem, candidates: Candidates, start_m: float, end_m: float
) -> list[float]:
    """Chainages of the shops of a stretch that are not shut, its ends before and after them."""
    inside = (candidates.chainage_m > start_m) & (candidates.chainage_m < end_m)
    usable = candidates.chainage_m[inside & (problem.risk[:, 0] != OpenState.SHUT)]
    return [start_m, *usable.tolist(), end_m]


def _barest_m(usable_m: list[float], clock: RideClock) -> tuple[float, float]:
    """Give the ends of the part between two usable shops on which most meals fall."""
    meals = clock.meals_before(usable_m)
    most = int(np.argmax(np.diff(meals)))
    return usable_m[most], usable_m[most + 1]


def walk_steps(problem: StopProblem, chosen: list[int]) -> list[tuple[int, int]]:
    """Each chosen candidate with the steps lost earlier that day."""
    walked = []
    leg, lost = -1, 0
    for j in chosen:
        if problem.leg_ix[j] != leg:
            leg, lost = int(problem.leg_ix[j]), 0
        walked.append((j, min(lost, problem.steps - 1)))
        lost += int(problem.stop_steps[j])
    return walked


def _meals_at(fallback: Fallback, clock: RideClock) -> int:
    if fallback.kind == "none":
        return clock.end_meals
    return int(clock.meals_before(fallback.chainage_m)[0])
