"""Where to buy ice: with the food where that can be, else at a place that sells no food.

How much to buy is the cold chain's business; it never changes this choice. A shop that sells food
is visited for food or not at all: nobody stands in a supermarket for ice alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import OpenState
from resupply.places.place import Confidence, Supply
from resupply.supply.spots import beside

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.supply.food_stops import FoodStop, SupplyPlan
    from resupply.supply.pass_table import PassTable

__all__ = ["IceStop", "choose_ice", "ice_rows", "sold_at_stops"]


@dataclass(frozen=True, slots=True)
class IceStop:
    """Ice for one day."""

    row: int
    leg_ix: int
    confidence: Confidence
    at_stop: int
    """Number of the food stop at the same spot; 0 if none."""


def sold_at_stops(
    prepared: PassTable, supply: SupplyPlan, kind: Supply, risk: NDArray[np.int8]
) -> dict[int, FoodStop]:
    """Tell what the food stops have at their spot: pass row of each seller to the stop.

    The shop itself goes before what stands beside it; a door known to be shut sells nothing.
    """
    passes, places = prepared.passes, prepared.places.places
    sells = prepared.supply[kind] & prepared.reachable & (risk != OpenState.SHUT)
    found: dict[int, FoodStop] = {}
    for stop in supply.stops:
        if sells[stop.row]:
            found[stop.row] = stop
            continue
        near_m = np.abs(passes.chainage_m - passes.chainage_m[stop.row])
        rows = np.flatnonzero(sells & (near_m <= _SAME_PASS_M))
        own = passes.place_ix[[stop.row]]
        there = rows[beside(places, passes.place_ix[rows], own)]
        found |= {int(row): stop for row in there if int(row) not in found}
    return found


_SAME_PASS_M = 2_000.0
"""A place passed again farther on is not there now (our choice)."""


def ice_rows(
    prepared: PassTable,
    clock: RideClock,
    risk: NDArray[np.int8],
    joined: Collection[int],
    *,
    free_days: Collection[int] = (),
    at_food_shops: bool = False,
) -> NDArray[np.int64]:
    """Pass rows at which ice may be bought: at food stops, and where no food is sold.

    Parameters
    ----------
    joined
        Sellers of ice at the spots of the food stops.
    free_days
        Numbers of the riding days on which the rider does not want to shop: ice is bought only at a
        shop that they have asked for all the same.
    at_food_shops
        At all other food shops too: what the rider could do.
    """
    # On a trip under way all that is behind would fall into its first leg.
    ahead = prepared.passes.chainage_m >= clock.legs[0].start_m
    usable = prepared.supply[Supply.ICE] & prepared.reachable & (risk != OpenState.SHUT)
    usable &= ahead
    if free_days:
        number = np.array([leg.number for leg in clock.legs])
        usable &= ~np.isin(number[clock.leg_ix(prepared.passes.chainage_m)], list(free_days))
    if not at_food_shops:
        usable &= ~prepared.food
    usable[list(joined)] = True
    return np.flatnonzero(usable)


def choose_ice(
    prepared: PassTable,
    clock: RideClock,
    risk: NDArray[np.int8],
    joined: Mapping[int, FoodStop],
    *,
    free_days: Collection[int] = (),
    at_food_shops: bool = False,
) -> tuple[IceStop, ...]:
    """Pick, for each leg, the ice pass to use; legs without one are left out.

    Stated ice wins over likely ice; then surer hours; then a spot where the rider buys food; then
    the pass nearest to the day's end, so that the ice is fresh in camp.

    Parameters
    ----------
    joined
        Sellers of ice at the spots of the food stops; see `sold_at_stops`.
    free_days, at_food_shops
        See `ice_rows`.
    """
    passes = prepared.passes
    rows = ice_rows(prepared, clock, risk, joined, free_days=free_days, at_food_shops=at_food_shops)
    legs = clock.leg_ix(passes.chainage_m[rows]) if rows.size else rows
    for k, row in enumerate(rows.tolist()):
        if row in joined:
            legs[k] = joined[row].leg_ix
    chosen = []
    for leg in range(len(clock.legs)):
        here = rows[legs == leg]
        if here.size == 0:
            continue

        def rank(row: int) -> tuple[bool, int, bool, float]:
            place = prepared.places.places[int(passes.place_ix[row])]
            likely = place.supplies[Supply.ICE] is not Confidence.STATED
            return likely, int(risk[row]), row not in joined, -float(passes.chainage_m[row])

        best = min(here.tolist(), key=rank)
        place = prepared.places.places[int(passes.place_ix[best])]
        at_stop = joined[best].number if best in joined else 0
        chosen.append(IceStop(best, leg, place.supplies[Supply.ICE], at_stop))
    return tuple(chosen)
