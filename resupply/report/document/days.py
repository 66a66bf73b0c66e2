"""Days of a plan as document rows: times, sun, surface, weather, cautions."""

from __future__ import annotations

import datetime as dt
from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import line
from resupply.hours.sun import sunrise, sunset
from resupply.report.document.model.days import ArrivalTable, DayRow, NightRow, SurfaceRow
from resupply.route.arrivals import arrivals_of
from resupply.say.day import (
    after_latest,
    after_sunset,
    camp,
    camp_may_be_shut,
    day_too_long,
    loose_surface,
    no_camp,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from resupply.kitchen.cold.weather import DayWeather
    from resupply.plan.pipeline import TripPlan
    from resupply.route.legs import Leg
    from resupply.say.names import Words
    from resupply.supply.camps import NightEnd

__all__ = ["day_rows", "loose_m"]

_LOOSE_M = 1_000.0
"""Less loose surface on a day needs no word."""


def day_rows(
    plan: TripPlan, words: Words, weather: Sequence[DayWeather] = ()
) -> tuple[DayRow, ...]:
    """Rows of the riding days, in order; weather is not known where none is given."""
    by_date = {day.date: day for day in weather}
    return tuple(
        _row(plan, words, leg, by_date.get(leg.date), after)
        for leg, after in zip_longest(plan.legs, plan.legs[1:])
    )


def _row(
    plan: TripPlan, words: Words, leg: Leg, weather: DayWeather | None, after: Leg | None
) -> DayRow:
    zone = leg.depart.tzinfo
    if zone is None:
        raise ValueError("a leg's times are aware")
    route = plan.prepared.route
    rise = sunrise(*route.position_at(leg.start_m), leg.date, zone)
    down = sunset(*route.position_at(leg.end_m), leg.date, zone)
    arrive = plan.clock.local(leg.end_m, float(plan.clock.arrive_s(leg.end_m)[0]))
    cautions = []
    if after is not None and float(plan.clock.arrive_s(leg.end_m)[0]) >= after.depart.timestamp():
        cautions.append(day_too_long())
    # The day ends on the route; the camp is farther.
    in_camp = arrive + dt.timedelta(seconds=_way_to_camp(plan, leg)[1])
    if down is not None and in_camp > down:
        cautions.append(after_sunset(down))
    latest = dt.datetime.combine(leg.date, plan.trip.pace.latest_camp, tzinfo=zone)
    if in_camp > latest:
        cautions.append(after_latest(latest, _reached_m(plan, leg, latest)))
    night = _camp_of(plan, leg)
    if night is not None:
        shut = camp_may_be_shut(plan, night, words, _in_camp_s(plan, leg))
        cautions += [shut] if shut is not None else []
    surface = _surface(plan, leg)
    if loose_m(surface):
        cautions.append(loose_surface(loose_m(surface)))
    return DayRow(
        number=leg.number,
        date=leg.date,
        weekday=f"{leg.date:%A}",
        start_m=round(leg.start_m),
        end_m=round(leg.end_m),
        length_m=round(leg.length_m),
        began_m=None if leg.began_m is None else round(leg.began_m),
        depart=leg.depart,
        arrive=arrive,
        arrivals=_arrivals(plan, leg),
        ride_s=round(leg.ride_s),
        rest_days_before=leg.rest_days_before,
        crossing_days_before=leg.crossing_days_before,
        sunrise=rise,
        sunset=down,
        surface=surface,
        low_c=weather.low_c if weather else None,
        high_c=weather.high_c if weather else None,
        night=_night(plan, leg, words),
        cautions=tuple(cautions),
    )


def _arrivals(plan: TripPlan, leg: Leg) -> ArrivalTable:
    """Table in which the page looks up when the rider is where."""
    table = arrivals_of(plan.clock, leg)
    return ArrivalTable(
        chainage_m=_whole(table.chainage_m),
        arrive_s=_whole(table.arrive_s),
        half_width_s=_whole(table.half_width_s),
    )


def _whole(values: NDArray[np.float64]) -> tuple[int, ...]:
    return tuple(np.round(values).astype(int).tolist())


def _way_to_camp(plan: TripPlan, leg: Leg) -> tuple[float, float]:
    """Metres and riding seconds from the day's end on the route to its camp; 0 without one."""
    night = _camp_of(plan, leg)
    if night is None:
        return 0.0, 0.0
    detours = plan.prepared.detours
    return float(plan.detour_m[night.row]) / 2.0, float(detours.extra_s[night.row]) / 2.0


def _camp_of(plan: TripPlan, leg: Leg) -> NightEnd | None:
    """Find the camp at a day's end."""
    night = next((night for night in plan.nights if night.day == leg.number), None)
    return None if night is None or night.row < 0 else night


def _in_camp_s(plan: TripPlan, leg: Leg) -> float:
    """When the rider is in camp, UTC epoch seconds."""
    return float(plan.clock.arrive_s(leg.end_m)[0]) + _way_to_camp(plan, leg)[1]


def _reached_m(plan: TripPlan, leg: Leg, latest: dt.datetime) -> float | None:
    """How far the rider gets by a time, so that an earlier camp can be looked for."""
    grid_m = np.linspace(leg.start_m, leg.end_m, 400)
    reached_m = grid_m[plan.clock.arrive_s(grid_m) <= latest.timestamp()]
    return float(reached_m[-1]) if reached_m.size else None


def loose_m(surface: SurfaceRow | None) -> float:
    """Metres of gravel and track of a day; 0 where that is too little for a word."""
    found_m = float(surface.gravel_m + surface.track_m) if surface else 0.0
    return found_m if found_m > _LOOSE_M else 0.0


def _night(plan: TripPlan, leg: Leg, words: Words) -> NightRow:
    """Where the day ends, and what the map tells of it."""
    if leg.number == plan.legs[-1].number:
        said = line("the end of the route")
        return NightRow(kind="end", name=None, place=None, words=said)
    night = next((night for night in plan.nights if night.day == leg.number), None)
    if night is None or night.row < 0:
        said = no_camp(night.why if night is not None else None)
        return NightRow(kind="nominal", name=None, place=None, words=said)
    way_m, way_s = _way_to_camp(plan, leg)
    return NightRow(
        kind="camp",
        name=words.name(night.row),
        place=words.place(night.row).id,
        words=camp(plan, night, words, _in_camp_s(plan, leg), way_m=way_m, way_s=way_s),
    )


def _surface(plan: TripPlan, leg: Leg) -> SurfaceRow | None:
    """Metres of each surface; None where no roads are known at all."""
    roads = plan.prepared.roads
    if roads is None:
        return None
    from resupply.roads.match import surface_mix

    mix = surface_mix(roads.matched, roads.graph, start_m=leg.start_m, end_m=leg.end_m)
    return SurfaceRow(
        paved_m=round(mix.paved_m),
        gravel_m=round(mix.gravel_m),
        track_m=round(mix.track_m),
        unknown_m=round(mix.unknown_m),
    )
