"""What a GPX document holds, read in one pass.

In: the bytes of a file, piece by piece. Out: `GpxContent`: the points of its tracks and
routes, its waypoints and names. Expat does the reading, so memory grows with the points, not
with the file; document type declarations are refused, so no entity is ever expanded.

Where expat stands inside a track segment and a whole block is plain points, the block is read
by `resupply.route.gpx_points` instead, with the same result; in doubt expat reads it.
Element meanings: the GPX 1.1 schema, topografix.com/GPX/1/1.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final
from xml.parsers import expat

from resupply.common.errors import RouteError
from resupply.common.text import NAME_LIMIT, one_line
from resupply.route.content import (
    MAX_BYTES,
    MAX_MARKS,
    MAX_PARTS,
    MAX_POINTS,
    GpxContent,
    TrackPart,
)
from resupply.route.gpx_points import PLAIN_ENCODINGS, POINT_END, plain_points
from resupply.route.route import Mark

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["read_content", "too_large"]

# One tag or comment longer than this is no GPX, and would make expat scan it again and again.
_MAX_TOKEN_BYTES: Final = 1 << 20
_MAX_DEPTH: Final = 100
# Beyond the deepest shaft and the highest airliner an elevation is unknown, not a fault.
_MAX_ELE_M: Final = 20_000.0

_EXPORT: Final = "Export the route as GPX from your planner"
_REPAIR: Final = "Copy or download the file again, or export it again from your planner"
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
_CODES: Final = expat.errors.codes
_NO_ELEMENTS: Final = _CODES[expat.errors.XML_ERROR_NO_ELEMENTS]
_CUT_SHORT: Final = (
    _NO_ELEMENTS,
    _CODES[expat.errors.XML_ERROR_UNCLOSED_TOKEN],
    _CODES[expat.errors.XML_ERROR_PARTIAL_CHAR],
    _CODES[expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION],
)
_BAD_CHARACTER: Final = (
    _CODES[expat.errors.XML_ERROR_INVALID_TOKEN],
    _CODES[expat.errors.XML_ERROR_BAD_CHAR_REF],
    _CODES[expat.errors.XML_ERROR_INCORRECT_ENCODING],
)


def read_content(pieces: Iterable[bytes], shown: str) -> GpxContent:
    """Read a document.

    Parameters
    ----------
    pieces
        Its bytes in order, some 100 kB at a time.
    shown
        The file's name, for errors.

    Raises
    ------
    RouteError
        Not GPX, not well-formed, a point without a usable position, or one of the limits.
    """
    reader = _GpxReader(shown)
    reader.feed(pieces)
    return reader.content


class _Node:
    """An element we read: its meaning, and the children that count."""

    __slots__ = ("children", "kind")

    def __init__(self, kind: str, children: dict[str, _Node] | None = None) -> None:
        self.kind = kind
        self.children = children or {}


def _tree(ns: str) -> dict[str, _Node]:
    """Lay out the children of the root, with `ns` (the root's namespace) before each tag."""
    ele = _Node("ele")
    title, trk_name, rte_name, wpt_name = (
        _Node(kind) for kind in ("title", "trk_name", "rte_name", "wpt_name")
    )
    # Some planners keep the road between two route points in an extension of the first one
    # (the namespace is from memory). Without it such a route is a few straight lines.
    named = "http://www.garmin.com/xmlschemas/GpxExtensions/v3 "
    shape = _Node("other", {named + "rpt": _Node("rpt")})
    extensions = _Node("other", {named + "RoutePointExtension": shape})
    trkseg = _Node("trkseg", {ns + "trkpt": _Node("trkpt", {ns + "ele": ele})})
    rtept = _Node("rtept", {ns + "ele": ele, ns + "extensions": extensions})
    return {
        ns + "name": title,
        ns + "metadata": _Node("other", {ns + "name": title}),
        ns + "wpt": _Node("wpt", {ns + "name": wpt_name}),
        ns + "trk": _Node("trk", {ns + "name": trk_name, ns + "trkseg": trkseg}),
        ns + "rte": _Node("rte", {ns + "name": rte_name, ns + "rtept": rtept}),
    }


class _GpxReader:
    """Handlers of one pass, with where it stands."""

    def __init__(self, shown: str) -> None:
        self.content = GpxContent()
        self._shown = shown
        self._open: list[_Node] = []
        self._has_root = False
        self._skip = 0
        self._text: list[str] = []
        self._new_part = True
        self._ele_of: TrackPart | None = None
        self._mark_at: tuple[float, float] | None = None
        self._mark_name = ""
        # For blocks of plain points.
        self._namespace: str | None = None
        self._defaults: list[str | None] = [None]
        self._plain = True
        self._given = 0
        self._lines_aside = 0
        # The separator puts "namespace tag" in one string.
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.XmlDeclHandler = self._declaration
        parser.StartDoctypeDeclHandler = self._doctype
        parser.StartNamespaceDeclHandler = self._start_namespace
        parser.EndNamespaceDeclHandler = self._end_namespace
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.StartCdataSectionHandler = self._cdata
        self._parser = parser

    def feed(self, pieces: Iterable[bytes]) -> None:
        """Read the whole document, block by block; a block ends where a point ends, if any."""
        size, rest = 0, b""
        try:
            for piece in pieces:
                text = rest + piece
                if not size:
                    _refuse_other_kinds(piece, self._shown)
                    # Blank lines before the declaration are not XML, but common and harmless.
                    text = piece.lstrip()
                    self._lines_aside = piece.count(b"\n") - text.count(b"\n")
                size += len(piece)
                if size > MAX_BYTES:
                    raise too_large(size, self._shown)
                block, end, rest = text.rpartition(POINT_END)
                block, rest = (block + end, rest) if end else (rest, b"")
                if not self._take_plain(block):
                    self._parse(block)
            self._parse(rest)
            self._parser.Parse(b"", True)
        except expat.ExpatError as error:
            raise self._not_well_formed(error, size) from error
        except (LookupError, ValueError) as error:
            # What Python's codecs raise for a declared encoding they cannot serve.
            raise self._fault(
                "the text encoding it declares cannot be read", "Save the file as UTF-8"
            ) from error

    def _parse(self, block: bytes) -> None:
        self._parser.Parse(block, False)
        self._given += len(block)
        if self._given - self._parser.CurrentByteIndex > _MAX_TOKEN_BYTES:
            raise self._fault("one tag or comment is longer than 1 MB", _EXPORT)

    # -- blocks of plain points --

    def _take_plain(self, block: bytes) -> bool:
        """Read a block without expat if it is nothing but plain points of an open segment."""
        if (
            not self._plain
            or self._skip
            or not self._open
            or self._open[-1].kind != "trkseg"
            or self._defaults[-1] != self._namespace
            # Expat waits for the end of a tag or comment that began before this block.
            or self._given - self._parser.CurrentByteIndex > len(POINT_END)
        ):
            return False
        points = plain_points(block)
        if points is None:
            return False
        line = self.content.tracks
        self._begin_part(line)
        for column, more in zip((line.lon, line.lat, line.ele_m), points, strict=True):
            column.extend(more)
        self._lines_aside += block.count(b"\n")
        self._check_count(line)
        return True

    def _declaration(self, _version: str, encoding: str | None, _standalone: int) -> None:
        self._plain = encoding is None or encoding.lower() in PLAIN_ENCODINGS

    def _cdata(self) -> None:
        self._plain = False

    def _start_namespace(self, prefix: str | None, uri: str | None) -> None:
        if prefix is None:
            self._defaults.append(uri or None)

    def _end_namespace(self, prefix: str | None) -> None:
        if prefix is None:
            self._defaults.pop()

    # -- elements --

    def _doctype(self, name: str, *_: object) -> None:
        if name.lower() == "html":
            self._root("html")
        raise self._fault("the file declares a document type, which GPX never needs", _EXPORT)

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        if self._skip:
            self._skip += 1
            if self._skip > _MAX_DEPTH:
                raise self._fault(f"elements are nested more than {_MAX_DEPTH} deep", _EXPORT)
            return
        node = self._open[-1].children.get(tag) if self._open else self._root(tag)
        if node is None:
            self._skip = 1
            # Text after a child is no longer the element's own value.
            self._parser.CharacterDataHandler = None
            return
        self._open.append(node)
        kind = node.kind
        if kind == "trkpt":
            self._point(self.content.tracks, attributes)
        elif kind in ("rtept", "rpt"):
            self._point(self.content.routes, attributes)
            self.content.shape_points += kind == "rpt"
        elif kind == "wpt":
            self._mark_at, self._mark_name = self._position(attributes), ""
        elif kind == "trk":
            self.content.tracks.count += 1
        elif kind == "rte":
            self.content.routes.count += 1
            self._new_part = True
        elif kind == "trkseg":
            self._new_part = True
        elif kind != "other":
            self._text = []
            self._parser.CharacterDataHandler = self._characters

    def _end(self, _tag: str) -> None:
        if self._skip:
            self._skip -= 1
            return
        kind = self._open.pop().kind
        if kind == "wpt":
            self._end_mark()
        elif kind == "ele":
            self._parser.CharacterDataHandler = None
            if self._ele_of is not None:
                self._ele_of.ele_m[-1] = _elevation_m("".join(self._text))
                self._ele_of = None
        elif kind in ("title", "trk_name", "rte_name", "wpt_name"):
            self._parser.CharacterDataHandler = None
            self._end_name(kind, one_line("".join(self._text)))

    def _root(self, tag: str) -> _Node:
        namespace, _, local = tag.rpartition(" ")
        if local != "gpx":
            other = _OTHER_ROOTS.get(local, f"XML with the root <{one_line(local)[:40]}>")
            raise self._fault(f"this is {other}, not GPX", _EXPORT)
        self._has_root = True
        self._namespace = namespace or None
        return _Node("other", _tree(f"{namespace} " if namespace else ""))

    def _point(self, line: TrackPart, attributes: dict[str, str]) -> None:
        lon, lat = self._position(attributes)
        self._begin_part(line)
        line.lon.append(lon)
        line.lat.append(lat)
        line.ele_m.append(math.nan)
        self._check_count(line)
        self._ele_of = line

    def _begin_part(self, line: TrackPart) -> None:
        if self._new_part:
            line.starts.append(len(line.lon))
            self._new_part = False

    def _check_count(self, line: TrackPart) -> None:
        if len(line.starts) > MAX_PARTS:
            raise self._fault(
                f"the file holds more than {MAX_PARTS:,} separate pieces of line",
                "Export only the route you mean to ride",
            )
        if len(line.lon) > MAX_POINTS:
            raise self._fault(
                f"the file holds more than {MAX_POINTS:,} points",
                "Split it, or export it with fewer points",
            )

    def _position(self, attributes: dict[str, str]) -> tuple[float, float]:
        try:
            lon, lat = float(attributes["lon"]), float(attributes["lat"])
        except (KeyError, ValueError):
            lon = lat = math.nan
        if -180.0 <= lon <= 180.0 and -90.0 <= lat <= 90.0:
            return lon, lat
        given = ", ".join(
            f'{key}="{one_line(attributes[key])[:30]}"' if key in attributes else f"no {key}"
            for key in ("lat", "lon")
        )
        raise self._fault(
            f"a point has no usable position ({given})",
            "Latitude is -90 to 90, longitude -180 to 180, in degrees with a decimal point",
        )

    def _characters(self, text: str) -> None:
        # Names are cut anyway: a long one must not fill the memory.
        if len(self._text) < NAME_LIMIT:
            self._text.append(text[: 4 * NAME_LIMIT])

    def _end_name(self, kind: str, name: str) -> None:
        content = self.content
        if kind == "title":
            content.title = content.title or name
        elif kind == "wpt_name":
            self._mark_name = self._mark_name or name
        else:
            line = content.tracks if kind == "trk_name" else content.routes
            if len(line.names) < 2:
                line.names.append(name)

    def _end_mark(self) -> None:
        if self._mark_at is not None and len(self.content.marks) < MAX_MARKS:
            self.content.marks.append(Mark(self._mark_name, *self._mark_at))
        else:
            self.content.marks_left_out += 1

    # -- faults --

    def _fault(self, what: str, mend: str) -> RouteError:
        line = self._parser.CurrentLineNumber + self._lines_aside
        return RouteError(what, where=f"{self._shown}, line {line}", mend=mend)

    def _not_well_formed(self, error: expat.ExpatError, size: int) -> RouteError:
        if not size or (not self._open and error.code == _NO_ELEMENTS):
            return RouteError("the file is empty", where=self._shown, mend=_EXPORT)
        if error.code in _CUT_SHORT:
            return self._fault("the file ends in the middle", _REPAIR)
        if not self._has_root:
            return self._fault("this is not XML, so not GPX", _EXPORT)
        if error.code in _BAD_CHARACTER:
            what = "a character is not allowed, or not in the encoding the file declares"
            return self._fault(what, "Save the file as UTF-8, or export it again")
        reason = expat.ErrorString(error.code) or "unreadable"
        return self._fault(f"the XML is broken here ({reason})", _REPAIR)


def _elevation_m(text: str) -> float:
    try:
        value_m = float(text)
    except ValueError:
        return math.nan
    return value_m if abs(value_m) <= _MAX_ELE_M else math.nan


def too_large(size: int, shown: str) -> RouteError:
    """Make the error for a file above `MAX_BYTES`."""
    return RouteError(
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
