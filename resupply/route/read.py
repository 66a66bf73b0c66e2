"""Read a route file, whatever its format: GPX, KML, KMZ, GeoJSON or FIT.

In: a file or its bytes. Out: a `Route`. What the content is decides, not the file's ending:
files are renamed, and phones hand them over without one.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn
from xml.parsers import expat

from resupply.common.errors import RouteError
from resupply.common.files import is_endless
from resupply.common.text import one_line
from resupply.route.fit import read_fit
from resupply.route.geojson import read_geojson
from resupply.route.gpx import MAX_BYTES, content_route, parse_gpx, read_gpx
from resupply.route.kml import read_kml, read_kmz

if TYPE_CHECKING:
    from resupply.route.route import Route

__all__ = ["parse_route", "read_route"]

_READERS: Final = {"kml": read_kml, "kmz": read_kmz, "geojson": read_geojson, "fit": read_fit}
_HEAD_BYTES: Final = 1 << 16
"""Looked at to tell the format: our choice, past any comment at the head."""


def read_route(path: Path) -> Route:
    """Read a route from a file.

    Parameters
    ----------
    path
        A GPX, KML, KMZ, GeoJSON or FIT file, whatever its ending.

    Returns
    -------
    Route
        See `parse_route`.

    Raises
    ------
    RouteError
        The file cannot be read, is of another kind, or holds no usable route.
    """
    shown = os.fsencode(path).decode("utf-8", "replace")
    try:
        if is_endless(Path(path)):
            raise RouteError(
                "this is no file but a pipe or a device",
                where=shown,
                mend="Save it as a file first",
            )
        with Path(path).open("rb") as stream:
            head = stream.read(_HEAD_BYTES)
            if _format(head) == "gpx":
                # Its reader takes long files piece by piece.
                return read_gpx(path)
            data = head + stream.read(MAX_BYTES + 1 - len(head))
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise RouteError(
            f"the file cannot be read: {reason}", where=shown, mend="Check the path"
        ) from error
    return _parse(data, shown)


def parse_route(data: bytes, *, name: str) -> Route:
    """Read a route from the bytes of a file.

    Lines of the file are joined in its order; jumps between them are breaks. Points become
    marks. `Route.warnings` says what was left out and where the line is sparse.

    Parameters
    ----------
    data
        The content of a file that `read_route` reads.
    name
        The file's name, for errors and as the route's name where the file has none.

    Raises
    ------
    RouteError
        The bytes are of another kind, or hold no usable route.

    Examples
    --------
    >>> line = b'{"type": "LineString", "coordinates": [[0, 0], [1, 0]]}'
    >>> round(parse_route(line, name="equator.geojson").length_m)
    111319
    """
    return _parse(data, one_line(name) or "upload")


def _parse(data: bytes, shown: str) -> Route:
    kind = _format(data[:_HEAD_BYTES])
    if kind == "gpx":
        return parse_gpx(data, name=shown)
    if len(data) > MAX_BYTES:
        raise RouteError(
            f"the file is larger than the {MAX_BYTES / 1e6:,.0f} MB that are read",
            where=shown,
            mend="Export it with fewer points, or split it",
        )
    return content_route(_READERS[kind](data, shown), shown)


def _format(head: bytes) -> str:
    """Tell the format by the first bytes; what is none of the others goes to the GPX reader.

    Its errors name the usual mistakes: web pages, archives, recordings of other kinds.
    """
    if head.startswith(b"PK\x03\x04"):
        return "kmz"
    if head[8:12] == b".FIT":
        return "fit"
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if text.startswith((b"{", b"[")):
        return "geojson"
    return "kml" if _root(text) == "kml" else "gpx"


def _root(head: bytes) -> str:
    """Local name of an XML document's root, empty where there is none."""
    found: list[str] = []

    def stop(*args: object) -> NoReturn:
        # Nothing behind the root or a document type is looked at, so no entity is expanded.
        found.append(str(args[0]))
        raise ValueError

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = stop
    parser.StartDoctypeDeclHandler = stop
    with contextlib.suppress(expat.ExpatError, LookupError, ValueError):
        parser.Parse(head, False)
    return found[0].rpartition(" ")[2] if found else ""
