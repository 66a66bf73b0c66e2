"""The roads under a route, and the ways to shops and back: found once and kept for other days.

In: what `roads.match` and `roads.detours` take. Out: a `MatchedRoute` and `Detours`, found or taken
from the folder `cache` beside the trip, under a hash of every column that goes in and of the code
that finds them. Nothing is kept where there is no such folder, which is where the map data was
small.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from contextlib import suppress
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import numpy as np

import resupply.roads
from resupply.common.columns import UNREADABLE, columns, facts, pack
from resupply.common.kept_answers import keep, kept, kept_path, make_room
from resupply.places.place import RouteSpan
from resupply.roads.detours import Detours, detours
from resupply.roads.match import MatchedRoute, match_route
from resupply.route.legs import RideTime

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from numpy.typing import NDArray

    from resupply.passes.find import Passes
    from resupply.plan.prepared import RoadsUnder
    from resupply.roads.graph import RoadGraph
    from resupply.roads.trace import Line
    from resupply.route.route import Route

__all__ = ["detours_once", "match_once"]

_Found = TypeVar("_Found")

_MOST_BYTES: Final = 200_000_000
"""Of all that is kept in one folder, our choice: some hundred long routes."""
_MATCH_COLUMNS: Final = (
    "edge", "start_m", "end_m", "from_share", "to_share", "node", "chainage_m", "along_m", "ride_s",
)  # fmt: skip
_COLUMNS: Final = ("extra_m", "extra_s", "out_s", "walk_m", "known", "leave_m", "rejoin_m")


def detours_once(
    roads: RoadsUnder,
    passes: Passes,
    lon: NDArray[np.float64],
    lat: NDArray[np.float64],
    cache: Path | None,
) -> Detours:
    """Find the best way off the route to every pass's place and back, or take it as kept.

    Parameters
    ----------
    roads
        The roads and the route on them.
    passes
        m passes.
    lon, lat
        (p,) degrees, of the places that `passes.place_ix` counts.
    cache
        Folder in which answers are kept, if there is one.
    """
    if cache is None or not cache.is_dir():
        return detours(roads.graph, roads.matched, passes, lon, lat)
    question = _question((roads.graph, roads.matched, passes), (lon, lat))
    return _once(
        kept_path(cache, "ways", question),
        question,
        lambda: detours(roads.graph, roads.matched, passes, lon, lat),
        _packed,
        lambda body: _unpacked(body, len(passes)),
    )


def match_once(
    graph: RoadGraph, route: Route, average_kmh: float, cache: Path | None
) -> MatchedRoute:
    """Find the roads under a route, or take them as kept.

    Parameters
    ----------
    graph, route, average_kmh
        As for `roads.match.match_route`.
    cache
        Folder in which answers are kept, if there is one.
    """
    if cache is None or not cache.is_dir():
        return match_route(graph, route, average_kmh=average_kmh)
    jumps = np.array([(jump.index, jump.length_m) for jump in route.breaks], float)
    line = (route.lon, route.lat, route.chainage_m, jumps, np.array([average_kmh]))
    question = _question((graph,), line)
    return _once(
        kept_path(cache, "match", question),
        question,
        lambda: match_route(graph, route, average_kmh=average_kmh),
        _packed_match,
        lambda body: _unpacked_match(body, graph),
    )


def _once(
    path: Path,
    question: str,
    find: Callable[[], _Found],
    packed: Callable[[_Found], bytes],
    unpacked: Callable[[bytes], _Found | None],
) -> _Found:
    """Take what is kept at a path, or find it and keep it there."""
    earlier = kept(path, question)
    found = None if earlier is None else unpacked(earlier.body)
    if found is not None:
        with suppress(OSError):
            path.touch()
        return found
    found = find()
    now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
    if keep(path, question, packed(found), now) is None:
        make_room(path.parent, path.name.partition("-")[0], most_bytes=_MOST_BYTES)
    return found


def _question(values: Iterable[Any], arrays: Iterable[NDArray[Any]]) -> str:
    """Hash of everything the ways depend on: every field of some values, arrays, and our code."""
    whole = hashlib.sha256()

    def take(what: Any) -> None:
        body = np.ascontiguousarray(what).tobytes() if isinstance(what, np.ndarray) else repr(what)
        kind = what.dtype.str if isinstance(what, np.ndarray) else ""
        raw = body.encode() if isinstance(body, str) else body
        whole.update(f"{kind} {len(raw)} ".encode() + raw)

    for value in values:
        for field in fields(value):
            # Riding time along the route holds arrays of its own; the ways don't use it.
            if field.name != "ride_time":
                take(getattr(value, field.name))
    for array in arrays:
        take(array)
    for code in sorted(Path(resupply.roads.__file__).parent.glob("*.py")):
        take(code.read_bytes())
    return whole.hexdigest()


def _packed_match(found: MatchedRoute) -> bytes:
    arrays = {name: getattr(found, name) for name in _MATCH_COLUMNS}
    arrays |= {"knots_m": found.ride_time.chainage_m, "knots_s": found.ride_time.ride_s}
    spans = [[span.start_m, span.end_m, span.reason] for span in found.unmatched]
    about = {"source": found.ride_time.source, "unmatched": spans, "length_m": found.length_m}
    return pack(about, arrays)


def _unpacked_match(body: bytes, graph: RoadGraph) -> MatchedRoute | None:
    """Unpack the roads under a route; None if they are none of the graph's."""
    try:
        about, arrays = facts(body), columns(body)
        own = {name: arrays[name] for name in _MATCH_COLUMNS}
        knots_m, knots_s = arrays["knots_m"], arrays["knots_s"]
        edges, nodes = (
            {len(own[name]) for name in part} for part in (_MATCH_COLUMNS[:5], _MATCH_COLUMNS[5:])
        )
        if len(edges) > 1 or len(nodes) > 1 or len(knots_m) != len(knots_s):
            return None
        for rows, count in ((own["edge"], len(graph.head)), (own["node"], len(graph))):
            if len(rows) and not 0 <= rows.min() <= rows.max() < count:
                return None
        return MatchedRoute(
            **own,
            ride_time=RideTime(knots_m, knots_s, str(about["source"])),
            unmatched=tuple(
                RouteSpan(float(start_m), float(end_m), str(why))
                for start_m, end_m, why in about["unmatched"]
            ),
            length_m=float(about["length_m"]),
        )
    except UNREADABLE:
        return None


def _packed(found: Detours) -> bytes:
    arrays = {name: getattr(found, name) for name in _COLUMNS}
    for name in ("path_out", "path_back"):
        lines = getattr(found, name)
        arrays[f"{name}_points"] = np.array([len(line[0]) for line in lines], np.int64)
        for axis in (0, 1):
            parts = [line[axis] for line in lines]
            arrays[f"{name}_{axis}"] = np.concatenate(parts) if parts else np.zeros(0)
    return pack({"why_not": found.why_not, "source": found.source}, arrays)


def _unpacked(body: bytes, count: int) -> Detours | None:
    """Unpack ways; None if they are not of so many passes, or cannot be used."""
    try:
        about, arrays = facts(body), columns(body)
        lines: dict[str, Any] = {
            name: _lines(arrays[f"{name}_points"], [arrays[f"{name}_{axis}"] for axis in (0, 1)])
            for name in ("path_out", "path_back")
        }
        why_not = tuple(str(why) for why in about["why_not"])
        own: dict[str, Any] = {name: arrays[name] for name in _COLUMNS}
        sizes = {len(why_not), *map(len, own.values()), *map(len, lines.values())}
        if sizes != {count}:
            return None
        return Detours(**own, **lines, why_not=why_not, source=str(about["source"]))
    except UNREADABLE:
        return None


def _lines(points: NDArray[np.int64], axes: Sequence[NDArray[np.float64]]) -> tuple[Line, ...]:
    """Cut the running columns of all lines into a pair of arrays for each."""
    ends = np.cumsum(points)
    if len(points) and (points.min() < 0 or any(len(axis) != ends[-1] for axis in axes)):
        raise ValueError("lines of another length")
    lon, lat = (np.split(axis, ends[:-1]) if len(points) else [] for axis in axes)
    return tuple(zip(lon, lat, strict=True))
