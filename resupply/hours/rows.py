"""Rows of a time line, one for each distinct text, zone, country and season.

In: places with their texts and tags. Out: rows of stretches in UTC, each distinct one once.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from resupply.hours.intervals import OpenSpan
from resupply.hours.limits import LIMITING_TAGS, limited
from resupply.hours.readings import has_sun
from resupply.hours.state import OpenState, Segment
from resupply.hours.stated import Sun, stated_hours

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from resupply.hours.holidays import Holidays
    from resupply.places.place import Place

__all__ = ["HoursRows"]


class HoursRows:
    """A growing table of rows over one span.

    Parameters
    ----------
    first, last
        UTC days, last exclusive.
    """

    def __init__(self, first: dt.date, last: dt.date) -> None:
        self.start_s = _midnight_s(first)
        self.end_s = _midnight_s(last)
        self.local_span = (first - dt.timedelta(days=1), last + dt.timedelta(days=1))
        self.rows: list[list[OpenSpan]] = []
        self.problems: list[str] = []
        self._found: dict[tuple[object, ...], int] = {}

    def nothing(self, problem: str) -> int:
        """Row on which nothing is known."""
        key = (problem,)
        if key not in self._found:
            unknown = OpenSpan(self.start_s, self.end_s, OpenState.UNKNOWN, problem)
            self._found[key] = self._append([unknown], problem)
        return self._found[key]

    def add(self, place: Place, text: str | None, zone: ZoneInfo, holidays: Holidays | None) -> int:
        """Row of a place's hours, evaluated unless an equal one is there."""
        sun = None
        if text and has_sun(text):
            # A hundredth of a degree moves the sun by less than five seconds.
            sun = Sun(round(place.lon, 2), round(place.lat, 2), zone)
        limits = tuple(place.tags.get(key) for key in LIMITING_TAGS)
        north = place.lat >= 0.0
        key = (text, zone.key, holidays.country if holidays else None, sun, limits, north)
        if key not in self._found:
            hours = stated_hours(text, *self.local_span, holidays=holidays, sun=sun)
            segments = limited(
                hours.segments, place.tags, text or "", north=north, holidays=holidays
            )
            self._found[key] = self._append(self._stretches(segments, zone), hours.problem)
        return self._found[key]

    def _append(self, stretches: list[OpenSpan], problem: str) -> int:
        self.rows.append(stretches)
        self.problems.append(problem)
        return len(self.rows) - 1

    def _stretches(self, segments: Sequence[Segment], zone: ZoneInfo) -> list[OpenSpan]:
        result: list[OpenSpan] = []
        at_s = self.start_s
        for part in segments:
            end_s = min(_epoch_s(part.end, zone), self.end_s)
            if end_s > at_s:
                result.append(OpenSpan(at_s, end_s, part.state, part.note))
                at_s = end_s
        return result


def _midnight_s(day: dt.date) -> int:
    return int(dt.datetime.combine(day, dt.time(), tzinfo=dt.UTC).timestamp())


def _epoch_s(local: dt.datetime, zone: ZoneInfo) -> int:
    """UTC epoch of a local time; of a time that occurs twice, the first.

    A time that a clock change skips is taken as if the clock had not changed.
    """
    return int(local.replace(tzinfo=zone).timestamp())
