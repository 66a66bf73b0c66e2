"""What a day of riding comes to: sun, arrival in camp, the way there, surface.

In: a `TripPlan` and one of its legs. Out: `DayFacts`, in SI and local times.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.sun import sunrise, sunset
from resupply.plan.schedule import zone_info

if TYPE_CHECKING:
    from resupply.plan.pipeline import TripPlan
    from resupply.roads.match import SurfaceMix
    from resupply.route.legs import Leg
    from resupply.supply.camps import NightEnd

__all__ = ["DayFacts", "day_facts", "night_of", "reached_m", "surface_of"]


@dataclass(frozen=True, slots=True)
class DayFacts:
    """One day of riding; times are local."""

    sunrise: dt.datetime | None
    sunset: dt.datetime | None
    arrive: dt.datetime
    """At the day's end on the route."""
    in_camp: dt.datetime
    """In its camp, which may be farther."""
    camp: NightEnd | None
    """None where the day ends at no camp."""
    way_m: float
    """From the day's end on the route to its camp; 0 without one."""
    way_s: float
    too_long: bool
    """The rider would arrive after the next day's departure."""
    latest: dt.datetime
    """When the rider wants to be in camp."""

    @property
    def after_sunset(self) -> bool:
        """Whether the rider is in camp only in the dark."""
        return self.sunset is not None and self.in_camp > self.sunset

    @property
    def after_latest(self) -> bool:
        """Whether the rider is in camp later than they want."""
        return self.in_camp > self.latest


def day_facts(plan: TripPlan, leg: Leg, after: Leg | None) -> DayFacts:
    """Work out a day.

    Parameters
    ----------
    after
        The next day; None for the last.
    """
    zone = leg.depart.tzinfo
    if zone is None:
        raise ValueError("a leg's times are aware")
    # In camp the clock is the camp's, as it is for the shops near it.
    there = zone_info(plan.prepared.zone_name(leg.end_m))
    route, night = plan.prepared.route, night_of(plan, leg)
    arrive_s = float(plan.clock.arrive_s(leg.end_m)[0])
    arrive = dt.datetime.fromtimestamp(arrive_s, there)
    camp = night if night is not None and night.row >= 0 else None
    way_m = way_s = 0.0
    if camp is not None:
        way_m = float(plan.detour_m[camp.row]) / 2.0
        way_s = float(plan.prepared.detours.extra_s[camp.row]) / 2.0
    return DayFacts(
        sunrise=sunrise(*route.position_at(leg.start_m), leg.date, zone),
        sunset=sunset(*route.position_at(leg.end_m), leg.date, there),
        arrive=arrive,
        in_camp=arrive + dt.timedelta(seconds=way_s),
        camp=camp,
        way_m=way_m,
        way_s=way_s,
        too_long=after is not None and arrive_s >= after.depart.timestamp(),
        latest=dt.datetime.combine(leg.date, plan.trip.pace.latest_camp, tzinfo=there),
    )


def night_of(plan: TripPlan, leg: Leg) -> NightEnd | None:
    """Find what was looked for at a day's end; None if days end by distance alone."""
    return next((night for night in plan.nights if night.day == leg.number), None)


def reached_m(plan: TripPlan, leg: Leg, by: dt.datetime) -> float | None:
    """How far the rider gets by a time, so that an earlier camp can be looked for."""
    grid_m = np.linspace(leg.start_m, leg.end_m, 400)
    reached = grid_m[plan.clock.arrive_s(grid_m) <= by.timestamp()]
    return float(reached[-1]) if reached.size else None


def surface_of(plan: TripPlan, leg: Leg) -> SurfaceMix | None:
    """Metres of each surface on a day; None where no roads are known at all."""
    roads = plan.prepared.roads
    if roads is None:
        return None
    from resupply.roads.match import surface_mix

    return surface_mix(roads.matched, roads.graph, start_m=leg.start_m, end_m=leg.end_m)
