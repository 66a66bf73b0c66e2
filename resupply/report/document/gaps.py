"""Gaps and ice of a plan as document blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.units import S_PER_HOUR, format_amount, format_hours
from resupply.hours.state import BY_HOURS
from resupply.places.place import Confidence, Supply
from resupply.report.document.passes import iso, pass_id, row_of
from resupply.say.states import state_key
from resupply.say.stops import meal_words
from resupply.supply.gaps import Gap, longest_gap

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words

__all__ = ["gap_block", "gap_words", "ice_block", "sure_gap"]

_WITHOUT = {
    Supply.GROCERIES: "without a full food shop",
    Supply.SMALL_GROCERIES: "without any food shop",
    Supply.ICE: "without ice",
    Supply.WATER: "without drinking water",
    Supply.FUEL: "without fuel",
    Supply.CAMP: "without a camp",
    Supply.MEAL_OUT: "without a meal out",
}
_NOT_OPEN = {
    Supply.GROCERIES: "with no full food shop open",
    Supply.SMALL_GROCERIES: "with no food shop open",
}
_FOOD = tuple(_NOT_OPEN)
_BY_HOURS = (Supply.ICE, Supply.FUEL, Supply.MEAL_OUT)
"""Judged by their hours; for groceries the gap by stated hours alone is told besides."""


def gap_words(gap: Gap, words: Words, kind: Supply, *, stated: bool = False) -> str:
    """Say how long a gap is, and what makes it doubtful.

    Parameters
    ----------
    stated
        Only what is open by stated hours ends it.
    """
    without = _NOT_OPEN.get(kind, _WITHOUT[kind]) if gap.has_shut else _WITHOUT[kind]
    if stated:
        without = f"{_NOT_OPEN[kind]} by stated hours"
    text = (
        f"{words.km(gap.length_m)} {without}, {_where(gap, words)}: "
        f"{format_hours(gap.ride_s)} of riding, {meal_words(gap.meals)}."
    )
    if gap.has_shut:
        which, shut = ("Shops", "shut or usually shut") if kind in _FOOD else ("Places", "shut")
        text += f" {which} on it are {shut} when you pass."
    if gap.crosses_unknown:
        text += " Map data is missing on part of it: what is there is not known."
    if gap.jump_m:
        text += f" The line jumps {words.km(gap.jump_m)} on it, which its length leaves out."
    return text


def _where(gap: Gap, words: Words) -> str:
    return f"from {words.at(gap.start_m)} to {words.at(gap.end_m)}"


def gap_block(plan: TripPlan, words: Words, kind: Supply, *, quick: bool = False) -> dict[str, Any]:
    """Gaps of one supply, the longest named; quick ones have words for the longest only."""
    gaps = plan.gaps[kind]
    listed = gaps if not quick or kind is Supply.GROCERIES else ()
    longest = _row(longest_gap(gaps), words, kind, quick=False)
    block: dict[str, Any] = {}
    if kind is Supply.GROCERIES:
        block["stated"] = _row(plan.sure_gap, words, kind, quick=False, stated=True)
        longest["words"] += _told_besides(plan, words)
    rests_on = [gap.end_row for gap in gaps[:-1]]
    if kind in _BY_HOURS and not np.isin(plan.risk[rests_on], BY_HOURS).all():
        longest["words"] += " Places that may be shut when you pass count here, too."
    return {
        "longest": longest,
        **block,
        "all": [_row(gap, words, kind, quick=quick) for gap in listed],
        "count_passes": len(gaps) - 1,
    }


def _told_besides(plan: TripPlan, words: Words) -> str:
    """Say the longest gap without the estimate of usual hours, and the one with small shops."""
    text = ""
    if (sure := sure_gap(plan, words)) is not None:
        text += (
            " Counting only shops that are open by stated hours, not by an estimate: "
            f"{words.km(sure.length_m)}, {_where(sure, words)}, {meal_words(sure.meals)}."
        )
    any_shop = longest_gap(plan.gaps[Supply.SMALL_GROCERIES])
    if not _reads_alike(any_shop, longest_gap(plan.gaps[Supply.GROCERIES]), words):
        text += (
            " With small shops, where a day's food is not sure: "
            f"{words.km(any_shop.length_m)}, {_where(any_shop, words)}, "
            f"{meal_words(any_shop.meals)}."
        )
    return text


def sure_gap(plan: TripPlan, words: Words) -> Gap | None:
    """Give the longest gap by stated hours alone, None if it reads the same as the longest one."""
    sure, longest = plan.sure_gap, longest_gap(plan.gaps[Supply.GROCERIES])
    return None if _reads_alike(sure, longest, words) else sure


def _reads_alike(gap: Gap, other: Gap, words: Words) -> bool:
    return (words.km(gap.length_m), gap.meals) == (words.km(other.length_m), other.meals)


def _row(
    gap: Gap, words: Words, kind: Supply, *, quick: bool, stated: bool = False
) -> dict[str, Any]:
    told: dict[str, Any] = {
        "start_m": round(gap.start_m),
        "end_m": round(gap.end_m),
        "length_m": round(gap.length_m),
        "ride_s": round(gap.ride_s),
        "wall_s": round(gap.wall_s),
        "meals": gap.meals,
        "days": gap.days,
        "from_words": "the start" if gap.start_row < 0 else words.name(gap.start_row),
        "to_words": "the end" if gap.end_row < 0 else words.name(gap.end_row),
        "crosses_unknown": gap.crosses_unknown,
        "has_shut": gap.has_shut,
        "jump_m": round(gap.jump_m),
    }
    if not quick:
        told["words"] = gap_words(gap, words, kind, stated=stated)
    return told


def ice_block(
    plan: TripPlan,
    words: Words,
    buys: Mapping[str, Sequence[dict[str, Any]]] | None = None,
    *,
    short: bool = False,
) -> dict[str, Any]:
    """Where to buy ice.

    Parameters
    ----------
    buys
        Ice to buy by pass id, where the cold chain tells: then those places are the stops, and
        the others are spare. None where it does not: then there is one a day.
    short
        The food cooler does not stay cold.
    """
    daily = {stop.row: stop.at_food_stop for stop in plan.ice}
    food = {stop.row for stop in plan.supply.stops}
    rows = set(daily) | {row_of(key) for key in buys or ()}
    told = [
        _ice_row(plan, words, row, row in food, (buys or {}).get(pass_id(row), ()))
        for row in sorted(rows, key=lambda row: (float(plan.arrive_s[row]), row))
    ]
    longest_s = max((gap.wall_s for gap in plan.ice_gaps), default=0.0)
    stops = told if buys is None else [row for row in told if row["buy"]]
    block = {
        "stops": stops,
        "spare": [row for row in told if row not in stops],
        "longest_gap_h": round(longest_s / S_PER_HOUR, 1) if daily else None,
        "words": _ice_words(told, stops, longest_s, words, planned=buys is not None, short=short),
    }
    if buys is None:
        block["rule_words"] = (
            "Rule of thumb (common practice, no source): a bag of about 2 kg for each day until "
            "the next ice, twice that on hot days."
        )
    return block


def _ice_row(
    plan: TripPlan, words: Words, row: int, at_food_stop: bool, buys: Sequence[dict[str, Any]]
) -> dict[str, Any]:
    arrive_s, risk = float(plan.arrive_s[row]), int(plan.risk[row])
    confidence = words.place(row).supplies[Supply.ICE]
    chainage_m = float(plan.prepared.passes.chainage_m[row])
    day = plan.legs[int(plan.clock.leg_ix([chainage_m])[0])].number
    sure = (
        "ice is on the map"
        if confidence is Confidence.STATED
        else "likely, not on the map: ask before you rely on it"
    )
    said = f"Day {day}: {words.name(row)}, {words.at(chainage_m)} ({sure})."
    for buy in buys:
        said += f" Buy {buy['words']}"
    return {
        "leg": day,
        "pass": pass_id(row),
        "confidence": str(confidence),
        "chainage_m": round(chainage_m),
        "eta": iso(words.local(row, arrive_s)),
        "state": state_key(risk),
        "state_words": words.state(row, arrive_s, risk),
        "at_food_stop": at_food_stop,
        "buy": list(buys),
        "words": said,
    }


def _ice_words(
    told: Sequence[dict[str, Any]],
    stops: Sequence[dict[str, Any]],
    longest_s: float,
    words: Words,
    *,
    planned: bool,
    short: bool,
) -> str:
    if not told:
        return "No place with ice is known along the route."
    if not planned:
        return f"Longest time between ice stops: {format_hours(longest_s)}."
    if not stops and short:
        return "No ice can be bought in time: the food cooler does not stay cold."
    if not stops:
        return "No ice need be bought on the way."
    kg = sum(buy["kg"] for row in stops for buy in row["buy"])
    where = "1 place" if len(stops) == 1 else f"{len(stops)} places"
    likely = sum(row["confidence"] != "stated" for row in stops)
    doubt = f"; at {likely} of them ice is likely, not certain" if likely else ""
    return f"Buy {format_amount(kg, words.units)} of ice at {where} on the way{doubt}."
