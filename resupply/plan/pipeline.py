"""From a prepared trip to its whole plan: the picture of the program in one file.

In: a `Prepared` and a `Trip`. Out: a `TripPlan`. Pure: no file is read and no clock looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.progress import go_on
from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.place import Supply
from resupply.plan.alternatives import daily_distances, remedies_of, styles_of
from resupply.plan.prepared import Prepared, cover_span
from resupply.plan.schedule import Schedule, make_schedule, span_of, zone_info
from resupply.plan.shops_ahead import detour_seconds, now_m
from resupply.supply.food_stops import SupplyInput, SupplyPlan, plan_supply
from resupply.supply.fuel_stops import fuel_of
from resupply.supply.gaps import Gap, Gaps, find_gaps
from resupply.supply.ice_stops import IceStop, choose_ice, sold_at_stops
from resupply.supply.nights import camps_there
from resupply.supply.open_risk import judge_of, stays_s
from resupply.supply.visit_options import OUT_HALF_S
from resupply.supply.water import water_mask
from resupply.supply.within_days import within_days

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.route.legs import Leg
    from resupply.supply.camps import NightEnd
    from resupply.supply.daily_distance import SweepRow
    from resupply.supply.eat_out import MealOut
    from resupply.supply.fuel_range import FuelPlan
    from resupply.supply.remedies import Remedy
    from resupply.supply.visit_walk import Figures
    from resupply.trip.choice import Style
    from resupply.trip.settings import Trip

__all__ = ["TripPlan", "plan_trip", "with_alternatives"]


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
    stay_s: NDArray[np.float64]
    """Of a visit to each pass's place."""
    risk: NDArray[np.int8]
    gaps: Mapping[Supply, Gaps]
    """For groceries full shops only, for small groceries every food shop. A pass known to be shut
    is no pass; for food neither is one that the estimate of usual hours calls shut."""
    sure_gap: Gap
    """The longest one for groceries without that estimate: only passes open by stated hours."""
    ice: tuple[IceStop, ...]
    ice_elsewhere: tuple[IceStop, ...]
    """Where the best ice of a day is at a food shop at which the plan does not stop."""
    with_ice: Mapping[int, int]
    """Ice sold at the spot of a food stop: pass row of the seller to the stop's number."""
    ice_gaps: Gaps
    fuel: FuelPlan | None
    """None if the trip states no range."""
    out: tuple[MealOut, ...]
    """Meals that the rider wants to eat out; those with a place are not carried."""
    styles: Mapping[Style, Figures]
    """What each `food.style` comes to; the trip's own is planned in full."""
    sweep: tuple[SweepRow, ...] = ()
    remedies: tuple[Remedy, ...] = ()


def plan_trip(
    prepared: Prepared,
    trip: Trip,
    *,
    alone: bool = False,
    ice_rows: frozenset[int] = frozenset(),
    step: Callable[[], None] = go_on,
) -> TripPlan:
    """Plan the whole trip.

    Parameters
    ----------
    alone
        Without the other plans it is compared with; `with_alternatives` adds them.
    ice_rows
        Food shops passed where the cooler needs ice; food is bought there too.
    step
        Called before each of the many plans of the comparison; what it raises ends the work.

    Raises
    ------
    TripFileError
        No start date, or a time zone that does not exist.
    """
    if prepared.zone:
        zone_info(prepared.zone)
    covered = cover_span(prepared, *span_of(prepared, trip))
    route, passes = covered.route, covered.passes
    schedule = make_schedule(covered, trip, ice_rows=ice_rows)
    clock, judge, candidates = schedule.clock, judge_of(covered), schedule.candidates
    here_m = now_m(trip, route.length_m)
    ways = within_days(clock, passes.chainage_m, covered.leave_m, covered.rejoin_m)
    detour_s, out_s = detour_seconds(covered, trip)
    detour_s, out_s = detour_s + ways.more_s, out_s + ways.more_out_s
    meal_out_rows = np.flatnonzero(covered.supply[Supply.MEAL_OUT] & covered.reachable)
    options = schedule.options()
    supply = plan_supply(
        SupplyInput(
            candidates,
            clock,
            options,
            schedule.asked,
            judge,
            spare_meals=trip.food.spare_meals,
            length_m=route.length_m,
            meal_out=(meal_out_rows, passes.chainage_m[meal_out_rows]),
            start_m=here_m,
        )
    )
    timed = supply.clock
    # At the door: the way there from where the route is left is ridden first.
    arrive_s = timed.arrive_s(ways.leave_m) + out_s
    half_width_s = timed.half_width_s(ways.leave_m, arrive_s)
    detour_m = covered.detours.extra_m + ways.more_m
    for stop in supply.stops:
        arrive_s[stop.row] = stop.arrive_s
        if stop.from_camp:
            # There and back along the route too; the rider chooses the hour.
            half_width_s[stop.row], detour_s[stop.row] = OUT_HALF_S, stop.way_s
            along_m = abs(float(passes.chainage_m[stop.row]) - stop.on_board_m)
            detour_m[stop.row] = float(covered.detours.extra_m[stop.row]) + 2.0 * along_m
    rows = np.arange(len(passes))
    stay_s = stays_s(covered, trip.food)
    risk = judge(rows, arrive_s, half_width_s, stay_s).state
    with_ice = sold_at_stops(covered, supply, Supply.ICE, risk)
    for row, stop in with_ice.items():
        # One visit: what stands beside a shop is reached with it.
        arrive_s[row] = stop.arrive_s
    unknown = covered.places.coverage.unknown

    known_shut, food_shut = (
        risk == OpenState.SHUT,
        np.isin(risk, (OpenState.SHUT, OpenState.USUALLY_SHUT)),
    )

    def gaps_of(
        mask: NDArray[np.bool_],
        shut: NDArray[np.bool_] | None = None,
        doubtful: NDArray[np.bool_] | None = None,
    ) -> Gaps:
        ahead = mask & covered.reachable & (passes.chainage_m >= here_m)
        left_out = np.zeros_like(ahead) if shut is None else ahead & shut
        counted = ahead & ~left_out if doubtful is None else ahead & ~doubtful
        usable = np.flatnonzero(counted)
        return find_gaps(
            passes.chainage_m[usable],
            rows=usable.tolist(),
            clock=timed,
            length_m=route.length_m,
            unknown=unknown,
            shut_m=passes.chainage_m[left_out],
            jumps=route.breaks,
            start_m=here_m,
        )

    full = covered.supply[Supply.GROCERIES]
    untreated = trip.food.untreated_water
    water = water_mask(covered, untreated=untreated, arrive_s=arrive_s, risk=risk)
    gaps = {
        Supply.GROCERIES: gaps_of(full, food_shut),
        Supply.SMALL_GROCERIES: gaps_of(covered.food, food_shut),
        Supply.ICE: gaps_of(covered.supply[Supply.ICE], known_shut),
        Supply.WATER: gaps_of(water),
        Supply.FUEL: gaps_of(covered.supply[Supply.FUEL], known_shut),
        Supply.CAMP: gaps_of(covered.supply[Supply.CAMP], ~camps_there(covered, arrive_s)),
        Supply.MEAL_OUT: gaps_of(covered.supply[Supply.MEAL_OUT], known_shut),
    }
    find_ice = partial(
        choose_ice, covered, timed, risk, with_ice, free_days=trip.shops.none_on_days
    )
    ice, ice_elsewhere = find_ice(), find_ice(at_food_shops=True)
    bought_rows = [stop.row for stop in ice]
    planned = TripPlan(
        trip=trip,
        prepared=covered,
        legs=schedule.legs,
        nights=schedule.nights,
        clock=timed,
        supply=supply,
        detour_s=detour_s,
        detour_m=detour_m,
        arrive_s=arrive_s,
        half_width_s=half_width_s,
        stay_s=stay_s,
        risk=risk,
        gaps=gaps,
        sure_gap=gaps_of(full, food_shut, ~np.isin(risk, BY_HOURS)).longest,
        ice=ice,
        ice_elsewhere=tuple(stop for stop in ice_elsewhere if stop not in ice),
        with_ice={row: stop.number for row, stop in with_ice.items()},
        ice_gaps=find_gaps(
            passes.chainage_m[bought_rows],
            rows=bought_rows,
            clock=timed,
            length_m=route.length_m,
            unknown=unknown,
            start_m=here_m,
        ),
        fuel=fuel_of(covered, trip, supply.stops, risk, start_m=here_m),
        out=schedule.out,
        styles=styles_of(schedule, options, supply),
    )
    return planned if alone else with_alternatives(planned, schedule=schedule, step=step)


def with_alternatives(
    planned: TripPlan,
    *,
    schedule: Schedule | None = None,
    step: Callable[[], None] = go_on,
) -> TripPlan:
    """Add the other plans of the trip, as far as it wants them shown.

    Parameters
    ----------
    schedule
        The one the plan was made from; made again where it is not given.
    step
        Called before each plan; what it raises ends the work.
    """
    trip = planned.trip
    schedule = schedule or make_schedule(planned.prepared, trip)
    return replace(
        planned,
        sweep=daily_distances(schedule, step) if trip.show.sweep else (),
        remedies=remedies_of(schedule, planned.supply, step) if trip.show.remedies else (),
    )
