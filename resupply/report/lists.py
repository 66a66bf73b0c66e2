"""The shopping lists as plain text: to send to whoever shops, or to print."""

from __future__ import annotations

import datetime as dt
from itertools import groupby
from typing import TYPE_CHECKING, Any

from resupply.common.text import one_line
from resupply.common.units import format_at, format_clock
from resupply.report.document.in_words import in_words

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["shopping_lists"]


def shopping_lists(document: dict[str, Any]) -> str:
    """Write one list for each stop in the order of the trip, then the reserve.

    Without a planned menu there is nothing to list: each stop then says what to carry from it.
    Lines end as on any system (CR LF); UTF-8.
    """
    document = in_words(document)
    trip, source = document["trip"], document["attribution"]
    people = trip["people"]
    head = [
        one_line(trip["name"], None),
        f"Shopping lists for {people} rider{'' if people == 1 else 's'}",
    ]
    block = document.get("shopping")
    body = _lists(document, block) if block else _carried(document)
    foot = ["", f"{source['text']}, data of {source['data_date'] or 'unknown date'}"]
    return "\r\n".join([*head, *body, *foot]) + "\r\n"


def _lists(document: dict[str, Any], block: dict[str, Any]) -> Iterator[str]:
    for shopping in block["stops"]:
        yield from ("", *_heading(document, shopping))
        if shopping["words"]:
            yield one_line(shopping["words"], None)
        yield from _lines(shopping["lines"])
    if block["reserve"]["lines"]:
        yield from ("", "RESERVE", one_line(block["reserve"]["words"], None))
        yield from _lines(block["reserve"]["lines"])


def _heading(document: dict[str, Any], shopping: dict[str, Any]) -> Iterator[str]:
    """Name of the shop, where and when it is reached, and whether it is open then."""
    if shopping["stop"] == 0:
        yield "BEFORE YOU LEAVE"
        return
    stop = next((s for s in document["stops"] if s["number"] == shopping["stop"]), None)
    name = one_line(shopping["name"], None)
    yield f"{shopping['stop']}. {name}" if stop else name
    at_m = stop["chainage_m"] if stop else shopping.get("chainage_m")
    when = _when(shopping["when"], document["trip"]["clock"])
    where = [] if at_m is None else [format_at(at_m, document["trip"]["units"])]
    yield ", ".join([*where, when])
    passing = next((p for p in document["passes"] if p["id"] == shopping.get("pass")), None)
    if told := stop or passing:
        yield f"On arrival: {one_line(told['state_words'], None)}"


def _lines(lines: list[dict[str, Any]]) -> Iterator[str]:
    """Tell what to buy, by aisle; what is on board already needs no tick."""
    buy = [line for line in lines if line.get("packs") != []]
    have = [line for line in lines if line not in buy]
    for aisle, some in groupby(buy, key=lambda line: line["aisle"]):
        yield f"  {one_line(aisle, None)}"
        for line in some:
            doubt = f" ({line['doubt_words']})" if line["doubt_words"] else ""
            yield f"  [ ] {one_line(line['name'], None)}, {one_line(line['words'], None)}{doubt}"
    if have:
        yield f"  Enough on board: {', '.join(one_line(line['name'], None) for line in have)}"


def _carried(document: dict[str, Any]) -> Iterator[str]:
    yield from ("", "No menu is planned, so there is only what each stop has to last for.")
    under_way = document["legs"][0]["start_m"] > 0
    start = "WHERE YOU ARE" if under_way else "BEFORE YOU LEAVE"
    yield from ("", start, one_line(document["start_carry"]["words"], None))
    for stop in document["stops"]:
        shopping = {"stop": stop["number"], "name": stop["name"], "when": stop["arrive"]}
        yield from ("", *_heading(document, shopping), one_line(stop["carry_words"], None))


def _when(text: str, clock: int) -> str:
    when = dt.datetime.fromisoformat(text)
    return f"{when:%a} {when.day} {when:%b}, {format_clock(when, 24 if clock == 24 else 12)}"
