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
from resupply.supply.visit_solver import STEP_MIN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.supply.candidates import Candidates, Judge
    from resupply.supply.visit_solver import VisitProblem
    from resupply.supply.visit_walk import Made

__all__ = ["NEXT_DOOR_M", "Fallback", "find_fallback", "find_meal_out", "lost_at_shut_door_s"]

_EVENING_S = 900.0
"""Riders in camp go back to the saddle for a shop that near, not for a farther one (ours)."""
NEXT_DOOR_M = 100.0
"""Nobody minds riding back so far from a shut door (an assumption)."""
_FOUND_SHUT_S = 900.0
"""To find a door shut and to look for another (an assumption)."""


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
    made: Sequence[Made],
    candidates: Candidates,
    clock: RideClock,
    problem: VisitProblem,
    judge: Judge,
) -> tuple[Fallback, int]:
    """Next shop that does and is open by its hours, else the next chosen stop, else the end.

    A shop does if it has food for all meals until that next stop: a bakery replaces no two-day
    shop. Only one shop is assumed to fail, so the next chosen one counts whatever it rests on. The
    same shop met again is no fallback: its door is the shut one.

    Returns
    -------
    tuple
        The fallback, and the meals eaten before it.
    """
    one, place = made[k], candidates.place_ix[made[k].candidate]
    other = next((m for m in made[k + 1 :] if candidates.place_ix[m.candidate] != place), None)
    until_m = np.inf if other is None else other.at_m
    # Nothing past the next stop is asked for.
    last_m = until_m if other is None else max(until_m, candidates.chainage_m[other.candidate])
    near, arrive_s, risk = _on_the_way(one, candidates, clock, judge, last_m)
    near_m = candidates.chainage_m[near]
    before = (near_m <= until_m) & (candidates.place_ix[near] != place)
    meals = clock.meals_before(near_m)
    needed = (problem.meal_count if other is None else other.meals) - meals
    does = candidates.sells_meals[near] >= needed
    sure = np.flatnonzero(before & does & np.isin(risk, BY_HOURS))
    here_m = one.at_m
    if sure.size:
        at, eta_s, state = int(near[sure[0]]), float(arrive_s[sure[0]]), int(risk[sure[0]])
        eaten = int(meals[sure[0]])
    elif other is not None:
        at, eaten = other.candidate, other.meals
        # Nobody shopped at the shut door, so it may be reached a little earlier than planned.
        same = np.flatnonzero(near == at)
        there = not other.from_camp and same.size > 0
        eta_s = float(arrive_s[same[0]]) if there else other.arrive_s
        state = int(risk[same[0]]) if there else other.state
    else:
        end_s, end_m = float(clock.legs[-1].arrive.timestamp()), float(clock.legs[-1].end_m)
        none = Fallback("none", -1, end_m, end_m - here_m, end_s, OpenState.UNKNOWN)
        return none, problem.meal_count
    at_m = float(candidates.chainage_m[at])
    row = int(candidates.row[at])
    return Fallback("shop", row, at_m, abs(at_m - here_m), eta_s, state), eaten


def _on_the_way(
    one: Made, candidates: Candidates, clock: RideClock, judge: Judge, last_m: float
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.int8]]:
    """Shops from a shut door on to a chainage, and when and how the rider finds each."""
    ride = clock.legs[one.leg_ix].ride_time
    back_s = along_s = np.zeros(len(candidates.row))
    first_m = one.at_m - NEXT_DOOR_M
    if one.from_camp:
        # From camp a shop passed that day is near too.
        along_s = ride.at(candidates.chainage_m) - float(ride.at(one.at_m))
        back_s = np.maximum(-along_s, 0.0)
        near = back_s + candidates.out_s <= _EVENING_S
        here = near | (candidates.chainage_m >= first_m)
    else:
        here = candidates.chainage_m >= first_m
    shut_s = lost_at_shut_door_s(one, clock)
    rows = np.flatnonzero(here & (candidates.chainage_m <= last_m))
    lost_s = np.where(clock.leg_ix(candidates.chainage_m[rows]) <= one.leg_ix, shut_s, 0.0)
    # What lies back is reached no earlier than the rider is here again.
    not_before_m = np.maximum(candidates.chainage_m[rows], one.at_m)
    way_s = back_s[rows] + candidates.out_s[rows]
    arrive_s = clock.nominal_s(not_before_m) + way_s + lost_s
    if one.waiting(clock):
        # Nobody waits for the day of riding on to try the next door.
        apart_s = np.abs(along_s[rows]) + candidates.out_s[rows]
        at_once_s = one.arrive_s + one.way_s / 2.0 + _FOUND_SHUT_S + apart_s
        arrive_s = np.where(apart_s <= _EVENING_S, at_once_s, arrive_s)
    doors = _Doors(
        candidates.row[rows],
        candidates.chainage_m[rows],
        candidates.out_s[rows],
        candidates.stop_min[rows].astype(np.float64) * 60.0,
    )
    risk, eta_s = _by_the_evening(doors, arrive_s, clock, judge, leg_ix=one.leg_ix, lost_s=shut_s)
    return rows, eta_s, risk


@dataclass(frozen=True, slots=True, eq=False)
class _Doors:
    """Places on the way after a shut door; arrays of one length."""

    rows: NDArray[np.int64]
    at_m: NDArray[np.float64]
    out_s: NDArray[np.float64]
    """Way there from the route."""
    stay_s: NDArray[np.float64]


def _by_the_evening(
    doors: _Doors,
    arrive_s: NDArray[np.float64],
    clock: RideClock,
    judge: Judge,
    *,
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
    rows, at_m, stay_s = doors.rows, doors.at_m, doors.stay_s
    risk = judge(rows, arrive_s, clock.half_width_s(at_m, arrive_s), stay_s).state
    camp_m, leg = clock.ends_m[leg_ix], clock.legs[leg_ix]
    past_s = leg.ride_time.at(at_m) - leg.ride_time.at(camp_m) + doors.out_s
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


def lost_at_shut_door_s(one: Made, clock: RideClock) -> float:
    """Seconds lost by then on the day of a shut shop.

    Nobody shopped there, so only the stops before it have cost time, the way there and back, and
    a quarter of an hour to find the door shut. After a way from camp it is as if the day's ride had
    ended so much later; before that ride it delays nothing.
    """
    if one.waiting(clock):
        return 0.0
    if one.from_camp:
        back_s = one.arrive_s + one.way_s / 2.0 - float(clock.nominal_s(one.at_m)[0])
        return back_s + _FOUND_SHUT_S
    return one.lost * STEP_MIN * 60.0 + one.way_s + _FOUND_SHUT_S


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
    arrive_s = np.maximum(clock.nominal_s(at_m[ahead]) + late_s, now_s)
    doors = _Doors(rows[ahead], at_m[ahead], np.zeros(ahead.size), np.full(ahead.size, MEAL_OUT_S))
    risk, arrive_s = _by_the_evening(doors, arrive_s, clock, judge, leg_ix=leg_ix, lost_s=lost_s)
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
