"""What was read of extracts near a route, kept for the next plan: other days, other settings.

In: extracts and a route. Out: places with coverage, the light map and the road graph, read or kept.
One file in the folder `cache` holds them as finished columns, under the identity of the route and
of the extracts, with a checksum. Where the extracts are not at hand, what was kept of them serves.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import json
import zipfile
from contextlib import suppress
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.common.files import is_endless
from resupply.common.kept_answers import keep, kept, kept_path
from resupply.common.text import one_line
from resupply.places.index_parts import rules_mark
from resupply.places.place import Confidence, Coverage, Place, PlaceSet, RouteSpan, Supply
from resupply.places.read import INDEX_SUFFIX, reach_m, read_corridor
from resupply.roads.graph import RoadGraph, array_names

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from resupply.common.progress import Progress
    from resupply.roads.speeds import Speeds
    from resupply.route.route import Route
    from resupply.trip.settings import Trip

__all__ = ["Corridor", "corridor_near"]

_SERVICE: Final = "corridor"
_FORMAT: Final = 2
"""Raised with each change of what is read or how it is judged: an older one is not used."""
_LEAST_BYTES: Final = 4_000_000
"""Of all extracts: smaller ones are read in a second or two."""
_MOST_BYTES: Final = 500_000_000
"""Of all that is kept in one folder, our choice: some hundred corridors."""
_MOST_DAYS: Final = 90
"""What nobody used for so long is thrown away, our choice."""
_MOST_UNPACKED_BYTES: Final = 2_000_000_000
"""A file from somewhere else may be made to unpack without end."""
_END_BYTES: Final = 65_536
"""Looked at of either end of an extract: its header and blocks of data."""
_SCALARS: Final = ("classes", "fastest_kmh", "slowest_kmh", "reach_m", "source")


@dataclass(frozen=True, slots=True, eq=False)
class Corridor:
    """What extracts hold near a route."""

    places: PlaceSet
    backdrop: Mapping[str, Any]
    graph: RoadGraph | None
    """None where the trip wants no roads."""


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
        if keep(path, question, _packed(read, marks), now) is None:
            _make_room(folder / "cache")
    return read


def _read(
    trip: Trip,
    paths: Sequence[Path],
    route: Route,
    speeds: Speeds,
    stop: Callable[[], bool] | None,
) -> Corridor:
    from resupply.roads.sources import RoadCollector

    roads = RoadCollector(route, speeds=speeds) if trip.map.roads else None
    places, backdrop = read_corridor(paths, route, trip.map, stop, roads)
    names = ", ".join(path.name for path in paths)
    kind = "regional index" if names.endswith(INDEX_SUFFIX) else "extract"
    return Corridor(places, backdrop, None if roads is None else roads.graph(f"{kind} {names}"))


def _question(trip: Trip, route: Route, speeds: Speeds) -> str:
    """Everything that what is read depends on, but for the contents of the extracts."""
    line = hashlib.sha256(route.lon.tobytes() + route.lat.tobytes() + route.chainage_m.tobytes())
    jumps = [(jump.index, jump.length_m) for jump in route.breaks]
    table = [speeds.classes, speeds.table_kmh, sorted(speeds.stated_only), speeds.factor]
    rules = [repr(sorted(one.items())) for one in (speeds.surface, speeds.tracktype)]
    caps = sorted(speeds.smoothness_cap_kmh.items())
    asked = [
        _FORMAT,
        rules_mark(),
        line.hexdigest(),
        jumps,
        table,
        rules,
        caps,
    ]
    return json.dumps([*asked, trip.map.extracts, reach_m(trip), trip.map.roads])


def _mark(path: Path) -> tuple[int, int, str] | None:
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


def _packed(corridor: Corridor, marks: Sequence[tuple[int, int, str] | None]) -> bytes:
    graph = corridor.graph
    about = {
        "marks": marks,
        "places": asdict(corridor.places),
        "backdrop": corridor.backdrop,
        "graph": None if graph is None else {name: getattr(graph, name) for name in _SCALARS},
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        packed.writestr("about.json", json.dumps(about, ensure_ascii=False))
        for name in array_names() if graph is not None else ():
            with packed.open(f"{name}.npy", "w", force_zip64=True) as stream:
                np.lib.format.write_array(stream, getattr(graph, name), allow_pickle=False)
    return out.getvalue()


def _unpacked(body: bytes, marks: Sequence[tuple[int, int, str] | None]) -> Corridor | None:
    """Unpack what was kept; None if it is of other extracts, or cannot be used."""
    try:
        with zipfile.ZipFile(io.BytesIO(body)) as packed:
            if sum(one.file_size for one in packed.infolist()) > _MOST_UNPACKED_BYTES:
                return None
            about = json.loads(packed.read("about.json"))
            pairs = zip(about["marks"], marks, strict=True)
            if any(now is not None and list(now) != then for then, now in pairs):
                return None
            graph = None if about["graph"] is None else _graph(packed, about["graph"])
        return Corridor(_places(about["places"]), about["backdrop"], graph)
    except (OSError, EOFError, ValueError, TypeError, LookupError, zipfile.BadZipFile):
        return None


def _places(found: Mapping[str, Any]) -> PlaceSet:
    own, spans = found["coverage"], ("unknown", "near_edge")
    coverage = Coverage(
        **{**own, **{name: tuple(RouteSpan(**one) for one in own[name]) for name in spans}}
    )
    places = tuple(
        Place(
            **{
                **row,
                # The file may come from somebody else: its texts are as hostile as the map's.
                "name": one_line(row["name"]),
                "supplies": {Supply(k): Confidence(v) for k, v in row["supplies"].items()},
                "tags": {one_line(key): one_line(value) for key, value in row["tags"].items()},
                "merged_ids": tuple(row["merged_ids"]),
            }
        )
        for row in found["places"]
    )
    return PlaceSet(places, coverage, tuple(found["warnings"]))


def _graph(packed: zipfile.ZipFile, scalars: Mapping[str, Any]) -> RoadGraph:
    """Road graph of the file.

    Raises
    ------
    ValueError
        Its columns don't fit together.
    """
    arrays: dict[str, NDArray[Any]] = {}
    for name in array_names():
        with packed.open(f"{name}.npy") as stream:
            arrays[name] = np.lib.format.read_array(stream, allow_pickle=False)
            arrays[name].flags.writeable = False
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
    columns: dict[str, Any] = {**scalars, "classes": classes, **arrays}
    return RoadGraph(**columns)


def _make_room(cache: Path) -> None:
    """Throw away what was not used for long, and what was used longest ago, down to the bound."""
    files = []
    for path in cache.glob(f"{_SERVICE}-*.kept"):
        with suppress(OSError):
            about = path.stat()
            files.append((about.st_mtime, about.st_size, path))
    oldest_s = dt.datetime.now(dt.UTC).timestamp() - _MOST_DAYS * 86_400.0
    total = 0
    for used_s, size, path in sorted(files, reverse=True):
        total += size
        if used_s < oldest_s or total > _MOST_BYTES:
            with suppress(OSError):
                path.unlink()
