"""Every pass of every place within reach of the route.

In: a `Route` and the places' positions. Out: `Passes`, arrays sorted by chainage. A pass is a
local minimum of the distance to the route that lies within reach. Two minima are two passes
only if the route goes farther away between them, by the hysteresis, than at either: leaving
the corridor counts, an out-and-back inside it counts, a wiggle does not.

Method: the route is cut into chunks, each in a capsule (`resupply.chunks`). For each place the
capsules near it give lower and upper bounds of the distance; the bounds settle most of the
question, and only the few chunks that can hold a minimum are measured segment by segment.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.chunks import Chunks, cut_route, near_cells, ranges
from resupply.geodesy import to_ecef_m

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from resupply.route import Route

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["HYSTERESIS", "HYSTERESIS_MIN_M", "Passes", "find_passes"]

HYSTERESIS: Final = 0.25
"""The route must go this part of the reach farther away to make the next approach a new pass:
1.25 km at a reach of 5 km, so 2.5 km ridden at least."""
HYSTERESIS_MIN_M: Final = 50.0
"""But no less than this, so that the scatter of recorded positions makes no pass."""

# Mean radius R1 of WGS84 (Moritz, Geodetic Reference System 1980, for nearly the same figure).
_MEAN_RADIUS_M: Final = 6_371_008.77
# "On the line": less than half a lane either side.
_ON_LINE_M: Final = 1.0
# Distances this near to each other differ by rounding only.
_EQUAL_M: Final = 1e-7
_PLACES_AT_ONCE: Final = 16_384


@dataclass(frozen=True, slots=True, eq=False)
class Passes:
    """m passes, sorted by chainage, then place index. Arrays are read-only."""

    place_ix: NDArray[np.int64]
    """(m,) index into `PlaceSet.places`."""
    chainage_m: NDArray[np.float64]
    """(m,) metres: where on the route the place is nearest."""
    offset_m: NDArray[np.float64]
    """(m,) metres, straight (geodesic) from the route."""
    side: NDArray[np.int8]
    """(m,) -1 left, +1 right of the riding direction, 0 on the line."""

    def __len__(self) -> int:
        return len(self.place_ix)


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
    place_m = to_ecef_m(lon_deg, lat_deg)
    # Places of like reach share chunks sized for it; the classes are fixed, so that the passes
    # of one place do not depend on which others are asked for.
    reach_class = np.clip(np.floor(np.log2(np.maximum(reach, 1.0) / 5000.0)), -5, 9)
    found = [
        _passes_of_class(route, place_m, reach, np.flatnonzero(reach_class == wanted), wanted)
        for wanted in np.unique(reach_class)
    ]
    place_ix, chainage_m, offset_m, side = (
        np.concatenate([part[i] for part in found]) if found else np.zeros(0) for i in range(4)
    )
    order = np.lexsort((place_ix, chainage_m))
    passes = Passes(
        place_ix[order].astype(np.int64),
        chainage_m[order],
        offset_m[order],
        side[order].astype(np.int8),
    )
    for array in (passes.place_ix, passes.chainage_m, passes.offset_m, passes.side):
        array.flags.writeable = False
    return passes


def _hysteresis_m(reach_m: Floats) -> Floats:
    return np.maximum(HYSTERESIS * reach_m, HYSTERESIS_MIN_M)


def _passes_of_class(
    route: Route, place_m: Floats, reach_m: Floats, members: Ints, reach_class: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Place, chainage, offset and side of the passes of places with reaches of one class."""
    lowest = _hysteresis_m(np.array([5000.0 * 2.0**reach_class]))[0]
    # Shorter than two hysteresis widths, so that no single chunk holds two passes.
    rise_m = min(float(lowest), 1_700.0)
    chunks = cut_route(route, chunk_m=1.5 * rise_m, piece_m=0.4 * rise_m)
    widest_m = float((reach_m + _hysteresis_m(reach_m))[members].max())
    cells = near_cells(chunks, place_m[members], widest_m)
    place_ix, segment = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for at in range(0, len(cells.places), _PLACES_AT_ONCE):
        batch = slice(at, at + _PLACES_AT_ONCE)
        count = cells.chunk_count[batch]
        pairs = _bounded(
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


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """A place and a chunk near it, m times, in runs: one run is one approach or more."""

    place: Ints
    chunk: Ints
    least_m: Floats
    """The chunk comes no nearer to the place than this …"""
    surely_m: Floats
    """… and at least this near."""
    run_from: Ints
    """Index of the first pair of each run."""
    repeated: NDArray[np.bool_]
    """For each run: it may hold more than one pass."""


def _bounded(chunks: Chunks, place_m: Floats, reach_m: Floats, place: Ints, chunk: Ints) -> _Pairs:
    """Bound the distances of pairs (by place, then chunk), and gather them in runs."""
    reach, rise = reach_m[place], _hysteresis_m(reach_m[place])
    axis_m, width_m = chunks.axis_m[chunk], chunks.width_m[chunk]
    away = place_m[place] - chunks.axis_start_m[chunk]
    squared = np.einsum("ij,ij->i", away, away)
    along = np.einsum("ij,ij->i", away, chunks.axis[chunk])
    nearest = np.minimum(np.maximum(along, 0.0), axis_m)
    axis_away_m = np.sqrt(np.maximum(squared + nearest * (nearest - 2.0 * along), 0.0))
    start_m = np.sqrt(squared)
    end_m = np.sqrt(np.maximum(squared + axis_m * (axis_m - 2.0 * along), 0.0))
    least_m = axis_away_m - width_m
    outside_m = reach + rise

    # A chunk that is missing, or an end this far off, parts two runs: whatever lies within
    # reach on either side is nearer by more than the hysteresis.
    near = np.flatnonzero(least_m <= outside_m)
    place, chunk, start_m, end_m = place[near], chunk[near], start_m[near], end_m[near]
    outside_m, least_m = outside_m[near], least_m[near]
    apart = np.ones(len(near), dtype=bool)
    apart[1:] = (
        (place[1:] != place[:-1])
        | (chunk[1:] != chunk[:-1] + 1)
        | (start_m[1:] > outside_m[1:])
        | (end_m[:-1] > outside_m[:-1])
    )
    run_from = np.flatnonzero(apart)
    reach, rise, axis_away_m, width_m = reach[near], rise[near], axis_away_m[near], width_m[near]
    within = np.minimum.reduceat(least_m, run_from) <= reach[run_from] if len(run_from) else apart
    sizes = np.diff(np.append(run_from, len(near)))
    kept = np.flatnonzero(np.repeat(within, sizes))
    sizes = sizes[within]
    run_from = np.cumsum(sizes) - sizes
    place, chunk, start_m, end_m = place[kept], chunk[kept], start_m[kept], end_m[kept]
    least_m, reach, rise = least_m[kept], reach[kept], rise[kept]
    surely_m = np.minimum(axis_away_m[kept] + width_m[kept], np.minimum(start_m, end_m))
    arc_m = chunks.arc_m[chunk]
    most_m = np.minimum(np.maximum(start_m, end_m) + width_m[kept], (start_m + end_m + arc_m) / 2.0)
    before_m, after_m = _least_around(least_m, run_from, sizes)
    falls = start_m - end_m + 2.0 * rise <= arc_m
    rises = end_m - start_m + 2.0 * rise <= arc_m
    may_part = (
        _parts(before_m, most_m, after_m, reach, rise)
        | (falls & _parts(least_m, most_m, after_m, reach, rise))
        | (rises & _parts(before_m, most_m, least_m, reach, rise))
    )
    repeated = (
        np.logical_or.reduceat(may_part, run_from) if len(run_from) else np.zeros(0, dtype=bool)
    )
    return _Pairs(place, chunk, least_m, surely_m, run_from, repeated)


def _parts(left_m: Floats, top_m: Floats, right_m: Floats, reach: Floats, rise: Floats) -> Any:
    """Whether minima as low as these, with a maximum as high as this between, are two passes."""
    higher_m = np.maximum(left_m, right_m)
    return (higher_m <= reach) & (top_m - higher_m >= rise)


def _least_around(value: Floats, run_from: Ints, sizes: Ints) -> tuple[Floats, Floats]:
    """Least value of the same run before, and after, each element; infinite where none."""
    before, after = np.full(len(value), np.inf), np.full(len(value), np.inf)
    if len(value) == 0:
        return before, after
    run = np.repeat(np.arange(len(run_from)), sizes)
    # Setting each run wholly below the one before lets one accumulation serve all runs.
    step = float(np.ptp(value)) + 1.0
    lowered = value - run * step
    same = np.flatnonzero(run[1:] == run[:-1])
    before[same + 1] = (np.minimum.accumulate(lowered) + run * step)[same]
    raised = (value + run * step)[::-1]
    after[same] = (np.minimum.accumulate(raised)[::-1] - run * step)[same + 1]
    return before, after


def _single_passes(
    chunks: Chunks, place_m: Floats, reach_m: Floats, pairs: _Pairs
) -> tuple[Ints, Ints]:
    """Place and nearest segment of the runs that are one pass."""
    if not len(pairs.run_from):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    sizes = np.diff(np.append(pairs.run_from, len(pairs.place)))
    bound_m = np.minimum.reduceat(pairs.surely_m, pairs.run_from)
    bound_m = np.where(
        pairs.repeated, -np.inf, np.minimum(bound_m, reach_m[pairs.place[pairs.run_from]])
    )
    at = np.flatnonzero(pairs.least_m <= np.repeat(bound_m, sizes))
    if not len(at):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
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
    order = np.argsort(chunk, kind="stable")
    group_from = np.flatnonzero(np.diff(chunk[order], prepend=-1))
    group_to = np.append(group_from[1:], len(order))
    for a, b in zip(group_from.tolist(), group_to.tolist(), strict=True):
        members = order[a:b]
        this = int(chunk[members[0]])
        low, high = int(chunks.first[this]), int(chunks.first[this + 1])
        origin = chunks.axis_start_m[this]
        table = _squared_distances(chunks, low, high, place_m[place[members]] - origin, origin)
        least = table.min(axis=1)
        squared[members] = least
        segment[members] = low + np.argmax(table <= _equal_to(least)[:, None], axis=1)
    return squared, segment


def _equal_to(squared: Floats) -> Floats:
    """Largest squared distance that differs from this one by rounding only."""
    return squared + 1e-6 + 1e-8 * np.sqrt(np.maximum(squared, 0.0))


def _squared_distances(chunks: Chunks, low: int, high: int, away: Floats, origin: Floats) -> Floats:
    """(places, segments) squared distances, all relative to an origin nearby."""
    start = chunks.start_m[low:high] - origin
    unit = chunks.along[low:high]
    along = away @ unit.T
    along -= np.einsum("ij,ij->i", start, unit)
    table = away @ (-2.0 * start.T)
    table += np.einsum("ij,ij->i", away, away)[:, None]
    table += np.einsum("ij,ij->i", start, start)
    nearest = np.clip(along, 0.0, chunks.chord_m[low:high])
    along *= -2.0
    along += nearest
    along *= nearest
    table += along
    return table


def _repeated_passes(
    chunks: Chunks, place_m: Floats, reach_m: Floats, pairs: _Pairs
) -> tuple[Ints, Ints]:
    """Place and nearest segment of each pass in the runs that may hold several."""
    run_to = np.append(pairs.run_from[1:], len(pairs.place)) - 1
    places, segments = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for run in np.flatnonzero(pairs.repeated).tolist():
        a, b = int(pairs.run_from[run]), int(run_to[run])
        place = int(pairs.place[a])
        low, high = int(chunks.first[pairs.chunk[a]]), int(chunks.first[pairs.chunk[b] + 1])
        origin = chunks.axis_start_m[pairs.chunk[a]]
        away = place_m[place] - origin
        nearest = _squared_distances(chunks, low, high, away[None, :], origin)[0]
        start = chunks.start_m[low:high] - origin
        end = start + chunks.along[low:high] * chunks.chord_m[low:high, None]
        profile = np.stack(
            [((start - away) ** 2).sum(axis=1), nearest, ((end - away) ** 2).sum(axis=1)], axis=1
        )
        rise_m = float(_hysteresis_m(reach_m[place : place + 1])[0])
        minima = _separate_minima(np.sqrt(np.maximum(profile.ravel(), 0.0)), rise_m)
        segments.append(low + np.array(minima, dtype=np.int64) // 3)
        places.append(np.full(len(minima), place))
    return np.concatenate(places), np.concatenate(segments)


def _separate_minima(profile_m: Floats, rise_m: float) -> list[int]:
    """Find the minima parted by a rise of at least `rise_m` over the higher of the two.

    >>> _separate_minima(np.array([5.0, 1.0, 1.5, 0.5, 4.0, 2.0, 3.0]), 1.0)
    [3, 5]
    """
    turns = np.flatnonzero(np.diff(np.sign(np.diff(profile_m)), prepend=2.0, append=2.0))
    minima: list[int] = []
    lowest, highest, falling = np.inf, -np.inf, True
    where = 0
    for index in turns.tolist():
        value = float(profile_m[index])
        if falling:
            if value < lowest - _EQUAL_M:
                lowest, where = value, index
            elif value >= lowest + rise_m:
                minima.append(where)
                highest, falling = value, False
        elif value > highest:
            highest = value
        elif value <= highest - rise_m:
            lowest, where, falling = value, index, True
    if falling and np.isfinite(lowest):
        minima.append(where)
    return minima


def _measured(
    chunks: Chunks, place_m: Floats, reach_m: Floats, place: Ints, segment: Ints
) -> tuple[Floats, Floats, Floats, Floats]:
    """Place, chainage, offset and side, for the nearest point of each place's segment."""
    away = place_m[place] - chunks.start_m[segment]
    chord_m = chunks.chord_m[segment]
    on_m = np.clip(np.einsum("ij,ij->i", away, chunks.along[segment]), 0.0, chord_m)
    # The end of a segment is the start of the next: one name for one point.
    next_ = np.minimum(segment + 1, len(chunks.part) - 1)
    passed = (on_m >= chord_m) & (chunks.part[next_] == chunks.part[segment]) & (next_ > segment)
    segment, on_m = np.where(passed, next_, segment), np.where(passed, 0.0, on_m)
    chord_m, along = chunks.chord_m[segment], chunks.along[segment]
    foot_m = chunks.start_m[segment] + along * on_m[:, None]
    # The chord runs below the ellipsoid: lift its point by the depth of the arc.
    depth_m = on_m * (chord_m - on_m) / (2.0 * _MEAN_RADIUS_M)
    foot_m *= 1.0 + depth_m[:, None] / _MEAN_RADIUS_M
    away = place_m[place] - foot_m
    straight_m = np.sqrt(np.einsum("ij,ij->i", away, away))
    offset_m = (
        2.0 * _MEAN_RADIUS_M * np.arcsin(np.minimum(straight_m / (2.0 * _MEAN_RADIUS_M), 1.0))
    )
    ridden_m = np.divide(on_m, chord_m, out=np.zeros_like(on_m), where=chord_m > 0.0)
    chainage_m = chunks.chainage_m[segment] + ridden_m * chunks.ridden_m[segment]

    # At a corner the riding direction is the mean of the two.
    before = np.maximum(segment - 1, 0)
    corner = (on_m == 0.0) & (chunks.part[before] == chunks.part[segment])
    along = np.where(corner[:, None], along + chunks.along[before], along)
    up = foot_m / np.linalg.norm(foot_m, axis=1)[:, None]
    left_m = np.einsum("ij,ij->i", np.cross(up, along), away)
    left_m /= np.maximum(np.linalg.norm(along, axis=1), 1e-6)
    side = np.where(np.abs(left_m) < _ON_LINE_M, 0.0, -np.sign(left_m))
    kept = offset_m <= reach_m[place]
    return place[kept], chainage_m[kept], offset_m[kept], side[kept]
