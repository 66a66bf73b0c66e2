"""Fuel along a planned trip: gaps between stations, and where to fill up.

In: a prepared trip, its food stops and what each pass rests on. Out: a `FuelPlan`, or None where
the trip states no range. Filling stations known to be shut are no stations.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from resupply.common.errors import TripFileError
from resupply.hours.state import OpenState
from resupply.places.fuels import supplied
from resupply.places.place import Confidence, RouteSpan, Supply
from resupply.route.jumps import crossings_of
from resupply.supply.fuel_range import FuelPlan, Station, beside_shops, plan_fuel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from resupply.places.place import Place
    from resupply.supply.food_stops import FoodStop
    from resupply.supply.pass_table import PassTable
    from resupply.trip.settings import Trip

__all__ = ["fuel_of"]


def fuel_of(
    prepared: PassTable,
    trip: Trip,
    stops: Sequence[FoodStop],
    risk: NDArray[np.int8],
    *,
    start_m: float = 0.0,
) -> FuelPlan | None:
    """Choose fuel stops; those beside a food stop cost no way of their own.

    Parameters
    ----------
    risk
        (m,) code of every pass on arrival.
    start_m
        Where the trip starts, with a full tank, or goes on with what the rider says is in it.

    Raises
    ------
    TripFileError
        The reserve is not less than the range.
    """
    keys = trip.fuel
    if keys.range_km is None:
        return None
    if keys.reserve_km >= keys.range_km:
        raise TripFileError(
            f"fuel.reserve_km = {keys.reserve_km:g} is not less than fuel.range_km",
            mend="The reserve is what stays in the tank",
            key="fuel.reserve_km",
            problem=f"is not less than the range, {keys.range_km:g} km",
        )
    passes, places = prepared.passes, prepared.places.places
    leave_m = prepared.leave_m
    usable = prepared.supply[Supply.FUEL] & prepared.reachable & (risk != OpenState.SHUT)
    usable &= leave_m >= start_m
    rows = np.flatnonzero(usable)
    rows = rows[np.argsort(leave_m[rows], kind="stable")]
    lon = np.array([places[ix].lon for ix in passes.place_ix])
    lat = np.array([places[ix].lat for ix in passes.place_ix])
    shops = np.array([stop.row for stop in stops], dtype=np.int64)
    beside = beside_shops(
        lon[rows],
        lat[rows],
        passes.chainage_m[rows],
        shop_lon=lon[shops],
        shop_lat=lat[shops],
        shop_chainage_m=passes.chainage_m[shops],
    )
    detours = prepared.detours
    stations = [
        Station(
            row=int(row),
            chainage_m=float(leave_m[row]) - start_m,
            extra_m=0.0 if joined else float(detours.extra_m[row]),
            extra_s=0.0 if joined else float(detours.extra_s[row]),
            joined=bool(joined),
            doubtful=_sold(places[int(passes.place_ix[row])], trip) is not Confidence.STATED,
        )
        for row, joined in zip(rows.tolist(), beside.tolist(), strict=True)
    ]
    return plan_fuel(
        stations,
        length_m=prepared.route.length_m - start_m,
        range_m=keys.range_km * 1000.0,
        reserve_m=keys.reserve_km * 1000.0,
        tank_m=_tank_m(trip),
        also_m=[
            *((stop.chainage_m - start_m, float(detours.extra_m[stop.row])) for stop in stops),
            # A jump that may be ridden takes its fuel, whatever it turns out to be.
            *(
                (one.chainage_m - start_m, one.fuel_m)
                for one in crossings_of(prepared.route, trip.jumps)
                if one.fuel_m and one.chainage_m >= start_m
            ),
        ],
        unknown=[
            RouteSpan(s.start_m - start_m, s.end_m - start_m, s.reason)
            for s in prepared.places.coverage.unknown
        ],
    )


def _sold(place: Place, trip: Trip) -> Confidence | None:
    return supplied(place, trip.fuel.takes).get(Supply.FUEL)


def _tank_m(trip: Trip) -> float | Literal["full", "unknown"]:
    """Tell what the fuel reaches where the trip starts or goes on."""
    if trip.now.at_km is None:
        return "full"
    return "unknown" if trip.now.fuel_km is None else trip.now.fuel_km * 1000.0
