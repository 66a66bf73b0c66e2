"""Air temperature through the trip, from each day's low and high.

In: days with a low and a high, or with neither (not stated). Out: `Ambient`, half-cosines
between each low (about sunrise) and each high (mid-afternoon). A day without figures is not
known, and nothing is guessed for it.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.errors import TripFileError
from resupply.common.units import S_PER_DAY

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Ambient",
    "DayWeather",
    "Span",
    "Surroundings",
    "make_ambient",
    "sun_spans",
]

Span = tuple[float, float]
"""Start and end, UTC seconds since 1970."""


@dataclass(frozen=True, slots=True)
class DayWeather:
    """One local day's low and high; both None where not known."""

    date: dt.date
    low_c: float | None
    high_c: float | None
    source: str
    """Where the figures come from, in words; shown to the rider."""
    low_at: dt.time = dt.time(6, 0)
    """Local time of the low, about sunrise."""
    high_at: dt.time = dt.time(15, 0)
    """Local time of the high (common practice, no source)."""

    def __post_init__(self) -> None:
        where = f"weather of {self.date}"
        if self.low_at >= self.high_at:
            raise TripFileError("the low must come before the high", where=where)
        if self.low_c is None or self.high_c is None:
            return
        if not (math.isfinite(self.low_c) and math.isfinite(self.high_c)):
            raise TripFileError("low and high must be numbers", where=where)
        if self.low_c > self.high_c:
            raise TripFileError("low is above high", where=where, mend="Swap the two")

    @property
    def known(self) -> bool:
        """Both figures are there."""
        return self.low_c is not None and self.high_c is not None


@dataclass(frozen=True, slots=True, eq=False)
class Ambient:
    """Air temperature as a function of time; not a number where not known."""

    knots_s: NDArray[np.float64]
    """(k,) times of lows and highs, UTC seconds since 1970, increasing."""
    knots_c: NDArray[np.float64]
    """(k,) temperature there."""
    known: tuple[Span, ...]
    """Whole local days with figures, sorted, merged."""
    area_k_s: NDArray[np.float64]
    """(k,) integral of the temperature from the first knot."""

    def at(self, times_s: ArrayLike) -> NDArray[np.float64]:
        """Air temperature at each time, °C, same shape; NaN where not known."""
        at_s = np.asarray(times_s, float)
        if len(self.knots_s) < 2:
            return np.full(at_s.shape, np.nan)
        k, x = self._position(at_s)
        a_c, b_c = self.knots_c[k], self.knots_c[k + 1]
        value_c = (a_c + b_c) / 2.0 - (b_c - a_c) / 2.0 * np.cos(np.pi * x)
        return np.where(self._is_known(at_s, at_s), value_c, np.nan)

    def mean(self, from_s: ArrayLike, to_s: ArrayLike) -> NDArray[np.float64]:
        """Exact mean over each interval of positive length; NaN where any of it is not known."""
        start_s, end_s = np.asarray(from_s, float), np.asarray(to_s, float)
        if len(self.knots_s) < 2:
            return np.full(start_s.shape, np.nan)
        mean_c = (self._area(end_s) - self._area(start_s)) / (end_s - start_s)
        return np.where(self._is_known(start_s, end_s), mean_c, np.nan)

    def _position(self, at_s: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        k = np.clip(np.searchsorted(self.knots_s, at_s, "right") - 1, 0, len(self.knots_s) - 2)
        x = (at_s - self.knots_s[k]) / (self.knots_s[k + 1] - self.knots_s[k])
        return k, np.clip(x, 0.0, 1.0)

    def _area(self, at_s: NDArray[np.float64]) -> NDArray[np.float64]:
        k, x = self._position(at_s)
        a_c, b_c = self.knots_c[k], self.knots_c[k + 1]
        inside = (a_c + b_c) / 2.0 * x - (b_c - a_c) / (2.0 * np.pi) * np.sin(np.pi * x)
        return self.area_k_s[k] + inside * (self.knots_s[k + 1] - self.knots_s[k])

    def _is_known(
        self, start_s: NDArray[np.float64], end_s: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        inside = np.zeros(start_s.shape, dtype=bool)
        for known_start_s, known_end_s in self.known:
            inside |= (start_s >= known_start_s) & (end_s <= known_end_s)
        return inside


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """What is around a cooler on a trip."""

    ambient: Ambient
    """Air temperature."""
    start_s: float
    """UTC seconds since 1970, before the end."""
    end_s: float
    sun: tuple[Span, ...] = ()
    """When the cooler is in the sun, parked or riding."""
    rides: tuple[Span, ...] = ()
    """When it is in the wind of riding; stops on the way count as riding."""


def make_ambient(days: Iterable[DayWeather], zone_on: Callable[[dt.date], dt.tzinfo]) -> Ambient:
    """Air temperature from each day's low and high.

    Parameters
    ----------
    days
        In any order, at most one per date. Days not given, or given without figures, are
        not known.
    zone_on
        Local date to the time zone the rider is in.

    Raises
    ------
    TripFileError
        Two entries for one date.
    """
    by_date: dict[dt.date, DayWeather] = {}
    for day in days:
        if day.date in by_date:
            raise TripFileError("is given twice", where=f"weather of {day.date}")
        by_date[day.date] = day
    knots: dict[float, float] = {}
    known: list[Span] = []
    one_day = dt.timedelta(days=1)
    for date, day in sorted(by_date.items()):
        if day.low_c is None or day.high_c is None:
            continue
        zone = zone_on(date)
        low_s = dt.datetime.combine(date, day.low_at, zone).timestamp()
        high_s = dt.datetime.combine(date, day.high_at, zone).timestamp()
        before, after = by_date.get(date - one_day), by_date.get(date + one_day)
        if before is None or not before.known:
            # The evening before is not known: take this day's own high there.
            knots[high_s - S_PER_DAY] = day.high_c
        knots[low_s], knots[high_s] = day.low_c, day.high_c
        if after is None or not after.known:
            knots[low_s + S_PER_DAY] = day.low_c
        start_s = dt.datetime.combine(date, dt.time(), zone).timestamp()
        end_s = dt.datetime.combine(date + one_day, dt.time(), zone_on(date + one_day)).timestamp()
        if known and start_s <= known[-1][1]:
            known[-1] = (known[-1][0], end_s)
        else:
            known.append((start_s, end_s))
    knots_s = np.array(sorted(knots))
    knots_c = np.array([knots[s] for s in sorted(knots)])
    # The mean over a half-cosine is the mean of its ends.
    pieces = np.diff(knots_s) * (knots_c[1:] + knots_c[:-1]) / 2.0
    area_k_s = np.concatenate([[0.0], np.cumsum(pieces)])[: len(knots_s)]
    for array in (knots_s, knots_c, area_k_s):
        array.setflags(write=False)
    return Ambient(knots_s, knots_c, tuple(known), area_k_s)


def sun_spans(
    rides: Iterable[Span],
    dates: Iterable[dt.date],
    zone_on: Callable[[dt.date], dt.tzinfo],
    *,
    shaded_riding: bool,
    shaded_camp: bool,
) -> tuple[Span, ...]:
    """When the cooler stands in the sun: while riding, and from 08:00 to 18:00 elsewhere.

    Cloud is not counted on. Hours of sun are an assumption, no source.
    """
    riding = sorted(rides)
    spans: list[Span] = [] if shaded_riding else list(riding)
    if not shaded_camp:
        for date in dates:
            zone = zone_on(date)
            at_s = dt.datetime.combine(date, dt.time(8), zone).timestamp()
            end_s = dt.datetime.combine(date, dt.time(18), zone).timestamp()
            for ride_start_s, ride_end_s in riding:
                if ride_end_s <= at_s or ride_start_s >= end_s:
                    continue
                if ride_start_s > at_s:
                    spans.append((at_s, ride_start_s))
                at_s = max(at_s, ride_end_s)
            if at_s < end_s:
                spans.append((at_s, end_s))
    return tuple(sorted(spans))
