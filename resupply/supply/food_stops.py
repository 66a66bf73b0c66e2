"""The supply plan: chosen stops, what to carry from each, and what if one is shut.

In: candidate passes, a clock and a judge of opening hours. Out: a `SupplyPlan`. The judge is
asked with arrival times that include the stops so far, never with one state fixed beforehand.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from resupply.route.clock import MEALS_PER_DAY
from resupply.supply.stop_solver import (
    STEP_MIN,
    Cost,
    Risk,
    StopProblem,
    Weights,
    solve,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.clock import RideClock

__all__ = [
    "Candidates",
    "Fallback",
    "FoodStop",
    "Judge",
    "Shortfall",
    "SupplyPlan",
    "make_problem",
    "plan_supply",
    "walk_steps",
]

_DELAY_STEPS = 48
"""Up to four hours in earlier shops of the same day."""
_NEXT_DOOR_M = 100.0
"""Nobody minds riding back so far from a shut door (an assumption)."""


class Judge(Protocol):
    """What a stop rests on at given arrivals."""

    def __call__(
        self,
        rows: NDArray[np.int64],
        arrive_s: NDArray[np.float64],
        half_width_s: NDArray[np.float64],
        stay_s: NDArray[np.float64],
    ) -> NDArray[np.int8]:
        """Risk codes; all arguments broadcast to one shape, rows are pass rows."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """n passes at which food can be bought, in order of chainage."""

    row: NDArray[np.int64]
    """(n,) row of the pass."""
    place_ix: NDArray[np.int64]
    """(n,) which place it is; a place may be passed more than once."""
    chainage_m: NDArray[np.float64]
    """(n,) where the route is left for it, non-decreasing."""
    full: NDArray[np.bool_]
    """(n,) a full shop."""
    detour_s: NDArray[np.float64]
    """(n,) riding time more than by the route alone."""
    out_s: NDArray[np.float64]
    """(n,) riding time from where the route is left to the door."""
    stop_min: NDArray[np.int64]
    """(n,) time in the shop, minutes."""
    weight_min: NDArray[np.int64]
    pinned: NDArray[np.bool_]
    """(n,) the rider wants to stop there; see `resupply.supply.stop_solver.StopProblem`."""

    def nominal_s(self, clock: RideClock) -> NDArray[np.float64]:
        """(n,) UTC epoch at each shop's door, if no other stop is made."""
        return clock.nominal_s(self.chainage_m) + self.out_s


@dataclass(frozen=True, slots=True)
class Fallback:
    """What to do if a stop turns out shut."""

    kind: str
    """`shop`, `meal_out` or `none`."""
    row: int
    """Row of the pass, -1 if none."""
    chainage_m: float
    distance_m: float
    """Along the route from the stop, on or (next door) back."""
    arrive_s: float
    risk: int


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
    """Lay out the solver's tables: meals and risk for every pass and every possible delay."""
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
    risk = judge(
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
        risk=risk,
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
        fallback = _fallback(k, chosen, candidates, clock, problem, judge, lost, length_m)
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
                meal_out=_meal_out(
                    candidates.chainage_m[j],
                    after,
                    arrive_s[k],
                    clock,
                    judge,
                    meal_out,
                    leg_ix=int(problem.leg_ix[j]),
                    lost_s=_lost_at_shut_door_s(lost[k], float(candidates.detour_s[j])),
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
            last_shop_m=_last_shop_m(
                problem, candidates, start_m if k == 0 else to_m[k - 1], to_m[k]
            ),
        )
        for k in range(len(to_m))
        for over in (
            counts[k + 1] - counts[k] - (problem.start_limit if k == 0 else weights.limit_meals),
        )
        if over > 0
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


def _last_shop_m(
    problem: StopProblem, candidates: Candidates, start_m: float, end_m: float
) -> float:
    inside = (candidates.chainage_m > start_m) & (candidates.chainage_m < end_m)
    usable = candidates.chainage_m[inside & (problem.risk[:, 0] != Risk.SHUT)]
    return float(usable[-1]) if usable.size else start_m


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


def _fallback(
    k: int,
    chosen: list[int],
    candidates: Candidates,
    clock: RideClock,
    problem: StopProblem,
    judge: Judge,
    lost: list[int],
    length_m: float,
) -> Fallback:
    """Next shop that is stated open when passed, else the next chosen stop, else the end.

    Only one shop is assumed to fail, so the next chosen one counts whatever it rests on. The same
    shop met again is no fallback: its door is the shut one.
    """
    j = chosen[k]
    here_m = float(candidates.chainage_m[j])
    others = [i for i in chosen[k + 1 :] if candidates.place_ix[i] != candidates.place_ix[j]]
    last = others[0] if others else len(candidates.row) - 1
    between = np.arange(
        int(np.searchsorted(candidates.chainage_m, here_m - _NEXT_DOOR_M)), last + 1
    )
    between = between[candidates.place_ix[between] != candidates.place_ix[j]]
    shut_s = _lost_at_shut_door_s(lost[k], float(candidates.detour_s[j]))
    lost_s = np.where(problem.leg_ix[between] <= problem.leg_ix[j], shut_s, 0.0)
    # What lies back is reached no earlier than the rider is here again.
    not_before_m = np.maximum(candidates.chainage_m[between], here_m)
    arrive_s = clock.nominal_s(not_before_m) + candidates.out_s[between] + lost_s
    risk = judge(
        candidates.row[between],
        arrive_s,
        clock.half_width_s(candidates.chainage_m[between], arrive_s),
        candidates.stop_min[between].astype(float) * 60.0,
    )
    sure = np.flatnonzero(risk == Risk.OPEN)
    if sure.size:
        pick = int(sure[0])
    elif others:
        pick = len(between) - 1
    else:
        end_s = float(clock.legs[-1].arrive.timestamp())
        return Fallback("none", -1, length_m, length_m - here_m, end_s, Risk.UNKNOWN)
    at = int(between[pick])
    at_m = float(candidates.chainage_m[at])
    return Fallback(
        "shop",
        int(candidates.row[at]),
        at_m,
        abs(at_m - here_m),
        float(arrive_s[pick]),
        int(risk[pick]),
    )


def _lost_at_shut_door_s(lost_steps: int, detour_s: float) -> float:
    """Seconds lost by then on the day of a shut shop.

    Nobody shopped there, so only the stops before it have cost time, the way there and back, and
    a quarter of an hour to find the door shut.
    """
    return lost_steps * STEP_MIN * 60.0 + detour_s + 900.0


def _meals_at(fallback: Fallback, clock: RideClock) -> int:
    if fallback.kind == "none":
        return clock.end_meals
    return int(clock.meals_before(fallback.chainage_m)[0])


def _meal_out(
    here_m: float,
    until_m: float,
    now_s: float,
    clock: RideClock,
    judge: Judge,
    meal_out: tuple[NDArray[np.int64], NDArray[np.float64]],
    *,
    leg_ix: int,
    lost_s: float,
) -> Fallback:
    """First meal out after the stop that is not known to be shut, before the fallback shop.

    Parameters
    ----------
    leg_ix, lost_s
        Leg of the stop, and seconds lost on it when its door is found shut.
    """
    rows, at_m = meal_out
    ahead = np.flatnonzero((at_m > here_m - 2000.0) & (at_m < until_m))
    none = Fallback("none", -1, float(here_m), 0.0, now_s, Risk.UNKNOWN)
    if ahead.size == 0:
        return none
    late_s = np.where(clock.leg_ix(at_m[ahead]) == leg_ix, lost_s, 0.0)
    arrive_s = np.maximum(clock.nominal_s(at_m[ahead]) + late_s, now_s)
    risk = judge(
        rows[ahead],
        arrive_s,
        clock.half_width_s(at_m[ahead], arrive_s),
        np.full(ahead.size, 1800.0),
    )
    usable = np.flatnonzero(risk != Risk.SHUT)
    if usable.size == 0:
        return none
    # The surest of the nearest three: stated open before usual before not known.
    near = usable[:3]
    pick = int(near[int(np.argmin(risk[near]))])
    at = float(at_m[ahead][pick])
    return Fallback(
        "meal_out",
        int(rows[ahead][pick]),
        at,
        max(at - float(here_m), 0.0),
        float(arrive_s[pick]),
        int(risk[pick]),
    )
