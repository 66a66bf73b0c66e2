"""Food shops ahead of the rider, the ways to them, and what stands beside them.

In: a `Prepared` and a `Trip`. Out: `Candidates` in the order in which the route is left for them;
they do not depend on the daily distance.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.errors import TripFileError
from resupply.places.place import Supply
from resupply.places.tags import SPECIALISTS
from resupply.plan.prepared import USUAL_KMH
from resupply.supply.candidates import Candidates, sells_meals
from resupply.supply.spots import beside

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.plan.prepared import Prepared
    from resupply.trip.settings import Trip

__all__ = ["ARRIVED_M", "candidates_of", "detour_seconds", "now_m"]

ARRIVED_M = 1000.0
"""A rider so near to a night's camp, or to the end, has arrived (an assumption)."""

_FASTEST_M_PER_MIN: Final = 2_000.0
"""Nobody rides to a shop near camp faster than that, 120 km/h: what is farther is not looked at."""


def now_m(trip: Trip, length_m: float) -> float:
    """Chainage at which the trip goes on; 0 for one that has not begun."""
    if trip.now.at_km is None:
        return 0.0
    here_m = trip.now.at_km * 1000.0
    if here_m >= length_m - ARRIVED_M:
        problem = f"is at or past the end of the route ({length_m / 1000.0:.0f} km)"
        raise TripFileError(
            f"now.at_km = {trip.now.at_km:g} {problem}",
            mend="Give the kilometre along the route at which you are",
            key="now.at_km",
            problem=problem,
        )
    return here_m


def detour_seconds(
    covered: Prepared, trip: Trip
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(m,) seconds more, and (m,) to the door, at the rider's own average speed if stated."""
    factor = 1.0
    if trip.pace.speed_kmh is not None:
        usual = covered.roads.matched.ride_time.average_kmh if covered.roads else USUAL_KMH
        factor = usual / trip.pace.speed_kmh
    return covered.detours.extra_s * factor, covered.detours.out_s * factor


def candidates_of(covered: Prepared, trip: Trip) -> Candidates:
    """Food shops to which a road is known, in the order they are left for.

    Those ahead, and for a rider under way those a short way behind: a camp may be near.
    """
    detour_s, out_s = detour_seconds(covered, trip)
    here_m = now_m(trip, covered.route.length_m)
    leave_m = covered.leave_m
    # From camp a rider under way goes to a shop passed before, too.
    first_m = here_m
    if trip.now.at_km is not None:
        first_m -= trip.choice.evening_way_min * _FASTEST_M_PER_MIN
    rows = np.flatnonzero(covered.food & covered.reachable & (leave_m >= first_m))
    rows = rows[np.argsort(leave_m[rows], kind="stable")]
    full = covered.supply[Supply.GROCERIES][rows]
    pins = set(trip.shops.pinned)
    # A shop behind counts as any other: what is pinned is still to come.
    ids = [
        covered.places.places[ix].id if ahead else ""
        for ix, ahead in zip(covered.passes.place_ix[rows], leave_m[rows] >= here_m, strict=True)
    ]
    food = trip.food
    places, place_ix = covered.places.places, covered.passes.place_ix[rows]
    special = np.array([places[ix].kind in SPECIALISTS for ix in place_ix], dtype=bool)
    pump_shop = np.array([Supply.FUEL in places[ix].supplies for ix in place_ix], dtype=bool)

    def sold_beside(kind: Supply) -> NDArray[np.bool_]:
        sellers = np.unique(covered.passes.place_ix[covered.supply[kind]])
        return beside(places, place_ix, sellers)

    return Candidates(
        row=rows,
        place_ix=place_ix,
        chainage_m=leave_m[rows],
        pass_m=covered.passes.chainage_m[rows],
        rejoin_m=covered.rejoin_m[rows],
        full=full,
        sells_meals=sells_meals(full, special),
        detour_s=detour_s[rows],
        out_s=out_s[rows],
        stop_min=np.where(full, food.full_stop_min, food.small_stop_min).astype(np.int64),
        special=(special | pump_shop) & ~full,
        ice=sold_beside(Supply.ICE),
        pump=sold_beside(Supply.FUEL),
        pinned=_first_of_each(ids, pins),
    )


def _first_of_each(ids: list[str], pins: set[str]) -> NDArray[np.bool_]:
    """Pin a place at its first pass only; the rider shops there once."""
    seen: set[str] = set()
    pinned = np.zeros(len(ids), dtype=bool)
    for i, place_id in enumerate(ids):
        if place_id in pins and place_id not in seen:
            seen.add(place_id)
            pinned[i] = True
    return pinned
