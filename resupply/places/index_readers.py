"""What gathering takes from an extract: places, the light map, what is covered.

In: features as the scanner shows them, wherever they lie. Out: the files of a part, but for its
roads (`resupply.places.index_roads`).
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.geodesy import rough_area_m2
from resupply.common.text import one_line
from resupply.places.base_map import thinned, town_kind
from resupply.places.coverage import NO_ROAD
from resupply.places.extract import outline_of, place_of
from resupply.places.index_columns import number_column
from resupply.places.index_cover import CoverGrid
from resupply.places.index_parts import COVER, LIGHT_MAP, PLACES, SCHEMA
from resupply.places.sees import Sees
from resupply.places.tags import classify, may_supply, rule_keys

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray
    from shapely import LineString

    from resupply.places.osm_file import Feature, TagLookup

__all__ = ["LAYERS", "CoverRows", "LightMapRows", "PlaceRows"]

LAYERS: Final = (
    "motorway", "trunk", "primary", "secondary", "tertiary", "river", "coastline", "water",
    "city", "town", "village", "hamlet",
)  # fmt: skip
"""Layers of the light map, as its reader knows them."""
# The first five layers are roads, the last four towns.
_DRAWN_ROADS: Final = frozenset(LAYERS[:5])
_TOWNS: Final = frozenset(LAYERS[8:])
_LINE_TOLERANCE_M: Final = 10.0
"""Our choice: half of what the drawing of a plan leaves out."""
_LEAST_LAKE_M2: Final = 200_000.0
"""Our choice, as in `base_map`."""
_LINES_AT_ONCE: Final = 4_096
"""Handled together for speed: our choice; bounds the memory."""
_PLACES_PER_TELL: Final = 5_000
"""Our choice."""


class PlaceRows(Sees):
    """Writes the places of an extract.

    Parameters
    ----------
    tell
        Told how many there are, now and then.
    """

    node_keys = rule_keys()
    way_keys = rule_keys()

    def __init__(self, folder: Path, tell: Callable[[int], None]) -> None:
        import pyarrow as pa

        from resupply.places.index_write import SpatialWriter

        names = ("name", "kind", "supplies", "opening_hours", "tags")
        spot = [("id", pa.string()), ("lon", pa.float64()), ("lat", pa.float64())]
        columns = pa.schema([*spot, *((name, pa.string()) for name in names)])
        self._folder, self._tell = folder, tell
        self.rows: SpatialWriter = SpatialWriter(columns, folder / "places.runs")
        self.nowhere = 0

    @property
    def count(self) -> int:
        """Places so far."""
        return self.rows.count

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it may be a place."""
        return may_supply(tags)

    def wants_relation(self, tags: Mapping[str, str], /) -> bool:
        """Whether it is a place."""
        return classify(tags) is not None

    def see(self, feature: Feature, /) -> None:
        """Take a place."""
        import shapely

        if not may_supply(feature.tags) or (made := place_of(feature)) is None:
            return
        place, outline = made
        if place is None:
            self.nowhere += 1
            return
        supplies = ";".join(f"{supply}:{sure}" for supply, sure in place.supplies.items())
        self.rows.add(
            (
                place.id,
                place.lon,
                place.lat,
                place.name,
                place.kind,
                supplies,
                place.opening_hours or "",
                json.dumps(place.tags, ensure_ascii=False),
            ),
            outline if outline is not None else shapely.Point(place.lon, place.lat),
        )
        if self.count % _PLACES_PER_TELL == 0:
            self._tell(self.count)

    def finish(self) -> None:
        """Write the file."""
        areas_too = ("MultiPolygon", "Point", "Polygon")
        self.rows.finish(self._folder / PLACES, geometry_types=areas_too, about={"schema": SCHEMA})


class LightMapRows(Sees):
    """Writes the light map of an extract: main roads, water, towns."""

    node_keys = ("place",)
    way_keys = ("highway", "waterway", "natural")

    def __init__(self, folder: Path) -> None:
        import pyarrow as pa

        from resupply.places.index_write import SpatialWriter

        columns = pa.schema([(name, pa.string()) for name in ("layer", "id", "name", "people")])
        self._folder = folder
        self.rows: SpatialWriter = SpatialWriter(columns, folder / "map.runs")
        self._lines: list[tuple[str, NDArray[np.float64]]] = []
        self.coast_points = 0

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it is drawn."""
        return bool(_way_layer(tags)) or tags.get("place") in _TOWNS

    def wants_relation(self, tags: Mapping[str, str], /) -> bool:
        """Tell whether a relation is drawn: a lake of several pieces."""
        return tags.get("natural") == "water" and tags.get("type") == "multipolygon"

    def see(self, feature: Feature, /) -> None:
        """Take what is drawn of a feature; the rest is passed over."""
        import shapely

        tags = feature.tags
        if feature.id.startswith("node/"):
            if tags.get("place") in _TOWNS and tags.get("name") and len(feature.lonlat):
                name, people = (one_line(tags.get(key, "")) for key in ("name", "population"))
                row = (town_kind(tags), feature.id, name, people)
                self.rows.add(row, shapely.Point(feature.lonlat[0]))
            return
        layer = _way_layer(tags)
        if not layer or not len(feature.lonlat):
            return
        lines = _lake_shores(feature) if layer == "water" else [feature.lonlat]
        self._lines += [(layer, line) for line in lines if len(line) > 1]
        if len(self._lines) > _LINES_AT_ONCE:
            self._add_lines()

    def _add_lines(self) -> None:
        """Thin the lines that wait, all at once for speed, and put them on the light map."""
        layers = [layer for layer, _ in self._lines]
        thin = thinned([line for _, line in self._lines], _LINE_TOLERANCE_M)
        for layer, line, shape in zip(layers, thin, _shapes(thin), strict=True):
            if layer == "coastline":
                self.coast_points += len(line)
            self.rows.add((layer, "", "", ""), shape)
        self._lines = []

    def finish(self) -> None:
        """Write the file."""
        self._add_lines()
        lines_too = ("LineString", "Point")
        self.rows.finish(
            self._folder / LIGHT_MAP, geometry_types=lines_too, about={"schema": SCHEMA}
        )


class CoverRows(Sees):
    """Writes what an extract covers: the ground around its roads."""

    way_keys = ("highway",)

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.grid = CoverGrid()
        self._lines: list[NDArray[np.float64]] = []
        self._others: list[NDArray[np.float64]] = []

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it is a road."""
        return (tags.get("highway") or "no") not in NO_ROAD

    def see(self, feature: Feature, /) -> None:
        """Note a road, and how far the data reaches."""
        if len(feature.lonlat) > 1 and self.wants(feature.tags):
            self._lines.append(feature.lonlat)
            if len(self._lines) >= _LINES_AT_ONCE:
                self._hand_on()
        else:
            self._others.append(feature.lonlat)
            if len(self._others) >= _LINES_AT_ONCE:
                self._hand_on()

    def _hand_on(self) -> None:
        if self._others:
            self.grid.see(np.concatenate(self._others))
            self._others = []
        if self._lines:
            road = np.repeat(np.arange(len(self._lines)), [len(line) for line in self._lines])
            self.grid.take(np.concatenate(self._lines), road)
            self._lines = []

    def file_ends(self) -> None:
        """Take in what waits."""
        self._hand_on()

    def finish(self, *, least: int) -> None:
        """Write the file; `least` roads cover a cube."""
        import pyarrow as pa
        import pyarrow.parquet as pq

        cubes = pa.table({"cube": number_column(self.grid.covered(least))})
        pq.write_table(
            cubes.replace_schema_metadata({"schema": SCHEMA}),
            self._folder / COVER,
            compression="zstd",
            write_page_checksum=True,
            use_dictionary=False,
            column_encoding={"cube": "DELTA_BINARY_PACKED"},
            row_group_size=65_536,
        )


def _way_layer(tags: TagLookup) -> str:
    """Layer of the light map a way belongs to, "" if none."""
    natural = tags.get("natural")
    if natural in ("water", "coastline"):
        return str(natural)
    kind = tags.get("highway")
    if kind is None:
        return "river" if tags.get("waterway") == "river" else ""
    return kind if kind in _DRAWN_ROADS else ""


def _lake_shores(feature: Feature) -> list[NDArray[np.float64]]:
    """Outer shores of a lake's parts that are large enough to draw, each (k, 2) degrees."""
    import shapely

    low, high = feature.lonlat.min(axis=0), feature.lonlat.max(axis=0)
    lat = float(low[1] + high[1]) / 2.0
    if rough_area_m2(float(np.prod(high - low)), lat) < _LEAST_LAKE_M2:
        return []
    outline = outline_of(feature)
    if outline is None:
        return []
    return [
        shapely.get_coordinates(part.exterior)
        for part in shapely.get_parts(outline)
        if rough_area_m2(part.area, lat) >= _LEAST_LAKE_M2
    ]


def _shapes(lines: Sequence[NDArray[np.float64]]) -> Sequence[LineString]:
    """Lines as the library has them, all at once for speed."""
    import shapely

    if not lines:
        return []
    number = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    return list(np.asarray(shapely.linestrings(np.concatenate(lines), indices=number)))
