"""The states a door may be in; and stretches of local time in one of them.

Pure functions on lists of `Segment` that cover a span without a hole.
"""

from __future__ import annotations

import datetime as dt
from enum import IntEnum
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence, Set

__all__ = [
    "BY_HOURS",
    "OpenState",
    "Segment",
    "agreed",
    "days_of",
    "merged",
    "replace_days",
    "side_by_side",
    "unless_holiday",
]


class OpenState(IntEnum):
    """Whether a place is open when the rider gets there: the only answer there is, everywhere.

    The value is its code in arrays; a larger one is no surer than a smaller one. Hours state
    OPEN, UNLESS_HOLIDAY, SHUT or UNKNOWN; a visit may also be TIGHT; only an estimate beside
    unknown hours says USUALLY_OPEN or USUALLY_SHUT.
    """

    OPEN = 0
    """Open for the whole visit, however early or late within the stated doubt."""
    UNLESS_HOLIDAY = 1
    """The same on any day that is no public holiday; whether it is one is not known."""
    TIGHT = 2
    """Open at the planned time, but not for the whole visit, early or late: minutes decide."""
    USUALLY_OPEN = 3
    """Hours not known; such places are usually open then (an estimate)."""
    UNKNOWN = 4
    USUALLY_SHUT = 5
    """Hours not known; such places are usually shut then (an estimate)."""
    SHUT = 6
    """Shut at the planned time."""

    def __bool__(self) -> bool:
        raise TypeError("an open state is no yes or no; compare it with OpenState.OPEN")


BY_HOURS: Final = (OpenState.OPEN, OpenState.UNLESS_HOLIDAY)
"""Open for the whole visit by stated hours."""


class Segment(NamedTuple):
    """A stretch of naive local time in one state."""

    start: dt.datetime
    end: dt.datetime
    state: OpenState
    """OPEN, UNLESS_HOLIDAY, SHUT or UNKNOWN."""
    note: str = ""
    """Why it is unknown, or the map's own comment; hostile text, plain."""


def days_of(since: dt.datetime, until: dt.datetime) -> Iterator[dt.date]:
    """Local days that a stretch of time touches."""
    day = since.date()
    while dt.datetime.combine(day, dt.time()) < until:
        yield day
        day += dt.timedelta(days=1)


def side_by_side(
    left: Sequence[Segment], right: Sequence[Segment]
) -> Iterator[tuple[Segment, Segment]]:
    """Cut two coverings of the same span at each other's borders."""
    i = j = 0
    while i < len(left) and j < len(right):
        since = max(left[i].start, right[j].start)
        until = min(left[i].end, right[j].end)
        if since < until:
            yield (
                left[i]._replace(start=since, end=until),
                right[j]._replace(start=since, end=until),
            )
        if left[i].end <= until:
            i += 1
        if right[j].end <= until:
            j += 1


def agreed(readings: Sequence[Sequence[Segment]], doubt: str) -> list[Segment]:
    """Unknown, for the stated reason, where the readings differ."""
    result = list(readings[0])
    for other in readings[1:]:
        result = [
            one if one.state is two.state else one._replace(state=OpenState.UNKNOWN, note=doubt)
            for one, two in side_by_side(result, other)
        ]
    return merged(result)


def unless_holiday(ordinary: Sequence[Segment], festive: Sequence[Segment]) -> list[Segment]:
    """Keep the openings of an ordinary day, each in doubt where a holiday would change it.

    What only a holiday would open is shut: most days are none.

    Parameters
    ----------
    ordinary, festive
        The same span if no day, and if every day, is a public holiday.
    """
    parts = [
        one._replace(state=OpenState.UNLESS_HOLIDAY)
        if one.state is OpenState.OPEN and other.state is not OpenState.OPEN
        else one
        for one, other in side_by_side(ordinary, festive)
    ]
    result: list[Segment] = []
    for part in parts:
        last = result[-1].state if result else OpenState.SHUT
        if part.state in BY_HOURS and last in BY_HOURS:
            state = max(part.state, last)
            result[-1] = result[-1]._replace(end=part.end, state=OpenState(state))
        else:
            result.append(part)
    return merged(result)


def replace_days(
    segments: Sequence[Segment], instead: Sequence[Segment], days: Set[dt.date]
) -> list[Segment]:
    """Take `instead` on the given local days."""
    at, last = segments[0].start, segments[-1].end
    result: list[Segment] = []
    for day in sorted(days):
        since = dt.datetime.combine(day, dt.time())
        until = since + dt.timedelta(days=1)
        if since < last and until > at:
            result += _cut(segments, at, since)
            result += _cut(instead, max(since, at), min(until, last))
            at = until
    return merged([*result, *_cut(segments, at, last)])


def merged(segments: Sequence[Segment]) -> list[Segment]:
    """Join neighbours that say the same; a note only matters where something is unknown."""
    result: list[Segment] = []
    for part in segments:
        note = part.note if part.state is OpenState.UNKNOWN else ""
        if result and result[-1].state is part.state and result[-1].note == note:
            result[-1] = result[-1]._replace(end=part.end)
        else:
            result.append(part if part.note == note else part._replace(note=note))
    return result


def _cut(segments: Sequence[Segment], since: dt.datetime, until: dt.datetime) -> Iterator[Segment]:
    """Parts of the segments within [since, until)."""
    for part in segments:
        if since <= part.start and part.end <= until:
            yield part
        elif part.start < until and part.end > since:
            yield part._replace(start=max(part.start, since), end=min(part.end, until))
