"""Chosen stops of a plan, their fallbacks, the reserve and the shortfalls, as document blocks."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.geodesy import geod
from resupply.common.quantity import MEALS_PER_DAY
from resupply.common.units import format_mass
from resupply.places.place import Supply
from resupply.report.document.passes import iso, pass_id
from resupply.say.states import state_key
from resupply.say.stops import explain_stops, food_words, meal_words
from resupply.say.under_way import behind_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.food_stops import Shortfall
    from resupply.supply.if_shut import Fallback

__all__ = [
    "Carried",
    "carried",
    "carry_profile",
    "naive_block",
    "reserve_block",
    "shortfall_rows",
    "stop_rows",
]

_FOOD = (Supply.GROCERIES, Supply.SMALL_GROCERIES)
_SAME_SPOT_M = 100.0
"""Two shops for which the route is left so close together are told apart by their distance."""


@dataclass(frozen=True, slots=True)
class Carried:
    """Food on board for the whole party, kg."""

    start_kg: float
    stops_kg: tuple[float, ...]
    """Leaving each stop."""
    reserve_kg: float
    by_menu: bool
    """Added up over the menu's packs, the reserve included; else so much a meal."""
    kg_per_meal: float
    start_by_menu: bool = False
    """What is on board under way is no part of the menu."""

    def start_words(self, words: Words) -> str:
        """Say the mass at the start and what it rests on."""
        return self._said(self.start_kg, words, by_menu=self.start_by_menu)

    def words(self, kg: float, words: Words) -> str:
        """Say the mass leaving a stop and what it rests on."""
        return self._said(kg, words, by_menu=self.by_menu)

    def _said(self, kg: float, words: Words, *, by_menu: bool) -> str:
        mass = format_mass(kg, words.units)
        if by_menu:
            return f"{mass} of food on board by the menu, in packs as sold, the reserve included."
        each = format_mass(self.kg_per_meal, words.units)
        return f"About {mass} of food, at {each} a meal (no source)."


def carried(plan: TripPlan, kitchen: KitchenPlan | None = None) -> Carried:
    """Weigh the food: by the menu where one is planned, else by the trip's mass of a meal."""
    each_kg = plan.trip.food.kg_per_meal

    def guess_kg(meals: int) -> float:
        return round(meals * plan.trip.party.people * each_kg, 2)

    stops_kg = tuple(guess_kg(stop.carry_meals) for stop in plan.supply.stops)
    start_kg = guess_kg(plan.supply.start_carry_meals)
    reserve_kg = guess_kg(plan.supply.reserve_meals)
    if kitchen is None or kitchen.shopping is None:
        return Carried(start_kg, stops_kg, reserve_kg, by_menu=False, kg_per_meal=each_kg)
    parts = kitchen.table.cookbook.ingredients
    told = tuple(round(kg, 2) for kg in kitchen.carried_kg)
    if kitchen.shopping.reserve:
        lines = kitchen.shopping.reserve
        reserve_kg = round(sum(ln.bought * parts[ln.ingredient].unit_kg for ln in lines), 2)
    if not kitchen.first_stop:
        start_kg, told = told[0], told[1:]
    return Carried(
        start_kg,
        told,
        reserve_kg,
        by_menu=True,
        kg_per_meal=each_kg,
        start_by_menu=not kitchen.first_stop,
    )


def stop_rows(
    plan: TripPlan, words: Words, weights: Carried, ice: Mapping[str, Sequence[dict[str, Any]]]
) -> list[dict[str, Any]]:
    """Rows of the chosen stops, in order.

    Parameters
    ----------
    ice
        Ice to buy by pass id; see `resupply.report.document.ice.ice_buys`.
    """
    reasons = explain_stops(
        plan.supply,
        name_of=words.name,
        state_of=lambda row, at_s: words.hours(row, at_s).text,
        distance=words.km,
    )
    out = []
    masses = weights.stops_kg
    for stop, reason, kg in zip(plan.supply.stops, reasons, masses, strict=True):
        out.append(
            {
                "number": stop.number,
                "pass": pass_id(stop.row),
                "place": words.place(stop.row).id,
                "name": words.name(stop.row),
                "leg": plan.legs[stop.leg_ix].number,
                "chainage_m": round(stop.chainage_m),
                "arrive": iso(words.local(stop.row, stop.arrive_s)),
                "leave": iso(words.local(stop.row, stop.leave_s)),
                "minutes": round((stop.leave_s - stop.arrive_s) / 60.0),
                "detour_m": round(float(plan.detour_m[stop.row])),
                "state": state_key(stop.risk),
                "state_words": words.state(stop.row, stop.arrive_s, stop.risk),
                "kind": "full" if stop.full else "small",
                "why": reason.why,
                "why_not_previous": reason.why_not_previous,
                "carry_meals": stop.carry_meals,
                "carry_days": stop.carry_days,
                "carry_kg": kg,
                "carry_kg_words": weights.words(kg, words),
                "ice": list(ice.get(pass_id(stop.row), ())),
                "carry_words": f"Carry {food_words(stop.carry_meals)} a person "
                f"to {words.at(stop.to_m)}.",
                "to_chainage_m": round(stop.to_m),
                "fallback": _fallback(plan, stop.fallback, words, stop.row),
                "meal_out": _fallback(plan, stop.meal_out, words, stop.row)
                if stop.meal_out.kind == "meal_out"
                else None,
                "if_shut": {
                    "gap_meals": stop.if_shut_meals,
                    "gap_days": stop.if_shut_meals / MEALS_PER_DAY,
                    "words": f"If it is shut, the food bought before must last "
                    f"{food_words(stop.if_shut_meals)}.",
                },
            }
        )
    return out


def _fallback(plan: TripPlan, fallback: Fallback, words: Words, row: int) -> dict[str, Any]:
    """Row of what to do if the stop at a pass row is shut."""
    if fallback.kind == "none":
        said = _no_fallback(plan, row)
        return {
            "kind": "none",
            "pass": None,
            "chainage_m": round(fallback.chainage_m),
            "distance_m": round(fallback.distance_m),
            "eta": None,
            "state": "unknown",
            "words": said,
        }
    when = words.local(fallback.row, fallback.arrive_s)
    name, away = words.name(fallback.row), words.km(fallback.distance_m)
    detour = words.detour(fallback.row)
    hours = words.state(fallback.row, fallback.arrive_s, fallback.risk)
    if fallback.kind == "meal_out":
        said = (
            f"A meal out at {name}, {away} on{detour} ({hours}). It feeds you once; it is no shop."
        )
    else:
        way = f"Go on to {name}, {away} further{detour}"
        if fallback.distance_m <= _SAME_SPOT_M:
            one, other = words.place(row), words.place(fallback.row)
            apart_m = geod().inv(one.lon, one.lat, other.lon, other.lat)[2]
            way = f"Go to {name}, within {words.km(max(apart_m, 100.0))} of it"
        said = f"{way}, there about {words.day_clock(when)} ({hours})."
        if not plan.prepared.supply[Supply.GROCERIES][fallback.row]:
            said += " It is a small shop."
    return {
        "kind": fallback.kind,
        "pass": pass_id(fallback.row),
        "chainage_m": round(fallback.chainage_m),
        "distance_m": round(fallback.distance_m),
        "eta": iso(when),
        "state": state_key(fallback.risk),
        "words": said,
    }


def _no_fallback(plan: TripPlan, row: int) -> str:
    """Say that no shop replaces the one at a pass row, and what is known of those after it."""
    candidates, here_m = plan.supply.candidates, float(plan.prepared.leave_m[row])
    after = candidates.chainage_m > here_m
    place = plan.prepared.passes.place_ix[row]
    others = (after & (candidates.place_ix != place)).any()
    known = "that replaces it and is open by stated hours " if others else ""
    said = f"No other shop {known}is known before the end of the route: carry the reserve."
    if any(hole.end_m > here_m for hole in plan.prepared.places.coverage.unknown):
        said += " Map data is missing on part of the way."
    return said


def shortfall_rows(plan: TripPlan, words: Words) -> list[dict[str, Any]]:
    """Rows of the stretches over the limit, each with the remedies."""
    limit = plan.supply.weights.limit_meals
    remedies = [
        {
            "what": r.change.words,
            "words": f"{r.change.words[0].upper()}{r.change.words[1:]}: "
            + (
                "keeps the limit everywhere."
                if r.excess_meals == 0
                else f"still {meal_words(r.excess_meals)} over."
            ),
            "minutes": r.minutes,
            "excess_meals": r.excess_meals,
        }
        for r in plan.remedies
    ]
    return [
        {
            "start_m": round(s.start_m),
            "end_m": round(s.end_m),
            "days": s.meals / MEALS_PER_DAY,
            "meals": s.meals,
            "limit_days": limit / MEALS_PER_DAY,
            "excess_meals": s.excess_meals,
            "last_shop_m": round(s.last_shop_m),
            "words": _too_much(plan, s, words),
            "remedies": remedies,
        }
        for s in plan.supply.shortfalls
    ]


def _no_shop(plan: TripPlan, short: Shortfall, words: Words) -> str:
    """Say what is known of the barest part of the way: no shop, none open, or nothing."""
    begin_m, end_m = short.bare_m
    where = f"From {words.at(begin_m)} to {words.at(end_m)}"
    holes = plan.prepared.places.coverage.unknown
    missing_m = sum(max(min(s.end_m, end_m) - max(s.start_m, begin_m), 0.0) for s in holes)
    candidates = plan.supply.candidates
    on_it = (candidates.chainage_m > begin_m) & (candidates.chainage_m < end_m)
    none = "no shop is open when you pass" if on_it.any() else "the map has no shop in reach"
    if missing_m > 0.0:
        none = (
            f"{none if on_it.any() else 'no shop is known'}, and map data is missing on "
            f"{words.km(missing_m)} of it"
        )
    return f"{where} {none}."


def _too_much(plan: TripPlan, short: Shortfall, words: Words) -> str:
    meals = meal_words(short.excess_meals)
    have, limit = plan.supply.problem.on_board_meals, plan.supply.weights.limit_meals
    none = f"{_no_shop(plan, short, words)} "
    if short.start_number == 0 and have is not None and have < limit:
        # Under way it is not the limit that is too small, but what is on board; the stretch
        # begins here, not at the last shop of it.
        begin = "" if short.last_shop_m > short.start_m else none
        return (
            f"{begin}You need {food_words(short.meals)} a person from here "
            f"({words.at(short.start_m)}) to {words.at(short.end_m)} and have {food_words(have)} "
            f"on board: {meals} a person too few."
            + behind_words(plan, words, short.end_m - short.start_m, *_FOOD)
        )
    return (
        f"{none}You have to carry {food_words(short.meals)} a person from "
        f"{words.at(short.start_m)}: {meals} over your limit, whatever stops you make."
    )


def reserve_block(plan: TripPlan, words: Words, weights: Carried) -> dict[str, Any]:
    """Say what to hold in reserve."""
    supply = plan.supply
    kg = weights.reserve_kg
    if not supply.stops:
        said = "No stop is planned, so nothing can be shut."
    elif supply.reserve_meals == 0:
        said = "If any one stop is shut, the next shop comes before the next meal."
    else:
        name = words.name(supply.stops[supply.reserve_stop - 1].row)
        said = (
            f"{food_words(supply.reserve_meals)} a person in reserve "
            f"({format_mass(kg, words.units)} in all) covers any one stop being shut; "
            f"{name} decides it."
        )
    return {
        "meals": supply.reserve_meals,
        "kg": kg,
        "worst_stop": supply.reserve_stop or None,
        "longest_gap_meals": supply.longest_if_shut_meals,
        "longest_gap_days": supply.longest_if_shut_meals / MEALS_PER_DAY,
        "words": said,
    }


def naive_block(plan: TripPlan, words: Words) -> dict[str, Any]:
    """Say what a plan that ignores opening hours would meet."""
    naive = plan.naive
    shut: list[dict[str, Any]] = [
        {
            "pass": pass_id(row),
            "name": words.name(row),
            "chainage_m": round(float(plan.prepared.passes.chainage_m[row])),
            "arrive": iso(words.local(row, at_s)),
            "state_words": words.hours(row, at_s).text,
        }
        for row, at_s in zip(naive.shut_rows, naive.shut_arrive_s, strict=True)
    ]
    if shut:
        doors = "a shut door" if len(shut) == 1 else f"{len(shut)} shut doors"
        first = shut[0]
        when = words.day_clock(dt.datetime.fromisoformat(first["arrive"]))
        said = (
            f"Ignoring opening hours, you would stand before {doors}, first at "
            f"{first['name']} ({words.at(first['chainage_m'])}, {when}), and need "
            f"{food_words(naive.longest_meals)}."
        )
        if not plan.supply.shortfalls:
            said += " This plan avoids that."
    else:
        said = "Ignoring opening hours, you would meet no door known to be shut here."
    return {
        "stops": [pass_id(row) for row in naive.rows],
        "shut": shut,
        "longest_meals": naive.longest_meals,
        "words": said,
    }


def carry_profile(plan: TripPlan) -> list[dict[str, Any]]:
    """Food on board as a step line: falls at each meal, jumps at each stop."""
    clock, supply, now = plan.clock, plan.supply, plan.trip.now
    # Under way the rider has what is stated, not what is needed.
    first = supply.start_carry_meals if now.at_km is None else now.food_meals
    knots = [(clock.legs[0].start_m, clock.start_s, first, True)]
    knots += [(s.chainage_m, s.arrive_s, s.carry_meals, True) for s in supply.stops]
    for meal in clock.meals:
        leg = clock.legs[meal.leg_ix]
        at_m = leg.end_m
        if meal.kind == "lunch" and not meal.resting:
            lost_s = meal.when.timestamp() - clock.depart_s[meal.leg_ix]
            grid_m = np.linspace(leg.start_m, leg.end_m, 200)
            passed = clock.nominal_s(grid_m) - clock.depart_s[meal.leg_ix]
            at_m = float(np.interp(lost_s, passed, grid_m))
        elif not meal.resting and (meal.kind == "breakfast" or meal.when < leg.depart):
            at_m = leg.start_m
        knots.append((at_m, meal.when.timestamp(), 0, False))
    on_board, out = 0, []
    for at_m, _, meals, bought in sorted(knots, key=lambda k: (k[1], not k[3])):
        on_board = max(meals, on_board) if bought else max(on_board - 1, 0)
        out.append({"chainage_m": round(at_m), "meals": on_board})
    return out
