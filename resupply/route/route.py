"""The ridden line: points, chainage, breaks and named marks.

In: a GPX file (or arrays). Out: a `Route`. Chainage is geodesic on WGS84; jumps between
segments (a ferry, a new file part) are breaks: shown on the map, no part of the length. What they
are taken for is in `jumps`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.errors import RouteError
from resupply.common.geodesy import geod, segment_lengths_m
from resupply.common.quantity import way
from resupply.common.show import shown

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from resupply.common.quantity import Said

__all__ = ["JOIN_M", "MAX_LENGTH_M", "Break", "Mark", "Route", "make_route"]

JOIN_M = 30.0
"""A part that starts this near the end of the last one goes on as ridden: two position fixes
may each be some 10 m off, and a recorder that pauses or splits a file leaves about that much.
It is less than any crossing worth a ferry, and too little to matter to a day's distance."""
MAX_LENGTH_M = 1e8
"""More than twice round the Earth is a fault in the file, and would be followed metre by metre."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A named waypoint of the file. `name` is hostile text: escape it where it is shown."""

    name: str
    lon: float
    lat: float


@dataclass(frozen=True, slots=True)
class Break:
    """A jump in the file: the line stops at one point and goes on at another."""

    index: int
    """Index of the last point before the jump; the next point is `index + 1`."""
    chainage_m: float
    length_m: float
    """Straight (geodesic) length of the jump; not part of the chainage."""
    number: int = 1
    """From 1, in the order of the file."""


@dataclass(frozen=True, slots=True, eq=False)
class Route:
    """A route of n points. Arrays are read-only."""

    name: str
    lon: NDArray[np.float64]
    """(n,) degrees, WGS84, -180 <= lon <= 180."""
    lat: NDArray[np.float64]
    """(n,) degrees, WGS84."""
    ele_m: NDArray[np.float64]
    """(n,) metres, NaN where the file has none."""
    chainage_m: NDArray[np.float64]
    """(n,) metres from the start, non-decreasing; a break adds nothing."""
    breaks: tuple[Break, ...] = ()
    marks: tuple[Mark, ...] = ()
    warnings: tuple[Said, ...] = ()
    ridden_jumps: tuple[Break, ...] = ()
    """Jumps that the rider says are ridden: straight pieces of the line."""

    @property
    def length_m(self) -> float:
        """Ridden length, metres."""
        return float(self.chainage_m[-1])

    def position_at(self, chainage_m: float) -> tuple[float, float]:
        """Longitude and latitude, degrees, at a chainage; see `positions_at`."""
        return _position_at(self, chainage_m)

    def positions_at(
        self, chainage_m: ArrayLike
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Longitudes and latitudes, degrees, at (k,) chainages (clipped to the route).

        Between two points the position is on the geodesic. At the chainage of a break the
        point before the jump is returned.
        """
        target_m = np.clip(np.asarray(chainage_m, dtype=float), 0.0, self.length_m)
        # The first point at or after the target, so that a break gives the point before it.
        after = np.searchsorted(self.chainage_m, target_m, side="left")
        lon, lat = self.lon[after], self.lat[after]
        between = np.flatnonzero(self.chainage_m[after] > target_m)
        if between.size:
            end = after[between]
            start = end - 1
            azimuth, _, _ = geod().inv(
                self.lon[start], self.lat[start], self.lon[end], self.lat[end]
            )
            along_m = target_m[between] - self.chainage_m[start]
            lon[between], lat[between], _ = geod().fwd(
                self.lon[start], self.lat[start], azimuth, along_m
            )
        return lon, lat


# The days of other plans of a trip end at the same camps.
@lru_cache(maxsize=8192)
def _position_at(route: Route, chainage_m: float) -> tuple[float, float]:
    lon, lat = route.positions_at(np.array([chainage_m]))
    return float(lon[0]), float(lat[0])


def make_route(
    parts: Sequence[tuple[ArrayLike, ArrayLike, ArrayLike | None]],
    *,
    name: str = "route",
    marks: Sequence[Mark] = (),
    warnings: Sequence[Said] = (),
) -> Route:
    """Join parts (segments of a file, in order) to one route.

    Parameters
    ----------
    parts
        For each part: lon (k,), lat (k,) in degrees, and elevation (k,) in metres or None.
        A part that starts within `JOIN_M` of the last one's end is joined on, the step between
        them ridden; any other starts after a break.

    Raises
    ------
    RouteError
        Fewer than two points, no length at all, or more than `MAX_LENGTH_M`.
    """
    lon = np.concatenate([np.asarray(part[0], float) for part in parts]) if parts else np.zeros(0)
    lat = np.concatenate([np.asarray(part[1], float) for part in parts]) if parts else np.zeros(0)
    if lon.size < 2:
        raise RouteError(
            f"the route has {lon.size} point{'' if lon.size == 1 else 's'}",
            mend="A route needs at least two points; export it again from your planner",
        )
    ele_m = np.concatenate(
        [
            np.full(len(np.asarray(part[0])), np.nan)
            if part[2] is None
            else np.asarray(part[2], float)
            for part in parts
        ]
    )
    step_m = segment_lengths_m(lon, lat)
    ends = np.cumsum([len(np.asarray(part[0])) for part in parts])[:-1] - 1
    jumps = [int(i) for i in ends if 0 <= i < step_m.size and step_m[i] > JOIN_M]
    ridden_m = step_m.copy()
    ridden_m[jumps] = 0.0
    chainage_m = np.concatenate([[0.0], np.cumsum(ridden_m)])
    if chainage_m[-1] <= 0.0:
        raise RouteError(
            "the route has no length: all its points are in one place",
            mend="Export the whole route, not a single waypoint",
        )
    if chainage_m[-1] > MAX_LENGTH_M:
        raise RouteError(
            f"the route is {shown(way(float(chainage_m[-1])))} long, which no one rides",
            mend="Look for stray points in your planner",
        )
    for array in (lon, lat, ele_m, chainage_m):
        array.flags.writeable = False
    return Route(
        name=name,
        lon=lon,
        lat=lat,
        ele_m=ele_m,
        chainage_m=chainage_m,
        breaks=tuple(
            Break(i, float(chainage_m[i]), float(step_m[i]), number)
            for number, i in enumerate(jumps, 1)
        ),
        marks=tuple(marks),
        warnings=tuple(warnings),
    )
