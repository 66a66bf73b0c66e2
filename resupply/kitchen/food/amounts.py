"""Amounts with units: turn what a dish says into what a shop sells.

In: a number and a unit as a rider writes it. Out: the number in grams, millilitres or pieces.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from resupply.common.errors import TripFileError
from resupply.common.quantity import decimal, pack
from resupply.common.units import G_PER_KG, G_PER_OZ, KG_PER_LB, L_PER_GAL, ML_PER_FL_OZ, ML_PER_L

if TYPE_CHECKING:
    from resupply.common.quantity import Part

__all__ = ["convert", "rounded", "say_amount"]

# What a dish file may write: unit → what it measures, and how many of the unit it is sold in.
# Kitchen measures: 15 ml and 5 ml spoons (metric); a US cup is a sixteenth of a gallon.
_UNITS: Final[dict[str, tuple[str, float]]] = {
    "g": ("g", 1.0),
    "kg": ("g", G_PER_KG),
    "oz": ("g", G_PER_OZ),
    "lb": ("g", KG_PER_LB * G_PER_KG),
    "ml": ("ml", 1.0),
    "l": ("ml", ML_PER_L),
    "L": ("ml", ML_PER_L),
    "tsp": ("ml", 5.0),
    "tbsp": ("ml", 15.0),
    "cup": ("ml", L_PER_GAL * ML_PER_L / 16.0),
    "fl_oz": ("ml", ML_PER_FL_OZ),
    "piece": ("piece", 1.0),
    "pieces": ("piece", 1.0),
}

_LEAST_PIECE = 0.1
"""Nobody counts out less of a piece (our choice)."""


def convert(amount: float, unit: str, to: str, *, where: str = "") -> float:
    """Turn an amount into another unit.

    >>> convert(2, "tbsp", "ml"), convert(0.25, "kg", "g")
    (30.0, 250.0)

    Raises
    ------
    TripFileError
        The unit is not known, or measures something else.
    """
    if unit == to:
        return amount
    if unit not in _UNITS:
        raise TripFileError(
            f"unit = {unit[:40]!r} is not known",
            where=where,
            mend="Use g, kg, oz, lb, ml, l, tsp, tbsp, cup, fl_oz or piece",
        )
    kind, factor = _UNITS[unit]
    kind_wanted, factor_wanted = _UNITS[to]
    if kind != kind_wanted:
        raise TripFileError(
            f"unit = {unit[:40]!r} cannot be turned into {to}, in which the ingredient is sold",
            where=where,
            mend="Give the amount in that kind of unit",
        )
    return amount * factor / factor_wanted


def rounded(amount: float, unit: str) -> float:
    """Round an amount to what can be measured in camp: whole grams, quarter pieces.

    >>> rounded(213.4, "g"), rounded(1.7, "piece")
    (213.0, 1.75)
    """
    return round(amount * 4.0) / 4.0 if unit == "piece" else float(max(round(amount), 1))


def say_amount(amount: float, unit: str) -> Part:
    """Say an amount as on a shopping list; packs keep the size they are sold in.

    A small share of a piece, as of a lighter, is not told.

    >>> say_amount(1250, "g"), say_amount(1.5, "piece"), say_amount(0.02, "piece")
    ({'pack_g': 1250}, '1.5', '')
    """
    if unit == "piece" and amount < _LEAST_PIECE:
        return ""
    return decimal(amount, 2) if unit == "piece" else pack(amount, unit)
