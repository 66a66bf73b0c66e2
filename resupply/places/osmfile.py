"""Stream the interesting features of an OpenStreetMap file, once for every use.

In: a file (.osm.pbf, .osm, .osm.bz2, .osm.gz). Out: `Feature`s with their coordinates, and the
file's own header. Nothing is kept but node locations, which go to disk for large files.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from resupply.errors import ExtractError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    import osmium
    from numpy.typing import NDArray

__all__ = ["Feature", "OsmHeader", "read_features", "read_header"]

# About 8 million nodes, 130 MB in memory.
_LARGE_FILE_BYTES = 64_000_000
_KINDS = (".osm.pbf", ".pbf", ".osm", ".osm.bz2", ".osm.gz")


@dataclass(frozen=True, slots=True)
class OsmHeader:
    """What a file says about itself."""

    box: tuple[float, float, float, float] | None
    """West, south, east, north, degrees; None where it has none."""
    timestamp: str | None
    """ISO date and time (UTC) of the data; None where it has none."""


@dataclass(frozen=True, slots=True, eq=False)
class Feature:
    """One node, way or relation."""

    id: str
    """`node/…`, `way/…` or `relation/…`."""
    tags: Mapping[str, str]
    lonlat: NDArray[np.float64]
    """(k, 2) degrees; nodes have one row, relations those of all known members."""
    closed: bool = False
    """A way that ends where it starts."""
    rings: tuple[NDArray[np.float64], ...] = field(default=())
    """Lines of the outer members of a multipolygon, each (k, 2)."""
    timestamp: str | None = None
    """ISO date and time (UTC) of its last edit, asked for only where the header has none."""


def read_header(path: Path) -> OsmHeader:
    """Header of a file.

    Raises
    ------
    ExtractError
        The file is missing, of an unknown kind or broken.
    """
    import osmium

    _check_kind(path)
    try:
        with osmium.io.Reader(str(path), osmium.osm.NOTHING) as reader:
            header = reader.header()
            box = header.box()
            stamp = header.get("osmosis_replication_timestamp", "") or header.get("timestamp", "")
    except (RuntimeError, ValueError) as error:
        raise _broken(path, error) from error
    corners = None
    if box.valid():
        low, high = box.bottom_left, box.top_right
        corners = (low.lon, low.lat, high.lon, high.lat)
    return OsmHeader(corners, stamp or None)


def read_features(
    path: Path,
    *,
    keys: Sequence[str],
    relation_keys: Sequence[str],
    with_timestamps: bool = False,
) -> Iterator[Feature]:
    """Yield every node and way that carries one of `keys`, then such relations.

    Parameters
    ----------
    keys
        Tag keys of the nodes and ways wanted.
    relation_keys
        Tag keys of the relations wanted; their members' locations are gathered.
    with_timestamps
        Give each feature the time of its last edit (slower).

    Raises
    ------
    ExtractError
        The file is missing, of an unknown kind, broken or cut off. What was yielded before
        must not be taken for the whole.
    """
    import osmium

    _check_kind(path)
    storage = "flex_mem" if path.stat().st_size < _LARGE_FILE_BYTES else "sparse_file_array"
    locations, factory = osmium.index.create_map(storage), osmium.geom.WKBFactory()
    try:
        relations = list(_relations(path, relation_keys))
        processor = osmium.FileProcessor(str(path), osmium.osm.NODE | osmium.osm.WAY)
        processor.with_locations(locations).with_filter(osmium.filter.KeyFilter(*keys))
        for item in processor:
            stamp = item.timestamp.isoformat() if with_timestamps else None
            if item.is_node():
                if item.location.valid():
                    here = np.array([[item.location.lon, item.location.lat]])
                    yield Feature(f"node/{item.id}", _tags(item), here, timestamp=stamp)
            else:
                line = _line(item, factory)
                if len(line):
                    closed = bool(item.is_closed())
                    yield Feature(f"way/{item.id}", _tags(item), line, closed, timestamp=stamp)
        yield from _with_members(path, relations, locations)
    except (RuntimeError, ValueError) as error:
        raise _broken(path, error) from error


@dataclass(frozen=True, slots=True)
class _Relation:
    id: int
    tags: Mapping[str, str]
    members: tuple[tuple[str, int, str], ...]


def _relations(path: Path, keys: Sequence[str]) -> Iterator[_Relation]:
    import osmium

    processor = osmium.FileProcessor(str(path), osmium.osm.RELATION)
    for item in processor.with_filter(osmium.filter.KeyFilter(*keys)):
        members = tuple((member.type, member.ref, member.role) for member in item.members)
        yield _Relation(item.id, _tags(item), members)


def _with_members(
    path: Path, relations: Sequence[_Relation], locations: osmium.index.LocationTable
) -> Iterator[Feature]:
    """Relations as features: a site of several things falls through every area reader."""
    import osmium

    wanted = {ref for relation in relations for kind, ref, _ in relation.members if kind == "w"}
    lines: dict[int, NDArray[np.float64]] = {}
    if wanted:
        processor = osmium.FileProcessor(str(path), osmium.osm.WAY)
        for way in processor.with_filter(osmium.filter.IdFilter(wanted)):
            found = [_located(locations, node.ref) for node in way.nodes]
            lines[way.id] = np.array([point for point in found if point]).reshape(-1, 2)
    for relation in relations:
        outer, parts = [], []
        for kind, ref, role in relation.members:
            if kind == "w" and ref in lines:
                parts.append(lines[ref])
                if role != "inner":
                    outer.append(lines[ref])
            elif kind == "n" and (point := _located(locations, ref)):
                parts.append(np.array([point]))
        lonlat = np.concatenate(parts) if parts else np.zeros((0, 2))
        is_area = relation.tags.get("type") in ("multipolygon", "boundary")
        yield Feature(
            f"relation/{relation.id}",
            relation.tags,
            lonlat,
            rings=tuple(line for line in outer if len(line) > 1) if is_area else (),
        )


def _located(locations: osmium.index.LocationTable, ref: int) -> tuple[float, float] | None:
    try:
        found = locations.get(ref)
    except KeyError:
        return None
    return (found.lon, found.lat) if found.valid() else None


def _line(way: osmium.osm.Way, factory: osmium.geom.WKBFactory) -> NDArray[np.float64]:
    """Coordinates of a way; nodes missing from a clipped file are left out."""
    import osmium

    try:
        # Little-endian WKB: byte order, type and count take 9 bytes, then pairs of doubles.
        raw = bytes.fromhex(factory.create_linestring(way))
        return np.frombuffer(raw, dtype="<f8", offset=9).reshape(-1, 2)
    except (osmium.InvalidLocationError, RuntimeError):
        pass
    points = [(node.location.lon, node.location.lat) for node in way.nodes if node.location.valid()]
    return np.array(points).reshape(-1, 2)


def _tags(item: osmium.osm.OSMObject) -> dict[str, str]:
    return {tag.k: tag.v for tag in item.tags}


def _check_kind(path: Path) -> None:
    if not path.is_file():
        what = "is a folder, not a map extract" if path.is_dir() else "there is no such file"
        raise ExtractError(what, where=str(path), mend="Give the path of an .osm.pbf file")
    if not path.name.lower().endswith(_KINDS):
        raise ExtractError(
            "not a kind of map extract we can read",
            where=str(path),
            mend="Use .osm.pbf, .osm, .osm.bz2 or .osm.gz",
        )
    if path.stat().st_size == 0:
        raise ExtractError("the file is empty", where=str(path), mend="Download it again")


def _broken(path: Path, error: Exception) -> ExtractError:
    return ExtractError(
        f"the map extract is broken or cut off ({error})",
        where=str(path),
        mend="Download it again",
    )
