"""Where to buy ice: one pass a day at most, stated before likely, close to camp.

How much to buy is the cold chain's business; it never changes this choice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import OpenState
from resupply.places.place import Confidence, Supply

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.supply.food_stops import SupplyPlan
    from resupply.supply.pass_table import PassTable

__all__ = ["IceStop", "choose_ice"]


@dataclass(frozen=True, slots=True)
class IceStop:
    """Ice for one day."""

    row: int
    leg_ix: int
    confidence: Confidence
    at_food_stop: bool
    """The rider stops there for food anyway."""


def choose_ice(
    prepared: PassTable, clock: RideClock, supply: SupplyPlan, risk: NDArray[np.int8]
) -> tuple[IceStop, ...]:
    """Pick, for each leg, the ice pass to use; legs without one are left out.

    Stated ice wins over likely ice; then surer hours; then a place where the rider stops
    anyway; then the pass nearest to the day's end, so that the ice is fresh in camp.
    """
    passes = prepared.passes
    # On a trip under way all that is behind would fall into its first leg.
    ahead = passes.chainage_m >= clock.legs[0].start_m
    usable = prepared.supply[Supply.ICE] & prepared.reachable & (risk != OpenState.SHUT)
    rows = np.flatnonzero(usable & ahead)
    stops = {stop.row for stop in supply.stops}
    legs = clock.leg_ix(passes.chainage_m[rows]) if rows.size else rows
    chosen = []
    for leg in range(len(clock.legs)):
        here = rows[legs == leg]
        if here.size == 0:
            continue

        def rank(row: int) -> tuple[bool, int, bool, float]:
            place = prepared.places.places[int(passes.place_ix[row])]
            likely = place.supplies[Supply.ICE] is not Confidence.STATED
            return likely, int(risk[row]), row not in stops, -float(passes.chainage_m[row])

        best = min(here.tolist(), key=rank)
        place = prepared.places.places[int(passes.place_ix[best])]
        chosen.append(IceStop(best, leg, place.supplies[Supply.ICE], best in stops))
    return tuple(chosen)
