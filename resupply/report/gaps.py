"""Gaps and ice of a plan as document blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from resupply.places.model import Confidence, Supply
from resupply.report.passes import iso, pass_id
from resupply.report.words import Words, state_word
from resupply.supply.gaps import Gap, longest_gap
from resupply.units import format_hours

if TYPE_CHECKING:
    from resupply.pipeline import TripPlan

__all__ = ["gap_block", "gap_words", "ice_block"]

_SUPPLY_WORDS = {
    Supply.GROCERIES: "food shop",
    Supply.ICE: "ice",
    Supply.WATER: "drinking water",
    Supply.FUEL: "fuel",
    Supply.CAMP: "camp",
    Supply.MEAL_OUT: "meal out",
}


def gap_words(gap: Gap, words: Words, what: str) -> str:
    """One sentence on a gap."""
    where = f"from {words.at(gap.start_m)} to {words.at(gap.end_m)}"
    text = (
        f"{words.km(gap.length_m)} without {what}, {where}: "
        f"{format_hours(gap.ride_s)} of riding, {gap.meals} meal{'' if gap.meals == 1 else 's'}."
    )
    if gap.crosses_unknown:
        text += " Map data is missing on part of it, so there may be more."
    return text


def gap_block(plan: TripPlan, words: Words, kind: Supply, *, quick: bool = False) -> dict[str, Any]:
    """Gaps of one supply, the longest named; quick ones have words for the longest only."""
    gaps = plan.gaps[kind]
    listed = gaps if not quick or kind is Supply.GROCERIES else ()
    return {
        "longest": _row(longest_gap(gaps), words, kind, quick=False),
        "all": [_row(gap, words, kind, quick=quick) for gap in listed],
        "count_passes": len(gaps) - 1,
    }


def _row(gap: Gap, words: Words, kind: Supply, *, quick: bool) -> dict[str, Any]:
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
    }
    if not quick:
        article = "a " if kind in (Supply.GROCERIES, Supply.CAMP, Supply.MEAL_OUT) else ""
        told["words"] = gap_words(gap, words, f"{article}{_SUPPLY_WORDS[kind]}")
    return told


def ice_block(plan: TripPlan, words: Words) -> dict[str, Any]:
    """Where to buy ice, day by day."""
    rows = []
    for stop in plan.ice:
        arrive_s, risk = float(plan.arrive_s[stop.row]), int(plan.risk[stop.row])
        stated = stop.confidence is Confidence.STATED
        chainage_m = float(plan.prepared.passes.chainage_m[stop.row])
        sure = (
            "ice is on the map" if stated else "likely, not on the map: ask before you rely on it"
        )
        rows.append(
            {
                "leg": plan.legs[stop.leg_ix].number,
                "pass": pass_id(stop.row),
                "confidence": str(stop.confidence),
                "chainage_m": round(chainage_m),
                "eta": iso(words.local(stop.row, arrive_s)),
                "state": state_word(risk),
                "state_words": words.state(stop.row, arrive_s, risk),
                "at_food_stop": stop.at_food_stop,
                "words": f"Day {plan.legs[stop.leg_ix].number}: {words.name(stop.row)}, "
                f"{words.at(chainage_m)} ({sure}).",
            }
        )
    longest_s = max((gap.wall_s for gap in plan.ice_gaps), default=0.0)
    said = (
        f"Longest time between ice stops: {format_hours(longest_s)}."
        if rows
        else "No place with ice is known along the route."
    )
    return {
        "stops": rows,
        "longest_gap_h": round(longest_s / 3600.0, 1) if rows else None,
        "words": said,
        "rule_words": "Rule of thumb (common practice, no source): a bag of about 2 kg for each "
        "day until the next ice, twice that on hot days.",
    }
