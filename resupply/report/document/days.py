"""Days of a plan as document rows: times, sun, surface, weather, cautions."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.units import format_hours
from resupply.hours.sun import sunrise, sunset
from resupply.hours.timetable import OpenState
from resupply.report.document.passes import iso
from resupply.supply.camps import camp_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.kitchen.cold.weather import DayWeather
    from resupply.plan.pipeline import TripPlan
    from resupply.route.legs import Leg
    from resupply.say.names import Words

__all__ = ["LOOSE_WORDS", "day_rows"]

LOOSE_WORDS = "of gravel or track on this day."
"""How a day's caution on its surface ends."""

_WAY_S = 300.0
"""A way to the camp shorter than that needs no word on its time."""


def day_rows(
    plan: TripPlan, words: Words, weather: Sequence[DayWeather] = ()
) -> list[dict[str, Any]]:
    """Rows of the riding days, in order; weather is not known where none is given."""
    by_date = {day.date: day for day in weather}
    rows = [_row(plan, words, leg, by_date.get(leg.date)) for leg in plan.legs]
    for row, leg, after in zip(rows, plan.legs, plan.legs[1:], strict=False):
        if float(plan.clock.arrive_s(leg.end_m)[0]) >= after.depart.timestamp():
            row["cautions"].insert(
                0,
                "This day cannot be ridden: you would arrive after the next day's departure. "
                "Ride less a day.",
            )
    return rows


def _row(plan: TripPlan, words: Words, leg: Leg, weather: DayWeather | None) -> dict[str, Any]:
    zone = leg.depart.tzinfo
    if zone is None:
        raise ValueError("a leg's times are aware")
    route = plan.prepared.route
    rise = sunrise(*route.position_at(leg.start_m), leg.date, zone)
    down = sunset(*route.position_at(leg.end_m), leg.date, zone)
    arrive = plan.clock.local(leg.end_m, float(plan.clock.arrive_s(leg.end_m)[0]))
    cautions = []
    # The day ends on the route; the camp is farther.
    in_camp = arrive + dt.timedelta(seconds=_way_to_camp(plan, leg)[1])
    if down is not None and in_camp > down:
        cautions.append(
            f"You arrive after sunset ({words.clock(down)}). Animals are about, and you are tired."
        )
    latest = dt.datetime.combine(leg.date, plan.trip.pace.latest_camp, tzinfo=zone)
    if in_camp > latest:
        cautions.append(
            f"You arrive after your latest time in camp ({words.clock(latest)}); "
            f"{_there_by(plan, leg, latest, words)}."
        )
    cautions += _camp_hours(plan, leg, words)[1:]
    surface = _surface(plan, leg)
    if surface and surface["gravel_m"] + surface["track_m"] > 1000:
        loose = words.km(surface["gravel_m"] + surface["track_m"])
        cautions.append(f"{loose} {LOOSE_WORDS}")
    return {
        "number": leg.number,
        "date": leg.date.isoformat(),
        "weekday": f"{leg.date:%A}",
        "start_m": round(leg.start_m),
        "end_m": round(leg.end_m),
        "length_m": round(leg.length_m),
        **({} if leg.began_m is None else {"began_m": round(leg.began_m)}),
        "depart": iso(leg.depart),
        "arrive": iso(arrive),
        "ride_s": round(leg.ride_s),
        "rest_days_before": leg.rest_days_before,
        "sunrise": iso(rise) if rise else None,
        "sunset": iso(down) if down else None,
        "surface": surface,
        "low_c": weather.low_c if weather else None,
        "high_c": weather.high_c if weather else None,
        "night": _night(plan, leg, words),
        "cautions": cautions,
    }


def _way_to_camp(plan: TripPlan, leg: Leg) -> tuple[float, float]:
    """Metres and riding seconds from the day's end on the route to its camp; 0 without one."""
    night = next((night for night in plan.nights if night.day == leg.number), None)
    if night is None or night.row < 0:
        return 0.0, 0.0
    detours = plan.prepared.detours
    return float(plan.detour_m[night.row]) / 2.0, float(detours.extra_s[night.row]) / 2.0


def _camp_hours(plan: TripPlan, leg: Leg, words: Words) -> tuple[str, ...]:
    """Say what season and hours of the camp are that night, then a caution if it may be shut.

    Empty without a camp.
    """
    night = next((night for night in plan.nights if night.day == leg.number), None)
    if night is None or night.row < 0:
        return ()
    arrive = float(plan.clock.arrive_s(leg.end_m)[0]) + _way_to_camp(plan, leg)[1]
    said, place = words.hours(night.row, arrive), words.place(night.row)
    if said.state is OpenState.OPEN:
        return ("open then, as tagged",)
    if said.state is OpenState.UNKNOWN and said.text == "hours not known":
        return ("season and hours: not stated",)
    own = "Your own place for this night" if place.id in plan.trip.night.own else "The camp"
    return (said.text, f"{own} may be shut when you arrive ({said.text}): ring ahead.")


def _there_by(plan: TripPlan, leg: Leg, latest: dt.datetime, words: Words) -> str:
    """Say how far the rider gets by a time, so that an earlier camp can be looked for."""
    grid_m = np.linspace(leg.start_m, leg.end_m, 400)
    reached_m = grid_m[plan.clock.arrive_s(grid_m) <= latest.timestamp()]
    if not reached_m.size:
        return "you set out after it"
    return f"by then you are at about {words.at(float(reached_m[-1]))}"


def _night(plan: TripPlan, leg: Leg, words: Words) -> dict[str, Any]:
    """Where the day ends, and what the map tells of it."""
    if leg.number == plan.legs[-1].number:
        return {"kind": "end", "name": None, "place": None, "words": "the end of the route"}
    night = next((night for night in plan.nights if night.day == leg.number), None)
    if night is None or night.row < 0:
        said = night.why if night is not None else "by distance alone; look for a camp near"
        return {"kind": "nominal", "name": None, "place": None, "words": said}
    place = words.place(night.row)
    way_m, way_s = _way_to_camp(plan, leg)
    away = words.km(way_m)
    if way_s >= _WAY_S:
        away += f" and {format_hours(way_s)} more"
    told = ", ".join((*camp_words(place.tags), *_camp_hours(plan, leg, words)[:1]))
    if plan.prepared.no_road[night.row]:
        told += "; no road to it is known"
    moved_m = night.end_m - night.nominal_m
    moved = f"; {words.km(abs(moved_m))} {'after' if moved_m > 0 else 'before'} the nominal end"
    return {
        "kind": "camp",
        "name": words.name(night.row),
        "place": place.id,
        "words": f"{words.name(night.row)}, {away} off the route ({told}){moved}",
    }


def _surface(plan: TripPlan, leg: Leg) -> dict[str, int] | None:
    """Metres of each surface; None where no roads are known at all."""
    roads = plan.prepared.roads
    if roads is None:
        return None
    from resupply.roads.match import surface_mix

    mix = surface_mix(roads.matched, roads.graph, start_m=leg.start_m, end_m=leg.end_m)
    return {
        "paved_m": round(mix.paved_m),
        "gravel_m": round(mix.gravel_m),
        "track_m": round(mix.track_m),
        "unknown_m": round(mix.unknown_m),
    }
