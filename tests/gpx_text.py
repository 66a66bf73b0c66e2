"""GPX documents as bytes, for tests."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

NS = "http://www.topografix.com/GPX/1/1"


def gpx(*body: str, version: str = "1.1", ns: str = NS) -> bytes:
    head = f'<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="{version}" xmlns="{ns}">\n'
    return (head + "\n".join(body) + "\n</gpx>\n").encode()


def points(places: Iterable[tuple[float, ...]], tag: str = "trkpt") -> str:
    """Points from (lon, lat) or (lon, lat, elevation)."""
    rows = []
    for lon, lat, *ele in places:
        inside = f"<ele>{ele[0]}</ele>" if ele else ""
        rows.append(f'<{tag} lat="{lat}" lon="{lon}">{inside}</{tag}>')
    return "\n".join(rows)


def track(*segments: Iterable[tuple[float, ...]], name: str = "") -> str:
    title = f"<name>{name}</name>" if name else ""
    inside = "".join(f"<trkseg>{points(segment)}</trkseg>" for segment in segments)
    return f"<trk>{title}{inside}</trk>"


def planned(places: Iterable[tuple[float, ...]], name: str = "") -> str:
    """Write a <rte>."""
    title = f"<name>{name}</name>" if name else ""
    return f"<rte>{title}{points(places, 'rtept')}</rte>"
