"""Days of a plan as document rows: times, sun, surface, weather, cautions."""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import line
from resupply.plan.days import day_facts, night_of, reached_m, surface_of
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
    from resupply.plan.days import DayFacts
    from resupply.plan.pipeline import TripPlan
    from resupply.route.legs import Leg
    from resupply.say.names import Words

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
    day = day_facts(plan, leg, after)
    cautions = []
    if day.too_long:
        cautions.append(day_too_long())
    if day.sunset is not None and day.after_sunset:
        cautions.append(after_sunset(day.sunset))
    if day.after_latest:
        cautions.append(after_latest(day.latest, reached_m(plan, leg, day.latest)))
    if day.camp is not None:
        shut = camp_may_be_shut(plan, day.camp, words, _in_camp_s(plan, leg, day))
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
        arrive=day.arrive,
        arrivals=_arrivals(plan, leg),
        ride_s=round(leg.ride_s),
        rest_days_before=leg.rest_days_before,
        crossing_days_before=leg.crossing_days_before,
        sunrise=day.sunrise,
        sunset=day.sunset,
        surface=surface,
        low_c=weather.low_c if weather else None,
        high_c=weather.high_c if weather else None,
        night=_night(plan, leg, day, words),
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


def _in_camp_s(plan: TripPlan, leg: Leg, day: DayFacts) -> float:
    """When the rider is in camp, UTC epoch seconds."""
    return float(plan.clock.arrive_s(leg.end_m)[0]) + day.way_s


def loose_m(surface: SurfaceRow | None) -> float:
    """Metres of gravel and track of a day; 0 where that is too little for a word."""
    found_m = float(surface.gravel_m + surface.track_m) if surface else 0.0
    return found_m if found_m > _LOOSE_M else 0.0


def _night(plan: TripPlan, leg: Leg, day: DayFacts, words: Words) -> NightRow:
    """Where the day ends, and what the map tells of it."""
    if leg.number == plan.legs[-1].number:
        said = line("the end of the route")
        return NightRow(kind="end", name=None, place=None, words=said)
    night = day.camp
    if night is None:
        looked = night_of(plan, leg)
        said = no_camp(looked.why if looked is not None else None)
        return NightRow(kind="nominal", name=None, place=None, words=said)
    in_camp_s = _in_camp_s(plan, leg, day)
    return NightRow(
        kind="camp",
        name=words.name(night.row),
        place=words.place(night.row).id,
        words=camp(plan, night, words, in_camp_s, way_m=day.way_m, way_s=day.way_s),
    )


def _surface(plan: TripPlan, leg: Leg) -> SurfaceRow | None:
    mix = surface_of(plan, leg)
    if mix is None:
        return None
    return SurfaceRow(
        paved_m=round(mix.paved_m),
        gravel_m=round(mix.gravel_m),
        track_m=round(mix.track_m),
        unknown_m=round(mix.unknown_m),
    )
