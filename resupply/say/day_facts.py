"""Sentences about what is special on a day: holidays, clocks, time zones, borders, meals out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from resupply.common.quantity import at, count, date, day_time, duration, line, listed, time
from resupply.hours.state import BY_HOURS

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from resupply.common.quantity import Part, Sentence
    from resupply.plan.day_notes import DayNotes
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.eat_out import MealOut

__all__ = ["fact_sentences", "meal_out_words", "meals_out_cautions", "sun_and_camp"]

FactKind = Literal["holiday", "clocks", "time_zone", "border"]

_MEAL_AT: Final = {"breakfast": "Breakfast", "lunch": "Lunch", "dinner": "Dinner"}


def fact_sentences(facts: DayNotes) -> Iterator[tuple[FactKind, str, Sentence, float | None]]:
    """Give the kind, a label, the words and, where there is one, the chainage of each fact."""
    for holiday in facts.holidays:
        sure = "many shops are shut" if holiday.sure else "in some regions or by some calendars"
        said = line(
            "public holiday ({country}) on {date}: {sure}",
            country=holiday.country,
            date=date(holiday.date),
            sure=sure,
        )
        yield "holiday", "Holiday", said, None
    if facts.no_calendar:
        said = line(
            "whether it is a public holiday is not known ({countries})",
            countries=", ".join(facts.no_calendar),
        )
        yield "holiday", "Holiday", said, None
    for clocks in facts.clocks:
        said = line(
            "clocks go {way} {long} on {date}",
            way=_way(clocks.forward_s),
            long=duration(abs(clocks.forward_s)),
            date=date(clocks.date),
        )
        yield "clocks", "Clocks", said, None
    for zone in facts.zones:
        said = line(
            "another time zone from about {there}: put the clock {way} {long}. Times at places are "
            "their own",
            there=at(zone.at_m),
            way=_way(zone.forward_s),
            long=duration(abs(zone.forward_s)),
        )
        yield "time_zone", "Time zone", said, zone.at_m
    for border in facts.borders:
        said = line(
            "from {left} into {entered} at about {there}",
            left=border.left,
            entered=border.entered,
            there=at(border.at_m),
        )
        yield "border", "Border", said, border.at_m


def sun_and_camp(in_camp: dt.datetime, sunset: dt.datetime) -> Sentence:
    """Say how long before or after sunset the rider is in camp."""
    apart_s = (sunset - in_camp).total_seconds()
    return line(
        "sets {down}, {apart} {side} you are there ({there})",
        down=time(sunset),
        apart=duration(abs(apart_s)),
        side="after" if apart_s >= 0.0 else "before",
        there=time(in_camp),
    )


def meal_out_words(out: MealOut, words: Words) -> Sentence:
    """Say where a meal is eaten out, or that it is carried for want of a place."""
    meal = _MEAL_AT[out.meal.kind]
    if out.row < 0:
        return line(
            "{meal} out: no place that serves meals is known to be reached in time, so it is "
            "carried",
            meal=meal,
        )
    sure = out.risk in BY_HOURS
    return line(
        "{meal} out at {place} ({there}), {when}: {hours}{spare}",
        meal=meal,
        place=words.named(out.row),
        there=words.at_pass(out.row),
        when=day_time(words.local(out.row, out.at_s)),
        hours=words.state(out.row, out.at_s, out.risk),
        spare=None if sure else "; if it is shut, eat from the spare",
    )


def meals_out_cautions(plan: TripPlan, words: Words) -> Iterator[Part]:
    """Warn of meals out that have no place, and of those whose place may be shut."""
    none = [one for one in plan.out if one.row < 0]
    if none:
        said = listed(f"{one.meal.kind} on {date(one.meal.date)}" for one in none[:_MOST_NAMED])
        left = len(none) - _MOST_NAMED
        yield line(
            "You want to eat out ({said}{more}), but no place that serves meals is known to be "
            "open and reached in time: these meals are carried.",
            said=said,
            more=f" and {count(left, 'other meal')}" if left > 0 else None,
        )
    doubtful = [one for one in plan.out if one.row >= 0 and one.risk not in BY_HOURS]
    if doubtful:
        yield line(
            "{meals} out may find the door shut (the first: {first}): the spare has to do then.",
            meals=count(len(doubtful), "meal"),
            first=words.named(doubtful[0].row),
        )


_MOST_NAMED: Final = 4
"""Our choice: more in one sentence are not read."""


def _way(forward_s: float) -> str:
    return "forward" if forward_s > 0 else "back"
