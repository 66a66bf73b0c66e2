"""When each place is open: a timetable made once, then asked for any number of arrivals.

In: places, a span of time, each place's zone and country. Out: a `Timetable`, arrays on one
UTC time line, so that the solver can ask the state of thousands of passes for many possible
arrivals at once. Unknown is never taken for open.
"""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from resupply.hours.holidays import country_by_zone, holidays_of
from resupply.hours.intervals import (
    OpenSpan,
    OpenTimes,
    known_runs,
    look_up,
    make_timeline,
    open_share,
    row_since,
    shut_throughout,
)
from resupply.hours.limits import is_limit, last_checked
from resupply.hours.rows import HoursRows
from resupply.hours.state import OpenState
from resupply.places.fuels import is_unmanned

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import ArrayLike, NDArray

    from resupply.hours.holidays import Holidays
    from resupply.hours.usual import UsualHours
    from resupply.places.place import Place

__all__ = [
    "DAYS_AFTER",
    "OpenState",
    "Timetable",
    "build_timetable",
    "is_limited",
    "known_around",
    "open_shares",
    "shut_around",
    "states",
    "usual_state",
    "usual_states",
]

DAYS_BEFORE: Final = 1
"""Hours of the evening before the start may last past midnight."""
DAYS_AFTER: Final = 8
"""Days evaluated around the trip, so that the next opening can be named."""
ALWAYS: Final = "24/7"
"""Usual hours of pumps without staff (common practice, no source)."""
NO_ZONE: Final = "the time zone is not known"


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


def usual_state(timetable: Timetable, place_ix: int, at_s: float) -> OpenState:
    """Estimate for one place at one instant, UTC epoch seconds; as `usual_states`."""
    if not timetable.start_s <= at_s < timetable.end_s:
        return OpenState.UNKNOWN
    return row_since(timetable.usual, int(timetable.usual_row[place_ix]), at_s)[0].state


def known_around(
    timetable: Timetable,
    place_ix: int,
    at_s: float,
    *,
    since_s: float = -math.inf,
    until_s: float = math.inf,
) -> tuple[OpenSpan, ...]:
    """Stretches, open and shut, for which the stated hours are known without a hole around a time.

    Parameters
    ----------
    place_ix
        Index into the places of the timetable.
    at_s
        UTC epoch seconds.
    since_s, until_s
        Only stretches that meet this span, UTC epoch seconds, are given.

    Returns
    -------
    tuple of OpenSpan
        In order; empty where nothing is known at that time.
    """
    if timetable.problems[place_ix] or not timetable.start_s <= at_s < timetable.end_s:
        return ()
    for run in known_runs(timetable.stated, int(timetable.row[place_ix])):
        if run[0].start_s <= at_s < run[-1].end_s:
            first = bisect_right(run, since_s, key=attrgetter("end_s"))
            return run[first : bisect_left(run, until_s, lo=first, key=attrgetter("start_s"))]
    return ()


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


def _zone(name: str | None) -> ZoneInfo | None:
    if not name:
        return None
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        # A folder of zones ("Europe") or a name too long is an OSError.
        return None
