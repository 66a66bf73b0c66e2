"""Put lines and marks of KML, GeoJSON and FIT files into a `GpxContent`, checked alike.

In: positions as a reader found them. Out: parts and marks within the limits of the GPX reader,
or one clear error.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.errors import RouteError
from resupply.common.geodesy import on_earth
from resupply.common.text import one_line
from resupply.route.content import MAX_MARKS, MAX_PARTS, MAX_POINTS
from resupply.route.route import Mark

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from resupply.route.content import GpxContent

__all__ = ["add_mark", "add_part", "check_points"]

# Beyond the deepest shaft and the highest airliner an elevation is unknown, not a fault.
_MAX_ELE_M: Final = 20_000.0
_RANGES: Final = "Latitude is -90 to 90, longitude -180 to 180, in degrees; longitude comes first"


def add_part(
    content: GpxContent, lon: ArrayLike, lat: ArrayLike, ele_m: ArrayLike, *, where: str
) -> None:
    """Add one line.

    Parameters
    ----------
    content
        Added to its tracks.
    lon, lat
        (k,) degrees; k = 0 adds nothing.
    ele_m
        (k,) metres, NaN where not known. A line at height 0 throughout has none: that is what
        drawing tools write.
    where
        File and place in it, for errors.

    Raises
    ------
    RouteError
        A position out of range, or more points or parts than are read.
    """
    lon_deg, lat_deg = np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)
    height_m = np.array(ele_m, dtype=float)
    if not lon_deg.size:
        return
    good = on_earth(lon_deg, lat_deg)
    if not good.all():
        at = int(np.argmin(good))
        raise _bad_position(lon_deg[at], lat_deg[at], f"{where}, point {at + 1:,}")
    height_m[~(np.abs(height_m) <= _MAX_ELE_M)] = np.nan
    if not np.any(height_m[np.isfinite(height_m)]):
        height_m[:] = np.nan
    line = content.tracks
    line.starts.append(len(line.lon))
    if len(line.starts) > MAX_PARTS:
        raise RouteError(
            f"the file holds more than {MAX_PARTS:,} separate pieces of line",
            where=where,
            mend="Export only the route you mean to ride",
        )
    check_points(len(line.lon) + lon_deg.size, where=where)
    for column, more in zip(
        (line.lon, line.lat, line.ele_m), (lon_deg, lat_deg, height_m), strict=True
    ):
        column.frombytes(more.tobytes())
    line.count += 1


def add_mark(content: GpxContent, name: str, lon: float, lat: float, *, where: str) -> None:
    """Add a named point; what is above the limit is counted.

    Raises
    ------
    RouteError
        The position is out of range.
    """
    if not (abs(lon) <= 180.0 and abs(lat) <= 90.0):
        raise _bad_position(lon, lat, where)
    if len(content.marks) < MAX_MARKS:
        content.marks.append(Mark(one_line(name), lon, lat))
    else:
        content.marks_left_out += 1


def check_points(count: int, *, where: str) -> None:
    """Refuse more points than are read.

    Raises
    ------
    RouteError
        Above `MAX_POINTS`.
    """
    if count > MAX_POINTS:
        raise RouteError(
            f"the file holds more than {MAX_POINTS:,} points",
            where=where,
            mend="Split it, or export it with fewer points",
        )


def _bad_position(lon: float, lat: float, where: str) -> RouteError:
    return RouteError(
        f"a point has no usable position (longitude {lon:g}, latitude {lat:g})",
        where=where,
        mend=_RANGES,
    )
