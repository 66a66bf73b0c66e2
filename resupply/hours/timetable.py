"""When each place is open: a timetable made once, then asked for any number of arrivals.

In: places, a span of time, each place's zone and country. Out: a `Timetable`, arrays on one
UTC time line, so that the solver can ask the state of thousands of passes for many possible
arrivals at once. Unknown is never taken for open.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from resupply.common.units import format_clock
from resupply.hours.holidays import country_by_zone, holidays_of
from resupply.hours.intervals import (
    OpenSpan,
    OpenTimes,
    look_up,
    make_timeline,
    open_share,
    row_of,
    row_since,
    shut_throughout,
)
from resupply.hours.limits import is_limit, last_checked
from resupply.hours.rows import HoursRows
from resupply.hours.state import BY_HOURS, OpenState
from resupply.hours.stated import NO_TEXT, NOTE_LENGTH
from resupply.places.fuels import is_unmanned

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import ArrayLike, NDArray

    from resupply.common.units import Clock
    from resupply.hours.holidays import Holidays
    from resupply.hours.usual import UsualHours
    from resupply.places.place import Place

__all__ = [
    "Described",
    "OpenState",
    "Timetable",
    "build_timetable",
    "describe",
    "is_limited",
    "known_around",
    "open_shares",
    "open_state",
    "shut_around",
    "states",
    "usual_states",
]

DAYS_BEFORE: Final = 1
"""Hours of the evening before the start may last past midnight."""
DAYS_AFTER: Final = 8
"""Days evaluated around the trip, so that the next opening can be named."""
OLD_CHECK_YEARS: Final = 5.0
"""A shop last looked at longer ago is told. Common practice, no source."""
ALWAYS: Final = "24/7"
"""Usual hours of pumps without staff (common practice, no source)."""
NO_ZONE: Final = "the time zone is not known"
_WEEKDAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True, eq=False)
class Timetable:
    """Open states of m places over a span of time. Arrays are read-only."""

    start_s: int
    """UTC epoch of the span's start; nothing is known before it or after its end."""
    end_s: int
    row: NDArray[np.int64]
    """(m,) each place's row in `stated`."""
    stated: OpenTimes
    """What the map's hours say."""
    usual_row: NDArray[np.int64]
    """(m,) each place's row in `usual`; a row wholly unknown where there is no estimate."""
    usual: OpenTimes
    """What is usual for such a shop there: an estimate."""
    zones: tuple[str, ...]
    """(m,) time zone name of each place, "" where not known."""
    texts: tuple[str | None, ...]
    """(m,) hours as tagged; hostile text."""
    problems: tuple[str, ...]
    """(m,) why nothing is known of the place; empty where its hours could be read."""
    checked: tuple[dt.date | None, ...]
    """(m,) when somebody last looked at the place or its hours; None where the map does not say."""
    has_calendar: NDArray[np.bool_]
    """(m,) whether public holidays are known there. Where they are not, hours that say nothing
    of holidays are taken as they stand, so somebody has to be told."""


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


def build_timetable(
    places: Sequence[Place],
    *,
    start: dt.datetime,
    end: dt.datetime,
    zone_of: Callable[[float, float], str | None] | str,
    country: str | None = None,
    country_zone_of: Callable[[float, float], str | None] | None = None,
    usual: UsualHours | None = None,
) -> Timetable:
    """Evaluate the hours of every place, each distinct text once.

    Parameters
    ----------
    places
        In the order in which they will be asked for by index.
    start, end
        Aware; the trip. A day before and eight days after are evaluated too.
    zone_of
        Longitude and latitude to time zone name (None where there is none), or one name
        for all.
    country
        ISO 3166-1 code for all places; None to take each place's from its time zone.
    country_zone_of
        Longitude and latitude to the time zone name that tells the country, where `zone_of` is
        one clock for the whole trip.
    usual
        Usual hours by kind and country, for places without readable hours.
    """
    first = start.astimezone(dt.UTC).date() - dt.timedelta(days=DAYS_BEFORE)
    last = end.astimezone(dt.UTC).date() + dt.timedelta(days=DAYS_AFTER)
    stated, estimates = HoursRows(first, last), HoursRows(first, last)
    no_estimate = estimates.nothing("")
    by_zone = {} if country else country_by_zone()
    calendars: dict[str | None, Holidays | None] = {}
    row: list[int] = []
    usual_row: list[int] = []
    zones: list[str] = []
    has_calendar: list[bool] = []
    for place in places:
        name = zone_of if isinstance(zone_of, str) else zone_of(place.lon, place.lat)
        zone = _zone(name)
        there = country_zone_of(place.lon, place.lat) if country_zone_of else name
        home = country or by_zone.get(there or "")
        if home not in calendars:
            # A day wider than the span, for zones far from Greenwich.
            calendars[home] = holidays_of(home, *stated.local_span)
        zones.append(zone.key if zone else "")
        has_calendar.append(calendars[home] is not None)
        if zone is None:
            row.append(stated.nothing(NO_ZONE))
            usual_row.append(no_estimate)
            continue
        row.append(stated.add(place, place.opening_hours, zone, calendars[home]))
        guess = None
        if stated.problems[row[-1]]:
            always = ALWAYS if is_unmanned(place.tags) else None
            guess = always or (usual.text(place.kind, home) if usual else None)
        usual_row.append(
            no_estimate if guess is None else estimates.add(place, guess, zone, calendars[home])
        )
    ix = np.array(row, dtype=np.int64)
    usual_ix = np.array(usual_row, dtype=np.int64)
    known = np.array(has_calendar, dtype=bool)
    ix.flags.writeable = usual_ix.flags.writeable = known.flags.writeable = False
    return Timetable(
        start_s=stated.start_s,
        end_s=stated.end_s,
        row=ix,
        stated=make_timeline(stated.rows, stated.start_s, stated.end_s),
        usual_row=usual_ix,
        usual=make_timeline(estimates.rows, stated.start_s, stated.end_s),
        zones=tuple(zones),
        texts=tuple(place.opening_hours for place in places),
        problems=tuple(stated.problems[r] for r in row),
        checked=tuple(last_checked(place.tags) for place in places),
        has_calendar=known,
    )


def states(
    timetable: Timetable,
    place_ix: ArrayLike,
    arrive_s: ArrayLike,
    half_width_s: ArrayLike,
    stay_s: ArrayLike,
) -> NDArray[np.int8]:
    """Open state of each visit by the stated hours, as codes of `OpenState`.

    The visit may take place anywhere in [arrive - half width, arrive + half width + stay].
    OPEN, or UNLESS_HOLIDAY, if that lies within one opening; SHUT if the door is shut at the
    planned time; UNKNOWN if what is not known would matter; else TIGHT.

    Parameters
    ----------
    place_ix
        Index into the places of the timetable.
    arrive_s
        UTC epoch seconds.
    half_width_s, stay_s
        Seconds, >= 0. All four broadcast together.

    Returns
    -------
    ndarray of int8
        In the broadcast shape. Outside the timetable's span UNKNOWN.
    """
    return _ask(timetable.stated, timetable.row, place_ix, arrive_s, half_width_s, stay_s)


def usual_states(
    timetable: Timetable,
    place_ix: ArrayLike,
    arrive_s: ArrayLike,
    half_width_s: ArrayLike,
    stay_s: ArrayLike,
) -> NDArray[np.int8]:
    """Estimate for places without readable hours: as `states`, by what is usual there.

    OPEN reads "usually open then" and is always an estimate; UNKNOWN means no estimate, as
    for every place whose stated hours could be read.
    """
    return _ask(timetable.usual, timetable.usual_row, place_ix, arrive_s, half_width_s, stay_s)


def open_shares(
    timetable: Timetable,
    place_ix: ArrayLike,
    arrive_s: ArrayLike,
    half_width_s: ArrayLike,
    stay_s: ArrayLike,
) -> NDArray[np.float64]:
    """Share of each visit's window in which the door is open by stated hours; as `states`."""
    arrive, half = np.asarray(arrive_s, float), np.asarray(half_width_s, float)
    row = timetable.row[np.asarray(place_ix)]
    return open_share(timetable.stated, row, arrive - half, arrive + half + stay_s)


def shut_around(
    timetable: Timetable, place_ix: ArrayLike, at_s: ArrayLike, half_width_s: ArrayLike
) -> NDArray[np.bool_]:
    """Tell which places are known to be shut all the time around an instant; as `states`."""
    at, half = np.asarray(at_s, float), np.asarray(half_width_s, float)
    row = timetable.row[np.asarray(place_ix)]
    return shut_throughout(timetable.stated, row, at - half, at + half)


def open_state(
    place: Place,
    arrive: dt.datetime,
    half_width: dt.timedelta,
    stay: dt.timedelta,
    *,
    zone: str,
    country: str | None = None,
) -> OpenState:
    """Open state of one visit; the same rules as `states`.

    Parameters
    ----------
    arrive
        Aware.
    zone
        Time zone name of the place.
    """
    table = build_timetable([place], start=arrive, end=arrive, zone_of=zone, country=country)
    code = states(table, 0, arrive.timestamp(), half_width.total_seconds(), stay.total_seconds())
    return OpenState(int(code))


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


def is_limited(timetable: Timetable, place_ix: int, at_s: float) -> bool:
    """Tell whether a place may not be there at that time: out of season, dry, gone by then.

    Parameters
    ----------
    at_s
        UTC epoch seconds.
    """
    if not timetable.start_s <= at_s < timetable.end_s:
        return False
    now = row_since(timetable.stated, int(timetable.row[place_ix]), at_s)[0]
    return now.state is OpenState.UNKNOWN and is_limit(now.note)


def known_around(timetable: Timetable, place_ix: int, at_s: float) -> tuple[OpenSpan, ...]:
    """Stretches, open and shut, for which the stated hours are known without a hole around a time.

    Parameters
    ----------
    place_ix
        Index into the places of the timetable.
    at_s
        UTC epoch seconds.

    Returns
    -------
    tuple of Stretch
        In order; empty where nothing is known at that time.
    """
    if timetable.problems[place_ix] or not timetable.start_s <= at_s < timetable.end_s:
        return ()
    found: list[OpenSpan] = []
    for part in row_of(timetable.stated, int(timetable.row[place_ix])):
        if part.state is not OpenState.UNKNOWN:
            found.append(part)
        elif part.start_s > at_s:
            break
        else:
            found.clear()
    around = found and found[0].start_s <= at_s < found[-1].end_s
    return tuple(found) if around else ()


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


def _ask(
    line: OpenTimes,
    row: NDArray[np.int64],
    place_ix: ArrayLike,
    arrive_s: ArrayLike,
    half_width_s: ArrayLike,
    stay_s: ArrayLike,
) -> NDArray[np.int8]:
    arrive = np.asarray(arrive_s, float)
    half = np.asarray(half_width_s, float)
    return look_up(line, row[np.asarray(place_ix)], arrive - half, arrive + half + stay_s, arrive)


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


def _zone(name: str | None) -> ZoneInfo | None:
    if not name:
        return None
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        # A folder of zones ("Europe") or a name too long is an OSError.
        return None
