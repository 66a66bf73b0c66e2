"""From a pace to what a choice of stops is made from: the one way for every plan of a trip.

In: a `Prepared` that covers the dates, a `Trip`, a daily distance and a start. Out: a `Schedule`:
days, nights, the clock and the shops that may be chosen. The plan itself, the comparison of daily
distances and the remedies all come through here.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from resupply.common.errors import TripFileError
from resupply.common.quantity import MEALS_PER_DAY
from resupply.plan.prepared import USUAL_KMH
from resupply.plan.shops_ahead import ARRIVED_M, candidates_of, detour_seconds, now_m
from resupply.route.clock import MealTimes, RideClock, make_clock
from resupply.route.jumps import crossings_of
from resupply.route.legs import Leg, RideTime, SetOut, is_short_day, leg_ends_m, make_legs
from resupply.supply.daily_distance import daily_distances_m
from resupply.supply.eat_out import choose_meals_out, not_carried
from resupply.supply.nights import nights_of
from resupply.supply.open_risk import judge_of
from resupply.supply.visit_options import Asked, make_options
from resupply.trip.choice import STYLES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.plan.prepared import Prepared
    from resupply.supply.camps import NightEnd
    from resupply.supply.candidates import Candidates
    from resupply.supply.eat_out import MealOut
    from resupply.supply.visit_options import VisitOptions
    from resupply.trip.keys import MealName
    from resupply.trip.settings import Trip

__all__ = [
    "Schedule",
    "last_rest_day",
    "make_schedule",
    "span_of",
    "start_date",
    "zone_info",
]

_REMEDY_SHARE = 0.8
"""Remedies try days shorter than the rider's own by so much; see `resupply.plan.alternatives`."""


@dataclass(frozen=True, slots=True, eq=False)
class Schedule:
    """Days at one pace, and the shops passed on them."""

    covered: Prepared
    trip: Trip
    legs: tuple[Leg, ...]
    nights: tuple[NightEnd, ...]
    """Of every day but the last; empty if days end by distance alone."""
    clock: RideClock
    """Without stops."""
    candidates: Candidates
    """Each shop on the day it is passed."""
    every_shop: Candidates
    """The same as the roads reach them, whatever the days."""
    asked: Asked
    out: tuple[MealOut, ...]
    """Meals wanted out; those with a place are not among the clock's."""

    def options(self) -> VisitOptions:
        """Lay out every visit that may be made."""
        return make_options(self.candidates, self.clock, judge_of(self.covered), self.asked)


def make_schedule(
    covered: Prepared,
    trip: Trip,
    *,
    daily_m: float | None = None,
    date: dt.date | None = None,
    candidates: Candidates | None = None,
    ice_rows: frozenset[int] = frozenset(),
) -> Schedule:
    """Lay out the days at a pace.

    Parameters
    ----------
    covered
        Its timetable covers `span_of` the trip.
    daily_m, date
        Another daily distance, metres, and start than the trip's own.
    candidates
        `every_shop` of another pace of this trip: they do not depend on it.
    ice_rows
        Passes where the cooler needs ice; see `resupply.supply.visit_options.Asked`.

    Raises
    ------
    TripFileError
        No start date, or a time zone that does not exist.
    """
    legs, nights = _lay_legs(
        covered,
        trip,
        trip.pace.daily_km * 1000.0 if daily_m is None else daily_m,
        start_date(trip) if date is None else date,
    )
    out = _meals_out(covered, trip, clock := _clock(legs, trip))
    clock = not_carried(clock, out)
    every_shop = candidates_of(covered, trip) if candidates is None else candidates
    return Schedule(
        covered=covered,
        trip=trip,
        legs=legs,
        nights=nights,
        clock=clock,
        candidates=every_shop.within_days(clock),
        every_shop=every_shop,
        asked=_asked(trip, ice_rows),
        out=out,
    )


def start_date(trip: Trip) -> dt.date:
    """First riding day of the trip.

    Raises
    ------
    TripFileError
        The trip has none; the edge that reads it must set one.
    """
    if trip.start.date is None:
        raise TripFileError(
            "start.date is missing",
            mend="Give the first riding day, e.g. date = 2027-07-09",
            key="start.date",
            problem="is missing",
        )
    return trip.start.date


def span_of(prepared: Prepared, trip: Trip) -> tuple[dt.date, dt.date]:
    """Dates that any plan of this trip may touch, those of other daily distances included."""
    tested_m = daily_distances_m(prepared.route.length_m, own_m=trip.pace.daily_km * 1000.0)
    slowest_m = tested_m[0] * _REMEDY_SHARE
    days = math.ceil(prepared.route.length_m / slowest_m) + sum(trip.pace.rest_days.values())
    planned = start_date(trip)
    # A trip under way may be early or late by any number of days.
    now = trip.now.time.date() if trip.now.time is not None else planned
    last = max(planned, now) + dt.timedelta(days=days + len(trip.pace.own_km) + 8)
    return min(planned, now), last


def _zone(covered: Prepared, chainage_m: float) -> dt.tzinfo:
    return zone_info(covered.zone_name(chainage_m))


@cache
def zone_info(name: str) -> dt.tzinfo:
    """Time zone of a name.

    Raises
    ------
    TripFileError
        There is no such zone.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise TripFileError(
            f"region.time_zone = {name!r}: there is no such time zone",
            mend="Use a name like Europe/Lisbon",
            key="region.time_zone",
            problem="there is no such time zone",
        ) from error


def _lay_legs(
    covered: Prepared, trip: Trip, daily_m: float, date: dt.date
) -> tuple[tuple[Leg, ...], tuple[NightEnd, ...]]:
    """Legs, and what is known of their nights (empty if days end by distance alone)."""
    pace, length_m = trip.pace, covered.route.length_m
    ride_time = _ride_time(covered, trip)
    own_m = {day: km * 1000.0 for day, km in pace.own_km.items()}

    def lay(settled_m: Mapping[int, float], fewer: int = 0) -> tuple[float, ...]:
        # What the rider has set by hand wins.
        settled_m = {**settled_m, **own_m}
        return leg_ends_m(
            length_m, daily_m, even=pace.even_days, overrides_m=settled_m, fewer=fewer
        )

    choose = partial(
        nights_of,
        covered,
        ride_time=ride_time,
        zone_at=lambda at_m: _zone(covered, at_m),
    )
    # Where the last camp leaves too little for a day: one day less, and the camps anew.
    for fewer in range(len(lay({}))):
        laid = partial(lay, fewer=fewer)
        nights = choose(trip, laid, set_out=SetOut(date))
        ends_m = (*(night.end_m for night in nights), length_m) if nights else laid({})
        days = len(ends_m)
        if pace.even_days is not None or days == 1 or days in own_m:
            break
        if not is_short_day(length_m - ends_m[-2], daily_m):
            break
    choose = partial(choose, lay=laid)
    now, set_out = trip.now, SetOut(date)
    began_m: float | None = None
    if now.at_km is not None and now.time is not None:
        # The day that is being ridden ends where it would have; a camp just reached is behind.
        start_m = now_m(trip, length_m)
        first_number = 1 + sum(end_m <= start_m + ARRIVED_M for end_m in ends_m[:-1])
        began_m = ends_m[first_number - 2] if first_number > 1 else 0.0
        in_camp = first_number > 1 and began_m >= start_m - ARRIVED_M
        rests = _rests_to(trip, date, first_number - 1) if in_camp else None
        usual = pace.own_depart.get(first_number, pace.depart)
        date, depart = _leaving(now.time, trip, usual, in_camp=in_camp, rests=rests)
        set_out = SetOut(date, start_m, depart, first_number)
        if not in_camp:
            trip = _resting_tonight(trip, date, first_number)
        ends_m, before = ends_m[first_number - 1 :], nights[: first_number - 1]
        nights = nights[first_number - 1 :]
        # The nights ahead again, by the dates and the time of day as they are now.
        later = choose(trip, set_out=set_out, before=before)
        if later and later[0].end_m > start_m + ARRIVED_M:
            nights, ends_m = later, (*(night.end_m for night in later), length_m)
    starts_m = (set_out.start_m, *ends_m[:-1])
    spans = [
        (start_m, end_m, pace.own_speed_kmh[day])
        for day, (start_m, end_m) in enumerate(zip(starts_m, ends_m, strict=True), set_out.number)
        if day in pace.own_speed_kmh
    ]
    legs = make_legs(
        ends_m,
        set_out=set_out,
        pace=pace.pace(),
        ride_time=ride_time.paced(spans),
        zone_at=lambda at_m: _zone(covered, at_m),
        rest_days_after=trip.pace.rest_days,
        departs=pace.own_depart,
    )
    return (replace(legs[0], began_m=began_m), *legs[1:]), nights


def last_rest_day(trip: Trip, first: dt.date, day: int) -> dt.date | None:
    """Date of the last day of rest after a riding day, as planned from home; None without any.

    Parameters
    ----------
    first
        First riding day of the trip.
    day
        Riding day, from 1, at whose end the rest is.
    """
    rest_days = trip.pace.rest_days
    if not rest_days.get(day):
        return None
    rested = sum(days for after, days in rest_days.items() if after <= day)
    return first + dt.timedelta(days=day - 1 + rested)


def _resting_tonight(trip: Trip, today: dt.date, day: int) -> Trip:
    """Rest after the day that is being ridden as the rider has said on the way."""
    leave_on = trip.now.leave_on
    if leave_on is None or leave_on <= today:
        return trip
    rest_days = {**trip.pace.rest_days, day: (leave_on - today).days - 1}
    return trip.model_copy(update={"pace": trip.pace.model_copy(update={"rest_days": rest_days})})


def _rests_to(trip: Trip, first: dt.date, day: int) -> dt.date | None:
    """Last day of rest in the camp at the end of a day: as said on the way, else as planned."""
    now, leave_on = trip.now.time, trip.now.leave_on
    if now is not None and leave_on is not None and leave_on > now.date():
        return leave_on - dt.timedelta(days=1)
    return last_rest_day(trip, first, day)


def _leaving(
    now: dt.datetime, trip: Trip, usual: dt.time, *, in_camp: bool, rests: dt.date | None
) -> tuple[dt.date, dt.time]:
    """When a rider under way rides on: at once, or from camp at the usual time.

    In camp after lunch the day is over, and days of rest still to come are rested.

    Parameters
    ----------
    usual
        Departure of that day.
    rests
        Last day of rest in this camp; None without any.
    """
    if rests is not None and now.date() <= rests:
        return rests + dt.timedelta(days=1), usual
    if in_camp and now.time() < usual:
        return now.date(), usual
    if in_camp and now.time() > trip.food.lunch:
        return now.date() + dt.timedelta(days=1), usual
    return now.date(), now.time()


def _ride_time(covered: Prepared, trip: Trip) -> RideTime:
    """Riding time by the roads where known; the rider's own average speed holds over the route."""
    length_m, own_kmh = covered.route.length_m, trip.pace.speed_kmh
    if covered.roads is None:
        ride_time = RideTime.constant(length_m, own_kmh or USUAL_KMH)
    else:
        by_road = covered.roads.matched.ride_time
        ride_time = by_road if own_kmh is None else by_road.at_average(own_kmh)
    crossings = crossings_of(covered.route, trip.jumps, ride_time.average_kmh)
    return replace(
        ride_time, crossings=tuple((one.chainage_m, one.crossing_s) for one in crossings)
    )


def _clock(legs: tuple[Leg, ...], trip: Trip) -> RideClock:
    food, now = trip.food, trip.now.time
    times = MealTimes(food.breakfast, food.lunch, food.dinner)
    since = now.replace(tzinfo=legs[0].depart.tzinfo) if now is not None else None
    return make_clock(legs, trip.pace.pace(), times, since=since)


def _meals_out(covered: Prepared, trip: Trip, clock: RideClock) -> tuple[MealOut, ...]:
    """Find places for the meals that the rider wants to eat out; most trips want none."""
    food = trip.food
    wanted: dict[int, set[MealName]] = {
        leg.number: {*food.eat_out_daily, *food.eat_out.get(leg.number, ())} for leg in clock.legs
    }
    if not any(wanted.values()):
        return ()
    return choose_meals_out(
        covered,
        clock,
        judge_of(covered),
        wanted,
        out_s=detour_seconds(covered, trip)[1],
        way_min=trip.choice.evening_way_min,
    )


def _asked(trip: Trip, ice_rows: frozenset[int]) -> Asked:
    food = trip.food

    def to_eat(days: float) -> int:
        return math.floor(days * MEALS_PER_DAY + 1e-9) - food.spare_meals

    under_way = trip.now.at_km is not None
    start_meals = trip.now.food_meals if under_way else trip.start.food_meals
    return Asked(
        weights=trip.choice,
        chances=trip.chances,
        style=STYLES[food.style],
        limit_meals=max(to_eat(food.carry_limit_days), 1),
        habit_meals=max(to_eat(food.carry_habit_days), 0),
        start_meals=start_meals,
        latest_camp=trip.pace.latest_camp,
        cooler=trip.cooler.kind != "none",
        tank=trip.fuel.range_km is not None,
        from_home=not under_way and start_meals != 0,
        shop_free_days=frozenset(trip.shops.none_on_days),
        ice_rows=ice_rows,
    )
