"""Pieces of way on their way into the road graph: cut, parted and joined as flat arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.distinct import distinct
from resupply.common.geodesy import to_ecef_m

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from resupply.route.route import Route

__all__ = [
    "Pieces",
    "distance_to_route_m",
    "join_pieces",
    "route_ends",
    "route_points_m",
    "split_at_barriers",
    "split_at_points",
    "split_pieces",
    "without_single_vertices",
]

# A point so near a node needs none of its own.
_AT_NODE_M = 5.0
# A recorded line may jump thousands of times by a few metres.
_MOST_JUMPS = 50


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """k vertices of p pieces of way, in drawing order. A piece has no hole in it."""

    ref: NDArray[np.int64]
    """(k,) OSM node ids."""
    lon: NDArray[np.float64]
    """(k,) degrees; NaN where the extract lacks the node."""
    lat: NDArray[np.float64]
    piece: NDArray[np.int64]
    """(k,) index of the piece, non-decreasing."""
    way_id: NDArray[np.int64]
    """(p,) OSM way ids."""
    road_class: NDArray[np.uint8]
    surface: NDArray[np.uint8]
    forward_kmh: NDArray[np.float64]
    """(p,) 0 where closed in drawing order."""
    backward_kmh: NDArray[np.float64]
    frontage: NDArray[np.bool_]
    """(p,) whether places beside it are entered from it."""


def distance_to_route_m(lon: ArrayLike, lat: ArrayLike, route: Route) -> NDArray[np.float64]:
    """Straight distance of points to the route's line, metres, good to about 1 %.

    Good enough to decide what belongs to a corridor; offsets come from `corridor`.
    """
    from scipy.spatial import cKDTree

    spots = cKDTree(route_points_m(route, 250.0))
    points_m = to_ecef_m(lon, lat)
    if len(points_m) == 0:
        return np.zeros(0)
    nearest_m, _ = spots.query(points_m)
    return np.asarray(nearest_m, dtype=float)


def route_points_m(route: Route, spacing_m: float) -> NDArray[np.float64]:
    """(j, 3) earth-centred points on the route, at most `spacing_m` apart, jumps left out."""
    points_m = to_ecef_m(route.lon, route.lat)
    step_m = np.diff(route.chainage_m)
    parts = np.maximum(np.ceil(step_m / spacing_m), 1.0).astype(np.int64)
    before = np.repeat(np.arange(parts.size), parts)
    within = np.arange(before.size) - np.repeat(np.cumsum(parts) - parts, parts)
    share = (within / parts[before])[:, None]
    # A jump has no length, so it yields only its first end.
    between = points_m[before] * (1.0 - share) + points_m[before + 1] * share
    return np.concatenate([between, points_m[-1:]])


def split_pieces(pieces: Pieces, keep: NDArray[np.bool_]) -> Pieces:
    """Drop vertices and break the pieces where they were."""
    kept = np.flatnonzero(keep)
    piece = pieces.piece[kept]
    fresh = (np.diff(kept, prepend=-2) > 1) | (np.diff(piece, prepend=-1) != 0)
    first = np.flatnonzero(fresh)
    return _cut(pieces, kept, piece[first], np.cumsum(fresh) - 1)


def split_at_barriers(pieces: Pieces, closed: NDArray[np.int64]) -> Pieces:
    """Part the roads at nodes no motorcycle passes; each side keeps its own dead end.

    A barrier on a node where several roads meet is left alone: it cannot say which is shut
    (wiki: Talk:Key:barrier), and it would cut the main road.
    """
    _, same, uses = np.unique(pieces.ref, return_inverse=True, return_counts=True)
    border = np.diff(pieces.piece, prepend=-1, append=-1) != 0
    is_end = border[:-1] | border[1:]
    single = (uses[same] == 1) | ((uses[same] == 2) & is_end)
    # Where two roads end at a node both uses are ends; where one runs through, it's a crossing.
    inner = distinct(pieces.ref[~is_end & (uses[same] > 1)])
    hit = np.isin(pieces.ref, closed) & single & ~np.isin(pieces.ref, inner)
    copies = np.where(hit, 2, 1)
    vertex = np.repeat(np.arange(hit.size), copies)
    second = np.diff(vertex, prepend=-1) == 0
    fresh = second | (np.diff(pieces.piece[vertex], prepend=-1) != 0)
    split = _cut(pieces, vertex, pieces.piece[vertex[np.flatnonzero(fresh)]], np.cumsum(fresh) - 1)
    ref = split.ref.copy()
    parted = np.flatnonzero(hit[vertex])
    ref[parted] = -1 - np.arange(parted.size)
    return replace(split, ref=ref)


def split_at_points(
    pieces: Pieces, lon: ArrayLike, lat: ArrayLike, *, within_m: float = 60.0
) -> Pieces:
    """Make a node on the road beside each point, so that a ride can begin or end there.

    Parameters
    ----------
    lon, lat
        (j,) degrees: few, e.g. where the route starts and ends.
    within_m
        A point farther from any road is left out.
    """
    points_m = to_ecef_m(lon, lat).reshape(-1, 3)
    vertex_m = to_ecef_m(pieces.lon, pieces.lat).reshape(-1, 3)
    step_m = np.diff(vertex_m, axis=0)
    length_m = np.maximum(np.linalg.norm(step_m, axis=1), 1e-9)
    inside = pieces.piece[1:] == pieces.piece[:-1]
    is_stop = _is_stop(pieces)
    cuts: dict[tuple[int, float], None] = {}
    for point_m in points_m:
        away_m = point_m - vertex_m[:-1]
        share = np.clip((away_m * step_m).sum(1) / length_m**2, 0.0, 1.0)
        off_m = np.linalg.norm(away_m - share[:, None] * step_m, axis=1)
        off_m[~inside] = np.inf
        if off_m.size and off_m.min() <= within_m:
            # Roads drawn on top of each other (two directions) are all cut.
            for at in np.flatnonzero(off_m <= off_m.min() + 0.01).tolist():
                to_start_m = share[at] * length_m[at]
                to_end_m = length_m[at] - to_start_m
                at_node = (is_stop[at] and to_start_m <= _AT_NODE_M) or (
                    is_stop[at + 1] and to_end_m <= _AT_NODE_M
                )
                if not at_node:
                    cuts[at, float(share[at])] = None
    if not cuts:
        return pieces
    order = sorted(cuts)
    before = np.array([at for at, _ in order])
    part = np.array([share for _, share in order])
    fresh_id = min(int(pieces.ref.min()), 0) - 1 - np.arange(len(order))
    # Each new vertex goes in twice, as the end of one piece and the start of the next.
    spot, twice = np.repeat(before + 1, 2), np.repeat(np.arange(len(order)), 2)
    piece = np.insert(pieces.piece, spot, pieces.piece[before[twice]])
    starts = np.insert(np.zeros(pieces.ref.size, np.int64), spot, np.tile([0, 1], len(order)))
    starts += np.diff(piece, prepend=-1) != 0
    parent = piece[np.flatnonzero(starts)]

    def with_new(degrees: NDArray[np.float64]) -> NDArray[np.float64]:
        turn = (degrees[before + 1] - degrees[before] + 180.0) % 360.0 - 180.0
        new = (degrees[before] + part * turn + 180.0) % 360.0 - 180.0
        return np.insert(degrees, spot, new[twice])

    return Pieces(
        ref=np.insert(pieces.ref, spot, fresh_id[twice]),
        lon=with_new(pieces.lon),
        lat=with_new(pieces.lat),
        piece=np.cumsum(starts) - 1,
        way_id=pieces.way_id[parent],
        road_class=pieces.road_class[parent],
        surface=pieces.surface[parent],
        forward_kmh=pieces.forward_kmh[parent],
        backward_kmh=pieces.backward_kmh[parent],
        frontage=pieces.frontage[parent],
    )


def route_ends(route: Route) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Longitudes and latitudes of the route's ends and of those at its longest jumps."""
    jumps = sorted(route.breaks, key=lambda jump: -jump.length_m)[:_MOST_JUMPS]
    ix = [0, *(i for jump in jumps for i in (jump.index, jump.index + 1)), len(route.lon) - 1]
    return route.lon[ix], route.lat[ix]


def _is_stop(pieces: Pieces) -> NDArray[np.bool_]:
    """(k,) whether a vertex is a node of the graph anyway: an end, or shared."""
    border = np.diff(pieces.piece, prepend=-1, append=-1) != 0
    _, same, uses = np.unique(pieces.ref, return_inverse=True, return_counts=True)
    return np.asarray(border[:-1] | border[1:] | (uses[same] > 1), dtype=bool)


def _cut(
    pieces: Pieces,
    vertex: NDArray[np.int64],
    parent: NDArray[np.int64],
    piece: NDArray[np.int64],
) -> Pieces:
    return Pieces(
        ref=pieces.ref[vertex],
        lon=pieces.lon[vertex],
        lat=pieces.lat[vertex],
        piece=piece.astype(np.int64),
        way_id=pieces.way_id[parent],
        road_class=pieces.road_class[parent],
        surface=pieces.surface[parent],
        forward_kmh=pieces.forward_kmh[parent],
        backward_kmh=pieces.backward_kmh[parent],
        frontage=pieces.frontage[parent],
    )


def without_single_vertices(pieces: Pieces) -> Pieces:
    """Drop pieces of one vertex, which lead nowhere."""
    sizes = np.bincount(pieces.piece, minlength=pieces.way_id.size)
    return split_pieces(pieces, sizes[pieces.piece] > 1)


def join_pieces(parts: Sequence[Pieces]) -> Pieces:
    """Put several sets one after the other."""
    offsets = np.cumsum([0, *(part.way_id.size for part in parts)])

    def joined(name: str, kind: type) -> NDArray[Any]:
        return np.concatenate([np.zeros(0, kind), *(getattr(part, name) for part in parts)])

    return Pieces(
        ref=joined("ref", np.int64),
        lon=joined("lon", float),
        lat=joined("lat", float),
        piece=np.concatenate(
            [np.zeros(0, np.int64), *(p.piece + at for p, at in zip(parts, offsets, strict=False))]
        ),
        way_id=joined("way_id", np.int64),
        road_class=joined("road_class", np.uint8),
        surface=joined("surface", np.uint8),
        forward_kmh=joined("forward_kmh", float),
        backward_kmh=joined("backward_kmh", float),
        frontage=joined("frontage", bool),
    )
