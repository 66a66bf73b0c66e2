"""What an OpenStreetMap file is and holds: its header, its features, relations with members.

In: a file (.osm.pbf, .osm, .osm.bz2, .osm.gz). Out: the file's own header, checked; `Feature`s.
`resupply.places.osm_scan` reads it.
"""

from __future__ import annotations

import bz2
import gzip
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple, Protocol

import numpy as np

from resupply.common.errors import ExtractError
from resupply.common.files import is_endless
from resupply.places.osm_blobs import first_blobs

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path
    from typing import Self

    import osmium
    from numpy.typing import NDArray

__all__ = [
    "LARGE_FILE_BYTES", "Box", "Feature", "OsmHeader", "Relation", "TagLookup",
    "broken", "check_kind", "full_line", "known_line", "known_spots", "line_of", "member_lines",
    "member_ways", "point", "read_header",
    "with_members",
]  # fmt: skip

LARGE_FILE_BYTES: Final = 64_000_000
"""Above it the places of nodes go to disk: about 8 million, 130 MB in memory."""
_KINDS: Final = (".pbf", ".osm", ".osm.bz2", ".osm.gz")
# Maps as XML shrink to a tenth or a twentieth; what grows more than this was made to.
_MOST_GROWTH: Final = 100
# XML of which so much is one tag, or blank, is no map; osmium would read it again and again.
_PIECE_BYTES: Final = 1 << 20
_MOST_ID: Final = 1 << 40
"""Numbers in use have 34 bits; a filter by number takes memory for the range they span."""

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
    is_sorted: bool = False
    """Whether it is a .osm.pbf that says that it is in the usual order."""


class Feature(NamedTuple):
    """One node, way or relation. A country has millions: a tuple is made in a third of the time."""

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
    refs: NDArray[np.int64] | None = None
    """(n,) numbers of a way's nodes, as far as they matter near the route."""
    spots: NDArray[np.float64] | None = None
    """(n, 2) their places, degrees; NaN where the file lacks the node."""


def read_header(path: Path) -> OsmHeader:
    """Read the header, and see that there is something behind it.

    Raises
    ------
    ExtractError
        The file is missing, empty, of an unknown kind or broken.
    """
    import osmium

    check_kind(path)
    if not path.name.lower().endswith(".pbf"):
        _check_xml(path)
    try:
        with osmium.io.Reader(str(path), osmium.osm.NOTHING) as reader:
            header = reader.header()
        if not _has_object(path):
            raise ExtractError(
                "the map extract has nothing in it", where=str(path), mend="Download it again"
            )
    except (RuntimeError, ValueError, osmium.InvalidLocationError) as error:
        raise broken(path, error) from error
    box = header.box()
    corners = None
    if box.valid():
        low, high = box.bottom_left, box.top_right
        corners = (low.lon, low.lat, high.lon, high.lat)
    stamp = header.get("osmosis_replication_timestamp", "") or header.get("timestamp", "")
    is_pbf = path.name.lower().endswith(".pbf")
    return OsmHeader(corners, stamp or None, is_pbf and header.get("sorting") == "Type_then_ID")


def _has_object(path: Path) -> bool:
    """Whether there is anything behind the header."""
    import osmium

    if not path.name.lower().endswith(".pbf"):
        return next(iter(osmium.FileProcessor(str(path))), None) is not None
    # A reader of the whole file decodes far ahead, all of a country; the first blocks are enough.
    with path.open("rb") as stream:
        start = first_blobs(stream)
    return next(iter(osmium.FileProcessor(osmium.io.FileBuffer(start, "pbf"))), None) is not None


@dataclass(frozen=True, slots=True)
class Relation:
    """A relation whose members are still to be found."""

    id: int
    tags: Mapping[str, str]
    members: tuple[tuple[str, int, str], ...]
    """Kind (n, w or r), number and role."""

    @classmethod
    def of(cls, item: Any, tags: Mapping[str, str]) -> Self:
        """Copy a relation out of the file."""
        return cls(item.id, tags, tuple((one.type, one.ref, one.role) for one in item.members))

    def feature(
        self,
        lines: Mapping[int, NDArray[np.float64]],
        located: Callable[[int], NDArray[np.float64]],
    ) -> Feature:
        """Make a feature of it: a site of several things falls through every area reader.

        Parameters
        ----------
        lines
            Points of the ways known, (k, 2) degrees.
        located
            Place of a node, (1, 2) degrees, (0, 2) where it is not known.
        """
        parts = [lines[ref] for kind, ref, _ in self.members if kind == "w" and ref in lines]
        spots = [located(ref) for kind, ref, _ in self.members if kind == "n"]
        is_area = self.tags.get("type") in ("multipolygon", "boundary")
        return Feature(
            f"relation/{self.id}",
            self.tags,
            np.concatenate([np.zeros((0, 2)), *parts, *spots]),
            rings=tuple(line for line in parts if len(line) > 1) if is_area else (),
        )


def with_members(
    relations: Sequence[Relation],
    lines: Mapping[int, NDArray[np.float64]],
    locations: osmium.index.LocationTable,
) -> Iterator[Feature]:
    """Relations as features, made of the lines of their ways, (k, 2) degrees, and of nodes."""
    for relation in relations:
        yield relation.feature(lines, lambda ref: _located(locations, ref))


def member_ways(relations: Sequence[Relation]) -> set[int]:
    """Numbers of all ways that are members; such as no map has are left out."""
    refs = {ref for relation in relations for kind, ref, _ in relation.members if kind == "w"}
    return {ref for ref in refs if 0 < ref <= _MOST_ID}


def member_lines(
    path: Path, wanted: set[int], locations: osmium.index.LocationTable
) -> dict[int, NDArray[np.float64]]:
    """Coordinates of ways by their numbers, read in one more pass."""
    import osmium

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


def known_spots(way: Feature) -> NDArray[np.float64]:
    """Places of all nodes of a way that are known, (k, 2) degrees."""
    return way.lonlat if way.spots is None else way.spots[np.isfinite(way.spots[:, 0])]


def _located(locations: osmium.index.LocationTable, ref: int) -> NDArray[np.float64]:
    try:
        # The table knows positive numbers only; an editor gives unsaved nodes negative ones.
        return point(locations.get(ref)) if ref > 0 else np.zeros((0, 2))
    except KeyError:
        return np.zeros((0, 2))


def point(location: osmium.osm.Location) -> NDArray[np.float64]:
    """Place of a node, (1, 2) degrees; (0, 2) where the file doesn't say."""
    return np.array([[location.lon, location.lat]]) if location.valid() else np.zeros((0, 2))


def line_of(way: osmium.osm.Way, factory: osmium.geom.WKBFactory) -> NDArray[np.float64]:
    """Coordinates of a way; nodes missing from a clipped file are left out."""
    import osmium

    try:
        # Little-endian WKB: byte order, type and count take 9 bytes, then pairs of doubles.
        raw = bytes.fromhex(factory.create_linestring(way))
        return np.frombuffer(raw, dtype="<f8", offset=9).reshape(-1, 2)
    except (osmium.InvalidLocationError, RuntimeError):
        return np.concatenate([np.zeros((0, 2)), *(point(node.location) for node in way.nodes)])


def known_line(spots: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points of a line that are known, (k, 2) degrees; where all are, each counts once in a row."""
    known = np.isfinite(spots[:, 0])
    if not known.all():
        return spots[known]
    fresh = np.ones(len(spots), bool)
    fresh[1:] = (spots[1:] != spots[:-1]).any(axis=1)
    return spots if fresh.all() or fresh.sum() < 2 else spots[fresh]


def full_line(
    way: osmium.osm.Way, factory: osmium.geom.WKBFactory
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points of a way that are known, (k, 2) degrees, and of all its nodes, NaN if not known."""
    line = line_of(way, factory)
    if len(line) == len(way.nodes):
        return line, line
    nowhere = np.full((1, 2), np.nan)
    spots = [point(node.location) if node.location.valid() else nowhere for node in way.nodes]
    return line, np.concatenate([np.zeros((0, 2)), *spots])


def check_kind(path: Path) -> None:
    """Refuse what is no map extract by its name, or empty.

    Raises
    ------
    ExtractError
        It is one of these.
    """
    if not path.is_file():
        what = "is a folder, not a map extract" if path.is_dir() else "there is no such file"
        if path.exists() and is_endless(path):
            what = "is no file but a pipe or a device"
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
        raise broken(path, error) from error


def broken(path: Path, error: Exception) -> ExtractError:
    """Give the error of a file that cannot be read to its end."""
    return ExtractError(
        f"the map extract is broken or cut off ({error})",
        where=str(path),
        mend="Download it again",
    )
