"""Rows of a list that no dish asks for: ice, and what to bring to the kitchen."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

from resupply.common.quantity import Sentence, as_sentence, line
from resupply.report.document.model.shopping import KitList, PackRow, ShoppingRow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.common.quantity import Part
    from resupply.kitchen.food.gear import Gear
    from resupply.report.document.model.shopping import ShoppingDocument

__all__ = ["plain_row", "with_gear"]

_GEAR: Final = "Counted once for all of you (common practice, no source); masses are round figures."


def plain_row(
    key: str,
    name: str,
    said: Part,
    *,
    aisle: str,
    unit: Literal["piece", "kg"],
    amount: float,
    mass_kg: float,
) -> ShoppingRow:
    """Make a row of which all is bought at once and nothing is left over.

    Parameters
    ----------
    amount
        In `unit`.
    """
    return ShoppingRow(
        id=key,
        name=name,
        aisle=aisle,
        unit=unit,
        need=round(amount, 2),
        in_hand=0.0,
        packs=(PackRow(size=round(amount, 2), count=1),),
        bought=round(amount, 2),
        used_later=0.0,
        left_over=0.0,
        mass_kg=round(mass_kg, 2),
        meals=(),
        doubtful=False,
        words=as_sentence(said),
        left_words=Sentence(),
        doubt_words=Sentence(),
    )


def with_gear(lists: ShoppingDocument, gear: Sequence[Gear]) -> ShoppingDocument:
    """Add what to bring to the kitchen, once for the party."""
    rows = tuple(
        plain_row(
            one.id,
            one.name,
            line("{n}{note}", n=one.count, note=line(", {note}", note=one.note))
            if one.note
            else str(one.count),
            aisle="kitchen",
            unit="piece",
            amount=one.count,
            mass_kg=one.mass_kg,
        )
        for one in gear
    )
    return replace(lists, gear=KitList(lines=rows, words=as_sentence(_GEAR if rows else None)))
