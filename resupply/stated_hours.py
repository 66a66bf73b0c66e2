"""What one `opening_hours` text states over a span of local days.

In: the raw map text, a span, a country. Out: open, shut and unknown stretches of local time.
The grammar is evaluated by the opening-hours-py package; this module only finds the places
where its yes or no is not honest and turns them into *unknown*:

* a text is evaluated once for every reading of what it leaves open (an end that is not given,
  school holidays, public holidays without a calendar); where the readings differ, the state
  is unknown;
* an opening with a comment ("by appointment") may be conditional: unknown;
* a text that says nothing about public holidays leaves such a day unknown.

Grammar: OpenStreetMap wiki, Key:opening_hours/specification, version 0.7.4.
"""

from __future__ import annotations

import datetime as dt
import itertools
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from resupply.openstate import OpenState, Segment, agreed, merged, replace_days, side_by_side

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence, Set
    from zoneinfo import ZoneInfo

    from resupply.holiday_calendar import Holidays

__all__ = ["StatedHours", "Sun", "is_readable", "needs_sun", "stated_hours"]

LONGEST_TEXT: Final = 1000
"""Characters. OpenStreetMap stores at most 255; anything near this is not hours."""
MOST_SEGMENTS: Final = 20_000
"""Per text: a guard against text made to run for ever."""
NOTE_LENGTH: Final = 120

NO_TEXT: Final = "the map gives no hours"
TOO_LONG: Final = "the hours as tagged are too long to be hours"
UNREADABLE: Final = "the hours as tagged cannot be read"
NO_END: Final = "closing time not given"
SCHOOL: Final = "depends on school holidays, for which there is no calendar"
NO_CALENDAR: Final = "depends on public holidays, for which there is no calendar here"
REGIONAL: Final = "a public holiday in parts of the country"
HOLIDAY: Final = "public holiday, on which the hours as tagged say nothing"
NO_SUN: Final = "depends on sunrise or sunset, and the sun does not rise and set then"

_DAYS_IN_MONTH: Final = {
    "jan": 31, "feb": 29, "mar": 31, "apr": 30, "may": 31, "jun": 30,
    "jul": 31, "aug": 31, "sep": 30, "oct": 31, "nov": 30, "dec": 31,
}  # fmt: skip
_QUOTED: Final = re.compile(r'("[^"]*")')
_MONTH_DAY: Final = re.compile(
    r"\b(" + "|".join(_DAYS_IN_MONTH) + r")\s+(\d{1,2})\b(?!:)", re.IGNORECASE
)
_OPEN_END: Final = re.compile(r"(?:(\d{1,2}:\d\d)\s*-\s*)?(\d{1,2}):(\d\d)\+(?!\d)")
_SUN_OPEN_END: Final = re.compile(r"(?:sunrise|sunset|dawn|dusk|\))\+(?!\d)", re.IGNORECASE)
_SUN: Final = re.compile(r"\b(sunrise|sunset|dawn|dusk)\b", re.IGNORECASE)
_PUBLIC: Final = re.compile(r"\bPH\b", re.IGNORECASE)
_SCHOOL: Final = re.compile(r"\bSH\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class StatedHours:
    """Segments that cover the span without a hole, neighbours in different states."""

    segments: tuple[Segment, ...]
    problem: str = ""
    """Why nothing at all is known; empty where the text could be evaluated."""

    def out_of(self, days: Set[dt.date], note: str) -> tuple[Segment, ...]:
        """Segments with "open" doubted on some days."""
        return tuple(replace_days(self.segments, _doubted(self.segments, note), days))


class Sun(NamedTuple):
    """Where the sun's times are to be taken."""

    lon: float
    lat: float
    zone: ZoneInfo


def stated_hours(
    text: str | None,
    start: dt.date,
    end: dt.date,
    *,
    holidays: Holidays | None = None,
    sun: Sun | None = None,
) -> StatedHours:
    """Evaluate one text from the start of one local day to the start of another.

    Parameters
    ----------
    text
        Raw `opening_hours` value; may be broken or hostile.
    start, end
        Local days, end exclusive, start < end.
    holidays
        The country's calendar; None where there is none: rules with `PH` are then unknown
        where they matter.
    sun
        Needed for texts with sunrise or sunset; without it they are unknown.

    Returns
    -------
    StatedHours
        Never raises for any text.

    Examples
    --------
    >>> day = dt.date(2027, 7, 10)
    >>> stated_hours("Sa 08:00-12:00", day, dt.date(2027, 7, 11)).segments[1].state
    <OpenState.OPEN: 0>
    """
    first = dt.datetime.combine(start, dt.time())
    last = dt.datetime.combine(end, dt.time())
    if text is None or not text.strip():
        return _nothing(first, last, NO_TEXT)
    if len(text) > LONGEST_TEXT:
        return _nothing(first, last, TOO_LONG)
    bare = _bare(text)
    if not _dates_exist(bare):
        return _nothing(first, last, UNREADABLE)
    if _SUN_OPEN_END.search(bare):
        return _nothing(first, last, NO_END)
    if _SUN.search(bare):
        if sun is None:
            return _nothing(first, last, NO_SUN)
        if not _sun_moves(
            sun, start, end, twilight=bool(re.search(r"dawn|dusk", bare, re.IGNORECASE))
        ):
            return _nothing(first, last, NO_SUN)
    else:
        sun = None

    readings = [
        _evaluate(reading, first, last, country=country, sun=sun)
        for reading, country in _readings(text, bare, holidays)
    ]
    if not all(readings):
        return _nothing(first, last, UNREADABLE)
    whole = [reading for reading in readings if reading]
    doubt = _reason_for_doubt(bare, holidays)
    segments = _without_bare_starts(agreed(whole, doubt))
    if holidays is not None:
        if _PUBLIC.search(bare):
            kept = _evaluate(_holiday_every_day(text), first, last, country=None, sun=sun)
            never = _evaluate(text, first, last, country=None, sun=sun)
            if not kept or not never:
                return _nothing(first, last, UNREADABLE)
            either = agreed([segments, kept, never], REGIONAL)
            segments = replace_days(segments, either, holidays.doubtful)
        else:
            # Whoever never shuts does not shut for a holiday either.
            doubted = _doubted(segments, HOLIDAY, shorter_than=dt.timedelta(days=1))
            segments = replace_days(segments, doubted, holidays.national)
    return StatedHours(tuple(merged(segments)))


def is_readable(text: str) -> bool:
    """Tell whether the text is hours at all."""
    day = dt.date(2000, 1, 3)
    problem = stated_hours(text, day, day + dt.timedelta(days=1)).problem
    return problem in ("", NO_SUN)


def needs_sun(text: str) -> bool:
    """Tell whether the hours depend on where the place is."""
    return bool(_SUN.search(_bare(text)))


# --- the readings of one text ---------------------------------------------------------------


def _readings(text: str, bare: str, holidays: Holidays | None) -> Iterator[tuple[str, str | None]]:
    """Every text the raw one may stand for, with the calendar to use; first the literal one."""
    choices: list[tuple[Callable[[str], str], ...]] = []
    if _OPEN_END.search(bare):
        choices.append((_end_at_once, _end_late))
    if _SCHOOL.search(bare):
        choices.append((_same, _school_every_day))
    if _PUBLIC.search(bare) and holidays is None:
        choices.append((_same, _holiday_every_day))
    country = holidays.country if holidays else None
    for chosen in itertools.product(*choices):
        reading = text
        for rewrite in chosen:
            reading = rewrite(reading)
        yield reading, country


def _reason_for_doubt(bare: str, holidays: Holidays | None) -> str:
    reasons = []
    if _OPEN_END.search(bare):
        reasons.append(NO_END)
    if _SCHOOL.search(bare):
        reasons.append(SCHOOL)
    if _PUBLIC.search(bare) and holidays is None:
        reasons.append(NO_CALENDAR)
    return "; ".join(reasons)


def _same(text: str) -> str:
    return text


def _end_at_once(text: str) -> str:
    """Shortest reading: `10:00+` shuts a minute later, `10:00-12:00+` at 12:00."""

    def shortest(match: re.Match[str]) -> str:
        since, hour, minute = match.groups()
        if since:
            return f"{since}-{hour}:{minute}"
        total = int(hour) * 60 + int(minute) + 1
        return f"{hour}:{minute}-{total // 60:02d}:{total % 60:02d}"

    return _outside_quotes(text, lambda part: _OPEN_END.sub(shortest, part))


def _end_late(text: str) -> str:
    """Latest end worth reckoning with: midnight, ten hours after 17:00, eight after 22:00.

    The same guess as the opening_hours reference evaluator makes.
    """

    def longest(match: re.Match[str]) -> str:
        since, hour, minute = match.groups()
        start = int(hour) % 24
        end_h = 24 if start < 17 else start + (10 if start < 22 else 8)
        end = "24:00" if start < 17 else f"{end_h}:{minute}"
        return f"{since or f'{hour}:{minute}'}-{end}"

    return _outside_quotes(text, lambda part: _OPEN_END.sub(longest, part))


def _without_bare_starts(segments: Sequence[Segment]) -> list[Segment]:
    """Make the stated minute of `10:00+` as unknown as what follows it."""
    result = list(segments)
    for i, (part, after) in enumerate(itertools.pairwise(segments)):
        bare = part.state is OpenState.OPEN and part.end - part.start <= dt.timedelta(minutes=1)
        if bare and after.state is OpenState.UNKNOWN and NO_END in after.note:
            result[i] = part._replace(state=OpenState.UNKNOWN, note=after.note)
    return merged(result)


def _school_every_day(text: str) -> str:
    return _outside_quotes(text, lambda part: _SCHOOL.sub("Mo-Su", part))


def _holiday_every_day(text: str) -> str:
    return _outside_quotes(text, lambda part: _PUBLIC.sub("Mo-Su", part))


def _bare(text: str) -> str:
    return _outside_quotes(text, _same, quoted=lambda _: '""')


def _outside_quotes(
    text: str, rewrite: Callable[[str], str], quoted: Callable[[str], str] = _same
) -> str:
    parts = _QUOTED.split(text)
    return "".join(quoted(p) if i % 2 else rewrite(p) for i, p in enumerate(parts))


def _dates_exist(bare: str) -> bool:
    """Check month days here: the evaluator takes `Feb 30` for every day of the year."""
    return all(
        1 <= int(day) <= _DAYS_IN_MONTH[month.lower()] for month, day in _MONTH_DAY.findall(bare)
    )


def _sun_moves(sun: Sun, start: dt.date, end: dt.date, *, twilight: bool) -> bool:
    """Tell whether the events exist on every day; the evaluator makes up those that do not."""
    from resupply.sun import dawn, sunrise

    event = dawn if twilight else sunrise
    days = (start + dt.timedelta(days=n) for n in range((end - start).days))
    return all(event(sun.lon, sun.lat, day, sun.zone) is not None for day in days)


# --- the evaluator --------------------------------------------------------------------------


def _evaluate(
    text: str, first: dt.datetime, last: dt.datetime, *, country: str | None, sun: Sun | None
) -> list[Segment]:
    """Segments of one reading; empty if it cannot be evaluated.

    Fallback rules are laid under the rules before them here: the evaluator drops them.
    """
    rules: list[list[Segment]] = []
    for part in _fallbacks(text):
        segments = _ask(part, first, last, country=country, sun=sun)
        if not segments:
            return []
        rules.append(segments)
    result = rules[0]
    for fallback in rules[1:]:
        result = [
            below if above.state is OpenState.SHUT else above
            for above, below in side_by_side(result, fallback)
        ]
    return merged(result)


def _fallbacks(text: str) -> list[str]:
    marked = _outside_quotes(text, lambda part: part.replace("||", "\0"))
    return marked.split("\0")


def _ask(
    text: str, first: dt.datetime, last: dt.datetime, *, country: str | None, sun: Sun | None
) -> list[Segment]:
    # The package's stub leaves its own exceptions out.
    from opening_hours import InvalidCoordinatesError, OpeningHours, ParserError, State  # type: ignore[attr-defined]

    if not text.strip():  # the evaluator takes blanks for 24/7
        return []
    states = {State.OPEN: OpenState.OPEN, State.CLOSED: OpenState.SHUT}
    segments: list[Segment] = []
    try:
        hours = OpeningHours(
            text,
            timezone=sun.zone if sun else None,
            country=country,
            coords=(sun.lat, sun.lon) if sun else None,
            auto_country=False,
            auto_timezone=False,
        )
        for since, until, state, comment in hours.intervals(first, last):
            known = states.get(state, OpenState.UNKNOWN)
            if known is OpenState.OPEN and comment:
                known = OpenState.UNKNOWN
            note = " ".join(comment.split())[:NOTE_LENGTH]
            segments.append(
                Segment(since.replace(tzinfo=None), until.replace(tzinfo=None), known, note)
            )
            if len(segments) > MOST_SEGMENTS:
                return []
    except (ParserError, InvalidCoordinatesError, ValueError, OverflowError):
        return []
    except BaseException as error:  # a fault inside the evaluator is no fault of the rider's
        if type(error).__name__ != "PanicException":
            raise
        return []
    return segments if segments and segments[-1].end >= last else []


def _nothing(first: dt.datetime, last: dt.datetime, problem: str) -> StatedHours:
    return StatedHours((Segment(first, last, OpenState.UNKNOWN, problem),), problem)


def _doubted(
    segments: Sequence[Segment], note: str, shorter_than: dt.timedelta = dt.timedelta.max
) -> list[Segment]:
    return [
        part._replace(state=OpenState.UNKNOWN, note=note)
        if part.state is OpenState.OPEN and part.end - part.start < shorter_than
        else part
        for part in segments
    ]
