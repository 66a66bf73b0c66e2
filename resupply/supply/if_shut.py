"""What to do if a planned food stop turns out shut: another shop on the way, or a meal out.

In: the chosen stops and the judge of opening hours. Out: a `Fallback` each. Only one shop at a
time is assumed to fail.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from resupply.hours.state import BY_HOURS, OpenState
from resupply.supply.open_risk import MEAL_OUT_S
from resupply.supply.stop_solver import STEP_MIN

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.supply.candidates import Candidates, Judge
    from resupply.supply.stop_solver import StopProblem

__all__ = ["Fallback", "find_fallback", "find_meal_out", "lost_at_shut_door_s"]

_EVENING_S = 900.0
"""Riders in camp go back to the saddle for a shop that near, not for a farther one (ours)."""
_NEXT_DOOR_M = 100.0
"""Nobody minds riding back so far from a shut door (an assumption)."""


@dataclass(frozen=True, slots=True)
class Fallback:
    """What to do if a stop turns out shut."""

    kind: Literal["shop", "meal_out", "none"]
    """`shop`, `meal_out` or `none`."""
    row: int
    """Row of the pass, -1 if none."""
    chainage_m: float
    distance_m: float
    """Along the route from the stop, on or (next door) back."""
    arrive_s: float
    risk: int


def find_fallback(
    k: int,
    chosen: list[int],
    candidates: Candidates,
    clock: RideClock,
    problem: StopProblem,
    judge: Judge,
    lost: list[int],
    length_m: float,
) -> Fallback:
    """Next shop that does and is open by its hours, else the next chosen stop, else the end.

    A shop does if it has food for all meals until that next stop: a bakery replaces no two-day
    shop. Only one shop is assumed to fail, so the next chosen one counts whatever it rests on. The
    same shop met again is no fallback: its door is the shut one.
    """
    j = chosen[k]
    here_m = float(candidates.chainage_m[j])
    others = [i for i in chosen[k + 1 :] if candidates.place_ix[i] != candidates.place_ix[j]]
    last = others[0] if others else len(candidates.row) - 1
    between = np.arange(
        int(np.searchsorted(candidates.chainage_m, here_m - _NEXT_DOOR_M)), last + 1
    )
    between = between[candidates.place_ix[between] != candidates.place_ix[j]]
    shut_s = lost_at_shut_door_s(lost[k], float(candidates.detour_s[j]))
    lost_s = np.where(problem.leg_ix[between] <= problem.leg_ix[j], shut_s, 0.0)
    # What lies back is reached no earlier than the rider is here again.
    not_before_m = np.maximum(candidates.chainage_m[between], here_m)
    arrive_s = clock.nominal_s(not_before_m) + candidates.out_s[between] + lost_s
    risk, arrive_s = _by_the_evening(
        candidates.row[between],
        arrive_s,
        candidates.stop_min[between] * 60.0,
        clock,
        judge,
        at_m=candidates.chainage_m[between],
        out_s=candidates.out_s[between],
        leg_ix=int(problem.leg_ix[j]),
        lost_s=shut_s,
    )
    until_meals = int(problem.meals[others[0]]) if others else problem.end_meals
    needed = until_meals - problem.meals[between]
    sure = np.flatnonzero(np.isin(risk, BY_HOURS) & (candidates.sells_meals[between] >= needed))
    if sure.size:
        pick = int(sure[0])
    elif others:
        pick = len(between) - 1
    else:
        end_s = float(clock.legs[-1].arrive.timestamp())
        return Fallback("none", -1, length_m, length_m - here_m, end_s, OpenState.UNKNOWN)
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


def _by_the_evening(
    rows: NDArray[np.int64],
    arrive_s: NDArray[np.float64],
    stay_s: NDArray[np.float64],
    clock: RideClock,
    judge: Judge,
    *,
    at_m: NDArray[np.float64],
    out_s: NDArray[np.float64],
    leg_ix: int,
    lost_s: float,
) -> tuple[NDArray[np.int8], NDArray[np.float64]]:
    """States and arrivals on the way, or in the evening where that finds the door open.

    What lies just past the night's camp is passed tomorrow, but a rider who stood before a shut
    door rides on to it from camp today.

    Parameters
    ----------
    leg_ix, lost_s
        Day of the shut door, and seconds lost on it.
    """
    risk = judge(rows, arrive_s, clock.half_width_s(at_m, arrive_s), stay_s).state
    camp_m, leg = clock.ends_m[leg_ix], clock.legs[leg_ix]
    past_s = leg.ride_time.at(at_m) - leg.ride_time.at(camp_m) + out_s
    near = np.flatnonzero((clock.leg_ix(at_m) == leg_ix + 1) & (past_s <= _EVENING_S))
    if near.size:
        in_camp_s = float(clock.nominal_s(camp_m)[0]) + lost_s
        evening_s = in_camp_s + past_s[near]
        half_s = clock.half_width_s(np.full(near.size, camp_m), evening_s)
        found = judge(rows[near], evening_s, half_s, stay_s[near]).state
        here = near[np.isin(found, BY_HOURS)]
        risk[here] = found[np.isin(found, BY_HOURS)]
        arrive_s = arrive_s.copy()
        arrive_s[here] = evening_s[np.isin(found, BY_HOURS)]
    return risk, arrive_s


def lost_at_shut_door_s(lost_steps: int, detour_s: float) -> float:
    """Seconds lost by then on the day of a shut shop.

    Nobody shopped there, so only the stops before it have cost time, the way there and back, and
    a quarter of an hour to find the door shut.
    """
    return lost_steps * STEP_MIN * 60.0 + detour_s + 900.0


def find_meal_out(
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
    none = Fallback("none", -1, float(here_m), 0.0, now_s, OpenState.UNKNOWN)
    if ahead.size == 0:
        return none
    late_s = np.where(clock.leg_ix(at_m[ahead]) == leg_ix, lost_s, 0.0)
    risk, arrive_s = _by_the_evening(
        rows[ahead],
        np.maximum(clock.nominal_s(at_m[ahead]) + late_s, now_s),
        np.full(ahead.size, MEAL_OUT_S),
        clock,
        judge,
        at_m=at_m[ahead],
        out_s=np.zeros(ahead.size),
        leg_ix=leg_ix,
        lost_s=lost_s,
    )
    usable = np.flatnonzero(risk != OpenState.SHUT)
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
