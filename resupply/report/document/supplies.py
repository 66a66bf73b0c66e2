"""Fuel and water of a plan as document blocks."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.units import S_PER_HOUR, format_volume
from resupply.hours.state import OpenState
from resupply.places.fuels import is_unmanned, supplied
from resupply.places.place import Confidence, Supply
from resupply.report.document.passes import iso, pass_id
from resupply.say.states import STATES, state_key
from resupply.say.under_way import behind_words
from resupply.supply.water import (
    WaterGap,
    needs_treating,
    split_day,
    water_gaps,
    water_mask,
    water_shut,
)
from resupply.trip.fuels import ANY_PETROL

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from resupply.kitchen.food.rations import WaterNeed
    from resupply.places.place import Place
    from resupply.plan.pipeline import TripPlan
    from resupply.route.legs import Leg
    from resupply.say.names import Words
    from resupply.supply.fuel_range import FuelGap, FuelPlan

__all__ = ["fuel_block", "gaps_of_water", "trip_day", "water_block"]


def fuel_block(plan: TripPlan, fuel: FuelPlan, words: Words) -> dict[str, Any]:
    """Say where to fill up; stretches beyond the range come first."""
    start_m, under_way = plan.legs[0].start_m, plan.trip.now.at_km is not None

    def stretch(gap: FuelGap) -> dict[str, Any]:
        begin_m, end_m = gap.start_m + start_m, gap.end_m + start_m
        said = (
            f"From {words.at(begin_m)} to {words.at(end_m)} it is {words.km(gap.road_m)} between "
            f"fillings: {words.km(gap.missing_m)} more than your range less the reserve. "
            "Carry fuel in an approved can, or ask ahead."
        )
        if under_way and gap is fuel.gaps[0]:
            said = _first_stretch(gap, fuel, plan, words)
        if gap.crosses_unknown:
            said += " Map data is missing on part of it."
        return {"start_m": round(begin_m), "end_m": round(end_m), "words": said}

    first, since = "from here" if under_way else "after the start", "after the last filling"
    rows = np.array([stop.row for stop in fuel.stops], dtype=np.int64)
    legs = plan.clock.leg_ix(plan.prepared.passes.chainage_m[rows])
    stops = [
        {
            "pass": pass_id(stop.row),
            "name": words.name(stop.row),
            "leg": plan.legs[int(leg)].number,
            "chainage_m": round(stop.chainage_m + start_m),
            "since_m": round(stop.since_m),
            "eta": iso(words.local(stop.row, float(plan.arrive_s[stop.row]))),
            "state": state_key(int(plan.risk[stop.row])),
            "joined": stop.joined,
            "confidence": str(_sold(words.place(stop.row), plan.trip.fuel.takes)),
            "words": f"Fill up at {words.name(stop.row)} ({words.at(stop.chainage_m + start_m)}), "
            f"{words.km(stop.since_m)} {first if stop is fuel.stops[0] else since}"
            f"{', beside the food shop' if stop.joined else ''}{_door(int(plan.risk[stop.row]))}"
            f"{_pump(words.place(stop.row), plan.trip.fuel.takes)}.",
        }
        for stop, leg in zip(fuel.stops, legs.tolist(), strict=True)
    ]
    longest = max(fuel.gaps, key=lambda gap: gap.road_m)
    keys = plan.trip.fuel
    reach = words.km((keys.range_km or 0.0) * 1000.0)
    said = (
        f"Longest ride between fillings: {words.km(longest.road_m)}. A full tank goes {reach}, "
        f"{words.km(keys.reserve_km * 1000.0)} of it kept in reserve."
    )
    if longest.crosses_unknown:
        said += " Map data is missing on part of it."
    exceeded = [stretch(gap) for gap in fuel.shortfalls]
    if exceeded:
        said = f"Your range does not reach everywhere: {exceeded[0]['words']}"
        if under_way and fuel.shortfalls[0] is fuel.gaps[0]:
            said = exceeded[0]["words"]
    return {
        "range_m": round((keys.range_km or 0.0) * 1000.0),
        "reserve_m": round(keys.reserve_km * 1000.0),
        "tank_m": None if fuel.tank_m is None else round(fuel.tank_m),
        "tank_words": _tank_words(plan, fuel, words),
        "stops": stops,
        "longest_gap_m": round(longest.road_m),
        "exceeded": exceeded,
        "words": said,
    }


def _door(risk: int) -> str:
    """Say in a few words why a station may be shut; nothing where it is open."""
    doubt = STATES[OpenState(risk)].doubt
    return f"; {doubt}" if doubt else ""


def _pump(place: Place, takes: Sequence[str]) -> str:
    """Say what is doubtful about a station's pumps."""
    said = ""
    if _sold(place, takes) is not Confidence.STATED:
        named = sorted(key.removeprefix("fuel:") for key in place.tags if key.startswith("fuel:"))
        what = "petrol" if takes == (ANY_PETROL,) else " or ".join(takes)
        known = f" ({', '.join(named)})" if named else ""
        said = f"; the map does not name {what} there{known}: ask before you count on it"
    return f"{said}; pumps without staff: bring a card" if is_unmanned(place.tags) else said


def _sold(place: Place, takes: Sequence[str]) -> Confidence:
    return supplied(place, takes).get(Supply.FUEL, Confidence.LIKELY)


def _first_stretch(gap: FuelGap, fuel: FuelPlan, plan: TripPlan, words: Words) -> str:
    """Say what is wrong with the way from here to the first filling."""
    tank_m, reserve_m = fuel.tank_m or 0.0, plan.trip.fuel.reserve_km * 1000.0
    way = f"{_to_filling(gap, plan, words)} is {words.km(gap.road_m)} from here"
    unknown = " Map data is missing on part of it." if gap.crosses_unknown else ""
    if fuel.tank_m is None:
        full = words.km((plan.trip.fuel.range_km or 0.0) * 1000.0)
        return (
            f"Even a full tank does not last, less the reserve: {way} and a full tank goes {full}. "
            f"Carry fuel in an approved can, or ask ahead.{unknown}"
        )
    if gap.beyond_range:
        return (
            f"Your fuel does not last: {way} and your tank goes {words.km(tank_m)}. "
            f"Get fuel before you ride on.{unknown}"
            f"{behind_words(plan, words, gap.road_m, Supply.FUEL)}"
        )
    return (
        f"You ride on your reserve: {way} and your tank goes {words.km(tank_m)}, which leaves "
        f"{words.km(tank_m - gap.road_m)} of the {words.km(reserve_m)} you keep.{unknown}"
    )


def _to_filling(gap: FuelGap, plan: TripPlan, words: Words) -> str:
    at = words.at(gap.end_m + plan.legs[0].start_m)
    if gap.end_row < 0:
        return f"no station is known ahead, and the end of the route ({at})"
    return f"the first station of the plan, {words.name(gap.end_row)} ({at}),"


def _tank_words(plan: TripPlan, fuel: FuelPlan, words: Words) -> str:
    """Say what is in the tank where the plan begins, and what it must do."""
    if plan.trip.now.at_km is None:
        return "Leave with a full tank: the plan counts on it."
    first = fuel.gaps[0]
    way = f"{_to_filling(first, plan, words)} is {words.km(first.road_m)} from here"
    if fuel.tank_m is None:
        unknown = " Map data is missing on part of it." if first.crosses_unknown else ""
        after = "" if first.end_row < 0 else " Fill up there: the plan counts on a full tank after."
        return (
            "How far your fuel still goes is not stated, so whether it lasts is not known: "
            f"{way}.{unknown}{after}"
        )
    return f"Your fuel goes {words.km(fuel.tank_m)}; {way}."


def trip_day(plan: TripPlan, date: dt.date) -> int:
    """Day of the trip, from 1, rest days counted, also on a trip under way."""
    return (date - (plan.trip.start.date or plan.legs[0].date)).days + 1


def gaps_of_water(plan: TripPlan, needs: Mapping[int, WaterNeed], words: Words) -> list[WaterGap]:
    """Stretches between places to fill up, chainage as on the route.

    Parameters
    ----------
    needs
        Day of the trip (from 1, rest days count) to its water.
    """
    passes, start_m = plan.prepared.passes, plan.legs[0].start_m
    days = []
    for leg in plan.legs:
        need = needs[trip_day(plan, leg.date)]
        riding_h = leg.ride_s / S_PER_HOUR
        days.append(split_day(drink_l=need.drink_l, cook_l=need.cook_l, riding_h=riding_h))
    at = np.flatnonzero(_water(plan) & (passes.chainage_m >= start_m))
    gaps = water_gaps(
        (passes.chainage_m[at] - start_m).tolist(),
        at.tolist(),
        [needs_treating(words.place(row)) for row in at.tolist()],
        legs=plan.legs if start_m == 0.0 else _from_here(plan, start_m),
        days=days,
        unknown=[
            replace(hole, start_m=hole.start_m - start_m, end_m=hole.end_m - start_m)
            for hole in plan.prepared.places.coverage.unknown
        ],
    )
    return [replace(gap, start_m=gap.start_m + start_m, end_m=gap.end_m + start_m) for gap in gaps]


def _water(plan: TripPlan) -> NDArray[np.bool_]:
    untreated = plan.trip.food.untreated_water
    return water_mask(plan.prepared, untreated=untreated, arrive_s=plan.arrive_s, risk=plan.risk)


def water_block(
    plan: TripPlan, needs: Mapping[int, WaterNeed], gaps: Sequence[WaterGap], words: Words
) -> dict[str, Any]:
    """Litres by day, and what to take on from each place with water to the next."""
    rows, unknown_heat = [], []
    for leg in plan.legs:
        need = needs[trip_day(plan, leg.date)]
        if not need.heat_known:
            unknown_heat.append(leg.number)
        litres = need.drink_l + need.cook_l
        rows.append({"leg": leg.number, "litres": round(litres, 1), "words": need.why})
    most = max(gaps, key=lambda gap: gap.litres)
    said = f"The most to carry at once: {_gap_row(most, words)['words']}"
    shut = water_shut(plan.prepared, _water(plan), untreated=plan.trip.food.untreated_water)
    if shut:
        said += (
            f" {shut} place{'' if shut == 1 else 's'} with water not counted: shut when you pass, "
            "or may be dry, as tagged."
        )
    block = {
        "litres_by_day": rows,
        "unknown_heat": unknown_heat,
        "gaps": [_gap_row(gap, words) for gap in gaps if gap.litres >= 1.0],
        "longest": _gap_row(most, words),
        "words": said,
    }
    if plan.trip.now.at_km is not None:
        until = plan.legs[int(plan.clock.leg_ix([gaps[0].end_m])[0])].number
        hot = any(number <= until for number in unknown_heat)
        block["on_board"] = _water_on_board(plan, gaps[0], words, maybe_hot=hot)
    return block


def _water_on_board(
    plan: TripPlan, first: WaterGap, words: Words, *, maybe_hot: bool
) -> dict[str, Any]:
    """Whether what is on board lasts to the first place with water; None where not known."""
    have_l, lasts = plan.trip.now.water_l, None
    until = "the end of the route" if first.end_row < 0 else words.name(first.end_row)
    need = (
        f"{format_volume(first.litres, words.units)} for all to {until} ({words.at(first.end_m)})"
    )
    if first.crosses_unknown:
        need += " (map data is missing on part of the way)"
    if have_l is None:
        said = f"How much water is on board is not stated: you need {need}."
    else:
        have, lasts = format_volume(have_l, words.units), have_l >= first.litres
        said = f"You have {have} of water on board and need {need}."
        if lasts and maybe_hot:
            lasts, said = None, f"{said} The heat is not known: if it is hot you need more."
        elif not lasts:
            said = f"Your water does not last: you need {need} and have {have}."
    return {
        "litres": have_l,
        "needed_l": round(first.litres, 1),
        "lasts": lasts,
        "words": said,
    }


def _from_here(plan: TripPlan, start_m: float) -> list[Leg]:
    return [
        replace(leg, start_m=leg.start_m - start_m, end_m=leg.end_m - start_m) for leg in plan.legs
    ]


def _gap_row(gap: WaterGap, words: Words) -> dict[str, Any]:
    source = "the start" if gap.start_row < 0 else words.name(gap.start_row)
    begin_m, end_m = gap.start_m, gap.end_m
    said = (
        f"{format_volume(gap.litres, words.units)} for all from {source} ({words.at(begin_m)}) to "
        f"{words.at(end_m)}"
    )
    if gap.dry_camps:
        said += f", with {gap.dry_camps} night{'' if gap.dry_camps == 1 else 's'} in between"
    said += "."
    if gap.treat:
        said += " Treat this water before you drink it."
    if gap.crosses_unknown:
        said += " Map data is missing on part of it."
    return {
        "start_m": round(begin_m),
        "end_m": round(end_m),
        "litres": round(gap.litres, 1),
        "dry_camps": gap.dry_camps,
        "treat": gap.treat,
        "crosses_unknown": gap.crosses_unknown,
        "words": said,
    }
