"""Which daily distance? The same choice of stops for many paces.

In: a function from pace to outcome (everything that does not depend on the pace is already in
it). Out: rows for a chart and a table, the best ones named.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["PaceResult", "SweepRow", "daily_distances_m", "sweep"]


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


def daily_distances_m(around_m: float, *, count: int = 40, length_m: float) -> tuple[float, ...]:
    """Daily distances to compare: from half to double the rider's own, own one included.

    Parameters
    ----------
    around_m
        The rider's daily distance, metres.
    count
        How many at the most.
    length_m
        Length of the route; a day longer than it is left out.

    Examples
    --------
    >>> [round(x / 1000) for x in daily_distances_m(200e3, count=5, length_m=900e3)]
    [100, 150, 200, 300, 400]
    """
    below = (count - 1) // 2
    above = count - 1 - below
    ratios = [0.5 + 0.5 * i / below for i in range(below)] if below else []
    ratios += [1.0]
    ratios += [1.0 + (i + 1) / above for i in range(above)]
    whole_km = {max(round(around_m * ratio / 1000.0), 5) for ratio in ratios}
    kept = {km * 1000.0 for km in whole_km if km * 1000.0 <= length_m * 1.05}
    return tuple(sorted(kept | {around_m}))


def sweep(
    daily_m: tuple[float, ...], dates: tuple[dt.date, ...], plan_for: PlanFor
) -> tuple[SweepRow, ...]:
    """Outcome of every daily distance on every start date, best ones named."""
    outcomes = [plan_for(distance, date) for date in dates for distance in daily_m]
    named: dict[int, list[str]] = {i: [] for i in range(len(outcomes))}

    def name(label: str, key: Callable[[PaceResult], tuple[float, ...]]) -> None:
        best = min(range(len(outcomes)), key=lambda i: (*key(outcomes[i]), i))
        named[best].append(label)

    if outcomes:
        name("least food on board", lambda o: (o.excess_meals, o.max_carry_meals, o.extra_min))
        name("least time at shops", lambda o: (o.excess_meals, o.extra_min, o.max_carry_meals))
        name("surest shops", lambda o: (o.excess_meals, o.doubtful_stops, o.shut_on_arrival))
    return tuple(SweepRow(o, tuple(named[i])) for i, o in enumerate(outcomes))
