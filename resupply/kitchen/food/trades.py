"""What a shop of one trade sells: a bakery bread, a butcher meat.

In: the kind of a shop, as the map has it, and a food. Out: whether it is sold there. The table is
`data/trades.toml`; it is common practice, without a source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final, Literal

from resupply.kitchen.food.tables import check_table, read_data

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.kitchen.food.dishes import Ingredient

__all__ = ["STATION", "Trade", "sold_by_trade"]

STATION: Final = "amenity=fuel"
"""The shop of a filling station: every food says itself whether it is sold there."""


@dataclass(frozen=True, slots=True)
class Trade:
    """One row of the table: ids of foods, or aisles."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    usually: frozenset[str]
    maybe: frozenset[str]


@cache
def _trades() -> Mapping[str, Trade]:
    return check_table(dict[str, Trade], read_data("trades.toml"), where="trades.toml")


def sold_by_trade(part: Ingredient, trade: str) -> Literal["usually", "maybe", "rarely"] | None:
    """Tell whether a trade sells a food; None for a shop of no trade of its own.

    A food that is named counts before its aisle.

    Examples
    --------
    >>> from resupply.kitchen.food.dishes import load_cookbook
    >>> from resupply.kitchen.food.storage_classes import load_storage
    >>> foods = load_cookbook(load_storage()).ingredients
    >>> sold_by_trade(foods["bread"], "shop=bakery"), sold_by_trade(foods["rice"], "shop=bakery")
    ('usually', 'rarely')
    """
    if trade == STATION:
        return part.station
    row = _trades().get(trade)
    if row is None:
        return None
    for name in (part.id, part.aisle):
        if name in row.usually:
            return "usually"
        if name in row.maybe:
            return "maybe"
    return "rarely"
