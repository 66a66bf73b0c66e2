"""Which daily distance? The same choice of stops for many paces.

In: a function from pace to outcome (everything that does not depend on the pace is already in
it). Out: rows for a chart and a table, the best ones named.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

__all__ = ["PaceResult", "SweepRow", "daily_distances_m", "sweep", "tested_distances_m"]

_COUNT: Final = 40
"""Bars that a phone's width can hold (our choice)."""
_MOST_DAYS: Final = 25
"""A longer ride is not compared (our choice)."""
_SHORTEST_M: Final = 50_000.0
"""A day on slow tracks (ours)."""
_LONGEST_M: Final = 800_000.0
"""A day on main roads from dawn to dusk (ours)."""
_COARSE_M: Final = 100_000.0
"""From here on round distances are five kilometres apart (our choice)."""


@dataclass(frozen=True, slots=True)
class PaceResult:
    """What one pace leads to."""

    daily_m: float
    start_date: dt.date
    days: int
    """Days on the road and in camp."""
    stops: int
    max_carry_meals: int
    excess_meals: int
    extra_min: int
    """Detours and time in shops, without weights."""
    shut_on_arrival: int
    """Food shops in the corridor that are shut when passed."""
    doubtful_stops: int
    """Chosen stops that do not rest on stated hours."""


@dataclass(frozen=True, slots=True)
class SweepRow:
    """One outcome and what it is best at."""

    outcome: PaceResult
    best: tuple[str, ...]


PlanFor = Callable[[float, dt.date], PaceResult]


def daily_distances_m(length_m: float, *, own_m: float) -> tuple[float, ...]:
    """Daily distances to compare, the rider's own with them.

    They go by the route alone, so that neither they nor the best of them move with the setting.

    Parameters
    ----------
    length_m
        Length of the route.
    own_m
        The rider's daily distance, metres.

    Examples
    --------
    >>> [round(x / 1000) for x in daily_distances_m(120e3, own_m=200e3)][:4]
    [50, 51, 52, 53]
    """
    return tuple(sorted({*tested_distances_m(length_m), own_m}))


def tested_distances_m(length_m: float) -> tuple[float, ...]:
    """Daily distances that are compared on a route, whatever the rider's own.

    Equal ratios apart, from `_MOST_DAYS` days, or `_SHORTEST_M`, to one day or `_LONGEST_M`.
    """
    shortest_m = max(length_m / _MOST_DAYS, _SHORTEST_M)
    longest_m = min(length_m, _LONGEST_M)
    if longest_m < shortest_m:
        return ()
    distances_m = np.geomspace(shortest_m, longest_m, _COUNT)
    round_to_m = np.where(distances_m < _COARSE_M, 1_000.0, 5_000.0)
    return tuple(np.unique(np.rint(distances_m / round_to_m) * round_to_m).tolist())


def sweep(
    daily_m: tuple[float, ...],
    dates: tuple[dt.date, ...],
    plan_for: PlanFor,
    tested_m: tuple[float, ...],
) -> tuple[SweepRow, ...]:
    """Outcome of every daily distance on every start date, best ones named.

    Parameters
    ----------
    tested_m
        Distances of which the best are named: those that do not move with the rider's own.
    """
    outcomes = [plan_for(distance, date) for date in dates for distance in daily_m]
    named: dict[int, list[str]] = {i: [] for i in range(len(outcomes))}
    tested = [i for i, one in enumerate(outcomes) if not tested_m or one.daily_m in tested_m]

    def name(label: str, key: Callable[[PaceResult], tuple[float, ...]]) -> None:
        best = min(tested, key=lambda i: (*key(outcomes[i]), i))
        named[best].append(label)

    if tested:
        name("least food on board", lambda o: (o.excess_meals, o.max_carry_meals, o.extra_min))
        name("least time at shops", lambda o: (o.excess_meals, o.extra_min, o.max_carry_meals))
        name("surest shops", lambda o: (o.excess_meals, o.doubtful_stops, o.shut_on_arrival))
    return tuple(SweepRow(o, tuple(named[i])) for i, o in enumerate(outcomes))
