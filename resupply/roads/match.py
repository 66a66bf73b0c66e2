"""The roads under the route: which edges are ridden, how long they take, what they are made of.

In: a `Route` and a `RoadGraph`. Out: a `MatchedRoute`. The line is sampled, each sample gets a
few nearby edges, and the likeliest sequence is the one that stays near the line and goes on
from edge to edge (a small hidden Markov model, solved exactly by Viterbi). Where no road fits,
nothing is guessed: the average speed is used there, and said so.

References
----------
P. Newson, J. Krumm, Hidden Markov map matching through noise and sparseness, ACM GIS 2009
(the form of the two costs; the numbers here are our own).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.geodesy import to_ecef_m
from resupply.places.place import RouteSpan
from resupply.roads.chains import Chain, chains_of
from resupply.roads.snap import near_roads, road_index
from resupply.roads.speeds import Surface
from resupply.route.legs import RideTime

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.roads.graph import RoadGraph
    from resupply.roads.snap import RoadIndex
    from resupply.route.route import Route

__all__ = ["MatchedRoute", "SurfaceMix", "match_route", "surface_mix"]

_SAMPLE_M = 40.0
"""Between samples along the line: our choice."""
_WITHIN_M = 60.0
"""Farther from the line no road is its road: our choice, five times the spread."""
_ROADS = 6
"""Nearest roads tried at each sample: our choice; more only cost time."""
_BLOCK = 4_000
"""Samples searched at once: our choice, 160 km; bounds memory."""
# Costs are negative log likelihoods; a planned or recorded line keeps within some 12 m.
_SPREAD_M = 12.0
_NO_ROAD = (40.0 / _SPREAD_M) ** 2 / 2.0
_HEADING = 6.0
_STEP_SPREAD_M = 20.0
_U_TURN = 6.0
_JUMP = 14.0
_LOSE_ROAD = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class MatchedRoute:
    """What of a route lies on known roads. Arrays are read-only and in riding order."""

    edge: NDArray[np.int64]
    """(q,) edges ridden; an edge ridden twice is there twice."""
    start_m: NDArray[np.float64]
    """(q,) chainage at which each is entered, non-decreasing."""
    end_m: NDArray[np.float64]
    from_share: NDArray[np.float64]
    """(q,) 0 to 1: where on the edge the ride begins …"""
    to_share: NDArray[np.float64]
    """… and ends; 0 and 1 but at the ends of a matched stretch."""
    node: NDArray[np.int64]
    """(k,) graph nodes passed, in riding order."""
    chainage_m: NDArray[np.float64]
    """(k,) of the nodes, non-decreasing."""
    along_m: NDArray[np.float64]
    """(k,) length by road from the route's start; chainage where no road is known."""
    ride_s: NDArray[np.float64]
    """(k,) riding seconds from the route's start."""
    ride_time: RideTime
    unmatched: tuple[RouteSpan, ...]
    """Where no road fits the line: the average speed is used."""
    length_m: float

    def __post_init__(self) -> None:
        for array in (self.edge, self.start_m, self.end_m, self.from_share, self.to_share):
            array.flags.writeable = False
        for array in (self.node, self.chainage_m, self.along_m, self.ride_s):
            array.flags.writeable = False


@dataclass(frozen=True, slots=True)
class SurfaceMix:
    """Metres of each surface on a piece of the route."""

    paved_m: float
    gravel_m: float
    track_m: float
    unknown_m: float
    """Roads without a surface tag, and where no road is known."""


def match_route(graph: RoadGraph, route: Route, *, average_kmh: float) -> MatchedRoute:
    """Find the roads under a route.

    Parameters
    ----------
    graph
        Roads near the route.
    route
        The line, with its breaks: nothing is matched across one.
    average_kmh
        Average moving speed, used where no road is known.
    """
    parts = [_sampled(route, first, last) for first, last in _parts(route)]
    chains: list[Chain] = []
    if parts and len(graph):
        index = road_index(graph, np.concatenate([part.points_m for part in parts]))
        if index.sample_segment.size:
            for part in parts:
                chains += _match_part(graph, index, part)
    return _assemble(graph, route, chains, average_kmh)


def surface_mix(
    matched: MatchedRoute, graph: RoadGraph, *, start_m: float, end_m: float
) -> SurfaceMix:
    """Metres of each surface between two chainages; they add up to the stretch."""
    inside_m = np.clip(
        np.minimum(matched.end_m, end_m) - np.maximum(matched.start_m, start_m), 0.0, None
    )
    surface = graph.surface[matched.edge]
    paved_m, gravel_m, track_m = (
        float(inside_m[surface == kind].sum())
        for kind in (Surface.PAVED, Surface.GRAVEL, Surface.TRACK)
    )
    unknown_m = max(end_m - start_m - paved_m - gravel_m - track_m, 0.0)
    return SurfaceMix(paved_m, gravel_m, track_m, unknown_m)


def _parts(route: Route) -> list[tuple[int, int]]:
    """First and last point of each unbroken part."""
    cuts = [jump.index for jump in route.breaks]
    firsts, lasts = [0, *(cut + 1 for cut in cuts)], [*cuts, len(route.lon) - 1]
    return [(a, b) for a, b in zip(firsts, lasts, strict=True) if b > a]


@dataclass(frozen=True, slots=True, eq=False)
class _Samples:
    """n points on an unbroken part of the line."""

    at_m: NDArray[np.float64]
    """(n,) chainage, increasing."""
    points_m: NDArray[np.float64]
    """(n, 3) earth-centred."""
    heading_m: NDArray[np.float64]
    """(n, 3) from a little before to a little after."""


def _sampled(route: Route, first: int, last: int) -> _Samples:
    points_m = to_ecef_m(route.lon[first : last + 1], route.lat[first : last + 1])
    chainage_m = route.chainage_m[first : last + 1]
    count = max(int(np.ceil((chainage_m[-1] - chainage_m[0]) / _SAMPLE_M)), 1) + 1
    at_m = np.linspace(chainage_m[0], chainage_m[-1], count)
    before_m = _on_line_m(at_m - _SAMPLE_M / 2, chainage_m, points_m)
    after_m = _on_line_m(at_m + _SAMPLE_M / 2, chainage_m, points_m)
    return _Samples(at_m, _on_line_m(at_m, chainage_m, points_m), after_m - before_m)


def _match_part(graph: RoadGraph, index: RoadIndex, part: _Samples) -> list[Chain]:
    """Match block by block, so that memory does not grow with the length."""
    count = len(part.at_m)
    if part.at_m[-1] <= part.at_m[0]:
        return []
    blocks = [slice(at, at + _BLOCK) for at in range(0, count, _BLOCK)]
    states = [_states(graph, index, part.points_m[b], part.heading_m[b]) for b in blocks]
    edge, position_m, cost = (np.concatenate(column) for column in zip(*states, strict=True))
    chosen = _viterbi(graph, edge, position_m, cost, np.diff(part.at_m))
    rows = np.arange(count)
    return chains_of(graph, edge[rows, chosen], position_m[rows, chosen], part.at_m)


def _on_line_m(
    at_m: NDArray[np.float64], chainage_m: NDArray[np.float64], points_m: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Earth-centred points at chainages, lifted from the chord back to the surface."""
    chord_m = np.stack([np.interp(at_m, chainage_m, points_m[:, i]) for i in range(3)], axis=1)
    height_m = np.interp(at_m, chainage_m, np.linalg.norm(points_m, axis=1))
    lift = height_m / np.linalg.norm(chord_m, axis=1)
    return np.asarray(chord_m * lift[:, None], dtype=float)


def _states(
    graph: RoadGraph,
    index: RoadIndex,
    samples_m: NDArray[np.float64],
    heading_m: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Candidate edges (n, 2·roads + 1), metres along each, and what choosing it costs.

    The last column stands for "on no known road": edge -1.
    """
    segment, off_m, along_m = near_roads(index, samples_m, within_m=_WITHIN_M, most=_ROADS)
    known = segment >= 0
    row = np.where(known, segment, 0)
    step_m = index.step_m[row]
    norm = np.linalg.norm(step_m, axis=2) * np.linalg.norm(heading_m, axis=1)[:, None]
    cosine = (step_m * heading_m[:, None, :]).sum(2) / np.maximum(norm, 1e-9)
    edge = np.concatenate([index.forward[row], index.backward[row]], axis=1)
    turn = np.concatenate([1.0 - cosine, 1.0 + cosine], axis=1)
    off_m, along_m = np.tile(off_m, 2), np.tile(along_m, 2)
    edge = np.where(np.tile(known, 2), edge, -1)
    cost = np.where(edge >= 0, (off_m / _SPREAD_M) ** 2 / 2.0 + _HEADING * turn, np.inf)
    first = graph.shape_along_m[graph.shape_first[edge]]
    position_m = np.clip(np.abs(along_m - first), 0.0, graph.length_m[edge])
    nothing = np.full((len(samples_m), 1), -1)
    return (
        np.concatenate([edge, nothing], axis=1),
        np.concatenate([position_m, np.zeros(nothing.shape)], axis=1),
        np.concatenate([cost, np.full(nothing.shape, _NO_ROAD)], axis=1),
    )


def _moves(
    graph: RoadGraph,
    edge: NDArray[np.int64],
    position_m: NDArray[np.float64],
    step_m: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Cost (n-1, states, states) of going from one sample's state to the next one's."""
    here, there = edge[:-1, :, None], edge[1:, None, :]
    from_m, to_m = position_m[:-1, :, None], position_m[1:, None, :]
    left_m = graph.length_m[here] - from_m
    same = here == there
    joined = graph.head[here] == graph.tail[there]
    between_m = _one_edge_between_m(graph, here, there, skip=same | joined)
    road_m = np.where(same, to_m - from_m, left_m + to_m + np.where(joined, 0.0, between_m))
    # Standing still by a few metres is noise; riding an edge backwards is not possible.
    ahead = np.where(same & (road_m < -_STEP_SPREAD_M), np.inf, 0.0)
    cost = np.abs(road_m - step_m[:, None, None]) / _STEP_SPREAD_M + ahead
    back = (graph.tail[here] == graph.head[there]) & (graph.head[here] == graph.tail[there])
    back &= graph.way_id[here] == graph.way_id[there]
    turned = back & ~same & (np.abs(left_m - to_m) < 2.0 * _SAMPLE_M)
    cost = np.where(turned, np.minimum(cost, _U_TURN), cost)
    cost = np.minimum(cost, _JUMP)
    lost, found = (here < 0) & (there >= 0), (here >= 0) & (there < 0)
    cost = np.where(lost | found, _LOSE_ROAD, cost)
    return np.where((here < 0) & (there < 0), 0.0, cost)


def _one_edge_between_m(
    graph: RoadGraph, here: NDArray[np.int64], there: NDArray[np.int64], skip: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Length of the single edge that links two edges, infinity where there is none."""
    here, there = np.broadcast_arrays(here, there)
    wanted = np.flatnonzero(~skip & (here >= 0) & (there >= 0))
    size = len(graph)
    keys = graph.tail.astype(np.int64) * size + graph.head
    ask = graph.head[here.ravel()[wanted]].astype(np.int64) * size
    ask += graph.tail[there.ravel()[wanted]]
    spot = np.minimum(np.searchsorted(keys, ask), max(keys.size - 1, 0))
    length_m = np.full(here.size, np.inf)
    length_m[wanted] = np.where(keys[spot] == ask, graph.length_m[spot], np.inf)
    return length_m.reshape(here.shape)


def _viterbi(
    graph: RoadGraph,
    edge: NDArray[np.int64],
    position_m: NDArray[np.float64],
    cost: NDArray[np.float64],
    step_m: NDArray[np.float64],
) -> NDArray[np.int64]:
    """Cheapest sequence of states, exactly. Ties go to the lower state."""
    n, states = cost.shape
    came_from = np.zeros((n, states), np.int8)
    total = cost[0]
    columns = np.arange(states)
    for low in range(0, n - 1, _BLOCK):
        high = min(low + _BLOCK, n - 1)
        block = slice(low, high + 1)
        moves = _moves(graph, edge[block], position_m[block], step_m[low:high])
        for i in range(low, high):
            reach = total[:, None] + moves[i - low]
            best = reach.argmin(axis=0)
            came_from[i + 1] = best
            total = reach[best, columns] + cost[i + 1]
    chosen = np.zeros(n, np.int64)
    chosen[-1] = int(total.argmin())
    for i in range(n - 1, 0, -1):
        chosen[i - 1] = came_from[i, chosen[i]]
    return chosen


def _assemble(
    graph: RoadGraph, route: Route, chains: list[Chain], average_kmh: float
) -> MatchedRoute:
    """Join chains with average-speed stretches between them."""
    length_m = route.length_m
    knots_m, knots_s, along_m = [0.0], [0.0], 0.0
    node: list[int] = []
    node_at: list[tuple[float, float, float]] = []
    unmatched: list[RouteSpan] = []

    def ride_average_to(target_m: float) -> None:
        nonlocal along_m
        gap_m = target_m - knots_m[-1]
        if gap_m <= 0.0:
            return
        unmatched.append(RouteSpan(knots_m[-1], target_m, "no road known under the route"))
        along_m += gap_m
        knots_s.append(knots_s[-1] + gap_m / (average_kmh / 3.6))
        knots_m.append(target_m)

    for chain in chains:
        ride_average_to(float(chain.start_m[0]))
        share = chain.to_share - chain.from_share
        for i, edge in enumerate(chain.edge):
            if chain.from_share[i] == 0.0 and (i == 0 or chain.to_share[i - 1] < 1.0):
                node.append(int(graph.tail[edge]))
                node_at.append((float(chain.start_m[i]), along_m, knots_s[-1]))
            along_m += float(share[i] * graph.length_m[edge])
            knots_m.append(float(chain.end_m[i]))
            knots_s.append(knots_s[-1] + float(share[i] * graph.seconds[edge]))
            if chain.to_share[i] == 1.0:
                node.append(int(graph.head[edge]))
                node_at.append((knots_m[-1], along_m, knots_s[-1]))
    ride_average_to(length_m)
    at = np.array(node_at).reshape(-1, 3)
    columns = {
        name: np.concatenate([np.zeros(0), *(getattr(chain, name) for chain in chains)])
        for name in ("edge", "start_m", "end_m", "from_share", "to_share")
    }
    return MatchedRoute(
        edge=columns["edge"].astype(np.int64),
        start_m=columns["start_m"],
        end_m=columns["end_m"],
        from_share=columns["from_share"],
        to_share=columns["to_share"],
        node=np.array(node, np.int64),
        chainage_m=at[:, 0],
        along_m=at[:, 1],
        ride_s=at[:, 2],
        ride_time=RideTime(np.array(knots_m), np.array(knots_s), "roads under the route")
        if chains
        else RideTime.constant(length_m, average_kmh),
        unmatched=tuple(unmatched),
        length_m=length_m,
    )
