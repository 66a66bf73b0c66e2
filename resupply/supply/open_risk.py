"""The judge of opening hours that the solver asks: stated hours first, usual ones as a doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.timetable import OpenState, states, usual_states
from resupply.supply.stop_solver import Risk

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.plan.prepared import Prepared
    from resupply.supply.candidates import Judge

__all__ = ["judge_of"]


def _by_stated() -> NDArray[np.int8]:
    table = np.full(4, Risk.UNKNOWN, dtype=np.int8)
    table[OpenState.OPEN.value] = Risk.OPEN
    table[OpenState.TIGHT.value] = Risk.TIGHT
    table[OpenState.SHUT.value] = Risk.SHUT
    return table


def _by_usual() -> NDArray[np.int8]:
    # An estimate makes a pass likelier or less likely; it never makes it open or shut.
    table = np.full(4, Risk.UNKNOWN, dtype=np.int8)
    table[OpenState.OPEN.value] = Risk.USUAL
    table[OpenState.SHUT.value] = Risk.UNLIKELY
    return table


def judge_of(prepared: Prepared) -> Judge:
    """Judge for the passes of a prepared trip, whose timetable must cover the dates asked.

    Outside the timetable everything is not known.
    """
    timetable = prepared.timetable
    if timetable is None:
        raise ValueError("cover_span comes before judge_of")
    place_ix = prepared.passes.place_ix
    by_stated, by_usual = _by_stated(), _by_usual()

    def judge(
        rows: NDArray[np.int64],
        arrive_s: NDArray[np.float64],
        half_width_s: NDArray[np.float64],
        stay_s: NDArray[np.float64],
    ) -> NDArray[np.int8]:
        at, arrive, half, stay = (
            a.ravel() for a in np.broadcast_arrays(rows, arrive_s, half_width_s, stay_s)
        )
        ix = place_ix[at]
        code = states(timetable, ix, arrive, half, stay)
        risk = by_stated[code]
        open_question = np.flatnonzero(code == OpenState.UNKNOWN.value)
        if open_question.size:
            guess = usual_states(
                timetable,
                ix[open_question],
                arrive[open_question],
                half[open_question],
                stay[open_question],
            )
            risk[open_question] = by_usual[guess]
        return risk.reshape(np.broadcast_shapes(rows.shape, arrive_s.shape))

    return judge
