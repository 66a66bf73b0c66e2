"""Shortest rides to and from places, for a batch of places at a time.

In: a graph and where places touch it. Out: seconds from every node to each place and back,
with predecessors. scipy's Dijkstra with a limit, once forwards and once on the reversed graph,
from virtual nodes that stand for the doors; see docs/how/roads.md for why this engine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.distinct import distinct, distinct_pairs
from resupply.common.geodesy import to_ecef_m
from resupply.roads.snap import road_index, roads_around

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from resupply.roads.graph import RoadGraph

__all__ = ["Doors", "Roads", "Search", "connected_edges", "find_doors", "no_dead_ends", "search"]

# A door is joined to the network it is nearest to; a road farther off than this beyond the
# nearest one may be on the other side of a gorge.
_MUCH_FARTHER_M = 50.0
# Roads this much farther off than the nearest serve the door as well: a corner, a crossing.
_SAME_DOOR_M = 10.0
# The engine reads a zero as "no edge".
_LEAST_S = 1e-6
_NOT_CONNECTED = "the road beside it is not connected with the route on this map"


@dataclass(frozen=True, slots=True, eq=False)
class Doors:
    """Where p places touch the road network."""

    edges: tuple[tuple[tuple[int, float], ...], ...]
    """(p) for each edge beside the place, how much of it lies before the place (0 to 1)."""
    walk_m: NDArray[np.float64]
    """(p,) straight from the road to the place."""
    lost: tuple[str, ...]
    """(p) why the place cannot be reached; empty where it can."""


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """Rides between k places and n nodes of a part of the graph."""

    nodes: NDArray[np.int64]
    """(n,) graph node of each row; sorted."""
    to_s: NDArray[np.float64]
    """(k, n) seconds from a node to the place, infinite beyond the limit."""
    to_next: NDArray[np.int32]
    """(k, n) next row on that ride; n and above is the place itself."""
    from_s: NDArray[np.float64]
    """(k, n) seconds from the place to a node."""
    from_last: NDArray[np.int32]
    """(k, n) row before on that ride."""
    matrix: Any
    """(n, n) sparse seconds."""

    def rows(self, nodes: NDArray[np.int64]) -> NDArray[np.int64]:
        """Rows of graph nodes, -1 where a node is not in this part."""
        row = np.minimum(np.searchsorted(self.nodes, nodes), max(len(self.nodes) - 1, 0))
        return np.where(self.nodes[row] == nodes, row, -1) if len(self.nodes) else row - 1


def connected_edges(graph: RoadGraph, nodes: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(m,) edges from which one can get back to one of these nodes, and there from it."""
    from scipy.sparse.csgraph import connected_components

    if len(graph) == 0 or nodes.size == 0:
        return np.zeros(len(graph.head), bool)
    _, label = connected_components(graph.matrix(), connection="strong")
    home = np.zeros(len(graph), bool)
    home[label[nodes]] = True
    start, end = label[graph.tail], label[graph.head]
    return np.asarray(home[start] & (start == end), dtype=bool)


def find_doors(
    graph: RoadGraph, home: NDArray[np.bool_], lon: ArrayLike, lat: ArrayLike, *, walk_m: float
) -> Doors:
    """Join places to the roads nearest to them.

    Parameters
    ----------
    home
        (m,) edges connected with the route.
    lon, lat
        (p,) degrees.
    walk_m
        Farther from a road than this, a place counts as not reachable.
    """
    points_m = to_ecef_m(lon, lat).reshape(-1, 3)
    index = road_index(graph, points_m, graph.frontage)
    at_home = home[np.maximum(index.forward, index.backward)]
    edges: list[tuple[tuple[int, float], ...]] = [()] * len(points_m)
    lost = [f"no road connected with the route within {walk_m:.0f} m of it"] * len(points_m)
    nearest_m, off_m = (np.full(len(points_m), np.inf) for _ in range(2))
    for point, row, away_m, along_m in roads_around(index, points_m, within_m=walk_m):
        usable = at_home[row]
        np.minimum.at(nearest_m, point, away_m)
        np.minimum.at(off_m, point[usable], away_m[usable])
        for i in distinct(point[usable]).tolist():
            on_other = off_m[i] > nearest_m[i] + _MUCH_FARTHER_M
            lost[i] = _NOT_CONNECTED if on_other else ""
        beside = np.flatnonzero(usable & (away_m <= off_m[point] + _SAME_DOOR_M))
        beside = beside[np.lexsort((away_m[beside], point[beside]))]
        nearest: dict[int, dict[int, float]] = {}
        sides = np.stack([index.forward[row[beside]], index.backward[row[beside]]], axis=-1)
        start_m = graph.shape_along_m[graph.shape_first[sides]]
        part = np.abs(along_m[beside, None] - start_m) / np.maximum(graph.length_m[sides], 1e-9)
        shares = np.clip(part, 0.0, 1.0).tolist()
        for i, both, share in zip(point[beside].tolist(), sides.tolist(), shares, strict=True):
            for edge, before in zip(both, share, strict=True):
                if edge >= 0 and not lost[i]:
                    nearest.setdefault(i, {}).setdefault(edge, before)
        for i, found in nearest.items():
            edges[i] = tuple(sorted(found.items()))
    return Doors(tuple(edges), off_m, tuple(lost))


@dataclass(frozen=True, slots=True, eq=False)
class Roads:
    """A graph made ready for searching."""

    graph: RoadGraph
    matrix: Any
    """(n, n) sparse seconds."""
    node_m: NDArray[np.float64]
    """(n, 3) earth-centred."""
    through: NDArray[np.bool_]
    """(n,) nodes that a way may lead through."""

    @classmethod
    def of(cls, graph: RoadGraph, through: NDArray[np.bool_] | None = None) -> Roads:
        """Prepare; without `through` ways may lead through every node."""
        node_m = to_ecef_m(graph.node_lon, graph.node_lat).reshape(-1, 3)
        every = np.ones(len(graph), bool) if through is None else through
        return cls(graph, graph.matrix(), node_m, every)


def no_dead_ends(graph: RoadGraph, ends: NDArray[np.int64]) -> NDArray[np.bool_]:
    """(n,) nodes on some way between two of these; a third of a map's nodes end nowhere.

    Parameters
    ----------
    ends
        Nodes at which a way may begin or end.
    """
    is_end = np.zeros(len(graph), bool)
    is_end[ends] = True
    low, high = np.minimum(graph.tail, graph.head), np.maximum(graph.tail, graph.head)
    low, high = distinct_pairs(np.stack([low, high], axis=-1)[low < high]).T
    kept = np.ones(len(graph), bool)
    while True:
        live = kept[low] & kept[high]
        low, high = low[live], high[live]
        roads = np.bincount(np.concatenate([low, high]), minlength=len(graph))
        dead = kept & (roads < 2) & ~is_end
        if not dead.any():
            return kept
        kept[dead] = False


def search(roads: Roads, doors: Doors, places: list[int], *, limit_s: float) -> Search:
    """Ride from and to each of a few places near each other, up to a limit.

    Parameters
    ----------
    places
        Rows of `doors`; each must be reachable.
    limit_s
        Longest ride looked for, each way, seconds.
    """
    from scipy.sparse import csr_array, vstack
    from scipy.sparse.csgraph import dijkstra

    graph = roads.graph
    ins = [(i, int(graph.tail[e]), b, e) for i, p in enumerate(places) for e, b in doors.edges[p]]
    outs = [
        (i, int(graph.head[e]), 1.0 - b, e) for i, p in enumerate(places) for e, b in doors.edges[p]
    ]
    nodes = _around(roads, [link[1] for link in ins + outs], limit_s)
    whole = len(nodes) == len(graph)
    part = roads.matrix if whole else roads.matrix[nodes][:, nodes]
    n, k = len(nodes), len(places)
    virtual = np.arange(n, n + k)

    def ride(network: Any, links: list[tuple[int, int, float, int]]) -> tuple[Any, Any]:
        at = np.searchsorted(nodes, [link[1] for link in links])
        cost_s = np.maximum([part * graph.seconds[edge] for _, _, part, edge in links], _LEAST_S)
        row = np.array([link[0] for link in links])
        # Two links from a place to one node (a circular road): the quicker one.
        order = np.lexsort((cost_s, at, row))
        first = np.ones(len(order), bool)
        first[1:] = (np.diff(row[order]) != 0) | (np.diff(at[order]) != 0)
        order = order[first]
        door = csr_array((cost_s[order], (row[order], at[order])), shape=(k, n))
        wide = vstack([network, door]).tocsr()
        square = csr_array((wide.data, wide.indices, wide.indptr), shape=(n + k, n + k))
        far_s, last = dijkstra(square, indices=virtual, limit=limit_s, return_predecessors=True)
        return far_s[:, :n], last[:, :n]

    from_s, from_last = ride(part, outs)
    to_s, to_next = ride(part.T.tocsr(), ins)
    return Search(nodes, to_s, to_next, from_s, from_last, part)


def _around(roads: Roads, starts: list[int], limit_s: float) -> NDArray[np.int64]:
    """Nodes that a ride of `limit_s` from any of these can touch."""
    spots_m = roads.node_m[starts]
    centre_m = spots_m.mean(axis=0)
    spread_m = np.linalg.norm(spots_m - centre_m, axis=1).max()
    reach_m = spread_m + limit_s * roads.graph.fastest_kmh / 3.6
    near = np.linalg.norm(roads.node_m - centre_m, axis=1) <= reach_m
    return np.flatnonzero(near & roads.through)
