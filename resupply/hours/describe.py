"""What the hours of a place are around an arrival, in plain words.

In: a timetable, a place and a time. Out: a `Described`: the state, a sentence, the next change.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from resupply.common.quantity import Sentence, closing, date, day_time, line, listed, name, time
from resupply.common.units import S_PER_DAY
from resupply.hours.intervals import row_since
from resupply.hours.limits import is_limit
from resupply.hours.state import BY_HOURS, OpenState
from resupply.hours.stated import HOLIDAY, NO_TEXT, NOTE_LENGTH
from resupply.hours.timetable import DAYS_AFTER, usual_state

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.common.quantity import Part
    from resupply.hours.intervals import OpenSpan
    from resupply.hours.timetable import Timetable

__all__ = ["Described", "describe"]

OLD_CHECK_YEARS: Final = 5.0
"""A shop last looked at longer ago is told. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Described:
    """Hours around one arrival in plain words."""

    state: OpenState
    """At the nominal arrival, its doubt left aside: OPEN, UNLESS_HOLIDAY, SHUT or UNKNOWN."""
    words: Sentence
    """E.g. "open 08:00–19:00", "shut, opens Mon 08:00", "hours not known (on the map: …)"."""
    next_open: dt.datetime | None
    """Next stated opening after the arrival, local; None if none is known."""
    next_close: dt.datetime | None
    """End of the opening at hand, else of the next one, local; None if not known."""
    usual: str
    """E.g. "usually open then (estimate)"; empty where there is no estimate."""
    holiday_unsaid: bool = False
    """It is a public holiday, of which the hours as tagged say nothing."""
    unsaid: bool = False
    """The map has nothing at all on the place's season and hours."""


def describe(timetable: Timetable, place_ix: int, arrive_s: float) -> Described:
    """Say in plain words what the hours are around an arrival.

    Parameters
    ----------
    place_ix
        Index into the places of the timetable.
    arrive_s
        UTC epoch seconds.
    """
    # Estimates exist only where the stated hours cannot be read.
    usual = _usual_words(timetable, place_ix, arrive_s) if timetable.problems[place_ix] else ""
    text = timetable.texts[place_ix]
    # Hours as tagged stay as they are, on every clock.
    tagged = (
        line("on the map: {hours}", hours=name(_short(text))) if text and text.strip() else None
    )
    checked = _checked_words(timetable.checked[place_ix], arrive_s)
    if not timetable.start_s <= arrive_s < timetable.end_s:
        return _not_known("outside the trip's dates", tagged, checked, usual)
    # A timetable may reach farther for one asker than for another; the words may not.
    known_s = arrive_s + DAYS_AFTER * S_PER_DAY
    parts = row_since(timetable.stated, int(timetable.row[place_ix]), arrive_s)
    now, later = parts[0], [part for part in parts[1:] if part.start_s < known_s]
    problem = timetable.problems[place_ix]
    if problem and now.state is OpenState.UNKNOWN:
        return _not_known(now.note or problem, tagged, checked, usual)
    usual, zone = "", ZoneInfo(timetable.zones[place_ix])
    opening = next((part for part in later if part.state in BY_HOURS), None)
    shown = now if now.state in BY_HOURS else opening
    # What is not known to follow cannot be called a closing.
    after = next((part for part in later if shown and part.start_s == shown.end_s), None)
    closes = after is not None and after.state is OpenState.SHUT
    return Described(
        state=now.state,
        words=line(
            "{hours}{checked}",
            hours=_words(now, later, _Around(_local(arrive_s, zone)), tagged),
            checked=checked,
        ),
        next_open=_local(opening.start_s, zone) if opening else None,
        next_close=_local(shown.end_s, zone) if shown and closes else None,
        usual=usual,
        holiday_unsaid=now.note == HOLIDAY,
    )


def _not_known(reason: str, tagged: Part, checked: str, usual: str) -> Described:
    why = listed([name(reason) if is_limit(reason) else None, tagged], "; ")
    if not why and reason != NO_TEXT:
        why = line("{reason}", reason=name(reason))
    words = line(
        "hours not known{why}{checked}",
        why=line(" ({why})", why=why) if why else None,
        checked=checked,
    )
    return Described(OpenState.UNKNOWN, words, None, None, usual, unsaid=not why)


def _checked_words(checked: dt.date | None, arrive_s: float) -> str:
    """Say when somebody last looked, where that is long ago."""
    if checked is None:
        return ""
    years = (dt.datetime.fromtimestamp(arrive_s, dt.UTC).date() - checked).days / 365.25
    return f"; last checked in {checked.year}" if years >= OLD_CHECK_YEARS else ""


def _usual_words(timetable: Timetable, place_ix: int, arrive_s: float) -> str:
    return {
        OpenState.OPEN: "usually open then (estimate)",
        OpenState.UNLESS_HOLIDAY: "usually open then (estimate)",
        OpenState.SHUT: "usually shut then (estimate)",
    }.get(usual_state(timetable, place_ix, arrive_s), "")


def _words(now: OpenSpan, later: Sequence[OpenSpan], around: _Around, tagged: Part) -> Sentence:
    if now.state is OpenState.UNKNOWN:
        why = listed([name(now.note), tagged], "; ")
        return line("hours not known then ({why})", why=why)
    if now.state is OpenState.UNLESS_HOLIDAY:
        ordinary = now._replace(state=OpenState.OPEN)
        hours = _words(ordinary, later, around, tagged)
        return line("{hours} unless it is a public holiday", hours=hours)
    following = later[0] if later else None
    if now.state is OpenState.OPEN:
        if following is None:
            if around.arrive.timestamp() - now.start_s >= S_PER_DAY:
                return line("open around the clock")
            return line("open since {day}", day=day_time(around.local(now.start_s)))
        since, until = around.local(now.start_s), around.local(now.end_s)
        if following.state is OpenState.UNKNOWN:
            return line(
                "open until {when}, then not known ({note})",
                when=around.day(now.end_s),
                note=name(following.note),
            )
        if since.date() == around.arrive.date() and now.end_s - now.start_s <= S_PER_DAY:
            return line("open {since}–{until}", since=time(since), until=closing(until))
        return line("open until {when}", when=around.day(now.end_s))
    shut = line(" ({note})", note=name(now.note)) if now.note else None
    if following is None:
        return line("shut{why}", why=shut or ", and for a week after")
    when = around.day(following.start_s)
    if following.state is OpenState.UNKNOWN:
        note = name(following.note)
        return line("shut{why}, from {when} not known ({note})", why=shut, when=when, note=note)
    return line("shut{why}, opens {when}", why=shut, when=when)


@dataclass(frozen=True, slots=True)
class _Around:
    """Tells times around an arrival, in its zone."""

    arrive: dt.datetime

    def local(self, epoch_s: float) -> dt.datetime:
        return dt.datetime.fromtimestamp(epoch_s, self.arrive.tzinfo)

    def day(self, epoch_s: float) -> Part:
        """Clock time, with the weekday or date where it is not the same day."""
        when = self.local(epoch_s)
        if when.date() == self.arrive.date():
            return time(when)
        if when.date() - self.arrive.date() < dt.timedelta(days=7):
            return day_time(when)
        year = f" {when.year}" if when.year != self.arrive.year else None
        return line("{date}{year} {time}", date=date(when), year=year, time=time(when))


def _local(epoch_s: float, zone: ZoneInfo) -> dt.datetime:
    return dt.datetime.fromtimestamp(epoch_s, zone)


def _short(text: str) -> str:
    short = " ".join(text.split())
    return short if len(short) <= NOTE_LENGTH else short[: NOTE_LENGTH - 1] + "…"
