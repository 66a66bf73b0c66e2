"""Sentences about a cooler: what ice it takes, whether it stays cold, what if there is none.

In: an `IcePlan`. Out: text in the rider's units and clock. Place names are map text and come out
as they went in.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from resupply.common.units import (
    S_PER_DAY,
    S_PER_HOUR,
    Units,
    format_amount,
    format_hours,
    format_temp,
)
from resupply.kitchen.cold.ice_plan import IceState
from resupply.kitchen.cold.simulate import LIMIT_C
from resupply.kitchen.food.storage_classes import load_storage
from resupply.kitchen.food.tell import Tell
from resupply.kitchen.food.warm_time import make_history, start_clock

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterable

    from resupply.kitchen.cold.ice_plan import IcePlan, Without

__all__ = ["Sayer", "ice_words", "if_none", "plan_words", "room_words", "verdict"]

_LEAST_L = 0.05
"""Less is told as an empty cooler: it would read as 0.0 L."""


class Sayer:
    """Times and amounts as the rider reads them."""

    def __init__(
        self,
        local: Callable[[float], dt.datetime],
        say_time: Callable[[dt.datetime], str],
        units: Units,
    ) -> None:
        self._local, self._say_time, self._units = local, say_time, units

    def at(self, time_s: float) -> dt.datetime:
        """Local time."""
        return self._local(time_s)

    def at_if(self, time_s: float | None) -> dt.datetime | None:
        """Local time of what may never be."""
        return None if time_s is None else self._local(time_s)

    def time(self, time_s: float) -> str:
        """Weekday and time."""
        return self._say_time(self._local(time_s))

    def temp(self, temp_c: float) -> str:
        """Temperature to the degree."""
        # The published limit is printed as 4 °C and as 40 °F.
        if self._units == "imperial" and temp_c == 4.0:
            return "40 °F"
        return format_temp(temp_c, self._units)

    def mass(self, mass_kg: float) -> str:
        """Mass as one buys it."""
        return format_amount(mass_kg, self._units)

    def room(self, litres: float) -> str:
        """Room in a cooler, to a tenth of a litre or quart."""
        return Tell(self._units).room(litres)


def if_none(plan: IcePlan, doubt: Without, say: Sayer) -> str:
    """Say what to do if a likely place has no ice."""
    at_s, fails_s = doubt.stop.at_s, doubt.fails_at_s
    instead = ""
    if doubt.then:
        first = doubt.then[0]
        instead = f" The next ice is {say.mass(first.kg)} at {first.stop.label}."
    here = _listed(n.what for n in plan.needs if abs(n.start_s - at_s) < S_PER_HOUR)
    if fails_s is not None and fails_s - at_s < S_PER_HOUR and here and plan.limit_c <= LIMIT_C:
        return f"If there is none, buy food that keeps instead of: {here}.{instead}"
    if fails_s is not None:
        return (
            f"If there is none, the cooler is above {say.temp(plan.limit_c)} "
            f"from {say.time(fails_s)}.{instead}"
        )
    if plan.unknown_from_s is not None:
        return f"If there is none, it still holds as far as the weather is known.{instead}"
    return f"If there is none, it still holds.{instead}"


def _listed(names: Iterable[str]) -> str:
    # Names of food hold commas of their own.
    return "; ".join(sorted({name for name in names if name}))


def plan_words(plan: IcePlan, say: Sayer) -> str:
    """Say everything there is to say about one cooler."""
    name = plan.cooler.name.capitalize()
    if plan.state is IceState.NO_NEED:
        said = [f"{name} cooler: nothing that must stay cold is planned.", _too_full(plan, say)]
        return " ".join(text for text in said if text)
    if plan.state is IceState.NO_COOLER:
        return f"{name}: no cooler. What should stay cold is as warm as the air, day and night."
    said = [f"{name} cooler: {ice_words(plan, say)}", _held(plan, say)]
    if plan.unknown_from_s is not None:
        said.append(
            f"From {say.time(plan.unknown_from_s)} the weather is not known, so whether it stays "
            f"at or below {say.temp(plan.limit_c)} is not known either."
        )
        if plan.fails_at_s is None and not plan.over_l:
            said.append("Until then it holds.")
    said.append(_no_ice(plan, say))
    if sum(b - a for a, b in plan.need_spans) > 7 * S_PER_DAY and plan.purchases:
        days = sum(b - a for a, b in plan.need_spans) / S_PER_DAY
        said.append(
            f"{days:.0f} days of cold food take {_stops_words(plan)} and "
            f"{say.mass(plan.bought_kg)} of ice: fresh food bought on the day it is eaten takes "
            "none."
        )
    return " ".join(text for text in said if text)


def verdict(plan: IcePlan, say: Sayer) -> str:
    """Say whether it fits, stays cold and has ice left; empty if there is nothing to say."""
    if not plan.need_spans:
        return _too_full(plan, say)
    return f"{_held(plan, say)} {_no_ice(plan, say)}".strip()


def room_words(plan: IcePlan, say: Sayer) -> str:
    """Say how full the cooler gets, in a few words; empty without one, or with nothing in it."""
    at_s, fullest_l = plan.fullest
    if plan.cooler.kind == "none" or fullest_l < _LEAST_L:
        return ""
    fullest, usable = say.room(fullest_l), say.room(plan.cooler.usable_l)
    if plan.over_l:
        return f"{fullest}, only {usable} fit, {say.time(at_s)}"
    if not plan.fit_known:
        return f"{fullest} of {usable} without ice, {say.time(at_s)}"
    return f"{fullest} of the {usable} that fit, {say.time(at_s)}"


def _too_full(plan: IcePlan, say: Sayer) -> str:
    """Say that food and packs do not fit, and what that means; empty if they do."""
    if not plan.over_l:
        return ""
    at_s, fullest_l = plan.fullest
    what = "food and packs" if plan.cooler.packs_kg else "the food"
    if plan.limit_c > LIMIT_C:
        what = what.replace("food", "drinks")
    return (
        f"It does not all fit: {what} take {say.room(fullest_l)} on {say.time(at_s)}, "
        f"{say.room(plan.over_l)} more than fits. What lies outside does not stay cold: take less, "
        "or a larger cooler."
    )


def _held(plan: IcePlan, say: Sayer) -> str:
    """Say whether it fits and stays cold, as far as the weather is known; empty if nothing is."""
    said = (_too_full(plan, say), _cold(plan, say))
    return " ".join(text for text in said if text)


def _cold(plan: IcePlan, say: Sayer) -> str:
    limit, drinks = say.temp(plan.limit_c), plan.limit_c > LIMIT_C
    likely = [p.stop.label for p in plan.purchases if p.stop.confidence != "stated"]
    if plan.fails_at_s is None:
        if plan.unknown_from_s is not None or plan.over_l:
            return ""
        while_ = "while you ride" if drinks else "while anything that spoils is inside"
        given = f", if there is ice at {', '.join(likely)}" if likely else ""
        return f"It stays at or below {limit} {while_}{given}."
    above_s = sum(b - a for a, b in plan.above)
    warmest = say.temp(math.ceil(plan.worst_c))
    when = f"{say.time(plan.fails_at_s)}"
    if drinks:
        return (
            f"It is above {limit} for {format_hours(above_s)} in all, first from {when}, and up "
            f"to {warmest}: a matter of comfort, not of safety."
        )
    inside = _listed(n.what for n in plan.needs if n.start_s <= plan.fails_at_s < n.end_s)
    before = [p for p in plan.purchases if p.stop.at_s <= plan.fails_at_s]
    though = "even with all the ice that fits" if before else "with no ice to add before"
    return (
        f"It does not stay cold: above {limit} from {when}"
        + (f" with {inside} inside" if inside else "")
        + f", {format_hours(above_s)} in all, up to {warmest}, {though}. {_spoils(plan, say)}"
    )


def _spoils(plan: IcePlan, say: Sayer) -> str:
    """Say what to do with food that gets warm: before a trip plan, under way throw it out."""
    if not plan.cooler.under_way:
        return "Eat what spoils before then, or plan it differently."
    rule = f"above {say.temp(LIMIT_C)} for more than 2 hours in all, 1 hour in the heat"
    gone_s = _thrown_out_s(plan)
    from_ = "" if gone_s is None else f": by this reckoning from {say.time(gone_s)}"
    return (
        f"Throw out what spoils once it was {rule}{from_}; time before now counts too, and cooking "
        "does not mend it."
    )


def _thrown_out_s(plan: IcePlan) -> float | None:
    """When what is inside has been warm for its 2 hours, 1 once it was hot; None: not so long."""
    rule, trace = load_storage().rule, plan.trace
    clock = start_clock(
        make_history(*trace.history()), above_c=plan.limit_c, hot_c=rule["hot_c"].value
    )
    usual_s, hot_s = rule["warm_h"].value * S_PER_HOUR, rule["hot_h"].value * S_PER_HOUR
    end_s = clock.run_out(float(trace.times_s[0]), usual_s, hot_s).deadline_s
    return end_s if end_s <= plan.need_spans[-1][1] else None


def _no_ice(plan: IcePlan, say: Sayer) -> str:
    if plan.no_ice_from_s is None or plan.limit_c > LIMIT_C:
        return ""
    return (
        f"No ice is left from {say.time(plan.no_ice_from_s)}: published guidance discards "
        "perishables once the ice is gone."
    )


def ice_words(plan: IcePlan, say: Sayer) -> str:
    """Say how much ice comes from where."""
    home_kg = sum(p.loaded_kg for p in plan.purchases if not p.stop.counts)
    home_kg += sum(s.loaded_kg for s in plan.stated if s.load.label == "home")
    board_kg = sum(s.loaded_kg for s in plan.stated if s.load.label != "home")
    parts = [f"{say.mass(home_kg)} of ice from home"] if home_kg else []
    parts += [f"{say.mass(board_kg)} of ice on board"] if board_kg else []
    if plan.stops:
        way_kg = sum(p.kg for p in plan.purchases if p.stop.counts)
        of_ice = "" if parts else " of ice"
        parts.append(f"{say.mass(way_kg)}{of_ice} at {_stops_words(plan)} on the way")
    return f"{' and '.join(parts)}." if parts else "no ice to buy."


def _stops_words(plan: IcePlan) -> str:
    return "1 ice stop" if plan.stops == 1 else f"{plan.stops} ice stops"
