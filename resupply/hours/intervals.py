"""Open states of many rows on one UTC time line, as arrays that answer by binary search.

In: rows of stretches in seconds. Out: an `OpenTimes`; `look_up` answers any number of windows.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from resupply.hours.state import OpenState

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

__all__ = ["OpenSpan", "OpenTimes", "look_up", "make_timeline", "row_of", "row_since"]

NEVER: Final = int(np.iinfo(np.int64).max)
_ROW_BITS: Final = 32


class OpenSpan(NamedTuple):
    """A stretch of time in one state."""

    start_s: int
    """UTC epoch."""
    end_s: int
    state: OpenState
    """OPEN, SHUT or UNKNOWN."""
    note: str
    """Why it is unknown, or the map's comment."""


@dataclass(frozen=True, slots=True, eq=False)
class OpenTimes:
    """Rows that each cover the span, neighbours in different states. k stretches."""

    start_s: int
    """UTC epoch of the span's start."""
    end_s: int
    key: NDArray[np.int64]
    """(k,) increasing: row << 32 | seconds from the span's start to the stretch's."""
    until_s: NDArray[np.int64]
    """(k,) UTC epoch of the stretch's end."""
    code: NDArray[np.int8]
    """(k,) value of its `OpenState`: OPEN, SHUT or UNKNOWN."""
    next_unknown_s: NDArray[np.int64]
    """(k,) UTC epoch at which the row's next unknown stretch begins, `NEVER` if none does."""
    first: NDArray[np.int64]
    """(rows + 1,) index of each row's first stretch."""
    notes: tuple[str, ...]
    """(k,)."""


def make_timeline(rows: Sequence[Sequence[OpenSpan]], start_s: int, end_s: int) -> OpenTimes:
    """Lay rows of stretches one after the other.

    Parameters
    ----------
    rows
        Each covers start_s to end_s without a hole, sorted; end_s - start_s < 2**32.
    """
    flat = [part for row in rows for part in row]
    count = np.array([len(row) for row in rows], dtype=np.int64)
    first = np.concatenate([[0], np.cumsum(count)]).astype(np.int64)
    row_ix = np.repeat(np.arange(len(rows), dtype=np.int64), count)
    since = np.array([part.start_s for part in flat], dtype=np.int64)
    next_unknown = np.full(len(flat), NEVER, dtype=np.int64)
    for i in range(len(flat) - 2, -1, -1):
        if row_ix[i + 1] == row_ix[i]:
            unknown = flat[i + 1].state is OpenState.UNKNOWN
            next_unknown[i] = since[i + 1] if unknown else next_unknown[i + 1]
    line = OpenTimes(
        start_s=start_s,
        end_s=end_s,
        key=(row_ix << _ROW_BITS) + (since - start_s),
        until_s=np.array([part.end_s for part in flat], dtype=np.int64),
        code=np.array([part.state.value for part in flat], dtype=np.int8),
        next_unknown_s=next_unknown,
        first=first,
        notes=tuple(part.note for part in flat),
    )
    for array in (line.key, line.until_s, line.code, line.next_unknown_s, line.first):
        array.flags.writeable = False
    return line


def look_up(
    line: OpenTimes, row: ArrayLike, from_s: ArrayLike, to_s: ArrayLike
) -> NDArray[np.int8]:
    """State of each window [from_s, to_s) of a row, as `OpenState` codes.

    OPEN if the window lies within one open stretch, SHUT if it meets none but shut ones,
    UNKNOWN if it meets an unknown one or leaves the span, else TIGHT.

    Parameters
    ----------
    row, from_s, to_s
        Broadcast together; UTC epoch seconds, rounded outwards to whole ones. An empty
        window counts as one second.
    """
    since = np.floor(from_s).astype(np.int64)
    until = np.maximum(np.ceil(to_s).astype(np.int64), since + 1)
    # Clipping keeps the search inside the row; windows outside are overruled below.
    inside_s = np.clip(since, line.start_s, line.end_s - 1) - line.start_s
    key = (np.asarray(row, dtype=np.int64) << _ROW_BITS) + inside_s
    at = np.searchsorted(line.key, key, side="right") - 1
    code = line.code[at]
    crosses = until > line.until_s[at]
    unknown = (code == OpenState.UNKNOWN.value) | (line.next_unknown_s[at] < until)
    # Neighbours differ, so a window that crosses a border and meets nothing unknown meets
    # both open and shut.
    code = np.where(crosses, np.int8(OpenState.TIGHT.value), code)
    code = np.where(crosses & unknown, np.int8(OpenState.UNKNOWN.value), code)
    outside = (since < line.start_s) | (until > line.end_s)
    return np.where(outside, np.int8(OpenState.UNKNOWN.value), code)


def row_since(line: OpenTimes, row: int, since_s: float) -> tuple[OpenSpan, ...]:
    """One row's stretches from the one that holds `since_s`, in order."""
    start, stop = int(line.first[row]), int(line.first[row + 1])
    return row_of(line, row)[np.searchsorted(line.until_s[start:stop], since_s, side="right") :]


# A plan describes the same rows at every redraw.
@lru_cache(maxsize=4096)
def row_of(line: OpenTimes, row: int) -> tuple[OpenSpan, ...]:
    """One row's stretches, in order."""
    start, stop = int(line.first[row]), int(line.first[row + 1])
    origin_s = line.start_s - (row << _ROW_BITS)
    return tuple(
        OpenSpan(
            int(line.key[i]) + origin_s,
            int(line.until_s[i]),
            OpenState(int(line.code[i])),
            line.notes[i],
        )
        for i in range(start, stop)
    )
