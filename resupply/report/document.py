"""The plan as one JSON document, schema `resupply-plan/1`: docs/plan-json.md describes it.

In: a `TripPlan`. Out: plain dicts and lists, SI units in the names, sentences ready to show.
Every report (map, terminal, GPX, page) is made from this document alone.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply import __version__
from resupply.places.model import Confidence, Supply
from resupply.places.tags import kind_words
from resupply.report.words import Words, state_word
from resupply.supply.explain import explain_stops, food_words
from resupply.supply.gaps import MEALS_PER_DAY, Gap, longest_gap
from resupply.supply.solve import Risk
from resupply.units import format_hours, format_mass

if TYPE_CHECKING:
    from resupply.kitchen import KitchenPlan
    from resupply.pipeline import TripPlan
    from resupply.supply.choose import Fallback, Stop

__all__ = ["SCHEMA", "plan_document", "to_json"]

SCHEMA = "resupply-plan/1"
_COPYRIGHT = "https://www.openstreetmap.org/copyright"
_SUPPLY_WORDS = {
    Supply.GROCERIES: "food shop",
    Supply.ICE: "ice",
    Supply.WATER: "drinking water",
    Supply.FUEL: "fuel",
    Supply.CAMP: "camp",
    Supply.MEAL_OUT: "meal out",
}


def to_json(document: dict[str, Any]) -> str:
    """Write the document; the same document gives the same bytes."""
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def plan_document(plan: TripPlan, kitchen: KitchenPlan | None = None) -> dict[str, Any]:
    """Make the document of a plan, and of its kitchen where that is planned."""
    words = Words(plan)
    stops = _stops(plan, words)
    document: dict[str, Any] = {
        "schema": SCHEMA,
        "made_with": f"resupply {__version__}",
        "trip": _trip(plan),
        "summary": {},
        "route": _route(plan),
        "coverage": _coverage(plan, words),
        "legs": _legs(plan),
        "places": _places(plan),
        "passes": _passes(plan, words),
        "start_carry": {
            "meals": plan.supply.start_carry_meals,
            "days": plan.supply.start_carry_meals / MEALS_PER_DAY,
            "kg": _food_kg(plan, plan.supply.start_carry_meals),
            "words": f"Leave home with {food_words(plan.supply.start_carry_meals)} a person.",
            "to_chainage_m": round(plan.supply.start_to_m),
        },
        "stops": stops,
        "carry_profile": _carry_profile(plan),
        "gaps": {str(kind): _gaps(plan, words, kind) for kind in plan.gaps},
        "shortfalls": _shortfalls(plan, words),
        "reserve": _reserve(plan, words),
        "naive": _naive(plan, words),
        "ice": _ice(plan, words),
        "explain": {"rules": list(_RULES)},
        "attribution": {
            "text": "© OpenStreetMap contributors, ODbL",
            "url": _COPYRIGHT,
            "data_date": plan.prepared.places.coverage.data_date,
        },
    }
    if plan.sweep:
        document["sweep"] = _sweep(plan, words)
    if kitchen is not None:
        from resupply.report.kitchen import kitchen_blocks

        document |= kitchen_blocks(plan, kitchen, words)
    from resupply.report.summary import summary

    document["summary"] = summary(plan, document, words)
    return document


_RULES = (
    "Open means open by the stated hours however early or late you are within the arrival window.",
    "Tight means the door may be shut or about to shut: minutes decide.",
    "Not known means the map has no hours that can be read. It is never taken for open.",
    "Usually open or shut is an estimate from a table of usual hours, never a statement.",
    "Food shops known to be shut when you pass are not counted as shops.",
)


def _iso(when: dt.datetime) -> str:
    return when.isoformat(timespec="minutes")


def _food_kg(plan: TripPlan, meals: int) -> float:
    return round(meals * plan.trip.party.people * plan.trip.food.kg_per_meal, 2)


def _trip(plan: TripPlan) -> dict[str, Any]:
    trip, route = plan.trip, plan.prepared.route
    settings = trip.model_dump(mode="json", exclude_defaults=True)
    identity = json.dumps([settings, route.name, round(route.length_m)], sort_keys=True)
    return {
        "id": hashlib.sha256(identity.encode("utf-8", "replace")).hexdigest()[:12],
        "name": trip.name or route.name,
        "units": trip.show.units,
        "clock": trip.show.clock,
        "people": trip.party.people,
        "start_date": plan.legs[0].date.isoformat(),
        "days": (plan.legs[-1].date - plan.legs[0].date).days + 1,
        "daily_m": round(trip.pace.daily_km * 1000.0),
        "speed_kmh": trip.pace.speed_kmh,
        "carry_limit_days": trip.food.carry_limit_days,
        "carry_habit_days": trip.food.carry_habit_days,
        "corridor_m": round(trip.map.corridor_km * 1000.0),
        "country": trip.region.country,
        "time_zone": trip.region.time_zone,
        "settings": _flat(settings),
    }


def _flat(tree: dict[str, Any], head: str = "") -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for key, value in tree.items():
        if isinstance(value, dict):
            flat |= _flat(value, f"{head}{key}.")
        else:
            flat[f"{head}{key}"] = value
    return flat


def _route(plan: TripPlan) -> dict[str, Any]:
    route = plan.prepared.route
    return {
        "name": route.name,
        "length_m": round(route.length_m),
        "warnings": list(route.warnings),
        "breaks": [
            {"chainage_m": round(b.chainage_m), "length_m": round(b.length_m)} for b in route.breaks
        ],
        "marks": [
            {"name": m.name, "lon": round(m.lon, 5), "lat": round(m.lat, 5)} for m in route.marks
        ],
    }


def _coverage(plan: TripPlan, words: Words) -> dict[str, Any]:
    coverage = plan.prepared.places.coverage
    missing_m = sum(s.end_m - s.start_m for s in coverage.unknown)
    if missing_m:
        said = (
            f"Map data is missing on {words.km(missing_m)} of the route. Whether there are shops "
            "is not known there."
        )
    else:
        said = f"Map data covers the whole route ({coverage.source})."
    return {
        "source": coverage.source,
        "data_date": coverage.data_date,
        "unknown": [
            {"start_m": round(s.start_m), "end_m": round(s.end_m), "reason": s.reason}
            for s in coverage.unknown
        ],
        "warnings": list(plan.prepared.places.warnings),
        "words": said,
    }


def _legs(plan: TripPlan) -> list[dict[str, Any]]:
    from resupply.sun import sunrise, sunset

    out = []
    route = plan.prepared.route
    for leg in plan.legs:
        zone = leg.depart.tzinfo
        if zone is None:
            raise ValueError("a leg's times are aware")
        start, end = route.position_at(leg.start_m), route.position_at(leg.end_m)
        rise = sunrise(*start, leg.date, zone)
        down = sunset(*end, leg.date, zone)
        arrive = plan.clock.local(leg.end_m, float(plan.clock.arrive_s(leg.end_m)[0]))
        cautions = []
        if down is not None and arrive > down:
            cautions.append(f"You arrive after sunset ({down:%H:%M}): animals and tiredness.")
        latest = dt.datetime.combine(leg.date, plan.trip.pace.latest_camp, tzinfo=zone)
        if arrive > latest:
            cautions.append(f"You arrive after your latest time in camp ({latest:%H:%M}).")
        out.append(
            {
                "number": leg.number,
                "date": leg.date.isoformat(),
                "weekday": f"{leg.date:%A}",
                "start_m": round(leg.start_m),
                "end_m": round(leg.end_m),
                "length_m": round(leg.length_m),
                "depart": _iso(leg.depart),
                "arrive": _iso(arrive),
                "ride_s": round(leg.ride_s),
                "rest_days_before": leg.rest_days_before,
                "sunrise": _iso(rise) if rise else None,
                "sunset": _iso(down) if down else None,
                "cautions": cautions,
            }
        )
    return out


def _places(plan: TripPlan) -> dict[str, Any]:
    places = plan.prepared.places.places
    used = sorted({int(ix) for ix in plan.prepared.passes.place_ix})
    return {
        places[ix].id: {
            "name": places[ix].name,
            "kind": places[ix].kind,
            "kind_words": kind_words(places[ix].kind),
            "lon": round(places[ix].lon, 5),
            "lat": round(places[ix].lat, 5),
            "supplies": {str(k): str(v) for k, v in sorted(places[ix].supplies.items())},
            "opening_hours": places[ix].opening_hours,
            "tags": dict(places[ix].tags),
        }
        for ix in used
    }


def _pass_id(row: int) -> str:
    return f"p{row}"


def _passes(plan: TripPlan, words: Words) -> list[dict[str, Any]]:
    passes, clock = plan.prepared.passes, plan.clock
    leg_ix = clock.leg_ix(passes.chainage_m)
    stops = {stop.row for stop in plan.supply.stops}
    fallbacks = {s.fallback.row for s in plan.supply.stops} | {
        s.meal_out.row for s in plan.supply.stops
    }
    ice = {stop.row for stop in plan.ice}
    out = []
    for row in range(len(passes)):
        place = words.place(row)
        arrive_s, half_s = float(plan.arrive_s[row]), float(plan.half_width_s[row])
        risk = int(plan.risk[row])
        said = words.hours(row, arrive_s)
        role = (
            "stop"
            if row in stops
            else "ice"
            if row in ice
            else "fallback"
            if row in fallbacks
            else "other"
        )
        out.append(
            {
                "id": _pass_id(row),
                "place": place.id,
                "chainage_m": round(float(passes.chainage_m[row])),
                "offset_m": round(float(passes.offset_m[row])),
                "side": {-1: "left", 0: "on", 1: "right"}[int(passes.side[row])],
                "leg": int(leg_ix[row]) + 1,
                "supplies": [str(k) for k in Supply if plan.prepared.supply[k][row]],
                "eta": _iso(words.local(row, arrive_s)),
                "eta_early": _iso(words.local(row, arrive_s - half_s)),
                "eta_late": _iso(words.local(row, arrive_s + half_s)),
                "state": state_word(risk),
                "usual": {Risk.USUAL: True, Risk.UNLIKELY: False}.get(risk),
                "state_words": words.state(row, arrive_s, risk),
                "next_open": _iso(said.next_open) if said.next_open else None,
                "next_close": _iso(said.next_close) if said.next_close else None,
                "detour_m": round(float(plan.detour_m[row])),
                "detour_s": round(float(plan.detour_s[row])),
                "detour_source": _detour_source(plan, row),
                "role": role,
            }
        )
    return out


def _detour_source(plan: TripPlan, row: int) -> str:
    if plan.prepared.by_road[row]:
        return "by road"
    return "estimate: straight line there and back × 1.4"


def _stops(plan: TripPlan, words: Words) -> list[dict[str, Any]]:
    reasons = explain_stops(
        plan.supply,
        name_of=words.name,
        state_of=lambda row, at_s: words.hours(row, at_s).text,
        distance=words.km,
    )
    out = []
    for stop, reason in zip(plan.supply.stops, reasons, strict=True):
        out.append(
            {
                "number": stop.number,
                "pass": _pass_id(stop.row),
                "place": words.place(stop.row).id,
                "name": words.name(stop.row),
                "leg": stop.leg_ix + 1,
                "chainage_m": round(stop.chainage_m),
                "arrive": _iso(words.local(stop.row, stop.arrive_s)),
                "leave": _iso(words.local(stop.row, stop.leave_s)),
                "minutes": round((stop.leave_s - stop.arrive_s) / 60.0),
                "detour_m": round(float(plan.detour_m[stop.row])),
                "state": state_word(stop.risk),
                "usual": {Risk.USUAL: True, Risk.UNLIKELY: False}.get(stop.risk),
                "state_words": words.state(stop.row, stop.arrive_s, stop.risk),
                "kind": "full" if stop.full else "small",
                "why": reason.why,
                "why_not_previous": reason.why_not_previous,
                "carry_meals": stop.carry_meals,
                "carry_days": stop.carry_days,
                "carry_kg": _food_kg(plan, stop.carry_meals),
                "carry_words": f"Carry {food_words(stop.carry_meals)} a person "
                f"to {words.at(stop.to_m)}.",
                "to_chainage_m": round(stop.to_m),
                "fallback": _fallback(stop, stop.fallback, words),
                "meal_out": _fallback(stop, stop.meal_out, words)
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


def _fallback(stop: Stop, fallback: Fallback, words: Words) -> dict[str, Any]:
    if fallback.kind == "none":
        said = "No other shop is known before the end of the route: carry the reserve."
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
    hours = words.state(fallback.row, fallback.arrive_s, fallback.risk)
    if fallback.kind == "meal_out":
        said = f"A meal out at {name}, {away} on ({hours}). It feeds you once; it is no shop."
    else:
        said = f"Go on to {name}, {away} further, there about {words.day_clock(when)} ({hours})."
    return {
        "kind": fallback.kind,
        "pass": _pass_id(fallback.row),
        "chainage_m": round(fallback.chainage_m),
        "distance_m": round(fallback.distance_m),
        "eta": _iso(when),
        "state": state_word(fallback.risk),
        "words": said,
    }


def _carry_profile(plan: TripPlan) -> list[dict[str, Any]]:
    """Food on board as a step line: falls at each meal, jumps at each stop."""
    clock, supply = plan.clock, plan.supply
    knots = [(0.0, clock.legs[0].depart.timestamp(), supply.start_carry_meals, True)]
    knots += [(s.chainage_m, s.arrive_s, s.carry_meals, True) for s in supply.stops]
    for meal in clock.meals:
        leg = clock.legs[meal.leg_ix]
        at_m = leg.end_m
        if meal.kind == "lunch" and not meal.resting:
            lost_s = meal.when.timestamp() - clock.depart_s[meal.leg_ix]
            grid_m = np.linspace(leg.start_m, leg.end_m, 200)
            passed = clock.arrive_s(grid_m) - clock.depart_s[meal.leg_ix]
            at_m = float(np.interp(lost_s, passed, grid_m))
        elif meal.kind == "breakfast" and not meal.resting:
            at_m = leg.start_m
        knots.append((at_m, meal.when.timestamp(), 0, False))
    on_board, out = 0, []
    for at_m, _, meals, bought in sorted(knots, key=lambda k: (k[1], not k[3])):
        on_board = meals if bought else on_board - 1
        out.append({"chainage_m": round(at_m), "meals": max(on_board, 0)})
    return out


def gap_words(gap: Gap, words: Words, what: str) -> str:
    """One sentence on a gap."""
    where = f"from {words.at(gap.start_m)} to {words.at(gap.end_m)}"
    text = (
        f"{words.km(gap.length_m)} without {what}, {where}: "
        f"{format_hours(gap.ride_s)} of riding, {gap.meals} meal{'' if gap.meals == 1 else 's'}."
    )
    if gap.crosses_unknown:
        text += " Map data is missing on part of it, so there may be more."
    return text


def _gaps(plan: TripPlan, words: Words, kind: Supply) -> dict[str, Any]:
    gaps = plan.gaps[kind]

    def row(gap: Gap) -> dict[str, Any]:
        return {
            "start_m": round(gap.start_m),
            "end_m": round(gap.end_m),
            "length_m": round(gap.length_m),
            "ride_s": round(gap.ride_s),
            "wall_s": round(gap.wall_s),
            "meals": gap.meals,
            "days": gap.days,
            "from_words": "the start" if gap.start_row < 0 else words.name(gap.start_row),
            "to_words": "the end" if gap.end_row < 0 else words.name(gap.end_row),
            "crosses_unknown": gap.crosses_unknown,
            "words": gap_words(
                gap,
                words,
                f"a {_SUPPLY_WORDS[kind]}"
                if kind in (Supply.GROCERIES, Supply.CAMP, Supply.MEAL_OUT)
                else _SUPPLY_WORDS[kind],
            ),
        }

    return {
        "longest": row(longest_gap(gaps)),
        "all": [row(gap) for gap in gaps],
        "count_passes": len(gaps) - 1,
    }


def _shortfalls(plan: TripPlan, words: Words) -> list[dict[str, Any]]:
    limit = plan.supply.weights.limit_meals
    remedies = [
        {
            "what": r.change.words,
            "words": f"{r.change.words[0].upper()}{r.change.words[1:]}: "
            + (
                "keeps the limit everywhere."
                if r.excess_meals == 0
                else f"still {r.excess_meals} meals over."
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
            "words": f"From {words.at(s.start_m)} to {words.at(s.end_m)} no shop is usable for "
            f"{food_words(s.meals)}: {s.excess_meals} meal"
            f"{'' if s.excess_meals == 1 else 's'} over your limit. Carry that much there.",
            "remedies": remedies,
        }
        for s in plan.supply.shortfalls
    ]


def _reserve(plan: TripPlan, words: Words) -> dict[str, Any]:
    supply = plan.supply
    kg = _food_kg(plan, supply.reserve_meals)
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


def _naive(plan: TripPlan, words: Words) -> dict[str, Any]:
    naive = plan.naive
    shut = [
        {
            "pass": _pass_id(row),
            "name": words.name(row),
            "chainage_m": round(float(plan.prepared.passes.chainage_m[row])),
            "arrive": _iso(words.local(row, at_s)),
            "state_words": words.hours(row, at_s).text,
        }
        for row, at_s in zip(naive.shut_rows, naive.shut_arrive_s, strict=True)
    ]
    if shut:
        doors = "a shut door" if len(shut) == 1 else f"{len(shut)} shut doors"
        first = shut[0]
        when = words.day_clock(dt.datetime.fromisoformat(first["arrive"]))
        said = (
            f"A plan that ignores opening hours would stand before {doors}, first at "
            f"{first['name']} ({words.at(first['chainage_m'])}, {when}), and go "
            f"{food_words(naive.longest_meals)} without a shop."
        )
    else:
        said = "A plan that ignores opening hours would meet no door known to be shut here."
    return {
        "stops": [_pass_id(row) for row in naive.rows],
        "shut": shut,
        "longest_meals": naive.longest_meals,
        "words": said,
    }


def _ice(plan: TripPlan, words: Words) -> dict[str, Any]:
    rows = []
    for stop in plan.ice:
        arrive_s, risk = float(plan.arrive_s[stop.row]), int(plan.risk[stop.row])
        stated = stop.confidence is Confidence.STATED
        chainage_m = float(plan.prepared.passes.chainage_m[stop.row])
        sure = (
            "ice is on the map" if stated else "likely, not on the map: ask before you rely on it"
        )
        rows.append(
            {
                "leg": stop.leg_ix + 1,
                "pass": _pass_id(stop.row),
                "confidence": str(stop.confidence),
                "chainage_m": round(chainage_m),
                "eta": _iso(words.local(stop.row, arrive_s)),
                "state": state_word(risk),
                "state_words": words.state(stop.row, arrive_s, risk),
                "at_food_stop": stop.at_food_stop,
                "words": f"Day {stop.leg_ix + 1}: {words.name(stop.row)}, "
                f"{words.at(chainage_m)} ({sure}).",
            }
        )
    longest_s = max((gap.wall_s for gap in plan.ice_gaps), default=0.0)
    said = (
        f"Longest time between ice stops: {format_hours(longest_s)}."
        if rows
        else "No place with ice is known along the route."
    )
    return {
        "stops": rows,
        "longest_gap_h": round(longest_s / 3600.0, 1) if rows else None,
        "words": said,
        "rule_words": "Rule of thumb (common practice, no source): a bag of about 2 kg for each "
        "day until the next ice, twice that on hot days.",
    }


def _sweep(plan: TripPlan, words: Words) -> dict[str, Any]:
    rows = []
    chosen_m = plan.trip.pace.daily_km * 1000.0
    first = plan.legs[0].date
    for row in plan.sweep:
        o = row.outcome
        rows.append(
            {
                "daily_m": round(o.daily_m),
                "start_date": o.start_date.isoformat(),
                "weekday": f"{o.start_date:%A}",
                "days": o.days,
                "stops": o.stops,
                "max_carry_meals": o.max_carry_meals,
                "max_carry_days": o.max_carry_meals / MEALS_PER_DAY,
                "excess_meals": o.excess_meals,
                "extra_s": o.extra_min * 60,
                "shut_on_arrival": o.shut_on_arrival,
                "doubtful_stops": o.doubtful_stops,
                "best": list(row.best),
                "chosen": abs(o.daily_m - chosen_m) < 1.0 and o.start_date == first,
            }
        )
    named = [
        f"{best}: {words.km(r['daily_m'])} a day ({r['weekday']} start)"
        for r in rows
        for best in r["best"]
    ]
    return {"rows": rows, "words": "; ".join(named) + "."}
