"""Nodes and ways of a pass as text, which the library writes on its own.

In: lines in the OPL format, of a run of blobs (`BlobFile.dump`). Out: rows with tags, numbers and
places in arrays. A call of the library for each tag and each node of a way costs many times more
than to write and read the text of all.

References
----------
OPL file format manual, https://osmcode.org/opl-file-format/manual.html.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.places.index_columns import numbers
from resupply.places.osm_file import Feature, Relation, known_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

__all__ = ["Nodes", "RelationText", "TextRows", "Ways", "way_features"]

_LINES_AT_ONCE: Final = 8_192
"""Our choice: some megabytes."""
_TEXTS_KEPT: Final = 50_000
"""Sets of tags read once, our choice: some 30 MB. Most roads share theirs with others."""
_NOWHERE: Final = b"999"
"""Stands for a place that the file lacks: our choice, no degree of longitude."""
_COMMAS: Final = bytes.maketrans(b",xy", b"\n,,")
_ALL_COMMAS: Final = bytes.maketrans(b"xy", b",,")
_ESCAPED: Final = re.compile("%([0-9a-fA-F]+)%")

Row = tuple[int, "Mapping[str, str] | None", bytes, bytes]
"""Number, tags (None if not wanted), and a node's place; or nothing, and the nodes of a way."""
Nodes = tuple[list[int], "list[Mapping[str, str]]", "NDArray[np.float64]"]
"""Numbers, tags and places of n nodes, (n, 2) degrees; NaN where not known."""
Ways = tuple[list[int], "list[Mapping[str, str]]", "NDArray[np.int64]", "NDArray[np.int64]"]
"""Numbers and tags of n ways, how many nodes each has, (n,), and the nodes' numbers, (k,)."""


class TextRows:
    """Reads rows, and leaves out those that nobody wants by their tags.

    Parameters
    ----------
    wanted
        Told the tags of an object; asked once for each set of them.
    keys
        Only what has one of these keys tells of an edit; None for all.
    """

    def __init__(
        self,
        wanted: Callable[[Mapping[str, str]], bool],
        keys: frozenset[str] | None = None,
    ) -> None:
        self._wanted, self._keys = wanted, keys
        self._tags: dict[bytes, tuple[Mapping[str, str] | None, bool]] = {}
        self.newest = b""
        """ISO date and time of the newest edit, where the lines have one."""
        self.in_order = True
        """Whether all features so far were nodes, then ways, each by number."""
        self._last = (0, -1)

    def features(self, path: Path) -> Iterator[Feature]:
        """Nodes and ways as features, in the order of the file; where ways are is in the lines."""
        for nodes, ways in self._blocks(path):
            self._note_order(0, nodes)
            self._note_order(1, ways)
            yield from _node_features(nodes)
            if ways:
                count, (refs, lon, lat) = _node_columns([row[3] for row in ways], located=True)
                spots = _on_earth(np.stack([lon, lat], axis=-1))
                yield from way_features(
                    [(row[0], row[1] or {}) for row in ways], count, refs, spots
                )

    def _note_order(self, kind: int, rows: Sequence[Row]) -> None:
        if not rows:
            return
        numbers = np.array([row[0] for row in rows], np.int64)
        rising = (kind, int(numbers[0])) > self._last and bool((np.diff(numbers) > 0).all())
        self.in_order = self.in_order and rising
        self._last = kind, int(numbers[-1])

    def nodes(self, path: Path) -> Iterator[Nodes]:
        """Nodes a block at a time."""
        for rows, _ in self._blocks(path):
            yield [row[0] for row in rows], [row[1] or {} for row in rows], _spots(rows)

    def ways(self, path: Path, members: NDArray[np.int64] | None = None) -> Iterator[Ways]:
        """Ways whose lines have no places, a block at a time.

        Parameters
        ----------
        members
            Sorted numbers of ways that are given whatever their tags; without tags, if these are
            not wanted.
        """
        for _, rows in self._blocks(path, every=members is not None):
            if members is not None:
                named = _is_in(np.array([row[0] for row in rows], np.int64), members).tolist()
                rows = [
                    (row[0], row[1] or {}, b"", row[3])
                    for row, here in zip(rows, named, strict=True)
                    if here or row[1] is not None
                ]
            if rows:
                count, (refs,) = _node_columns([row[3] for row in rows], located=False)
                yield [row[0] for row in rows], [row[1] or {} for row in rows], count, refs

    def relations(self, path: Path) -> Iterator[RelationText]:
        """Relations, one by one."""
        for _, rows in self._blocks(path):
            for number, tags, _, text in rows:
                yield RelationText(number, tags or {}, text)

    def _blocks(self, path: Path, *, every: bool = False) -> Iterator[tuple[list[Row], list[Row]]]:
        with path.open("rb") as stream:
            nodes: list[Row] = []
            ways: list[Row] = []
            for line in stream:
                fields = line.rstrip(b"\n").split(b" ")
                is_node = line[:1] == b"n"
                tags, tells = self._tags_of(fields[-3 if is_node else -2][1:])
                if tells:
                    self.newest = max(self.newest, fields[2][1:])
                if tags is None and not every:
                    continue
                # What comes first in the file is given first.
                if len(nodes) + len(ways) >= _LINES_AT_ONCE or (is_node and ways):
                    yield nodes, ways
                    nodes, ways = [], []
                row = (int(fields[0][1:]), tags, fields[-2][1:] if is_node else b"", fields[-1][1:])
                (nodes if is_node else ways).append(row)
            yield nodes, ways

    def _tags_of(self, text: bytes) -> tuple[Mapping[str, str] | None, bool]:
        """Tags, None where they are not wanted; and whether an edit counts."""
        found = self._tags.get(text)
        if found is None:
            pairs = (pair.partition("=") for pair in text.decode().split(",") if pair)
            tags = {_plain(key): _plain(value) for key, _, value in pairs}
            tells = self._keys is None or not self._keys.isdisjoint(tags)
            found = (tags if self._wanted(tags) else None), tells
            if len(self._tags) >= _TEXTS_KEPT:
                self._tags.clear()
            self._tags[text] = found
        return found


@dataclass(frozen=True, slots=True)
class RelationText:
    """A relation as it came: a country has hundreds of thousands, few of them near a route."""

    number: int
    tags: Mapping[str, str]
    text: bytes
    """Members, as the format writes them."""

    def ways(self) -> list[int]:
        """Numbers of its ways."""
        return self._numbers(b"w")

    def nodes(self) -> list[int]:
        """Numbers of its nodes."""
        return self._numbers(b"n")

    def _numbers(self, kind: bytes) -> list[int]:
        parts = self.text.split(b",")
        return [int(part[1 : part.index(b"@")]) for part in parts if part[:1] == kind]

    def whole(self) -> Relation:
        """Give it with its members; their roles are left out."""
        parts = self.text.decode().split(",") if self.text else []
        members = ((part[0], int(part[1 : part.index("@")]), "") for part in parts)
        return Relation(self.number, self.tags, tuple(members))


def _is_in(numbers: NDArray[np.int64], wanted: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether each number is among others, which are sorted."""
    at = np.minimum(np.searchsorted(wanted, numbers), max(len(wanted) - 1, 0))
    return np.asarray(wanted[at] == numbers) if len(wanted) else np.zeros(len(numbers), bool)


def _plain(text: str) -> str:
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "%" in text else text


def _spots(nodes: Sequence[Row]) -> NDArray[np.float64]:
    """Places of nodes, (n, 2) degrees; NaN where the file doesn't say."""
    sides = [float(side or _NOWHERE) for row in nodes for side in row[2:]]
    return _on_earth(np.array(sides).reshape(-1, 2))


def _on_earth(spots: NDArray[np.float64]) -> NDArray[np.float64]:
    spots[(np.abs(spots) > (180.0, 90.0)).any(axis=1)] = np.nan
    return spots


def _node_features(nodes: Sequence[Row]) -> Iterator[Feature]:
    spots = _spots(nodes)
    known = np.isfinite(spots[:, 0]).tolist()
    for k, ((number, tags, _, _), here) in enumerate(zip(nodes, known, strict=True)):
        yield Feature(f"node/{number}", tags or {}, spots[k : k + here])


def way_features(
    ways: Sequence[tuple[int, Mapping[str, str]]],
    count: NDArray[np.int64],
    refs: NDArray[np.int64],
    spots: NDArray[np.float64],
) -> Iterator[Feature]:
    """Ways as features.

    Parameters
    ----------
    ways
        Number and tags of each.
    count
        (n,) nodes of each.
    refs, spots
        (k,) numbers of all nodes, and (k, 2) their places, degrees; NaN where not known.
    """
    # Few ways lack a node or have the same place twice in a row: only these are looked at alone.
    odd = ~np.isfinite(spots[:, 0])
    odd[1:] |= (spots[1:] == spots[:-1]).all(axis=1)
    ends = np.cumsum(count)
    is_odd = np.diff(np.append(0, np.cumsum(odd))[np.append(0, ends)]) > 0
    rows = zip(ways, (ends - count).tolist(), ends.tolist(), is_odd.tolist(), strict=True)
    for (number, tags), first, end, look in rows:
        own, line = refs[first:end], spots[first:end]
        closed = end > first and bool(own[0] == own[-1])
        lonlat = known_line(line) if look else line
        yield Feature(f"way/{number}", tags, lonlat, closed, refs=own, spots=line)


def _node_columns(
    fields: Sequence[bytes], *, located: bool
) -> tuple[NDArray[np.int64], list[NDArray[Any]]]:
    """How many nodes each way has, and columns of all: number, longitude and latitude, degrees."""
    count = np.array([field.count(b",") + 1 if field else 0 for field in fields], np.int64)
    names = ("ref", "x", "y") if located else ("ref",)
    if not count.any():
        return count, [np.zeros(0, np.int64), *(np.zeros(0) for _ in names[1:])]
    text = b",".join([field for field in fields if field])
    if located:
        text = text.replace(b"xy", b"x%by%b" % (_NOWHERE, _NOWHERE))
    columns = _columns(text, names)
    if any(len(one) != count.sum() for one in columns):
        raise ValueError("a way of it cannot be read")
    return count, columns


def _columns(text: bytes, names: Sequence[str]) -> list[NDArray[Any]]:
    """Columns of `n1x2.5y3.5,n4…`: whole numbers, then others."""
    try:
        import pyarrow as pa
        from pyarrow import csv
    except ImportError:
        # Half as quick, and always there. Numbers in use have 34 bits, so that they stay whole.
        flat = np.fromstring(text.translate(_ALL_COMMAS, b"n"), sep=",").reshape(-1, len(names))
        return [flat[:, 0].astype(np.int64), *flat.T[1:]]
    kinds = {name: pa.float64() if name != "ref" else pa.int64() for name in names}
    table = csv.read_csv(
        pa.BufferReader(text.translate(_COMMAS, b"n") + b"\n"),
        read_options=csv.ReadOptions(column_names=list(kinds), use_threads=False),
        parse_options=csv.ParseOptions(quote_char=False),
        convert_options=csv.ConvertOptions(column_types=kinds),
    )
    whole, *others = (table.column(name) for name in names)
    return [numbers(whole, np.int64), *(numbers(one, np.float64) for one in others)]
