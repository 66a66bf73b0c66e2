"""Sentences about fuel: where to fill up, how far it has to last, where it does not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import Quantity, Sentence, at, joined, line, name, way
from resupply.hours.state import OpenState
from resupply.places.fuels import is_unmanned, supplied
from resupply.places.place import Confidence, Supply
from resupply.say.states import STATES
from resupply.say.under_way import behind_words
from resupply.trip.fuels import ANY_PETROL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.places.place import Place
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.fuel_range import FuelGap, FuelPlan, FuelStop

__all__ = ["beyond_range", "fill_up", "fuel_words", "sold", "tank_words"]

_MISSING = "Map data is missing on part of it."
_CAN = "Carry fuel in an approved can, or ask ahead."


def fill_up(plan: TripPlan, stop: FuelStop, words: Words, *, first: bool) -> Sentence:
    """Say where to fill up, how long after the last filling, and what is doubtful there."""
    since = "after the last filling"
    if first:
        since = "after the start" if plan.trip.now.at_km is None else "from here"
    place = words.place(stop.row)
    day = plan.legs[int(plan.clock.leg_ix([plan.prepared.passes.chainage_m[stop.row]])[0])].number
    free = day in plan.trip.shops.none_on_days and not stop.joined
    return line(
        "Fill up at {station} ({there}), {ridden} {since}{beside}{door}{pump}{free}.",
        station=words.named(stop.row),
        there=words.at_pass(stop.row),
        ridden=way(stop.since_m),
        since=since,
        beside=", beside the food shop" if stop.joined else None,
        door=_door(int(plan.risk[stop.row])),
        pump=_pump(place, plan.trip.fuel.takes),
        free=f"; fuel only: day {day} is kept free of shops" if free else None,
    )


def fuel_words(plan: TripPlan, fuel: FuelPlan, words: Words) -> Sentence:
    """Say how far the fuel has to last; where it does not, that first."""
    if fuel.shortfalls:
        first = fuel.shortfalls[0]
        said = beyond_range(plan, fuel, first, words)
        if plan.trip.now.at_km is not None and first is fuel.gaps[0]:
            return said
        return line("Your range does not reach everywhere. {said}", said=said)
    longest, keys = max(fuel.gaps, key=lambda gap: gap.road_m), plan.trip.fuel
    return joined(
        line(
            "Longest ride between fillings: {far}. A full tank goes {range}, {kept} of it kept in "
            "reserve.",
            far=way(longest.road_m),
            range=way((keys.range_km or 0.0) * 1000.0),
            kept=way(keys.reserve_km * 1000.0),
        ),
        _MISSING if longest.crosses_unknown else None,
    )


def beyond_range(plan: TripPlan, fuel: FuelPlan, gap: FuelGap, words: Words) -> Sentence:
    """Say what is wrong with a stretch that the tank does not reach across."""
    if plan.trip.now.at_km is not None and gap is fuel.gaps[0]:
        return _from_here(plan, fuel, gap, words)
    return joined(
        line(
            "From {start} to {end} you ride {far} between fillings: {missing} more than your range "
            "less the reserve. {can}",
            start=_end(plan, gap.start_row, gap.start_m, words),
            end=_end(plan, gap.end_row, gap.end_m, words),
            far=way(gap.road_m),
            missing=way(gap.missing_m),
            can=_CAN,
        ),
        _MISSING if gap.crosses_unknown else None,
    )


def tank_words(plan: TripPlan, fuel: FuelPlan, words: Words) -> Sentence:
    """Say what is in the tank where the plan begins, and what it must do."""
    if plan.trip.now.at_km is None:
        return line("Leave with a full tank: the plan counts on it.")
    first = fuel.gaps[0]
    ride = _way_there(plan, first, words)
    if fuel.tank_m is not None:
        return line("Your fuel goes {tank}; {ride}.", tank=way(fuel.tank_m), ride=ride)
    full_after = "Fill up there: the plan counts on a full tank after."
    return joined(
        line(
            "How far your fuel still goes is not stated, so whether it lasts is not known: {ride}.",
            ride=ride,
        ),
        _MISSING if first.crosses_unknown else None,
        None if first.end_row < 0 else full_after,
    )


def sold(place: Place, takes: Sequence[str]) -> Confidence:
    """How sure it is that a place sells what the tank takes."""
    return supplied(place, takes).get(Supply.FUEL, Confidence.LIKELY)


def _from_here(plan: TripPlan, fuel: FuelPlan, gap: FuelGap, words: Words) -> Sentence:
    """Say what is wrong with the way from here to the first filling."""
    ride, unknown = _way_there(plan, gap, words), _MISSING if gap.crosses_unknown else None
    if fuel.tank_m is None:
        said = line(
            "Even a full tank does not last, less the reserve: {ride} and a full tank goes {full}. "
            "{can}",
            ride=ride,
            full=way((plan.trip.fuel.range_km or 0.0) * 1000.0),
            can=_CAN,
        )
        return joined(said, unknown)
    if gap.beyond_range:
        said = line(
            "Your fuel does not last: {ride} and your tank goes {tank}. Get fuel before you ride "
            "on.",
            ride=ride,
            tank=way(fuel.tank_m),
        )
        return joined(said, unknown, behind_words(plan, words, gap.road_m, Supply.FUEL))
    said = line(
        "You ride on your reserve: {ride} and your tank goes {tank}, which leaves {left} of the "
        "{kept} you keep.",
        ride=ride,
        tank=way(fuel.tank_m),
        left=way(fuel.tank_m - gap.road_m),
        kept=way(plan.trip.fuel.reserve_km * 1000.0),
    )
    return joined(said, unknown)


def _way_there(plan: TripPlan, gap: FuelGap, words: Words) -> Sentence:
    there = _end(plan, gap.end_row, gap.end_m, words)
    if gap.end_row < 0:
        to = line("no station is known ahead, and the end of the route ({there})", there=there)
    else:
        station = words.named(gap.end_row)
        to = line(
            "the first station of the plan, {station} ({there}),", station=station, there=there
        )
    return line("{to} is {far} from here", to=to, far=way(gap.road_m))


def _end(plan: TripPlan, row: int, gap_m: float, words: Words) -> Quantity:
    """Place on the route of a stretch's end; stretches count from where the plan begins."""
    return words.at_pass(row) if row >= 0 else at(gap_m + plan.legs[0].start_m)


def _door(risk: int) -> str:
    """Say in a few words why a station may be shut; nothing where it is open."""
    doubt = STATES[OpenState(risk)].doubt
    return f"; {doubt}" if doubt else ""


def _pump(place: Place, takes: Sequence[str]) -> Sentence | None:
    """Say what is doubtful about a station's pumps."""
    said = None
    if sold(place, takes) is not Confidence.STATED:
        fuels = sorted(key.removeprefix("fuel:") for key in place.tags if key.startswith("fuel:"))
        said = line(
            "; the map does not name {what} there{known}: ask before you count on it",
            what="petrol" if takes == (ANY_PETROL,) else " or ".join(takes),
            known=line(" ({fuels})", fuels=name(", ".join(fuels))) if fuels else None,
        )
    if not is_unmanned(place.tags):
        return said
    return line("{said}; pumps without staff: bring a card", said=said)
