"""What the hours of a place are around an arrival, in plain words.

In: a timetable, a place and a time. Out: a `Described`: the state, a sentence, the next change.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from resupply.common.units import format_clock
from resupply.hours.intervals import row_since
from resupply.hours.limits import is_limit
from resupply.hours.state import BY_HOURS, OpenState
from resupply.hours.stated import NO_TEXT, NOTE_LENGTH
from resupply.hours.timetable import usual_states

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.common.units import Clock
    from resupply.hours.intervals import OpenSpan
    from resupply.hours.timetable import Timetable

__all__ = ["Described", "describe"]

OLD_CHECK_YEARS: Final = 5.0
"""A shop last looked at longer ago is told. Common practice, no source."""
_WEEKDAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class Described:
    """Hours around one arrival in plain words. Texts may hold map text: escape them."""

    state: OpenState
    """At the nominal arrival, its doubt left aside: OPEN, UNLESS_HOLIDAY, SHUT or UNKNOWN."""
    text: str
    """E.g. "open 08:00–19:00", "shut, opens Mon 08:00", "hours not known (as tagged: …)"."""
    next_open: dt.datetime | None
    """Next stated opening after the arrival, local; None if none is known."""
    next_close: dt.datetime | None
    """End of the opening at hand, else of the next one, local; None if not known."""
    usual: str
    """E.g. "usually open then (estimate)"; empty where there is no estimate."""
    unsaid: bool = False
    """The map has nothing at all on the place's season and hours."""


def describe(
    timetable: Timetable, place_ix: int, arrive_s: float, *, clock: Clock = 24
) -> Described:
    """Say in plain words what the hours are around an arrival.

    Parameters
    ----------
    place_ix
        Index into the places of the timetable.
    arrive_s
        UTC epoch seconds.
    clock
        The rider's 12 or 24 hour clock; hours as tagged stay as they are.
    """
    # Estimates exist only where the stated hours cannot be read.
    usual = _usual_words(timetable, place_ix, arrive_s) if timetable.problems[place_ix] else ""
    text = timetable.texts[place_ix]
    tagged = f"as tagged: {_short(text)}" if text and text.strip() else ""
    checked = _checked_words(timetable.checked[place_ix], arrive_s)
    if not timetable.start_s <= arrive_s < timetable.end_s:
        return _not_known("outside the trip's dates", tagged, checked, usual)
    parts = row_since(timetable.stated, int(timetable.row[place_ix]), arrive_s)
    now, later = parts[0], parts[1:]
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
        text=_words(now, later, _Said(_local(arrive_s, zone), clock), timetable, tagged) + checked,
        next_open=_local(opening.start_s, zone) if opening else None,
        next_close=_local(shown.end_s, zone) if shown and closes else None,
        usual=usual,
    )


def _not_known(reason: str, tagged: str, checked: str, usual: str) -> Described:
    limit = reason if is_limit(reason) else ""
    why = "; ".join(filter(None, (limit, tagged))) or ("" if reason == NO_TEXT else reason)
    words = f"hours not known ({why})" if why else "hours not known"
    return Described(OpenState.UNKNOWN, words + checked, None, None, usual, unsaid=not why)


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
    }.get(OpenState(int(usual_states(timetable, place_ix, arrive_s, 0, 0))), "")


def _words(
    now: OpenSpan, later: Sequence[OpenSpan], said: _Said, timetable: Timetable, tagged: str
) -> str:
    if now.state is OpenState.UNKNOWN:
        return f"hours not known then ({now.note}; {tagged})"
    if now.state is OpenState.UNLESS_HOLIDAY:
        ordinary = now._replace(state=OpenState.OPEN)
        return f"{_words(ordinary, later, said, timetable, tagged)} unless it is a public holiday"
    following = later[0] if later else None
    if now.state is OpenState.OPEN:
        if following is None:
            whole = now.start_s <= timetable.start_s
            return "open around the clock" if whole else f"open since {said.weekday(now.start_s)}"
        since, until = said.local(now.start_s), said.local(now.end_s)
        if following.state is OpenState.UNKNOWN:
            return f"open until {said.day(now.end_s)}, then not known ({following.note})"
        if since.date() == said.arrive.date() and now.end_s - now.start_s <= 86_400:
            return f"open {format_clock(since, said.clock)}–{said.closing(until, since)}"
        return f"open until {said.day(now.end_s)}"
    why = f" ({now.note})" if now.note else ""
    if following is None:
        return f"shut{why}" if why else "shut for all of the time looked at"
    when = said.day(following.start_s)
    if following.state is OpenState.UNKNOWN:
        return f"shut{why}, from {when} not known ({following.note})"
    return f"shut{why}, opens {when}"


@dataclass(frozen=True, slots=True)
class _Said:
    """Says times around an arrival, in its zone, on the rider's clock."""

    arrive: dt.datetime
    clock: Clock

    def local(self, epoch_s: float) -> dt.datetime:
        return dt.datetime.fromtimestamp(epoch_s, self.arrive.tzinfo)

    def weekday(self, epoch_s: float) -> str:
        when = self.local(epoch_s)
        return f"{_WEEKDAYS[when.weekday()]} {format_clock(when, self.clock)}"

    def day(self, epoch_s: float) -> str:
        """Clock time, with the weekday or date where it is not the same day."""
        when = self.local(epoch_s)
        if when.date() == self.arrive.date():
            return format_clock(when, self.clock)
        if when.date() - self.arrive.date() < dt.timedelta(days=7):
            return self.weekday(epoch_s)
        return f"{when:%Y-%m-%d} {format_clock(when, self.clock)}"

    def closing(self, until: dt.datetime, since: dt.datetime) -> str:
        midnight = until.time() == dt.time() and until.date() - since.date() == dt.timedelta(days=1)
        if midnight:
            return "24:00" if self.clock == 24 else "midnight"
        return format_clock(until, self.clock)


def _local(epoch_s: float, zone: ZoneInfo) -> dt.datetime:
    return dt.datetime.fromtimestamp(epoch_s, zone)


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= NOTE_LENGTH else line[: NOTE_LENGTH - 1] + "…"
