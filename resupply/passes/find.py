"""Every pass of every place within reach of the route.

In: a `Route` and the places' positions. Out: `Passes`, arrays sorted by chainage. A pass is a
local minimum of the distance to the route that lies within reach. Two minima are two passes
only if the route goes farther away between them, by the hysteresis, than at either: leaving
the corridor counts, an out-and-back inside it counts, a wiggle does not.

Method: the route is cut into chunks, each in a capsule (`resupply.passes.route_chunks`). The
capsules near a place bound its distance, and the bounds settle how many passes there can be
(`resupply.passes.approaches`); only chunks that can hold a minimum are measured segment by segment.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.geodesy import to_ecef_m
from resupply.passes.approaches import (
    HYSTERESIS,
    HYSTERESIS_MIN_M,
    LONGEST_CHUNK,
    Pairs,
    gathered,
    hysteresis_m,
    separate_minima,
)
from resupply.passes.route_chunks import Chunks, cut_route, near_cells
from resupply.route.densify import dot, ranges

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from resupply.route.route import Route

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["HYSTERESIS", "HYSTERESIS_MIN_M", "Passes", "find_passes"]

# Mean radius R1 of WGS84 (Moritz, Geodetic Reference System 1980, for nearly the same figure).
_MEAN_RADIUS_M: Final = 6_371_008.77
# Nearer than this a side means nothing.
_ON_LINE_M: Final = 1.0
# Longer chunks would make the search for the nearest segment slower than it saves.
_CHUNK_RISE_M: Final = 1_700.0
# Bounds the memory: some 200 bytes a pair.
_PAIRS_AT_ONCE: Final = 200_000
_NONE: Final = np.zeros(0, dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Passes:
    """m passes, sorted by chainage, then place index. Arrays are read-only."""

    place_ix: NDArray[np.int64]
    """(m,) index into `PlaceSet.places`."""
    chainage_m: NDArray[np.float64]
    """(m,) metres: where on the route the place is nearest; in a plan, where its road leaves."""
    offset_m: NDArray[np.float64]
    """(m,) metres, straight (geodesic) from the route."""
    side: NDArray[np.int8]
    """(m,) -1 left, +1 right of the riding direction, 0 on the line."""

    def __len__(self) -> int:
        return len(self.place_ix)

    def of(self, rows: NDArray[np.int64]) -> Passes:
        """Give the passes of some rows, in their order."""
        return Passes(
            self.place_ix[rows], self.chainage_m[rows], self.offset_m[rows], self.side[rows]
        )


def find_passes(route: Route, lon: ArrayLike, lat: ArrayLike, *, reach_m: ArrayLike) -> Passes:
    """Find every pass of every place.

    Parameters
    ----------
    lon, lat
        (n,) degrees, WGS84.
    reach_m
        Largest offset that counts, metres: one for all or (n,) one for each place.

    Returns
    -------
    Passes
        Where two points of one approach are equally near, the first is taken. A break is not
        ridden: no distance is taken to the jump, but two parts that come within reach on
        either side of it are one approach unless the ends of the jump are far enough away.

    Raises
    ------
    ValueError
        A position or reach is not a number, or a reach is negative.
    """
    lon_deg = np.atleast_1d(np.asarray(lon, dtype=float))
    lat_deg = np.atleast_1d(np.asarray(lat, dtype=float))
    reach = np.broadcast_to(np.asarray(reach_m, dtype=float), lon_deg.shape)
    if not (np.isfinite(lon_deg).all() and np.isfinite(lat_deg).all()):
        raise ValueError("a place has no position")
    if not (np.isfinite(reach) & (reach >= 0.0)).all():
        raise ValueError("a reach is negative or not a number")
    place_m = np.ascontiguousarray(to_ecef_m(lon_deg, lat_deg).T)
    # Places of like reach share chunks sized for it; the classes are fixed, so that the passes
    # of one place do not depend on which others are asked for.
    reach_class = np.clip(np.floor(np.log2(np.maximum(reach, 1.0) / 5000.0)), -4, 9)
    found = [
        _passes_of_class(route, place_m, reach, np.flatnonzero(reach_class == wanted), wanted)
        for wanted in np.unique(reach_class)
    ]
    nothing = (_NONE, np.zeros(0), np.zeros(0), np.zeros(0, np.int8))
    place_ix, chainage_m, offset_m, side = (
        np.concatenate(column) for column in zip(nothing, *found, strict=True)
    )
    order = np.lexsort((place_ix, chainage_m))
    passes = Passes(place_ix[order], chainage_m[order], offset_m[order], side[order])
    for array in (passes.place_ix, passes.chainage_m, passes.offset_m, passes.side):
        array.flags.writeable = False
    return passes


def _passes_of_class(
    route: Route, place_m: Floats, reach_m: Floats, members: Ints, reach_class: float
) -> tuple[Ints, Floats, Floats, NDArray[np.int8]]:
    """Place, chainage, offset and side of the passes of places with reaches of one class."""
    rise_m = min(float(hysteresis_m(np.array(5000.0 * 2.0**reach_class))), _CHUNK_RISE_M)
    chunks = cut_route(route, chunk_m=(LONGEST_CHUNK - 0.4) * rise_m, piece_m=0.4 * rise_m)
    widest_m = float((reach_m[members] + hysteresis_m(reach_m[members])).max())
    cells = near_cells(chunks, place_m[:, members], widest_m)
    place_ix, segment = [_NONE], [_NONE]
    for batch in _batches(cells.chunk_count):
        count = cells.chunk_count[batch]
        pairs = gathered(
            chunks,
            place_m,
            reach_m,
            np.repeat(members[cells.places[batch]], count),
            cells.chunks[ranges(cells.chunk_from[batch], count)],
        )
        for place, nearest in (
            _single_passes(chunks, place_m, reach_m, pairs),
            _repeated_passes(chunks, place_m, reach_m, pairs),
        ):
            place_ix.append(place)
            segment.append(nearest)
    return _measured(chunks, place_m, reach_m, np.concatenate(place_ix), np.concatenate(segment))


def _batches(pairs: Ints) -> list[slice]:
    """Cut the places so that each batch has few pairs, whatever the number of a place's own."""
    total = np.cumsum(pairs)
    cuts = np.searchsorted(total, np.arange(_PAIRS_AT_ONCE, pairs.sum(), _PAIRS_AT_ONCE))
    return [slice(a, b) for a, b in pairwise([0, *np.unique(cuts[cuts > 0]), len(pairs)])]


def _single_passes(
    chunks: Chunks, place_m: Floats, reach_m: Floats, pairs: Pairs
) -> tuple[Ints, Ints]:
    """Place and nearest segment of the runs that are one pass."""
    if not len(pairs.run_from):
        return _NONE, _NONE
    sizes = np.diff(np.append(pairs.run_from, len(pairs.place)))
    bound_m = np.minimum.reduceat(pairs.surely_m, pairs.run_from)
    bound_m = np.minimum(bound_m, reach_m[pairs.place[pairs.run_from]])
    bound_m[pairs.repeated] = -np.inf
    at = np.flatnonzero(pairs.least_m <= np.repeat(bound_m, sizes))
    if not len(at):
        return _NONE, _NONE
    run = np.repeat(np.arange(len(sizes)), sizes)[at]
    squared, segment = _nearest_in_chunk(chunks, place_m, pairs.place[at], pairs.chunk[at])
    run_from = np.flatnonzero(np.diff(run, prepend=-1))
    least = np.repeat(np.minimum.reduceat(squared, run_from), np.diff(np.append(run_from, len(at))))
    # Of equally near ones (a road ridden there and back) the first.
    equal = np.flatnonzero(squared <= _equal_to(least))
    best = equal[np.flatnonzero(np.diff(run[equal], prepend=-1))]
    return pairs.place[at[best]], segment[best]


def _nearest_in_chunk(
    chunks: Chunks, place_m: Floats, place: Ints, chunk: Ints
) -> tuple[Floats, Ints]:
    """Squared distance and index of the nearest segment of each pair's chunk."""
    squared, segment = np.empty(len(place)), np.empty(len(place), dtype=np.int64)
    for members in _by_value(chunk):
        low, high = chunks.first[chunk[members[0]] :][:2].tolist()
        here = np.take(place_m, place[members], axis=1)
        _, table = _squared_distances(chunks, low, high, here)
        least = table.min(axis=1)
        squared[members] = least
        segment[members] = low + np.argmax(table <= _equal_to(least)[:, None], axis=1)
    return squared, segment


def _by_value(chunk: Ints) -> list[Ints]:
    """Gather the indices of the pairs of each chunk, in their order."""
    order = np.argsort(chunk, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(chunk[order])) + 1)


def _equal_to(squared: Floats) -> Floats:
    """Largest squared distance that differs from this one by rounding only."""
    return squared + 1e-6 + 1e-8 * np.sqrt(np.maximum(squared, 0.0))


def _squared_distances(
    chunks: Chunks, low: int, high: int, place_m: Floats
) -> tuple[Floats, Floats]:
    """(places, segments) squared distances of (3, places) from the segments low:high.

    The first of the two is from the segments' starts, the second from their nearest points.
    """
    # Relative to a point nearby, so that squares keep their digits.
    origin = chunks.start_m[:, low : low + 1]
    away, start = place_m - origin, chunks.start_m[:, low:high] - origin
    unit, chord_m = chunks.along[:, low:high], chunks.chord_m[low:high]
    to_start = away.T @ (-2.0 * start)
    to_start += dot(away, away)[:, None]
    to_start += dot(start, start)
    # At a way t along it: |p - s|² + t (t - 2 (p - s)·u), least at t = (p - s)·u.
    along = away.T @ unit
    along -= dot(start, unit)
    nearest = np.minimum(np.maximum(along, 0.0), chord_m)
    along *= -2.0
    along += nearest
    along *= nearest
    along += to_start
    return to_start, along


def _repeated_passes(
    chunks: Chunks, place_m: Floats, reach_m: Floats, pairs: Pairs
) -> tuple[Ints, Ints]:
    """Place and nearest segment of each pass in the runs that may hold several."""
    sizes = np.diff(np.append(pairs.run_from, len(pairs.place)))
    at = np.flatnonzero(np.repeat(pairs.repeated, sizes))
    if not len(at):
        return _NONE, _NONE
    place, chunk, sizes = pairs.place[at], pairs.chunk[at], sizes[pairs.repeated]
    # In a chunk too short for two passes its lowest and highest points, in their order between
    # its ends, decide as much as all of them.
    squared, segment = np.empty((len(at), 4)), np.empty((len(at), 4), dtype=np.int64)
    for members in _by_value(chunk):
        low, high = chunks.first[chunk[members[0]] :][:2].tolist()
        here = np.take(place_m, place[members], axis=1)
        to_start, to_line = _squared_distances(chunks, low, high, here)
        end = chunks.start_m[:, high - 1] + chunks.along[:, high - 1] * chunks.chord_m[high - 1]
        least = to_line.min(axis=1)
        lowest = np.argmax(to_line <= _equal_to(least)[:, None], axis=1)
        highest = np.argmax(to_start, axis=1)
        most = to_start.max(axis=1)
        first = lowest < highest
        squared[members, 0] = to_start[:, 0]
        squared[members, 1] = np.where(first, least, most)
        squared[members, 2] = np.where(first, most, least)
        squared[members, 3] = ((here - end[:, None]) ** 2).sum(axis=0)
        segment[members, 0], segment[members, 3] = low, high - 1
        segment[members, 1] = low + np.minimum(lowest, highest)
        segment[members, 2] = low + np.maximum(lowest, highest)
    run_from = np.cumsum(sizes) - sizes
    rise_m = hysteresis_m(reach_m[place[run_from]])
    minima = separate_minima(np.sqrt(np.maximum(squared.ravel(), 0.0)), 4 * sizes, rise_m)
    return np.repeat(place, 4)[minima], segment.ravel()[minima]


def _measured(
    chunks: Chunks, place_m: Floats, reach_m: Floats, place: Ints, segment: Ints
) -> tuple[Ints, Floats, Floats, NDArray[np.int8]]:
    """Place, chainage, offset and side, for the nearest point of each place's segment."""
    here = np.take(place_m, place, axis=1)
    away = here - np.take(chunks.start_m, segment, axis=1)
    chord_m = chunks.chord_m[segment]
    on_m = np.clip(dot(away, np.take(chunks.along, segment, axis=1)), 0.0, chord_m)
    # The end of a segment is the start of the next: one name for one point.
    after = np.minimum(segment + 1, len(chunks.part) - 1)
    passed = (on_m >= chord_m) & (chunks.part[after] == chunks.part[segment]) & (after > segment)
    segment, on_m = np.where(passed, after, segment), np.where(passed, 0.0, on_m)
    chord_m, along = chunks.chord_m[segment], np.take(chunks.along, segment, axis=1)
    foot_m = np.take(chunks.start_m, segment, axis=1) + along * on_m
    away = here - foot_m
    # From the straight line through the Earth to the arc along it.
    half = np.sqrt(dot(away, away)) / (2.0 * _MEAN_RADIUS_M)
    offset_m = 2.0 * _MEAN_RADIUS_M * np.arcsin(np.minimum(half, 1.0))
    share = np.divide(on_m, chord_m, out=np.zeros_like(on_m), where=chord_m > 0.0)
    chainage_m = chunks.chainage_m[segment] + share * chunks.ridden_m[segment]

    # At a corner the riding direction is the mean of the two.
    before = np.maximum(segment - 1, 0)
    corner = (on_m == 0.0) & (chunks.part[before] == chunks.part[segment])
    along = along + np.take(chunks.along, before, axis=1) * corner
    left = np.cross(foot_m, along, axis=0)
    left_m = dot(left, away) / np.maximum(np.sqrt(dot(left, left)), _MEAN_RADIUS_M * 1e-6)
    side = np.where(np.abs(left_m) < _ON_LINE_M, 0, -np.sign(left_m)).astype(np.int8)
    kept = offset_m <= reach_m[place]
    return place[kept], chainage_m[kept], offset_m[kept], side[kept]
