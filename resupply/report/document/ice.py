"""Ice as the rider meets it: a line of a list, a stop for ice alone, a weight on board.

In: a `KitchenPlan`. Out: rows for the shopping block and changes for the load. What is bought is
what the cold chain planned; nothing is worked out again here.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.quantity import Sentence, as_sentence, line, mass
from resupply.kitchen.food.load import LoadChange
from resupply.report.document.model.ice import IceBuy
from resupply.report.document.model.shopping import PackRow, ShoppingRow, ShoppingStop
from resupply.report.document.passes import pass_id, row_of
from resupply.say.ice import bags

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterator, Sequence

    from resupply.common.quantity import Part
    from resupply.kitchen.cold.ice_plan import IcePlan, Purchase
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan

__all__ = ["add_ice", "coolers_of", "ice_at", "ice_buys", "ice_changes", "room_at"]

_ICE_DOUBT: Final = line("ice is likely here, not certain: ask before you buy what must stay cold")


def coolers_of(kitchen: KitchenPlan) -> list[IcePlan]:
    """Plans of the coolers there are, food first."""
    both = (kitchen.food_ice, kitchen.drinks_ice)
    return [ice for ice in both if ice is not None and ice.cooler.kind != "none"]


def ice_buys(kitchen: KitchenPlan) -> dict[str, list[IceBuy]] | None:
    """Ice to buy on the way by pass id; None without a cooler, or where nothing is known."""
    coolers = coolers_of(kitchen)
    if not coolers or all(not ice.trace.known_until_s > ice.trace.times_s[0] for ice in coolers):
        return None
    buys: dict[str, list[IceBuy]] = {}
    for ice in coolers:
        for purchase in ice.purchases:
            if purchase.stop.counts:
                row = _line(ice, purchase)
                fits, doubt = row.left_words, row.doubt_words
                buys.setdefault(purchase.stop.key, []).append(
                    IceBuy(
                        cooler=ice.cooler.name,
                        kg=row.bought,
                        bags=purchase.bags,
                        confidence=purchase.stop.confidence.value,
                        words=line(
                            "{bags}{fits} for the {cooler} cooler{doubt}.",
                            bags=row.words,
                            fits=line(" ({fits})", fits=fits) if fits else None,
                            cooler=ice.cooler.name,
                            doubt=line("; {doubt}", doubt=doubt) if doubt else None,
                        ),
                    )
                )
    return buys


def add_ice(
    lists: Sequence[ShoppingStop], plan: TripPlan, kitchen: KitchenPlan
) -> tuple[ShoppingStop, ...]:
    """Put the ice on the lists: at the food stop where it is bought, else as a stop of its own.

    Parameters
    ----------
    lists
        Rows of the food lists, in order of time; they are not changed.
    """
    stop_of = {pass_id(row): number for row, number in plan.with_ice.items()}
    listed = {row.stop for row in lists}
    added: dict[int | None, list[ShoppingRow]] = {}
    alone: dict[str, tuple[ShoppingStop, list[ShoppingRow]]] = {}
    for ice in coolers_of(kitchen):
        for row in _home_lines(ice, kitchen):
            if 0 in listed:
                added.setdefault(0, []).append(row)
            else:
                alone.setdefault("home", (_home_row(plan), []))[1].append(row)
        for purchase in ice.purchases:
            if not purchase.stop.counts:
                continue
            row, key = _line(ice, purchase), purchase.stop.key
            number = stop_of.get(key)
            if number in listed:
                added.setdefault(number, []).append(row)
            else:
                alone.setdefault(key, (_ice_row(plan, purchase, number), []))[1].append(row)
    rows = [replace(stop, lines=tuple(more)) for stop, more in alone.values()]
    rows += [replace(stop, lines=(*stop.lines, *added.get(stop.stop, ()))) for stop in lists]
    return tuple(sorted(rows, key=lambda stop: (stop.when, stop.stop != 0)))


def ice_at(ice: IcePlan, at_s: float) -> float:
    """Ice on board just after an instant; 0 where it is not known."""
    trace = ice.trace
    last = int(np.searchsorted(trace.times_s, at_s + 1.0, side="right")) - 1
    kg = float(trace.ice_kg[max(last, 0)])
    return kg if np.isfinite(kg) else 0.0


def room_at(ice: IcePlan, at_s: float) -> float:
    """Room taken in the cooler by food, packs and ice just after an instant, litres."""
    trace = ice.trace
    last = int(np.searchsorted(trace.times_s, at_s + 1.0, side="right")) - 1
    return float(trace.room_l[max(last, 0)])


def ice_changes(kitchen: KitchenPlan, local: Callable[[float], dt.datetime]) -> list[LoadChange]:
    """Ice and packs on board; what melts leaves when meltwater is poured off for new ice."""
    changes = []
    for ice in coolers_of(kitchen):
        start_s = float(ice.trace.times_s[0])
        if ice.cooler.packs_kg > 0.0:
            changes.append(
                _change(local(start_s), f"packs for {ice.cooler.name}", ice.cooler.packs_kg)
            )
        loads = [(stated.load.at_s, stated.loaded_kg) for stated in ice.stated]
        loads += [(purchase.stop.at_s, purchase.loaded_kg) for purchase in ice.purchases]
        before_kg = 0.0
        for at_s, loaded_kg in loads:
            now_kg = max(ice_at(ice, at_s), loaded_kg)
            changes.append(_change(local(at_s), f"ice for {ice.cooler.name}", now_kg - before_kg))
            before_kg = now_kg
    return changes


def _change(when: dt.datetime, label: str, kg: float) -> LoadChange:
    return LoadChange(when, "other", 0, label, kg, 0.0, 0.0)


def _home_lines(ice: IcePlan, kitchen: KitchenPlan) -> Iterator[ShoppingRow]:
    """Ice and packs from the freezer at home; nothing on a trip under way."""
    if kitchen.first_stop:
        return
    name = ice.cooler.name
    if ice.cooler.packs_kg > 0.0:
        kg = ice.cooler.packs_kg
        yield _row(f"packs-{name}", f"Frozen packs for the {name} cooler", kg, mass(kg))
    for stated in ice.stated:
        if stated.loaded_kg > 0.0:
            kg = stated.loaded_kg
            yield _row(f"ice-{name}", _named(ice), kg, line("{kg} from the freezer", kg=mass(kg)))
    for purchase in ice.purchases:
        if not purchase.stop.counts:
            kg = purchase.loaded_kg
            yield _row(f"ice-{name}", _named(ice), kg, line("{kg} from the freezer", kg=mass(kg)))


def _named(ice: IcePlan) -> str:
    return f"Ice for the {ice.cooler.name} cooler"


def _line(ice: IcePlan, purchase: Purchase) -> ShoppingRow:
    stop = purchase.stop
    said = bags(purchase.bags, stop.form, stop.bag_kg)
    part = purchase.loaded_kg < purchase.kg - 0.05
    doubtful = stop.confidence != "stated"
    return replace(
        _row(f"ice-{ice.cooler.name}", _named(ice), purchase.kg, said),
        packs=(PackRow(size=stop.bag_kg, count=purchase.bags),),
        left_over=round(purchase.kg - purchase.loaded_kg, 2),
        left_words=line("{kg} will fit", kg=mass(purchase.loaded_kg)) if part else Sentence(),
        doubtful=doubtful,
        doubt_words=_ICE_DOUBT if doubtful else Sentence(),
    )


def _row(key: str, name: str, kg: float, said: Part) -> ShoppingRow:
    return ShoppingRow(
        id=key,
        name=name,
        aisle="ice",
        unit="kg",
        need=round(kg, 2),
        in_hand=0.0,
        packs=(PackRow(size=round(kg, 2), count=1),),
        bought=round(kg, 2),
        used_later=0.0,
        left_over=0.0,
        mass_kg=round(kg, 2),
        meals=(),
        doubtful=False,
        words=as_sentence(said),
        left_words=Sentence(),
        doubt_words=Sentence(),
    )


def _home_row(plan: TripPlan) -> ShoppingStop:
    return ShoppingStop(
        stop=0,
        name="home",
        when=plan.legs[0].depart,
        full=True,
        words=Sentence(),
        lines=(),
    )


def _ice_row(plan: TripPlan, purchase: Purchase, number: int | None) -> ShoppingStop:
    row = row_of(purchase.stop.key)
    chainage_m = float(plan.prepared.passes.chainage_m[row])
    return ShoppingStop(
        stop=number,
        pass_id=purchase.stop.key,
        name=purchase.stop.label,
        when=plan.clock.local(chainage_m, purchase.stop.at_s),
        chainage_m=round(chainage_m),
        full=None,
        words=as_sentence(None if number else "For ice only."),
        lines=(),
    )
