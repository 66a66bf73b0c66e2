"""The ground of Varrow: heights, shores, lakes and rivers, from seeded noise.

Everything is computed on a square grid in local kilometres (x east, y north of the island's
middle) with plain arithmetic, so that the same seed gives the same island everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import random
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

__all__ = [
    "Ground",
    "contours",
    "make_ground",
    "polygon_area_km2",
    "roughen",
    "to_km",
    "to_lon_lat",
    "value_noise",
]

Point = tuple[float, float]

LON_0, LAT_0 = -26.5, 47.0
KM_PER_DEG_LAT = 111.17
KM_PER_DEG_LON = 75.98
"""Lengths of a degree at 47° N, to a part in a thousand: enough to lay an island out."""

X_MIN, X_MAX, Y_MIN, Y_MAX = -180.0, 180.0, -140.0, 150.0
CELL_KM = 0.5


def to_lon_lat(x_km: float, y_km: float) -> Point:
    """Degrees to six decimals (0.1 m), the precision of every file written."""
    return round(LON_0 + x_km / KM_PER_DEG_LON, 6), round(LAT_0 + y_km / KM_PER_DEG_LAT, 6)


def to_km(point: Point) -> Point:
    """Local kilometres of a point in degrees."""
    return (point[0] - LON_0) * KM_PER_DEG_LON, (point[1] - LAT_0) * KM_PER_DEG_LAT


@dataclass(frozen=True, eq=False)
class Ground:
    """Heights in metres on a grid; below zero is sea."""

    height_m: NDArray[np.float64]
    """(rows, columns), row 0 in the south."""
    tarn: NDArray[np.float64]
    """Above zero where a lake lies on land."""

    def cell(self, x_km: float, y_km: float) -> tuple[int, int]:
        """Row and column of the nearest grid point."""
        return round((y_km - Y_MIN) / CELL_KM), round((x_km - X_MIN) / CELL_KM)

    def is_dry(self, x_km: float, y_km: float) -> bool:
        """Whether a point stands clear of the sea and of lakes."""
        row, column = self.cell(x_km, y_km)
        around = np.s_[row - 1 : row + 2, column - 1 : column + 2]
        return bool(self.height_m[around].min() > 0.5 and self.tarn[around].max() < 0.0)

    def height_at(self, x_km: float, y_km: float) -> float:
        """Height in metres, bilinear."""
        row, column = (y_km - Y_MIN) / CELL_KM, (x_km - X_MIN) / CELL_KM
        r, c = int(row), int(column)
        u, v = row - r, column - c
        h = self.height_m
        south = h[r, c] * (1 - v) + h[r, c + 1] * v
        north = h[r + 1, c] * (1 - v) + h[r + 1, c + 1] * v
        return float(south * (1 - u) + north * u)


def value_noise(
    x: NDArray[np.float64], y: NDArray[np.float64], *, wavelength_km: float, octaves: int, seed: int
) -> NDArray[np.float64]:
    """Smooth fractal noise in about -1 … 1, same shape as `x`."""
    total, size, weight = np.zeros_like(x), 1.0, 0.0
    for octave in range(octaves):
        rng = np.random.RandomState(seed + 101 * octave)
        scale = wavelength_km / 2.0**octave
        u, v = (x - X_MIN) / scale + 3.0, (y - Y_MIN) / scale + 3.0
        lattice = rng.random_sample((int(v.max()) + 8, int(u.max()) + 8)) * 2.0 - 1.0
        i, j = u.astype(int), v.astype(int)
        fu, fv = u - i, v - j
        fu = fu * fu * fu * (fu * (fu * 6.0 - 15.0) + 10.0)
        fv = fv * fv * fv * (fv * (fv * 6.0 - 15.0) + 10.0)
        low = lattice[j, i] * (1 - fu) + lattice[j, i + 1] * fu
        high = lattice[j + 1, i] * (1 - fu) + lattice[j + 1, i + 1] * fu
        total += size * (low * (1 - fv) + high * fv)
        weight += size
        size *= 0.52
    return total / weight * 1.6


def make_ground(seed: int) -> Ground:
    """Two islands: Varrow, and Sundra in the north-east."""
    xs = np.arange(X_MIN, X_MAX + CELL_KM, CELL_KM)
    ys = np.arange(Y_MIN, Y_MAX + CELL_KM, CELL_KM)
    x, y = np.meshgrid(xs, ys)
    x_bent = x + 30.0 * value_noise(x, y, wavelength_km=130, octaves=3, seed=seed)
    y_bent = y + 26.0 * value_noise(x, y, wavelength_km=110, octaves=3, seed=seed + 7)
    main = 1.0 - np.sqrt(((x_bent + 16.0) / 146.0) ** 2 + ((y_bent + 14.0) / 92.0) ** 2)
    small = 0.55 * (1.0 - np.sqrt(((x_bent - 118.0) / 58.0) ** 2 + ((y_bent - 104.0) / 34.0) ** 2))
    shape = np.maximum(main, small)
    shape = shape + 0.21 * value_noise(x, y, wavelength_km=42, octaves=6, seed=seed + 20)
    # Open sea to the edge of the sheet.
    edge = np.minimum(np.minimum(x - X_MIN, X_MAX - x), np.minimum(y - Y_MIN, Y_MAX - y))
    shape = shape - np.clip(0.6 - edge / 20.0, 0.0, None)
    ridges = 1.0 - np.abs(value_noise(x, y, wavelength_km=52, octaves=6, seed=seed + 40))
    rise = np.clip(shape, 0.0, 0.5) / 0.5
    hills = 0.30 + 1.15 * np.clip(ridges, 0.0, 1.0) ** 3
    height = 900.0 * rise**1.15 * hills + 45.0 * np.clip(shape * 12.0, 0.0, 1.0)
    tarns = value_noise(x, y, wavelength_km=17, octaves=4, seed=seed + 60)
    tarn = np.round(np.where(shape > 0.07, tarns - 0.76, -0.2), 5)
    height = np.where(shape > 0.0, np.maximum(height, 0.5), shape * 900.0)
    return Ground(np.asarray(np.round(height, 2), float), np.asarray(tarn, float))


def contours(field: NDArray[np.float64], level: float) -> list[list[Point]]:
    """Draw closed lines (km) round all that is above `level`, higher ground on the left.

    Marching squares with linear interpolation; the field must be below `level` on its rim.
    """
    above = field > level
    code = (
        above[:-1, :-1] * 1 + above[:-1, 1:] * 2 + above[1:, 1:] * 4 + above[1:, :-1] * 8
    ).astype(int)
    # Edge pairs (from, to) per case; edges: 0 south, 1 east, 2 north, 3 west.
    table: dict[int, tuple[tuple[int, int], ...]] = {
        1: ((0, 3),), 2: ((1, 0),), 3: ((1, 3),), 4: ((2, 1),), 5: ((0, 3), (2, 1)),
        6: ((2, 0),), 7: ((2, 3),), 8: ((3, 2),), 9: ((0, 2),), 10: ((1, 0), (3, 2)),
        11: ((1, 2),), 12: ((3, 1),), 13: ((0, 1),), 14: ((3, 0),),
    }  # fmt: skip
    ends = {0: ((0, 0), (0, 1)), 1: ((0, 1), (1, 1)), 2: ((1, 0), (1, 1)), 3: ((0, 0), (1, 0))}

    def key(row: int, column: int, edge: int) -> tuple[int, int, int]:
        (r0, c0), _ = ends[edge]
        return row + r0, column + c0, edge % 2

    following: dict[tuple[int, int, int], tuple[int, int, int]] = {}
    for row, column in np.argwhere((code > 0) & (code < 15)).tolist():
        for start, end in table[int(code[row, column])]:
            following[key(row, column, start)] = key(row, column, end)

    def point(edge: tuple[int, int, int]) -> Point:
        row, column, upright = edge
        r2, c2 = (row + 1, column) if upright else (row, column + 1)
        a, b = float(field[row, column]), float(field[r2, c2])
        t = min(max((level - a) / (b - a), 0.05), 0.95)
        return (
            X_MIN + CELL_KM * (column + t * (c2 - column)),
            Y_MIN + CELL_KM * (row + t * (r2 - row)),
        )

    rings = []
    while following:
        first = next(iter(following))
        ring, at = [], first
        while at in following:
            ring.append(point(at))
            at = following.pop(at)
        ring.append(ring[0])
        rings.append(ring)
    return rings


def polygon_area_km2(ring: Sequence[Point]) -> float:
    """Measure a ring; positive counter-clockwise."""
    return 0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))


def roughen(line: Iterable[Point], rng: random.Random, *, levels: int, size: float) -> list[Point]:
    """Midpoint displacement: each level doubles the points and moves the new ones sideways."""
    points = list(line)
    for _ in range(levels):
        finer = [points[0]]
        for (ax, ay), (bx, by) in pairwise(points):
            push = size * (rng.random() * 2.0 - 1.0)
            finer.append(((ax + bx) / 2 - (by - ay) * push, (ay + by) / 2 + (bx - ax) * push))
            finer.append((bx, by))
        points = finer
    return points
