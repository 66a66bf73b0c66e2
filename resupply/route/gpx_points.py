"""Blocks of plain track points, read without an XML parser.

Long recorded tracks are mostly one form of point, over and over: latitude, longitude, then
elevation and time if any. A regular expression reads these several times faster than any
parser that calls back for each tag. `resupply.route.gpx_xml` decides where that is safe.
"""

from __future__ import annotations

import re
from array import array
from typing import Final

__all__ = ["PLAIN_ENCODINGS", "POINT_END", "plain_points"]

PLAIN_ENCODINGS: Final = ("utf-8", "us-ascii", "iso-8859-1", "windows-1252")
"""In these every byte of a plain point means itself."""
POINT_END: Final = b"</trkpt>"
"""Where a block may end."""


def _pattern(first: bytes, second: bytes) -> re.Pattern[bytes]:
    """One point of the usual form, or all the rest of a block from where it is another."""
    number = rb"(-?[0-9]{1,4}(?:\.[0-9]{1,20})?)"
    # Possessive: what a run of blanks took is never tried again, so no input takes long.
    space = rb"[ \t\r\n]*+"
    return re.compile(
        space + b'<trkpt %s="%s" %s="%s"%s>' % (first, number, second, number, space)
        + space + b"(?:<ele>%s</ele>%s)?" % (number, space)
        + rb"(?:<time>[-+0-9T:Z.]*+</time>%s)?" % space
        + POINT_END + rb"|((?s:.+))"
    )  # fmt: skip


_LAT_FIRST: Final = _pattern(b"lat", b"lon")
_LON_FIRST: Final = _pattern(b"lon", b"lat")


def plain_points(block: bytes) -> tuple[array[float], array[float], array[float]] | None:
    """Read a block that is nothing but plain points.

    Parameters
    ----------
    block
        Ends with `POINT_END`; read in one of `PLAIN_ENCODINGS`.

    Returns
    -------
    tuple or None
        Longitude, latitude (degrees) and elevation (metres, NaN where there is none); None if
        anything else is in the block, or a position is out of range.

    Examples
    --------
    >>> plain_points(b'<trkpt lat="1.5" lon="2"><ele>3</ele></trkpt>')
    (array('d', [2.0]), array('d', [1.5]), array('d', [3.0]))
    >>> plain_points(b'<trkpt lat="1.5" lon="2"><!-- ele --></trkpt>')
    """
    for pattern, lat_at, lon_at in ((_LAT_FIRST, 0, 1), (_LON_FIRST, 1, 0)):
        first = pattern.match(block)
        if first is None or first[4] is not None:
            continue
        rows = pattern.findall(block)
        if rows[-1][3]:
            return None
        columns = list(zip(*rows, strict=True))
        lon = array("d", map(float, columns[lon_at]))
        lat = array("d", map(float, columns[lat_at]))
        if min(lon) < -180.0 or max(lon) > 180.0 or min(lat) < -90.0 or max(lat) > 90.0:
            return None
        return lon, lat, array("d", [float(text or b"nan") for text in columns[2]])
    return None
