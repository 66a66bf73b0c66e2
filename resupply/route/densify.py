"""Points along the route close enough together that chords stay near the geodesic."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from resupply.common.geodesy import geod, to_ecef_m

if TYPE_CHECKING:
    from resupply.route.route import Route

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_SAME_POINT_M: Final = 1e-6
"""Points nearer than this are one point: no direction can be told between them."""

__all__ = [
    "densified",
    "dot",
    "last_true",
    "part_numbers",
    "ranges",
    "route_points",
    "unit",
]


def dot(a: Floats, b: Floats) -> Floats:
    """Scalar products of the (3, n) vectors a and b, (n,)."""
    products: Floats = np.einsum("ij,ij->j", a, b)
    return products


def unit(vectors: Floats) -> tuple[Floats, Floats]:
    """Directions of (3, n) vectors, and their lengths."""
    length_m = np.sqrt(dot(vectors, vectors))
    return vectors / np.maximum(length_m, _SAME_POINT_M), length_m


def part_numbers(route: Route) -> Ints:
    """Give each point, (n,), the number of its unbroken part, from 0."""
    part = np.zeros(len(route.lon), dtype=np.int64)
    part[[jump.index + 1 for jump in route.breaks]] = 1
    return np.cumsum(part)


def route_points(route: Route) -> tuple[Floats, Floats, Floats, Ints]:
    """Points of the route without repeats, with the number of their part."""
    part = part_numbers(route)
    point_m = to_ecef_m(route.lon, route.lat)
    moved = np.abs(np.diff(point_m, axis=0)).max(axis=1) > _SAME_POINT_M
    keep = np.flatnonzero(np.concatenate([[True], moved | (part[1:] != part[:-1])]))
    # A part of one point becomes a segment of no length, so that places near it are found.
    alone = np.bincount(part[keep], minlength=part[-1] + 1)[part[keep]] == 1
    keep = np.repeat(keep, np.where(alone, 2, 1))
    return route.lon[keep], route.lat[keep], route.chainage_m[keep], part[keep]


def densified(
    lon: Floats, lat: Floats, chainage_m: Floats, part: Ints, piece_m: float
) -> tuple[Floats, Floats, Floats, Ints]:
    """Divide steps longer than `piece_m` evenly along their geodesic.

    Parameters
    ----------
    lon, lat, chainage_m, part
        (n,) points; a step between two parts is no step.

    Returns
    -------
    tuple
        The same for the points and those put between.
    """
    step_m = np.where(part[1:] == part[:-1], np.diff(chainage_m), 0.0)
    pieces = np.maximum(np.ceil(step_m / piece_m).astype(np.int64), 1)
    if pieces.max(initial=1) == 1:
        return lon, lat, chainage_m, part
    pieces = np.append(pieces, 1)
    from_ix = np.repeat(np.arange(len(lon)), pieces)
    nth = ranges(np.zeros(len(lon), dtype=np.int64), pieces)
    new = np.flatnonzero(nth > 0)
    base = from_ix[new]
    along_m = nth[new] * (step_m[base] / pieces[base])
    azimuth, _, _ = geod().inv(lon[base], lat[base], lon[base + 1], lat[base + 1])
    lon, lat, chainage_m = lon[from_ix], lat[from_ix], chainage_m[from_ix]
    lon[new], lat[new], _ = geod().fwd(lon[new], lat[new], azimuth, along_m)
    chainage_m[new] += along_m
    return lon, lat, chainage_m, part[from_ix]


def last_true(flags: NDArray[np.bool_]) -> Ints:
    """Index of the last True at or before each element; the first is True."""
    last: Ints = np.flatnonzero(flags)[np.cumsum(flags) - 1]
    return last


def ranges(start: Ints, count: Ints) -> Ints:
    """Count up from each start: start[0], start[0] + 1, … (count[0] numbers), start[1], and on."""
    total = int(count.sum())
    jump = np.repeat(start - (np.cumsum(count) - count), count)
    return jump + np.arange(total)
