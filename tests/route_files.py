"""Route files of every format as bytes, made without the readers' libraries, for tests."""

from __future__ import annotations

import io
import json
import struct
import zipfile
from typing import TYPE_CHECKING

from tests.gpx_text import gpx, track

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

Point = tuple[float, ...]
FORMATS = ("gpx", "kml", "kmz", "geojson", "fit")
KML_NS = "http://www.opengis.net/kml/2.2"
GX_NS = "http://www.google.com/kml/ext/2.2"


def kml(*body: str, name: str = "") -> bytes:
    title = f"<name>{name}</name>" if name else ""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="{KML_NS}" xmlns:gx="{GX_NS}">'
        f"<Document>{title}\n{chr(10).join(body)}\n</Document></kml>\n"
    ).encode()


def kml_line(places: Iterable[Point], name: str = "", mode: str = "absolute") -> str:
    coordinates = " ".join(",".join(str(value) for value in place) for place in places)
    return (
        f"<Placemark><name>{name}</name><LineString><altitudeMode>{mode}</altitudeMode>"
        f"<coordinates>{coordinates}</coordinates></LineString></Placemark>"
    )


def kml_point(place: Point, name: str) -> str:
    at = ",".join(str(value) for value in place)
    return (
        f"<Placemark><name>{name}</name><Point><coordinates>{at}</coordinates></Point></Placemark>"
    )


def kmz(document: bytes, *, name: str = "doc.kml", before: Sequence[str] = ()) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for other in before:
            archive.writestr(other, b"x")
        archive.writestr(name, document)
    return packed.getvalue()


def geojson(*geometries: dict, name: str = "", **members: object) -> bytes:
    features = [
        {"type": "Feature", "properties": {"name": name}, "geometry": geometry}
        for geometry in geometries
    ]
    return json.dumps({"type": "FeatureCollection", "features": features, **members}).encode()


def line(*places: Point) -> dict:
    return {"type": "LineString", "coordinates": [list(place) for place in places]}


def fit(
    places: Iterable[Point], *, name: str = "", marks: Iterable[tuple[Point, str]] = ()
) -> bytes:
    """Write a FIT course: FIT protocol and profile 2.x, layout from memory."""
    body = _define(0, 0, [(0, 1, 0x00)]) + b"\x00\x06"  # file_id: type 6, a course
    body += _define(1, 31, [(5, 16, 0x07)]) + b"\x01" + _fixed(name, 16)
    body += _define(2, 20, [(0, 4, 0x85), (1, 4, 0x85), (2, 2, 0x84)])
    for place in places:
        height = round((place[2] + 500) * 5) if len(place) > 2 else 0xFFFF
        body += b"\x02" + struct.pack("<iiH", _turn(place[1]), _turn(place[0]), height)
    body += _define(3, 32, [(2, 4, 0x85), (3, 4, 0x85), (6, 16, 0x07)])
    for place, label in marks:
        body += b"\x03" + struct.pack("<ii", _turn(place[1]), _turn(place[0])) + _fixed(label, 16)
    return fit_file(body)


def fit_file(body: bytes) -> bytes:
    """Put header and checksums around messages."""
    head = struct.pack("<BBHI4s", 14, 0x20, 2100, len(body), b".FIT")
    head += struct.pack("<H", crc16(head))
    return head + body + struct.pack("<H", crc16(head + body))


def crc16(data: bytes) -> int:
    """CRC-16/ARC, bit by bit."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def every_format(places: Sequence[Point], name: str = "Ride") -> dict[str, bytes]:
    """Write the same ride in every format."""
    document = kml(kml_line(places), name=name)
    return {
        "gpx": gpx(track(places, name=name)),
        "kml": document,
        "kmz": kmz(document),
        "geojson": geojson(line(*places), name=name),
        "fit": fit(places, name=name),
    }


def _define(local: int, message: int, fields: Sequence[tuple[int, int, int]]) -> bytes:
    head = struct.pack("<BBBHB", 0x40 | local, 0, 0, message, len(fields))
    return head + b"".join(bytes(field) for field in fields)


def _turn(degrees: float) -> int:
    return round(degrees * 2**31 / 180.0)


def _fixed(text: str, size: int) -> bytes:
    return text.encode()[: size - 1].ljust(size, b"\0")
