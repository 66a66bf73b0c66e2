"""The cold chain as rows of the plan document, with sentences ready to show.

In: one `IcePlan` per cooler and the weather behind it. Out: SI values, local times.
Place names are map text and come out as they went in: escape them where shown.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.units import S_PER_DAY, S_PER_HOUR, Units, format_amount
from resupply.kitchen.cold.cooler import cooler_data
from resupply.kitchen.cold.forecast import ATTRIBUTION
from resupply.kitchen.cold.simulate import LIMIT_C
from resupply.report.document.model.cold import (
    ColdDocument,
    ColdNeed,
    CoolerInstant,
    CoolerRoom,
    CoolerRow,
    IceLoadRow,
    OtherForm,
    WeatherDay,
    WeatherDocument,
)
from resupply.say.cooler import Sayer, ice_words, if_none, plan_words, room_words, verdict

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from resupply.kitchen.cold.ice_plan import IcePlan, Purchase, Stated
    from resupply.kitchen.cold.weather import DayWeather


__all__ = ["cold_document"]


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
) -> ColdDocument:
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
    ColdDocument
        No NaN and no infinity in it.
    """
    say = Sayer(local, say_time or (lambda t: f"{t:%a} {t.day} {t:%b %H:%M}"), units)
    forecast = any(ATTRIBUTION in day.source for day in weather)
    coolers = [_cooler(plan, say) for plan in plans]
    if other is not None and coolers:
        coolers[0] = replace(coolers[0], other_form=_other_form(plans[0], other, say))
    return ColdDocument(
        coolers=tuple(coolers),
        weather=WeatherDocument(
            days=tuple(
                WeatherDay(
                    date=day.date,
                    low_c=day.low_c,
                    high_c=day.high_c,
                    source=day.source,
                )
                for day in weather
            ),
            problems=tuple(problems),
        ),
        assumptions=(*assumed, *_assumptions(plans, units)),
        sources=(*_SOURCES, *([ATTRIBUTION] if forecast else [])),
    )


def _cooler(plan: IcePlan, say: Sayer) -> CoolerRow:
    cooler, trace = plan.cooler, plan.trace
    needed_s = sum(b - a for a, b in plan.need_spans)
    return CoolerRow(
        name=cooler.name,
        kind=cooler.kind,
        volume_l=cooler.volume_l,
        ua_w_per_k=round(cooler.ua_w_per_k, 3) if math.isfinite(cooler.ua_w_per_k) else None,
        ua_source=cooler.ua_source,
        limit_c=plan.limit_c,
        limit_words=say.temp(plan.limit_c),
        state=plan.state.value,
        needs=tuple(ColdNeed(since=say.at(a), to=say.at(b)) for a, b in plan.need_spans),
        fails_at=say.at_if(plan.fails_at_s),
        hours_above=round(sum(b - a for a, b in plan.above) / S_PER_HOUR, 1),
        warmest_c=None if math.isnan(plan.worst_c) else round(plan.worst_c, 1),
        ice_gone=say.at_if(trace.store_gone_s[0] if trace.store_gone_s else None),
        no_ice_from=say.at_if(plan.no_ice_from_s),
        unknown_from=say.at_if(plan.unknown_from_s),
        ice_stops=plan.stops,
        ice_kg=round(plan.bought_kg, 1),
        loaded_kg=round(_loaded_kg(plan), 1),
        ice_kg_per_day=round(plan.bought_kg / needed_s * S_PER_DAY, 1) if needed_s else None,
        purchases=(
            *(_on_board(stated, say) for stated in plan.stated),
            *(_purchase(plan, p, say) for p in plan.purchases),
        ),
        safety=plan.limit_c <= LIMIT_C,
        trace=_trace(plan, say),
        room=CoolerRoom(
            usable_l=round(cooler.usable_l, 2),
            fullest_l=round(plan.fullest[1], 2),
            fullest_at=say.at(plan.fullest[0]),
            over_l=round(plan.over_l, 2),
            known=plan.fit_known,
            words=room_words(plan, say),
        ),
        verdict=verdict(plan, say),
        words=plan_words(plan, say),
    )


def _trace(plan: IcePlan, say: Sayer) -> tuple[CoolerInstant, ...]:
    trace = plan.trace
    return tuple(
        CoolerInstant(
            t=say.at(float(trace.times_s[k])),
            temp_c=_number(trace.temp_c[k], 1),
            ice_kg=_number(trace.ice_kg[k], 2),
            ambient_c=_number(trace.ambient_c[k], 1),
        )
        for k in _told(plan)
    )


def _told(plan: IcePlan) -> list[int]:
    """Pick samples to show: one an hour, three on long trips, and every moment that matters."""
    trace = plan.trace
    times_s, temp_c = trace.times_s, trace.temp_c
    every_s = S_PER_HOUR if times_s[-1] - times_s[0] <= 7 * S_PER_DAY else 3.0 * S_PER_HOUR
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


def _loaded_kg(plan: IcePlan) -> float:
    return sum(p.loaded_kg for p in plan.purchases) + sum(s.loaded_kg for s in plan.stated)


def _on_board(stated: Stated, say: Sayer) -> IceLoadRow:
    """Ice put in whatever the plan, as a row like those of the purchases."""
    load = stated.load
    words = f"Ice {'from home' if load.label == 'home' else load.label}: {say.mass(load.kg)}."
    if stated.loaded_kg < load.kg - 0.05:
        words += f" Only {say.mass(stated.loaded_kg)} will fit."
    return IceLoadRow(
        at=say.at(load.at_s),
        label=load.label,
        pass_id=None,
        bags=1,
        bag_kg=round(load.kg, 2),
        kg=round(load.kg, 2),
        loaded_kg=round(stated.loaded_kg, 2),
        kind=load.form,
        confidence="stated",
        on_the_way=False,
        if_none_fails_at=None,
        doubt_words="",
        words=words,
    )


def _purchase(plan: IcePlan, purchase: Purchase, say: Sayer) -> IceLoadRow:
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
    doubts = "" if doubt is None else if_none(plan, doubt, say)
    if doubts:
        words += f" Ice here is likely, not certain. {doubts}"
    return IceLoadRow(
        at=say.at(stop.at_s),
        label=stop.label,
        pass_id=stop.key or None,
        bags=purchase.bags,
        bag_kg=stop.bag_kg,
        kg=round(purchase.kg, 2),
        loaded_kg=round(purchase.loaded_kg, 2),
        kind=stop.form,
        confidence=stop.confidence.value,
        on_the_way=stop.counts,
        if_none_fails_at=say.at_if(None if doubt is None else doubt.fails_at_s),
        doubt_words=doubts,
        words=words,
    )


def _other_form(plan: IcePlan, other: IcePlan, say: Sayer) -> OtherForm:
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
    return OtherForm(
        kind=form,
        ice_stops=other.stops,
        ice_kg=round(other.bought_kg, 1),
        fails_at=say.at_if(other.fails_at_s),
        words=f"With {name} instead of {'cubes' if form == 'block' else 'blocks'}: "
        f"{ice_words(other, say)}{ends}{more if form == 'block' else ''}",
    )


def _assumptions(plans: Sequence[IcePlan], units: Units) -> list[str]:
    data = cooler_data()
    told = [f"{p.cooler.name.capitalize()} cooler: {p.cooler.ua_source}." for p in plans]
    share = data["room"]["usable_share"]
    keep = format_amount(max((p.keep_kg for p in plans), default=0.0), units)
    return [
        *told,
        "The inside counts as 0 °C while there is ice, then as one temperature throughout.",
        "The top of a real cooler is warmer than its mean: what spoils goes against the ice.",
        f"Sun: {data['sun']['source']}.",
        f"Lid: {data['lid']['source']}.",
        f"At least {keep} of ice is kept while perishables are inside (our margin, no source).",
        "Air follows a half-cosine: low at about sunrise, high three hours after noon.",
        "Ice is put in at 0 °C; colder ice and frost outside are not credited.",
        "Meltwater is poured off before new food or ice goes in.",
        f"Food, packs and ice fill at most {share:.0%} of the cooler (our assumption).",
    ]


_SOURCES = (
    "Latent heat of ice 333.55 kJ/kg: CRC Handbook (from memory; others print 333.7 to 334.9).",
    "Specific and latent heat of food: NZIFST, Unit Operations in Food Processing, appendix 7.",
    "Room that ice takes: FAO, T0713E, chapter 12.",
    "Foam conductivity: CIBSE Guide A, table 3.37 (copy); Yucel et al., plate method.",
    "40 °F (4 °C); discard when no ice is left: USDA FSIS, guidance for hiking and camping (copy).",
)
