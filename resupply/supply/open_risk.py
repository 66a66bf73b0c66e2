"""The judge of opening hours that the solver asks: stated hours first, usual ones as a doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import OpenState
from resupply.hours.timetable import open_shares, states, usual_states
from resupply.places.place import Supply
from resupply.supply.candidates import Judged

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.supply.candidates import Judge
    from resupply.supply.pass_table import PassTable
    from resupply.trip.choice import ChanceKeys
    from resupply.trip.kitchen_keys import FoodKeys

__all__ = ["MEAL_OUT_S", "judge_of", "shut_chance", "stays_s"]

MEAL_OUT_S = 1800.0
"""Seconds that a meal out takes at the least (our choice)."""
_SHORT_STOP_S = 900.0
"""At a pump, a tap, an ice box (our choice)."""


def stays_s(prepared: PassTable, food: FoodKeys) -> NDArray[np.float64]:
    """(m,) seconds that a visit to each pass's place takes, whatever it is asked for."""
    supply = prepared.supply
    return np.select(
        [supply[Supply.GROCERIES], supply[Supply.SMALL_GROCERIES], supply[Supply.MEAL_OUT]],
        [food.full_stop_min * 60.0, food.small_stop_min * 60.0, MEAL_OUT_S],
        _SHORT_STOP_S,
    )


def judge_of(prepared: PassTable) -> Judge:
    """Judge for the passes of a prepared trip, whose timetable must cover the dates asked.

    Outside the timetable everything is not known.
    """
    timetable = prepared.timetable
    if timetable is None:
        raise ValueError("cover_span comes before judge_of")
    place_ix = prepared.passes.place_ix
    # An estimate makes a pass likelier or less likely; it never makes it open or shut.
    by_usual = np.full(len(OpenState), OpenState.UNKNOWN, dtype=np.int8)
    by_usual[[OpenState.OPEN, OpenState.UNLESS_HOLIDAY]] = OpenState.USUALLY_OPEN
    by_usual[OpenState.SHUT] = OpenState.USUALLY_SHUT

    def judge(
        rows: NDArray[np.int64],
        arrive_s: NDArray[np.float64],
        half_width_s: NDArray[np.float64],
        stay_s: NDArray[np.float64],
    ) -> Judged:
        asked = np.broadcast_arrays(rows, arrive_s, half_width_s, stay_s)
        at, arrive, half, stay = (a.ravel() for a in asked)
        ix = place_ix[at]
        code = states(timetable, ix, arrive, half, stay)
        share = np.ones(code.shape)
        tight = np.flatnonzero(code == OpenState.TIGHT)
        if tight.size:
            share[tight] = open_shares(
                timetable, ix[tight], arrive[tight], half[tight], stay[tight]
            )
        unknown = np.flatnonzero(code == OpenState.UNKNOWN)
        if unknown.size:
            guess = usual_states(
                timetable, ix[unknown], arrive[unknown], half[unknown], stay[unknown]
            )
            code[unknown] = by_usual[guess]
        shape = asked[0].shape
        return Judged(code.reshape(shape), share.reshape(shape))

    return judge


def shut_chance(chances: ChanceKeys, judged: Judged) -> NDArray[np.float64]:
    """Chance that each door is shut; of a TIGHT one, the share of the visit for which it is."""
    by_code = np.ones(len(OpenState))
    by_code[OpenState.OPEN] = chances.open
    by_code[OpenState.UNLESS_HOLIDAY] = chances.unless_holiday
    by_code[OpenState.USUALLY_OPEN] = chances.usually_open
    by_code[OpenState.UNKNOWN] = chances.unknown
    by_code[OpenState.USUALLY_SHUT] = chances.usually_shut
    tight = np.maximum(1.0 - judged.open_share, chances.open)
    return np.asarray(np.where(judged.state == OpenState.TIGHT, tight, by_code[judged.state]))
