"""Days of a plan as document rows: times, sun, surface, weather, cautions."""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import line
from resupply.plan.day_notes import notes_of
from resupply.plan.days import day_facts, night_of, reached_m, surface_of
from resupply.report.document.model.days import (
    ArrivalTable,
    DayFactRow,
    DayRow,
    MealOutRow,
    NightRow,
    SurfaceRow,
)
from resupply.report.document.passes import pass_id
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
from resupply.say.day_facts import fact_sentences, meal_out_words, sun_and_camp
from resupply.say.states import state_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from resupply.kitchen.cold.weather import DayWeather
    from resupply.plan.days import DayFacts
    from resupply.plan.pipeline import TripPlan
    from resupply.route.legs import Leg
    from resupply.say.names import Words

__all__ = ["day_rows", "loose_m", "meal_out_rows"]

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
        facts=tuple(_facts(plan, words, leg, day)),
        cautions=tuple(cautions),
    )


def _facts(plan: TripPlan, words: Words, leg: Leg, day: DayFacts) -> Iterator[DayFactRow]:
    """Tell what is special on a day, or on the days of rest before it."""
    for kind, label, said, at_m in fact_sentences(notes_of(plan.prepared, leg)):
        where = None if at_m is None else round(at_m)
        yield DayFactRow(kind=kind, label=label, words=said, chainage_m=where)
    for one in plan.out:
        if plan.legs[one.meal.leg_ix].number == leg.number:
            said = meal_out_words(one, words)
            yield DayFactRow(kind="meal_out", label="Eat out", words=said, chainage_m=None)
    if day.sunset is not None:
        said = sun_and_camp(day.in_camp, day.sunset)
        yield DayFactRow(kind="sunset", label="Sun", words=said, chainage_m=None)


def meal_out_rows(plan: TripPlan, words: Words) -> tuple[MealOutRow, ...]:
    """Rows of the meals that the rider wants to eat out."""
    return tuple(
        MealOutRow(
            day=plan.legs[one.meal.leg_ix].number,
            date=one.meal.date,
            meal=one.meal.kind,
            pass_id=pass_id(one.row) if one.row >= 0 else None,
            name=words.name(one.row) if one.row >= 0 else None,
            at=words.local(one.row, one.at_s) if one.row >= 0 else None,
            earliest=words.local(one.row, one.at_s - one.half_s) if one.row >= 0 else None,
            latest=words.local(one.row, one.at_s + one.half_s) if one.row >= 0 else None,
            state=state_key(one.risk),
            state_words=words.state(one.row, one.at_s, one.risk) if one.row >= 0 else None,
            words=meal_out_words(one, words),
        )
        for one in plan.out
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
