"""Stretches between consecutive usable passes of a supply, start and end included.

In: chainages of the passes and a clock. Out: gaps in metres, riding time, wall time and meals,
and what makes each doubtful. The same machine serves every supply.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple, overload

import numpy as np

from resupply.common.quantity import MEALS_PER_DAY

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

    from resupply.places.place import RouteSpan
    from resupply.route.clock import RideClock
    from resupply.route.route import Break

__all__ = ["Gap", "Gaps", "find_gaps"]


class Gap(NamedTuple):
    """One stretch without the supply; a plan has thousands."""

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


class Gaps(Sequence[Gap]):
    """The gaps of one supply, in order; a row is made when it is asked for.

    Parameters
    ----------
    columns
        The fields of `Gap`, (k,) each, k > 0.
    """

    def __init__(self, columns: Sequence[NDArray[Any]]) -> None:
        self._columns = columns

    def __len__(self) -> int:
        return int(self._columns[0].size)

    @overload
    def __getitem__(self, at: int) -> Gap: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Gap, ...]: ...
    def __getitem__(self, at: int | slice) -> Gap | tuple[Gap, ...]:
        if isinstance(at, slice):
            return tuple(map(Gap._make, zip(*(c[at].tolist() for c in self._columns), strict=True)))
        return Gap._make(column[at].item() for column in self._columns)

    def __iter__(self) -> Iterator[Gap]:
        return iter(self[:])

    @cached_property
    def longest(self) -> Gap:
        """The gap of the greatest ridden length; of equals, to the metre, that of most meals."""
        start_m, end_m, _, _, meals, *_ = self._columns
        length_m = end_m - start_m
        return self[int(np.where(length_m > length_m.max() - 1.0, meals, -1).argmax())]

    def most(self, count: int) -> tuple[Gap, ...]:
        """So many of the longest, in order."""
        if count >= len(self):
            return self[:]
        length_m = self._columns[1] - self._columns[0]
        return tuple(self[int(at)] for at in np.sort(np.argsort(-length_m, kind="stable")[:count]))


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
) -> Gaps:
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
    from_m, to_m = knots_m[:-1], knots_m[1:]
    crosses, jump_m = np.zeros(from_m.size, dtype=bool), np.zeros(from_m.size)
    for span in unknown:
        crosses |= (span.start_m < to_m) & (span.end_m > from_m)
    for one in jumps:
        jump_m[(from_m <= one.chainage_m) & (one.chainage_m <= to_m)] += one.length_m
    shut = np.sort(np.asarray(shut_m, float))
    shut_before = np.searchsorted(shut, knots_m, side="left")
    ends = np.array([-1, *row, -1])
    columns = (
        from_m,
        to_m,
        np.diff(ride_s),
        np.diff(arrive_s),
        np.diff(meals),
        ends[:-1],
        ends[1:],
        crosses,
        np.diff(shut_before) > 0,
        jump_m,
    )
    return Gaps(columns)
