"""The cold chain as plain dicts and lists for the plan's JSON, with sentences ready to show.

In: one `IcePlan` per cooler and the weather behind it. Out: SI values, ISO times in local time.
Place names are map text and come out as they went in: escape them where shown.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from resupply.cold.cooler import cooler_data
from resupply.cold.forecast import ATTRIBUTION
from resupply.cold.iceplan import IceState
from resupply.units import Units, format_hours, format_mass, format_temp

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from resupply.cold.iceplan import IcePlan, Purchase, Without
    from resupply.cold.trace import ColdTrace
    from resupply.cold.weather import DayWeather

    Local = Callable[[float], dt.datetime]

__all__ = ["cold_document"]

_WEEK_S = 7 * 86_400.0


def cold_document(
    plans: Sequence[IcePlan],
    *,
    weather: Sequence[DayWeather],
    local: Callable[[float], dt.datetime],
    say_time: Callable[[dt.datetime], str] | None = None,
    units: Units = "metric",
    problems: Sequence[str] = (),
) -> dict[str, Any]:
    """Write down the cold chain.

    Parameters
    ----------
    plans
        One per cooler; the cooler's name tells them apart.
    weather
        The days the plans were made with.
    local
        UTC seconds to aware local time.
    say_time
        Time as the rider reads it in a sentence; None: "Sat 10 Jul 14:20".
    problems
        Why weather is missing, from a forecast.

    Returns
    -------
    dict
        ``coolers``, ``weather``, ``assumptions``, ``sources``; no NaN and no infinity.
    """
    say = _Sayer(local, say_time or (lambda t: f"{t:%a} {t.day} {t:%b %H:%M}"), units)
    forecast = any(ATTRIBUTION in day.source for day in weather)
    return {
        "coolers": [_cooler(plan, say) for plan in plans],
        "weather": {
            "days": [
                {
                    "date": day.date.isoformat(),
                    "low_c": day.low_c,
                    "high_c": day.high_c,
                    "source": day.source,
                }
                for day in weather
            ],
            "problems": list(problems),
        },
        "assumptions": _assumptions(plans, units),
        "sources": [*_SOURCES, *([ATTRIBUTION] if forecast else [])],
    }


class _Sayer:
    """Times and amounts as the rider reads them."""

    def __init__(self, local: Local, say_time: Callable[[dt.datetime], str], units: Units) -> None:
        self._local, self._say_time, self._units = local, say_time, units

    def iso(self, time_s: float | None) -> str | None:
        if time_s is None:
            return None
        return self._local(time_s).isoformat(timespec="minutes")

    def time(self, time_s: float) -> str:
        return self._say_time(self._local(time_s))

    def temp(self, temp_c: float) -> str:
        # The published limit is printed as 4 °C and as 40 °F.
        if self._units == "imperial" and temp_c == 4.0:
            return "40 °F"
        return format_temp(temp_c, self._units)

    def mass(self, mass_kg: float) -> str:
        return format_mass(mass_kg, self._units)


def _cooler(plan: IcePlan, say: _Sayer) -> dict[str, Any]:
    cooler, trace = plan.cooler, plan.trace
    needed_s = sum(b - a for a, b in plan.need_spans)
    return {
        "name": cooler.name,
        "kind": cooler.kind,
        "volume_l": cooler.volume_l,
        "ua_w_per_k": round(cooler.ua_w_per_k, 3) if math.isfinite(cooler.ua_w_per_k) else None,
        "ua_source": cooler.ua_source,
        "limit_c": plan.limit_c,
        "state": str(plan.state),
        "needs": [{"from": say.iso(a), "to": say.iso(b)} for a, b in plan.need_spans],
        "fails_at": say.iso(plan.fails_at_s),
        "hours_above": round(sum(b - a for a, b in plan.above) / 3600.0, 1),
        "warmest_c": None if math.isnan(plan.worst_c) else round(plan.worst_c, 1),
        "ice_gone": say.iso(trace.store_gone_s[0] if trace.store_gone_s else None),
        "no_ice_from": say.iso(plan.no_ice_from_s),
        "unknown_from": say.iso(plan.unknown_from_s),
        "ice_stops": plan.stops,
        "ice_kg": round(plan.bought_kg, 1),
        "ice_kg_per_day": round(plan.bought_kg / needed_s * 86_400.0, 1) if needed_s else None,
        "purchases": [_purchase(plan, p, say) for p in plan.purchases],
        "trace": _trace(trace, say),
        "words": _words(plan, say),
    }


def _trace(trace: ColdTrace, say: _Sayer) -> list[dict[str, Any]]:
    rows = zip(trace.times_s, trace.temp_c, trace.ice_kg, trace.ambient_c, strict=True)
    return [
        {
            "t": say.iso(float(at_s)),
            "temp_c": _number(temp_c, 1),
            "ice_kg": _number(ice_kg, 2),
            "ambient_c": _number(ambient_c, 1),
        }
        for at_s, temp_c, ice_kg, ambient_c in rows
    ]


def _number(value: float, digits: int) -> float | None:
    return None if math.isnan(value) else round(float(value), digits)


def _purchase(plan: IcePlan, purchase: Purchase, say: _Sayer) -> dict[str, Any]:
    stop = purchase.stop
    doubt = next((w for w in plan.without if w.stop == stop), None)
    unit = "bag" if stop.form == "cube" else "block"
    bags = f"{purchase.bags} {unit}{'s' if purchase.bags > 1 else ''}"
    words = f"{stop.label}: {bags} of ice, {say.mass(stop.bag_kg)} each."
    if purchase.loaded_kg < purchase.kg - 0.05:
        words += f" Only {say.mass(purchase.loaded_kg)} will fit."
    if doubt is not None:
        words += f" Ice here is likely, not certain. {_if_none(plan, doubt, say)}"
    return {
        "at": say.iso(stop.at_s),
        "label": stop.label,
        "bags": purchase.bags,
        "bag_kg": stop.bag_kg,
        "kg": round(purchase.kg, 2),
        "loaded_kg": round(purchase.loaded_kg, 2),
        "kind": stop.form,
        "confidence": str(stop.confidence),
        "on_the_way": stop.counts,
        "if_none_fails_at": say.iso(None if doubt is None else doubt.fails_at_s),
        "words": words,
    }


def _if_none(plan: IcePlan, doubt: Without, say: _Sayer) -> str:
    instead = ""
    if doubt.then:
        first = doubt.then[0]
        instead = f"; the next to buy is {say.mass(first.kg)} at {first.stop.label}"
    if doubt.fails_at_s is not None:
        return (
            f"If there is none, the cooler is above {say.temp(plan.limit_c)} "
            f"from {say.time(doubt.fails_at_s)}{instead}."
        )
    if plan.unknown_from_s is not None:
        return f"If there is none, it still holds as far as the weather is known{instead}."
    return f"If there is none, it still holds{instead}."


def _words(plan: IcePlan, say: _Sayer) -> str:
    name, limit = plan.cooler.name.capitalize(), say.temp(plan.limit_c)
    if plan.state is IceState.NO_NEED:
        return f"{name}: nothing that must stay cold is planned."
    if plan.state is IceState.NO_COOLER:
        return f"{name}: no cooler. What should stay cold is as warm as the air, day and night."
    said = [f"{name} cooler: {_ice_words(plan, say)}"]
    if plan.fails_at_s is not None:
        inside = sorted(
            {n.what for n in plan.needs if n.what and n.start_s <= plan.fails_at_s < n.end_s}
        )
        above_s = sum(b - a for a, b in plan.above)
        warmest = say.temp(math.ceil(plan.worst_c))
        though = "even when filled up at every ice stop" if plan.purchases else "with no ice to add"
        said.append(
            f"It does not stay cold: above {limit} from {say.time(plan.fails_at_s)}"
            + (f" with {', '.join(inside)} inside" if inside else "")
            + f", {format_hours(above_s)} in all, up to {warmest}, {though}. "
            "Eat what spoils before then, or plan it differently."
        )
    elif plan.unknown_from_s is None:
        said.append(f"It stays at or below {limit} while anything that spoils is inside.")
    if plan.unknown_from_s is not None:
        said.append(
            f"From {say.time(plan.unknown_from_s)} the weather is not known, so whether it stays "
            f"at or below {limit} is not known either."
        )
        if plan.fails_at_s is None:
            said.append("Until then it holds.")
    if plan.no_ice_from_s is not None and plan.limit_c <= 4.0:
        said.append(
            f"No ice is left from {say.time(plan.no_ice_from_s)}: published guidance discards "
            "perishables once the ice is gone."
        )
    if sum(b - a for a, b in plan.need_spans) > _WEEK_S and plan.purchases:
        days = sum(b - a for a, b in plan.need_spans) / 86_400.0
        said.append(
            f"{days:.0f} days of cold food take {plan.stops} ice stops and "
            f"{say.mass(plan.bought_kg)} of ice: fresh food bought on the day it is eaten takes "
            "none."
        )
    return " ".join(said)


def _ice_words(plan: IcePlan, say: _Sayer) -> str:
    if not plan.purchases:
        return "no ice to buy."
    home_kg = sum(p.kg for p in plan.purchases if not p.stop.counts)
    parts = [f"{say.mass(home_kg)} of ice from home"] if home_kg else []
    if plan.stops:
        way_kg = plan.bought_kg - home_kg
        stops = "1 ice stop" if plan.stops == 1 else f"{plan.stops} ice stops"
        parts.append(f"{say.mass(way_kg)} at {stops} on the way")
    return f"{' and '.join(parts)}."


def _assumptions(plans: Sequence[IcePlan], units: Units) -> list[str]:
    data = cooler_data()
    told = [f"{p.cooler.name.capitalize()} cooler: {p.cooler.ua_source}." for p in plans]
    keep = format_mass(max((p.keep_kg for p in plans), default=0.0), units)
    return [
        *told,
        "The inside counts as 0 °C while there is ice, then as one temperature throughout.",
        "The top of a real cooler is warmer than its mean: what spoils goes against the ice.",
        f"Sun: {data['sun']['source']}.",
        f"Lid: {data['lid']['source']}.",
        f"At least {keep} of ice is kept while perishables are inside (our margin, no source).",
        "Air follows a half-cosine between the low at about sunrise and the high at 15:00.",
        "Ice is put in at 0 °C; colder ice and frost outside are not credited.",
        "Meltwater is poured off before new ice goes in.",
    ]


_SOURCES = (
    "Latent heat of ice 333.55 kJ/kg: CRC Handbook (from memory; others print 333.7 to 334.9).",
    "Specific and latent heat of food: NZIFST, Unit Operations in Food Processing, appendix 7.",
    "Room that ice takes: FAO, T0713E, chapter 12.",
    "Foam conductivity: CIBSE Guide A, table 3.37 (copy); Yucel et al., plate method.",
    "40 °F (4 °C); discard when no ice is left: USDA FSIS, guidance for hiking and camping (copy).",
)
