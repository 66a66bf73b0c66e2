"""What one `opening_hours` text states over a span of local days.

In: the raw map text, a span, a country's holidays. Out: stretches of local time that are open,
open unless it is a public holiday, shut or unknown.
The grammar is evaluated by the opening-hours-py package; this module only finds the places
where its yes or no is not honest and turns them into *unknown*:

* a text is evaluated once for every reading of what it leaves open (an end that is not given,
  school holidays); where the readings differ, the state is unknown;
* an opening with a comment ("by appointment") may be conditional: unknown;
* a text that says nothing about public holidays leaves such a day unknown;
* where the calendar of public holidays is not known, an opening that one would change is
  open *unless it is a public holiday*.

Grammar: OpenStreetMap wiki, Key:opening_hours/specification, version 0.7.4.
"""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from resupply.hours.readings import (
    NO_END,
    dates_exist,
    doubts,
    fallbacks,
    has_holidays,
    has_sun,
    has_sun_open_end,
    has_twilight,
    holiday_every_day,
    latest_spill,
    readings,
    tidied,
)
from resupply.hours.state import (
    OpenState,
    Segment,
    agreed,
    merged,
    replace_days,
    side_by_side,
    unless_holiday,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from resupply.hours.holidays import Holidays

__all__ = ["StatedHours", "Sun", "is_readable", "stated_hours"]

LONGEST_TEXT: Final = 1000
"""Characters. OpenStreetMap stores at most 255; anything near this is not hours."""
MOST_SEGMENTS: Final = 20_000
"""Per text: a guard against text made to run for ever."""
NOTE_LENGTH: Final = 120
"""Characters of a comment that are told. Our choice: two lines on a phone."""

NO_TEXT: Final = "the map gives no hours"
TOO_LONG: Final = "the hours on the map are too long to be hours"
UNREADABLE: Final = "the hours on the map cannot be read"
REGIONAL: Final = "a public holiday in parts of the country"
HOLIDAY: Final = "public holiday, of which the hours on the map say nothing"
PAST_MIDNIGHT: Final = "may be open past midnight"
NO_SUN: Final = "depends on sunrise or sunset, and the sun does not rise and set then"


@dataclass(frozen=True, slots=True)
class StatedHours:
    """Segments that cover the span without a hole, neighbours in different states."""

    segments: tuple[Segment, ...]
    problem: str = ""
    """Why nothing at all is known; empty where the text could be evaluated."""


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
        The country's calendar; None where it is not known: then what is open on an ordinary
        day is open unless it is a public holiday.
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
    <OpenState.UNLESS_HOLIDAY: 1>
    """
    first = dt.datetime.combine(start, dt.time())
    last = dt.datetime.combine(end, dt.time())
    if text is None or not text.strip():
        return _nothing(first, last, NO_TEXT)
    if len(text) > LONGEST_TEXT:
        return _nothing(first, last, TOO_LONG)
    text = tidied(text)
    if not dates_exist(text):
        return _nothing(first, last, UNREADABLE)
    if has_sun_open_end(text):
        return _nothing(first, last, NO_END)
    if not has_sun(text):
        sun = None
    elif sun is None or not _sun_moves(sun, start, end, twilight=has_twilight(text)):
        return _nothing(first, last, NO_SUN)

    reasons = doubts(text)
    doubt = "; ".join(reasons)
    possible = [_on_the_calendar(reading, first, last, holidays, sun) for reading in readings(text)]
    if not all(possible):
        return _nothing(first, last, doubt if possible[0] and doubt else UNREADABLE)
    segments = agreed(possible, doubt)
    if NO_END in reasons:
        segments = _without_bare_starts(segments, doubt)
    if holidays is not None:
        segments = _with_holidays(text, segments, holidays, sun)
    else:
        segments = unless_holiday(segments, _if_a_holiday(text, segments, sun))
    spill = latest_spill(text)
    return StatedHours(tuple(_after_midnight(segments, spill) if spill else segments))


def is_readable(text: str) -> bool:
    """Tell whether the text is hours at all."""
    day = dt.date(2000, 1, 3)
    problem = stated_hours(text, day, day + dt.timedelta(days=1)).problem
    return problem in ("", NO_SUN)


def _on_the_calendar(
    reading: str, first: dt.datetime, last: dt.datetime, holidays: Holidays | None, sun: Sun | None
) -> list[Segment]:
    """Segments of one reading, its `PH` on the days of the calendar; empty if unreadable."""
    if holidays is None or holidays.in_evaluator:
        country = holidays.country if holidays else None
        return _evaluate(reading, first, last, country=country, sun=sun)
    ordinary = _evaluate(reading, first, last, country=None, sun=sun)
    festive = _evaluate(holiday_every_day(reading), first, last, country=None, sun=sun)
    both = bool(ordinary) and bool(festive)
    return replace_days(ordinary, festive, holidays.national) if both else []


def _if_a_holiday(text: str, segments: list[Segment], sun: Sun | None) -> list[Segment]:
    """Say what the text means if each day is a public holiday; unknown where it says nothing."""
    if has_holidays(text):
        first, last = segments[0].start, segments[-1].end
        possible = [
            _evaluate(holiday_every_day(reading), first, last, country=None, sun=sun)
            for reading in readings(text)
        ]
        if all(possible):
            return agreed(possible, HOLIDAY)
        return _doubted(segments, HOLIDAY)
    # Whoever never shuts does not shut for a holiday either.
    return _doubted(segments, HOLIDAY, shorter_than=dt.timedelta(days=1))


def _with_holidays(
    text: str, segments: list[Segment], holidays: Holidays, sun: Sun | None
) -> list[Segment]:
    """Doubt the days on which calendars differ, or of which the text says nothing."""
    if not has_holidays(text):
        # Whoever never shuts does not shut for a holiday either.
        doubted = _doubted(segments, HOLIDAY, shorter_than=dt.timedelta(days=1))
        return replace_days(segments, doubted, holidays.national)
    first, last = segments[0].start, segments[-1].end
    either = [
        _evaluate(reading, first, last, country=None, sun=sun)
        for reading in (text, holiday_every_day(text))
    ]
    if not all(either):
        doubted = _doubted(segments, REGIONAL)
    else:
        doubted = agreed([segments, *either], REGIONAL)
    return replace_days(segments, doubted, holidays.doubtful)


def _without_bare_starts(segments: Sequence[Segment], doubt: str) -> list[Segment]:
    """Make the stated minute of `10:00+` as unknown as what follows it."""
    result = list(segments)
    for i, (part, after) in enumerate(itertools.pairwise(segments)):
        bare = part.state is OpenState.OPEN and part.end - part.start <= dt.timedelta(minutes=1)
        if bare and after.state is OpenState.UNKNOWN and after.note == doubt:
            result[i] = part._replace(state=OpenState.UNKNOWN, note=after.note)
    return merged(result)


def _after_midnight(segments: Sequence[Segment], spill: dt.timedelta) -> list[Segment]:
    """Doubt a closing at midnight if the text has openings that run on.

    The evaluator cuts an opening off at midnight if another rule begins on the next day.
    """
    result: list[Segment] = []
    for part in segments:
        cut = result and result[-1].state is not OpenState.SHUT and part.start.time() == dt.time()
        if cut and part.state is OpenState.SHUT:
            until = min(part.end, part.start + spill)
            result.append(Segment(part.start, until, OpenState.UNKNOWN, PAST_MIDNIGHT))
            if until < part.end:
                result.append(part._replace(start=until))
        else:
            result.append(part)
    return merged(result)


def _sun_moves(sun: Sun, start: dt.date, end: dt.date, *, twilight: bool) -> bool:
    """Tell whether the events exist on every day; the evaluator makes up those that do not."""
    from resupply.hours.sun import dawn, sunrise

    event = dawn if twilight else sunrise
    days = (start + dt.timedelta(days=n) for n in range((end - start).days))
    return all(event(sun.lon, sun.lat, day, sun.zone) is not None for day in days)


def _evaluate(
    text: str, first: dt.datetime, last: dt.datetime, *, country: str | None, sun: Sun | None
) -> list[Segment]:
    """Segments of one reading; empty if it cannot be evaluated.

    Fallback rules are laid under the rules before them here: the evaluator drops them.
    """
    rules: list[list[Segment]] = []
    for part in fallbacks(text):
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
            # Without it the coordinates are not used; the stated zone stays in force.
            auto_timezone=sun is not None,
        )
        for since, until, state, comment in hours.intervals(first, last):
            known = states.get(state, OpenState.UNKNOWN)
            if known is OpenState.OPEN and comment:
                known = OpenState.UNKNOWN
            if sun is not None:
                since, until = since.replace(tzinfo=None), until.replace(tzinfo=None)
            note = " ".join(comment.split())[:NOTE_LENGTH] if comment else ""
            segments.append(Segment(since, until, known, note))
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
