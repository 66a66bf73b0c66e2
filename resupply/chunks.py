"""The route cut into chunks that can be judged as a whole.

In: a `Route`. Out: `Chunks`: its segments as straight pieces in earth-centred coordinates,
packed into chunks, each enclosed in a capsule (all points within a width of a straight axis);
and `near_cells`, which finds the chunks near each place without looking at the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.geodesy import geod, to_ecef_m

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route import Route

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = [
    "Chunks",
    "NearCells",
    "cut_route",
    "densified",
    "dot",
    "near_cells",
    "part_numbers",
    "ranges",
]

# A chunk is also cut after so many segments, so that judging one place against it stays cheap.
_MAX_SEGMENTS: Final = 256
# Points nearer than this are one point: no direction can be told between them.
_SAME_POINT_M: Final = 1e-6


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
    lon, lat, chainage_m, part = _points(route)
    lon, lat, chainage_m, part = densified(lon, lat, chainage_m, part, piece_m)
    point_m = np.ascontiguousarray(to_ecef_m(lon, lat).T)
    inside = np.flatnonzero(part[1:] == part[:-1])
    start_m = np.take(point_m, inside, axis=1)
    along, chord_m = _unit(np.take(point_m, inside + 1, axis=1) - start_m)
    first = _chunk_starts(chainage_m[inside], part[inside], chunk_m)

    size = np.diff(np.append(first, len(inside)))
    axis_start_m = np.take(start_m, first, axis=1)
    axis_end_m = np.take(point_m, inside[first + size - 1] + 1, axis=1)
    axis, axis_m = _unit(axis_end_m - axis_start_m)
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


def dot(a: Floats, b: Floats) -> Floats:
    """Scalar products of the (3, n) vectors a and b, (n,)."""
    products: Floats = np.einsum("ij,ij->j", a, b)
    return products


def _unit(vectors: Floats) -> tuple[Floats, Floats]:
    """Directions of (3, n) vectors, and their lengths."""
    length_m = np.sqrt(dot(vectors, vectors))
    return vectors / np.maximum(length_m, _SAME_POINT_M), length_m


def part_numbers(route: Route) -> Ints:
    """Give each point, (n,), the number of its unbroken part, from 0."""
    part = np.zeros(len(route.lon), dtype=np.int64)
    part[[jump.index + 1 for jump in route.breaks]] = 1
    return np.cumsum(part)


def _points(route: Route) -> tuple[Floats, Floats, Floats, Ints]:
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


def _chunk_starts(chainage_m: Floats, part: Ints, chunk_m: float) -> Ints:
    """Index of the first segment of each chunk."""
    new = np.concatenate([[True], part[1:] != part[:-1]])
    by_length = ((chainage_m - chainage_m[_last_true(new)]) / chunk_m).astype(np.int64)
    new[1:] |= by_length[1:] != by_length[:-1]
    by_count = (np.arange(len(part)) - _last_true(new)) // _MAX_SEGMENTS
    new[1:] |= by_count[1:] != by_count[:-1]
    return np.flatnonzero(new)


def _last_true(flags: NDArray[np.bool_]) -> Ints:
    """Index of the last True at or before each element; the first is True."""
    last: Ints = np.flatnonzero(flags)[np.cumsum(flags) - 1]
    return last


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


def ranges(start: Ints, count: Ints) -> Ints:
    """Count up from each start: start[0], start[0] + 1, … (count[0] numbers), start[1], and on."""
    total = int(count.sum())
    jump = np.repeat(start - (np.cumsum(count) - count), count)
    return jump + np.arange(total)
