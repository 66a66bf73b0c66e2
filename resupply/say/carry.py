"""Sentences about food on board: what to carry, what is spare, what if a shop is shut."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

from resupply.common.quantity import (
    Part,
    Sentence,
    at,
    count,
    date,
    day_time,
    duration,
    food,
    joined,
    line,
    load,
    mass,
    meals,
    meals_and_days,
    percent,
    way,
)
from resupply.places.place import Supply
from resupply.plan.schedule import start_date
from resupply.say.under_way import behind_words
from resupply.supply.if_shut import NEXT_DOOR_M

if TYPE_CHECKING:
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.food_stops import FoodStop, Shortfall
    from resupply.supply.if_shut import Fallback
    from resupply.supply.ignoring_hours import NaivePlan
    from resupply.supply.remedies import Remedy
    from resupply.supply.visit_walk import Figures

__all__ = [
    "carry_words",
    "fallback_words",
    "if_shut_words",
    "mass_on_board",
    "naive_words",
    "remedy_words",
    "shortfall_words",
    "spare_words",
    "style_words",
]

_FOOD = (Supply.GROCERIES, Supply.SMALL_GROCERIES)

_EVENING_H: Final = 17
"""The evening begins (our choice of a word)."""


def carry_words(stop: FoodStop, words: Words) -> Sentence:
    """Say what to carry from a stop, and to where."""
    return line(
        "Carry {food} each to {there}.",
        food=load(stop.carry_meals, words.plan.supply.spare_meals),
        there=at(words.next_stop_m(stop.number)),
    )


def mass_on_board(mass_kg: float | None, kg_per_meal: float, *, by_menu: bool) -> Sentence:
    """Say what the food weighs and what that rests on.

    Parameters
    ----------
    mass_kg
        For the whole party; None where a menu is wanted and not planned yet.
    kg_per_meal
        What one meal of one person counts as where there is no menu.
    by_menu
        Added up over the menu's packs, the spare included.
    """
    if mass_kg is None:
        return line("")
    if by_menu:
        return line(
            "{kg} of food on board by the menu, in packs as sold, the spare included.",
            kg=mass(mass_kg),
        )
    return line(
        "About {kg} of food, at {each} a meal (no source).",
        kg=mass(mass_kg),
        each=mass(kg_per_meal),
    )


def if_shut_words(number: int) -> Sentence:
    """Say how long the food has to last if a stop is shut; `number` of meals."""
    return line(
        "If it is shut, the food you bought before must last {meals}.", meals=meals_and_days(number)
    )


def fallback_words(
    plan: TripPlan, fallback: Fallback, words: Words, stop: FoodStop, *, apart_m: float | None
) -> Sentence:
    """Say where to go if a stop is shut.

    Parameters
    ----------
    apart_m
        Metres from the one shop to the other where the route is left for both at one spot.
    """
    if fallback.kind == "none":
        return _no_fallback(plan, stop.row)
    shop, further = words.named(fallback.row), way(fallback.distance_m)
    detour = words.detour_words(fallback.row)
    hours = words.state(fallback.row, fallback.arrive_s, fallback.risk)
    if fallback.kind == "meal_out":
        return line(
            "A meal out at {place}, {further} on{detour} ({hours}). It feeds you once; it is no "
            "shop.",
            place=shop,
            further=further,
            detour=detour,
            hours=hours,
        )
    if fallback.chainage_m < stop.on_board_m - NEXT_DOOR_M:
        to = line("Go to {shop}, {back} back{detour}", shop=shop, back=further, detour=detour)
    else:
        to = line(
            "Go on to {shop}, {further} further{detour}", shop=shop, further=further, detour=detour
        )
    when = words.local(fallback.row, fallback.arrive_s)
    if when.date() < plan.legs[int(plan.clock.leg_ix(fallback.chainage_m))].date:
        evening = "in the evening" if when.hour >= _EVENING_H else "the same day"
        past = "" if stop.from_camp else ", past camp"
        to = line("{to}, {evening}{past}", to=to, evening=evening, past=past)
    if apart_m is not None:
        to = line("Go to {shop}, within {apart} of it", shop=shop, apart=way(max(apart_m, 100.0)))
    small = not plan.prepared.supply[Supply.GROCERIES][fallback.row]
    return joined(
        line(
            "{to}, there about {when} ({hours}).",
            to=to,
            when=day_time(when),
            hours=hours,
        ),
        "It is a small shop." if small else None,
    )


def shortfall_words(plan: TripPlan, short: Shortfall, words: Words) -> Sentence:
    """Say where the limit cannot be kept, and by how much."""
    over = meals(short.excess_meals)
    have, most = plan.supply.asked.start_meals, plan.supply.asked.limit_meals
    none = _no_shop(plan, short)
    here, there = (
        at(_stop_m(short.start_number, short.start_m, words)),
        at(words.next_stop_m(short.start_number)),
    )
    if short.start_number == 0 and have is not None and have < most:
        # Under way it is not the limit that is too small, but what is on board; the stretch
        # begins here, not at the last shop of it.
        return joined(
            None if short.last_shop_m > short.start_m else none,
            line(
                "Shop for {over} each before you leave: you need {needed} to {there} and set out "
                "with {have}.",
                over=over,
                needed=meals(short.meals),
                there=there,
                have=have,
            )
            if plan.trip.now.at_km is None
            else line(
                "You need {needed} each from here ({here}) to {there} and have {have}: {over} too "
                "few.",
                needed=meals(short.meals),
                here=here,
                there=there,
                have=have,
                over=short.excess_meals,
            ),
            behind_words(plan, words, short.end_m - short.start_m, *_FOOD),
        )
    return joined(
        none,
        line(
            "Unless you find one there, you carry {food} each from {here}: {over} over your limit."
            if _missing_m(plan, short) > 0.0
            else "You must carry {food} each from {here}: {over} over your limit, whatever stops "
            "you make.",
            food=load(short.meals, plan.supply.spare_meals),
            here=here,
            over=over,
        ),
    )


def remedy_words(plan: TripPlan, remedy: Remedy) -> Sentence:
    """Say what would help, and how far."""
    kept = "keeps the limit everywhere."
    if remedy.excess_meals:
        kept = f"still {meals(remedy.excess_meals)} over."
    ((key, value),) = remedy.change.keys
    return line("{change}: {kept}", change=_change(plan, key, value), kept=kept)


def spare_words(plan: TripPlan, words: Words, mass_kg: float | None) -> Sentence:
    """Say what is kept spare, and whether it does if a door is shut; mass for the whole party."""
    supply = plan.supply
    spare, more = supply.spare_meals, supply.worst_more_meals
    kept = line(
        "{meals} each kept spare{kg}",
        meals=meals(spare),
        kg=None if mass_kg is None else line(" ({kg} for all)", kg=mass(mass_kg)),
    )
    if not spare:
        kept = line("Nothing is kept spare")
    if not supply.stops:
        return line("{kept}; no stop is planned, so nothing can be shut.", kept=kept)
    if not more:
        return line(
            "{kept}; if any one stop is shut, the next shop comes before the next meal.", kept=kept
        )
    if more <= spare:
        return line("{kept}. That is enough if any one food stop is shut.", kept=kept)
    return line(
        "{kept}. If {stop} is shut you need {more} more than planned, {beyond} beyond what is "
        "spare: carry them{ring}.",
        kept=kept,
        stop=words.named(supply.stops[supply.worst_stop - 1].row),
        more=meals(more),
        beyond=more - spare,
        ring=", or ring ahead" if words.can_ring(supply.stops[supply.worst_stop - 1].row) else None,
    )


def style_words(figures: Figures, spare: int, *, about: bool = False) -> Sentence:
    """Say what a style of shopping comes to.

    Parameters
    ----------
    about
        The cooler may ask for other stops in this style than in the one that is planned in full.
    """
    return line(
        "{about}{stops}; at most {most}{dinners}{doubt}",
        about="about " if about else None,
        stops=_visits(figures),
        most=load(figures.most_meals, spare),
        dinners=line(
            "; {fresh} of {dinners} fresh",
            fresh=figures.fresh_dinners,
            dinners=count(figures.dinners, "dinner"),
        )
        if figures.dinners
        else None,
        doubt=line("; chance that a stop is shut {chance}", chance=percent(figures.fail_chance))
        if figures.visits
        else None,
    )


def _visits(figures: Figures) -> Sentence:
    if not figures.visits:
        return line("no stop")
    stops, long = count(figures.visits, "stop"), duration(figures.minutes * 60.0)
    return line("{stops}, {long}", stops=stops, long=long)


def naive_words(naive: NaivePlan, words: Words) -> Sentence:
    """Say what a plan that ignores opening hours would meet."""
    if not naive.shut_rows:
        return line("Checked: without opening hours you would find no shop shut here.")
    row, at_s = naive.shut_rows[0], naive.shut_arrive_s[0]
    more = len(naive.shut_rows) - 1
    return line(
        "Checked: without opening hours you would find {shop} shut ({there}, {when}){more}, and "
        "need {food}.",
        shop=words.named(row),
        there=words.at_pass(row),
        when=day_time(words.local(row, at_s)),
        more=f" and {count(more, 'other shop')}" if more else None,
        food=food(naive.longest_meals),
    )


def _stop_m(number: int, start_m: float, words: Words) -> float:
    """Chainage of the food stop of a number, metres; 0 is the start."""
    return words.next_stop_m(number - 1) if number else start_m


def _no_fallback(plan: TripPlan, row: int) -> Sentence:
    """Say that no shop replaces the one at a pass row, and what is known of those after it."""
    candidates, here_m = plan.supply.candidates, float(plan.prepared.leave_m[row])
    after = candidates.chainage_m > here_m
    place = plan.prepared.passes.place_ix[row]
    others = (after & (candidates.place_ix != place)).any()
    missing = any(hole.end_m > here_m for hole in plan.prepared.places.coverage.unknown)
    return joined(
        line(
            "No other shop {known}is known before the end of the route: eat what is spare.",
            known="that replaces it and is open by stated hours " if others else None,
        ),
        "Map data is missing on part of the way." if missing else None,
    )


def _no_shop(plan: TripPlan, short: Shortfall) -> Sentence:
    """Say what is known of the barest part of the way: no shop, none open, or nothing."""
    begin_m, end_m = short.bare_m
    missing_m = _missing_m(plan, short)
    candidates = plan.supply.candidates
    on_it = ((candidates.chainage_m > begin_m) & (candidates.chainage_m < end_m)).any()
    none: Part = "no shop is open when you pass" if on_it else "the map has no shop in reach"
    if missing_m > 0.0:
        none = line(
            "{none}, and map data is missing on {far} of it",
            none=none if on_it else "no shop is known",
            far=way(missing_m),
        )
    return line("From {start} to {end} {none}.", start=at(begin_m), end=at(end_m), none=none)


def _missing_m(plan: TripPlan, short: Shortfall) -> float:
    """How much of the barest part of the way is without map data."""
    begin_m, end_m = short.bare_m
    holes = plan.prepared.places.coverage.unknown
    return sum(max(min(s.end_m, end_m) - max(s.start_m, begin_m), 0.0) for s in holes)


def _change(plan: TripPlan, key: str, value: object) -> Sentence:
    """Say a change of the trip's settings in words."""
    trip = plan.trip
    if isinstance(value, dt.time):
        day = start_date(trip)
        moved_s = (
            dt.datetime.combine(day, value) - dt.datetime.combine(day, trip.pace.depart)
        ).total_seconds()
        hours = count(abs(moved_s) / 3600.0, "hour")
        return line(
            "Leave {hours} {side} each morning",
            hours=hours,
            side="earlier" if moved_s < 0.0 else "later",
        )
    if isinstance(value, dt.date):
        return line("Start on {date}", date=date(value))
    if key == "shops.none_on_days":
        return line("Shop on the days that you keep free of it")
    if not isinstance(value, float):
        raise TypeError(f"no words for a change of {key}")
    if key == "pace.daily_km":
        return line("Ride {far} a day", far=way(value * 1000.0))
    own = line(
        " (the ways to those more than {own} off are estimates)",
        own=way(trip.map.corridor_km * 1000.0),
    )
    return line(
        "Look for shops up to {far} from the route{own}",
        far=way(value * 1000.0),
        own=own if plan.prepared.roads is not None else None,
    )
