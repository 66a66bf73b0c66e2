"""The rules of the kitchen in a few lines: for paper, and in one line for the terminal.

In: what the trip is like, the temperature table, how long to boil. Out: sentences. What does not
matter on the trip is left out; what is not known counts as if it mattered.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import as_sentence, duration, limit, line, listed, temp
from resupply.common.units import S_PER_HOUR

if TYPE_CHECKING:
    from resupply.common.quantity import Sentence
    from resupply.kitchen.food.care import CareTable, Situation

__all__ = ["short_line", "short_list"]

_COLD_C, _HOT_C = 4.0, 32.0
"""As in the storage table's rules: what needs cold, and where the shorter time holds."""
_TOLD = (
    ("poultry", "poultry"),
    ("ground-meat", "mince and raw sausage"),
    ("cuts", "steaks, chops and fish"),
)
"""Rows of the temperature table that paper needs; fish has that of steaks."""


def short_list(
    situation: Situation, care: CareTable, boil_min: float | None
) -> tuple[Sentence, ...]:
    """Say what to have in mind at the stove.

    Parameters
    ----------
    boil_min
        For untreated water at the height of this route; None where none is drunk.
    """
    unknown = not situation.has_menu
    said = [as_sentence("Local rules first: on fires, stoves, food, washing and water.")]
    if situation.perishable or unknown:
        said.append(
            line(
                "What needs cold: above {cold} for 2 hours in all, 1 hour above {hot}; then it is "
                "thrown out. Cooking does not mend it, tasting does not tell.",
                cold=limit(_COLD_C),
                hot=limit(_HOT_C),
            )
        )
    if situation.cooler:
        said.append(as_sentence("No ice left, or packs thawed: throw out what needs cold."))
    if situation.raw_meat or unknown:
        said.append(line("In the middle, by thermometer: {temps}.", temps=_temps(care)))
    if boil_min is not None:
        said.append(as_sentence(f"Untreated water: a rolling boil of {_minutes(boil_min)}."))
    if situation.stove or situation.fire or unknown:
        said += map(as_sentence, _AT_THE_STOVE)
    said.append(as_sentence(_FROM_ANIMALS))
    return tuple(said)


def short_line(situation: Situation, care: CareTable, boil_min: float | None) -> Sentence:
    """Say the same in one line."""
    cooking = situation.stove or situation.fire or not situation.has_menu
    rules = listed(
        [
            line("above {cold} at most 2 h in all, 1 h in heat", cold=limit(_COLD_C)),
            "no ice left: throw out what needs cold" if situation.cooler else None,
            _temps(care) if situation.raw_meat else None,
            None if boil_min is None else f"boil untreated water {_minutes(boil_min)}",
            "never cook in a tent" if cooking else None,
        ],
        "; ",
    )
    return line("{rules}.", rules=rules)


_AT_THE_STOVE = (
    "Stove and coals in the open, never in a tent: carbon monoxide has no smell.",
    "Wash up 200 ft (60 m) from streams and lakes; pack the scraps out.",
)
_FROM_ANIMALS = (
    "Food, cooler, rubbish and toiletries never in the tent: stored from animals as the place asks."
)


def _minutes(minutes: float) -> str:
    return duration(minutes * S_PER_HOUR / 60.0)


def _temps(care: CareTable) -> Sentence:
    rows = ((care.temperature[key].temp_c, food) for key, food in _TOLD)
    return listed(
        line("{food} {temp}", food=food, temp=temp(temp_c))
        for temp_c, food in rows
        if temp_c is not None
    )
