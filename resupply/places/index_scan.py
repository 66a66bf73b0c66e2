"""One pass over an extract, whatever its size: places, roads to judge coverage by, light map.

In: a file (.osm.pbf, .osm, .osm.bz2, .osm.gz). Out: `Feature`s of places and of the light map;
the lines of all roads go to a callback in batches. Nothing is kept but node locations, which go
to disk for large files.
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.places.coverage import NO_ROAD
from resupply.places.osm_file import (
    LARGE_FILE_BYTES,
    Feature,
    Relation,
    broken,
    check_kind,
    line_of,
    point,
    with_members,
)
from resupply.places.tags import RULES, classify, rule_keys

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from numpy.typing import NDArray

__all__ = ["LAYERS", "NEVER", "RoadBatch", "layer_of", "scan"]

NEVER: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
"""Time of the last edit where none is known."""
LAYERS: Final = (
    "motorway", "trunk", "primary", "secondary", "tertiary", "river", "coastline", "water",
    "city", "town", "village", "hamlet",
)  # fmt: skip
"""Layers of the light map, as its reader knows them."""
# The first five layers are roads, the last four towns.
_DRAWN_ROADS: Final = frozenset(LAYERS[:5])
_TOWNS: Final = frozenset(LAYERS[8:])
_ROADS_AT_ONCE: Final = 4_096
"""Handed on at once: our choice; bounds the memory."""
# Little-endian WKB: byte order, type and count take 9 bytes, then pairs of doubles.
_WKB_HEAD: Final = 9
# 100,000 member ways of lakes take some 80 MB.
_MEMBERS_AT_ONCE: Final = 100_000


class RoadBatch:
    """Gathers the lines of roads and hands them on many at once, for speed."""

    def __init__(self, take: Callable[[NDArray[np.float64], NDArray[np.int64]], None]) -> None:
        self._take = take
        self._lines: list[str] = []
        self._odd: list[NDArray[np.float64]] = []
        self.newest = NEVER
        """Newest edit of anything looked at, where asked for."""

    def add(self, wkb_hex: str) -> None:
        """Note a road whose points are all known."""
        self._lines.append(wkb_hex)
        if len(self._lines) >= _ROADS_AT_ONCE:
            self.flush()

    def add_points(self, lonlat: NDArray[np.float64]) -> None:
        """Note a road some of whose points may be missing, (k, 2) degrees."""
        if len(lonlat) > 1:
            self._odd.append(lonlat)

    def flush(self) -> None:
        """Hand on what is left: points (n, 2), degrees, and the number of each one's road."""
        if not self._lines and not self._odd:
            return
        lonlat, counts = _decoded(self._lines)
        counts = np.concatenate([counts, [len(line) for line in self._odd]]).astype(np.int64)
        self._take(np.concatenate([lonlat, *self._odd]), np.repeat(np.arange(len(counts)), counts))
        self._lines, self._odd = [], []


def _decoded(wkb_hex: list[str]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Points (n, 2) of many lines at once, and how many each has: ten times a reader's speed."""
    raw = np.frombuffer(bytes.fromhex("".join(wkb_hex)), dtype=np.uint8)
    size = np.array([len(text) // 2 for text in wkb_hex], dtype=np.int64)
    is_point = np.ones(raw.size, dtype=bool)
    start = np.cumsum(size) - size
    is_point[start[:, None] + np.arange(_WKB_HEAD)] = False
    return raw[is_point].view("<f8").reshape(-1, 2), (size - _WKB_HEAD) // 16


def layer_of(feature: Feature) -> str:
    """Layer of the light map a feature belongs to, "" if none."""
    tags = feature.tags
    if feature.id.startswith("node/"):
        kind = tags.get("place", "")
        return kind if kind in _TOWNS and tags.get("name") else ""
    if tags.get("natural") in ("water", "coastline"):
        return tags["natural"]
    kind = tags.get("highway", tags.get("waterway", ""))
    return kind if kind in _DRAWN_ROADS or kind == "river" else ""


def scan(
    path: Path,
    *,
    roads: RoadBatch | None = None,
    locations: str | None = None,
    with_timestamps: bool = False,
) -> Iterator[Feature]:
    """Yield every feature that may be a place or is part of the light map.

    Parameters
    ----------
    roads
        Given the line of every road; without it places alone are yielded.
    locations
        Where node locations are kept, in the words of libosmium; by the size of the file if
        not given.
    with_timestamps
        Note the newest edit in `roads` too.

    Raises
    ------
    ExtractError
        The file is missing, of an unknown kind, broken or cut off. What was yielded before
        must not be taken for the whole.
    """
    import osmium

    check_kind(path)
    if locations is None:
        small = path.stat().st_size < LARGE_FILE_BYTES
        locations = "flex_mem" if small else "sparse_file_array"
    try:
        yield from _items(path, roads, locations, with_timestamps)
        if roads is not None:
            roads.flush()
    except (RuntimeError, ValueError, osmium.InvalidLocationError) as error:
        raise broken(path, error) from error


def _items(
    path: Path, roads: RoadBatch | None, locations: str, with_timestamps: bool
) -> Iterator[Feature]:
    import osmium

    osm, key_filter = osmium.osm, osmium.filter.KeyFilter
    keys = rule_keys()
    processor = osmium.FileProcessor(str(path)).with_locations(locations)
    processor.with_filter(osmium.filter.EntityFilter(osm.NODE | osm.WAY | osm.RELATION))
    node_keys = keys if roads is None else (*keys, "place")
    way_keys = keys if roads is None else (*keys, "highway", "waterway")
    for kinds, wanted in ((osm.NODE, node_keys), (osm.WAY, way_keys), (osm.RELATION, keys)):
        only = key_filter(*wanted)
        only.enable_for(kinds)
        processor.with_filter(only)
    factory = osmium.geom.WKBFactory()
    node_type, way_type = osm.Node, osm.Way
    waiting: list[Relation] = []
    members = 0
    # Entities of other kinds don't pass the filter.
    item: Any
    for item in processor:
        if with_timestamps and roads is not None:
            roads.newest = max(roads.newest, item.timestamp)
        find = item.tags.get
        if isinstance(item, node_type):
            if _may_supply(find) or (roads is not None and find("place") in _TOWNS):
                yield Feature(f"node/{item.id}", dict(item.tags), point(item.location))
        elif isinstance(item, way_type):
            supplies, is_road, drawn = _may_supply(find), False, {}
            if roads is not None:
                highway = find("highway")
                is_road = highway is not None and highway not in NO_ROAD
                drawn = {} if supplies else _drawn_tags(find, highway)
            if not (is_road or supplies or drawn):
                continue
            try:
                wkb_hex = factory.create_linestring(item)
                known = True
            except (osmium.InvalidLocationError, RuntimeError):
                wkb_hex, known = "", False
            if is_road and roads is not None:
                if known:
                    roads.add(wkb_hex)
                else:
                    roads.add_points(line_of(item, factory))
            if supplies or drawn:
                yield Feature(
                    f"way/{item.id}",
                    dict(item.tags) if supplies else drawn,
                    _decoded([wkb_hex])[0] if known else line_of(item, factory),
                    item.is_closed(),
                )
        else:
            tags = dict(item.tags)
            lake = tags.get("natural") == "water" and tags.get("type") == "multipolygon"
            if classify(tags) is not None or (roads is not None and lake):
                parts = tuple((one.type, one.ref, one.role) for one in item.members)
                waiting.append(Relation(item.id, tags, parts))
                members += len(parts)
            if members > _MEMBERS_AT_ONCE:
                yield from _relations(path, waiting, processor, roads)
                waiting, members = [], 0
    yield from _relations(path, waiting, processor, roads)


def _relations(
    path: Path, waiting: list[Relation], processor: Any, roads: RoadBatch | None
) -> Iterator[Feature]:
    if not waiting or processor.node_location_storage is None:
        return
    for feature in with_members(path, waiting, processor.node_location_storage):
        if roads is not None and feature.tags.get("highway", "no") not in NO_ROAD:
            roads.add_points(feature.lonlat)
        yield feature


def _drawn_tags(find: Callable[[str], str | None], highway: str | None) -> dict[str, str]:
    """Give the one tag for which a way is drawn; none if it isn't."""
    natural = find("natural")
    if natural in ("water", "coastline"):
        return {"natural": str(natural)}
    if highway is not None:
        return {"highway": highway} if highway in _DRAWN_ROADS else {}
    return {"waterway": "river"} if find("waterway") == "river" else {}


def _may_supply(find: Callable[[str], str | None], keys: tuple[str, ...] = rule_keys()) -> bool:
    """Whether any row of the table fits; a first look that copies no tags."""
    for key in keys:
        value = find(key)
        if value is not None and _fits(key, value):
            return True
    return False


@lru_cache(maxsize=4096)
def _fits(key: str, value: str) -> bool:
    parts = {part.strip().lower() for part in value.split(";")}
    return any(rule.key == key and rule.value in parts for rule in RULES)
