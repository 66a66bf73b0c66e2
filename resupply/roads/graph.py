"""The road network of a corridor as plain arrays.

In: ways (vertices, tags already judged). Out: a `RoadGraph`: junctions as nodes, one directed
edge per permitted direction between junctions, the drawn shape kept aside. Every vertex that
two ways share is a node, so the shortest paths are those of the full network.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.geodesy import segment_lengths_m
from resupply.roads.pieces import without_single_vertices

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from scipy.sparse import csr_array

    from resupply.roads.pieces import Pieces
    from resupply.roads.speeds import Speeds

__all__ = ["RoadGraph", "make_graph"]

# Shorter than any mapped road; keeps the engine from reading a zero as "no edge".
_LEAST_S = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class RoadGraph:
    """n nodes and m directed edges, sorted by tail. Arrays are read-only."""

    node_id: NDArray[np.int64]
    """(n,) OSM node ids; negative for the two sides of a barrier no motorcycle passes."""
    node_lon: NDArray[np.float64]
    node_lat: NDArray[np.float64]
    indptr: NDArray[np.int32]
    """(n+1,) edges leaving node i are indptr[i] … indptr[i+1]."""
    tail: NDArray[np.int32]
    """(m,) node an edge leaves."""
    head: NDArray[np.int32]
    """(m,) node an edge reaches."""
    length_m: NDArray[np.float64]
    seconds: NDArray[np.float64]
    """(m,) riding time, > 0."""
    surface: NDArray[np.uint8]
    """(m,) `Surface`."""
    road_class: NDArray[np.uint8]
    """(m,) index into `classes`."""
    way_id: NDArray[np.int64]
    frontage: NDArray[np.bool_]
    """(m,) whether places beside it are entered from it: not from motorway, bridge, tunnel."""
    shape_first: NDArray[np.int64]
    """(m,) index of the first vertex; greater than `shape_last` against drawing order."""
    shape_last: NDArray[np.int64]
    shape_lon: NDArray[np.float64]
    """(s,) vertices, shared by both directions."""
    shape_lat: NDArray[np.float64]
    shape_along_m: NDArray[np.float64]
    """(s,) running length over all vertices; only differences within an edge mean anything."""
    classes: tuple[str, ...]
    fastest_kmh: float
    """No edge is faster."""
    slowest_kmh: float
    """Speed from the road to a door beside it."""
    reach_m: float
    """Roads farther than this from the route are not in the graph."""
    source: str

    def __len__(self) -> int:
        return len(self.node_id)

    def edge_line(self, edge: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Longitudes and latitudes of an edge, degrees, in riding order."""
        first, last = int(self.shape_first[edge]), int(self.shape_last[edge])
        if first <= last:
            return self.shape_lon[first : last + 1], self.shape_lat[first : last + 1]
        return (
            self.shape_lon[last : first + 1][::-1],
            self.shape_lat[last : first + 1][::-1],
        )

    def edges_between(self, nodes: Sequence[int]) -> NDArray[np.int64]:
        """Find the quickest edge from each node of a way straight to the next, (len - 1,).

        Raises
        ------
        ValueError
            There is none from some node.
        """
        tail, head = np.array(nodes[:-1], np.int64), np.array(nodes[1:], np.int64)
        # Edges are sorted by tail, head, seconds: the first that fits is the quickest.
        first, count = self.indptr[tail], self.indptr[tail + 1] - self.indptr[tail]
        row = np.repeat(np.arange(len(tail)), count)
        edge = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + first[row]
        fits = self.head[edge] == head[row]
        found, at = np.unique(row[fits], return_index=True)
        if len(found) < len(tail):
            missing = int(np.setdiff1d(np.arange(len(tail)), found)[0])
            raise ValueError(f"no road from node {tail[missing]} straight to node {head[missing]}")
        return np.asarray(edge[fits][at])

    def matrix(self) -> csr_array:
        """(n, n) riding seconds as a sparse matrix: the quickest of parallel roads, no circles."""
        from scipy.sparse import csr_array

        # Edges are sorted by tail, head, seconds. scipy's component search never ends on doubles.
        first = (np.diff(self.tail, prepend=-1) != 0) | (np.diff(self.head, prepend=-1) != 0)
        use = first & (self.tail != self.head)
        indptr = np.concatenate([[0], np.cumsum(use)]).astype(np.int32)[self.indptr]
        return csr_array((self.seconds[use], self.head[use], indptr), shape=(len(self), len(self)))


def make_graph(pieces: Pieces, *, speeds: Speeds, reach_m: float, source: str) -> RoadGraph:
    """Join pieces of way at their shared nodes and keep one edge per permitted direction.

    Parameters
    ----------
    pieces
        Whole pieces; vertices without a position have been cut out already.
    speeds
        The table the pieces were judged by.
    reach_m
        Kept for what it says about the graph; nothing is clipped here.
    source
        In words, e.g. "extract alps.osm.pbf".
    """
    pieces = without_single_vertices(pieces)
    ref, piece = pieces.ref, pieces.piece
    new_piece = np.diff(piece, prepend=-1, append=-1) != 0
    is_end = new_piece[:-1] | new_piece[1:]
    _, same, uses = np.unique(ref, return_inverse=True, return_counts=True)
    stop = np.flatnonzero(is_end | (uses[same] > 1)) if ref.size else np.zeros(0, np.int64)
    step_m = segment_lengths_m(pieces.lon, pieces.lat)
    along_m = np.concatenate([[0.0], np.cumsum(step_m)])
    joined = np.flatnonzero(piece[stop[:-1]] == piece[stop[1:]]) if stop.size else stop
    start, end = stop[joined], stop[joined + 1] if joined.size else stop[joined]

    node_id, first_seen, node_of = np.unique(ref[stop], return_index=True, return_inverse=True)
    tail, head = node_of[joined], node_of[joined + 1] if joined.size else node_of[joined]
    own = piece[start]
    length_m = along_m[end] - along_m[start]
    forward = np.flatnonzero(pieces.forward_kmh[own] > 0.0)
    backward = np.flatnonzero(pieces.backward_kmh[own] > 0.0)
    both = np.concatenate([forward, backward])
    kmh = np.concatenate([pieces.forward_kmh[own[forward]], pieces.backward_kmh[own[backward]]])
    edge_tail = np.concatenate([tail[forward], head[backward]])
    edge_head = np.concatenate([head[forward], tail[backward]])
    seconds = np.maximum(length_m[both] * 3.6 / kmh, _LEAST_S)
    order = np.lexsort((seconds, edge_head, edge_tail))
    both, edge_tail, edge_head = both[order], edge_tail[order], edge_head[order]
    n = node_id.size
    graph = RoadGraph(
        node_id=node_id,
        node_lon=pieces.lon[stop[first_seen]],
        node_lat=pieces.lat[stop[first_seen]],
        indptr=_offsets(edge_tail, n),
        tail=edge_tail.astype(np.int32),
        head=edge_head.astype(np.int32),
        length_m=length_m[both],
        seconds=seconds[order],
        surface=pieces.surface[own[both]],
        road_class=pieces.road_class[own[both]],
        way_id=pieces.way_id[own[both]],
        frontage=pieces.frontage[own[both]],
        shape_first=np.concatenate([start[forward], end[backward]])[order],
        shape_last=np.concatenate([end[forward], start[backward]])[order],
        shape_lon=pieces.lon,
        shape_lat=pieces.lat,
        shape_along_m=along_m[: pieces.lon.size],
        classes=speeds.classes,
        fastest_kmh=speeds.fastest_kmh,
        slowest_kmh=speeds.slowest_kmh,
        reach_m=reach_m,
        source=source,
    )
    for name in array_names():
        getattr(graph, name).flags.writeable = False
    return graph


def _offsets(sorted_or_not: NDArray[np.int64], n: int) -> NDArray[np.int32]:
    counts = np.bincount(sorted_or_not, minlength=n)
    return np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)


@cache
def array_names() -> tuple[str, ...]:
    """Names of the columns of a graph."""
    from dataclasses import fields

    return tuple(field.name for field in fields(RoadGraph) if "NDArray" in str(field.type))
