"""Ice as the rider meets it: a line of a list, or a stop for ice alone.

In: a `KitchenPlan`. Out: rows for the shopping block. What is bought is
what the cold chain planned; nothing is worked out again here.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from resupply.common.quantity import Sentence, as_sentence, line, mass
from resupply.kitchen.on_board import coolers_of, local
from resupply.report.document.list_rows import plain_row
from resupply.report.document.model.ice import IceBuy
from resupply.report.document.model.shopping import PackRow, ShoppingRow, ShoppingStop
from resupply.report.document.passes import pass_id, row_of
from resupply.say.ice import bags
from resupply.say.second_menu import second_menu_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.common.quantity import Part
    from resupply.kitchen.cold.ice_plan import IcePlan, Purchase
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan
    from resupply.route.clock import RideClock

__all__ = ["add_ice", "ice_buys"]

_ICE_DOUBT: Final = line("ice is likely here, not certain: ask before you buy what must stay cold")


def ice_buys(kitchen: KitchenPlan, clock: RideClock) -> dict[str, list[IceBuy]] | None:
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
                        if_none=_if_none(kitchen, ice, purchase, clock),
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
    second: dict[str, tuple[Sentence, ...]] = {}
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
            second[key] = (*second.get(key, ()), *_if_none(kitchen, ice, purchase, plan.clock))
            if number in listed:
                added.setdefault(number, []).append(row)
            else:
                alone.setdefault(key, (_ice_row(plan, purchase, number), []))[1].append(row)
    rows = [
        replace(stop, lines=tuple(more), if_no_ice=second.get(key, ()))
        for key, (stop, more) in alone.items()
    ]
    at_stop = {stop_of[key]: said for key, said in second.items() if stop_of.get(key) in listed}
    rows += [
        replace(
            stop,
            lines=(*stop.lines, *added.get(stop.stop, ())),
            if_no_ice=() if stop.stop is None else at_stop.get(stop.stop, ()),
        )
        for stop in lists
    ]
    return tuple(sorted(rows, key=lambda stop: (stop.when, stop.stop != 0)))


def _if_none(
    kitchen: KitchenPlan, ice: IcePlan, purchase: Purchase, clock: RideClock
) -> tuple[Sentence, ...]:
    """Tell the second menu for the ice of one purchase; only the food cooler has one."""
    return tuple(
        said
        for second in kitchen.second
        if ice is kitchen.food_ice and second.stop.key == purchase.stop.key
        if second.stop.at_s == purchase.stop.at_s
        for said in second_menu_words(second, kitchen.given, lambda at_s: local(clock, at_s))
    )


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
    return plain_row(key, name, said, aisle="ice", unit="kg", amount=kg, mass_kg=kg)


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
