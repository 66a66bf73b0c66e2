"""Meals that the rider wants to eat out, and where: as part of the plan, they are not carried.

In: the clock, wishes by riding day, the places that serve meals. Out: a `MealOut` for each wish.
A wish for which no place is known, or only one that is shut, stays in the bags.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.place import Supply
from resupply.supply.hours_from_camp import SETTLE_S
from resupply.supply.open_risk import MEAL_OUT_S
from resupply.supply.visit_options import OUT_HALF_S

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from numpy.typing import NDArray

    from resupply.route.clock import MealTime, RideClock
    from resupply.supply.candidates import Judge
    from resupply.supply.pass_table import PassTable
    from resupply.trip.keys import MealName

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["MealOut", "choose_meals_out", "not_carried"]

_BAKERY: Final = "shop=bakery"
"""Sells no dinner, but breakfast."""
_BREAKFAST_S: Final = 3600.0
"""A rider who eats breakfast on the way does so in the first hour (ours)."""
_LUNCH_S: Final = 3600.0
"""Lunch may be so much earlier or later (ours)."""
_RANK: Final = {OpenState.USUALLY_OPEN: 1, OpenState.TIGHT: 2, OpenState.UNKNOWN: 3}
"""After those open by their hours; others are not counted on."""


@dataclass(frozen=True, slots=True)
class MealOut:
    """One meal that the rider wants to eat out."""

    meal: MealTime
    row: int
    """Pass of the place; -1 where none is known, and the meal is carried."""
    at_s: float
    """UTC epoch at its door; of the meal where there is none."""
    half_s: float
    """So much earlier or later it may be, seconds."""
    risk: int
    """Code of `OpenState`."""


def choose_meals_out(
    prepared: PassTable,
    clock: RideClock,
    judge: Judge,
    wanted: Mapping[int, Collection[MealName]],
    *,
    out_s: Floats,
    way_min: float,
) -> tuple[MealOut, ...]:
    """Find a place for each meal that is wanted out.

    Parameters
    ----------
    wanted
        Number of the riding day to its meals.
    out_s
        (m,) riding seconds from the route to each place.
    way_min
        Longest way from camp, one way, minutes.
    """
    places, ix = prepared.places.places, prepared.passes.place_ix
    serves = prepared.supply[Supply.MEAL_OUT]
    bakery = np.array([places[i].kind == _BAKERY for i in ix.tolist()], dtype=bool)
    found = []
    for meal in clock.meals:
        leg = clock.legs[meal.leg_ix]
        if meal.resting or meal.kind not in wanted.get(leg.number, ()):
            continue
        may = serves | bakery & prepared.food if meal.kind == "breakfast" else serves
        rows = np.flatnonzero(may & prepared.reachable)
        rows, at_s, half_s = _in_time(prepared, clock, meal, rows, out_s[rows], way_min)
        stay_s = np.full(rows.size, MEAL_OUT_S)
        risk = judge(rows, at_s, half_s, stay_s).state.tolist() if rows.size else []
        wanted_s = meal.when.timestamp()
        open_then = [
            (_rank(state), abs(at - wanted_s) + 2.0 * float(out_s[row]), row, at, half, state)
            for row, at, half, state in zip(
                rows.tolist(), at_s.tolist(), half_s.tolist(), risk, strict=True
            )
            if state in BY_HOURS or state in _RANK
        ]
        if open_then:
            _, _, row, at, half, state = min(open_then)
            found.append(MealOut(meal, row, at, half, state))
        else:
            found.append(MealOut(meal, -1, wanted_s, 0.0, int(OpenState.UNKNOWN)))
    return tuple(found)


def not_carried(clock: RideClock, out: Collection[MealOut]) -> RideClock:
    """Take the meals that are eaten out off those to carry."""
    gone = {one.meal.index for one in out if one.row >= 0}
    return clock.without(gone) if gone else clock


def _rank(state: int) -> int:
    return 0 if state in BY_HOURS else _RANK[OpenState(state)]


def _in_time(
    prepared: PassTable, clock: RideClock, meal: MealTime, rows: Ints, out_s: Floats, way_min: float
) -> tuple[Ints, Floats, Floats]:
    """Places that can be reached about the time of a meal; when, and how far off that may be."""
    ix, leg = meal.leg_ix, clock.legs[meal.leg_ix]
    leave_m = prepared.leave_m[rows]
    on_leg = clock.leg_ix(leave_m) == ix
    road_s = clock.nominal_s(leave_m) + out_s
    if meal.kind == "breakfast":
        in_time = on_leg & (road_s <= leg.depart.timestamp() + _BREAKFAST_S)
    elif meal.kind == "lunch" and leg.depart < meal.when < leg.arrive:
        in_time = on_leg & (np.abs(road_s - meal.when.timestamp()) <= _LUNCH_S)
    else:
        ride = leg.ride_time
        apart_s = np.abs(ride.at(prepared.passes.chainage_m[rows]) - float(ride.at(leg.end_m)))
        in_time = apart_s + out_s <= way_min * 60.0
        at_s = max(meal.when.timestamp(), leg.arrive.timestamp() + SETTLE_S)
        near = rows[in_time]
        return near, np.full(near.size, at_s), np.full(near.size, OUT_HALF_S)
    half_s = clock.half_width_s(leave_m, road_s)
    return rows[in_time], road_s[in_time], half_s[in_time]
