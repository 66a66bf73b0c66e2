"""The cold chain as rows of the plan document.

In: one `IcePlan` per cooler and the weather behind it. Out: SI values, local times.
Place names are map text and come out as they went in: escape them where shown.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import Sentence, as_sentence, limit
from resupply.common.units import S_PER_DAY, S_PER_HOUR
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
from resupply.say.cooler import (
    assumptions,
    if_none,
    other_form_words,
    plan_words,
    room_words,
    verdict,
)
from resupply.say.ice import on_board_words, purchase_words

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from resupply.common.quantity import Said
    from resupply.kitchen.cold.ice_plan import IcePlan, Purchase, Stated
    from resupply.kitchen.cold.weather import DayWeather
    from resupply.kitchen.ice_price import Spared
    from resupply.say.cooler import Local

__all__ = ["cold_document"]


def cold_document(
    plans: Sequence[IcePlan],
    *,
    weather: Sequence[DayWeather],
    local: Local,
    problems: Sequence[str] = (),
    other: IcePlan | None = None,
    assumed: Sequence[Said] = (),
    spared: Spared | None = None,
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
    problems
        Why weather is missing, from a forecast.
    other
        The food cooler with blocks instead of cubes, or the reverse.
    assumed
        Sentences on what was taken for granted about what is inside.
    spared
        Cold food that is not planned as its ice would outweigh it.

    Returns
    -------
    ColdDocument
        No NaN and no infinity in it.
    """
    forecast = any(ATTRIBUTION in day.source for day in weather)
    coolers = [_cooler(plan, local, None if n else spared) for n, plan in enumerate(plans)]
    if other is not None and coolers:
        coolers[0] = replace(coolers[0], other_form=_other_form(plans[0], other, local))
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
        assumptions=(*map(as_sentence, assumed), *assumptions(plans)),
        sources=(*_SOURCES, *([ATTRIBUTION] if forecast else [])),
    )


def _cooler(plan: IcePlan, local: Local, spared: Spared | None) -> CoolerRow:
    cooler, trace = plan.cooler, plan.trace
    needed_s = sum(b - a for a, b in plan.need_spans)
    return CoolerRow(
        name=cooler.name,
        kind=cooler.kind,
        volume_l=cooler.volume_l,
        ua_w_per_k=round(cooler.ua_w_per_k, 3) if math.isfinite(cooler.ua_w_per_k) else None,
        ua_source=cooler.ua_source,
        limit_c=plan.limit_c,
        limit_words=as_sentence(limit(plan.limit_c)),
        state=plan.state.value,
        needs=tuple(ColdNeed(since=local(a), to=local(b)) for a, b in plan.need_spans),
        fails_at=_at_if(local, plan.fails_at_s),
        hours_above=round(sum(b - a for a, b in plan.above) / S_PER_HOUR, 1),
        warmest_c=None if math.isnan(plan.worst_c) else round(plan.worst_c, 1),
        ice_gone=_at_if(local, trace.store_gone_s[0] if trace.store_gone_s else None),
        no_ice_from=_at_if(local, plan.no_ice_from_s),
        unknown_from=_at_if(local, plan.unknown_from_s),
        ice_stops=plan.stops,
        ice_kg=round(plan.bought_kg, 1),
        loaded_kg=round(_loaded_kg(plan), 1),
        ice_kg_per_day=round(plan.bought_kg / needed_s * S_PER_DAY, 1) if needed_s else None,
        spared_ice_kg=None if spared is None else round(spared.ice_kg, 1),
        purchases=(
            *(_on_board(stated, local) for stated in plan.stated),
            *(_purchase(plan, p, local) for p in plan.purchases),
        ),
        safety=plan.limit_c <= LIMIT_C,
        trace=_trace(plan, local),
        room=CoolerRoom(
            usable_l=round(cooler.usable_l, 2),
            fullest_l=round(plan.fullest[1], 2),
            fullest_at=local(plan.fullest[0]),
            over_l=round(plan.over_l, 2),
            known=plan.fit_known,
            words=room_words(plan, local),
        ),
        verdict=verdict(plan, local),
        words=plan_words(plan, local, spared),
    )


def _trace(plan: IcePlan, local: Local) -> tuple[CoolerInstant, ...]:
    trace = plan.trace
    return tuple(
        CoolerInstant(
            t=local(float(trace.times_s[k])),
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


def _on_board(stated: Stated, local: Local) -> IceLoadRow:
    """Ice put in whatever the plan, as a row like those of the purchases."""
    load = stated.load
    return IceLoadRow(
        at=local(load.at_s),
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
        doubt_words=Sentence(),
        words=on_board_words(stated),
    )


def _purchase(plan: IcePlan, purchase: Purchase, local: Local) -> IceLoadRow:
    stop = purchase.stop
    doubt = next((w for w in plan.without if w.stop == stop), None)
    doubts = Sentence() if doubt is None else if_none(plan, doubt, local)
    return IceLoadRow(
        at=local(stop.at_s),
        label=stop.label,
        pass_id=stop.key or None,
        bags=purchase.bags,
        bag_kg=stop.bag_kg,
        kg=round(purchase.kg, 2),
        loaded_kg=round(purchase.loaded_kg, 2),
        kind=stop.form,
        confidence=stop.confidence.value,
        on_the_way=stop.counts,
        if_none_fails_at=_at_if(local, None if doubt is None else doubt.fails_at_s),
        doubt_words=doubts,
        words=purchase_words(purchase, doubts),
    )


def _other_form(plan: IcePlan, other: IcePlan, local: Local) -> OtherForm:
    """Compare blocks with cubes: what the same food would take."""
    return OtherForm(
        kind=other.purchases[0].stop.form if other.purchases else "block",
        ice_stops=other.stops,
        ice_kg=round(other.bought_kg, 1),
        fails_at=_at_if(local, other.fails_at_s),
        words=other_form_words(plan, other, local),
    )


def _at_if(local: Local, time_s: float | None) -> dt.datetime | None:
    """Local time of what may never be."""
    return None if time_s is None else local(time_s)


_SOURCES = (
    "Latent heat of ice 333.55 kJ/kg: CRC Handbook (not checked; others print 333.7 to 334.9).",
    "Specific and latent heat of food: NZIFST, Unit Operations in Food Processing, appendix 7.",
    "Room that ice takes: FAO, T0713E, chapter 12.",
    "Hard foam: CIBSE Guide A, table 3.37, the higher value (read second-hand, edition not noted).",
    (
        "Light foam: Yucel, Basyigit and Ozel, Thermal Insulation Properties of Expanded "
        "Polystyrene as Construction and Insulating Materials, the highest value measured."
    ),
    "40 °F (4 °C), discard once the ice is gone: USDA FSIS, guidance for camping (second-hand).",
)
