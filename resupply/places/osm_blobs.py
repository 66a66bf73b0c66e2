"""A sorted .osm.pbf in parts: any run of its blobs can be read again without the rest.

In: a file. Out: where its nodes, ways and relations begin, and each run of blobs as a small file
in memory, for pyosmium to decode.

References
----------
The file format: OpenStreetMap wiki, PBF Format.
"""

from __future__ import annotations

import os
from contextlib import contextmanager
from functools import cached_property
from typing import TYPE_CHECKING, Any, BinaryIO, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

__all__ = ["NODE_ROW", "BlobFile", "NodeTable", "first_blobs", "matching"]

NODE_ROW: Final = np.dtype([("id", "<u8"), ("x", "<i4"), ("y", "<i4")])
"""A node in the table: its number, and its place in steps of 1e-7 degrees."""
_RUN_BYTES: Final = 4_000_000
"""Measured: runs of 16 MB are slower, and the table of a run's nodes takes four times as much."""
_MOST_HEADER: Final = 64 * 1024
"""Of a blob's header, by the format."""
_TEXT: Final = "opl,add_metadata=timestamp"
"""Format of what is dumped: each line has a number, "dV", a time, tags, and a place or nodes."""
_BEYOND: Final = np.iinfo(np.int64).max
"""More than the number of any way."""
_THREADS: Final = 2
"""For decoding; measured: more gain nothing."""


class BlobFile:
    """Blobs of an open file that is sorted: nodes, then ways, then relations, each by number."""

    def __init__(self, stream: BinaryIO) -> None:
        import osmium

        self._stream = stream
        self._ends = _blob_ends(stream.fileno(), os.fstat(stream.fileno()).st_size)
        self._pool = osmium.io.ThreadPool(_THREADS)
        self._head = self._bytes(0, 1)
        self.count = len(self._ends)

    @cached_property
    def relations(self) -> int:
        """Blob that begins with the first relation, of a sorted file."""
        return self._first("r", 1, self.count)

    @cached_property
    def ways(self) -> int:
        """Blob that begins with the first way, of a sorted file."""
        return self._first("wr", 1, self.relations)

    def _bytes(self, first: int, end: int) -> bytes:
        start = self._ends[first - 1] if first else 0
        return os.pread(self._stream.fileno(), self._ends[end - 1] - start, start)

    def runs(self, first: int, end: int) -> Iterator[tuple[int, int]]:
        """Cut blobs first … end into runs of about 4 MB."""
        while first < end:
            start = self._ends[first - 1]
            last = int(np.searchsorted(self._ends, start + _RUN_BYTES))
            last = min(max(last, first + 1), end)
            yield first, last
            first = last

    def way_runs(self) -> Iterator[tuple[int, int]]:
        """Give the runs that hold all ways; the first blob may hold the last nodes too."""
        return self.runs(max(self.ways - 1, 1), min(self.relations + 1, self.count))

    @cached_property
    def way_starts(self) -> NDArray[np.int64]:
        """(n,) number of the first way of each of these runs, of a sorted file.

        Raises
        ------
        ValueError
            They don't rise.
        """
        import osmium

        found = np.full(len(runs := list(self.way_runs())), _BEYOND)
        for k, (first, _) in enumerate(runs):
            with self.opened((first, first + 1), osmium.osm.WAY) as ways:
                # The first blob may hold nodes only, the last one relations only.
                found[k] = next((way.id for way in ways), _BEYOND if k else 0)
        if (np.diff(found) < 0).any():
            raise ValueError("it says that it is sorted, and is not")
        return found

    def runs_of_ways(
        self, numbers: NDArray[np.int64]
    ) -> Iterator[tuple[tuple[int, int], NDArray[np.int64]]]:
        """Give the runs that may hold some ways, by number, sorted, and which of these."""
        at = np.searchsorted(numbers, self.way_starts)
        for run, low, high in zip(self.way_runs(), at, [*at[1:], len(numbers)], strict=True):
            if high > low:
                yield run, numbers[low:high]

    def node_runs(self) -> Iterator[tuple[int, int]]:
        """Give the runs that hold all nodes."""
        return self.runs(1, min(self.ways + 1, self.count))

    def relation_runs(self) -> Iterator[tuple[int, int]]:
        """Give the runs that hold all relations."""
        return self.runs(max(self.relations - 1, 1), self.count)

    @contextmanager
    def opened(self, run: tuple[int, int], kinds: Any, *filters: Any) -> Iterator[Any]:
        """Objects of a run of blobs that pass the filters, as pyosmium gives them."""
        import osmium

        # The library keeps neither the bytes nor the filters alive: these names do.
        raw = self._head + self._bytes(*run)
        source = osmium.io.FileBuffer(raw, "pbf")
        with osmium.io.Reader(source, kinds, thread_pool=self._pool) as reader:
            yield osmium.OsmFileIterator(reader, *filters)
        del source, raw

    def dump(
        self, run: tuple[int, int], kinds: Any, path: Path, *handlers: Any, located: bool
    ) -> None:
        """Write objects of a run that pass the filters as text (OPL), for `osm_text`.

        Parameters
        ----------
        handlers
            Filters, and one that puts places on the nodes of ways, in the order of their work.
        located
            Whether the nodes of ways have places.
        """
        import osmium

        raw = self._head + self._bytes(*run)
        source = osmium.io.FileBuffer(raw, "pbf")
        target = osmium.io.File(str(path), f"{_TEXT},locations_on_ways={str(located).lower()}")
        writer = osmium.SimpleWriter(target, overwrite=True, thread_pool=self._pool)
        try:
            with osmium.io.Reader(source, kinds, thread_pool=self._pool) as reader:
                osmium.apply(reader, *handlers, writer)
        finally:
            writer.close()
        del source, raw

    def _first(self, kinds: str, low: int, high: int) -> int:
        """Give the first blob that begins with one of these kinds of object."""
        import osmium

        everything = osmium.osm.NODE | osmium.osm.WAY | osmium.osm.RELATION
        while low < high:
            middle = (low + high) // 2
            with self.opened((middle, middle + 1), everything) as things:
                kind = next((one.type_str() for one in things), "n")
            if kind in kinds:
                high = middle
            else:
                low = middle + 1
        return low


class NodeTable:
    """Numbers and places of the nodes of one run after the other, in a file seen as an array."""

    def __init__(self, blobs: BlobFile, folder: Path) -> None:
        import osmium

        self._blobs, self._file = blobs, str(folder / "nodes")
        self._table = osmium.index.create_map(f"sparse_file_array,{self._file}")
        self._locations = osmium.NodeLocationsForWays(self._table)

    def dump(self, run: tuple[int, int], path: Path, *filters: Any) -> None:
        """Read a run into the table; write those of its nodes that pass the filters as text."""
        import osmium

        self._table.clear()
        kinds, filters = osmium.osm.NODE, (self._locations, *filters)
        self._blobs.dump(run, kinds, path, *filters, located=False)

    def rows(self) -> NDArray[Any]:
        """Give the run read last, by number, (n,) of `NODE_ROW`; good until the next is read."""
        count = self._table.used_memory() // NODE_ROW.itemsize
        # As a plain array: each comparison of the other kind takes a detour.
        return (
            np.asarray(np.memmap(self._file, NODE_ROW, "r", shape=(count,))) if count else _NO_ROWS
        )

    def find(self, run: tuple[int, int], ids: NDArray[np.int64]) -> NDArray[Any]:
        """Rows of those of the nodes that a run holds; `ids` sorted."""
        import osmium

        self._table.clear()
        with self._blobs.opened(
            run, osmium.osm.NODE, self._locations, osmium.filter.IdFilter([])
        ) as nodes:
            for _ in nodes:
                pass
        return matching(self.rows(), ids)


_NO_ROWS: Final = np.zeros(0, NODE_ROW)
"""What is found where there is nothing to look through."""


def first_blobs(stream: BinaryIO) -> bytes:
    """Give the header and the first data of an open file, as a file of its own.

    Raises
    ------
    ValueError
        The file is cut off, or no such file at all.
    """
    ends = _blob_ends(stream.fileno(), os.fstat(stream.fileno()).st_size)
    return stream.read(ends[min(1, len(ends) - 1)])


def matching(rows: NDArray[Any], ids: NDArray[np.int64]) -> NDArray[Any]:
    """Rows with one of the numbers; both sorted by number."""
    if not len(rows) or not len(ids):
        return _NO_ROWS
    wanted = ids[ids > 0].astype(np.uint64)
    at = np.minimum(np.searchsorted(rows["id"], wanted), len(rows) - 1)
    return np.array(rows[at[rows["id"][at] == wanted]])


def _blob_ends(stream: int, size: int) -> list[int]:
    """Where each blob ends.

    Raises
    ------
    ValueError
        The file is cut off, or no such file at all.
    """
    ends, at = [], 0
    while at < size:
        length = int.from_bytes(os.pread(stream, 4, at), "big")
        head = os.pread(stream, length, at + 4) if length <= _MOST_HEADER else b""
        at += 4 + length + _data_bytes(head)
        if len(head) < length or at > size:
            raise ValueError("a block of it is not whole")
        ends.append(at)
    return ends


def _data_bytes(head: bytes) -> int:
    """Size of a blob's data: field 3 of its header (BlobHeader.datasize).

    Raises
    ------
    ValueError
        It is not there.
    """
    at = 0
    while at < len(head):
        key, at = _varint(head, at)
        value, at = _varint(head, at)
        if key == 3 << 3:
            return value
        # Type and index data are texts: the number before them is their length.
        at += value
    raise ValueError("a block of it has no size")


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while at < len(data):
        value |= (data[at] & 127) << shift
        shift, at = shift + 7, at + 1
        if not data[at - 1] & 128:
            return value, at
    raise ValueError("a number in it is cut off")
