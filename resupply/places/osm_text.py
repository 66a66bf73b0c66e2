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
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.places.index_columns import numbers
from resupply.places.osm_file import Feature, Relation, known_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

__all__ = ["TextRows", "way_features"]

_LINES_AT_ONCE: Final = 8_192
"""Our choice: some megabytes."""
_TEXTS_KEPT: Final = 50_000
"""Sets of tags read once, our choice: some 30 MB. Most roads share theirs with others."""
_NOWHERE: Final = b"999"
"""Stands for a place that the file lacks: our choice, no degree of longitude."""
_COMMAS: Final = bytes.maketrans(b",xy", b"\n,,")
_ALL_COMMAS: Final = bytes.maketrans(b"xy", b",,")
_ESCAPED: Final = re.compile("%([0-9a-fA-F]+)%")

Row = tuple[int, "Mapping[str, str]", bytes, bytes]
"""Number, tags, and a node's longitude and latitude; or nothing and a way's nodes."""
Ways = tuple[list[int], "list[Mapping[str, str]]", "NDArray[np.int64]", "NDArray[np.int64]"]
"""Numbers and tags of n ways, how many nodes each has, (n,), and the nodes' numbers, (k,)."""


class TextRows:
    """Reads rows, and leaves out those that nobody wants by their tags.

    Parameters
    ----------
    wanted
        Told the tags of an object; asked once for each set of them.
    """

    def __init__(self, wanted: Callable[[Mapping[str, str]], bool]) -> None:
        self._wanted = wanted
        self._tags: dict[bytes, Mapping[str, str] | None] = {}
        self.newest = b""
        """ISO date and time of the newest edit, where the lines have one."""

    def features(self, path: Path) -> Iterator[Feature]:
        """Nodes and ways as features, in the order of the file; where ways are is in the lines."""
        for nodes, ways in self._blocks(path):
            yield from _node_features(nodes)
            if ways:
                count, (refs, lon, lat) = _node_columns([row[3] for row in ways], located=True)
                spots = np.stack([lon, lat], axis=-1)
                spots[(np.abs(lon) > 180.0) | (np.abs(lat) > 90.0)] = np.nan
                yield from way_features([(row[0], row[1]) for row in ways], count, refs, spots)

    def nodes(self, path: Path) -> Iterator[list[Feature]]:
        """Nodes as features, a block at a time."""
        for rows, _ in self._blocks(path):
            yield list(_node_features(rows))

    def ways(self, path: Path) -> Iterator[Ways]:
        """Ways whose lines have no places, a block at a time."""
        for _, rows in self._blocks(path):
            if rows:
                count, (refs,) = _node_columns([row[3] for row in rows], located=False)
                yield [row[0] for row in rows], [row[1] for row in rows], count, refs

    def relations(self, path: Path) -> Iterator[Relation]:
        """Relations, one by one; the roles of their members are left out."""
        for _, rows in self._blocks(path):
            for number, tags, _, text in rows:
                parts = text.decode().split(",") if text else []
                members = ((part[0], int(part[1 : part.index("@")]), "") for part in parts)
                yield Relation(number, tags, tuple(members))

    def _blocks(self, path: Path) -> Iterator[tuple[list[Row], list[Row]]]:
        with path.open("rb") as stream:
            nodes: list[Row] = []
            ways: list[Row] = []
            for line in stream:
                fields = line.rstrip(b"\n").split(b" ")
                is_node = line[:1] == b"n"
                tags = self._tags_of(fields[-3 if is_node else -2][1:])
                self.newest = max(self.newest, fields[2][1:])
                if tags is None:
                    continue
                # What comes first in the file is given first.
                if len(nodes) + len(ways) >= _LINES_AT_ONCE or (is_node and ways):
                    yield nodes, ways
                    nodes, ways = [], []
                row = (int(fields[0][1:]), tags, fields[-2][1:] if is_node else b"", fields[-1][1:])
                (nodes if is_node else ways).append(row)
            yield nodes, ways

    def _tags_of(self, text: bytes) -> Mapping[str, str] | None:
        """Tags; None where they are not wanted."""
        if text in self._tags:
            return self._tags[text]
        pairs = (pair.partition("=") for pair in text.decode().split(","))
        tags = {_plain(key): _plain(value) for key, _, value in pairs}
        found = tags if self._wanted(tags) else None
        if len(self._tags) >= _TEXTS_KEPT:
            self._tags.clear()
        self._tags[text] = found
        return found


def _plain(text: str) -> str:
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "%" in text else text


def _node_features(nodes: Sequence[Row]) -> Iterator[Feature]:
    for number, tags, x, y in nodes:
        lon, lat = float(x or _NOWHERE), float(y or _NOWHERE)
        here = abs(lon) <= 180.0 and abs(lat) <= 90.0
        yield Feature(f"node/{number}", tags, np.array([[lon, lat]]) if here else np.zeros((0, 2)))


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
