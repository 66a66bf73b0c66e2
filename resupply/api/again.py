"""What was read for one trip, made ready for other settings of it without reading anything."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.errors import TripFileError
from resupply.places.read import reach_m
from resupply.plan.prepare import rejoin

if TYPE_CHECKING:
    from resupply.plan.prepared import Prepared
    from resupply.trip.settings import Trip

__all__ = ["prepared_for"]

_READ = (
    "route",
    "map.extracts",
    "map.service",
    "map.service_url",
    "map.roads",
    "map.speeds",
    "region.country",
    "region.time_zone",
    "region.usual_hours",
    "food.dishes",
    "weather.forecast",
    "weather.forecast_url",
)
"""Settings that name what is read or asked for."""
_CORRIDORS = ("corridor_km", "ice_km", "water_km", "fuel_km", "camp_km", "meal_out_km")


def prepared_for(prepared: Prepared, read: Trip, trip: Trip) -> Prepared:
    """Make what was read for one trip fit another.

    Parameters
    ----------
    prepared
        Read for `read`, whatever it is joined for.

    Raises
    ------
    TripFileError
        The new trip needs what was not read.
    """
    for key in _READ:
        if _value(trip, key) != _value(read, key):
            raise _not_read(key, "needs files or answers that were not read")
    far_m = reach_m(read)
    if reach_m(trip) > far_m:
        wide = next(
            name for name in _CORRIDORS if (getattr(trip.map, name) or 0.0) * 1000.0 > far_m
        )
        raise _not_read(f"map.{wide}", f"nothing farther than {far_m / 1000.0:g} km off was read")
    return rejoin(prepared, trip)


def _value(trip: Trip, key: str) -> object:
    value: object = trip
    for part in key.split("."):
        value = getattr(value, part)
    return value


def _not_read(key: str, why: str) -> TripFileError:
    problem = f"{why}; call resupply.plan for it"
    return TripFileError(f"{key}: {problem}", key=key, problem=problem)
