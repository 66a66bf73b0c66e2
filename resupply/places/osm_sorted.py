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

from resupply.common.distinct import distinct
from resupply.places.near_ground import STEPS, WANTED
from resupply.places.osm_blobs import BlobFile, NodeTable, matching
from resupply.places.osm_file import Feature, Relation, member_ways
from resupply.places.osm_known import KnownNodes, WayNodes
from resupply.places.osm_text import TextRows, way_features
from resupply.places.sees import keys_of, relation_keys, relation_wanted, stopped, way_wanted
from resupply.places.tags import RULES, classify, may_supply

if TYPE_CHECKING:
    from collections.abc import (
        Callable,
        Collection,
        Generator,
        Iterable,
        Iterator,
        Mapping,
        Sequence,
    )

    from numpy.typing import NDArray

    from resupply.places.near_ground import NearGround
    from resupply.places.osm_file import TagLookup
    from resupply.places.osm_text import Nodes, RelationText, Ways
    from resupply.places.sees import FileFacts, Sees

__all__ = ["sorted_features"]

_WAYS_AT_ONCE: Final = 8_192
"""Looked up together: our choice; some megabytes."""
# A set of numbers is a bitmap in pieces of 4 MB; 40 of them are 160 MB.
_IDS_IN_PIECE: Final = 4_194_304 * 8
_MOST_PIECES: Final = 40
_MOST_PASSES: Final = 3
"""Measured on 28 million nodes: ten took longer than all ways once."""
# Tags of ways that are looked at wherever they are: places (is their ground known?) and shores.
_EVERYWHERE: Final = (*((rule.key, rule.value) for rule in RULES), ("natural", "coastline"))


@dataclass(slots=True)
class _Way:
    tags: Mapping[str, str]
    refs: NDArray[np.int64]


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
        table, text = NodeTable(blobs, Path(folder)), Path(folder) / "run.opl"
        yield from _Pass(blobs, table, text, sees, cells, facts, stop, with_time).features()


@dataclass(slots=True)
class _Pass:
    """The parts of the file in the order in which they are needed."""

    blobs: BlobFile
    table: NodeTable
    text: Path
    """Where a run is written that is read as text."""
    sees: Sequence[Sees]
    cells: NearGround
    facts: FileFacts
    stop: Callable[[], bool]
    with_time: bool
    known: KnownNodes = field(default_factory=KnownNodes)
    ways: dict[int, _Way] = field(default_factory=dict)
    node_runs: list[tuple[int, int]] = field(default_factory=list)
    first_ids: list[int] = field(default_factory=list)

    def features(self) -> Iterator[Feature]:
        # A place counts wherever it is, and if nobody knows where; ground only if it is near.
        relations = self._relations()
        places = {one.number: one.whole() for one in relations if classify(one.tags) is not None}
        ground = [one for one in relations if one.number not in places]
        members, placed = WayNodes(), WayNodes()
        self._read_members(tuple(places.values()), members)
        self._read_everywhere(placed)
        loose = [ref for one in relations for ref in one.nodes()]
        shores = [way.refs for way in self.ways.values()]
        wanted = distinct(np.concatenate([members.flat(), np.array(loose, np.int64), *shores]))
        nowhere = yield from self._nodes(wanted, placed)
        near = self._read_near(ground)
        found = {one.number: one.whole() for one in ground if self._is_near(one, near)}
        self._read_members(tuple(found.values()), members)
        self._find_missing(members)
        yield from self._near_ways(nowhere)
        found |= places
        shown = [found[one.number] for one in relations if one.number in found]
        yield from self._with_members(shown, members)

    def _is_near(self, relation: RelationText, near: frozenset[int]) -> bool:
        """Whether one of its ways is near, or a node."""
        if not near.isdisjoint(relation.ways()):
            return True
        nodes = np.array(relation.nodes(), np.int64)
        return bool((self.known.bits_of(nodes) & WANTED).any())

    def _runs(self, runs: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
        for run in runs:
            if self.stop():
                raise stopped()
            yield run

    def _relations(self) -> list[RelationText]:
        import osmium

        only = osmium.filter.KeyFilter(*relation_keys(self.sees))
        rows = TextRows(lambda tags: relation_wanted(self.sees, tags))
        found: list[RelationText] = []
        for run in self._runs(self.blobs.relation_runs()):
            self.blobs.dump(run, osmium.osm.RELATION, self.text, only, located=False)
            found += rows.relations(self.text)
        return found

    def _ways(
        self, rows: TextRows, *filters: Any, members: NDArray[np.int64] | None = None
    ) -> Iterator[Ways]:
        """Ways that pass the filters, a block at a time."""
        import osmium

        for run in self._runs(self.blobs.way_runs()):
            self.blobs.dump(run, osmium.osm.WAY, self.text, *filters, located=False)
            yield from rows.ways(self.text, members)

    def _numbered(self, ids: Collection[int]) -> Iterator[Ways]:
        """Ways of these numbers, whatever their tags."""
        import osmium

        rows, numbers = TextRows(lambda _: True), distinct(np.fromiter(ids, np.int64, len(ids)))
        # A set of numbers takes memory for the range it spans: each run has one of its own.
        for run, some in self.blobs.runs_of_ways(numbers):
            if self.stop():
                raise stopped()
            only = osmium.filter.IdFilter(some.tolist())
            self.blobs.dump(run, osmium.osm.WAY, self.text, only, located=False)
            yield from rows.ways(self.text)

    def _read_members(self, relations: Sequence[Relation], members: WayNodes) -> None:
        """Read the ways that relations are made of, wherever they are."""
        for numbers, _, count, refs in self._numbered(member_ways(relations)):
            members.add(numbers, count, refs)

    def _read_everywhere(self, placed: WayNodes) -> None:
        """Note the nodes of all places; keep what a reader wants from afar."""
        import osmium

        # Few ways have one of the keys, and each is compared with every tag of the table.
        keyed = osmium.filter.KeyFilter(*dict.fromkeys(key for key, _ in _EVERYWHERE))
        rows = TextRows(lambda tags: self._afar(tags) or may_supply(tags))
        for block in self._ways(rows, keyed, osmium.filter.TagFilter(*_EVERYWHERE)):
            for number, tags, line in _one_by_one(block):
                if self._afar(tags):
                    self.ways[number] = _Way(tags, line)
                if may_supply(tags):
                    self.facts.holds_places = True
                    placed.add([number], np.array([len(line)]), line)

    def _afar(self, tags: TagLookup) -> bool:
        return any(one.wants_from_afar(tags) for one in self.sees)

    def _nodes(
        self, wanted: NDArray[np.int64], placed: WayNodes
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
        tagged = TextRows(lambda tags: way_wanted(self.sees, WANTED, tags) or may_supply(tags))
        for run in self._runs(self.blobs.node_runs()):
            self.table.dump(run, self.text, only)
            for nodes in tagged.nodes(self.text):
                yield from self._near_nodes(nodes)
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
        if self.with_time:
            self.facts.see_newest(tagged.newest)
        self.known.add(rows, bits)
        known = np.bincount(placed.owner(), is_there, len(placed.ways)) > 0
        return {way for way, here in zip(placed.ways, known.tolist(), strict=True) if not here}

    def _near_nodes(self, nodes: Nodes) -> Iterator[Feature]:
        """Those nodes with tags that somebody wants; one without a place may be anywhere."""
        numbers, every, spots = nodes
        if not self.facts.holds_places:
            self.facts.holds_places = any(map(may_supply, every))
        known = np.isfinite(spots[:, 0])
        bits = np.full(len(spots), WANTED, np.uint8)
        bits[known] = self.cells.bits_of(spots[known]) & WANTED
        for k in np.flatnonzero(bits).tolist():
            if way_wanted(self.sees, int(bits[k]), every[k]):
                yield Feature(f"node/{numbers[k]}", every[k], spots[k : k + int(known[k])])

    def _read_near(self, ground: Sequence[RelationText]) -> frozenset[int]:
        """Read the ways that use a node near the route.

        Returns
        -------
        frozenset of int
            Those of them of which ground is made, wanted or not.
        """
        import osmium

        keys = keys_of(self.sees, "way_keys")
        rows = TextRows(lambda tags: way_wanted(self.sees, WANTED, tags), frozenset(keys))
        named = array("q")
        for one in ground:
            named.extend(one.ways())
        members = distinct(np.array(named, np.int64))
        members = members[members > 0]
        near = self.known.rows["id"][(self.known.bits & WANTED) > 0]
        pieces, start = np.unique(near // _IDS_IN_PIECE, return_index=True)
        keyed, parts = osmium.filter.KeyFilter(*keys), set[int]()
        if len(pieces) > _MOST_PIECES * _MOST_PASSES:
            # All ways once, and their nodes looked up here, are quicker than many passes.
            for block in self._ways(rows, keyed):
                self._keep(*block)
            for numbers, _, count, refs in self._numbered(members.tolist()):
                parts.update(np.array(numbers)[self._bits_of(count, refs) > 0].tolist())
            pieces = pieces[:0]
        tracker = osmium.IdTracker()
        ids, contains = tracker.node_ids(), tracker.contains_filter()
        # A way that is a part of something has often no tags of its own.
        filters = [contains] if len(members) else [keyed, contains]
        for first in range(0, len(pieces), _MOST_PIECES):
            ids.clear()
            ends = start[first + _MOST_PIECES :]
            for number in near[start[first] : ends[0] if len(ends) else None].tolist():
                ids.set(number)
            for block in self._ways(rows, *filters, members=members):
                self._keep(*block)
                parts.update(np.intersect1d(block[0], members, assume_unique=True).tolist())
        ids.clear()
        if self.with_time:
            self.facts.see_newest(rows.newest)
        return frozenset(parts)

    def _keep(
        self,
        numbers: Sequence[int],
        every: Sequence[Mapping[str, str]],
        count: NDArray[np.int64],
        refs: NDArray[np.int64],
    ) -> None:
        """Keep those ways that somebody wants who is near enough."""
        own, ends = self._bits_of(count, refs), np.cumsum(count)
        for k in np.flatnonzero(own).tolist():
            if numbers[k] not in self.ways and way_wanted(self.sees, int(own[k]), every[k]):
                line = refs[ends[k] - count[k] : ends[k]].copy()
                self.ways[numbers[k]] = _Way(every[k], line)

    def _bits_of(self, count: NDArray[np.int64], refs: NDArray[np.int64]) -> NDArray[np.uint8]:
        """Bits of each way, but for the rim: of so many nodes each, (n,), which follow, (k,)."""
        found, some = np.zeros(len(count), np.uint8), count > 0
        if some.any():
            start = (np.cumsum(count) - count)[some]
            found[some] = np.bitwise_or.reduceat(self.known.bits_of(refs), start) & WANTED
        return found

    def _find_missing(self, members: WayNodes) -> None:
        """Read again the runs with nodes that matter and lie far off; cut the far ends of lines."""
        of_members = members.flat()
        missing = [of_members[self.known.at(of_members) < 0]]
        every = list(self.ways.values())
        for some in (every[k : k + _WAYS_AT_ONCE] for k in range(0, len(every), _WAYS_AT_ONCE)):
            ends = np.cumsum([len(way.refs) for way in some])
            lost = self.known.at(np.concatenate([way.refs for way in some])) < 0
            for way, unknown in zip(some, np.split(lost, ends[:-1]), strict=True):
                if not unknown.any():
                    continue
                if not _is_area(way):
                    # Where a line leaves for good, one node more is enough.
                    here = np.flatnonzero(~unknown)
                    kept = slice(max(int(here[0]) - 1, 0), int(here[-1]) + 2)
                    way.refs, unknown = way.refs[kept], unknown[kept]
                missing.append(way.refs[unknown])
        ids = distinct(np.concatenate(missing))
        run_of = np.searchsorted(self.first_ids, ids, side="right") - 1
        rows = [
            self.table.find(self.node_runs[run], ids[run_of == run])
            for run in distinct(run_of[run_of >= 0]).tolist()
        ]
        self.known.add(rows, [self.cells.bits(one["x"], one["y"]) for one in rows])

    def _near_ways(self, nowhere: set[int]) -> Iterator[Feature]:
        for block in self._numbered(nowhere):
            for number, tags, line in _one_by_one(block):
                self.ways.setdefault(number, _Way(tags, line))
        numbers = sorted(self.ways)
        for first in range(0, len(numbers), _WAYS_AT_ONCE):
            some = [(number, self.ways.pop(number)) for number in numbers[first:][:_WAYS_AT_ONCE]]
            refs = np.concatenate([way.refs for _, way in some])
            count = np.array([len(way.refs) for _, way in some], np.int64)
            ways = [(number, way.tags) for number, way in some]
            yield from way_features(ways, count, refs, self.known.spots(refs))

    def _with_members(self, relations: Sequence[Relation], members: WayNodes) -> Iterator[Feature]:
        """Relations near the route, and those of unknown place."""
        refs, owner = members.flat(), members.owner()
        near, known = (
            np.bincount(owner, here, len(members.ways)) > 0
            for here in ((self.known.bits_of(refs) & WANTED) > 0, self.known.at(refs) >= 0)
        )
        row_of = {way: row for row, way in enumerate(members.ways)}
        count = members.count()
        ends = np.cumsum(count)

        def located(ref: int) -> NDArray[np.float64]:
            return self.known.known_spots(np.array([ref]))

        for relation in relations:
            ways = [ref for kind, ref, _ in relation.members if kind == "w" and ref in row_of]
            rows = [row_of[ref] for ref in ways]
            loose = [located(ref) for kind, ref, _ in relation.members if kind == "n"]
            spots = np.concatenate([np.zeros((0, 2)), *loose])
            if (
                near[rows].any()
                or (self.cells.bits_of(spots) & WANTED).any()
                or not (known[rows].any() or len(spots))
            ):
                lines = {}
                for ref, row in zip(ways, rows, strict=True):
                    lines[ref] = self.known.known_spots(refs[ends[row] - count[row] : ends[row]])
                yield relation.feature(lines, located)
            elif not self.facts.holds_places:
                self.facts.holds_places = classify(relation.tags) is not None


def _one_by_one(block: Ways) -> Iterator[tuple[int, Mapping[str, str], NDArray[np.int64]]]:
    """Give number, tags and nodes of each way of a block."""
    numbers, every, count, refs = block
    return zip(numbers, every, np.split(refs, np.cumsum(count)[:-1]), strict=True)


def _is_area(way: _Way) -> bool:
    """Whether all of it matters: a place, a lake, a ring."""
    ring = len(way.refs) > 0 and way.refs[0] == way.refs[-1]
    return bool(ring) or may_supply(way.tags) or way.tags.get("natural") in ("water", "coastline")
