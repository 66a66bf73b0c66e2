"""Round a need up to packs as sold: least left over, then fewest packs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["cover"]

# Above this many steps the bulk is taken in largest packs; below, the answer is exact.
_EXACT_STEPS = 50_000


def cover(need: float, sizes: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """Choose packs.

    Parameters
    ----------
    need
        Amount wanted, in the unit of `sizes`.
    sizes
        Pack sizes, whole numbers > 0, at least one.

    Returns
    -------
    tuple
        (size, count) with count > 0, largest size first; empty for no need.

    Examples
    --------
    >>> cover(900, [400, 600]), cover(650, [400, 600]), cover(0, [400])
    (((600, 1), (400, 1)), ((400, 2),), ())
    """
    step = math.gcd(*sizes)
    units = sorted({size // step for size in sizes})
    # A hair less, so that 0.1 + 0.2 pieces do not buy one more.
    wanted = math.ceil(need / step - 1e-9)
    counts = dict.fromkeys(units, 0)
    if wanted > _EXACT_STEPS:
        counts[units[-1]] = (wanted - _EXACT_STEPS) // units[-1]
        wanted -= counts[units[-1]] * units[-1]
    last = _fewest(wanted, units)
    total = next((t for t in range(max(wanted, 0), len(last)) if last[t]), 0)
    while total > 0:
        counts[last[total]] += 1
        total -= last[total]
    return tuple((size * step, counts[size]) for size in reversed(units) if counts[size])


def _fewest(wanted: int, units: Sequence[int]) -> list[int]:
    """For every exact total the pack to take off last, 0 where it cannot be made."""
    # Taking one smallest pack too many is never needed.
    top = max(wanted, 0) + units[0]
    packs = [0] + [math.inf] * (top - 1)
    last = [0] * top
    for total in range(1, top):
        for unit in units:
            if unit <= total and packs[total - unit] + 1 <= packs[total]:
                packs[total] = packs[total - unit] + 1
                last[total] = unit if math.isfinite(packs[total]) else 0
    return last
