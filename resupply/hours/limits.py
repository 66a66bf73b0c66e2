"""On which days and at which times a place is there at all, whatever its hours say.

In: the tags of a place and its hours as segments. Out: segments no more open than before. A place
is open only where each of these lets it be:

* `end_date`, `start_date`, `opening_date`: judged on the days of the trip. Shut after the end and
  before the beginning; within a year or month that is all that is given, not known;
* `seasonal`: shut outside months that it names; else doubtful outside the seasons it names;
* `intermittent`: may be dry on any day;
* `access:conditional`: shut where access is for others then, not known where the condition is no
  time.

OpenStreetMap wiki: Key:end_date, Key:start_date, Key:opening_date, Key:seasonal,
Key:intermittent, Conditional restrictions.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
from itertools import groupby
from typing import TYPE_CHECKING, Final

from resupply.hours.season import doubtful_days, has_dates
from resupply.hours.state import BY_HOURS, OpenState, Segment, side_by_side
from resupply.hours.stated import stated_hours
from resupply.places.left_out import SHUT_OUT, conditional_access

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from resupply.hours.holidays import Holidays

__all__ = [
    "LIMITING_TAGS",
    "MAY_BE_DRY",
    "OUT_OF_SEASON",
    "SEASON_OVER",
    "LimitNote",
    "is_limit",
    "last_checked",
    "limited",
]

LIMITING_TAGS: Final = (
    "access", "access:conditional", "end_date", "intermittent", "opening_date", "seasonal",
    "start_date",
)  # fmt: skip


class LimitNote(str):
    """Why a door is shut or doubted, in words, where a limit and not the hours says so."""

    __slots__ = ()


SEASON_OVER: Final = LimitNote("out of season, says the map")
"""Outside a `seasonal` with dates."""
OUT_OF_SEASON: Final = LimitNote("seasonal, says the map: may be shut at that time of year")
"""`seasonal` without any."""
MAY_BE_DRY: Final = LimitNote("not always there, says the map: may be dry")
"""`intermittent`."""
NO_PUBLIC: Final = LimitNote("not open to the public then, says the map")
CONDITION: Final = LimitNote("access depends on a condition, says the map")
UNCLEAR_END: Final = LimitNote("the map names an end that cannot be read")

_CHECKS: Final = ("check_date", "check_date:opening_hours", "survey:date")
_NO: Final = frozenset(("", "no"))
_DATE: Final = re.compile(r"(\d{4})(?:-(\d\d?)(?:-(\d\d?))?)?")

_Verdict = tuple[OpenState, str]
_LET: Final[_Verdict] = (OpenState.OPEN, "")


def limited(
    segments: Sequence[Segment],
    tags: Mapping[str, str],
    hours: str,
    *,
    north: bool,
    holidays: Holidays | None = None,
) -> tuple[Segment, ...]:
    """Shut or doubt what the tags do not let be open.

    Parameters
    ----------
    segments
        Cover whole local days without a hole.
    hours
        Raw `opening_hours`; where they name months or weeks, they know the season better.

    Examples
    --------
    >>> open_ = Segment(dt.datetime(2027, 7, 1), dt.datetime(2027, 7, 3), OpenState.OPEN)
    >>> limited([open_], {"end_date": "2026"}, "", north=True)[0].note
    'no longer there since 2026, says the map'
    """
    if not any(key in tags for key in LIMITING_TAGS):
        return tuple(segments)
    start, end = segments[0].start.date(), segments[-1].end.date()
    for limit in _limits(tags, hours, start, end, north=north, holidays=holidays):
        segments = _joined(
            _under(part, by) for part, by in side_by_side(list(segments), list(limit))
        )
    return tuple(segments)


def is_limit(note: str) -> bool:
    """Tell whether the reason of a state is one of these limits, not the hours."""
    return isinstance(note, LimitNote)


def last_checked(tags: Mapping[str, str]) -> dt.date | None:
    """Latest day on which a mapper says to have looked, None where none is given or readable.

    OpenStreetMap wiki, Key:check_date, Key:survey:date. Of a year or month, its last day.

    >>> last_checked({"check_date": "2014-05", "survey:date": "2012"})
    datetime.date(2014, 5, 31)
    """
    found = [_dates(tags.get(key, "")) for key in _CHECKS]
    return max((dates[1] for dates in found if dates is not None), default=None)


def _under(part: Segment, by: Segment) -> Segment:
    if by.state is OpenState.SHUT:
        return part._replace(state=OpenState.SHUT, note=by.note)
    if by.state is OpenState.UNKNOWN and part.state is not OpenState.SHUT:
        return part._replace(state=OpenState.UNKNOWN, note=by.note)
    return part


def _limits(
    tags: Mapping[str, str],
    hours: str,
    start: dt.date,
    end: dt.date,
    *,
    north: bool,
    holidays: Holidays | None,
) -> Iterator[Sequence[Segment]]:
    """Coverings of the span: open where a tag lets the place be open."""
    days = [start + dt.timedelta(days=n) for n in range((end - start).days)]
    seasonal = tags.get("seasonal", "")
    if has_dates(seasonal) and not has_dates(hours):
        found = stated_hours(seasonal, start, end, holidays=holidays)
        over = (OpenState.UNKNOWN, OUT_OF_SEASON) if found.problem else (
            OpenState.SHUT, SEASON_OVER)  # fmt: skip
        yield [
            part if part.state in BY_HOURS else part._replace(state=over[0], note=over[1])
            for part in found.segments
        ]
    elif seasonal:
        away = doubtful_days(seasonal, hours, start, end, north=north)
        yield _by_day(days, lambda day: (OpenState.UNKNOWN, OUT_OF_SEASON) if day in away else _LET)
    if tags.get("intermittent", "").lower() not in _NO:
        yield _by_day(days, lambda _: (OpenState.UNKNOWN, MAY_BE_DRY))
    for key in ("start_date", "opening_date"):
        if (begin := _dates(tags.get(key, ""))) is not None:
            yield _by_day(days, _begun(*begin))
    if text := tags.get("end_date", "").strip():
        over_at = _dates(text)
        unclear: _Verdict = (OpenState.UNKNOWN, UNCLEAR_END)
        yield _by_day(days, (lambda _: unclear) if over_at is None else _not_over(*over_at, text))
    yield from _access(tags, start, end, holidays)


def _begun(first: dt.date, last: dt.date) -> Callable[[dt.date], _Verdict]:
    """Verdict on a day for a place that opens at the latest on `last`."""
    coming = LimitNote(f"not open before {first.isoformat()}, says the map")
    unsure = LimitNote("may not be open yet, says the map")

    def verdict(day: dt.date) -> _Verdict:
        if day < first:
            return OpenState.SHUT, coming
        return _LET if day >= last else (OpenState.UNKNOWN, unsure)

    return verdict


def _not_over(first: dt.date, last: dt.date, text: str) -> Callable[[dt.date], _Verdict]:
    gone = LimitNote(f"no longer there since {text}, says the map")
    unsure = LimitNote("may be gone by then, says the map")

    def verdict(day: dt.date) -> _Verdict:
        if day > last:
            return OpenState.SHUT, gone
        return _LET if day < first else (OpenState.UNKNOWN, unsure)

    return verdict


def _dates(text: str) -> tuple[dt.date, dt.date] | None:
    """First and last day that a year, month or day stands for; None if it is none of them."""
    found = _DATE.fullmatch(text.strip())
    if found is None:
        return None
    year, month, day = (int(part) if part else None for part in found.groups())
    try:
        first = dt.date(year or 0, month or 1, day or 1)
        final = calendar.monthrange(first.year, month or 12)[1]
        return first, dt.date(first.year, month or 12, day or final)
    except ValueError:
        return None


def _access(
    tags: Mapping[str, str], start: dt.date, end: dt.date, holidays: Holidays | None
) -> Iterator[Sequence[Segment]]:
    """Where access at times lets a rider in; the last clause that holds counts."""
    if "access:conditional" not in tags:
        return
    access = {part.strip().lower() for part in tags.get("access", "").split(";")}
    usual = (OpenState.SHUT, NO_PUBLIC) if SHUT_OUT.issuperset(access) else _LET
    covering = [
        Segment(dt.datetime.combine(start, dt.time()), dt.datetime.combine(end, dt.time()), *usual)
    ]
    clauses = conditional_access(tags) or (("", ""),)
    for value, when in clauses:
        then = (OpenState.SHUT, NO_PUBLIC) if value in SHUT_OUT else _LET
        times = stated_hours(when, start, end, holidays=holidays).segments
        covering = _joined(
            {
                OpenState.OPEN: part._replace(state=then[0], note=then[1]),
                OpenState.SHUT: part,
                # A condition that says nothing of holidays holds on them, too: it is no shop.
                **(
                    {}
                    if "PH" in when
                    else {OpenState.UNLESS_HOLIDAY: part._replace(state=then[0], note=then[1])}
                ),
            }.get(by.state, part._replace(state=OpenState.UNKNOWN, note=CONDITION))
            for part, by in side_by_side(covering, list(times))
        )
    yield covering


def _by_day(days: Sequence[dt.date], verdict: Callable[[dt.date], _Verdict]) -> list[Segment]:
    found: list[Segment] = []
    for (state, note), same in groupby(days, key=verdict):
        run = list(same)
        until = dt.datetime.combine(run[-1] + dt.timedelta(days=1), dt.time())
        found.append(Segment(dt.datetime.combine(run[0], dt.time()), until, state, note))
    return found


def _joined(parts: Iterator[Segment]) -> list[Segment]:
    """Join neighbours in one state: only what is not known is told apart by its reason."""
    found: list[Segment] = []
    for part in parts:
        last = found[-1] if found else None
        alike = last is not None and last.state is part.state
        if last is None or not alike or (
            part.state is OpenState.UNKNOWN and part.note != last.note
        ):  # fmt: skip
            found.append(part)
        else:
            found[-1] = last._replace(end=part.end, note=last.note or part.note)
    return found
