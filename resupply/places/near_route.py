"""Is a point near the route? A coarse, exact-enough answer for millions of points.

In: a `Route` and a reach. Out: a `Reach` that keeps every point within reach and some a little
farther. Cells are cubes of earth-centred space, so the antimeridian and the poles are ordinary.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.distinct import distinct, distinct_pairs
from resupply.common.geodesy import geod, margins_deg, to_ecef_m

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from resupply.route.route import Route

__all__ = [
    "BITS",
    "Reach",
    "cube_keys",
    "dense_ecef",
    "make_reach",
    "neighbour_keys",
    "samples_along",
]

BITS = 20
"""Of a key for each axis: cubes of 2.5 km reach 1.3 million km, far past the Earth."""


def cube_keys(ecef_m: NDArray[np.float64], side_m: float) -> NDArray[np.int64]:
    """Give the number of the cube that holds each point.

    Parameters
    ----------
    ecef_m
        (n, 3) metres.
    side_m
        Cube side, at least 20 m.
    """
    cell = np.floor(ecef_m / side_m).astype(np.int64) + (1 << (BITS - 1))
    return (cell[:, 0] << (2 * BITS)) | (cell[:, 1] << BITS) | cell[:, 2]


def neighbour_keys(keys: NDArray[np.int64]) -> NDArray[np.int64]:
    """Each cube and its 26 neighbours, (n, 27)."""
    step = np.array([-1, 0, 1], dtype=np.int64)
    offsets = (
        (step[:, None, None] << (2 * BITS)) + (step[None, :, None] << BITS) + step[None, None, :]
    ).ravel()
    return keys[:, None] + offsets[None, :]


def dense_ecef(
    ecef_m: NDArray[np.float64], line: NDArray[np.int64], step_m: float
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Fill lines with points until they are no farther apart than a step.

    Parameters
    ----------
    ecef_m
        (n, 3) metres, the points of all lines one after the other.
    line
        (n,) number of the line each point belongs to.

    Returns
    -------
    tuple
        (k, 3) points, metres, and for each the index of the point it follows, (k,).
    """
    piece_m = np.linalg.norm(np.diff(ecef_m, axis=0), axis=1)
    counts = np.ones(len(ecef_m), dtype=np.int64)
    same = line[1:] == line[:-1]
    counts[:-1][same] = np.maximum(np.ceil(piece_m[same] / step_m), 1).astype(np.int64)
    start = np.repeat(np.arange(len(ecef_m)), counts)
    points_m = ecef_m[start]
    # Most points are near enough to the next one, and stay as they are.
    between = np.flatnonzero(counts[start] > 1)
    own = start[between]
    first = np.cumsum(counts) - counts
    share = ((between - first[own]) / counts[own])[:, None]
    points_m[between] = ecef_m[own] * (1.0 - share) + ecef_m[own + 1] * share
    return points_m, start


def samples_along(
    route: Route, spacing_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Points along the ridden line no farther apart than a spacing, breaks left out.

    Returns
    -------
    tuple
        Longitude, latitude (degrees) and chainage (metres), each (k,); every point of the
        route is among them, those between are on the geodesic.
    """
    jumps = {brk.index for brk in route.breaks}
    length_m = np.diff(route.chainage_m)
    lon, lat, at_m = [route.lon], [route.lat], [route.chainage_m]
    for index in np.flatnonzero(length_m > spacing_m):
        if int(index) in jumps:
            continue
        between = int(np.ceil(length_m[index] / spacing_m)) - 1
        points = geod().npts(
            route.lon[index], route.lat[index], route.lon[index + 1], route.lat[index + 1], between
        )
        lon.append(np.array([point[0] for point in points]))
        lat.append(np.array([point[1] for point in points]))
        share = np.arange(1, between + 1) / (between + 1)
        at_m.append(route.chainage_m[index] + share * length_m[index])
    chainage_m = np.concatenate(at_m)
    order = np.argsort(chainage_m, kind="stable")
    return np.concatenate(lon)[order], np.concatenate(lat)[order], chainage_m[order]


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """The surroundings of a route as a sorted set of cubes, with a coarse set of degree cells."""

    reach_m: float
    side_m: float
    cubes: NDArray[np.int64]
    """(k,) sorted."""
    degree_cells: frozenset[tuple[int, int]]
    """Whole-degree cells (lon, lat) that may hold a point within reach."""

    def near(self, lon: ArrayLike, lat: ArrayLike) -> NDArray[np.bool_]:
        """Whether each point may be within reach: never wrongly no."""
        return self.holds(to_ecef_m(lon, lat))

    def holds(self, ecef_m: NDArray[np.float64]) -> NDArray[np.bool_]:
        """As `near`, for earth-centred points (n, 3), metres."""
        keys = cube_keys(ecef_m, self.side_m)
        at = np.minimum(np.searchsorted(self.cubes, keys), self.cubes.size - 1)
        return np.asarray(self.cubes[at] == keys)


def make_reach(route: Route, reach_m: float) -> Reach:
    """Surroundings of a route.

    Parameters
    ----------
    reach_m
        Straight distance from the route, metres; points up to about 3 times that far may
        be kept too.
    """
    # A point within reach of the line is within reach + spacing / 2 of a sample of it.
    spacing_m = max(reach_m / 4.0, 100.0)
    side_m = reach_m + spacing_m
    lon, lat, _ = samples_along(route, spacing_m)
    cubes = distinct(neighbour_keys(distinct(cube_keys(to_ecef_m(lon, lat), side_m))))
    return Reach(reach_m, side_m, cubes, _degree_cells(lon, lat, side_m))


def _degree_cells(
    lon: NDArray[np.float64], lat: NDArray[np.float64], margin_m: float
) -> frozenset[tuple[int, int]]:
    """Whole-degree cells within a margin of the points; all of a row close to a pole."""
    cells: set[tuple[int, int]] = set()
    corners = distinct_pairs(np.floor(np.stack([lon, lat], axis=-1) * 20.0).astype(int)) / 20.0
    farthest = np.maximum(np.abs(corners[:, 1]), np.abs(corners[:, 1] + 0.05))
    margin_lat, margins_lon = margins_deg(farthest, margin_m)
    for (west, south), margin_lon in zip(corners, margins_lon, strict=True):
        low, high = south - margin_lat, south + 0.05 + margin_lat
        first, last = np.floor(west - margin_lon), np.floor(west + 0.05 + margin_lon)
        columns = range(-180, 181) if last - first >= 359 else range(int(first), int(last) + 1)
        for y in range(int(np.floor(low)), int(np.floor(high)) + 1):
            for x in columns:
                wrapped = (x + 180) % 360 - 180
                cells.add((wrapped, y))
                if wrapped == -180:
                    cells.add((180, y))
    return frozenset(cells)
