"""Where the carry limit cannot be kept: what would help, found by really planning again.

In: a function that re-plans with changed settings. Out: the changes that lower the excess,
cheapest first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

__all__ = ["Change", "Remedy", "cheapest_remedies"]


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the trip's settings, as dotted keys."""

    keys: tuple[tuple[str, object], ...]
    hardship: int
    """Order among equals: how much it asks of the rider, small first."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change and what it leads to."""

    change: Change
    excess_meals: int
    """Left over the limit."""
    minutes: int
    """Cost in minutes and weights, compared with the plan as it is."""


def cheapest_remedies(
    changes: tuple[Change, ...],
    *,
    excess_meals: int,
    minutes: int,
    replan: Callable[[Mapping[str, object]], tuple[int, int] | None],
    most: int = 4,
) -> tuple[Remedy, ...]:
    """Find the changes that lower the excess: least left over, then least asked, then least time.

    Parameters
    ----------
    excess_meals, minutes
        Of the plan as it is.
    replan
        Changed keys to (excess, minutes), or None if it cannot be planned.
    most
        How many to return.
    """
    found: list[Remedy] = []
    for change in changes:
        result = replan(dict(change.keys))
        if result is not None and result[0] < excess_meals:
            found.append(Remedy(change, result[0], result[1] - minutes))
    found.sort(key=lambda r: (r.excess_meals, r.change.hardship, r.minutes))
    return tuple(found[:most])
