"""From matched samples to unbroken chains of edges with the chainage at every junction."""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.roads.graph import RoadGraph

__all__ = ["Chain", "chains_of", "short_way"]

# A hole in the matching is bridged by road if the road is not much longer than the line.
_BRIDGE_FACTOR = 1.5
_BRIDGE_EXTRA_M = 100.0
_BRIDGE_HOLE_M = 1_000.0
# A ride that begins or ends so near a junction reaches it.
_AT_NODE_M = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """q edges ridden one after the other."""

    edge: NDArray[np.int64]
    start_m: NDArray[np.float64]
    """(q,) chainage, non-decreasing."""
    end_m: NDArray[np.float64]
    from_share: NDArray[np.float64]
    to_share: NDArray[np.float64]


@dataclass(slots=True)
class _Ride:
    """One edge of a chain under construction; metres along the edge."""

    edge: int
    from_m: float
    to_m: float
    anchors: list[tuple[float, float]]
    """(metres along the edge, chainage) of the samples on it."""


def chains_of(
    graph: RoadGraph,
    edge: NDArray[np.int64],
    position_m: NDArray[np.float64],
    at_m: NDArray[np.float64],
) -> list[Chain]:
    """Join matched samples.

    Parameters
    ----------
    edge
        (n,) edge under each sample, -1 for none.
    position_m
        (n,) metres along it.
    at_m
        (n,) chainage of the samples, increasing.
    """
    done: list[Chain] = []
    rides: list[_Ride] = []
    for i in np.flatnonzero(edge >= 0).tolist():
        here, along_m, chainage_m = int(edge[i]), float(position_m[i]), float(at_m[i])
        if rides and rides[-1].edge == here and along_m >= rides[-1].anchors[-1][0] - 50.0:
            rides[-1].anchors.append((max(along_m, rides[-1].anchors[-1][0]), chainage_m))
            continue
        link = _link(graph, rides[-1], here, along_m, chainage_m) if rides else None
        if rides and link is None:
            done += _finished(graph, rides)
            rides = []
        rides += link or []
        rides.append(_Ride(here, 0.0, 0.0, [(along_m, chainage_m)]))
        if len(rides) == 1:
            rides[0].from_m = along_m
        elif rides[-2].to_m < float(graph.length_m[rides[-2].edge]):
            rides[-1].from_m = along_m
    return done + _finished(graph, rides)


def short_way(graph: RoadGraph, start: int, goal: int, *, limit_m: float) -> list[int] | None:
    """Edges of the shortest way between two nodes nearby; None beyond the limit."""
    best = {start: 0.0}
    came: dict[int, int] = {}
    queue = [(0.0, start)]
    while queue:
        far_m, node = heapq.heappop(queue)
        if node == goal:
            edges: list[int] = []
            while node != start:
                edges.append(came[node])
                node = int(graph.tail[came[node]])
            return edges[::-1]
        if far_m > best[node]:
            continue
        for edge in range(int(graph.indptr[node]), int(graph.indptr[node + 1])):
            head, total_m = int(graph.head[edge]), far_m + float(graph.length_m[edge])
            if total_m <= limit_m and total_m < best.get(head, np.inf):
                best[head], came[head] = total_m, edge
                heapq.heappush(queue, (total_m, head))
    return None


def _link(
    graph: RoadGraph, last: _Ride, here: int, along_m: float, chainage_m: float
) -> list[_Ride] | None:
    """Rides that lead from the last edge to the next; None where the chain breaks."""
    reached_m, line_m = last.anchors[-1][0], chainage_m - last.anchors[-1][1]
    length_m = float(graph.length_m[last.edge])
    turn = graph.head[last.edge] == graph.tail[here] and graph.tail[last.edge] == graph.head[here]
    same_road = turn and graph.way_id[last.edge] == graph.way_id[here] and here != last.edge
    if same_road and (length_m - reached_m) + along_m > line_m + 2.0 * _BRIDGE_EXTRA_M:
        last.to_m = reached_m  # turned round on the road
        return []
    if line_m > _BRIDGE_HOLE_M:
        return None
    limit_m = _BRIDGE_FACTOR * line_m + _BRIDGE_EXTRA_M - (length_m - reached_m) - along_m
    between = short_way(
        graph, int(graph.head[last.edge]), int(graph.tail[here]), limit_m=max(limit_m, 0.0)
    )
    if between is None:
        return None
    last.to_m = length_m
    return [_Ride(edge, 0.0, float(graph.length_m[edge]), []) for edge in between]


def _finished(graph: RoadGraph, rides: list[_Ride]) -> list[Chain]:
    """Turn rides into a chain; a chain of a single sample says nothing and is dropped."""
    if not rides:
        return []
    if rides[0].from_m < _AT_NODE_M:
        rides[0].from_m = 0.0
    last = rides[-1]
    last.to_m = max(last.anchors[-1][0], last.from_m)
    if last.to_m > float(graph.length_m[last.edge]) - _AT_NODE_M:
        last.to_m = float(graph.length_m[last.edge])
    from_m, to_m = np.array([r.from_m for r in rides]), np.array([r.to_m for r in rides])
    ridden_m = np.maximum(to_m - from_m, 0.0)
    base_m = np.concatenate([[0.0], np.cumsum(ridden_m)])
    anchors = [
        (base + min(max(along - ride.from_m, 0.0), ridden), chainage)
        for ride, base, ridden in zip(rides, base_m, ridden_m, strict=False)
        for along, chainage in ride.anchors
    ]
    path_m, line_m = np.array(anchors).T
    if line_m[-1] <= line_m[0]:
        return []
    chainage_m = np.interp(base_m, np.maximum.accumulate(path_m), line_m)
    edge = np.array([ride.edge for ride in rides], np.int64)
    length_m = np.maximum(graph.length_m[edge], 1e-9)
    return [
        Chain(
            edge=edge,
            start_m=chainage_m[:-1],
            end_m=chainage_m[1:],
            from_share=from_m / length_m,
            to_share=np.where(to_m >= length_m, 1.0, to_m / length_m),
        )
    ]
