"""The route cut into chunks that can be judged as a whole.

In: a `Route`. Out: `Chunks`: its segments as straight pieces in earth-centred coordinates,
packed into chunks, each enclosed in a capsule (all points within a width of a straight axis);
and `near_cells`, which finds the chunks near each place without looking at the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.geodesy import to_ecef_m
from resupply.route.densify import (
    densified,
    dot,
    last_true,
    ranges,
    route_points,
    unit,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.route import Route

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = [
    "Chunks",
    "NearCells",
    "cut_route",
    "near_cells",
]

# A chunk is also cut after so many segments, so that judging one place against it stays cheap.
_MAX_SEGMENTS: Final = 256
# Points nearer than this are one point: no direction can be told between them.


@dataclass(frozen=True, slots=True, eq=False)
class Chunks:
    """k segments in c chunks. A segment is a chord; breaks are in none of them."""

    start_m: Floats
    """(3, k) ECEF of each segment's start."""
    along: Floats
    """(3, k) unit vector; zero for a part of a single point."""
    chord_m: Floats
    """(k,)"""
    chainage_m: Floats
    """(k,) at each segment's start."""
    ridden_m: Floats
    """(k,) geodesic length."""
    part: Ints
    """(k,) which unbroken part of the route."""
    first: Ints
    """(c + 1,) chunk i holds the segments first[i]:first[i + 1]."""
    axis_start_m: Floats
    """(3, c) ECEF."""
    axis: Floats
    """(3, c) unit vector from the chunk's first point to its last."""
    axis_m: Floats
    """(c,)"""
    width_m: Floats
    """(c,) no point of the chunk is farther from its axis."""
    arc_m: Floats
    """(c,) sum of the chunk's chords."""

    def __len__(self) -> int:
        return len(self.axis_m)


def cut_route(route: Route, *, chunk_m: float, piece_m: float) -> Chunks:
    """Cut a route into chunks no longer than `chunk_m + piece_m`.

    Parameters
    ----------
    chunk_m
        Wanted length of a chunk.
    piece_m
        Longer steps are divided along the geodesic. A chord of 1 km is 2 cm deep.
    """
    lon, lat, chainage_m, part = route_points(route)
    lon, lat, chainage_m, part = densified(lon, lat, chainage_m, part, piece_m)
    point_m = np.ascontiguousarray(to_ecef_m(lon, lat).T)
    inside = np.flatnonzero(part[1:] == part[:-1])
    start_m = np.take(point_m, inside, axis=1)
    along, chord_m = unit(np.take(point_m, inside + 1, axis=1) - start_m)
    first = _chunk_starts(chainage_m[inside], part[inside], chunk_m)

    size = np.diff(np.append(first, len(inside)))
    axis_start_m = np.take(start_m, first, axis=1)
    axis_end_m = np.take(point_m, inside[first + size - 1] + 1, axis=1)
    axis, axis_m = unit(axis_end_m - axis_start_m)
    away = start_m - np.repeat(axis_start_m, size, axis=1)
    direction = np.repeat(axis, size, axis=1)
    away -= direction * np.clip(dot(away, direction), 0.0, np.repeat(axis_m, size))
    width_m = np.sqrt(np.maximum.reduceat(dot(away, away), first))
    return Chunks(
        start_m=start_m,
        along=along,
        chord_m=chord_m,
        chainage_m=chainage_m[inside],
        ridden_m=chainage_m[inside + 1] - chainage_m[inside],
        part=part[inside],
        first=np.append(first, len(inside)),
        axis_start_m=axis_start_m,
        axis=axis,
        axis_m=axis_m,
        # A millimetre covers rounding on numbers the size of the Earth.
        width_m=width_m + 1e-3,
        arc_m=np.add.reduceat(chord_m, first),
    )


def _chunk_starts(chainage_m: Floats, part: Ints, chunk_m: float) -> Ints:
    """Index of the first segment of each chunk."""
    new = np.concatenate([[True], part[1:] != part[:-1]])
    by_length = ((chainage_m - chainage_m[last_true(new)]) / chunk_m).astype(np.int64)
    new[1:] |= by_length[1:] != by_length[:-1]
    by_count = (np.arange(len(part)) - last_true(new)) // _MAX_SEGMENTS
    new[1:] |= by_count[1:] != by_count[:-1]
    return np.flatnonzero(new)


@dataclass(frozen=True, slots=True, eq=False)
class NearCells:
    """Places gathered in cubic cells, and the chunks near each cell."""

    places: Ints
    """(n,) place indices, cell by cell; cells near no chunk are left out."""
    chunk_from: Ints
    """(n,) for each of `places`, where its cell's chunks start in `chunks`."""
    chunk_count: Ints
    """(n,)"""
    chunks: Ints
    """Increasing within each cell."""


def near_cells(chunks: Chunks, place_m: Floats, reach_m: float) -> NearCells:
    """For each place, the chunks whose axis may lie within `reach_m`, and few others.

    Parameters
    ----------
    place_m
        (3, n) ECEF.
    reach_m
        Straight distance, the same for all.
    """
    fine_m = reach_m / 4.0
    half_diagonal_m = fine_m * np.sqrt(3.0) / 2.0
    fine = np.floor(place_m / fine_m).astype(np.int64)
    key = _key(fine)
    order = np.argsort(key, kind="stable")
    new = np.diff(key[order], prepend=-1) != 0
    cell_from = np.flatnonzero(new)
    centre_m = (fine[:, order[cell_from]] + 0.5) * fine_m

    # Coarse cells so large that whatever matters is in the same or a neighbouring one.
    half_m = chunks.axis_m / 2.0
    coarse_m = reach_m + half_diagonal_m + float(half_m.max())
    home = np.floor((chunks.axis_start_m + chunks.axis * half_m) / coarse_m).astype(np.int64)
    around = np.stack(np.meshgrid(*[[-1, 0, 1]] * 3)).reshape(3, 1, -1)
    keys = _key(home[:, :, None] + around).ravel()
    by_key = np.argsort(keys, kind="stable")
    keys, listed = keys[by_key], by_key // around.shape[2]
    wanted = _key(np.floor(centre_m / coarse_m).astype(np.int64))
    left, right = np.searchsorted(keys, wanted), np.searchsorted(keys, wanted, side="right")

    cell = np.repeat(np.arange(len(cell_from)), right - left)
    chunk = listed[ranges(left, right - left)]
    away = np.take(centre_m, cell, axis=1) - np.take(chunks.axis_start_m, chunk, axis=1)
    along = dot(away, np.take(chunks.axis, chunk, axis=1))
    nearest = np.clip(along, 0.0, chunks.axis_m[chunk])
    squared = dot(away, away) + nearest * (nearest - 2.0 * along)
    near = squared <= (reach_m + half_diagonal_m) ** 2
    cell, chunk = cell[near], chunk[near]
    count = np.bincount(cell, minlength=len(cell_from))
    cell_of = np.cumsum(new) - 1
    used = count[cell_of] > 0
    chunk_from = np.cumsum(count) - count
    return NearCells(order[used], chunk_from[cell_of[used]], count[cell_of[used]], chunk)


def _key(cells: Ints) -> Ints:
    """One number for each cell: 21 bits a coordinate, exact for cells of 7 m and more."""
    x, y, z = cells + (1 << 20)
    return np.asarray((x << 42) | (y << 21) | z)
