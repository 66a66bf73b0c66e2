"""Sentences about stretches without a supply: how long, and what makes that doubtful."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.quantity import Quantity, Sentence, at, duration, joined, line, meals, way
from resupply.hours.state import BY_HOURS
from resupply.places.place import Supply

if TYPE_CHECKING:
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.gaps import Gap

__all__ = ["gap_words", "longest_words", "sure_gap"]

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
_BESIDE_M: Final = 1_000.0
"""A shorter stretch is told at one kilometre (our choice)."""
_ALIKE_M: Final = 1_000.0
"""Stretches that differ by less, with the same meals in them, are told as one."""


def gap_words(gap: Gap, words: Words, kind: Supply, *, stated: bool = False) -> Sentence:
    """Say how long a gap is, and what makes it doubtful.

    Parameters
    ----------
    stated
        Only what is open by stated hours ends it.
    """
    without = _NOT_OPEN.get(kind, _WITHOUT[kind]) if gap.has_shut else _WITHOUT[kind]
    if stated:
        without = f"{_NOT_OPEN[kind]} by stated hours"
    which, shut = ("Shops", "shut or usually shut") if kind in _FOOD else ("Places", "shut")
    jump = None
    if gap.jump_m:
        jump = line("The line jumps {far} on it, which its length leaves out.", far=way(gap.jump_m))
    return joined(
        line(
            "{far} {without}, {where}: {riding} of riding, {meals}.",
            far=way(gap.length_m),
            without=without,
            where=_where(gap, words),
            riding=duration(gap.ride_s),
            meals=meals(gap.meals),
        ),
        f"{which} on it are {shut} when you pass." if gap.has_shut else None,
        "Map data is missing on part of it: what is there is not known."
        if gap.crosses_unknown
        else None,
        jump,
    )


def longest_words(plan: TripPlan, words: Words, kind: Supply) -> Sentence:
    """Say how long the longest gap of a supply is, and what it rests on."""
    gaps = plan.gaps[kind]
    rests_on = [gap.end_row for gap in gaps[:-1]]
    doubtful = kind in _BY_HOURS and not np.isin(plan.risk[rests_on], BY_HOURS).all()
    return joined(
        gap_words(gaps.longest, words, kind),
        _besides(plan, words) if kind is Supply.GROCERIES else None,
        "Places that may be shut count as open here." if doubtful else None,
    )


def sure_gap(plan: TripPlan) -> Gap | None:
    """Give the longest gap by stated hours alone, None if it is like the longest one."""
    longest = plan.gaps[Supply.GROCERIES].longest
    return None if _alike(plan.sure_gap, longest) else plan.sure_gap


def _besides(plan: TripPlan, words: Words) -> Sentence:
    """Say the longest gap without the estimate of usual hours, and the one with small shops."""
    sure = sure_gap(plan)
    any_shop = plan.gaps[Supply.SMALL_GROCERIES].longest
    small = not _alike(any_shop, plan.gaps[Supply.GROCERIES].longest)
    return joined(
        _other("Counting only shops that are open by stated hours, not by an estimate", sure, words)
        if sure is not None
        else None,
        _other("Small shops counted too (they may not have a day's food)", any_shop, words)
        if small
        else None,
    )


def _other(head: str, gap: Gap, words: Words) -> Sentence:
    return line(
        "{head}: {far}, {where}, {meals}.",
        head=head,
        far=way(gap.length_m),
        where=_where(gap, words),
        meals=meals(gap.meals),
    )


def _alike(gap: Gap, other: Gap) -> bool:
    return abs(gap.length_m - other.length_m) < _ALIKE_M and gap.meals == other.meals


def _where(gap: Gap, words: Words) -> Sentence:
    start, end = (
        _end(row, gap_m, words)
        for row, gap_m in ((gap.start_row, gap.start_m), (gap.end_row, gap.end_m))
    )
    # Two doors beside each other, not "from km 74 to km 74".
    if gap.length_m < _BESIDE_M:
        return line("at {start}", start=start)
    return line("from {start} to {end}", start=start, end=end)


def _end(row: int, gap_m: float, words: Words) -> Quantity:
    return words.at_pass(row) if row >= 0 else at(gap_m)
