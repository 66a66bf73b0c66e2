"""The cold chain as plain dicts and lists for the plan's JSON, with sentences ready to show.

In: one `IcePlan` per cooler and the weather behind it. Out: SI values, ISO times in local time.
Place names are map text and come out as they went in: escape them where shown.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.cold.cooler import cooler_data
from resupply.cold.forecast import ATTRIBUTION
from resupply.cold.iceplan import IceState
from resupply.cold.trace import LIMIT_C
from resupply.units import Units, format_amount, format_hours, format_temp

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterable, Sequence

    from resupply.cold.iceplan import IcePlan, Purchase, Stated, Without
    from resupply.cold.weather import DayWeather

    Local = Callable[[float], dt.datetime]

__all__ = ["cold_document"]

_HOUR_S = 3600.0
_WEEK_S = 7 * 86_400.0


def cold_document(
    plans: Sequence[IcePlan],
    *,
    weather: Sequence[DayWeather],
    local: Callable[[float], dt.datetime],
    say_time: Callable[[dt.datetime], str] | None = None,
    units: Units = "metric",
    problems: Sequence[str] = (),
    other: IcePlan | None = None,
    assumed: Sequence[str] = (),
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
    other
        The food cooler with blocks instead of cubes, or the reverse.
    assumed
        Sentences on what was taken for granted about what is inside.

    Returns
    -------
    dict
        ``coolers``, ``weather``, ``assumptions``, ``sources``; no NaN and no infinity.
    """
    say = _Sayer(local, say_time or (lambda t: f"{t:%a} {t.day} {t:%b %H:%M}"), units)
    forecast = any(ATTRIBUTION in day.source for day in weather)
    coolers = [_cooler(plan, say) for plan in plans]
    if other is not None and coolers:
        coolers[0]["other_form"] = _other_form(plans[0], other, say)
    return {
        "coolers": coolers,
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
        "assumptions": [*assumed, *_assumptions(plans, units)],
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
        return format_amount(mass_kg, self._units)


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
        "limit_words": say.temp(plan.limit_c),
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
        "loaded_kg": round(_loaded_kg(plan), 1),
        "ice_kg_per_day": round(plan.bought_kg / needed_s * 86_400.0, 1) if needed_s else None,
        "purchases": [
            *(_on_board(stated, say) for stated in plan.stated),
            *(_purchase(plan, p, say) for p in plan.purchases),
        ],
        "safety": plan.limit_c <= LIMIT_C,
        "trace": _trace(plan, say),
        "verdict": _verdict(plan, say) if plan.need_spans else "",
        "words": _words(plan, say),
    }


def _trace(plan: IcePlan, say: _Sayer) -> list[dict[str, Any]]:
    trace = plan.trace
    return [
        {
            "t": say.iso(float(trace.times_s[k])),
            "temp_c": _number(trace.temp_c[k], 1),
            "ice_kg": _number(trace.ice_kg[k], 2),
            "ambient_c": _number(trace.ambient_c[k], 1),
        }
        for k in _told(plan)
    ]


def _told(plan: IcePlan) -> list[int]:
    """Pick samples to show: one an hour, three on long trips, and every moment that matters."""
    trace = plan.trace
    times_s, temp_c = trace.times_s, trace.temp_c
    every_s = _HOUR_S if times_s[-1] - times_s[0] <= _WEEK_S else 3.0 * _HOUR_S
    slots = np.floor((times_s - times_s[0]) / every_s + 1e-9)
    fresh = np.flatnonzero(np.diff(slots) > 0.0) + 1
    twins = np.flatnonzero(np.diff(times_s) <= 0.0)
    known = np.isfinite(temp_c)
    edges = np.flatnonzero(known[1:] != known[:-1])
    above = temp_c > plan.limit_c
    crossed = np.flatnonzero(above[1:] != above[:-1])
    empty = trace.store_kg <= 0.0
    melted = np.flatnonzero(empty[1:] & ~empty[:-1]) + 1
    picked = [0, len(times_s) - 1, *fresh, *melted]
    for pairs in (twins, edges, crossed):
        picked += [*pairs, *(pairs + 1)]
    for from_s, to_s in plan.need_spans:
        inside = np.flatnonzero((times_s >= from_s) & (times_s <= to_s) & known)
        if len(inside):
            picked.append(inside[np.argmax(temp_c[inside])])
    return sorted({int(k) for k in picked})


def _number(value: float, digits: int) -> float | None:
    return None if math.isnan(value) else round(float(value), digits)


def _on_board(stated: Stated, say: _Sayer) -> dict[str, Any]:
    """Ice put in whatever the plan, as a row like those of the purchases."""
    load = stated.load
    words = f"Ice {'from home' if load.label == 'home' else load.label}: {say.mass(load.kg)}."
    if stated.loaded_kg < load.kg - 0.05:
        words += f" Only {say.mass(stated.loaded_kg)} will fit."
    return {
        "at": say.iso(load.at_s),
        "label": load.label,
        "pass": None,
        "bags": 1,
        "bag_kg": round(load.kg, 2),
        "kg": round(load.kg, 2),
        "loaded_kg": round(stated.loaded_kg, 2),
        "kind": load.form,
        "confidence": "stated",
        "on_the_way": False,
        "if_none_fails_at": None,
        "doubt_words": "",
        "words": words,
    }


def _purchase(plan: IcePlan, purchase: Purchase, say: _Sayer) -> dict[str, Any]:
    stop = purchase.stop
    doubt = next((w for w in plan.without if w.stop == stop), None)
    part = purchase.loaded_kg < purchase.kg - 0.05
    if stop.counts:
        unit = "bag" if stop.form == "cube" else "block"
        words = f"{stop.label}: {purchase.bags} {unit}{'s' if purchase.bags > 1 else ''} of "
        words += f"{say.mass(stop.bag_kg)} of ice"
        words += f", {say.mass(purchase.kg)} in all." if purchase.bags > 1 else "."
        words += f" Only {say.mass(purchase.loaded_kg)} will fit." if part else ""
    else:
        words = f"Ice from home: {say.mass(purchase.loaded_kg)}"
        words += ", as much as fits." if part else "."
    doubts = "" if doubt is None else _if_none(plan, doubt, say)
    if doubts:
        words += f" Ice here is likely, not certain. {doubts}"
    return {
        "at": say.iso(stop.at_s),
        "label": stop.label,
        "pass": stop.key or None,
        "bags": purchase.bags,
        "bag_kg": stop.bag_kg,
        "kg": round(purchase.kg, 2),
        "loaded_kg": round(purchase.loaded_kg, 2),
        "kind": stop.form,
        "confidence": str(stop.confidence),
        "on_the_way": stop.counts,
        "if_none_fails_at": say.iso(None if doubt is None else doubt.fails_at_s),
        "doubt_words": doubts,
        "words": words,
    }


def _if_none(plan: IcePlan, doubt: Without, say: _Sayer) -> str:
    at_s, fails_s = doubt.stop.at_s, doubt.fails_at_s
    instead = ""
    if doubt.then:
        first = doubt.then[0]
        instead = f" The next ice is {say.mass(first.kg)} at {first.stop.label}."
    here = _listed(n.what for n in plan.needs if abs(n.start_s - at_s) < _HOUR_S)
    if fails_s is not None and fails_s - at_s < _HOUR_S and here and plan.limit_c <= LIMIT_C:
        return f"If there is none, leave in the shop: {here}.{instead}"
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


def _words(plan: IcePlan, say: _Sayer) -> str:
    name = plan.cooler.name.capitalize()
    if plan.state is IceState.NO_NEED:
        return f"{name} cooler: nothing that must stay cold is planned."
    if plan.state is IceState.NO_COOLER:
        return f"{name}: no cooler. What should stay cold is as warm as the air, day and night."
    said = [f"{name} cooler: {_ice_words(plan, say)}", _verdict(plan, say)]
    if plan.unknown_from_s is not None:
        said.append(
            f"From {say.time(plan.unknown_from_s)} the weather is not known, so whether it stays "
            f"at or below {say.temp(plan.limit_c)} is not known either."
        )
        if plan.fails_at_s is None:
            said.append("Until then it holds.")
    if plan.no_ice_from_s is not None and plan.limit_c <= LIMIT_C:
        said.append(
            f"No ice is left from {say.time(plan.no_ice_from_s)}: published guidance discards "
            "perishables once the ice is gone."
        )
    if sum(b - a for a, b in plan.need_spans) > _WEEK_S and plan.purchases:
        days = sum(b - a for a, b in plan.need_spans) / 86_400.0
        said.append(
            f"{days:.0f} days of cold food take {_stops_words(plan)} and "
            f"{say.mass(plan.bought_kg)} of ice: fresh food bought on the day it is eaten takes "
            "none."
        )
    return " ".join(text for text in said if text)


def _verdict(plan: IcePlan, say: _Sayer) -> str:
    """Say whether it stays cold, as far as the weather is known; empty if nothing is."""
    limit, drinks = say.temp(plan.limit_c), plan.limit_c > LIMIT_C
    likely = [p.stop.label for p in plan.purchases if p.stop.confidence != "stated"]
    if plan.fails_at_s is None:
        if plan.unknown_from_s is not None:
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
        + f", {format_hours(above_s)} in all, up to {warmest}, {though}. "
        "Eat what spoils before then, or plan it differently."
    )


def _loaded_kg(plan: IcePlan) -> float:
    return sum(p.loaded_kg for p in plan.purchases) + sum(s.loaded_kg for s in plan.stated)


def _ice_words(plan: IcePlan, say: _Sayer) -> str:
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


def _other_form(plan: IcePlan, other: IcePlan, say: _Sayer) -> dict[str, Any]:
    """Compare blocks with cubes: what the same food would take."""
    form = other.purchases[0].stop.form if other.purchases else "block"
    name = "blocks" if form == "block" else "cubes"
    if other.fails_at_s is not None:
        ends = f" It would be above {say.temp(other.limit_c)} from {say.time(other.fails_at_s)}."
    elif other.unknown_from_s is not None:
        ends = " It would hold as far as the weather is known."
    else:
        ends = " It would stay cold." if plan.fails_at_s is not None else ""
    more = " Only their smaller room is counted: published guidance says a block also lasts longer."
    return {
        "kind": form,
        "ice_stops": other.stops,
        "ice_kg": round(other.bought_kg, 1),
        "fails_at": say.iso(other.fails_at_s),
        "words": f"With {name} instead of {'cubes' if form == 'block' else 'blocks'}: "
        f"{_ice_words(other, say)}{ends}{more if form == 'block' else ''}",
    }


def _assumptions(plans: Sequence[IcePlan], units: Units) -> list[str]:
    data = cooler_data()
    told = [f"{p.cooler.name.capitalize()} cooler: {p.cooler.ua_source}." for p in plans]
    keep = format_amount(max((p.keep_kg for p in plans), default=0.0), units)
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
