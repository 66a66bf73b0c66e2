"""Stream the interesting features of an OpenStreetMap file, once for every use.

In: a file (.osm.pbf, .osm, .osm.bz2, .osm.gz). Out: `Feature`s with their coordinates, and the
file's own header. Nothing is kept but node locations, which go to disk for large files.
"""

from __future__ import annotations

import bz2
import gzip
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from resupply.common.errors import ExtractError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    import osmium
    from numpy.typing import NDArray

__all__ = ["Box", "Feature", "OsmHeader", "TagLookup", "read_features", "read_header"]

# About 8 million nodes, 130 MB in memory.
_LARGE_FILE_BYTES: Final = 64_000_000
_KINDS: Final = (".pbf", ".osm", ".osm.bz2", ".osm.gz")
# Maps as XML shrink to a tenth or a twentieth; what grows more than this was made to.
_MOST_GROWTH: Final = 100
# XML of which so much is one tag, or blank, is no map; osmium would read it again and again.
_PIECE_BYTES: Final = 1 << 20
# Numbers in use have 34 bits; a filter by number takes a bit of memory for each up to the largest.
_MOST_ID: Final = 1 << 40

Box = tuple[float, float, float, float]
"""West, south, east, north, degrees."""


class TagLookup(Protocol):
    """Tags of a feature not yet copied out of the file."""

    def get(self, key: str, /) -> str | None:
        """Value of a key, None where it has none."""


@dataclass(frozen=True, slots=True)
class OsmHeader:
    """What a file says about itself."""

    box: Box | None
    """None where it has none."""
    timestamp: str | None
    """ISO date and time (UTC) of the data; None where it has none."""


@dataclass(frozen=True, slots=True, eq=False)
class Feature:
    """One node, way or relation."""

    id: str
    """`node/…`, `way/…` or `relation/…`."""
    tags: Mapping[str, str]
    lonlat: NDArray[np.float64]
    """(k, 2) degrees: one row for a node, all known members for a relation, none if the
    file doesn't say where it is."""
    closed: bool = False
    """A way that ends where it starts."""
    rings: tuple[NDArray[np.float64], ...] = ()
    """Lines of the outer and inner members of a multipolygon, each (k, 2)."""
    timestamp: str | None = None
    """ISO date and time (UTC) of its last edit, where asked for."""


def read_header(path: Path) -> OsmHeader:
    """Read the header, and see that there is something behind it.

    Raises
    ------
    ExtractError
        The file is missing, empty, of an unknown kind or broken.
    """
    import osmium

    _check_kind(path)
    if not path.name.lower().endswith(".pbf"):
        _check_xml(path)
    try:
        with osmium.io.Reader(str(path), osmium.osm.NOTHING) as reader:
            header = reader.header()
        if next(iter(osmium.FileProcessor(str(path))), None) is None:
            raise ExtractError(
                "the map extract has nothing in it", where=str(path), mend="Download it again"
            )
    except (RuntimeError, ValueError, osmium.InvalidLocationError) as error:
        raise _broken(path, error) from error
    box = header.box()
    corners = None
    if box.valid():
        low, high = box.bottom_left, box.top_right
        corners = (low.lon, low.lat, high.lon, high.lat)
    stamp = header.get("osmosis_replication_timestamp", "") or header.get("timestamp", "")
    return OsmHeader(corners, stamp or None)


def read_features(
    path: Path,
    *,
    keys: Sequence[str],
    near: Callable[[Box, TagLookup], bool],
    wants_relation: Callable[[Mapping[str, str]], bool],
    with_timestamps: bool = False,
) -> Iterator[Feature]:
    """Yield the nodes and ways that carry one of `keys`, then the relations wanted.

    Parameters
    ----------
    keys
        Tag keys of the nodes and ways wanted.
    near
        Whether a node or way in such a box, with such tags, may be of interest; others are
        skipped. Those of unknown place are yielded.
    wants_relation
        Whether a relation with such tags is wanted; its members' locations are gathered.
    with_timestamps
        Give nodes and ways the time of their last edit (slower).

    Raises
    ------
    ExtractError
        The file is missing, of an unknown kind, broken or cut off. What was yielded before
        must not be taken for the whole.
    """
    import osmium

    _check_kind(path)
    storage = "flex_mem" if path.stat().st_size < _LARGE_FILE_BYTES else "sparse_file_array"
    factory = osmium.geom.WKBFactory()
    try:
        relations = list(_relations(path, keys, wants_relation))
        processor = osmium.FileProcessor(str(path), osmium.osm.NODE | osmium.osm.WAY)
        processor.with_locations(storage).with_filter(osmium.filter.KeyFilter(*keys))
        for item in processor:
            closed = False
            if isinstance(item, osmium.osm.Node):
                name, lonlat = "node", _point(item.location)
            elif isinstance(item, osmium.osm.Way):
                name, lonlat, closed = "way", _line(item, factory), item.is_closed()
            else:
                continue
            if len(lonlat) and not near(_box(lonlat), item.tags):
                continue
            stamp = item.timestamp.isoformat() if with_timestamps else None
            yield Feature(
                f"{name}/{item.id}",
                dict(item.tags),
                lonlat,
                closed,
                timestamp=stamp,
            )
        if relations and processor.node_location_storage is not None:
            yield from _with_members(path, relations, processor.node_location_storage)
    except (RuntimeError, ValueError, osmium.InvalidLocationError) as error:
        raise _broken(path, error) from error


@dataclass(frozen=True, slots=True)
class _Relation:
    id: int
    tags: Mapping[str, str]
    members: tuple[tuple[str, int, str], ...]


def _relations(
    path: Path, keys: Sequence[str], wanted: Callable[[Mapping[str, str]], bool]
) -> Iterator[_Relation]:
    import osmium

    processor = osmium.FileProcessor(str(path), osmium.osm.RELATION)
    for item in processor.with_filter(osmium.filter.KeyFilter(*keys)):
        if isinstance(item, osmium.osm.Relation):
            tags = {tag.k: tag.v for tag in item.tags}
            if wanted(tags):
                members = tuple((member.type, member.ref, member.role) for member in item.members)
                yield _Relation(item.id, tags, members)


def _with_members(
    path: Path, relations: Sequence[_Relation], locations: osmium.index.LocationTable
) -> Iterator[Feature]:
    """Relations as features: a site of several things falls through every area reader."""
    lines = _member_lines(path, relations, locations)
    for relation in relations:
        parts = [lines[ref] for kind, ref, _ in relation.members if kind == "w" and ref in lines]
        spots = [_located(locations, ref) for kind, ref, _ in relation.members if kind == "n"]
        is_area = relation.tags.get("type") in ("multipolygon", "boundary")
        yield Feature(
            f"relation/{relation.id}",
            relation.tags,
            np.concatenate([np.zeros((0, 2)), *parts, *spots]),
            rings=tuple(line for line in parts if len(line) > 1) if is_area else (),
        )


def _member_lines(
    path: Path, relations: Sequence[_Relation], locations: osmium.index.LocationTable
) -> dict[int, NDArray[np.float64]]:
    """Coordinates of all ways that are members, by way number."""
    import osmium

    refs = {ref for relation in relations for kind, ref, _ in relation.members if kind == "w"}
    wanted = {ref for ref in refs if 0 < ref <= _MOST_ID}
    if not wanted:
        return {}
    lines: dict[int, NDArray[np.float64]] = {}
    # The filter takes a bit for each number in use, about 170 MB for the whole planet's ways.
    processor = osmium.FileProcessor(str(path), osmium.osm.WAY)
    for way in processor.with_filter(osmium.filter.IdFilter(wanted)):
        if isinstance(way, osmium.osm.Way):
            spots = [_located(locations, node.ref) for node in way.nodes]
            lines[way.id] = np.concatenate([np.zeros((0, 2)), *spots])
    return lines


def _located(locations: osmium.index.LocationTable, ref: int) -> NDArray[np.float64]:
    try:
        # The table knows positive numbers only; an editor gives unsaved nodes negative ones.
        return _point(locations.get(ref)) if ref > 0 else np.zeros((0, 2))
    except KeyError:
        return np.zeros((0, 2))


def _point(location: osmium.osm.Location) -> NDArray[np.float64]:
    return np.array([[location.lon, location.lat]]) if location.valid() else np.zeros((0, 2))


def _box(lonlat: NDArray[np.float64]) -> Box:
    west, south = lonlat.min(axis=0).tolist()
    east, north = lonlat.max(axis=0).tolist()
    return west, south, east, north


def _line(way: osmium.osm.Way, factory: osmium.geom.WKBFactory) -> NDArray[np.float64]:
    """Coordinates of a way; nodes missing from a clipped file are left out."""
    import osmium

    try:
        # Little-endian WKB: byte order, type and count take 9 bytes, then pairs of doubles.
        raw = bytes.fromhex(factory.create_linestring(way))
        return np.frombuffer(raw, dtype="<f8", offset=9).reshape(-1, 2)
    except (osmium.InvalidLocationError, RuntimeError):
        return np.concatenate([np.zeros((0, 2)), *(_point(node.location) for node in way.nodes)])


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


def _check_xml(path: Path) -> None:
    """Refuse a file made to unpack without end, or to keep the reader busy with one tag.

    Raises
    ------
    ExtractError
        It is one, or cannot be unpacked.
    """
    openers: dict[str, Callable[..., Any]] = {".gz": gzip.open, ".bz2": bz2.open}
    most = max(_MOST_GROWTH * path.stat().st_size, 20 * _PIECE_BYTES)
    size = 0
    try:
        with openers.get(path.suffix.lower(), open)(path, "rb") as stream:
            while piece := stream.read(_PIECE_BYTES):
                size += len(piece)
                if size > most:
                    raise ExtractError(
                        f"unpacks to more than {_MOST_GROWTH} times its size, as no map does",
                        where=str(path),
                        mend="Download it again, best as .osm.pbf",
                    )
                if len(piece) == _PIECE_BYTES and b">" not in piece:
                    raise ExtractError(
                        "the map extract holds a tag longer than 1 MB",
                        where=str(path),
                        mend="Download it again",
                    )
    except (OSError, EOFError, zlib.error) as error:
        raise _broken(path, error) from error


def _broken(path: Path, error: Exception) -> ExtractError:
    return ExtractError(
        f"the map extract is broken or cut off ({error})",
        where=str(path),
        mend="Download it again",
    )
