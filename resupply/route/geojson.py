"""Read the lines and points of a GeoJSON document (RFC 7946).

In: the bytes of a file. Out: `GpxContent`. Line strings become parts, points become marks with
their `name`; areas are left out, and counted. Positions are longitude, latitude, height.
"""

from __future__ import annotations

import json
import math
from typing import Any, Final

from resupply.common.errors import RouteError
from resupply.common.text import one_line
from resupply.route.content import MAX_POINTS, GpxContent
from resupply.route.line_parts import add_mark, add_part

__all__ = ["MAX_JSON_BYTES", "read_geojson"]

MAX_JSON_BYTES: Final = 64_000_000
"""A document is held whole, at several times its size, so less is read than of GPX."""

_MAX_DEPTH: Final = 20
"""Our choice: collections in collections are not in use (RFC 7946, 3.1.8: avoid them)."""
# A position with height is a list, and two commas within and one behind it.
_MAX_VALUES: Final = 5 * MAX_POINTS
_EXPORT: Final = "Export the route as a LineString, or as GPX, from your planner"
_CRS84: Final = ("OGC:1.3:CRS84", "OGC::CRS84", "OGC:CRS84", "EPSG::4326", "EPSG:4326")
_AREAS: Final = ("Polygon", "MultiPolygon")

_Object = dict[str, Any]


def read_geojson(data: bytes, shown: str) -> GpxContent:
    """Read a document.

    Parameters
    ----------
    data
        At most `MAX_JSON_BYTES`, UTF-8.
    shown
        The file's name, for errors.

    Raises
    ------
    RouteError
        Not JSON, not GeoJSON, a position that is none, or one of the limits.
    """
    if len(data) > MAX_JSON_BYTES:
        raise RouteError(
            f"the file is {len(data) / 1e6:,.0f} MB, more than the "
            f"{MAX_JSON_BYTES / 1e6:,.0f} MB of GeoJSON that are read",
            where=shown,
            mend="Export it with fewer points, or as GPX",
        )
    # Counting what separates values bounds the memory before anything is built.
    if sum(data.count(mark) for mark in (b"[", b"{", b",")) > _MAX_VALUES:
        raise RouteError(
            f"the file holds more than {_MAX_VALUES:,} values",
            where=shown,
            mend="Export it with fewer points, or only the route you mean to ride",
        )
    root = _parse(data, shown)
    if not isinstance(root, dict) or "type" not in root:
        raise RouteError("this is a JSON file, but not GeoJSON", where=shown, mend=_EXPORT)
    _check_crs(root.get("crs"), shown)
    reader = _GeojsonReader(shown)
    reader.content.title = _text(root.get("name"))
    reader.take(root, "", shown, 0)
    if reader.areas:
        count = f"{reader.areas:,} area{'' if reader.areas == 1 else 's'}"
        reader.content.notes.append(f"Left out of the route: {count} of the file")
    return reader.content


def _parse(data: bytes, shown: str) -> object:
    try:
        return json.loads(data.decode("utf-8-sig"), parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        raise RouteError(
            "the file is not text in UTF-8", where=shown, mend="Save the file as UTF-8"
        ) from error
    except json.JSONDecodeError as error:
        what = "the file ends in the middle" if error.pos >= len(error.doc.rstrip()) else error.msg
        raise RouteError(
            f"the JSON is broken here ({what})" if what == error.msg else what,
            where=f"{shown}, line {error.lineno}, character {error.colno:,}",
            mend="Copy or download the file again, or export it again from your planner",
        ) from error
    except (RecursionError, ValueError) as error:
        what = "it is nested too deeply" if isinstance(error, RecursionError) else str(error)
        raise RouteError(
            f"the JSON cannot be read: {one_line(what)}", where=shown, mend=_EXPORT
        ) from error


def _no_constant(text: str) -> object:
    raise ValueError(f"{text} is not a number in JSON")


def _check_crs(crs: object, shown: str) -> None:
    """Refuse positions of another reference system: older files may name one."""
    if crs is None:
        return
    properties = crs.get("properties") if isinstance(crs, dict) else None
    named = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(named, str) or not named.endswith(_CRS84):
        said = f" ({one_line(named)[:60]})" if isinstance(named, str) else ""
        raise RouteError(
            f"its positions are not in longitude and latitude of WGS84{said}",
            where=shown,
            mend="Export it as WGS84 (EPSG:4326)",
        )


class _GeojsonReader:
    """Walks through a document, in its order."""

    def __init__(self, shown: str) -> None:
        self.content = GpxContent()
        self.areas = 0
        self._shown = shown
        self._feature = 0

    def take(self, node: object, name: str, where: str, depth: int) -> None:
        """Take in an object and what it holds; `name` is that of the feature it belongs to."""
        if depth > _MAX_DEPTH:
            raise RouteError(
                f"collections are nested more than {_MAX_DEPTH} deep", where=where, mend=_EXPORT
            )
        if not isinstance(node, dict):
            raise self._wrong("an object is expected", where)
        kind = node.get("type")
        if kind == "FeatureCollection":
            for feature in self._items(node, "features", where):
                self._feature += 1
                self.take(feature, name, f"{self._shown}, feature {self._feature:,}", depth + 1)
        elif kind == "Feature":
            properties = node.get("properties")
            own = _text(properties.get("name")) if isinstance(properties, dict) else ""
            if node.get("geometry") is not None:
                self.take(node["geometry"], own or name, where, depth + 1)
        elif kind == "GeometryCollection":
            for geometry in self._items(node, "geometries", where):
                self.take(geometry, name, where, depth + 1)
        elif kind in _AREAS:
            self.areas += 1
        else:
            self._take_coordinates(kind, self._items(node, "coordinates", where), name, where)

    def _take_coordinates(self, kind: object, values: list[Any], name: str, where: str) -> None:
        if kind == "LineString":
            self._line(values, name, where)
        elif kind == "MultiLineString":
            for line in values:
                if not isinstance(line, list):
                    raise self._wrong("a line is a list of positions", where)
                self._line(line, name, where)
        elif kind in ("Point", "MultiPoint"):
            for position in [values] if kind == "Point" and values else values:
                lon, lat, _ = self._position(position, where)
                add_mark(self.content, name, lon, lat, where=where)
        else:
            raise self._wrong(f'type is "{one_line(str(kind))[:40]}"', where)

    def _line(self, positions: list[Any], name: str, where: str) -> None:
        rows = [self._position(position, where) for position in positions]
        if not rows:
            return
        lon, lat, ele_m = zip(*rows, strict=True)
        add_part(self.content, lon, lat, ele_m, where=where)
        names = self.content.tracks.names
        if name and len(names) < 2 and name not in names:
            names.append(name)

    def _position(self, values: object, where: str) -> tuple[float, float, float]:
        if not isinstance(values, list) or len(values) < 2:
            raise self._wrong("a position is a list of longitude and latitude", where)
        head = values[:3]
        if not all(type(value) in (int, float) for value in head[:2]):
            raise self._wrong("a position holds something that is no number", where)
        return _number(head[0]), _number(head[1]), _number(head[2] if len(head) > 2 else None)

    def _items(self, node: _Object, key: str, where: str) -> list[Any]:
        items = node.get(key)
        if not isinstance(items, list):
            kind = one_line(str(node.get("type")))[:40]
            raise self._wrong(f'"{kind}" has no list of {key}', where)
        return items

    def _wrong(self, what: str, where: str) -> RouteError:
        return RouteError(f"this is not GeoJSON: {what}", where=where, mend=_EXPORT)


def _text(value: object) -> str:
    return one_line(value) if isinstance(value, str) else ""


def _number(value: object) -> float:
    """Give a float; a whole number of any length is JSON, but may be too much for one."""
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        return math.nan
    return float(value) if abs(value) < 1e9 else math.inf
