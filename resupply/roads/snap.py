"""Nearest roads to points: which edge, how far off, where along it.

In: a `RoadGraph` and points. Out: positions on edges. A k-d tree over earth-centred samples
of the roads finds candidates; the exact distance to the road's segment decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.common.distinct import distinct
from resupply.common.geodesy import to_ecef_m

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from resupply.roads.graph import RoadGraph

__all__ = ["RoadIndex", "near_roads", "road_index", "roads_around"]

_SPACING_M = 40.0
"""Between the points that stand for a road: our choice, within the reach of a match."""
_CELL_M = 1_000.0
"""Roads in no cell near a point are left out, as `road_index` says: our choice."""


_POINTS_AT_ONCE: Final = 512
"""Looked at together, our choice: a few hundred segments each, some 10 MB."""


@dataclass(frozen=True, slots=True, eq=False)
class RoadIndex:
    """Search structure over s segments (between neighbouring vertices) of a graph's roads."""

    tree: Any
    """`scipy.spatial.cKDTree` of samples on the segments."""
    sample_segment: NDArray[np.int64]
    """(j,) row of the segment each sample lies on."""
    start_m: NDArray[np.float64]
    """(s, 3) earth-centred."""
    step_m: NDArray[np.float64]
    """(s, 3) from start to end."""
    along_m: NDArray[np.float64]
    """(s,) `shape_along_m` at the start."""
    length_m: NDArray[np.float64]
    forward: NDArray[np.int64]
    """(s,) edge ridden in drawing order, -1 for none."""
    backward: NDArray[np.int64]


def road_index(
    graph: RoadGraph, points_m: NDArray[np.float64], use: NDArray[np.bool_] | None = None
) -> RoadIndex:
    """Prepare the search around some points.

    Parameters
    ----------
    graph
        The roads.
    points_m
        (n, 3) earth-centred. Roads farther than a kilometre from all of them are left out.
    use
        (m,) edges to search; None for all.
    """
    from scipy.spatial import cKDTree

    forward = _edge_of_segment(graph, graph.shape_first < graph.shape_last, use)
    backward = _edge_of_segment(graph, graph.shape_first > graph.shape_last, use)
    vertices_m = to_ecef_m(graph.shape_lon, graph.shape_lat).reshape(-1, 3)
    step_m = np.diff(vertices_m, axis=0, append=vertices_m[-1:])
    length_m = np.linalg.norm(step_m, axis=1)
    near = _in_cells_of(vertices_m, points_m) | (length_m > _CELL_M / 2)
    segment = np.flatnonzero(((forward >= 0) | (backward >= 0)) & near)
    start_m, step_m, length_m = vertices_m[segment], step_m[segment], length_m[segment]
    parts = np.maximum(np.ceil(length_m / _SPACING_M), 1.0).astype(np.int64)
    owner = np.repeat(np.arange(segment.size), parts)
    within = np.arange(owner.size) - np.repeat(np.cumsum(parts) - parts, parts)
    share = ((within + 0.5) / parts[owner])[:, None]
    samples_m = start_m[owner] + share * step_m[owner]
    return RoadIndex(
        tree=cKDTree(samples_m, balanced_tree=False, compact_nodes=False),
        sample_segment=owner,
        start_m=start_m,
        step_m=step_m,
        along_m=graph.shape_along_m[segment],
        length_m=length_m,
        forward=forward[segment],
        backward=backward[segment],
    )


def roads_around(
    index: RoadIndex, points_m: NDArray[np.float64], *, within_m: float
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64], NDArray[Any], NDArray[Any]]]:
    """Yield every segment within a distance (at most half a kilometre) of points, some at a time.

    Yields
    ------
    point, segment, distance_m, along_m
        (k,) each: rows of `points_m`, in order, and of the index, in order for each point; straight
        distance; position in `shape_along_m`.
    """
    from scipy.spatial import cKDTree

    for first in range(0, len(points_m), _POINTS_AT_ONCE):
        some_m = points_m[first : first + _POINTS_AT_ONCE]
        # A segment's nearest point has a sample within half a spacing.
        near = cKDTree(some_m).sparse_distance_matrix(
            index.tree, within_m + _SPACING_M / 2, output_type="ndarray"
        )
        segments = max(len(index.forward), 1)
        pairs = near["i"] * segments + index.sample_segment[near["j"]]
        point, row = np.divmod(distinct(pairs), segments)
        off_m, at_m = _to_segments(index, some_m[point], row)
        inside = off_m <= within_m
        yield first + point[inside], row[inside], off_m[inside], at_m[inside]


def near_roads(
    index: RoadIndex, points_m: NDArray[np.float64], *, within_m: float, most: int
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Find up to `most` segments near each point, nearest first, at most one per road.

    Parameters
    ----------
    points_m
        (n, 3) earth-centred.

    Returns
    -------
    segment, distance_m, along_m
        (n, most) each; -1 and infinity where there are fewer.
    """
    asked = 6 * most
    n = len(points_m)
    if index.sample_segment.size == 0 or n == 0:
        return np.full((n, most), -1), np.full((n, most), np.inf), np.zeros((n, most))
    _, found = index.tree.query(points_m, k=asked, distance_upper_bound=within_m + _SPACING_M / 2)
    known = found < index.sample_segment.size
    rows = index.sample_segment[np.where(known, found, 0)]
    off_m, at_m = _to_segments(index, points_m[:, None, :], rows)
    off_m = np.where(known & (off_m <= within_m), off_m, np.inf)
    order = np.argsort(off_m, axis=1, kind="stable")
    rows, off_m, at_m = _in_order(order, rows, off_m, at_m)
    road = np.maximum(index.forward[rows], index.backward[rows])
    seen = np.zeros(road.shape, bool)
    for column in range(1, asked):
        seen[:, column] = (road[:, :column] == road[:, column, None]).any(axis=1)
    off_m = np.where(seen, np.inf, off_m)
    order = np.argsort(off_m, axis=1, kind="stable")[:, :most]
    rows, off_m, at_m = _in_order(order, rows, off_m, at_m)
    return np.where(np.isfinite(off_m), rows, -1), off_m, at_m


def _in_order(
    order: NDArray[np.int64],
    rows: NDArray[np.int64],
    off_m: NDArray[np.float64],
    at_m: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    return (
        np.take_along_axis(rows, order, 1),
        np.take_along_axis(off_m, order, 1),
        np.take_along_axis(at_m, order, 1),
    )


def _to_segments(
    index: RoadIndex, point_m: NDArray[np.float64], rows: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distance to each segment and where along the shape its nearest point is."""
    away_m, step_m = point_m - index.start_m[rows], index.step_m[rows]
    length_m = np.maximum(index.length_m[rows], 1e-9)
    share = np.clip((away_m * step_m).sum(-1) / length_m**2, 0.0, 1.0)
    off_m = np.linalg.norm(away_m - share[..., None] * step_m, axis=-1)
    return off_m, index.along_m[rows] + share * index.length_m[rows]


def _in_cells_of(
    points_m: NDArray[np.float64], centres_m: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether each point is in the cell of a centre or in one next to it."""
    step = np.stack(np.meshgrid(*[np.arange(-1, 2)] * 3), -1).reshape(-1, 3)
    centres = distinct(_cell_keys(np.floor(centres_m / _CELL_M).astype(np.int64)))
    cells = distinct(centres[:, None] + _cell_keys(step))
    return np.isin(_cell_keys(np.floor(points_m / _CELL_M).astype(np.int64)), cells)


def _cell_keys(cells: NDArray[np.int64]) -> NDArray[np.int64]:
    return (cells[:, 0] * 20_000 + cells[:, 1]) * 20_000 + cells[:, 2]


def _edge_of_segment(
    graph: RoadGraph, chosen: NDArray[np.bool_], use: NDArray[np.bool_] | None
) -> NDArray[np.int64]:
    """(s,) the chosen edge that runs over each segment of the shape, -1 for none."""
    edges = np.flatnonzero(chosen if use is None else chosen & use)
    low = np.minimum(graph.shape_first[edges], graph.shape_last[edges])
    count = np.abs(graph.shape_last[edges] - graph.shape_first[edges])
    owner = np.repeat(edges, count)
    within = np.arange(owner.size) - np.repeat(np.cumsum(count) - count, count)
    edge = np.full(graph.shape_lon.size, -1, np.int64)
    edge[np.repeat(low, count) + within] = owner
    return edge
