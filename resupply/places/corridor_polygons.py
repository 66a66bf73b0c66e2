"""The ground within reach of a stretch of route, as polygons to ask a map service for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.geodesy import segment_lengths_m
from resupply.places.near_route import samples_along

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

    from resupply.route.route import Route

__all__ = ["corridor_polygons"]

_TOLERANCE_M: Final = 250.0
"""The polygon is so much wider, and may be simplified by half of it: our choice."""
_SPACING_M: Final = 2_000.0
"""Between points of the line that is widened, at most: our choice."""


def corridor_polygons(
    route: Route, start_m: float, end_m: float, reach_m: float
) -> tuple[Polygon, ...]:
    """Polygons that hold every point within reach of a stretch, and little more.

    Parameters
    ----------
    start_m, end_m
        Chainages of the stretch, metres; at most some 500 km apart.
    reach_m
        Straight distance from the line, metres.

    Returns
    -------
    tuple of Polygon
        Degrees, five decimals, none across the antimeridian, without holes.
    """
    import pyproj
    import shapely

    lon, lat, chainage_m = _stretch(route, start_m, end_m)
    middle = lon.size // 2
    plane = pyproj.Proj(proj="aeqd", lon_0=lon[middle], lat_0=lat[middle], ellps="WGS84")
    x_m, y_m = plane(lon, lat)
    line = np.stack([x_m, y_m], axis=-1)
    # Across the direction to the middle this projection stretches: by 0.4 % at 1,000 km.
    away = np.hypot(x_m, y_m).max() / 6_371_000.0
    wide_m = (reach_m + _TOLERANCE_M) * (1.0 + away**2 / 6.0) + 20.0
    jumps = np.flatnonzero(segment_lengths_m(lon, lat) > np.diff(chainage_m) + 1.0) + 1
    pieces = [piece for piece in np.split(line, jumps) if len(piece)]
    shapes: list[BaseGeometry] = [
        shapely.LineString(piece) if len(piece) > 1 else shapely.Point(piece[0]) for piece in pieces
    ]
    ground = shapely.union_all([shape.buffer(wide_m, quad_segs=8) for shape in shapes])
    found: list[Polygon] = []
    for part in shapely.get_parts(ground.simplify(_TOLERANCE_M / 2.0)):
        edge = np.asarray(part.exterior.coords)
        edge_lon, edge_lat = plane(edge[:, 0], edge[:, 1], inverse=True)
        found += _split(np.asarray(edge_lon), np.asarray(edge_lat), float(lon[middle]))
    return tuple(found)


def _stretch(
    route: Route, start_m: float, end_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Longitude, latitude and chainage of points along a stretch, both its ends among them."""
    lon, lat, chainage_m = samples_along(route, _SPACING_M)
    inside = (chainage_m > start_m) & (chainage_m < end_m)
    first, last = route.position_at(start_m), route.position_at(end_m)
    return (
        np.concatenate([[first[0]], lon[inside], [last[0]]]),
        np.concatenate([[first[1]], lat[inside], [last[1]]]),
        np.concatenate([[start_m], chainage_m[inside], [end_m]]),
    )


def _split(lon: NDArray[np.float64], lat: NDArray[np.float64], middle_lon: float) -> list[Polygon]:
    """One polygon, or one each side of the antimeridian."""
    import shapely

    unwrapped = middle_lon + (lon - middle_lon + 180.0) % 360.0 - 180.0
    whole = shapely.Polygon(np.round(np.stack([unwrapped, lat], axis=-1), 5))
    found = []
    for turn in (-360.0, 0.0, 360.0):
        part = whole.intersection(shapely.box(turn - 180.0, -90.0, turn + 180.0, 90.0))
        for piece in shapely.get_parts(part):
            if piece.geom_type == "Polygon" and not piece.is_empty:
                edge = np.asarray(piece.exterior.coords) - [turn, 0.0]
                found.append(shapely.Polygon(np.round(edge, 5)))
    return found
