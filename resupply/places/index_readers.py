"""What gathering takes from an extract: places, and what is covered.

In: features as the scanner shows them, wherever they lie. Out: the files of a part, but for its
roads (`resupply.places.index_roads`) and the light map (`resupply.places.index_light_map`).
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.places.coverage import NO_ROAD
from resupply.places.extract import place_of
from resupply.places.index_columns import number_column
from resupply.places.index_cover import CoverGrid
from resupply.places.index_parts import COVER, PLACES, SCHEMA
from resupply.places.sees import Sees
from resupply.places.tags import classify, may_supply, rule_keys

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from resupply.places.osm_file import Feature, TagLookup

__all__ = ["CoverRows", "PlaceRows"]

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
