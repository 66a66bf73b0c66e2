"""Read a GPX file as a route.

In: a GPX 1.0 or 1.1 file, or its bytes. Out: a `Route`. The reader streams (expat), so its
memory grows with the points, not with the file; it refuses document type declarations, so no
entity is ever expanded. Element meanings: the GPX 1.1 schema, topografix.com/GPX/1/1.
"""

from __future__ import annotations

import math
import os
from array import array
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final, NoReturn
from xml.parsers import expat

import numpy as np

from resupply.errors import RouteError
from resupply.route import Mark, Route, make_route

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

__all__ = ["MAX_BYTES", "MAX_POINTS", "SPARSE_M", "parse_gpx", "read_gpx"]

MAX_BYTES: Final = 200_000_000
"""A larger file is refused: some 1.5 million recorded points, 400 hours at one a second."""
MAX_POINTS: Final = 2_000_000
MAX_PARTS: Final = 20_000
MAX_MARKS: Final = 10_000
"""Further waypoints are left out, and a warning says so."""
MAX_LENGTH_M: Final = 1e8
"""More than twice round the Earth is a fault in the file."""
SPARSE_M: Final = 5_000.0
"""Where two points are farther apart than this, the road between them may leave the reach
in which shops are looked for, so a shop on it could be missed: the rider is told."""

_CHUNK_BYTES: Final = 1 << 16
# One tag or comment longer than this is no GPX, and would make expat scan it again and again.
_MAX_TOKEN_BYTES: Final = 1 << 20
_MAX_DEPTH: Final = 100
_MAX_NAME: Final = 200
# Neither the deepest shaft nor an airliner; elevations beyond are unknown, not a fault.
_MAX_ELE_M: Final = 20_000.0

_OTHER_ROOTS: Final = {
    "kml": "a KML file",
    "html": "a web page",
    "TrainingCenterDatabase": "a TCX file",
    "osm": "an OpenStreetMap file",
}
_OTHER_STARTS: Final = {
    b"PK\x03\x04": "a zip archive",
    b"\x1f\x8b": "a gzip archive",
    b"BZh": "a bzip2 archive",
    b"%PDF": "a PDF",
    b"{": "a JSON file",
}
_EXPORT: Final = "Export the route as GPX from your planner"
_REPAIR: Final = "Copy or download the file again, or export it again from your planner"


def read_gpx(path: Path) -> Route:
    """Read a route from a GPX file.

    Parameters
    ----------
    path
        A GPX 1.0 or 1.1 file of at most `MAX_BYTES`.

    Returns
    -------
    Route
        See `parse_gpx`.

    Raises
    ------
    RouteError
        The file cannot be read, is no GPX, or holds no usable route.
    """
    shown = _shown_path(path)
    try:
        with Path(path).open("rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            if size > MAX_BYTES:
                _refuse_size(size, shown)
            return _read(iter(lambda: stream.read(_CHUNK_BYTES), b""), shown)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise RouteError(
            f"the file cannot be read: {reason}", where=shown, mend="Check the path"
        ) from error


def parse_gpx(data: bytes, *, name: str) -> Route:
    """Read a route from the bytes of a GPX file.

    Tracks and their segments are joined in the order of the file; routes are used where there
    is no track to ride. Jumps of more than `resupply.route.JOIN_M` are breaks. Waypoints
    become marks. `Route.warnings` says what was left out and where the line is sparse.

    Parameters
    ----------
    data
        At most `MAX_BYTES`.
    name
        The file's name, for errors and as the route's name where the file has none.

    Raises
    ------
    RouteError
        The bytes are no GPX, or hold no usable route.

    Examples
    --------
    >>> gpx = b'<gpx><trk><trkseg><trkpt lat="0" lon="0"/><trkpt lat="0" lon="1"/></trkseg></trk></gpx>'
    >>> round(parse_gpx(gpx, name="equator.gpx").length_m)
    111319
    """
    shown = _clean(name) or "upload.gpx"
    if len(data) > MAX_BYTES:
        _refuse_size(len(data), shown)
    view = memoryview(data)
    pieces = (bytes(view[at : at + _CHUNK_BYTES]) for at in range(0, len(data), _CHUNK_BYTES))
    return _read(pieces, shown)


class _Node:
    """An element we read: what its end means, and which children count."""

    __slots__ = ("children", "kind")

    def __init__(self, kind: str, children: dict[str, _Node] | None = None) -> None:
        self.kind = kind
        self.children = children or {}


def _tree(ns: str) -> dict[str, _Node]:
    """Elements of GPX that matter, with `ns` (the root's namespace) before each tag."""
    leaf = {kind: _Node(kind) for kind in ("title", "trk_name", "rte_name", "wpt_name", "ele")}
    # Garmin planners keep the road between two route points in an extension of the first
    # (GpxExtensions v3, from memory). Without it such a route is a few straight lines.
    garmin = "http://www.garmin.com/xmlschemas/GpxExtensions/v3 "
    shape = _Node("other", {garmin + "rpt": _Node("rpt")})
    extensions = _Node("other", {garmin + "RoutePointExtension": shape})
    trkpt = _Node("trkpt", {ns + "ele": leaf["ele"]})
    rtept = _Node("rtept", {ns + "ele": leaf["ele"], ns + "extensions": extensions})
    trkseg = _Node("trkseg", {ns + "trkpt": trkpt})
    return {
        ns + "name": leaf["title"],
        ns + "metadata": _Node("other", {ns + "name": leaf["title"]}),
        ns + "wpt": _Node("wpt", {ns + "name": leaf["wpt_name"]}),
        ns + "trk": _Node("trk", {ns + "name": leaf["trk_name"], ns + "trkseg": trkseg}),
        ns + "rte": _Node("rte", {ns + "name": leaf["rte_name"], ns + "rtept": rtept}),
    }


class _Line:
    """Points of all tracks, or of all routes, with the index at which each part starts."""

    __slots__ = ("ele_m", "lat", "lines", "lon", "names", "new_part", "starts")

    def __init__(self) -> None:
        self.lon, self.lat, self.ele_m = array("d"), array("d"), array("d")
        self.starts: list[int] = []
        self.names: list[str] = []
        self.lines = 0
        self.new_part = True

    def parts(self) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
        columns = [np.frombuffer(column, float) for column in (self.lon, self.lat, self.ele_m)]
        ends = [*self.starts[1:], len(self.lon)]
        return [
            (columns[0][a:b], columns[1][a:b], columns[2][a:b])
            for a, b in zip(self.starts, ends, strict=True)
        ]


class _Reader:
    """Handlers of one expat pass over one file."""

    def __init__(self, shown: str) -> None:
        self.shown = shown
        self.tracks, self.routes = _Line(), _Line()
        self.marks: list[Mark] = []
        self.marks_left_out = 0
        self.shape_points = 0
        self.title = ""
        self.has_root = False
        self._open: list[_Node] = []
        self._skip = 0
        self._text: list[str] = []
        self._ele_line: _Line | None = None
        self._mark_at: tuple[float, float] | None = None
        self._mark_name = ""
        # The separator puts "namespace tag" in one string.
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.StartDoctypeDeclHandler = self._doctype

    # -- handlers, in the order of a file --

    def _doctype(self, *_: object) -> NoReturn:
        self.fault("the file declares a document type, which GPX never needs", _EXPORT)

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        if self._skip:
            self._skip += 1
            if self._skip > _MAX_DEPTH:
                self.fault(f"elements are nested more than {_MAX_DEPTH} deep", _EXPORT)
            return
        if not self._open:
            self._root(tag)
            return
        node = self._open[-1].children.get(tag)
        if node is None:
            self._skip = 1
            # Text after a child is no longer the element's own value.
            self.parser.CharacterDataHandler = None
            return
        self._open.append(node)
        kind = node.kind
        if kind == "trkpt":
            self._point(self.tracks, attributes)
        elif kind in ("rtept", "rpt"):
            self._point(self.routes, attributes)
            self.shape_points += kind == "rpt"
        elif kind == "wpt":
            self._mark_at, self._mark_name = self._position(attributes), ""
        elif kind == "trkseg":
            self.tracks.new_part = True
        elif kind == "rte":
            self.routes.new_part = True
            self.routes.lines += 1
        elif kind == "trk":
            self.tracks.lines += 1
        elif kind != "other":
            self._text = []
            self.parser.CharacterDataHandler = self._characters

    def _root(self, tag: str) -> None:
        namespace, _, local = tag.rpartition(" ")
        if local != "gpx":
            other = _OTHER_ROOTS.get(local, f"XML with the root <{_clean(local)[:40]}>")
            self.fault(f"this is {other}, not GPX", _EXPORT)
        self.has_root = True
        self._open.append(_Node("other", _tree(f"{namespace} " if namespace else "")))

    def _point(self, line: _Line, attributes: dict[str, str]) -> None:
        lon, lat = self._position(attributes)
        if line.new_part:
            line.starts.append(len(line.lon))
            line.new_part = False
            if len(line.starts) > MAX_PARTS:
                self.fault(
                    f"the file holds more than {MAX_PARTS:,} separate pieces of line",
                    "Export only the route you mean to ride",
                )
        line.lon.append(lon)
        line.lat.append(lat)
        line.ele_m.append(math.nan)
        if len(line.lon) > MAX_POINTS:
            self.fault(
                f"the file holds more than {MAX_POINTS:,} points",
                "Split it, or export it with fewer points",
            )
        self._ele_line = line

    def _position(self, attributes: dict[str, str]) -> tuple[float, float]:
        try:
            lon, lat = float(attributes["lon"]), float(attributes["lat"])
        except (KeyError, ValueError):
            lon = lat = math.nan
        if -180.0 <= lon <= 180.0 and -90.0 <= lat <= 90.0:
            return lon, lat
        given = ", ".join(
            f"{key}={_clean(attributes.get(key, ''))[:30]!r}" for key in ("lat", "lon")
        )
        self.fault(
            f"a point has no usable position ({given})",
            "Latitude is -90 to 90, longitude -180 to 180, in degrees with a decimal point",
        )

    def _characters(self, text: str) -> None:
        # Names are cut anyway: a long one must not fill the memory.
        if len(self._text) < _MAX_NAME:
            self._text.append(text[: 4 * _MAX_NAME])

    def _end(self, _tag: str) -> None:
        if self._skip:
            self._skip -= 1
            return
        kind = self._open.pop().kind
        if kind == "ele":
            self.parser.CharacterDataHandler = None
            if self._ele_line is not None:
                self._ele_line.ele_m[-1] = _elevation("".join(self._text))
                self._ele_line = None
        elif kind == "wpt":
            self._end_mark()
        elif kind in ("title", "trk_name", "rte_name", "wpt_name"):
            self.parser.CharacterDataHandler = None
            self._end_name(kind, _clean("".join(self._text)))

    def _end_name(self, kind: str, name: str) -> None:
        if kind == "title":
            self.title = self.title or name
        elif kind == "wpt_name":
            self._mark_name = self._mark_name or name
        else:
            line = self.tracks if kind == "trk_name" else self.routes
            if len(line.names) < 2:
                line.names.append(name)

    def _end_mark(self) -> None:
        if self._mark_at is None:
            return
        if len(self.marks) < MAX_MARKS:
            self.marks.append(Mark(self._mark_name, *self._mark_at))
        else:
            self.marks_left_out += 1

    # -- around the pass --

    def fault(self, what: str, mend: str) -> NoReturn:
        where = f"{self.shown}, line {self.parser.CurrentLineNumber}"
        raise RouteError(what, where=where, mend=mend)

    def feed(self, pieces: Iterable[bytes]) -> None:
        """Parse the whole file.

        Raises
        ------
        RouteError
            Not well-formed, or one of the limits is passed.
        """
        size = 0
        try:
            for piece in pieces:
                if not size:
                    _refuse_other_kinds(piece, self.shown)
                size += len(piece)
                if size > MAX_BYTES:
                    _refuse_size(size, self.shown)
                self.parser.Parse(piece, False)
                if size - self.parser.CurrentByteIndex > _MAX_TOKEN_BYTES:
                    self.fault("one tag or comment is longer than 1 MB", _EXPORT)
            self.parser.Parse(b"", True)
        except expat.ExpatError as error:
            self._not_well_formed(error, size)
        except (LookupError, ValueError) as error:
            # What Python's codecs raise for a declared encoding they cannot serve.
            self.fault(f"the text encoding cannot be read: {error}", "Save the file as UTF-8")

    def _not_well_formed(self, error: expat.ExpatError, size: int) -> NoReturn:
        reason = expat.ErrorString(error.code) or "unreadable"
        if not size:
            raise RouteError("the file is empty", where=self.shown, mend=_EXPORT) from error
        if not self.has_root:
            what, mend = f"this is not XML, so not GPX ({reason})", _EXPORT
        elif error.code in _CUT_SHORT:
            what, mend = "the file ends in the middle", _REPAIR
        else:
            what, mend = f"the XML is broken here ({reason})", _REPAIR
        raise RouteError(what, where=f"{self.shown}, line {error.lineno}", mend=mend) from error


_CUT_SHORT: Final = frozenset(
    expat.errors.codes[message]
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
)


def _read(pieces: Iterator[bytes], shown: str) -> Route:
    reader = _Reader(shown)
    reader.feed(pieces)
    line, warnings = _choose(reader)
    if len(line.lon) < 2:
        raise _no_route(reader, len(line.lon))
    named = line.names if line.lines == 1 else []
    name = reader.title or (named[0] if named else "") or Path(shown).stem
    try:
        route = make_route(line.parts(), name=name, marks=reader.marks)
    except RouteError as error:
        raise RouteError(error.what, where=shown, mend=error.mend) from error
    if route.length_m > MAX_LENGTH_M:
        raise RouteError(
            f"the route is {route.length_m / 1000.0:,.0f} km long, which no one rides",
            where=shown,
            mend="Look for stray points in your planner",
        )
    return replace(route, warnings=(*warnings, *_jump_warnings(route), *_sparse_warnings(route)))


def _choose(reader: _Reader) -> tuple[_Line, list[str]]:
    """Tracks, or routes where there is no track to ride; and what to tell the rider."""
    tracks, routes = reader.tracks, reader.routes
    warnings: list[str] = []
    line = tracks
    if len(tracks.lon) < 2 <= len(routes.lon):
        line = routes
        if tracks.lines:
            warnings.append("The file's tracks hold no line, so its routes are used")
    elif routes.lon:
        warnings.append(
            "The file holds tracks and routes, often the same ride twice: only the tracks are used"
        )
    if line is routes and reader.shape_points:
        warnings.append(
            f"The road between the route points was read from {reader.shape_points:,} "
            "shape points of a Garmin extension"
        )
    if line is routes and routes.lines > 1:
        warnings.append(f"The file's {routes.lines:,} routes are joined in their order")
    if reader.marks_left_out:
        warnings.append(
            f"Only the first {MAX_MARKS:,} waypoints are kept; "
            f"{reader.marks_left_out:,} are left out"
        )
    return line, warnings


def _no_route(reader: _Reader, points: int) -> RouteError:
    if points:
        what = "the file holds a track or route of one point only"
    elif reader.marks:
        count = len(reader.marks) + reader.marks_left_out
        what = f"the file holds only waypoints ({count:,}), no track or route"
    else:
        what = "the file holds no points"
    return RouteError(
        what, where=reader.shown, mend="Export the whole ride as a track from your planner"
    )


def _jump_warnings(route: Route) -> list[str]:
    if not route.breaks:
        return []
    longest = max(route.breaks, key=lambda jump: jump.length_m)
    times = "once" if len(route.breaks) == 1 else f"{len(route.breaks):,} times"
    return [
        f"The line jumps {times}, farthest {longest.length_m / 1000.0:,.1f} km "
        f"at km {longest.chainage_m / 1000.0:,.1f}: not counted as ridden"
    ]


def _sparse_warnings(route: Route) -> list[str]:
    step_m = np.diff(route.chainage_m)
    longest = int(np.argmax(step_m))
    if step_m[longest] <= SPARSE_M:
        return []
    start_km, end_km = route.chainage_m[longest : longest + 2] / 1000.0
    count = int(np.count_nonzero(step_m > SPARSE_M))
    others = "" if count == 1 else f" ({count:,} pieces are longer than {SPARSE_M / 1000.0:g} km)"
    return [
        f"The route is sparse: its longest straight piece is {step_m[longest] / 1000.0:,.1f} km, "
        f"from km {start_km:,.1f} to km {end_km:,.1f}{others}. The road between is not known, so "
        "distances are too short and places may be missed; export it as a track with all points"
    ]


def _elevation(text: str) -> float:
    try:
        value_m = float(text)
    except ValueError:
        return math.nan
    return value_m if abs(value_m) <= _MAX_ELE_M else math.nan


def _clean(text: str) -> str:
    """One line without control characters; still hostile text."""
    kept = "".join(
        " " if c.isspace() else c for c in text if not "\x7f" <= c <= "\x9f" or c == "\x85"
    )
    kept = "".join(c for c in kept if c >= " ")
    return " ".join(kept.split())[:_MAX_NAME]


def _shown_path(path: Path) -> str:
    return os.fsencode(path).decode("utf-8", "replace")


def _refuse_size(size: int, shown: str) -> NoReturn:
    raise RouteError(
        f"the file is {size / 1e6:,.0f} MB, more than the {MAX_BYTES / 1e6:,.0f} MB that are read",
        where=shown,
        mend="Export it with fewer points, or split it",
    )


def _refuse_other_kinds(head: bytes, shown: str) -> None:
    for start, kind in _OTHER_STARTS.items():
        if head.startswith(start):
            raise RouteError(f"this is {kind}, not GPX", where=shown, mend="Unpack or export it")
    if head[8:12] == b".FIT":
        raise RouteError("this is a FIT file, not GPX", where=shown, mend=_EXPORT)
