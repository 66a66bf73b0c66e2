"""One pass over an extract for everybody who wants something of it near a route.

In: a file (.osm.pbf, .osm, .osm.bz2, .osm.gz) and its readers, each with its own surroundings and
tags. Out: every reader is shown the nodes, ways and relations that one of them wants, in the order
of the file. A large sorted file is read in parts (`resupply.places.osm_sorted`), so that nothing is
made of what lies elsewhere; any other is streamed here, and so is one of which all is wanted
(`scan_whole`).
"""

from __future__ import annotations

import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.places.near_ground import CELL_DEG, WANTED, NearGround
from resupply.places.osm_blobs import BlobFile
from resupply.places.osm_file import (
    LARGE_FILE_BYTES,
    Feature,
    Relation,
    broken,
    check_kind,
    full_line,
    known_spots,
    line_of,
    member_lines,
    member_ways,
    point,
    with_members,
)
from resupply.places.osm_text import TextRows
from resupply.places.sees import (
    FileFacts,
    keys_of,
    relation_keys,
    relation_wanted,
    stopped,
    way_wanted,
)
from resupply.places.tags import may_supply

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from resupply.places.osm_file import OsmHeader
    from resupply.places.sees import Sees

__all__ = ["scan_extract", "scan_whole"]

# Below this size one stream with every node's place in memory is quicker than parts.
PARTS_FROM_BYTES: Final = 24_000_000
_FEATURES_AT_ONCE: Final = 4_096
"""Looked up together: our choice; some megabytes."""
# 100,000 member ways of lakes take some 80 MB.
_MEMBERS_AT_ONCE = 100_000
_MOST_LONG_STEPS: Final = 1_000
"""Of those; a map has a few, and one made to take long is shown to everybody."""


def scan_extract(
    path: Path,
    header: OsmHeader,
    sees: Sequence[Sees],
    *,
    stop: Callable[[], bool] | None = None,
) -> FileFacts:
    """Show an extract to its readers.

    Parameters
    ----------
    header
        What the file says about itself; without a date the edits are looked at.
    sees
        At most seven.
    stop
        Asked between parts whether nobody waits any more.

    Raises
    ------
    ExtractError
        The file is missing, of an unknown kind, broken or cut off. What was shown before must
        not be taken for the whole.
    MapDataError
        It was stopped.
    """
    from resupply.places.osm_sorted import sorted_features

    check_kind(path)
    cells, facts = NearGround(sees), FileFacts()
    ask, with_time = stop or (lambda: False), header.timestamp is None
    if header.is_sorted and path.stat().st_size >= PARTS_FROM_BYTES:
        features = sorted_features(path, sees, cells, facts, ask, with_time=with_time)
    else:
        large = path.stat().st_size >= LARGE_FILE_BYTES
        kept_in = "sparse_file_array" if large else "flex_mem"
        stream = _Stream(path, header, sees, cells, facts, ask, kept_in)
        features = stream.features()
    _show(path, features, sees)
    return facts


def scan_whole(path: Path, header: OsmHeader, sees: Sequence[Sees], *, kept_in: str) -> FileFacts:
    """Show an extract to readers that want all of it, wherever it lies.

    Parameters
    ----------
    header, sees
        As for `scan_extract`.
    kept_in
        Where the places of nodes are kept, in the words of libosmium: `flex_mem`, or
        `sparse_file_array,FILE`.

    Raises
    ------
    ExtractError
        As for `scan_extract`.
    """
    check_kind(path)
    facts = FileFacts()
    stream = _Stream(path, header, sees, None, facts, lambda: False, kept_in)
    _show(path, stream.features(), sees)
    return facts


def _show(path: Path, features: Iterator[Feature], sees: Sequence[Sees]) -> None:
    import osmium

    try:
        for feature in features:
            for one in sees:
                one.see(feature)
    except (RuntimeError, ValueError, osmium.InvalidLocationError) as error:
        raise broken(path, error) from error
    for one in sees:
        one.file_ends()


@dataclass(slots=True)
class _Stream:
    """A file in any order, the places of all its nodes kept."""

    path: Path
    header: OsmHeader
    sees: Sequence[Sees]
    cells: NearGround | None
    """None where all is wanted, wherever it lies."""
    facts: FileFacts
    stop: Callable[[], bool]
    kept_in: str

    def features(self) -> Iterator[Feature]:
        import osmium

        only_nodes = osmium.filter.KeyFilter(*keys_of(self.sees, "node_keys"))
        only_ways = osmium.filter.KeyFilter(*keys_of(self.sees, "way_keys"))
        only_nodes.enable_for(osmium.osm.NODE)
        only_ways.enable_for(osmium.osm.WAY)
        table = osmium.index.create_map(self.kept_in)
        is_pbf = self.path.name.lower().endswith(".pbf")
        rows = TextRows(self._wants)
        if is_pbf:
            made = self._from_text(rows, table, only_nodes, only_ways)
        else:
            made = self._one_by_one(table, (only_nodes, only_ways))
        waiting: list[Feature] = []
        for feature in made:
            waiting.append(feature)
            if len(waiting) >= _FEATURES_AT_ONCE:
                if self.stop():
                    raise stopped()
                yield from self._wanted(waiting)
                waiting = []
        yield from self._wanted(waiting)
        if self.header.timestamp is None:
            self.facts.see_newest(rows.newest)
        # A file may say that it is sorted, and not be.
        in_order = is_pbf and self.header.is_sorted and rows.in_order
        for relations in _some(self._relations(in_order=in_order)):
            ids = member_ways(relations)
            if is_pbf and ids:
                ways = self._members_from_text(table, sorted(ids), in_order=in_order)
                lines = {int(way.id[4:]): known_spots(way) for way in ways}
            else:
                lines = member_lines(self.path, ids, table)
            yield from with_members(relations, lines, table)

    def _wants(self, tags: Mapping[str, str]) -> bool:
        return way_wanted(self.sees, WANTED, tags) or self._afar(tags)

    def _from_text(
        self, rows: TextRows, table: Any, only_nodes: Any, only_ways: Any
    ) -> Iterator[Feature]:
        """Nodes and ways of a .pbf, a run of blobs at a time."""
        import osmium

        kinds = osmium.osm.NODE | osmium.osm.WAY
        # All nodes are noted, and looked up for those ways alone that somebody wants. One handler
        # for all runs: it sees if they are not in order.
        handlers = only_ways, _located(table), only_nodes
        with self._blobs() as (blobs, text):
            for run in blobs.runs(1, blobs.count):
                blobs.dump(run, kinds, text, *handlers, located=True)
                yield from rows.features(text)

    def _members_from_text(
        self, table: Any, ids: Sequence[int], *, in_order: bool
    ) -> Iterator[Feature]:
        """Ways of a .pbf of these numbers."""
        import osmium

        every, numbers, places = TextRows(lambda _: True), np.array(ids, np.int64), _located(table)
        with self._blobs() as (blobs, text):
            whole = ((run, numbers) for run in blobs.runs(1, blobs.count))
            for run, some in blobs.runs_of_ways(numbers) if in_order else whole:
                only = osmium.filter.IdFilter(some.tolist())
                blobs.dump(run, osmium.osm.WAY, text, only, places, located=True)
                yield from every.features(text)

    @contextmanager
    def _blobs(self) -> Iterator[tuple[BlobFile, Path]]:
        """Open the file, and a place for the text of a run."""
        with self.path.open("rb") as stream, tempfile.TemporaryDirectory() as folder:
            yield BlobFile(stream), Path(folder) / "run.opl"

    def _relations(self, *, in_order: bool) -> Iterator[Relation]:
        """Relations that somebody wants."""
        import osmium

        only = osmium.filter.KeyFilter(*relation_keys(self.sees))
        if not in_order:
            processor = osmium.FileProcessor(str(self.path), osmium.osm.RELATION)
            for item in processor.with_filter(only):
                if relation_wanted(self.sees, tags := dict(item.tags)):
                    yield Relation.of(item, tags)
            return
        rows = TextRows(lambda tags: relation_wanted(self.sees, tags))
        with self._blobs() as (blobs, text):
            for run in blobs.relation_runs():
                blobs.dump(run, osmium.osm.RELATION, text, only, located=False)
                for one in rows.relations(text):
                    yield one.whole()

    def _one_by_one(self, table: Any, filters: Sequence[Any]) -> Iterator[Feature]:
        """Nodes and ways of any other file."""
        import osmium

        processor = osmium.FileProcessor(str(self.path), osmium.osm.NODE | osmium.osm.WAY)
        processor.with_locations(table)
        for only in filters:
            processor.with_filter(only)
        factory = osmium.geom.WKBFactory()
        for item in processor:
            if self.header.timestamp is None:
                self.facts.see_time(item)
            # One copy is quicker than looking up many keys in the library.
            tags = dict(item.tags)
            if not self._wants(tags):
                continue
            if isinstance(item, osmium.osm.Node):
                yield Feature(f"node/{item.id}", tags, point(item.location))
            else:
                # Other kinds of object don't come.
                numbered = any(one.needs_nodes and one.wants(tags) for one in self.sees)
                yield _way(item, tags, factory, numbered=numbered)

    def _wanted(self, features: Sequence[Feature]) -> Iterator[Feature]:
        """Those features that somebody wants; where they lie is looked up for all at once."""
        count = np.array([len(one.lonlat) for one in features], np.int64)
        placed = count > 0
        # Where nothing is known, everybody is shown it.
        own = np.full(len(features), WANTED, np.uint8)
        if placed.any():
            lonlat = np.concatenate([one.lonlat for one in features])
            self.facts.see_box(*lonlat.min(axis=0).tolist(), *lonlat.max(axis=0).tolist())
            if self.cells is not None:
                start = (np.cumsum(count) - count)[placed]
                own[placed] = np.bitwise_or.reduceat(self.cells.bits_of(lonlat), start)
                line = np.repeat(np.arange(len(features)), count)
                _add_long_steps(own, lonlat, line, self.cells)
                own &= WANTED
        for feature, bits in zip(features, own.tolist(), strict=True):
            tags = feature.tags
            self.facts.holds_places = self.facts.holds_places or may_supply(tags)
            if self.cells is None or self._afar(tags) or way_wanted(self.sees, bits, tags):
                yield feature

    def _afar(self, tags: Mapping[str, str]) -> bool:
        return any(one.wants_from_afar(tags) for one in self.sees)


def _located(table: Any) -> Any:
    """Make a handler that notes where nodes are, and tells it to the nodes of ways."""
    import osmium

    locations = osmium.NodeLocationsForWays(table)
    locations.ignore_errors()
    return locations


def _way(item: Any, tags: Mapping[str, str], factory: Any, *, numbered: bool) -> Feature:
    if not numbered:
        return Feature(f"way/{item.id}", tags, line_of(item, factory), item.is_closed())
    lonlat, spots = full_line(item, factory)
    refs = np.array([node.ref for node in item.nodes], np.int64)
    return Feature(f"way/{item.id}", tags, lonlat, item.is_closed(), refs=refs, spots=spots)


def _add_long_steps(
    own: NDArray[np.uint8],
    lonlat: NDArray[np.float64],
    line: NDArray[np.int64],
    cells: NearGround,
) -> None:
    """Put in the bits of ground that a straight road crosses between two nodes far apart."""
    step = np.abs(np.diff(lonlat, axis=0)).max(axis=1)
    # Half a turn or more goes the other way round the Earth.
    far = np.flatnonzero((line[1:] == line[:-1]) & (step > CELL_DEG) & (step < 180.0))
    if len(far) > _MOST_LONG_STEPS:
        own[line[far]] |= WANTED
        return
    for at in far.tolist():
        between = np.linspace(lonlat[at], lonlat[at + 1], int(step[at] / CELL_DEG) + 2)
        own[line[at]] |= np.bitwise_or.reduce(cells.bits_of(between))


def _some(relations: Iterable[Relation]) -> Iterator[list[Relation]]:
    """So many relations at a time that their members fit in memory."""
    some: list[Relation] = []
    members = 0
    for relation in relations:
        some.append(relation)
        members += len(relation.members)
        if members > _MEMBERS_AT_ONCE:
            yield some
            some, members = [], 0
    if some:
        yield some
