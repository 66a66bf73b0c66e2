"""Where a rider under way is on the route, and what time it is there.

In: a position as a phone shows it, or the trip's time zone. Out: a kilometre, a local time.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from resupply.common.errors import ResupplyError, TripFileError
from resupply.passes.find import find_passes
from resupply.route.jumps import with_ridden_jumps

if TYPE_CHECKING:
    from pathlib import Path

    from resupply.route.route import Route
    from resupply.trip.settings import Trip

__all__ = ["at_km_of", "local_now", "ridden_route"]

_BESIDE_M = 2_000.0
"""Farther from the route nobody is on it (an assumption)."""
_BESIDE_TOO_M = 150.0
"""What a phone's position may be off (an assumption; the page's script takes the same)."""


def ridden_route(trip: Trip, folder: Path) -> Route:
    """Read the line that a trip rides.

    Parameters
    ----------
    folder
        The trip's route file is relative to it.

    Raises
    ------
    ResupplyError
        The trip names no route, or it cannot be read.
    """
    from resupply.route.read import read_route

    if not trip.route:
        raise TripFileError("no route is given", mend="Name a route file as the key route")
    return with_ridden_jumps(read_route(folder / trip.route), trip.jumps)


def at_km_of(route: Route, position: str, *, option: str = "--position") -> float:
    """Kilometre of the route at which a position is.

    Parameters
    ----------
    position
        Latitude and longitude in degrees, in this order, as phones show them: "46.61, -27.13".
    option
        What gave it, for errors.

    Raises
    ------
    ResupplyError
        That is no position, it is not beside the route, or the route comes by there twice.
    """
    lon, lat = _lon_lat(position)
    passes = find_passes(route, lon, lat, reach_m=_BESIDE_M)
    if not len(passes):
        raise ResupplyError(
            f"{option} {position}: the route is more than {_BESIDE_M / 1000.0:g} km from there",
            mend="Write latitude, then longitude, or give the kilometre with --at-km",
        )
    # Of two times the route comes by, the one beside which the rider stands.
    near = passes.offset_m <= passes.offset_m.min() + _BESIDE_TOO_M
    found = [at_m / 1000.0 for at_m in passes.chainage_m[near].tolist()]
    if len(found) > 1:
        said = ", ".join(f"{km:.1f}" for km in found)
        raise ResupplyError(
            f"{option} {position}: the route comes by there more than once, at km {said}",
            mend="Give the one you are at with --at-km",
        )
    return float(round(found[0], 2))


def local_now(zone: str | None) -> dt.datetime:
    """Tell the time in a zone, without its offset; by this machine's clock where none is given.

    A zone that there is not counts as none: the plan refuses it with a line of its own.
    """
    try:
        known = ZoneInfo(zone) if zone else None
    except (ZoneInfoNotFoundError, ValueError, OSError):
        known = None
    return dt.datetime.now(known).replace(tzinfo=None)


def _lon_lat(position: str) -> tuple[float, float]:
    parts = position.replace(",", " ").split()
    try:
        lat, lon = (float(part) for part in parts)
    except ValueError:
        lat = lon = math.nan
    if not (abs(lat) <= 90.0 and abs(lon) <= 180.0):
        raise ResupplyError(
            f"--position {position}: that is no position",
            mend="Write latitude, then longitude, in degrees: --position 46.61,-27.13",
        )
    return lon, lat
