"""Amounts with units: turn what a dish says into what a shop sells.

In: a number and a unit as a rider writes it. Out: the number in grams, millilitres or pieces.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from resupply.common.errors import TripFileError

if TYPE_CHECKING:
    import pint

__all__ = ["convert", "say_amount"]

# Kitchen measures: 15 ml and 5 ml spoons (metric), US cup and ounces from NIST SP 811, app. B.8
# (from memory). Kept short: the library's full table takes a hundred times longer to load.
_UNITS = (
    "gram = [mass] = g",
    "kilogram = 1000 * gram = kg",
    "ounce = 28.349523125 * gram = oz",
    "pound = 453.59237 * gram = lb",
    "millilitre = [volume] = ml",
    "litre = 1000 * millilitre = l = L",
    "teaspoon = 5 * millilitre = tsp",
    "tablespoon = 15 * millilitre = tbsp",
    "cup = 236.5882365 * millilitre",
    "floz = 29.5735295625 * millilitre = fl_oz",
    "piece = [piece] = pieces",
)


# What a dish file may write; anything else would be read as an expression by the library.
_NAMES = ("g", "kg", "oz", "lb", "ml", "l", "L", "tsp", "tbsp", "cup", "fl_oz", "piece", "pieces")


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
    if unit not in _NAMES:
        raise TripFileError(
            f"unit = {unit[:40]!r} is not known",
            where=where,
            mend="Use g, kg, oz, lb, ml, l, tsp, tbsp, cup, fl_oz or piece",
        )
    import pint

    try:
        return float(_registry().Quantity(amount, unit).to(to).magnitude)
    except pint.DimensionalityError as error:
        raise TripFileError(
            f"unit = {unit[:40]!r} cannot be turned into {to}, in which the ingredient is sold",
            where=where,
            mend="Give the amount in that kind of unit",
        ) from error


def say_amount(amount: float, unit: str) -> str:
    """Say an amount as on a shopping list.

    >>> say_amount(1250, "g"), say_amount(30, "ml"), say_amount(1, "piece")
    ('1.25 kg', '30 ml', '1')
    """
    if unit == "piece":
        return _short(amount)
    big = {"g": "kg", "ml": "L"}[unit]
    return f"{_short(amount / 1000)} {big}" if amount >= 999.5 else f"{_short(amount)} {unit}"


def _short(number: float) -> str:
    return f"{round(number, 2 if number < 10 else 1 if number < 100 else 0):g}"


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    for line in _UNITS:
        registry.define(line)
    return registry
