"""From a prepared trip to its whole plan: the picture of the program in one file.

In: a `Prepared` and a `Trip`. Out: a `TripPlan`. Pure: no file is read and no clock looked at.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from resupply.common.errors import TripFileError
from resupply.places.place import Supply
from resupply.places.read import reach_m
from resupply.places.tags import SPECIALISTS
from resupply.plan.prepare import USUAL_KMH, Prepared, cover_span, join_passes, zone_at
from resupply.route.clock import MEALS_PER_DAY, MealTimes, RideClock, make_clock
from resupply.route.legs import Leg, RideTime, leg_ends_m, make_legs
from resupply.supply.daily_distance import PaceResult, SweepRow, daily_distances_m, sweep
from resupply.supply.food_stops import Candidates, SupplyPlan, make_problem, plan_supply, walk_steps
from resupply.supply.fuel_stops import fuel_of
from resupply.supply.gaps import Gap, find_gaps, longest_gap
from resupply.supply.ice_stops import IceStop, choose_ice
from resupply.supply.ignoring_hours import NaivePlan, naive_plan
from resupply.supply.nights import nights_of
from resupply.supply.open_risk import judge_of
from resupply.supply.remedies import Change, Remedy, cheapest_remedies
from resupply.supply.stop_solver import STEP_MIN, Risk, Weights, solve
from resupply.supply.water import water_mask
from resupply.trip.settings import make_trip

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from resupply.supply.camps import NightEnd
    from resupply.supply.fuel_range import FuelPlan
    from resupply.trip.settings import Trip

__all__ = ["TripPlan", "plan_trip", "span_of", "start_date"]


@dataclass(frozen=True, slots=True, eq=False)
class TripPlan:
    """Every stage's result; m passes, arrays at the times of the chosen plan."""

    trip: Trip
    prepared: Prepared
    legs: tuple[Leg, ...]
    nights: tuple[NightEnd, ...]
    """Of every day but the last; empty if days end by distance alone."""
    clock: RideClock
    """The chosen stops included."""
    supply: SupplyPlan
    detour_s: NDArray[np.float64]
    detour_m: NDArray[np.float64]
    arrive_s: NDArray[np.float64]
    half_width_s: NDArray[np.float64]
    risk: NDArray[np.int8]
    gaps: Mapping[Supply, tuple[Gap, ...]]
    """For groceries both sizes of shop together; passes known to be shut are no passes."""
    sure_gap: Gap
    """The longest one for groceries if only passes open by stated hours are passes."""
    ice: tuple[IceStop, ...]
    ice_gaps: tuple[Gap, ...]
    fuel: FuelPlan | None
    """None if the trip states no range."""
    naive: NaivePlan
    sweep: tuple[SweepRow, ...]
    remedies: tuple[Remedy, ...]


def start_date(trip: Trip) -> dt.date:
    """First riding day of the trip.

    Raises
    ------
    TripFileError
        The trip has none; the edge that reads it must set one.
    """
    if trip.start.date is None:
        raise TripFileError(
            "start.date is missing", mend="Give the first riding day, e.g. date = 2027-07-09"
        )
    return trip.start.date


def span_of(prepared: Prepared, trip: Trip) -> tuple[dt.date, dt.date]:
    """Dates that any plan of this trip may touch, the sweep's slowest pace included."""
    slowest_m = trip.pace.daily_km * 500.0
    days = math.ceil(prepared.route.length_m / slowest_m) + sum(trip.pace.rest_days.values())
    planned = start_date(trip)
    # A trip under way may be early or late by any number of days.
    now = trip.now.time.date() if trip.now.time is not None else planned
    last = max(planned, now) + dt.timedelta(days=days + len(trip.pace.own_km) + 8)
    return min(planned, now), last


def plan_trip(
    prepared: Prepared,
    trip: Trip,
    *,
    usual_path: Path | None = None,
    step: Callable[[], None] = lambda: None,
) -> TripPlan:
    """Plan the whole trip.

    Parameters
    ----------
    step
        Called before each of the many plans of the comparison; what it raises ends the work.

    Raises
    ------
    TripFileError
        No start date, or a time zone that does not exist.
    """
    if prepared.zone:
        _zone_info(prepared.zone)
    covered = cover_span(prepared, *span_of(prepared, trip), usual_path=usual_path)
    route, passes = covered.route, covered.passes
    legs, nights = _lay_legs(covered, trip, trip.pace.daily_km * 1000.0, start_date(trip))
    clock = _clock(legs, trip)
    judge = judge_of(covered)
    weights = _weights(trip)
    here_m = _here_m(trip, route.length_m)
    detour_m, (detour_s, out_s) = covered.detours.extra_m, _detour_s(covered, trip)
    candidates = _candidates(covered, trip)
    meal_out_rows = np.flatnonzero(covered.supply[Supply.MEAL_OUT] & covered.reachable)
    supply = plan_supply(
        candidates,
        clock,
        judge,
        length_m=route.length_m,
        latest_camp=trip.pace.latest_camp,
        weights=weights,
        meal_out=(meal_out_rows, passes.chainage_m[meal_out_rows]),
        start_m=here_m,
        on_board_meals=_on_board(trip),
    )
    timed = supply.clock
    # At the door: the way there from where the route is left is ridden first.
    arrive_s = timed.arrive_s(covered.leave_m) + out_s
    half_width_s = timed.half_width_s(covered.leave_m, arrive_s)
    rows = np.arange(len(passes))
    risk = judge(rows, arrive_s, half_width_s, np.full(len(passes), 900.0))
    unknown = covered.places.coverage.unknown

    def gaps_of(mask: NDArray[np.bool_], *, judged: bool) -> tuple[Gap, ...]:
        ahead = mask & covered.reachable & (passes.chainage_m >= here_m)
        usable = np.flatnonzero(ahead & (risk != Risk.SHUT) if judged else ahead)
        return find_gaps(
            passes.chainage_m[usable],
            rows=usable.tolist(),
            clock=timed,
            length_m=route.length_m,
            unknown=unknown,
            start_m=here_m,
        )

    gaps = {
        Supply.GROCERIES: gaps_of(covered.food, judged=True),
        Supply.ICE: gaps_of(covered.supply[Supply.ICE], judged=True),
        Supply.WATER: gaps_of(
            water_mask(covered, untreated=trip.food.untreated_water), judged=False
        ),
        Supply.FUEL: gaps_of(covered.supply[Supply.FUEL], judged=True),
        Supply.CAMP: gaps_of(covered.supply[Supply.CAMP], judged=False),
        Supply.MEAL_OUT: gaps_of(covered.supply[Supply.MEAL_OUT], judged=True),
    }
    ice = choose_ice(covered, timed, supply, risk)
    ice_rows = [stop.row for stop in ice]
    return TripPlan(
        trip=trip,
        prepared=covered,
        legs=legs,
        nights=nights,
        clock=timed,
        supply=supply,
        detour_s=detour_s,
        detour_m=detour_m,
        arrive_s=arrive_s,
        half_width_s=half_width_s,
        risk=risk,
        gaps=gaps,
        sure_gap=longest_gap(gaps_of(covered.food & (risk == Risk.OPEN), judged=False)),
        ice=ice,
        ice_gaps=find_gaps(
            passes.chainage_m[ice_rows],
            rows=ice_rows,
            clock=timed,
            length_m=route.length_m,
            unknown=unknown,
            start_m=here_m,
        ),
        fuel=fuel_of(covered, trip, supply.stops, risk, start_m=here_m),
        naive=naive_plan(supply.problem, candidates, clock),
        sweep=_sweep(covered, trip, candidates, weights, step) if trip.show.sweep else (),
        remedies=_remedies(covered, trip, supply, step) if trip.show.remedies else (),
    )


def _zone(covered: Prepared, chainage_m: float) -> dt.tzinfo:
    name = covered.zone or zone_at(*covered.route.position_at(chainage_m)) or "UTC"
    return _zone_info(name)


@cache
def _zone_info(name: str) -> dt.tzinfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise TripFileError(
            f"region.time_zone = {name!r}: there is no such time zone",
            mend="Use a name like Europe/Lisbon",
        ) from error


def _lay_legs(
    covered: Prepared, trip: Trip, daily_m: float, date: dt.date
) -> tuple[tuple[Leg, ...], tuple[NightEnd, ...]]:
    """Legs, and what is known of their nights (empty if days end by distance alone)."""
    pace, length_m = trip.pace, covered.route.length_m
    ride_time = _ride_time(covered, trip)
    own_m = {day: km * 1000.0 for day, km in pace.own_km.items()}

    def lay(settled_m: Mapping[int, float]) -> tuple[float, ...]:
        # What the rider has set by hand wins.
        settled_m = {**settled_m, **own_m}
        return leg_ends_m(length_m, daily_m, even=pace.even_days, overrides_m=settled_m)

    ends_m = lay({})
    choose = partial(
        nights_of,
        covered,
        trip,
        lay,
        ride_time=ride_time,
        zone_at=lambda at_m: _zone(covered, at_m),
    )
    nights = choose(first_date=date)
    if nights:
        ends_m = (*(night.end_m for night in nights), length_m)
    now, start_m, first_number, first_depart = trip.now, 0.0, 1, pace.depart
    began_m: float | None = None
    if now.at_km is not None and now.time is not None:
        # The day that is being ridden ends where it would have; a camp just reached is behind.
        start_m = _here_m(trip, length_m)
        first_number = 1 + sum(end_m <= start_m + _ARRIVED_M for end_m in ends_m[:-1])
        began_m = ends_m[first_number - 2] if first_number > 1 else 0.0
        in_camp = first_number > 1 and began_m >= start_m - _ARRIVED_M
        date, first_depart = _leaving(now.time, trip, in_camp=in_camp)
        ends_m, before = ends_m[first_number - 1 :], nights[: first_number - 1]
        nights = nights[first_number - 1 :]
        # The nights ahead again, by the dates and the time of day as they are now.
        later = choose(first_date=date, start_m=start_m, first_depart=first_depart, before=before)
        if later and later[0].end_m > start_m + _ARRIVED_M:
            nights, ends_m = later, (*(night.end_m for night in later), length_m)
    legs = make_legs(
        ends_m,
        start_m=start_m,
        first_depart=first_depart,
        first_number=first_number,
        start_date=date,
        pace=pace.pace(),
        ride_time=ride_time,
        zone_at=lambda at_m: _zone(covered, at_m),
        rest_days_after=pace.rest_days,
    )
    return (replace(legs[0], began_m=began_m), *legs[1:]), nights


_ARRIVED_M = 1000.0


def _leaving(now: dt.datetime, trip: Trip, *, in_camp: bool) -> tuple[dt.date, dt.time]:
    """When a rider under way rides on: at once, or from camp at the usual time.

    In camp after lunch the day is over.
    """
    usual = trip.pace.depart
    if in_camp and now.time() < usual:
        return now.date(), usual
    if in_camp and now.time() > trip.food.lunch:
        return now.date() + dt.timedelta(days=1), usual
    return now.date(), now.time()


def _here_m(trip: Trip, length_m: float) -> float:
    """Chainage at which the trip goes on; 0 for one that has not begun."""
    if trip.now.at_km is None:
        return 0.0
    here_m = trip.now.at_km * 1000.0
    if here_m >= length_m - _ARRIVED_M:
        raise TripFileError(
            f"now.at_km = {trip.now.at_km:g} is at or past the end of the route "
            f"({length_m / 1000.0:.0f} km)",
            mend="Give the kilometre along the route at which you are",
        )
    return here_m


def _ride_time(covered: Prepared, trip: Trip) -> RideTime:
    """Riding time by the roads where known; the rider's own average speed holds over the route."""
    length_m, own_kmh = covered.route.length_m, trip.pace.speed_kmh
    if covered.roads is None:
        return RideTime.constant(length_m, own_kmh or USUAL_KMH)
    by_road = covered.roads.matched.ride_time
    return by_road if own_kmh is None else by_road.at_average(own_kmh)


def _on_board(trip: Trip) -> int | None:
    return trip.now.food_meals if trip.now.at_km is not None else None


def _clock(legs: tuple[Leg, ...], trip: Trip) -> RideClock:
    food, now = trip.food, trip.now.time
    times = MealTimes(food.breakfast, food.lunch, food.dinner)
    since = now.replace(tzinfo=legs[0].depart.tzinfo) if now is not None else None
    return make_clock(legs, trip.pace.pace(), times, since=since)


def _weights(trip: Trip) -> Weights:
    food = trip.food
    return Weights(
        limit_meals=math.floor(food.carry_limit_days * MEALS_PER_DAY + 1e-9),
        habit_meals=math.floor(food.carry_habit_days * MEALS_PER_DAY + 1e-9),
        tight_min=food.tight_weight_min,
        usual_min=food.usual_weight_min,
        unknown_min=food.unknown_weight_min,
        habit_min=food.habit_weight_min,
    )


def _detour_s(covered: Prepared, trip: Trip) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Seconds more, and seconds to the door, at the rider's own average speed if stated."""
    factor = 1.0
    if trip.pace.speed_kmh is not None:
        usual = covered.roads.matched.ride_time.average_kmh if covered.roads else USUAL_KMH
        factor = usual / trip.pace.speed_kmh
    return covered.detours.extra_s * factor, covered.detours.out_s * factor


def _candidates(covered: Prepared, trip: Trip) -> Candidates:
    detour_s, out_s = _detour_s(covered, trip)
    here_m = _here_m(trip, covered.route.length_m)
    leave_m = covered.leave_m
    rows = np.flatnonzero(covered.food & covered.reachable & (leave_m >= here_m))
    rows = rows[np.argsort(leave_m[rows], kind="stable")]
    full = covered.supply[Supply.GROCERIES][rows]
    pins = set(trip.shops.pinned)
    ids = [covered.places.places[ix].id for ix in covered.passes.place_ix[rows]]
    food = trip.food
    special = np.array(
        [covered.places.places[ix].kind in SPECIALISTS for ix in covered.passes.place_ix[rows]],
        dtype=bool,
    )
    small_min = np.where(special, food.special_weight_min, food.small_weight_min)
    weight_min = np.where(full, 0, small_min)
    return Candidates(
        row=rows,
        place_ix=covered.passes.place_ix[rows],
        chainage_m=leave_m[rows],
        full=full,
        detour_s=detour_s[rows],
        out_s=out_s[rows],
        stop_min=np.where(full, food.full_stop_min, food.small_stop_min).astype(np.int64),
        weight_min=weight_min.astype(np.int64),
        pinned=_first_of_each(ids, pins),
    )


def _first_of_each(ids: list[str], pins: set[str]) -> NDArray[np.bool_]:
    """Pin a place at its first pass only; the rider shops there once."""
    seen: set[str] = set()
    pinned = np.zeros(len(ids), dtype=bool)
    for i, place_id in enumerate(ids):
        if place_id in pins and place_id not in seen:
            seen.add(place_id)
            pinned[i] = True
    return pinned


def _outcome(
    covered: Prepared,
    trip: Trip,
    candidates: Candidates,
    weights: Weights,
    daily_m: float,
    date: dt.date,
) -> PaceResult:
    legs, _ = _lay_legs(covered, trip, daily_m, date)
    clock = _clock(legs, trip)
    problem = make_problem(
        candidates,
        clock,
        judge_of(covered),
        latest_camp=trip.pace.latest_camp,
        weights=weights,
        on_board_meals=_on_board(trip),
    )
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
        shut_on_arrival=int((passed == Risk.SHUT).sum()),
        doubtful_stops=sum(int(problem.risk[j, steps]) != Risk.OPEN for j, steps in walked),
    )


def _sweep(
    covered: Prepared,
    trip: Trip,
    candidates: Candidates,
    weights: Weights,
    step: Callable[[], None],
) -> tuple[SweepRow, ...]:
    first = start_date(trip)
    # A trip under way has started on its day.
    days = range(7) if trip.show.sweep_weekdays and trip.now.at_km is None else range(1)
    dates = tuple(first + dt.timedelta(days=n) for n in days)
    distances_m = daily_distances_m(trip.pace.daily_km * 1000.0, length_m=covered.route.length_m)

    def outcome(daily_m: float, date: dt.date) -> PaceResult:
        step()
        return _outcome(covered, trip, candidates, weights, daily_m, date)

    return sweep(distances_m, dates, outcome)


def _remedies(
    covered: Prepared, trip: Trip, supply: SupplyPlan, step: Callable[[], None]
) -> tuple[Remedy, ...]:
    if not supply.shortfalls:
        return ()
    changes = _changes(trip, by_road=covered.roads is not None)

    def replan(keys: Mapping[str, object]) -> tuple[int, int]:
        step()
        other = make_trip(trip.model_dump(), overrides=keys)
        world = covered
        if other.map != trip.map:
            passes, masks = join_passes(covered.route, covered.places, other)
            world = covered.with_passes(passes, masks)
        legs, _ = _lay_legs(world, other, other.pace.daily_km * 1000.0, start_date(other))
        candidates = _candidates(world, other)
        problem = make_problem(
            candidates,
            _clock(legs, other),
            judge_of(world),
            latest_camp=other.pace.latest_camp,
            weights=_weights(other),
            on_board_meals=_on_board(other),
        )
        cost = solve(problem).cost
        return cost.excess, cost.minutes

    return cheapest_remedies(
        changes,
        excess_meals=supply.cost.excess,
        minutes=supply.cost.minutes,
        replan=replan,
    )


def _changes(trip: Trip, *, by_road: bool) -> tuple[Change, ...]:
    pace, first = trip.pace, start_date(trip)
    base = dt.datetime.combine(first, pace.depart)
    changes = []
    for hours in (-2, -1, 1, 2):
        moved = base + dt.timedelta(hours=hours)
        if moved.date() == first:
            side = "earlier" if hours < 0 else "later"
            plural = "" if abs(hours) == 1 else "s"
            words = f"leave {abs(hours)} hour{plural} {side} each morning"
            changes.append(Change(words, (("pace.depart", moved.time()),), abs(hours)))
    for ratio in (1.1, 1.2, 0.9, 0.8):
        km = min(max(round(pace.daily_km * ratio), 5), 2000)
        words = f"{'longer' if ratio > 1 else 'shorter'} days of {km} km"
        changes.append(Change(words, (("pace.daily_km", float(km)),), 3 if ratio > 1 else 2))
    for days in range(1, 7) if trip.now.at_km is None else ():
        other = first + dt.timedelta(days=days)
        words = f"start on {other:%A} {other.isoformat()}"
        changes.append(Change(words, (("start.date", other),), 4))
    own, read = trip.map.corridor_km, reach_m(trip) / 1000.0
    # Nothing farther off was read, so nothing can be said of it.
    wide = min(own * 2.0, read)
    if wide > own:
        words = f"look for shops up to {wide:g} km from the route"
        if by_road:
            words += f" (the ways to those more than {own:g} km off are estimates)"
        changes.append(Change(words, (("map.corridor_km", wide),), 2))
    return tuple(changes)
