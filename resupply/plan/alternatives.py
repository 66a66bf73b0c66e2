"""Other plans of the same trip: each daily distance compared, and what would mend a shortfall.

In: the `Schedule` of the plan as it is. Out: rows of the comparison, and remedies found by really
planning again.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.read import reach_m
from resupply.plan.prepare import join_passes
from resupply.plan.schedule import Schedule, make_schedule, start_date
from resupply.supply.daily_distance import (
    PaceResult,
    SweepRow,
    daily_distances_m,
    sweep,
    tested_distances_m,
)
from resupply.supply.remedies import Change, Remedy, cheapest_remedies
from resupply.supply.visit_solver import STEP_MIN, solve
from resupply.supply.visit_walk import figures_of, walk, with_visits
from resupply.trip.choice import STYLES, Style
from resupply.trip.read_file import make_trip

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from resupply.supply.food_stops import SupplyPlan
    from resupply.supply.visit_options import VisitOptions
    from resupply.supply.visit_walk import Figures
    from resupply.trip.settings import Trip

__all__ = ["daily_distances", "remedies_of", "styles_of"]


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
    length_m = covered.route.length_m
    distances_m = daily_distances_m(length_m, own_m=trip.pace.daily_km * 1000.0)

    def outcome(daily_m: float, date: dt.date) -> PaceResult:
        step()
        candidates = schedule.every_shop
        return _outcome(
            make_schedule(covered, trip, daily_m=daily_m, date=date, candidates=candidates), daily_m
        )

    return sweep(distances_m, dates, outcome, tested_distances_m(length_m))


def styles_of(
    schedule: Schedule, options: VisitOptions, supply: SupplyPlan
) -> dict[Style, Figures]:
    """Tell what each style comes to, the trip's own as planned: they share all but one factor."""

    def figures(name: Style) -> Figures:
        if name == schedule.trip.food.style:
            chosen: Sequence[int] = [stop.visit for stop in supply.stops]
        else:
            chosen = solve(replace(options.problem, style=STYLES[name])).chosen
        return figures_of(
            options,
            schedule.candidates,
            schedule.clock,
            chosen,
            fresh_min=schedule.asked.weights.fresh_min,
        )

    return {name: figures(name) for name in STYLES}


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
        cost = solve(make_schedule(world, other).options().problem).cost
        return cost.excess, round(cost.milli_min / 1000.0)

    return cheapest_remedies(
        _changes(trip),
        excess_meals=supply.cost.excess,
        minutes=round(supply.cost.milli_min / 1000.0),
        replan=replan,
    )


def _outcome(schedule: Schedule, daily_m: float) -> PaceResult:
    legs, clock, candidates = schedule.legs, schedule.clock, schedule.candidates
    options = schedule.options()
    chosen = solve(options.problem).chosen
    made = walk(options, candidates, clock, chosen)
    figures = figures_of(
        options, candidates, clock, chosen, fresh_min=schedule.asked.weights.fresh_min
    )
    # Every shop at the time this plan comes by, its earlier stops of the day included.
    timed = with_visits(clock, options, candidates, made)
    lost = np.rint(timed.delay_s(candidates.chainage_m) / (STEP_MIN * 60.0)).astype(np.int64)
    passed = options.state[options.on_road(), np.minimum(lost, options.problem.steps - 1)]
    passed[[one.candidate for one in made]] = [one.state for one in made]
    return PaceResult(
        daily_m=daily_m,
        start_date=legs[0].date,
        days=(legs[-1].date - legs[0].date).days + 1,
        stops=figures.visits,
        max_carry_meals=figures.most_meals,
        excess_meals=figures.excess_meals,
        extra_min=figures.minutes,
        shut_on_arrival=int((passed == OpenState.SHUT).sum()),
        doubtful_stops=sum(one.state not in BY_HOURS for one in made),
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
    if trip.shops.none_on_days:
        changes.append(Change((("shops.none_on_days", ()),), 1))
    for days in range(1, 7) if trip.now.at_km is None else ():
        other = first + dt.timedelta(days=days)
        changes.append(Change((("start.date", other),), 4))
    own, read = trip.map.corridor_km, reach_m(trip) / 1000.0
    # Nothing farther off was read, so nothing can be said of it.
    wide = min(own * 2.0, read)
    if wide > own:
        changes.append(Change((("map.corridor_km", wide),), 2))
    return tuple(changes)
