"""A lighter copy of the route for drawing.

In: a `Route`. Out: a `DrawnLine` no farther from it than a tolerance. Points are dropped by
the method of Douglas and Peucker (Cartographica 10(2), 1973), in earth-centred coordinates,
so that the antimeridian and the poles need no special care.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from resupply.common.geodesy import WGS84_A_M, to_ecef_m
from resupply.route.densify import densified, part_numbers, ranges

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.route import Route

__all__ = ["DrawnLine", "foremost", "simplify"]

# Every so many points one is kept anyway, so that no line, however wound, takes long.
_SURE_EVERY: Final = 1024


class DrawnLine(NamedTuple):
    """k points to draw straight lines between, part by part."""

    lon: NDArray[np.float64]
    """(k,) degrees, continuous: beyond 180 where the route crosses the antimeridian, so that
    no line runs back across the whole map."""
    lat: NDArray[np.float64]
    chainage_m: NDArray[np.float64]
    part: NDArray[np.int64]
    """(k,) from 0; there is no line between two parts."""


def simplify(route: Route, tolerance_m: float) -> DrawnLine:
    """Drop the points that a drawn line can do without.

    Parameters
    ----------
    tolerance_m
        > 0. No point of the route is farther than this from the drawn line. Long straight
        pieces get points along the geodesic, so that they bend on a map as they should.
    """
    part = part_numbers(route)
    kept = _kept(to_ecef_m(route.lon, route.lat), part, tolerance_m)
    # An arc rises a quarter of the tolerance above a chord this long.
    piece_m = np.sqrt(2.0 * WGS84_A_M * tolerance_m)
    lon, lat, chainage_m, part = densified(
        route.lon[kept], route.lat[kept], route.chainage_m[kept], part[kept], float(piece_m)
    )
    return DrawnLine(np.unwrap(lon, period=360.0), lat, chainage_m, part)


def foremost(lon: NDArray[np.float64], lat: NDArray[np.float64], most: int) -> NDArray[np.int64]:
    """Choose the points of one line that keep its shape best with so few; its ends are among them.

    Parameters
    ----------
    lon, lat
        (k,) degrees.
    most
        >= 2.

    Returns
    -------
    numpy.ndarray
        Indices, increasing, at most `most`: what the smallest tolerance, to a tenth, leaves.
    """
    point_m, part = to_ecef_m(lon, lat), np.zeros(lon.size, dtype=np.int64)
    low_m, high_m = 1.0, 2.0 * WGS84_A_M
    ends = np.array([0, lon.size - 1])
    best = ends
    while high_m > 1.1 * low_m:
        middle_m = float(np.sqrt(low_m * high_m))
        kept = _kept(point_m, part, middle_m)
        if kept.size <= most:
            best, high_m = kept, middle_m
        else:
            low_m = middle_m
    return best


def _kept(
    point_m: NDArray[np.float64], part: NDArray[np.int64], tolerance_m: float
) -> NDArray[np.int64]:
    """Choose the points to keep, increasing; all intervals of one depth are split at once."""
    count = len(part)
    keep = np.zeros(count, dtype=bool)
    keep[::_SURE_EVERY] = True
    change = np.flatnonzero(part[1:] != part[:-1])
    keep[change] = keep[change + 1] = keep[0] = keep[-1] = True
    start = np.flatnonzero(keep)[:-1]
    end = np.flatnonzero(keep)[1:]
    while True:
        # A jump between parts has no points inside, so it drops out here too.
        open_ = end - start > 1
        start, end = start[open_], end[open_]
        if not len(start):
            return np.flatnonzero(keep)
        inner = end - start - 1
        index, first = ranges(start + 1, inner), np.cumsum(inner) - inner
        away = point_m[index] - np.repeat(point_m[start], inner, axis=0)
        chord = point_m[end] - point_m[start]
        chord_sq = np.maximum(np.einsum("ij,ij->i", chord, chord), 1e-12)
        along = np.einsum("ij,ij->i", away, np.repeat(chord, inner, axis=0))
        share = np.clip(along / np.repeat(chord_sq, inner), 0.0, 1.0)
        away -= share[:, None] * np.repeat(chord, inner, axis=0)
        off_sq = np.einsum("ij,ij->i", away, away)
        worst_sq = np.maximum.reduceat(off_sq, first)
        at_worst = np.flatnonzero(off_sq == np.repeat(worst_sq, inner))
        middle = index[at_worst[np.searchsorted(at_worst, first)]]
        split = worst_sq > tolerance_m**2
        keep[middle[split]] = True
        start, end = (
            np.concatenate([start[split], middle[split]]),
            np.concatenate([middle[split], end[split]]),
        )
