"""What a stop costs by road: where to leave the route, where to rejoin, extra km and minutes.

In: a graph, the matched route, passes and places. Out: `Detours`. The rider leaves the route
where it is best and rejoins where it is best. Route may be left out only where it is itself
the quickest way between the two points: a loop or a spur is never cut short. No road found
is *not known*, never zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.roads.quickest import SAVING_S, quickest_until
from resupply.roads.search import Roads, connected_edges, find_doors, no_dead_ends, search
from resupply.roads.trace import DetourChoice, Way, drawn, ridden

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    from resupply.passes.find import Passes
    from resupply.roads.graph import RoadGraph
    from resupply.roads.match import MatchedRoute
    from resupply.roads.search import Doors, Search
    from resupply.roads.trace import Line

__all__ = ["STRAIGHT_FACTOR", "Detours", "detours", "straight_detours"]

STRAIGHT_FACTOR = 1.4
"""Road length over straight length, where no roads are known. Common practice, no source."""
_WALK_M = 500.0
"""From the last road to a door: our choice; farther off the map lacks the way."""
_SPAN_M = 30_000.0
"""Of the route, either side of a pass, where a way may leave or join it: our choice."""
# Most stops are proven best within the first limits; the few others are sought again.
_LIMITS_S = (900.0, 1_500.0, 2_700.0, 5_400.0)
_BATCH = 24
_BATCH_M = 40_000.0
# Nobody leaves a planned route to save less than 10 s a kilometre (an assumption), and a shop
# beside it is passed there, not on a short cut.
_ROUTE_S_PER_M = 0.01
# A shop at the start is visited there, not from 9 km on, unless that saves 5 s for each kilometre
# between the pass and the way. Less than for route left out, or ways would leave early only to
# begin near the pass.
_OFF_PASS_S_PER_M = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class Detours:
    """m detours, in the order of the passes. Arrays are read-only; NaN where not known."""

    extra_m: NDArray[np.float64]
    """(m,) metres more than by the route alone, >= 0."""
    extra_s: NDArray[np.float64]
    """(m,) riding seconds more, >= 0; no time in the shop."""
    out_s: NDArray[np.float64]
    """(m,) riding seconds from where the route is left to the door; the way back is the rest."""
    walk_m: NDArray[np.float64]
    """(m,) metres from the last road to the door, one way; twice that is part of `extra_m`."""
    known: NDArray[np.bool_]
    """(m,) whether a way was found (or an estimate made)."""
    leave_m: NDArray[np.float64]
    """(m,) chainage at which the route is left."""
    rejoin_m: NDArray[np.float64]
    """(m,) chainage at which it is joined again; may lie before `leave_m`."""
    path_out: tuple[Line, ...]
    """(m) lon, lat of the way there, degrees; empty where there is none to draw."""
    path_back: tuple[Line, ...]
    why_not: tuple[str, ...]
    """(m) why a detour is not known; empty where it is."""
    source: str
    """In words; says "estimate" where it is one."""

    def __post_init__(self) -> None:
        for array in (
            self.extra_m, self.extra_s, self.out_s, self.walk_m, self.known, self.leave_m,
            self.rejoin_m,
        ):  # fmt: skip
            array.flags.writeable = False

    def __len__(self) -> int:
        return len(self.known)

    def of(self, rows: NDArray[np.int64]) -> Detours:
        """Give the detours of some rows, in their order."""
        at = rows.tolist()
        return Detours(
            extra_m=self.extra_m[rows],
            extra_s=self.extra_s[rows],
            out_s=self.out_s[rows],
            walk_m=self.walk_m[rows],
            known=self.known[rows],
            leave_m=self.leave_m[rows],
            rejoin_m=self.rejoin_m[rows],
            path_out=tuple(self.path_out[row] for row in at),
            path_back=tuple(self.path_back[row] for row in at),
            why_not=tuple(self.why_not[row] for row in at),
            source=self.source,
        )


def straight_detours(
    passes: Passes, *, speed_kmh: float, factor: float = STRAIGHT_FACTOR
) -> Detours:
    """Estimate detours from straight offsets, there and back, where no roads are known.

    Parameters
    ----------
    passes
        With straight offsets, metres.
    speed_kmh
        Average moving speed.
    factor
        Road length over straight length; named in the source.
    """
    extra_m = 2.0 * factor * passes.offset_m
    nothing: tuple[Line, ...] = ((np.zeros(0), np.zeros(0)),) * len(passes)
    return Detours(
        extra_m=extra_m,
        extra_s=extra_m / (speed_kmh / 3.6),
        out_s=extra_m / 2.0 / (speed_kmh / 3.6),
        walk_m=np.full(len(passes), np.nan),
        known=np.ones(len(passes), bool),
        leave_m=passes.chainage_m.copy(),
        rejoin_m=passes.chainage_m.copy(),
        path_out=nothing,
        path_back=nothing,
        why_not=("",) * len(passes),
        source=f"estimate: straight distance × {factor:g}, there and back",
    )


def detours(
    graph: RoadGraph,
    matched: MatchedRoute,
    passes: Passes,
    lon: ArrayLike,
    lat: ArrayLike,
    *,
    window_m: float = 10_000.0,
) -> Detours:
    """Find the best way off the route to every pass's place and back on.

    Parameters
    ----------
    graph, matched
        The roads and the route on them.
    passes
        m passes.
    lon, lat
        (p,) degrees, of the places that `passes.place_ix` counts.
    window_m
        At most this much of the route is left out by rejoining farther on, metres; for a place
        farther off than half of it, at most twice its offset.

    Notes
    -----
    Ways are chosen by time, with a preference for the route and for the pass: leaving a kilometre
    out must save 10 s, and 5 s each by which it is left after the pass or joined again before it.
    Turn restrictions, ferries and closures by hour or season are not
    known to the graph.
    """
    lon_deg, lat_deg = np.asarray(lon, float), np.asarray(lat, float)
    ridden_nodes = np.concatenate([graph.tail[matched.edge], graph.head[matched.edge]])
    home = connected_edges(graph, ridden_nodes)
    doors = find_doors(graph, home, lon_deg, lat_deg, walk_m=_WALK_M)
    found: dict[int, Way] = {}
    todo: list[int] = []
    for i, place in enumerate(passes.place_ix.tolist()):
        if doors.lost[place]:
            continue
        way = _beside_the_route(matched, doors, passes, i)
        if way is None:
            todo.append(i)
        else:
            found[i] = way
    beside = np.array([edge for one in doors.edges for edge, _ in one], np.int64)
    ends = np.concatenate([ridden_nodes, graph.tail[beside], graph.head[beside]])
    roads = Roads.of(graph, no_dead_ends(graph, ends))
    low_m, high_m = _own_stretch(passes)
    skip_m = np.maximum(window_m, 2.0 * passes.offset_m)
    widest_m = float(skip_m[np.array(todo, np.int64)].max(initial=window_m))
    until = quickest_until(roads, matched, window_m=widest_m)
    waiting: dict[float, list[int]] = {_LIMITS_S[0]: todo}
    for limit_s in _LIMITS_S:
        for batch in _batches(passes, waiting.get(limit_s, [])):
            near = search(roads, doors, list(batch), limit_s=limit_s)
            for which, (place, rows) in enumerate(batch.items()):
                for i in rows:
                    span = _Span(float(low_m[i]), float(high_m[i]), float(passes.chainage_m[i]))
                    choice = _best(matched, until, near, which, span, float(skip_m[i]))
                    if again_s := _next_limit_s(limit_s, choice):
                        waiting.setdefault(again_s, []).append(i)
                    elif choice is not None:
                        found[i] = ridden(graph, matched, doors, near, place, which, choice)
    return _collect(graph, passes, doors, found, (lon_deg, lat_deg))


def _next_limit_s(limit_s: float, choice: DetourChoice | None) -> float | None:
    """How far to search again; None where the choice is proven, or nothing more can be done.

    A detour that costs next to nothing cannot be bettered by more than that.
    """
    farther = [other for other in _LIMITS_S if other > limit_s]
    if not farther:
        return None
    if choice is not None and (choice.needs_s <= limit_s or choice.extra_s <= SAVING_S):
        return None
    if choice is None:
        return farther[0]
    return next((other for other in farther if other >= choice.needs_s), farther[-1])


@dataclass(frozen=True, slots=True)
class _Span:
    """Where a pass may leave the route: nearer to it than to the place's other passes."""

    low_m: float
    high_m: float
    pass_m: float


def _beside_the_route(matched: MatchedRoute, doors: Doors, passes: Passes, i: int) -> Way | None:
    """Find a place's door on road that is ridden anyway, near its pass: no detour at all."""
    best: float | None = None
    pass_m, place = float(passes.chainage_m[i]), int(passes.place_ix[i])
    within_m = max(1_000.0, 2.0 * float(passes.offset_m[i]))
    for edge, before in doors.edges[place]:
        for q in np.flatnonzero(matched.edge == edge).tolist():
            start, end = float(matched.from_share[q]), float(matched.to_share[q])
            if not start <= before <= end:
                continue
            part = (before - start) / (end - start) if end > start else 0.0
            at_m = float(matched.start_m[q] + part * (matched.end_m[q] - matched.start_m[q]))
            off_m = abs(at_m - pass_m)
            if off_m <= within_m and (best is None or off_m < abs(best - pass_m)):
                best = at_m
    return None if best is None else Way(0.0, 0.0, 0.0, best, best)


def _own_stretch(passes: Passes) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(m,) chainages between which each pass is the nearest one of its place."""
    low_m, high_m = passes.chainage_m - _SPAN_M, passes.chainage_m + _SPAN_M
    order = np.lexsort((passes.chainage_m, passes.place_ix))
    same = np.flatnonzero(np.diff(passes.place_ix[order]) == 0)
    before, after = order[same], order[same + 1]
    middle_m = (passes.chainage_m[before] + passes.chainage_m[after]) / 2.0
    high_m[before] = np.minimum(high_m[before], middle_m)
    low_m[after] = np.maximum(low_m[after], middle_m)
    return low_m, high_m


def _batches(passes: Passes, todo: list[int]) -> Iterator[dict[int, list[int]]]:
    """Yield places and their passes in riding order, few enough and near enough together."""
    batch: dict[int, list[int]] = {}
    start_m = 0.0
    by_place: dict[int, list[int]] = {}
    for i in sorted(todo, key=lambda i: (float(passes.chainage_m[i]), i)):
        by_place.setdefault(int(passes.place_ix[i]), []).append(i)
    for place, rows in by_place.items():
        at_m = float(passes.chainage_m[rows[0]])
        if batch and (len(batch) >= _BATCH or at_m - start_m > _BATCH_M):
            yield batch
            batch = {}
        if not batch:
            start_m = at_m
        batch[place] = rows
    if batch:
        yield batch


def _best(
    matched: MatchedRoute,
    until: NDArray[np.int64],
    found: Search,
    which: int,
    span: _Span,
    skip_m: float,
) -> DetourChoice | None:
    """Choose the route nodes with the least extra time and route left out, among those found."""
    at_m = matched.chainage_m
    low = int(np.searchsorted(at_m, span.pass_m - _SPAN_M, "left"))
    high = int(np.searchsorted(at_m, span.pass_m + _SPAN_M + skip_m, "right"))
    if high <= low:
        return None
    at_m, ride_s = at_m[low:high], matched.ride_s[low:high]
    rows = found.rows(matched.node[low:high])
    known = rows >= 0
    to_s = np.where(known, found.to_s[which, rows], np.inf)
    from_s = np.where(known, found.from_s[which, rows], np.inf)
    to_s[(at_m < span.low_m) | (at_m > span.high_m)] = np.inf
    in_window = np.searchsorted(at_m, at_m + skip_m, "right") - 1
    farthest = np.minimum(in_window, until[low:high] - low)
    after_m, before_m = np.maximum(at_m - span.pass_m, 0.0), np.maximum(span.pass_m - at_m, 0.0)
    leave_cost = to_s + ride_s - _ROUTE_S_PER_M * at_m + _OFF_PASS_S_PER_M * after_m
    rejoin_cost = from_s - ride_s + _ROUTE_S_PER_M * at_m + _OFF_PASS_S_PER_M * before_m
    # The best node to rejoin at, among all up to each node.
    cheapest = np.minimum.accumulate(rejoin_cost)
    leave = int(np.argmin(leave_cost + cheapest[farthest]))
    rejoin = int(np.argmin(rejoin_cost[: farthest[leave] + 1]))
    if not np.isfinite(to_s[leave] + from_s[rejoin]):
        return None
    true_s = float(to_s[leave] + from_s[rejoin] - (ride_s[rejoin] - ride_s[leave]))
    # Without more than 30 s to be saved on what is left out, less than 0 is noise.
    extra_s = max(true_s, 0.0)
    sought_s = true_s + _ROUTE_S_PER_M * float(at_m[rejoin] - at_m[leave])
    sought_s += _OFF_PASS_S_PER_M * float(after_m[leave] + before_m[rejoin])
    most_s = float(np.max(ride_s[farthest] - ride_s))
    return DetourChoice(
        leave=low + leave,
        rejoin=low + rejoin,
        leave_row=int(rows[leave]),
        rejoin_row=int(rows[rejoin]),
        extra_s=extra_s,
        out_s=float(to_s[leave]),
        needs_s=max(extra_s, sought_s) + most_s - min(float(to_s.min()), float(from_s.min())),
    )


def _collect(
    graph: RoadGraph,
    passes: Passes,
    doors: Doors,
    found: dict[int, Way],
    at: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> Detours:
    """Add the walk to the door, draw the ways, and say why the others are not known."""
    m = len(passes)
    extra_m, extra_s = np.full(m, np.nan), np.full(m, np.nan)
    out_s, one_way_m = np.full(m, np.nan), np.full(m, np.nan)
    leave_m, rejoin_m = np.full(m, np.nan), np.full(m, np.nan)
    why_not = ["no way by road found near the route"] * m
    nothing = (np.zeros(0), np.zeros(0))
    path_out: list[Line] = [nothing] * m
    path_back: list[Line] = [nothing] * m
    for i in range(m):
        place = int(passes.place_ix[i])
        if i not in found:
            why_not[i] = doors.lost[place] or why_not[i]
            continue
        way, one_way_m[i] = found[i], float(doors.walk_m[place])
        extra_m[i] = way.extra_m + 2.0 * one_way_m[i]
        walk_s = 2.0 * one_way_m[i] / (graph.slowest_kmh / 3.6)
        extra_s[i], out_s[i] = way.extra_s + walk_s, way.out_s + walk_s / 2.0
        leave_m[i], rejoin_m[i], why_not[i] = way.leave_m, way.rejoin_m, ""
        door = float(at[0][place]), float(at[1][place])
        path_out[i] = drawn(graph, doors, place, way.out, door)
        lon, lat = drawn(graph, doors, place, way.back[::-1], door, back=True)
        path_back[i] = lon[::-1], lat[::-1]
    known = np.isfinite(extra_m)
    return Detours(
        extra_m, extra_s, out_s, one_way_m, known, leave_m, rejoin_m,
        tuple(path_out), tuple(path_back), tuple(why_not), f"by road ({graph.source})",
    )  # fmt: skip
