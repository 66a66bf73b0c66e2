"""What a rider knows of a day before setting out: holidays, clocks, time zones, borders.

In: a `Prepared` and a leg. Out: `DayNotes`, values without words. What is not known is left out
and told as such: no calendar of a country is not "no holiday".
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.hours.holidays import country_by_zone, holidays_of
from resupply.plan.schedule import zone_info

if TYPE_CHECKING:
    from collections.abc import Callable

    from resupply.hours.holidays import Holidays
    from resupply.plan.prepared import Prepared
    from resupply.route.legs import Leg
    from resupply.route.route import Route

__all__ = ["Border", "ClockChange", "DayHoliday", "DayNotes", "ZoneChange", "notes_of"]

_EVERY_M: Final = 5_000.0
"""Zones are asked for so far apart: a shorter visit to a neighbour may be missed (our choice)."""
_WITHIN_M: Final = 250.0
"""How near to the line a crossing is found: zone outlines are no better (our choice)."""
_ROUTES_KEPT: Final = 4
"""Our choice: a rider has few open."""


@dataclass(frozen=True, slots=True)
class DayHoliday:
    """A public holiday on a day or a day of rest before it."""

    date: dt.date
    country: str
    """ISO 3166-1 code."""
    sure: bool
    """False where only a region keeps it, or two calendars differ."""


@dataclass(frozen=True, slots=True)
class ClockChange:
    """Clocks are changed on a day."""

    date: dt.date
    forward_s: int
    """Positive where they go forward."""


@dataclass(frozen=True, slots=True)
class ZoneChange:
    """A time zone crossed where the clock differs."""

    at_m: float
    forward_s: int
    """How far the clock goes forward there; negative for back."""


@dataclass(frozen=True, slots=True)
class Border:
    """A border crossed; between two countries, each by its ISO 3166-1 code."""

    at_m: float
    left: str
    entered: str


@dataclass(frozen=True, slots=True)
class DayNotes:
    """What is special on a riding day and the days of rest before it."""

    holidays: tuple[DayHoliday, ...]
    no_calendar: tuple[str, ...]
    """Countries passed whose holidays are not known."""
    clocks: tuple[ClockChange, ...]
    zones: tuple[ZoneChange, ...]
    borders: tuple[Border, ...]


def notes_of(prepared: Prepared, leg: Leg) -> DayNotes:
    """Work out what is special on a day.

    Parameters
    ----------
    prepared
        Where the trip states its time zone the clock is that one all the way; borders are those of
        the places all the same.
    """
    dates = [leg.date - dt.timedelta(days=n) for n in range(leg.rest_days_before, -1, -1)]
    spans = zone_spans(prepared.route, prepared.zone_of)
    here = [
        (max(at_m, leg.start_m), name)
        for (at_m, name), (end_m, _) in zip(spans, [*spans[1:], (np.inf, "")], strict=True)
        if end_m > leg.start_m and at_m < leg.end_m
    ]
    countries = [(at_m, _country(name)) for at_m, name in here]
    known = [(at_m, code) for at_m, code in countries if code]
    borders = tuple(
        Border(at_m, left, entered)
        for (_, left), (at_m, entered) in pairwise(known)
        if left != entered
    )
    whose = [prepared.country] if prepared.country else list(dict.fromkeys(c for _, c in known))
    calendars = {code: _calendar(code, leg.date.year) for code in whose}
    holidays = [
        DayHoliday(date, code, date in calendar.national - calendar.doubtful)
        for date in dates
        for code, calendar in calendars.items()
        if calendar is not None and date in calendar.national | calendar.doubtful
    ]
    zones = () if prepared.zone else _zone_changes(here, leg)
    return DayNotes(
        holidays=tuple(holidays),
        no_calendar=tuple(code for code, calendar in calendars.items() if calendar is None),
        clocks=tuple(change for date in dates if (change := _clock_change(leg, date))),
        zones=zones,
        borders=borders,
    )


@lru_cache(maxsize=_ROUTES_KEPT)
def zone_spans(
    route: Route, zone_of: Callable[[float, float], str | None]
) -> tuple[tuple[float, str], ...]:
    """Where each time zone begins along a route, metres, and its name ("" where none is known)."""

    def name_at(at_m: float) -> str:
        return zone_of(*route.position_at(at_m)) or ""

    grid_m = np.append(np.arange(0.0, route.length_m, _EVERY_M), route.length_m)
    names = [name_at(float(at_m)) for at_m in grid_m]
    spans = [(0.0, names[0])]
    for k in range(1, len(names)):
        if names[k] != names[k - 1]:
            low, high = float(grid_m[k - 1]), float(grid_m[k])
            while high - low > _WITHIN_M:
                middle = (low + high) / 2.0
                low, high = (low, middle) if name_at(middle) == names[k] else (middle, high)
            spans.append((high, names[k]))
    return tuple(spans)


def _country(zone: str) -> str | None:
    return _countries().get(zone)


@cache
def _countries() -> dict[str, str]:
    return country_by_zone()


@cache
def _calendar(country: str, year: int) -> Holidays | None:
    """Holidays of a year and the days around it, on which a trip may begin or end."""
    return holidays_of(country, dt.date(year - 1, 12, 1), dt.date(year + 1, 2, 1))


def _clock_change(leg: Leg, date: dt.date) -> ClockChange | None:
    zone = leg.depart.tzinfo
    midnights = [
        dt.datetime.combine(date + dt.timedelta(days=n), dt.time(), tzinfo=zone).utcoffset()
        for n in (0, 1)
    ]
    before, after = midnights
    if before is None or after is None or before == after:
        return None
    return ClockChange(date, round((after - before).total_seconds()))


def _zone_changes(here: list[tuple[float, str]], leg: Leg) -> tuple[ZoneChange, ...]:
    known = [(at_m, name) for at_m, name in here if name]
    changes = []
    for (_, one), (at_m, other) in pairwise(known):
        when = leg.eta(at_m)
        offsets = [when.astimezone(zone_info(name)).utcoffset() for name in (one, other)]
        before, after = offsets
        if before is not None and after is not None and before != after:
            changes.append(ZoneChange(at_m, round((after - before).total_seconds())))
    return tuple(changes)
