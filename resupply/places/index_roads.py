"""The roads of whole extracts in a regional index: all of them kept, those near a route read.

In: ways with a road and barriers, as the scanner shows them. Out: `roads.parquet` (one row a way:
number, tags that matter, numbers and places of its nodes) and `barriers.parquet`. Near a route only
the row groups that the ground touches are read, as columns: `RoadRows`. What the tags mean is
judged on reading, by the speed table of the trip.
"""

from __future__ import annotations

import json
from array import array
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.common.geodesy import on_earth, to_ecef_m
from resupply.places.index_columns import (
    coded_texts,
    lists,
    number_column,
    numbers,
    text_column,
)
from resupply.places.index_parts import BARRIERS, ROADS, SCHEMA
from resupply.places.near_ground import STEPS
from resupply.places.sees import Sees

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from resupply.places.index_write import SpatialColumns
    from resupply.places.near_route import Reach
    from resupply.places.osm_file import Feature, TagLookup

__all__ = ["RIDDEN", "ROAD_KEYS", "SELDOM_RIDDEN", "RoadRows", "RoadWriter", "read_roads"]

RIDDEN: Final = frozenset(
    f"{name}{link}"
    for name in ("motorway", "trunk", "primary", "secondary", "tertiary")
    for link in ("", "_link")
) | {"unclassified", "residential", "living_street", "service", "track", "road"}
"""Roads that a motorcycle may use unless a tag closes them; the standard speed table's."""
SELDOM_RIDDEN: Final = frozenset(
    ("path", "footway", "cycleway", "bridleway", "pedestrian", "busway")
)
"""Closed to it unless a tag opens them; without one they are left out."""
_OPENS: Final = tuple(
    f"{mode}{way}"
    for mode in ("motorcycle", "motor_vehicle")
    for way in ("", ":forward", ":backward")
)
ROAD_KEYS: Final = (
    "highway", "area", "surface", "tracktype", "smoothness", "service", "junction", "motorroad",
    "bridge", "tunnel", "maxspeed", "maxspeed:motorcycle", "maxspeed:forward", "maxspeed:backward",
    "oneway", "oneway:motorcycle", "oneway:motor_vehicle", "oneway:vehicle", *_OPENS,
    *(f"{mode}{way}" for mode in ("vehicle", "access") for way in ("", ":forward", ":backward")),
)  # fmt: skip
"""All that a road is judged by; other tags are not kept."""
_BARRIER_KEYS: Final = ("barrier", "motorcycle", "motor_vehicle", "vehicle", "access")
_MOST_VALUE: Final = 255
"""Characters of a value: what OpenStreetMap holds."""
_WAYS_AT_ONCE: Final = 16_384
"""Set aside together, our choice: bounds the memory."""
_NODES_AT_ONCE: Final = 400_000
"""Set aside together, our choice: some 10 MB."""
_NOWHERE: Final = 2_147_483_647
"""Place of a node that the extract lacks, in steps: our choice, beyond any longitude."""


@dataclass(frozen=True, slots=True, eq=False)
class RoadRows:
    """n roads with k nodes, and barriers, near a route."""

    way_id: NDArray[np.int64]
    """(n,)"""
    tags: tuple[Mapping[str, str], ...]
    """Each set of tags once."""
    tags_ix: NDArray[np.int64]
    """(n,) index into `tags`."""
    count: NDArray[np.int64]
    """(n,) nodes of each."""
    ref: NDArray[np.int64]
    """(k,) numbers of the nodes."""
    lon: NDArray[np.float64]
    """(k,) degrees; NaN where the extract lacks the node."""
    lat: NDArray[np.float64]
    barriers: tuple[tuple[int, Mapping[str, str]], ...]
    """Number of the node, and its tags."""


class RoadWriter(Sees):
    """Takes the roads of an extract, wherever they lie."""

    node_keys = ("barrier",)
    way_keys = ("highway",)
    needs_nodes = True

    def __init__(self, folder: Path) -> None:
        import pyarrow as pa

        from resupply.places.index_write import SpatialColumns

        refs, steps = pa.list_(pa.int64()), pa.list_(pa.int32())
        ways = [
            ("id", pa.int64()),
            ("tags", pa.string()),
            ("ref", refs),
            ("x", steps),
            ("y", steps),
        ]
        self._folder = folder
        self._ways: SpatialColumns = SpatialColumns(pa.schema(ways), folder / "roads.runs")
        nodes = pa.schema([("id", pa.int64()), ("tags", pa.string())])
        self._barriers: SpatialColumns = SpatialColumns(nodes, folder / "barriers.runs")
        self._start()
        self._gates: list[tuple[int, str, float, float]] = []
        self._roads: dict[int, tuple[Mapping[str, str], str]] = {}
        self._texts: dict[tuple[str | None, ...], str] = {}

    def _start(self) -> None:
        self._id, self._nodes = array("q"), 0
        self._tags: list[str] = []
        self._refs: list[NDArray[np.int64]] = []
        self._spots: list[NDArray[np.float64]] = []

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it is a road that may be ridden, or may shut one."""
        kind = tags.get("highway")
        if kind in SELDOM_RIDDEN:
            return any(tags.get(key) is not None for key in _OPENS)
        return kind in RIDDEN or tags.get("barrier") is not None

    def see(self, feature: Feature, /) -> None:
        """Take a road or a barrier."""
        tags = feature.tags
        kind, _, number = feature.id.partition("/")
        if kind == "node":
            if "barrier" in tags and len(feature.lonlat):
                lon, lat = feature.lonlat[0].tolist()
                self._gates.append((int(number), self._text(tags, _BARRIER_KEYS), lon, lat))
                if len(self._gates) >= _WAYS_AT_ONCE:
                    self._put_barriers()
        elif kind == "way" and "highway" in tags and feature.refs is not None:
            spots = feature.spots
            if spots is None or len(spots) < 2 or not self.wants(tags):
                return
            if not len(feature.lonlat):
                return
            self._id.append(int(number))
            self._nodes += len(spots)
            self._refs.append(feature.refs)
            self._spots.append(spots)
            self._tags.append(self._road_text(tags))
            if len(self._id) >= _WAYS_AT_ONCE or self._nodes >= _NODES_AT_ONCE:
                self._put_ways()

    def _road_text(self, tags: Mapping[str, str]) -> str:
        """Tags that matter of a road; many roads come with the very same object."""
        known = self._roads.get(id(tags))
        if known is None:
            if len(self._roads) >= _WAYS_AT_ONCE:
                self._roads.clear()
            # Kept with its text: while it is here no other object has its number.
            known = self._roads[id(tags)] = tags, self._text(tags, ROAD_KEYS)
        return known[1]

    def _text(self, tags: Mapping[str, str], keys: tuple[str, ...]) -> str:
        """Tags that matter, as JSON; a country knows a few hundred sets of them."""
        values = tuple(tags.get(key) for key in keys)
        text = self._texts.get(values)
        if text is None:
            kept = {
                key: value[:_MOST_VALUE]
                for key, value in zip(keys, values, strict=True)
                if value is not None
            }
            text = json.dumps(kept, ensure_ascii=True)
            # A map made to have many different ones takes no memory by it.
            if len(self._texts) < _WAYS_AT_ONCE:
                self._texts[values] = text
        return text

    def _put_ways(self) -> None:
        import pyarrow as pa

        if not self._id:
            return
        count = np.array([len(spots) for spots in self._spots], np.int64)
        start = np.cumsum(count) - count
        spots = np.concatenate(self._spots)
        known = np.isfinite(spots[:, 0])
        steps = np.where(known[:, None], np.round(spots * STEPS), _NOWHERE).astype(np.int32)
        low = np.minimum.reduceat(np.where(known[:, None], spots, np.inf), start)
        high = np.maximum.reduceat(np.where(known[:, None], spots, -np.inf), start)
        edges = number_column(np.append(start, len(steps)).astype(np.int32))
        flat: list[NDArray[Any]] = [np.concatenate(self._refs), steps[:, 0], steps[:, 1]]
        listed = [pa.ListArray.from_arrays(edges, number_column(one)) for one in flat]
        columns = [number_column(np.array(self._id, np.int64)), text_column(self._tags), *listed]
        self._ways.add_columns(columns, np.hstack([low, high]))
        self._start()

    def _put_barriers(self) -> None:
        if not self._gates:
            return
        ids, texts, lon, lat = zip(*self._gates, strict=True)
        columns = [number_column(np.array(ids, np.int64)), text_column(texts)]
        self._barriers.add_columns(columns, np.array([lon, lat, lon, lat]).T)
        self._gates = []

    def finish(self) -> None:
        """Write both files."""
        self._put_ways()
        self._put_barriers()
        about = {"schema": SCHEMA}
        packed = [f"{name}.list.element" for name in ("ref", "x", "y")]
        encoding = dict.fromkeys(("id", *packed), "DELTA_BINARY_PACKED")
        options = {"use_dictionary": ["tags"], "column_encoding": encoding}
        self._ways.merge(self._folder / ROADS, about, **options)
        self._barriers.merge(
            self._folder / BARRIERS,
            about,
            use_dictionary=["tags"],
            column_encoding={"id": "DELTA_BINARY_PACKED"},
        )


def read_roads(opened: Any, folder: Path, touched: Any, reach: Reach) -> RoadRows:
    """Read the roads and barriers of an index that have a node within reach.

    Parameters
    ----------
    opened, touched
        Open a file of the index, and give its row groups that may hold something within reach.
    """
    with opened(folder / ROADS, ("tags",)) as file:
        table = file.read_row_groups(touched(file, reach), columns=["id", "tags", "ref", "x", "y"])
    way_id = numbers(table.column("id"), np.int64)
    count, ref = lists(table.column("ref"), np.int64)
    x, y = (lists(table.column(name), np.int32)[1] for name in ("x", "y"))
    if not len(ref) == len(x) == len(y) or (len(count) and count.min() < 1):
        raise ValueError("columns of different length")
    lon, lat = (np.where(axis == _NOWHERE, np.nan, axis / STEPS) for axis in (x, y))
    known = x != _NOWHERE
    if not on_earth(lon[known], lat[known]).all():
        raise ValueError("no place on Earth")
    near = np.zeros(len(ref), bool)
    near[known] = reach.holds(to_ecef_m(lon[known], lat[known]))
    start = np.cumsum(count) - count
    keep = np.logical_or.reduceat(near, start) if len(start) else np.zeros(0, bool)
    # The order of ways decides that of the edges; in an extract it is by number.
    order = np.argsort(way_id[keep], kind="stable")
    texts = coded_texts(table.column("tags"), keep)
    every = {text: number for number, text in enumerate(dict.fromkeys(texts))}
    chosen = np.flatnonzero(keep)[order]
    size = count[chosen]
    first = np.repeat(start[chosen] - (np.cumsum(size) - size), size)
    nodes = first + np.arange(len(first))
    return RoadRows(
        way_id=way_id[chosen],
        tags=tuple(_tags(text) for text in every),
        tags_ix=np.array([every[text] for text in texts], np.int64)[order],
        count=size,
        ref=ref[nodes],
        lon=lon[nodes],
        lat=lat[nodes],
        barriers=_barriers(opened, folder, touched, reach),
    )


def _barriers(
    opened: Any, folder: Path, touched: Any, reach: Reach
) -> tuple[tuple[int, Mapping[str, str]], ...]:
    with opened(folder / BARRIERS, ("tags",)) as file:
        table = file.read_row_groups(touched(file, reach), columns=["id", "tags"])
    ids = numbers(table.column("id"), np.int64).tolist()
    texts = coded_texts(table.column("tags"), np.ones(len(ids), bool))
    sets = {text: _tags(text) for text in set(texts)}
    return tuple((number, sets[text]) for number, text in zip(ids, texts, strict=True))


def _tags(text: str) -> Mapping[str, str]:
    tags = json.loads(text)
    if not isinstance(tags, dict) or not all(isinstance(one, str) for one in tags.values()):
        raise TypeError(text)
    return tags
