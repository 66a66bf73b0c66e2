"""From a search back to the roads ridden: metres, minutes, and the line to draw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.roads.graph import RoadGraph
    from resupply.roads.match import MatchedRoute
    from resupply.roads.search import Doors, Search

__all__ = ["DetourChoice", "Line", "Way", "drawn", "ridden"]

Line = tuple["NDArray[np.float64]", "NDArray[np.float64]"]
"""Longitudes and latitudes, degrees."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way to a place and back: costs without the walk from the road to the door."""

    extra_m: float
    extra_s: float
    out_s: float
    """From where the route is left to the door."""
    leave_m: float
    rejoin_m: float
    out: tuple[int, ...] = ()
    """Edges; the last one only up to the door."""
    back: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class DetourChoice:
    """Positions in `MatchedRoute.node` at which the route is left and joined again."""

    leave: int
    rejoin: int
    leave_row: int
    rejoin_row: int
    extra_s: float
    out_s: float
    needs_s: float
    """A search up to this many seconds proves that nothing better was missed."""


def ridden(
    graph: RoadGraph,
    matched: MatchedRoute,
    doors: Doors,
    found: Search,
    place: int,
    which: int,
    choice: DetourChoice,
) -> Way:
    """Follow the predecessors and add up the metres."""
    out = found.nodes[_followed(found.to_next[which], choice.leave_row)].tolist()
    back = found.nodes[_followed(found.from_last[which], choice.rejoin_row)[::-1]].tolist()
    edges = doors.edges[place]
    arrive, before = min(
        ((e, b) for e, b in edges if graph.tail[e] == out[-1]),
        key=lambda link: link[1] * graph.seconds[link[0]],
    )
    depart, passed = min(
        ((e, b) for e, b in edges if graph.head[e] == back[0]),
        key=lambda link: (1.0 - link[1]) * graph.seconds[link[0]],
    )
    way_out, way_back = graph.edges_between(out), graph.edges_between(back)
    length_m = float(graph.length_m[way_out].sum() + graph.length_m[way_back].sum())
    length_m += float(before * graph.length_m[arrive] + (1.0 - passed) * graph.length_m[depart])
    left_out_m = float(matched.along_m[choice.rejoin] - matched.along_m[choice.leave])
    return Way(
        extra_m=max(length_m - left_out_m, 0.0),
        extra_s=choice.extra_s,
        out_s=choice.out_s,
        leave_m=float(matched.chainage_m[choice.leave]),
        rejoin_m=float(matched.chainage_m[choice.rejoin]),
        out=(*way_out.tolist(), arrive),
        back=(depart, *way_back.tolist()),
    )


def _followed(next_row: NDArray[np.int32], row: int) -> list[int]:
    """Rows from one on, each followed by its next, until that is none of them."""
    rows, count = [row], len(next_row)
    # Numbers come quicker out of it than out of the array.
    hop = np.ascontiguousarray(next_row).data
    while (row := hop[row]) < count:
        rows.append(row)
    return rows


def drawn(
    graph: RoadGraph,
    doors: Doors,
    place: int,
    edges: tuple[int, ...],
    door: tuple[float, float],
    *,
    back: bool = False,
) -> Line:
    """Draw the line towards the door; the way back is drawn from its far end."""
    if not edges:
        return np.array([door[0]]), np.array([door[1]])
    last = edges[-1]
    share = dict(doors.edges[place])[last]
    way = np.array(edges)
    first, end = graph.shape_first[way], graph.shape_last[way]
    count, step = np.abs(end - first) + 1, np.where(first <= end, 1, -1)
    if back:
        first, step = end, -step
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    vertex = np.repeat(first, count) + np.repeat(step, count) * within
    # Of the last edge only the part up to the door is ridden.
    tip = vertex[-int(count[-1]) :]
    start_m = graph.shape_along_m[graph.shape_first[last]]
    along_m = np.abs(graph.shape_along_m[tip] - start_m)
    reach_m = share * graph.length_m[last]
    inside = along_m >= reach_m if back else along_m <= reach_m
    vertex = np.concatenate([vertex[: -int(count[-1])], tip[inside]])
    return (
        np.append(graph.shape_lon[vertex], door[0]),
        np.append(graph.shape_lat[vertex], door[1]),
    )
