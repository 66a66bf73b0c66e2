"""Other plans of the same trip: each daily distance compared, and what would mend a shortfall.

In: the `Schedule` of the plan as it is. Out: rows of the comparison, and remedies found by really
planning again.
"""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.read import reach_m
from resupply.plan.prepare import join_passes
from resupply.plan.schedule import Schedule, make_schedule, start_date
from resupply.supply.daily_distance import PaceResult, SweepRow, daily_distances_m, sweep
from resupply.supply.food_stops import SupplyPlan, walk_steps
from resupply.supply.remedies import Change, Remedy, cheapest_remedies
from resupply.supply.stop_solver import STEP_MIN, solve
from resupply.trip.settings import make_trip

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from resupply.trip.settings import Trip

__all__ = ["daily_distances", "remedies_of"]


def daily_distances(schedule: Schedule, step: Callable[[], None]) -> tuple[SweepRow, ...]:
    """Compare daily distances, on seven start days if the trip asks for it.

    Parameters
    ----------
    step
        Called before each plan; what it raises ends the work.
    """
    covered, trip = schedule.covered, schedule.trip
    first = start_date(trip)
    # A trip under way has started on its day.
    days = range(7) if trip.show.sweep_weekdays and trip.now.at_km is None else range(1)
    dates = tuple(first + dt.timedelta(days=n) for n in days)
    distances_m = daily_distances_m(trip.pace.daily_km * 1000.0, length_m=covered.route.length_m)

    def outcome(daily_m: float, date: dt.date) -> PaceResult:
        step()
        candidates = schedule.every_shop
        return _outcome(
            make_schedule(covered, trip, daily_m=daily_m, date=date, candidates=candidates), daily_m
        )

    return sweep(distances_m, dates, outcome)


def remedies_of(
    schedule: Schedule, supply: SupplyPlan, step: Callable[[], None]
) -> tuple[Remedy, ...]:
    """Find what would help where the carry limit cannot be kept; nothing where it is.

    Parameters
    ----------
    step
        Called before each plan; what it raises ends the work.
    """
    covered, trip = schedule.covered, schedule.trip
    if not supply.shortfalls:
        return ()

    def replan(keys: Mapping[str, object]) -> tuple[int, int]:
        step()
        other = make_trip(trip.model_dump(), overrides=keys)
        world = covered
        if other.map != trip.map:
            passes, masks = join_passes(covered.route, covered.places, other)
            world = covered.with_passes(passes, masks)
        cost = solve(make_schedule(world, other).problem()).cost
        return cost.excess, cost.minutes

    return cheapest_remedies(
        _changes(trip),
        excess_meals=supply.cost.excess,
        minutes=supply.cost.minutes,
        replan=replan,
    )


def _outcome(schedule: Schedule, daily_m: float) -> PaceResult:
    legs, clock, candidates = schedule.legs, schedule.clock, schedule.candidates
    problem = schedule.problem()
    found = solve(problem)
    chosen = list(found.chosen)
    counts = [0, *problem.meals[chosen].tolist()]
    counts.append(clock.end_meals)
    walked = walk_steps(problem, chosen)
    # Every shop at the time this plan comes by, its earlier stops of the day included.
    stop_s = problem.stop_steps[chosen] * STEP_MIN * 60.0
    timed = clock.with_stops(candidates.chainage_m[chosen].tolist(), stop_s.tolist())
    lost = np.rint(timed.delay_s(candidates.chainage_m) / (STEP_MIN * 60.0)).astype(np.int64)
    passed = problem.risk[np.arange(len(lost)), np.minimum(lost, problem.steps - 1)]
    return PaceResult(
        daily_m=daily_m,
        start_date=legs[0].date,
        days=(legs[-1].date - legs[0].date).days + 1,
        stops=len(chosen),
        max_carry_meals=max(b - a for a, b in pairwise(counts)),
        excess_meals=found.cost.excess,
        extra_min=int(problem.stop_steps[chosen].sum()) * STEP_MIN,
        shut_on_arrival=int((passed == OpenState.SHUT).sum()),
        doubtful_stops=sum(problem.risk[j, steps] not in BY_HOURS for j, steps in walked),
    )


def _changes(trip: Trip) -> tuple[Change, ...]:
    pace, first = trip.pace, start_date(trip)
    base = dt.datetime.combine(first, pace.depart)
    changes = []
    for hours in (-2, -1, 1, 2):
        moved = base + dt.timedelta(hours=hours)
        if moved.date() == first:
            changes.append(Change((("pace.depart", moved.time()),), abs(hours)))
    for ratio in (1.1, 1.2, 0.9, 0.8):
        km = min(max(round(pace.daily_km * ratio), 5), 2000)
        changes.append(Change((("pace.daily_km", float(km)),), 3 if ratio > 1 else 2))
    for days in range(1, 7) if trip.now.at_km is None else ():
        other = first + dt.timedelta(days=days)
        changes.append(Change((("start.date", other),), 4))
    own, read = trip.map.corridor_km, reach_m(trip) / 1000.0
    # Nothing farther off was read, so nothing can be said of it.
    wide = min(own * 2.0, read)
    if wide > own:
        changes.append(Change((("map.corridor_km", wide),), 2))
    return tuple(changes)
