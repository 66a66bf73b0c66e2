"""What was read of extracts near a route, kept for the next plan: other days, other settings.

In: extracts and a route. Out: places with coverage, the light map and the road graph, read or kept.
One file in the folder `cache` holds them as finished columns, under the identity of the route and
of the extracts, with a checksum. Where the extracts are not at hand, what was kept of them serves;
and it serves a route that was changed a little, between the same ends.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.common.columns import UNREADABLE, columns, facts, pack
from resupply.common.files import is_endless
from resupply.common.kept_answers import keep, kept, kept_path, make_room
from resupply.common.text import clean, one_line
from resupply.places.index_parts import rules_mark
from resupply.places.kept_ground import Ground, GroundKeeper, known_along
from resupply.places.near_route import make_reach
from resupply.places.place import Confidence, Coverage, Place, PlaceSet, RouteSpan, Supply
from resupply.places.read import INDEX_SUFFIX, reach_m, read_corridor
from resupply.roads.graph import RoadGraph, array_names
from resupply.roads.pieces import route_points_m

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from resupply.common.kept_answers import KeptAnswer
    from resupply.common.progress import Progress
    from resupply.roads.speeds import Speeds
    from resupply.route.route import Route
    from resupply.trip.settings import Trip

__all__ = ["Corridor", "corridor_near"]

_SERVICE: Final = "corridor"
_FORMAT: Final = 3
"""Raised with each change of what is read or how it is judged: an older one is not used."""
_LEAST_BYTES: Final = 4_000_000
"""Of all extracts: smaller ones are read in a second or two."""
_MOST_BYTES: Final = 500_000_000
"""Of all that is kept in one folder, our choice: some hundred corridors."""
_MARGIN_M: Final = 2_000.0
"""How much more than a plan needs is read around a route, so that it may change by so much: our
choice, a road beside the one that was planned."""
_ALIKE_FILES: Final = 12
"""Kept corridors that are looked at for one that fits, the newest first: our choice."""
_HEAD_BYTES: Final = 65_536
"""Of the first line of a kept corridor: our choice, far more than it has."""
_END_BYTES: Final = 65_536
"""Looked at of either end of an extract: its header and blocks of data."""
_SAME_END_M: Final = 5.0
"""Our choice: a point so near a node of the roads needs none of its own."""
_GROUND_SCALARS: Final = ("name", "date", "nowhere", "holds_places", "box", "extent")
_SCALARS: Final = ("classes", "fastest_kmh", "slowest_kmh", "reach_m", "source")

Mark = tuple[int, int, str]
"""Size, time and hash of both ends of an extract."""


@dataclass(frozen=True, slots=True, eq=False)
class Corridor:
    """What extracts hold near a route."""

    places: PlaceSet
    backdrop: Mapping[str, Any]
    graph: RoadGraph | None
    """None where the trip wants no roads."""
    grounds: tuple[Ground, ...] = ()
    """What each extract covers; empty where it is not known apart."""


def corridor_near(
    trip: Trip,
    folder: Path,
    route: Route,
    speeds: Speeds,
    tell: Progress,
    stop: Callable[[], bool] | None,
) -> Corridor:
    """Read the extracts or the index of a trip near a route, or take what an earlier plan kept.

    Raises
    ------
    ResupplyError
        An extract is missing, with nothing kept of it, or cannot be used; or it was stopped.
    """
    paths = [folder / name for name in trip.map.extracts]
    marks = [_mark(path) for path in paths]
    question = _question(trip, route, speeds)
    path = kept_path(folder / "cache", _SERVICE, question)
    earlier = kept(path, question)
    found = None if earlier is None else _unpacked(earlier.body, marks)
    if found is None and not route.breaks:
        path, earlier, found = _alike(path, question, route, reach_m(trip), marks)
    if found is not None and earlier is not None:
        tell(f"Taking the map near the route as kept on {earlier.fetched[:10]}", None)
        with suppress(OSError):
            path.touch()
        return found
    tell("Reading the map data", None)
    read = _read(trip, paths, route, speeds, stop)
    sizes = [mark[0] for mark in marks if mark is not None]
    # A sentence with quantities has no column yet.
    plain = all(isinstance(one, str) for one in read.places.warnings)
    if plain and len(sizes) == len(marks) and sum(sizes) >= _LEAST_BYTES:
        now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
        path = kept_path(folder / "cache", _SERVICE, question)
        if keep(path, question, _packed(read, marks, route), now) is None:
            make_room(folder / "cache", _SERVICE, most_bytes=_MOST_BYTES)
    return read


def _read(
    trip: Trip,
    paths: Sequence[Path],
    route: Route,
    speeds: Speeds,
    stop: Callable[[], bool] | None,
) -> Corridor:
    from resupply.roads.sources import REACH_M, RoadCollector

    keeper = GroundKeeper(_MARGIN_M)
    far_m = REACH_M + _MARGIN_M
    roads = RoadCollector(route, reach_m=far_m, speeds=speeds) if trip.map.roads else None
    places, backdrop = read_corridor(paths, route, trip.map, stop, roads, keeper)
    names = ", ".join(path.name for path in paths)
    kind = "regional index" if names.endswith(INDEX_SUFFIX) else "extract"
    graph = None if roads is None else roads.graph(f"{kind} {names}")
    return Corridor(places, backdrop, graph, tuple(keeper.grounds))


def _question(trip: Trip, route: Route, speeds: Speeds) -> str:
    """Everything that what is read depends on, but for the contents of the extracts."""
    line = hashlib.sha256(route.lon.tobytes() + route.lat.tobytes() + route.chainage_m.tobytes())
    jumps = [(jump.index, jump.length_m) for jump in route.breaks]
    table = [speeds.classes, speeds.table_kmh, sorted(speeds.stated_only), speeds.factor]
    rules = [repr(sorted(one.items())) for one in (speeds.surface, speeds.tracktype)]
    caps = sorted(speeds.smoothness_cap_kmh.items())
    asked = [_FORMAT, rules_mark(), table, rules, caps]
    wanted = [trip.map.extracts, reach_m(trip), trip.map.roads]
    return json.dumps({"all": [*asked, *wanted], "route": [line.hexdigest(), jumps]})


def _alike(
    path: Path,
    question: str,
    route: Route,
    far_m: float,
    marks: Sequence[Mark | None],
) -> tuple[Path, KeptAnswer | None, Corridor | None]:
    """Find what was kept along a route of which this one is a small change."""
    asked = json.loads(question)["all"]
    for other in _newest(path.parent):
        try:
            with other.open("rb") as stream:
                its = json.loads(stream.readline(_HEAD_BYTES))["question"]
            about = json.loads(its)
            alike = about["all"] == asked and about["route"][1] == []
        except (OSError, ValueError, TypeError, LookupError, RecursionError):
            continue
        earlier = kept(other, its) if alike else None
        found = None if earlier is None else _unpacked(earlier.body, marks, route, far_m)
        if found is not None:
            return other, earlier, found
    return path, None, None


def _newest(cache: Path) -> list[Path]:
    found = []
    for path in cache.glob(f"{_SERVICE}-*.kept"):
        with suppress(OSError):
            found.append((path.stat().st_mtime, path))
    return [path for _, path in sorted(found, reverse=True)[:_ALIKE_FILES]]


def _mark(path: Path) -> Mark | None:
    """Size, time and a hash of both ends of a file; None if it is not there."""
    try:
        about = path.stat()
        if is_endless(path):
            return None
        with path.open("rb") as stream:
            ends = stream.read(_END_BYTES)
            stream.seek(max(about.st_size - _END_BYTES, 0))
            ends += stream.read(_END_BYTES)
    except OSError:
        return None
    return about.st_size, about.st_mtime_ns, hashlib.sha256(ends).hexdigest()


def _packed(corridor: Corridor, marks: Sequence[Mark | None], route: Route) -> bytes:
    graph, arrays = corridor.graph, _arrays_of(corridor, route)
    about = {
        "marks": marks,
        "places": asdict(corridor.places),
        "backdrop": corridor.backdrop,
        "graph": None if graph is None else {name: getattr(graph, name) for name in _SCALARS},
        "grounds": [
            {name: getattr(one, name) for name in _GROUND_SCALARS} for one in corridor.grounds
        ],
    }
    return pack(about, arrays)


def _arrays_of(corridor: Corridor, route: Route) -> dict[str, NDArray[Any]]:
    """All columns of a corridor by the name of their file."""
    graph = corridor.graph
    arrays = {} if graph is None else {name: getattr(graph, name) for name in array_names()}
    for number, ground in enumerate(corridor.grounds):
        arrays |= {f"near{number}": ground.near, f"covered{number}": ground.covered}
    # Points no farther apart than this are near enough to tell how far a change goes.
    return arrays | {"line": route_points_m(route, _MARGIN_M / 4.0)}


def _unpacked(
    body: bytes,
    marks: Sequence[Mark | None],
    route: Route | None = None,
    far_m: float = 0.0,
) -> Corridor | None:
    """Unpack what was kept; None if it is of other extracts, or cannot be used.

    Parameters
    ----------
    route
        Another route, if it is not the one for which it was kept: then None, too, where that
        leaves what was read.
    far_m
        How far from the route places are wanted, metres.
    """
    try:
        about = facts(body)
        pairs = zip(about["marks"], marks, strict=True)
        if any(now is not None and list(now) != then for then, now in pairs):
            return None
        if route is not None and not _is_small_change(columns(body, "line")["line"], route):
            return None
        arrays = columns(body)
        graph = None if about["graph"] is None else _graph(arrays, about["graph"])
        grounds = tuple(
            Ground(**row, near=arrays[f"near{k}"], covered=arrays[f"covered{k}"])
            for k, row in enumerate(about["grounds"])
        )
        found = Corridor(_places(about["places"]), about["backdrop"], graph, grounds)
        return found if route is None else _along(found, route, far_m)
    except UNREADABLE:
        return None


def _is_small_change(line_m: NDArray[np.float64], route: Route) -> bool:
    """Whether a route has the ends of a line, and goes nowhere far from it.

    Parameters
    ----------
    line_m
        (k, 3) points of the line, earth-centred metres.
    """
    from scipy.spatial import cKDTree

    own_m = route_points_m(route, _MARGIN_M / 4.0)
    ends_m = np.linalg.norm(own_m[[0, -1]] - line_m[[0, -1]], axis=1)
    # The roads are cut where a ride begins and ends.
    if ends_m.max() > _SAME_END_M:
        return False
    away_m, _ = cKDTree(line_m).query(own_m)
    return float(away_m.max()) <= _MARGIN_M - _MARGIN_M / 4.0


def _along(found: Corridor, route: Route, far_m: float) -> Corridor | None:
    """Fit what was kept to another route; None if it leaves the ground that was looked at."""
    source = found.places.coverage.source
    known = known_along(found.grounds, route, far_m, source) if found.grounds else None
    if known is None:
        return None
    reach = make_reach(route, far_m)
    spots = np.array([(place.lon, place.lat) for place in found.places.places]).reshape(-1, 2)
    near = reach.near(*spots.T).tolist()
    kept_places = (one for one, here in zip(found.places.places, near, strict=True) if here)
    places = replace(known, places=tuple(kept_places))
    return replace(found, places=places)


def _places(found: Mapping[str, Any]) -> PlaceSet:
    own, spans = found["coverage"], ("unknown", "near_edge")
    coverage = Coverage(
        **{**own, **{name: tuple(RouteSpan(**one) for one in own[name]) for name in spans}}
    )
    places = tuple(_place(row) for row in found["places"])
    ids = [place.id for place in places]
    if ids != sorted(set(ids)):
        raise ValueError("places in no order")
    return PlaceSet(places, coverage, tuple(found["warnings"]))


def _place(row: Mapping[str, Any]) -> Place:
    """Place of the file, which may come from somebody else.

    Raises
    ------
    ValueError, TypeError, AttributeError
        It is none.
    """
    place = Place(
        **{
            **row,
            # Its texts are as hostile as the map's.
            "name": one_line(row["name"]),
            "supplies": {Supply(k): Confidence(v) for k, v in row["supplies"].items()},
            "tags": {one_line(key): one_line(value) for key, value in row["tags"].items()},
            "merged_ids": tuple(row["merged_ids"]),
        }
    )
    hours = place.opening_hours
    texts = (place.id, place.kind, "" if hours is None else hours, *place.merged_ids)
    on_earth = abs(place.lon) <= 180.0 and abs(place.lat) <= 90.0
    # What cleaning would change was written by nobody's map reader.
    if not (on_earth and all(clean(text) == text for text in texts)):
        raise ValueError(place.id)
    return place


def _graph(found: Mapping[str, NDArray[Any]], scalars: Mapping[str, Any]) -> RoadGraph:
    """Road graph of the file.

    Raises
    ------
    ValueError
        Its columns don't fit together.
    """
    arrays = {name: found[name] for name in array_names()}
    nodes, edges, points = (len(arrays[name]) for name in ("node_id", "tail", "shape_lon"))
    size = {"node_lon": nodes, "node_lat": nodes, "indptr": nodes + 1}
    below = {"tail": nodes, "head": nodes, "indptr": edges + 1}
    below |= {"shape_first": points, "shape_last": points}
    for name, array in arrays.items():
        of_shape = name in ("shape_lat", "shape_along_m", "shape_lon")
        if name != "node_id" and len(array) != size.get(name, points if of_shape else edges):
            raise ValueError(name)
        if name in below and len(array) and not 0 <= array.min() <= array.max() < below[name]:
            raise ValueError(name)
    classes = tuple(str(one) for one in scalars["classes"])
    own: dict[str, Any] = {**scalars, "classes": classes, **arrays}
    return RoadGraph(**own)
