"""Days: where each one starts and ends, and when the rider is where.

In: a route length and a pace. Out: a tuple of `Leg`. The clock is piecewise linear: riding
at the average moving speed, with a rest after every so many hours.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.units import S_PER_HOUR
from resupply.trip.pace import Pace

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Leg",
    "Pace",
    "RideTime",
    "SetOut",
    "elapsed_s",
    "is_short_day",
    "leg_ends_m",
    "make_legs",
]


_NO_DAY_M = 100.0
"""Less than that over is arithmetic, not another day."""
_STUB_M, _STUB_SHARE = 1_000.0, 0.02
"""Nobody camps so near the end of the route: a kilometre, or 2 % of a shorter day (our choice)."""
_SHORT_SHARE = 0.2
"""A last day shorter than this share of the others is ridden with them (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class RideTime:
    """Riding seconds from the start of the route by chainage (no rests, no stops)."""

    chainage_m: NDArray[np.float64]
    """(k,) increasing knots."""
    ride_s: NDArray[np.float64]
    """(k,) seconds of pure riding at each knot."""
    source: str
    """How it is known: "average speed" or "roads under the route"."""
    crossings: tuple[tuple[float, float], ...] = ()
    """Chainage and seconds of each crossing on which nothing is ridden, such as a ferry. A place
    at its very chainage lies before it."""

    @classmethod
    def constant(cls, length_m: float, speed_kmh: float) -> RideTime:
        """Ride at the same speed everywhere."""
        knots_m = np.array([0.0, length_m])
        return cls(knots_m, knots_m / (speed_kmh / 3.6), "average speed")

    @property
    def average_kmh(self) -> float:
        """Average moving speed over the whole route."""
        return float(self.chainage_m[-1] / self.ride_s[-1] * 3.6)

    def at_average(self, speed_kmh: float) -> RideTime:
        """Keep where the ride is slow and where fast, but make the average what is stated."""
        return RideTime(
            self.chainage_m,
            self.ride_s * (self.average_kmh / speed_kmh),
            f"{self.source}, at your average speed",
            self.crossings,
        )

    def paced(self, spans: Sequence[tuple[float, float, float]]) -> RideTime:
        """Ride some spans at an average speed of their own, slow and fast parts kept.

        Parameters
        ----------
        spans
            Start and end chainage, metres, and the speed, km/h; none overlap.
        """
        if not spans:
            return self
        ends_m = [at_m for start_m, end_m, _ in spans for at_m in (start_m, end_m)]
        knots_m = np.union1d(self.chainage_m, ends_m)
        part_s = np.diff(self.at(knots_m))
        middle_m = (knots_m[1:] + knots_m[:-1]) / 2.0
        for start_m, end_m, speed_kmh in spans:
            inside = (middle_m > start_m) & (middle_m < end_m)
            wanted_s = (end_m - start_m) / (speed_kmh / 3.6)
            part_s[inside] *= wanted_s / max(float(part_s[inside].sum()), 1e-9)
        ride_s = np.concatenate([[0.0], np.cumsum(part_s)])
        source = f"{self.source}, your own on single days"
        return RideTime(knots_m, ride_s, source, self.crossings)

    def crossed_s(self, chainage_m: ArrayLike) -> NDArray[np.float64]:
        """Seconds of crossings before each chainage, same shape."""
        at_m = np.asarray(chainage_m, float)
        where_m, took_s = np.array(self.crossings, float).reshape(-1, 2).T
        before_s = np.concatenate([[0.0], np.cumsum(took_s)])
        return np.asarray(before_s[np.searchsorted(where_m, at_m, side="left")])

    def at(self, chainage_m: ArrayLike) -> NDArray[np.float64]:
        """Riding seconds at each chainage, same shape."""
        at_m = np.asarray(chainage_m, float)
        return np.asarray(np.interp(at_m, self.chainage_m, self.ride_s))


@dataclass(frozen=True, slots=True)
class Leg:
    """One day's ride."""

    number: int
    """From 1."""
    date: dt.date
    start_m: float
    end_m: float
    depart: dt.datetime
    """Aware, in the local zone of the leg's start."""
    arrive: dt.datetime
    """Nominal arrival without shop stops, aware, same zone as `depart`."""
    rest_days_before: int
    """Days without riding before it, those of a crossing included."""
    ride_s: float
    """Pure riding time."""
    rest_every_s: float
    rest_s: float
    ride_time: RideTime
    crossing_days_before: int = 0
    """How many of `rest_days_before` are spent on a crossing that takes longer than the night."""
    began_m: float | None = None
    """Where the day began, of one that a rider under way has partly ridden."""

    @property
    def length_m(self) -> float:
        """Ridden length, metres."""
        return self.end_m - self.start_m

    def elapsed_s(self, chainage_m: ArrayLike) -> NDArray[np.float64]:
        """Seconds since departure at each chainage (clipped to the leg), rests and crossings too.

        A rest falls after each full `rest_every_s` of riding.
        """
        return elapsed_s(self, chainage_m, self.start_m, self.end_m)

    def eta(self, chainage_m: float) -> dt.datetime:
        """Nominal time at a chainage, without shop stops."""
        # Through UTC: local clock times may jump on the way.
        utc = self.depart.astimezone(dt.UTC)
        passed = dt.timedelta(seconds=float(self.elapsed_s(chainage_m)))
        return (utc + passed).astimezone(self.depart.tzinfo)


def elapsed_s(
    leg: Leg, chainage_m: ArrayLike, start_m: ArrayLike, end_m: ArrayLike
) -> NDArray[np.float64]:
    """Seconds since departure on days ridden like a leg, from and to chainages of their own.

    Parameters
    ----------
    chainage_m, start_m, end_m
        Broadcast together; metres.
    """
    inside_m = np.clip(np.asarray(chainage_m, float), start_m, end_m)
    ridden_s = leg.ride_time.at(inside_m) - leg.ride_time.at(start_m)
    passed_s = ridden_s
    if leg.ride_time.crossings:
        start_s = leg.ride_time.crossed_s(start_m)
        passed_s = ridden_s + leg.ride_time.crossed_s(inside_m) - start_s
    if leg.rest_every_s <= 0.0:
        return passed_s
    # A rest right at the end of the leg is camp, not a rest.
    rests = np.floor(np.maximum(ridden_s - 1e-6, 0.0) / leg.rest_every_s)
    return np.asarray(passed_s + rests * leg.rest_s)


def leg_ends_m(
    length_m: float,
    daily_m: float,
    *,
    even: bool | None = False,
    overrides_m: Mapping[int, float] | None = None,
    fewer: int = 0,
) -> tuple[float, ...]:
    """Chainages at which the days end; the last is the route's end.

    A day ends at the route's end if it would end a kilometre before it or less.

    Parameters
    ----------
    length_m, daily_m
        Route length and wanted distance a day, metres, both > 0.
    even
        True: spread the same number of days evenly. None: full days, but a last one under a fifth
        of a day is spread over the others (nobody breaks camp for it).
    overrides_m
        Day number (from 1) to that day's own distance; other days keep theirs.
    fewer
        So many days less, each longer for it: the last night's camp left too little for a day.

    Examples
    --------
    >>> leg_ends_m(700e3, 300e3)
    (300000.0, 600000.0, 700000.0)
    >>> leg_ends_m(700e3, 300e3, even=True, overrides_m={1: 100e3})
    (100000.0, 400000.0, 700000.0)
    >>> leg_ends_m(640e3, 300e3, even=None)
    (320000.0, 640000.0)
    """
    own = dict(overrides_m or {})

    def lay_out(usual_m: float) -> list[float]:
        ends, at_m, day = [], 0.0, 1
        stub_m = max(_NO_DAY_M, min(_STUB_M, _STUB_SHARE * usual_m))
        while True:
            at_m += own.get(day, usual_m)
            # A day the rider has set rides exactly that far.
            over_m = _NO_DAY_M if day in own else stub_m
            day += 1
            if at_m >= length_m - over_m:
                ends.append(length_m)
                return ends
            ends.append(at_m)

    ends = lay_out(daily_m)
    days = len(ends)
    if even is None and days > 1 and days not in own:
        days -= int(is_short_day(ends[-1] - ends[-2], daily_m))
    days = max(days - fewer, 1)
    if not even and days == len(ends):
        return tuple(ends)
    used = {day: m for day, m in own.items() if day <= days}
    free_days = days - len(used)
    left_m = length_m - sum(used.values())
    if free_days == 0 or left_m <= 0.0:
        return tuple(ends)
    return tuple(lay_out(left_m / free_days))


def is_short_day(length_m: float, daily_m: float) -> bool:
    """Tell whether a last day is so short that its way is spread over the days before, metres."""
    return length_m < _SHORT_SHARE * daily_m


@dataclass(frozen=True, slots=True)
class SetOut:
    """Where and when a rider sets out; under way, where the trip goes on."""

    date: dt.date
    """Of the first day ridden."""
    start_m: float = 0.0
    """Chainage, metres."""
    depart: dt.time | None = None
    """Departure on that day; None for the pace's."""
    number: int = 1
    """Of that day."""


def make_legs(
    ends_m: Sequence[float],
    *,
    set_out: SetOut,
    pace: Pace,
    ride_time: RideTime,
    zone_at: Callable[[float], dt.tzinfo],
    rest_days_after: Mapping[int, int] | None = None,
    departs: Mapping[int, dt.time] | None = None,
) -> tuple[Leg, ...]:
    """Dated legs from their ends.

    Parameters
    ----------
    ends_m
        Increasing chainages, metres.
    zone_at
        Chainage in metres to the local time zone there.
    rest_days_after
        Day number to how many rest days follow it (in camp, at that day's end).
    departs
        Day number to its own departure, where it is not the pace's.
    """
    rests, own = dict(rest_days_after or {}), dict(departs or {})
    legs: list[Leg] = []
    start_m, date = set_out.start_m, set_out.date
    for number, end_m in enumerate(ends_m, start=set_out.number):
        waited = rests.get(number - 1, 0) if legs else 0
        zone = zone_at(start_m)
        time = own.get(number, pace.depart)
        if not legs and set_out.depart:
            time = set_out.depart
        depart = _at(date, time, zone)
        # A crossing may take the night and the day after it, and rest comes after it. A day too
        # long to ride is cautioned.
        crossing_days = 0
        while legs and depart < legs[-1].arrive and _crosses(legs[-1]):
            crossing_days, date = crossing_days + 1, date + dt.timedelta(days=1)
            depart = _at(date, time, zone)
        date += dt.timedelta(days=waited)
        depart = _at(date, time, zone)
        leg = Leg(
            number=number,
            date=date,
            start_m=start_m,
            end_m=float(end_m),
            depart=depart,
            arrive=depart,
            rest_days_before=waited + crossing_days,
            crossing_days_before=crossing_days,
            ride_s=float(ride_time.at(end_m) - ride_time.at(start_m)),
            rest_every_s=pace.rest_every_h * S_PER_HOUR,
            rest_s=pace.rest_min * 60.0,
            ride_time=ride_time,
        )
        legs.append(replace(leg, arrive=leg.eta(float(end_m))))
        start_m, date = float(end_m), date + dt.timedelta(days=1)
    return tuple(legs)


def _at(date: dt.date, time: dt.time, zone: dt.tzinfo) -> dt.datetime:
    """Local time of a day; through UTC, so that one skipped by a clock change becomes real."""
    return dt.datetime.combine(date, time, tzinfo=zone).astimezone(dt.UTC).astimezone(zone)


def _crosses(leg: Leg) -> bool:
    """Whether a crossing falls into a day."""
    times = leg.ride_time
    return bool(times.crossings) and bool(times.crossed_s(leg.end_m) > times.crossed_s(leg.start_m))
