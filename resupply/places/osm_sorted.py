"""A large sorted extract near a route: nothing is made of what lies elsewhere.

In: a .osm.pbf in the usual order and its readers. Out: the features that one of them wants.
Relations come first (they are few), then ways that are wanted wherever they lie; then all nodes
pass through a small table, a run at a time, and those near the route are noted; last the ways that
use one of these, found inside the library by a set of numbers. Such a set takes memory by the range
it spans, so that it holds a part of the range at a time, and the ways are read once for each.
"""

from __future__ import annotations

import tempfile
from array import array
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.places.near_ground import STEPS, WANTED
from resupply.places.osm_blobs import NODE_ROW, BlobFile, NodeTable, matching
from resupply.places.osm_file import MOST_ID, Feature, Relation, known_line, point
from resupply.places.sees import keys_of, relation_keys, relation_wanted, stopped, way_wanted
from resupply.places.tags import RULES, classify, may_supply

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from resupply.places.near_ground import NearGround
    from resupply.places.sees import FileFacts, Sees

__all__ = ["sorted_features"]

# A set of numbers is a bitmap in pieces of 4 MB; 40 of them are 160 MB.
_IDS_IN_PIECE: Final = 4_194_304 * 8
_MOST_PIECES: Final = 40
# Tags of ways that are looked at wherever they are: places (is their ground known?) and shores.
_EVERYWHERE: Final = (*((rule.key, rule.value) for rule in RULES), ("natural", "coastline"))


@dataclass(slots=True)
class _Way:
    tags: Mapping[str, str]
    refs: NDArray[np.int64]


class _Refs:
    """Numbers of the nodes of many ways, in one array."""

    def __init__(self) -> None:
        self.ways, self._refs, self._count = array("q"), array("q"), array("q")

    def add(self, way: Any) -> None:
        self.ways.append(way.id)
        self._refs.extend([node.ref for node in way.nodes])
        self._count.append(len(way.nodes))

    def flat(self) -> NDArray[np.int64]:
        return np.array(self._refs, np.int64)

    def owner(self) -> NDArray[np.int64]:
        """Row of the way each number belongs to."""
        return np.repeat(np.arange(len(self.ways)), np.array(self._count, np.int64))


class _Known:
    """Nodes whose place is known, by number, and their bits of nearness."""

    def __init__(self) -> None:
        self.rows, self.bits = np.zeros(0, NODE_ROW), np.zeros(0, np.uint8)

    def add(self, rows: Sequence[NDArray[Any]], bits: Sequence[NDArray[np.uint8]]) -> None:
        """Take in more, in any order."""
        every = np.concatenate([self.rows, *rows])
        _, at = np.unique(every["id"], return_index=True)
        self.rows, self.bits = every[at], np.concatenate([self.bits, *bits])[at]

    def at(self, refs: NDArray[np.int64]) -> NDArray[np.int64]:
        """Row of each number, -1 where it is not known."""
        if not len(self.rows):
            return np.full(len(refs), -1)
        wanted = np.maximum(refs, 0).astype(np.uint64)
        at = np.minimum(np.searchsorted(self.rows["id"], wanted), len(self.rows) - 1)
        return np.where(self.rows["id"][at] == wanted, at, -1)

    def bits_of(self, refs: NDArray[np.int64]) -> NDArray[np.uint8]:
        """Bits of each number, 0 where it is not known."""
        at = self.at(refs)
        return (
            np.where(at >= 0, self.bits[at], 0) if len(self.bits) else np.zeros(len(at), np.uint8)
        )

    def spots(self, refs: NDArray[np.int64]) -> NDArray[np.float64]:
        """Place of each number, (n, 2) degrees; NaN where it is not known."""
        at = self.at(refs)
        spots = np.full((len(refs), 2), np.nan)
        rows = self.rows[at[at >= 0]]
        spots[at >= 0] = np.stack([rows["x"] / STEPS, rows["y"] / STEPS], axis=-1)
        return spots


def sorted_features(
    path: Path,
    sees: Sequence[Sees],
    cells: NearGround,
    facts: FileFacts,
    stop: Callable[[], bool],
    *,
    with_time: bool,
) -> Iterator[Feature]:
    """Features of a sorted file that a reader wants, in the order of the file."""
    with path.open("rb") as stream, tempfile.TemporaryDirectory() as folder:
        blobs = BlobFile(stream)
        table = NodeTable(blobs, Path(folder))
        yield from _Pass(blobs, table, sees, cells, facts, stop, with_time).features()


@dataclass(slots=True)
class _Pass:
    """The parts of the file in the order in which they are needed."""

    blobs: BlobFile
    table: NodeTable
    sees: Sequence[Sees]
    cells: NearGround
    facts: FileFacts
    stop: Callable[[], bool]
    with_time: bool
    known: _Known = field(default_factory=_Known)
    ways: dict[int, _Way] = field(default_factory=dict)
    node_runs: list[tuple[int, int]] = field(default_factory=list)
    first_ids: list[int] = field(default_factory=list)

    def features(self) -> Iterator[Feature]:
        relations = self._relations()
        members, placed = _Refs(), _Refs()
        self._read_members(relations, members)
        self._read_everywhere(placed)
        loose = [ref for one in relations for kind, ref, _ in one.members if kind == "n"]
        shores = [way.refs for way in self.ways.values()]
        wanted = np.unique(np.concatenate([members.flat(), np.array(loose, np.int64), *shores]))
        nowhere = yield from self._nodes(wanted, placed)
        self._read_near()
        self._find_missing()
        yield from self._near_ways(nowhere)
        yield from self._with_members(relations, members)

    def _runs(self, runs: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
        for run in runs:
            if self.stop():
                raise stopped()
            yield run

    def _each_way(self, *filters: Any) -> Iterator[Any]:
        import osmium

        for run in self._runs(self.blobs.way_runs()):
            with self.blobs.opened(run, osmium.osm.WAY, *filters) as ways:
                yield from ways

    def _relations(self) -> list[Relation]:
        import osmium

        only = osmium.filter.KeyFilter(*relation_keys(self.sees))
        found: list[Relation] = []
        for run in self._runs(self.blobs.relation_runs()):
            with self.blobs.opened(run, osmium.osm.RELATION, only) as relations:
                found += [
                    Relation.of(item, tags)
                    for item in relations
                    if relation_wanted(self.sees, tags := dict(item.tags))
                ]
        return found

    def _read_members(self, relations: Sequence[Relation], members: _Refs) -> None:
        """Read the ways that relations are made of, wherever they are."""
        import osmium

        ids = {ref for one in relations for kind, ref, _ in one.members if kind == "w"}
        if ids := {ref for ref in ids if 0 < ref <= MOST_ID}:
            for way in self._each_way(osmium.filter.IdFilter(ids)):
                members.add(way)

    def _read_everywhere(self, placed: _Refs) -> None:
        """Note the nodes of all places; keep what a reader wants from afar."""
        import osmium

        # Few ways have one of the keys, and each is compared with every tag of the table.
        keyed = osmium.filter.KeyFilter(*dict.fromkeys(key for key, _ in _EVERYWHERE))
        for way in self._each_way(keyed, osmium.filter.TagFilter(*_EVERYWHERE)):
            if any(one.wants_from_afar(way.tags) for one in self.sees):
                self.ways[way.id] = _Way(dict(way.tags), _refs(way))
            if may_supply(way.tags):
                self.facts.holds_places = True
                placed.add(way)

    def _nodes(
        self, wanted: NDArray[np.int64], placed: _Refs
    ) -> Generator[Feature, None, set[int]]:
        """Note the nodes near the route and those wanted; give those that carry wanted tags.

        Returns
        -------
        set of int
            Ways with places none of whose nodes is in the file.
        """
        import osmium

        only = osmium.filter.KeyFilter(*keys_of(self.sees, "node_keys"))
        refs = placed.flat()
        order = np.argsort(refs, kind="stable")
        in_order, is_there = refs[order], np.zeros(len(refs), bool)
        rows: list[NDArray[Any]] = []
        bits: list[NDArray[np.uint8]] = []
        last = 0
        for run in self._runs(self.blobs.node_runs()):
            with self.table.reading(run, only) as nodes:
                for node in nodes:
                    if feature := self._node(node):
                        yield feature
            found = self.table.rows()
            if not len(found):
                continue
            ids, x, y = found["id"], found["x"], found["y"]
            if int(ids[0]) <= last or not (ids[1:] > ids[:-1]).all():
                raise ValueError("it says that it is sorted, and is not")
            last = int(ids[-1])
            self.node_runs.append(run)
            self.first_ids.append(int(ids[0]))
            sides = (x.min(), y.min(), x.max(), y.max())
            self.facts.see_box(*(float(side) / STEPS for side in sides))
            low, high = np.searchsorted(in_order, (int(ids[0]), last + 1))
            some = in_order[low:high].astype(np.uint64)
            at = np.minimum(np.searchsorted(ids, some), len(ids) - 1)
            is_there[order[low:high]] = ids[at] == some
            own = self.cells.bits(x, y)
            low, high = np.searchsorted(wanted, (int(ids[0]), last + 1))
            for kept in (found[own > 0], matching(found, wanted[low:high])):
                rows.append(kept)
                bits.append(self.cells.bits(kept["x"], kept["y"]))
        self.known.add(rows, bits)
        known = np.bincount(placed.owner(), is_there, len(placed.ways)) > 0
        return {way for way, here in zip(placed.ways, known.tolist(), strict=True) if not here}

    def _node(self, node: Any) -> Feature | None:
        """Make a feature of a node with tags, if somebody wants it."""
        if self.with_time:
            self.facts.see_time(node)
        if not self.facts.holds_places and may_supply(node.tags):
            self.facts.holds_places = True
        at = node.location
        bits = self.cells.bits_at(at.x, at.y) & WANTED if at.valid() else -1
        if bits and way_wanted(self.sees, bits, node.tags):
            return Feature(f"node/{node.id}", dict(node.tags), point(at))
        return None

    def _read_near(self) -> None:
        """Read the ways that use a node near the route."""
        import osmium

        near = self.known.rows["id"][(self.known.bits & WANTED) > 0]
        pieces, start = np.unique(near // _IDS_IN_PIECE, return_index=True)
        tracker = osmium.IdTracker()
        ids, contains = tracker.node_ids(), tracker.contains_filter()
        keyed = osmium.filter.KeyFilter(*keys_of(self.sees, "way_keys"))
        for first in range(0, len(pieces), _MOST_PIECES):
            ids.clear()
            ends = start[first + _MOST_PIECES :]
            for number in near[start[first] : ends[0] if len(ends) else None].tolist():
                ids.set(number)
            for run in self._runs(self.blobs.way_runs()):
                some = []
                with self.blobs.opened(run, osmium.osm.WAY, keyed, contains) as ways:
                    for way in ways:
                        if way.id not in self.ways:
                            some.append((way.id, dict(way.tags), _refs(way)))
                            if self.with_time:
                                self.facts.see_time(way)
                self._keep(some)
        ids.clear()

    def _keep(self, some: Sequence[tuple[int, Mapping[str, str], NDArray[np.int64]]]) -> None:
        """Keep those ways that somebody wants who is near enough."""
        if not some:
            return
        start = np.cumsum([0, *(len(refs) for _, _, refs in some)])[:-1]
        bits = self.known.bits_of(np.concatenate([refs for _, _, refs in some]))
        own = np.bitwise_or.reduceat(bits, start) & WANTED
        for (number, tags, refs), near in zip(some, own.tolist(), strict=True):
            if way_wanted(self.sees, near, tags):
                self.ways[number] = _Way(tags, refs)

    def _find_missing(self) -> None:
        """Read again the runs with nodes that matter and lie far off; cut the far ends of lines."""
        missing: list[NDArray[np.int64]] = []
        for way in self.ways.values():
            unknown = self.known.at(way.refs) < 0
            if not unknown.any():
                continue
            if not _is_area(way):
                # Where a line leaves for good, one node more is enough.
                here = np.flatnonzero(~unknown)
                ends = slice(max(int(here[0]) - 1, 0), int(here[-1]) + 2)
                way.refs, unknown = way.refs[ends], unknown[ends]
            missing.append(way.refs[unknown])
        if not missing:
            return
        ids = np.unique(np.concatenate(missing))
        run_of = np.searchsorted(self.first_ids, ids, side="right") - 1
        rows = [
            self.table.find(self.node_runs[run], ids[run_of == run])
            for run in np.unique(run_of[run_of >= 0]).tolist()
        ]
        self.known.add(rows, [self.cells.bits(one["x"], one["y"]) for one in rows])

    def _near_ways(self, nowhere: set[int]) -> Iterator[Feature]:
        import osmium

        lost = osmium.filter.IdFilter(nowhere)
        for way in self._each_way(lost) if nowhere else ():
            self.ways.setdefault(way.id, _Way(dict(way.tags), _refs(way)))
        for number in sorted(self.ways):
            way = self.ways.pop(number)
            spots = self.known.spots(way.refs)
            closed = bool(way.refs[0] == way.refs[-1]) if len(way.refs) else False
            line = known_line(spots)
            yield Feature(f"way/{number}", way.tags, line, closed, refs=way.refs, spots=spots)

    def _with_members(self, relations: Sequence[Relation], members: _Refs) -> Iterator[Feature]:
        """Relations near the route, and those of unknown place."""
        spots = self.known.spots(members.flat())
        edges = np.searchsorted(members.owner(), np.arange(1, len(members.ways)))
        parts = zip(members.ways, np.split(spots, edges), strict=True) if members.ways else ()
        lines = {way: line[np.isfinite(line[:, 0])] for way, line in parts}

        def located(ref: int) -> NDArray[np.float64]:
            spot = self.known.spots(np.array([ref]))
            return spot[np.isfinite(spot[:, 0])]

        for relation in relations:
            made = relation.feature(lines, located)
            if not len(made.lonlat) or (self.cells.bits_of(made.lonlat) & WANTED).any():
                yield made
            elif not self.facts.holds_places:
                self.facts.holds_places = classify(relation.tags) is not None


def _refs(way: Any) -> NDArray[np.int64]:
    return np.array([node.ref for node in way.nodes], np.int64)


def _is_area(way: _Way) -> bool:
    """Whether all of it matters: a place, a lake, a ring."""
    ring = len(way.refs) > 0 and way.refs[0] == way.refs[-1]
    return bool(ring) or may_supply(way.tags) or way.tags.get("natural") in ("water", "coastline")
