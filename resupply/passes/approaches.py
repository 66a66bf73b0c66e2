"""The chunks near a place, gathered into approaches.

In: pairs of a place and a chunk near it. Out: `Pairs`, bounded and in runs: within a run the
route stays near the place, so that a run is one approach or a few. The bounds are those of the
chunks' capsules, so no single segment is looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.route.densify import dot

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.passes.route_chunks import Chunks

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = [
    "HYSTERESIS",
    "HYSTERESIS_MIN_M",
    "LONGEST_CHUNK",
    "Pairs",
    "gathered",
    "hysteresis_m",
    "separate_minima",
]

HYSTERESIS: Final = 0.25
"""The route must go this part of the reach farther away to make the next approach a new pass:
1.25 km at a reach of 5 km, so 2.5 km ridden at least."""
HYSTERESIS_MIN_M: Final = 150.0
"""But no less than this: so short a way there and back is no new occasion, and recorded
positions scatter."""
LONGEST_CHUNK: Final = 1.9
"""A chunk must be no longer than this many hysteresis widths. Below two, it is too short to go
from one pass out by the hysteresis and back to another."""

# Distances this near to each other differ by rounding only.
_EQUAL_M: Final = 1e-7


def hysteresis_m(reach_m: Floats) -> Floats:
    """How much farther away the route must go for the next approach to be a new pass."""
    return np.maximum(HYSTERESIS * reach_m, HYSTERESIS_MIN_M)


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
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


def gathered(chunks: Chunks, place_m: Floats, reach_m: Floats, place: Ints, chunk: Ints) -> Pairs:
    """Bound the distances of pairs (by place, then chunk), and gather them in runs."""
    axis_m = chunks.axis_m[chunk]
    away = np.take(place_m, place, axis=1)
    away -= np.take(chunks.axis_start_m, chunk, axis=1)
    squared = dot(away, away)
    along = dot(away, np.take(chunks.axis, chunk, axis=1))
    nearest = np.minimum(np.maximum(along, 0.0), axis_m)
    outside = (reach_m + hysteresis_m(reach_m))[place]
    # Whatever lies within reach is nearer by the hysteresis than an end this far off. So a
    # chunk whose axis is that far parts two runs (it holds no pass itself: it is less wide than
    # the hysteresis), and so does such an end.
    axis_away_m = np.sqrt(np.maximum(squared + nearest * (nearest - 2.0 * along), 0.0))
    start_m = np.sqrt(squared)
    end_m = np.sqrt(np.maximum(squared + axis_m * (axis_m - 2.0 * along), 0.0))
    near = np.flatnonzero(axis_away_m <= outside)
    place, chunk, outside = place[near], chunk[near], outside[near]
    axis_away_m, start_m, end_m = axis_away_m[near], start_m[near], end_m[near]
    apart = np.ones(len(near), dtype=bool)
    apart[1:] = (
        (place[1:] != place[:-1])
        | (chunk[1:] != chunk[:-1] + 1)
        | (start_m[1:] > outside[1:])
        | (end_m[:-1] > outside[:-1])
    )
    run_from = np.flatnonzero(apart)
    if not len(run_from):
        return Pairs(place, chunk, axis_away_m, axis_away_m, run_from, apart)

    # Only runs that can come within reach matter.
    sizes = np.diff(np.append(run_from, len(near)))
    least_m = axis_away_m - chunks.width_m[chunk]
    within = np.minimum.reduceat(least_m, run_from) <= reach_m[place[run_from]]
    kept = np.flatnonzero(np.repeat(within, sizes))
    sizes = sizes[within]
    run_from = np.cumsum(sizes) - sizes
    place, chunk, least_m = place[kept], chunk[kept], least_m[kept]
    axis_away_m, start_m, end_m = axis_away_m[kept], start_m[kept], end_m[kept]
    surely_m = np.minimum(axis_away_m + chunks.width_m[chunk], np.minimum(start_m, end_m))
    most_m = np.minimum(
        np.maximum(start_m, end_m) + chunks.width_m[chunk],
        (start_m + end_m + chunks.arc_m[chunk]) / 2.0,
    )
    reach = reach_m[place]
    may = _may_part(
        least_m, most_m, end_m - start_m, chunks.arc_m[chunk], reach, _around(least_m, sizes)
    )
    repeated = np.logical_or.reduceat(may, run_from) if len(run_from) else may
    return Pairs(place, chunk, least_m, surely_m, run_from, repeated)


def _may_part(
    least_m: Floats,
    most_m: Floats,
    gain_m: Floats,
    arc_m: Floats,
    reach_m: Floats,
    around_m: tuple[Floats, Floats],
) -> NDArray[np.bool_]:
    """Whether a maximum in each pair's chunk may part two passes."""
    rise_m = hysteresis_m(reach_m)
    before_m, after_m = around_m
    # To have one of the two minima before the maximum in the same chunk takes this much way,
    # and likewise to have one after it; both in one chunk do not fit.
    early_m = np.where(2.0 * rise_m - gain_m <= arc_m, np.minimum(before_m, least_m), before_m)
    late_m = np.where(2.0 * rise_m + gain_m <= arc_m, np.minimum(after_m, least_m), after_m)
    higher_m = np.minimum(np.maximum(early_m, after_m), np.maximum(before_m, late_m))
    return (higher_m <= reach_m) & (most_m - higher_m >= rise_m)


def _around(value: Floats, sizes: Ints) -> tuple[Floats, Floats]:
    """Least value of the same run before, and after, each element; infinite where none."""
    before, after = np.full(len(value), np.inf), np.full(len(value), np.inf)
    if len(value) == 0:
        return before, after
    run = np.repeat(np.arange(len(sizes)), sizes)
    # Setting each run wholly below the one before lets one accumulation serve all runs.
    down = run * (float(np.ptp(value)) + 1.0)
    same = np.flatnonzero(run[1:] == run[:-1])
    before[same + 1] = (np.minimum.accumulate(value - down) + down)[same]
    after[same] = (np.minimum.accumulate((value + down)[::-1])[::-1] - down)[same + 1]
    return before, after


def separate_minima(profile_m: Floats, sizes: Ints, rise_m: Floats) -> Ints:
    """Find the minima parted by a rise of at least `rise_m` over the higher of the two.

    Parameters
    ----------
    profile_m
        Distances along all runs, one run after the other.
    sizes, rise_m
        (r,) how many values each run has, and the rise that counts in it.

    Returns
    -------
    NDArray
        Indices into `profile_m`; of equal values the first.

    Examples
    --------
    >>> profile_m = np.array([5.0, 1.0, 1.5, 0.5, 4.0, 2.0, 3.0, 9.0, 8.0])
    >>> separate_minima(profile_m, np.array([7, 2]), np.array([1.0, 1.0])).tolist()
    [3, 5, 8]
    """
    # All runs take one step at a time together, longest first, so that those left are in front.
    order = np.argsort(-sizes, kind="stable")
    run_from, rise_m = (np.cumsum(sizes) - sizes)[order], rise_m[order]
    left = np.searchsorted(-sizes[order], -np.arange(sizes.max(initial=0)), side="left")
    lowest, highest = np.full(len(sizes), np.inf), np.full(len(sizes), -np.inf)
    where, falling = run_from.copy(), np.ones(len(sizes), dtype=bool)
    found = []
    for step, count in enumerate(left.tolist()):
        value = profile_m[run_from[:count] + step]
        low, high, down, rise = lowest[:count], highest[:count], falling[:count], rise_m[:count]
        lower = down & (value < low - _EQUAL_M)
        turned = ~lower & down & (value >= low + rise)
        again = ~down & (value <= high - rise)
        found.append(where[:count][turned])
        np.maximum(high, value, out=high)
        high[turned] = value[turned]
        down ^= turned | again
        lower |= again
        low[lower] = value[lower]
        where[:count][lower] = run_from[:count][lower] + step
    return np.sort(np.concatenate([*found, where[falling]]))
