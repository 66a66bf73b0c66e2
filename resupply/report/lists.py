"""The shopping lists as plain text: to send to whoever shops, or to print."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from resupply.common.quantity import at, date, time
from resupply.common.show import shown, text
from resupply.common.text import one_line
from resupply.report.document.in_words import shown_in

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from resupply.common.quantity import Sentence
    from resupply.common.show import Show
    from resupply.report.document.model.plan import PlanDocument
    from resupply.report.document.model.shopping import ShoppingDocument, ShoppingRow

__all__ = ["shopping_lists"]


def shopping_lists(plan: PlanDocument) -> str:
    """Write one list for each stop in the order of the trip, then kit, kitchen and reserve.

    Without a planned menu there is nothing to list: each stop then says what to carry from it.
    Lines end as on any system (CR LF); UTF-8.
    """
    trip, source = plan.trip, plan.attribution
    people = trip.people
    head = [
        one_line(trip.name, None),
        f"Shopping lists for {people} rider{'' if people == 1 else 's'}",
    ]
    body = _lists(plan, plan.shopping) if plan.shopping else _carried(plan)
    foot = ["", f"{source.text}, data of {source.data_date or 'unknown date'}"]
    return "\r\n".join([*head, *body, *foot]) + "\r\n"


def _lists(plan: PlanDocument, block: ShoppingDocument) -> Iterator[str]:
    show = shown_in(plan)
    for shop in block.stops:
        stop = next((stop for stop in plan.stops if stop.number == shop.stop), None)
        passing = next((row for row in plan.passes if row.id == shop.pass_id), None)
        state_words = stop.state_words if stop else passing.state_words if passing else None
        at_m = stop.chainage_m if stop else shop.chainage_m
        number = shop.stop if stop or shop.stop == 0 else None
        yield from ("", *_heading(plan, number, shop.name, shop.when, at_m, state_words))
        if shop.words:
            yield one_line(text(shop.words, show), None)
        yield from _lines(shop.lines, show)
        yield from (one_line(text(said, show), None) for said in shop.if_no_ice)
    if block.kit.lines:
        yield from ("", "PANTRY KIT", one_line(text(block.kit.words, show), None))
        yield from _lines(block.kit.lines, show)
    if block.gear.lines:
        yield from ("", "KITCHEN", one_line(text(block.gear.words, show), None))
        yield from _lines(block.gear.lines, show)
    if block.reserve.lines:
        yield from ("", "SPARE", one_line(text(block.reserve.words, show), None))
        yield from _lines(block.reserve.lines, show)


def _heading(
    plan: PlanDocument,
    number: int | None,
    name: str,
    when: dt.datetime,
    at_m: float | None,
    state_words: Sentence | None,
) -> Iterator[str]:
    """Name of the shop, where and when it is reached, and whether it is open then."""
    if number == 0:
        yield "BEFORE YOU LEAVE"
        return
    yield f"{number}. {one_line(name, None)}" if number else one_line(name, None)
    show = shown_in(plan)
    where = [] if at_m is None else [shown(at(at_m), show)]
    yield ", ".join([*where, f"{date(when)}, {shown(time(when), show)}"])
    if state_words:
        yield f"On arrival: {one_line(text(state_words, show), None)}"


def _lines(lines: Sequence[ShoppingRow], show: Show) -> Iterator[str]:
    """Tell what to buy, by aisle; what is on board already needs no tick."""
    buy = [row for row in lines if row.bought > 0.0]
    have = [row for row in lines if row.bought <= 0.0]
    for aisle, some in groupby(buy, key=lambda row: row.aisle):
        yield f"  {one_line(aisle, None)}"
        for row in some:
            doubt = f" ({text(row.doubt_words, show)})" if row.doubt_words else ""
            words = one_line(text(row.words, show), None)
            bike = f" [{one_line(row.bike, None)}]" if row.bike else ""
            yield f"  [ ] {one_line(row.name, None)}, {words}{doubt}{bike}"
    if have:
        yield f"  Enough on board: {'; '.join(one_line(row.name, None) for row in have)}"


def _carried(plan: PlanDocument) -> Iterator[str]:
    show = shown_in(plan)
    yield from ("", "No menu is planned, so there is only what each stop has to last for.")
    start = "WHERE YOU ARE" if plan.legs[0].start_m > 0 else "BEFORE YOU LEAVE"
    yield from ("", start, one_line(text(plan.start_carry.words, show), None))
    for stop in plan.stops:
        yield ""
        yield from _heading(
            plan, stop.number, stop.name, stop.arrive, stop.chainage_m, stop.state_words
        )
        yield one_line(text(stop.carry_words, show), None)
