"""Open states of many rows on one UTC time line, as arrays that answer by binary search.

In: rows of stretches in seconds. Out: an `OpenTimes`; `look_up` answers any number of windows.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from operator import attrgetter
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from resupply.hours.state import BY_HOURS, OpenState

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

__all__ = [
    "OpenSpan",
    "OpenTimes",
    "known_runs",
    "look_up",
    "make_timeline",
    "open_share",
    "row_of",
    "row_since",
    "shut_throughout",
]

_IS_OPEN: Final = np.isin(np.arange(len(OpenState)), BY_HOURS)
"""By code of the state."""
NEVER: Final = int(np.iinfo(np.int64).max)
_ROW_BITS: Final = 32
"""Of a key, for the seconds within a row: 136 years, longer than any timetable."""


class OpenSpan(NamedTuple):
    """A stretch of time in one state."""

    start_s: int
    """UTC epoch."""
    end_s: int
    state: OpenState
    """OPEN, UNLESS_HOLIDAY, SHUT or UNKNOWN."""
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
    """(k,) value of its `OpenState`: OPEN, UNLESS_HOLIDAY, SHUT or UNKNOWN."""
    open_before_s: NDArray[np.int64]
    """(k,) seconds that the row is open from the span's start to the stretch's."""
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
    open_s = np.array(
        [part.end_s - part.start_s if part.state in BY_HOURS else 0 for part in flat],
        dtype=np.int64,
    )
    line = OpenTimes(
        start_s=start_s,
        end_s=end_s,
        key=(row_ix << _ROW_BITS) + (since - start_s),
        until_s=np.array([part.end_s for part in flat], dtype=np.int64),
        code=np.array([part.state for part in flat], dtype=np.int8),
        open_before_s=np.concatenate([[0], np.cumsum(open_s)[:-1]]).astype(np.int64)
        if flat
        else np.zeros(0, dtype=np.int64),
        next_unknown_s=next_unknown,
        first=first,
        notes=tuple(part.note for part in flat),
    )
    for array in (
        line.key, line.until_s, line.code, line.open_before_s, line.next_unknown_s, line.first
    ):  # fmt: skip
        array.flags.writeable = False
    return line


def look_up(
    line: OpenTimes, row: ArrayLike, from_s: ArrayLike, to_s: ArrayLike, at_s: ArrayLike
) -> NDArray[np.int8]:
    """State of each window [from_s, to_s) of a row, as `OpenState` codes.

    The state at the planned time, where the window lies within one stretch of it. Else SHUT or
    UNKNOWN if the planned time is; of a window that is open at its planned time UNKNOWN if it
    meets an unknown stretch, else TIGHT. UNKNOWN if it leaves the span.

    Parameters
    ----------
    row, from_s, to_s, at_s
        Broadcast together; UTC epoch seconds, rounded outwards to whole ones. An empty
        window counts as one second. The planned time lies within the window.
    """
    since = np.floor(from_s).astype(np.int64)
    until = np.maximum(np.ceil(to_s).astype(np.int64), since + 1)
    rows, since, until, planned = np.broadcast_arrays(
        np.asarray(row, dtype=np.int64), since, until, np.floor(at_s).astype(np.int64)
    )
    at = _stretch_at(line, rows, since)
    code = np.array(line.code[at])
    crosses = np.asarray(until > line.until_s[at])
    if crosses.any():
        there = line.code[_stretch_at(line, rows[crosses], planned[crosses])]
        unknown = line.next_unknown_s[at[crosses]] < until[crosses]
        unknown |= code[crosses] == OpenState.UNKNOWN
        known = (there != OpenState.SHUT) & (there != OpenState.UNKNOWN)
        doubt = np.where(unknown, np.int8(OpenState.UNKNOWN), np.int8(OpenState.TIGHT))
        code[crosses] = np.where(known, doubt, there)
    outside = (since < line.start_s) | (until > line.end_s)
    return np.where(outside, np.int8(OpenState.UNKNOWN), code)


def _windows(
    row: ArrayLike, from_s: ArrayLike, to_s: ArrayLike
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Rows, begins and ends of windows in one shape: whole seconds, none empty."""
    since = np.floor(from_s).astype(np.int64)
    until = np.maximum(np.ceil(to_s).astype(np.int64), since + 1)
    rows, since, until = np.broadcast_arrays(np.asarray(row, dtype=np.int64), since, until)
    return rows, since, until


def open_share(
    line: OpenTimes, row: ArrayLike, from_s: ArrayLike, to_s: ArrayLike
) -> NDArray[np.float64]:
    """Share of each window in which the row is open by stated hours; 0 outside the span.

    Parameters
    ----------
    row, from_s, to_s
        As in `look_up`.
    """
    rows, since, until = _windows(row, from_s, to_s)
    open_s = _open_until_s(line, rows, until) - _open_until_s(line, rows, since)
    return np.asarray(open_s / (until - since))


def shut_throughout(
    line: OpenTimes, row: ArrayLike, from_s: ArrayLike, to_s: ArrayLike
) -> NDArray[np.bool_]:
    """Tell which windows meet nothing but shut stretches; none that leaves the span.

    Parameters
    ----------
    row, from_s, to_s
        As in `look_up`.
    """
    rows, since, until = _windows(row, from_s, to_s)
    at = _stretch_at(line, rows, since)
    unknown = (line.code[at] == OpenState.UNKNOWN) | (line.next_unknown_s[at] < until)
    within = (since >= line.start_s) & (until <= line.end_s)
    return np.asarray(within & ~unknown & (open_share(line, rows, since, until) == 0.0))


def _stretch_at(
    line: OpenTimes, row: NDArray[np.int64], at_s: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Index of the stretch that holds each instant; of one outside the span, the nearest."""
    inside_s = np.clip(at_s, line.start_s, line.end_s - 1) - line.start_s
    return np.asarray(np.searchsorted(line.key, (row << _ROW_BITS) + inside_s, side="right") - 1)


def _open_until_s(
    line: OpenTimes, row: NDArray[np.int64], at_s: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Seconds that each row is open from the span's start to an instant."""
    at = _stretch_at(line, row, at_s)
    inside_s = np.clip(at_s, line.start_s, line.end_s) - line.start_s
    here_s = inside_s - (line.key[at] - (row << _ROW_BITS))
    is_open = _IS_OPEN[line.code[at]]
    return np.asarray(line.open_before_s[at] + np.where(is_open, here_s, 0))


def row_since(line: OpenTimes, row: int, since_s: float) -> tuple[OpenSpan, ...]:
    """One row's stretches from the one that holds `since_s`, in order."""
    spans = row_of(line, row)
    return spans[bisect_right(spans, since_s, key=attrgetter("end_s")) :]


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


@lru_cache(maxsize=4096)
def known_runs(line: OpenTimes, row: int) -> tuple[tuple[OpenSpan, ...], ...]:
    """One row's stretches that are known, open and shut, those without a hole together."""
    runs: list[list[OpenSpan]] = [[]]
    for span in row_of(line, row):
        if span.state is not OpenState.UNKNOWN:
            runs[-1].append(span)
        elif runs[-1]:
            runs.append([])
    return tuple(tuple(run) for run in runs if run)
