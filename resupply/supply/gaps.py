"""Stretches between consecutive usable passes of a supply, start and end included.

In: chainages of the passes and a clock. Out: gaps in metres, riding time, wall time and meals,
and what makes each doubtful. The same machine serves every supply.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import MEALS_PER_DAY

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike

    from resupply.places.place import RouteSpan
    from resupply.route.clock import RideClock
    from resupply.route.route import Break

__all__ = ["Gap", "find_gaps", "longest_gap"]


@dataclass(frozen=True, slots=True)
class Gap:
    """One stretch without the supply."""

    start_m: float
    end_m: float
    ride_s: float
    """Pure riding time."""
    wall_s: float
    """Time by the clock, nights and rests included."""
    meals: int
    """Meals that fall into it."""
    start_row: int
    """Row of the pass before it; -1 at the start of the route."""
    end_row: int
    """Row of the pass after it; -1 at the end of the route."""
    crosses_unknown: bool
    """Map data is missing on part of it: the gap may be shorter, nothing shows that it is."""
    has_shut: bool = False
    """Places with the supply lie on it that do not count, as their doors are shut."""
    jump_m: float = 0.0
    """Straight length of the line's jumps on it or at its ends; no part of its length."""

    @property
    def length_m(self) -> float:
        """Ridden length, metres."""
        return self.end_m - self.start_m

    @property
    def days(self) -> float:
        """Meals as days of food."""
        return self.meals / MEALS_PER_DAY


def find_gaps(
    chainage_m: ArrayLike,
    *,
    rows: Sequence[int] | None = None,
    clock: RideClock,
    length_m: float,
    unknown: Iterable[RouteSpan] = (),
    shut_m: ArrayLike = (),
    jumps: Iterable[Break] = (),
    start_m: float = 0.0,
) -> tuple[Gap, ...]:
    """All gaps, in order; one more than there are passes.

    Parameters
    ----------
    chainage_m
        (k,) metres, non-decreasing: where the usable passes are.
    rows
        (k,) their rows, kept in the gaps; 0, 1, … where not given.
    clock
        Gives times and meals, the chosen stops included.
    length_m
        Length of the route.
    unknown
        Stretches on which map data is missing.
    shut_m
        Chainages of passes that do not count because the door is shut, metres.
    jumps
        Where the line jumps. Which side of one a place lies on that has its very chainage is not
        told, so the gaps on both sides name it.
    start_m
        Where the trip starts, or goes on.
    """
    at_m = np.asarray(chainage_m, float)
    row = list(range(at_m.size)) if rows is None else [int(r) for r in rows]
    knots_m = np.concatenate([[start_m], at_m, [length_m]])
    arrive_s = clock.arrive_s(knots_m)
    ride_s = clock.legs[0].ride_time.at(knots_m)
    meals = clock.meals_before(knots_m)
    meals[0], meals[-1] = 0, clock.end_meals
    holes, leaps = tuple(unknown), tuple(jumps)
    shut = np.sort(np.asarray(shut_m, float))
    shut_before = np.searchsorted(shut, knots_m, side="left")
    ends = [-1, *row, -1]
    return tuple(
        Gap(
            start_m=float(knots_m[i]),
            end_m=float(knots_m[i + 1]),
            ride_s=float(ride_s[i + 1] - ride_s[i]),
            wall_s=float(arrive_s[i + 1] - arrive_s[i]),
            meals=int(meals[i + 1] - meals[i]),
            start_row=ends[i],
            end_row=ends[i + 1],
            crosses_unknown=any(s.start_m < knots_m[i + 1] and s.end_m > knots_m[i] for s in holes),
            has_shut=bool(shut_before[i + 1] > shut_before[i]),
            jump_m=sum(b.length_m for b in leaps if knots_m[i] <= b.chainage_m <= knots_m[i + 1]),
        )
        for i in range(knots_m.size - 1)
    )


def longest_gap(gaps: Sequence[Gap]) -> Gap:
    """Find the gap of the greatest ridden length; of equals, to the metre, that of most meals."""
    most_m = max(gap.length_m for gap in gaps)
    return max((g for g in gaps if g.length_m > most_m - 1.0), key=lambda gap: gap.meals)
