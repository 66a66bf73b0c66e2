"""Read the lines and points of a KML document, or of the one in a KMZ archive.

In: the bytes of a file. Out: `GpxContent`. Line strings and tracks become parts, points become
marks; areas are left out and links to other files are never followed, both are told.
Expat does the reading; document type declarations are refused, so no entity is ever expanded.
Element meanings: OGC 12-007r2 (KML 2.3) and its forerunner's `gx:Track`, from memory.
"""

from __future__ import annotations

import io
import math
import zipfile
import zlib
from array import array
from typing import TYPE_CHECKING, Final
from xml.parsers import expat

from resupply.common.errors import RouteError
from resupply.common.text import NAME_LIMIT, one_line
from resupply.route.content import MAX_BYTES, GpxContent
from resupply.route.line_parts import add_mark, add_part, check_points

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

__all__ = ["MAX_ENTRIES", "read_kml", "read_kmz"]

MAX_ENTRIES: Final = 10_000
"""A map with its pictures holds hundreds; an archive of more is not opened."""

_PIECE_BYTES: Final = 1 << 17
"""Parsed at once: our choice; bounds the memory."""
_MAX_DEPTH: Final = 100
"""Our choice: folders in folders are a few deep."""
# One tag or comment longer than this is no KML, and would make expat scan it again and again.
_MAX_TOKEN_BYTES: Final = 1 << 20
# Positions are read in pieces of text this long, so that a line is never held as text.
_MAX_TEXT: Final = 1 << 16
_MAX_POSITION: Final = 400

_EXPORT: Final = "Export the route as a path in KML, or as GPX, from your planner"
_REPAIR: Final = "Copy or download the file again, or export it again from your planner"
_ENCRYPTED: Final = 1
"""Bit 0 of an entry's flags (APPNOTE.TXT, 4.4.4)."""
_LINES: Final = ("LineString", "LinearRing", "Track")
_RINGS: Final = ("outerBoundaryIs", "innerBoundaryIs")
# Heights in these modes are above the ground or the sea floor, not above the sea.
_RELATIVE: Final = ("relativeToGround", "relativeToSeaFloor", "clampToSeaFloor")


def read_kml(data: bytes, shown: str) -> GpxContent:
    """Read a KML document.

    Parameters
    ----------
    data
        At most `MAX_BYTES`.
    shown
        The file's name, for errors.

    Raises
    ------
    RouteError
        Not KML, not well-formed, a position that is none, or one of the limits.
    """
    view = memoryview(data)
    pieces = (bytes(view[at : at + _PIECE_BYTES]) for at in range(0, len(data), _PIECE_BYTES))
    return _KmlReader(shown).read(pieces)


def read_kmz(data: bytes, shown: str) -> GpxContent:
    """Read the first KML document of a zip archive; nothing else in it is unpacked.

    Parameters
    ----------
    data
        The archive.
    shown
        The file's name, for errors.

    Raises
    ------
    RouteError
        No archive, no KML in it, more than `MAX_BYTES` when unpacked, or as `read_kml`.
    """
    # Each entry of the directory starts with these bytes, so this bounds what zipfile builds.
    if data.count(b"PK\x01\x02") > MAX_ENTRIES:
        raise RouteError(
            f"the archive holds more than {MAX_ENTRIES:,} files", where=shown, mend=_EXPORT
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entry = _document(archive, shown)
            with archive.open(entry) as stream:
                pieces = iter(lambda: stream.read(_PIECE_BYTES), b"")
                return _KmlReader(f"{shown}, {one_line(entry.filename)[:60]}").read(pieces)
    # What zipfile raises for damaged and unusual archives.
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        NotImplementedError,
        OSError,
        RuntimeError,
        ValueError,
    ) as error:
        raise RouteError(
            f"the zip archive cannot be read ({one_line(str(error))[:80]})",
            where=shown,
            mend="Copy or download the file again, or unpack it and use the .kml in it",
        ) from error


def _document(archive: zipfile.ZipFile, shown: str) -> zipfile.ZipInfo:
    """Find the document: the first .kml in the archive, as KML viewers do."""
    entry = next((e for e in archive.infolist() if e.filename.lower().endswith(".kml")), None)
    if entry is None:
        raise RouteError("the zip archive holds no .kml file", where=shown, mend=_EXPORT)
    known = entry.compress_type in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
    if entry.flag_bits & _ENCRYPTED or not known:
        what = "packed in an unusual way" if not known else "locked by a password"
        raise RouteError(f"the zip archive is {what}", where=shown, mend=_EXPORT)
    return entry


class _KmlReader:
    """Handlers of one pass, with where it stands."""

    def __init__(self, shown: str) -> None:
        self.content = GpxContent()
        self._shown = shown
        self._open: list[str] = []
        self._given = 0
        self._areas = self._links = 0
        self._name = ""
        self._text: list[str] = []
        self._text_size = 0
        self._mode = ""
        self._rows = (array("d"), array("d"), array("d"))
        self._line_at = ""
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = self._doctype
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        self._parser = parser

    def read(self, pieces: Iterable[bytes]) -> GpxContent:
        """Read the whole document, and say what was left out."""
        self._feed(pieces)
        notes = self.content.notes
        if self._areas:
            count = f"{self._areas:,} area{'' if self._areas == 1 else 's'}"
            notes.append(f"Left out of the route: {count} of the file")
        if self._links:
            notes.append("The file links to maps kept elsewhere: they are not fetched")
        return self.content

    def _feed(self, pieces: Iterable[bytes]) -> None:
        size = 0
        try:
            for piece in pieces:
                size += len(piece)
                if size > MAX_BYTES:
                    raise RouteError(
                        f"the document is more than the {MAX_BYTES / 1e6:,.0f} MB that are read",
                        where=self._shown,
                        mend="Export it with fewer points, or split it",
                    )
                # Blank lines before the declaration are not XML, but common and harmless.
                block = piece if self._given else piece.lstrip()
                self._parser.Parse(block, False)
                self._given += len(block)
                if self._given - self._parser.CurrentByteIndex > _MAX_TOKEN_BYTES:
                    raise self._fault("one tag or comment is longer than 1 MB", _EXPORT)
            self._parser.Parse(b"", True)
        except expat.ExpatError as error:
            reason = expat.ErrorString(error.code) or "unreadable"
            what = "the file is empty" if not size else f"the XML is broken here ({reason})"
            raise self._fault(what, _REPAIR) from error
        except (LookupError, ValueError) as error:
            # What Python's codecs raise for a declared encoding they cannot serve.
            raise self._fault(
                "the text encoding it declares cannot be read", "Save the file as UTF-8"
            ) from error

    # -- elements --

    def _doctype(self, *_: object) -> None:
        raise self._fault("the file declares a document type, which KML never needs", _EXPORT)

    def _start(self, tag: str, _attributes: dict[str, str]) -> None:
        local = tag.rpartition(" ")[2]
        parent = self._open[-1] if self._open else ""
        if not parent and local != "kml":
            raise self._fault(f"this is XML with the root <{one_line(local)[:40]}>", _EXPORT)
        if len(self._open) >= _MAX_DEPTH:
            raise self._fault(f"elements are nested more than {_MAX_DEPTH} deep", _EXPORT)
        self._open.append(local)
        if local in _LINES and parent not in _RINGS:
            self._rows, self._mode = (array("d"), array("d"), array("d")), ""
            self._line_at = self._where()
        elif local == "Polygon":
            self._areas += 1
        elif local == "NetworkLink":
            self._links += 1
        elif local == "Placemark":
            self._name = ""
        # Text after a child is not the element's own value.
        self._text, self._text_size = [], 0
        wanted = self._wants_text(local, parent)
        self._parser.CharacterDataHandler = self._characters if wanted else None

    def _wants_text(self, local: str, parent: str) -> bool:
        if local == "coordinates":
            return parent == "Point" or (parent in _LINES and self._open[-3] not in _RINGS)
        if local == "coord":
            return parent == "Track"
        if local == "altitudeMode":
            return parent in _LINES
        return local == "name" and parent in ("Document", "Folder", "Placemark")

    def _characters(self, text: str) -> None:
        local = self._open[-1]
        if local != "coordinates":
            # Names are cut anyway: a long one must not fill the memory.
            if self._text_size < 4 * NAME_LIMIT:
                self._text.append(text[: 4 * NAME_LIMIT])
        else:
            self._text.append(text)
        self._text_size += len(text)
        if local == "coordinates" and self._text_size > _MAX_TEXT and self._open[-2] in _LINES:
            whole = "".join(self._text)
            cut = max(whole.rfind(blank) for blank in " \n\t\r") + 1
            self._take_rows(_tuples(whole[:cut]))
            self._text, self._text_size = [whole[cut:]], len(whole) - cut
        if local == "coordinates" and self._text_size > 2 * _MAX_TEXT:
            raise self._fault("a position is longer than any number", _EXPORT)

    def _end(self, _tag: str) -> None:
        local, text = self._open.pop(), "".join(self._text)
        parent = self._open[-1] if self._open else ""
        if self._parser.CharacterDataHandler is not None:
            self._parser.CharacterDataHandler = None
            self._end_text(local, parent, text)
        elif local in _LINES and parent not in _RINGS:
            self._end_line()
        self._text, self._text_size = [], 0

    def _end_text(self, local: str, parent: str, text: str) -> None:
        if local == "name":
            self._end_name(parent, one_line(text))
        elif local == "altitudeMode":
            self._mode = text.strip()
        elif local == "coord":
            self._take_rows([text.split()] if text.strip() else [])
        elif parent == "Point":
            for lon, lat, _ in self._positions(_tuples(text[:_MAX_TEXT])):
                add_mark(self.content, self._name, lon, lat, where=self._where())
        else:
            self._take_rows(_tuples(text))

    def _end_name(self, parent: str, name: str) -> None:
        if parent == "Placemark":
            self._name = name
        elif not self.content.title:
            self.content.title = name

    def _end_line(self) -> None:
        lon, lat, ele_m = self._rows
        unknown = array("d", [math.nan]) * len(ele_m)
        heights = unknown if self._mode in _RELATIVE else ele_m
        add_part(self.content, lon, lat, heights, where=self._line_at)
        names = self.content.tracks.names
        if self._name and len(names) < 2 and self._name not in names:
            names.append(self._name)
        self._rows = (array("d"), array("d"), array("d"))

    # -- positions --

    def _take_rows(self, tuples: Iterable[list[str]]) -> None:
        for row in self._positions(tuples):
            for column, value in zip(self._rows, row, strict=True):
                column.append(value)
        check_points(len(self.content.tracks.lon) + len(self._rows[0]), where=self._shown)

    def _positions(self, tuples: Iterable[list[str]]) -> Iterator[tuple[float, float, float]]:
        for values in tuples:
            try:
                lon, lat = float(values[0]), float(values[1])
                ele_m = float(values[2]) if len(values) > 2 and values[2] else math.nan
            except (IndexError, ValueError):
                given = one_line(",".join(values)[:_MAX_POSITION])[:40]
                raise self._fault(
                    f'a position cannot be read ("{given}")',
                    "A position is longitude,latitude in degrees, without blanks",
                ) from None
            yield lon, lat, ele_m

    # -- faults --

    def _where(self) -> str:
        return f"{self._shown}, line {self._parser.CurrentLineNumber}"

    def _fault(self, what: str, mend: str) -> RouteError:
        return RouteError(what, where=self._where(), mend=mend)


def _tuples(text: str) -> Iterator[list[str]]:
    return (token.split(",") for token in text.split())
