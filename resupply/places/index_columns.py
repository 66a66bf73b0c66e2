"""Columns of a Parquet file as numpy arrays and Python lists, for a choice of rows.

In: a column without nulls as pyarrow reads it. Out: its values. The library's own conversions
import pandas or all its compute functions first, which takes longer than the reading.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import DTypeLike, NDArray

__all__ = [
    "blob_column",
    "blobs",
    "coded_texts",
    "lists",
    "number_column",
    "numbers",
    "text_column",
    "texts",
]


def numbers(column: Any, dtype: DTypeLike) -> NDArray[Any]:
    """Values of a column of plain numbers.

    Parameters
    ----------
    column
        `pyarrow.ChunkedArray`.
    dtype
        The column's own type.
    """
    parts = [
        np.frombuffer(chunk.buffers()[1], dtype)[chunk.offset : chunk.offset + len(chunk)]
        for chunk in column.chunks
        if len(chunk)
    ]
    return np.concatenate([np.zeros(0, dtype), *parts])


def number_column(values: NDArray[Any]) -> Any:
    """Arrow column of plain numbers; the library's own way in imports pandas, 0.4 s and 50 MB."""
    import pyarrow as pa

    plain = np.ascontiguousarray(values)
    kind = getattr(pa, plain.dtype.name)()
    return pa.Array.from_buffers(kind, len(plain), [None, pa.py_buffer(plain)])


def text_column(values: Iterable[str]) -> Any:
    """Arrow column of texts; of those, too, the library makes one by way of pandas."""
    import pyarrow as pa

    return _packed(pa.string(), [value.encode() for value in values])


def blob_column(values: Sequence[bytes]) -> Any:
    """Arrow column of byte strings."""
    import pyarrow as pa

    return _packed(pa.binary(), values)


def _packed(kind: Any, values: Sequence[bytes]) -> Any:
    import pyarrow as pa

    edges = np.zeros(len(values) + 1, np.int32)
    np.cumsum([len(value) for value in values], out=edges[1:])
    buffers = [None, pa.py_buffer(edges), pa.py_buffer(b"".join(values))]
    return pa.Array.from_buffers(kind, len(values), buffers)


def blobs(column: Any, keep: NDArray[np.bool_]) -> list[bytes]:
    """Byte strings of the rows to keep."""
    found: list[bytes] = []
    for chunk, kept in _chunks(column, keep):
        start = np.frombuffer(chunk.buffers()[1], np.int32)[chunk.offset :]
        data = memoryview(chunk.buffers()[2] or b"")
        edges = zip(start[kept].tolist(), start[kept + 1].tolist(), strict=True)
        found += [bytes(data[first:last]) for first, last in edges]
    return found


def texts(column: Any, keep: NDArray[np.bool_]) -> list[str]:
    """Texts of the rows to keep."""
    return [blob.decode() for blob in blobs(column, keep)]


def coded_texts(column: Any, keep: NDArray[np.bool_]) -> list[str]:
    """Texts of a dictionary column for the rows to keep."""
    found: list[str] = []
    for chunk, kept in _chunks(column, keep):
        words = chunk.dictionary.to_pylist()
        codes = np.frombuffer(chunk.indices.buffers()[1], np.int32)[chunk.offset :]
        found += [words[code] for code in codes[kept].tolist()]
    return found


def _chunks(column: Any, keep: NDArray[np.bool_]) -> Iterator[tuple[Any, NDArray[np.intp]]]:
    first = 0
    for chunk in column.chunks:
        kept = np.flatnonzero(keep[first : first + len(chunk)])
        first += len(chunk)
        if kept.size:
            yield chunk, kept


def lists(column: Any, dtype: DTypeLike) -> tuple[NDArray[np.int64], NDArray[Any]]:
    """Lengths of all lists of a column, (n,), and their values one after the other, (k,).

    Parameters
    ----------
    column
        `pyarrow.ChunkedArray` of lists of plain numbers.
    dtype
        The numbers' own type.
    """
    counts, values = [np.zeros(0, np.int64)], [np.zeros(0, dtype)]
    for chunk in column.chunks:
        if not len(chunk):
            continue
        edges = np.frombuffer(chunk.buffers()[1], np.int32)[chunk.offset :][: len(chunk) + 1]
        flat = chunk.values
        own = np.frombuffer(flat.buffers()[1], dtype)[flat.offset :]
        counts.append(np.diff(edges).astype(np.int64))
        values.append(own[edges[0] : edges[-1]])
    return np.concatenate(counts), np.concatenate(values)
