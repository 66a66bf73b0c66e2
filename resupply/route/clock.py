"""When the rider is where, shop stops included, and how many meals are eaten by then.

In: legs, meal times and stops. Out: arrival times and meal counts. Breakfast is eaten in camp
before departure, dinner in camp after arrival, lunch on the road at its time; so the only meal
that falls between two passes of one day is lunch.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.route.legs import elapsed_s

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import ArrayLike, NDArray

    from resupply.route.legs import Leg, Pace
    from resupply.trip.keys import MealName

__all__ = ["MealTime", "MealTimes", "RideClock", "make_clock"]


@dataclass(frozen=True, slots=True)
class MealTimes:
    """Local times of the day's meals."""

    breakfast: dt.time = dt.time(7, 30)
    lunch: dt.time = dt.time(12, 30)
    dinner: dt.time = dt.time(19, 0)


@dataclass(frozen=True, slots=True)
class MealTime:
    """One meal of the trip."""

    index: int
    """From 0, in order."""
    kind: MealName
    when: dt.datetime
    """Aware, local. A late dinner is at arrival."""
    leg_ix: int
    """Index of the leg ridden that day, or of the leg that ended in this camp (rest days)."""
    date: dt.date
    resting: bool
    """On a rest day."""
    late: bool = False
    """Dinner pushed back by a late arrival."""


@dataclass(frozen=True, slots=True, eq=False)
class RideClock:
    """Times along the route. All arrays read-only; L legs, s stops."""

    legs: tuple[Leg, ...]
    meals: tuple[MealTime, ...]
    base_meals: NDArray[np.int64]
    """(L,) meals eaten before each leg's departure."""
    lunch_s: NDArray[np.float64]
    """(L,) UTC epoch of a lunch on the road; inf where the day has none on the road."""
    depart_s: NDArray[np.float64]
    """(L,) UTC epoch of departure."""
    starts_m: NDArray[np.float64]
    """(L,) chainage of each leg's start."""
    ends_m: NDArray[np.float64]
    """(L,) chainage of each leg's end."""
    drift_s: float
    drift_per_s: float
    """Growth of the uncertainty, seconds per second since departure."""
    stop_m: NDArray[np.float64]
    """(s,) chainage of the stops made, increasing."""
    stop_s: NDArray[np.float64]
    """(s,) seconds each takes."""
    start_s: float
    """UTC epoch at which the plan begins: the first departure; for a rider in camp, now."""

    def leg_ix(self, chainage_m: ArrayLike) -> NDArray[np.int64]:
        """Index of the leg in which each chainage lies; a day's end belongs to that day."""
        found = np.searchsorted(self.ends_m, np.asarray(chainage_m, float), side="left")
        return np.minimum(found, len(self.legs) - 1).astype(np.int64)

    def zone_after(self, leg_ix: int) -> dt.tzinfo | None:
        """Time zone where a leg ends: the next one departs by it. Of the last leg its own."""
        after = self.legs[min(leg_ix + 1, len(self.legs) - 1)]
        return after.depart.tzinfo

    def nominal_s(self, chainage_m: ArrayLike) -> NDArray[np.float64]:
        """UTC epoch at each chainage without any stop."""
        at_m = np.atleast_1d(np.asarray(chainage_m, float))
        ix = self.leg_ix(at_m)
        # All days are ridden on the same roads, and rested on alike.
        return self.depart_s[ix] + elapsed_s(self.legs[0], at_m, self.starts_m[ix], self.ends_m[ix])

    def delay_s(self, chainage_m: ArrayLike) -> NDArray[np.float64]:
        """Seconds lost to stops earlier on the same day; a stop does not delay itself."""
        at_m = np.atleast_1d(np.asarray(chainage_m, float))
        ix = self.leg_ix(at_m)
        lost = np.concatenate([[0.0], np.cumsum(self.stop_s)])
        starts_m = np.concatenate([[-np.inf], self.ends_m[:-1]])
        until = lost[np.searchsorted(self.stop_m, at_m, side="left")]
        before_today = lost[np.searchsorted(self.stop_m, starts_m[ix], side="right")]
        return np.asarray(np.maximum(until - before_today, 0.0))

    def arrive_s(self, chainage_m: ArrayLike) -> NDArray[np.float64]:
        """UTC epoch of arrival at each chainage, earlier stops of the day included."""
        return np.asarray(self.nominal_s(chainage_m) + self.delay_s(chainage_m))

    def half_width_s(self, chainage_m: ArrayLike, arrive_s: ArrayLike) -> NDArray[np.float64]:
        """How far off each arrival may be, seconds either way; grows through the day."""
        out_s = np.asarray(arrive_s, float) - self.depart_s[self.leg_ix(chainage_m)]
        return np.asarray(self.drift_s + self.drift_per_s * np.maximum(out_s, 0.0))

    def meals_before(self, chainage_m: ArrayLike) -> NDArray[np.int64]:
        """Meals eaten before each chainage.

        Lunch is where the rider would be at its time without stops: time lost in shops must not
        make a stretch look shorter.
        """
        at_m = np.atleast_1d(np.asarray(chainage_m, float))
        ix = self.leg_ix(at_m)
        return np.asarray(self.base_meals[ix] + (self.nominal_s(at_m) > self.lunch_s[ix]))

    def local(self, chainage_m: float, epoch_s: float) -> dt.datetime:
        """Aware local time of an instant on the leg at this chainage."""
        leg = self.legs[int(self.leg_ix(chainage_m))]
        return dt.datetime.fromtimestamp(epoch_s, dt.UTC).astimezone(leg.depart.tzinfo)

    @property
    def end_meals(self) -> int:
        """Meals of the whole trip."""
        return len(self.meals)

    def without(self, gone: Collection[int]) -> RideClock:
        """Copy without some meals, by index: nobody carries what is eaten out."""
        kept = [meal for meal in self.meals if meal.index not in gone]
        left = np.array([meal.index for meal in kept], dtype=np.int64)
        lunch_s = self.lunch_s.copy()
        for meal in self.meals:
            if meal.index in gone and meal.kind == "lunch" and not meal.resting:
                lunch_s[meal.leg_ix] = np.inf
        return replace(
            self,
            meals=tuple(replace(meal, index=n) for n, meal in enumerate(kept)),
            base_meals=np.searchsorted(left, self.base_meals).astype(np.int64),
            lunch_s=lunch_s,
        )

    def with_stops(self, stop_m: Sequence[float], stop_s: Sequence[float]) -> RideClock:
        """Copy with other stops, given by chainage (metres) and length (seconds)."""
        order = np.argsort(np.asarray(stop_m, float), kind="stable")
        return replace(
            self,
            stop_m=np.asarray(stop_m, float)[order],
            stop_s=np.asarray(stop_s, float)[order],
        )


def make_clock(
    legs: Sequence[Leg], pace: Pace, times: MealTimes, *, since: dt.datetime | None = None
) -> RideClock:
    """Lay the meals on the legs.

    The trip begins at the first departure and ends at the last arrival: breakfast of the first
    day is eaten at home, and after the last arrival nothing more is planned.

    Parameters
    ----------
    since
        For a trip under way: now, aware, at or before the first departure. Meals from then on
        count.
    """
    meals: list[MealTime] = []
    base: list[int] = []
    lunch: list[float] = []
    for ix, leg in enumerate(legs):
        zone = leg.depart.tzinfo

        def at(day: dt.date, time: dt.time, zone: dt.tzinfo | None = zone) -> dt.datetime:
            # Through UTC, so that a time skipped by a clock change becomes a real one.
            return dt.datetime.combine(day, time, tzinfo=zone).astimezone(dt.UTC).astimezone(zone)

        def add(
            kind: MealName,
            when: dt.datetime,
            *,
            resting: bool = False,
            late: bool = False,
            ix: int = ix,
        ) -> None:
            camp_ix = max(ix - 1, 0) if resting else ix
            meals.append(MealTime(len(meals), kind, when, camp_ix, when.date(), resting, late))

        for waited in range(leg.rest_days_before, 0, -1):
            day = leg.date - dt.timedelta(days=waited)
            add("breakfast", at(day, times.breakfast), resting=True)
            add("lunch", at(day, times.lunch), resting=True)
            add("dinner", at(day, times.dinner), resting=True)
        waiting = since if ix == 0 else None
        if waiting is not None:
            for waited in range((leg.date - waiting.date()).days, 0, -1):
                day = leg.date - dt.timedelta(days=waited)
                kinds: tuple[MealName, ...] = ("breakfast", "lunch", "dinner")
                for kind in kinds:
                    when = at(day, getattr(times, kind))
                    if when >= waiting:
                        add(kind, when)
        breakfast = at(leg.date, times.breakfast)
        if ix > 0 or (waiting is not None and breakfast >= waiting):
            add("breakfast", min(breakfast, leg.depart))
        noon, last = at(leg.date, times.lunch), ix == len(legs) - 1
        if noon <= leg.depart and (ix > 0 or (waiting is not None and noon >= waiting)):
            add("lunch", noon)
        base.append(len(meals))
        on_road = leg.depart < noon < leg.arrive
        lunch.append(noon.timestamp() if on_road else np.inf)
        if on_road or (noon >= leg.arrive and not last):
            add("lunch", max(noon, leg.depart))
        if not last:
            # In camp the clock is the camp's, by which the next day departs.
            dinner = at(leg.date, times.dinner, legs[ix + 1].depart.tzinfo)
            add("dinner", max(dinner, leg.arrive), late=leg.arrive > dinner)
    return RideClock(
        legs=tuple(legs),
        meals=tuple(meals),
        base_meals=np.array(base, dtype=np.int64),
        lunch_s=np.array(lunch),
        depart_s=np.array([leg.depart.timestamp() for leg in legs]),
        starts_m=np.array([leg.start_m for leg in legs]),
        ends_m=np.array([leg.end_m for leg in legs]),
        drift_s=pace.drift_min * 60.0,
        drift_per_s=pace.drift_min_per_h / 60.0,
        stop_m=np.zeros(0),
        stop_s=np.zeros(0),
        start_s=(since or legs[0].depart).timestamp(),
    )
