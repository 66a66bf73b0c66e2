"""What an extract covers, whatever the route: the cubes of space with roads around them.

In: the roads of a whole extract. Out: the sorted keys of all cubes in which a point of a route is
covered, by the rule of `resupply.places.coverage`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.distinct import distinct, distinct_pairs
from resupply.common.geodesy import WGS84_A_M, WGS84_F, margins_deg, to_ecef_m
from resupply.places.coverage import ROADS_WITHOUT_BOX, SIDE_M
from resupply.places.near_route import BITS, cube_keys, dense_ecef, neighbour_keys

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.places.osm_file import Box

__all__ = ["CoverGrid", "cube_boxes", "on_surface"]

_PAIRS_AT_ONCE: Final = 500_000
"""Sorted at once: 8 MB, our choice."""
_ROADS_AT_ONCE: Final = 50_000
"""Each stands for itself and 26 neighbours: our choice; bounds the memory."""


class CoverGrid:
    """Gathers, for each cube, the first few roads that touch it.

    Three different roads around a point are enough for any rule, so that three for each cube
    lose nothing. Memory: 16 bytes for each road of a cube, some 100 MB for a continent.
    """

    def __init__(self) -> None:
        self.west, self.south, self.east, self.north = 180.0, 90.0, -180.0, -90.0
        self._count = 0
        self._pairs = np.zeros((0, 2), dtype=np.int64)
        self._fresh: list[NDArray[np.int64]] = []
        self._fresh_rows = 0

    def see(self, lonlat: NDArray[np.float64]) -> None:
        """Note how far the data reaches, (k, 2) degrees."""
        if len(lonlat):
            self.west, self.south = np.minimum((self.west, self.south), lonlat.min(axis=0)).tolist()
            self.east, self.north = np.maximum((self.east, self.north), lonlat.max(axis=0)).tolist()

    def take(self, lonlat: NDArray[np.float64], road: NDArray[np.int64]) -> None:
        """Note roads: their points (n, 2), degrees, and the number of each point's road."""
        self.see(lonlat)
        points_m, source = dense_ecef(to_ecef_m(*lonlat.T), road, SIDE_M / 2.0)
        pairs = np.stack([cube_keys(points_m, SIDE_M), self._count + road[source]], axis=-1)
        self._count += int(road[-1]) + 1
        # Most points share their cube with the one before.
        fresh = pairs[np.append(True, (pairs[1:] != pairs[:-1]).any(axis=1))]
        self._fresh.append(fresh)
        self._fresh_rows += len(fresh)
        if self._fresh_rows > max(_PAIRS_AT_ONCE, len(self._pairs) // 2):
            self._settle()

    def _settle(self) -> None:
        pairs = distinct_pairs(np.concatenate([self._pairs, *self._fresh]))
        # Place of each pair among those of its cube.
        start = np.flatnonzero(np.append(True, pairs[1:, 0] != pairs[:-1, 0]))
        size = np.diff(np.append(start, len(pairs)))
        rank = np.arange(len(pairs)) - np.repeat(start, size)
        self._pairs = pairs[rank < ROADS_WITHOUT_BOX]
        self._fresh, self._fresh_rows = [], 0

    @property
    def extent(self) -> Box | None:
        """How far the data reaches; None if there is none."""
        if self.west > self.east:
            return None
        return self.west, self.south, self.east, self.north

    def covered(self, least: int) -> NDArray[np.int64]:
        """Cubes, sorted, with at least so many roads in them and the 26 around.

        Only those through which the ground passes: no route goes through the others.
        """
        if self._fresh:
            self._settle()
        keys = self._pairs[:, 0]
        if not keys.size:
            return np.zeros(0, dtype=np.int64)
        column = keys >> (2 * BITS)
        columns = distinct(column)
        # Slabs of whole columns that hold a bounded number of roads, neighbours with them.
        weight = np.cumsum(np.bincount(column - columns[0]))
        slab = weight[columns - columns[0]] // _ROADS_AT_ONCE
        found = []
        for one in distinct(slab):
            low, high = columns[slab == one][[0, -1]]
            first = np.searchsorted(column, low - 2)
            last = np.searchsorted(column, high + 2, side="right")
            around = neighbour_keys(keys[first:last])
            roads = np.broadcast_to(self._pairs[first:last, 1:], around.shape)
            in_slab = (around >> (2 * BITS) >= low - 1) & (around >> (2 * BITS) <= high + 1)
            pairs = distinct_pairs(np.stack([around[in_slab], roads[in_slab]], axis=-1))
            cubes, counts = np.unique(pairs[:, 0], return_counts=True)
            found.append(cubes[counts >= least])
        cubes = distinct(np.concatenate(found))
        return np.asarray(cubes[on_surface(cubes, SIDE_M)])


def _centres_m(cubes: NDArray[np.int64], side_m: float) -> NDArray[np.float64]:
    mask = (1 << BITS) - 1
    cell = np.stack([cubes >> (2 * BITS), (cubes >> BITS) & mask, cubes & mask], axis=-1)
    return (cell - (1 << (BITS - 1)) + 0.5) * side_m


def on_surface(cubes: NDArray[np.int64], side_m: float) -> NDArray[np.bool_]:
    """Whether the ellipsoid may pass through each cube: never wrongly no."""
    centre_m = _centres_m(cubes, side_m)
    polar_m = WGS84_A_M * (1.0 - WGS84_F)
    scaled = np.linalg.norm(centre_m / [WGS84_A_M, WGS84_A_M, polar_m], axis=1)
    # Half a diagonal, and 1 % for the flattening and the size of the cube.
    return np.asarray(np.abs(scaled - 1.0) * WGS84_A_M <= 0.875 * side_m)


def cube_boxes(cubes: NDArray[np.int64], side_m: float) -> NDArray[np.float64]:
    """Boxes (west, south, east, north) that hold the ground in each cube, (k, 4) degrees.

    A cube at the antimeridian has a second box, one turn away; near a pole a box goes all
    the way round.
    """
    cubes = cubes[on_surface(cubes, side_m)]
    x_m, y_m, z_m = _centres_m(cubes, side_m).T
    across_m = np.hypot(x_m, y_m)
    # Bowring's first step: exact on the ellipsoid, and metres wrong so near to it.
    e2 = WGS84_F * (2.0 - WGS84_F)
    lat = np.degrees(np.arctan2(z_m, across_m * (1.0 - e2)))
    lon = np.degrees(np.arctan2(y_m, x_m))
    margin_lat, margin_lon = margins_deg(lat, 0.9 * side_m)
    boxes = np.stack([lon - margin_lon, lat - margin_lat, lon + margin_lon, lat + margin_lat], 1)
    east, west = boxes[boxes[:, 2] > 180.0], boxes[boxes[:, 0] < -180.0]
    turn = np.array([360.0, 0.0, 360.0, 0.0])
    return np.concatenate([boxes, east - turn, west + turn])
