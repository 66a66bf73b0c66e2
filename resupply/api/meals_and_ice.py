"""Ice, weather and menu of a planned trip: what is asked of services and read for them."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import OpenState
from resupply.kitchen.cold.ice_search import IceChance
from resupply.kitchen.coolers import day_weather, trip_dates
from resupply.kitchen.plan import plan_kitchen
from resupply.places.place import Confidence, Supply
from resupply.report.document.passes import pass_id
from resupply.say.names import Words

if TYPE_CHECKING:
    from pathlib import Path

    from resupply.kitchen.cold.weather import DayWeather
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan

__all__ = ["cook", "ice_chances"]


def cook(plan: TripPlan, folder: Path) -> KitchenPlan:
    """Weather as stated, or asked of the weather service where the trip wants it; then the menu.

    A forecast that cannot be had leaves those days not known, and says so.
    """
    trip = plan.trip
    dates = trip_dates(plan.clock)
    weather = day_weather(trip, dates)
    problems: tuple[str, ...] = ()
    if trip.weather.forecast:
        weather, problems = _with_forecast(plan, weather, folder)
    return plan_kitchen(
        trip,
        plan.supply,
        stop_names=[Words(plan).name(stop.row) for stop in plan.supply.stops],
        ice=ice_chances(plan),
        weather=weather,
        problems=problems,
        dishes_path=folder / trip.food.dishes if trip.food.dishes else None,
    )


def ice_chances(plan: TripPlan) -> tuple[IceChance, ...]:
    """List the ice stop of each leg, every food stop that has ice, and all ice on the map.

    Likely ice elsewhere is left out: there may be hundreds of filling stations. Places known to
    be shut on arrival, those to which no road is known, and those behind a rider under way, are
    no chance.
    """
    passes, prepared = plan.prepared.passes, plan.prepared
    ahead = passes.chainage_m >= plan.legs[0].start_m
    with_ice = (
        prepared.supply[Supply.ICE] & prepared.reachable & (plan.risk != OpenState.SHUT) & ahead
    )
    rows = {stop.row for stop in plan.ice}
    rows |= {stop.row for stop in plan.supply.stops if with_ice[stop.row]}
    rows |= {
        int(row)
        for row in np.flatnonzero(with_ice)
        if prepared.places.places[int(passes.place_ix[row])].supplies[Supply.ICE]
        is Confidence.STATED
    }
    keys, words = plan.trip.cooler, Words(plan)
    stops = {stop.row for stop in plan.supply.stops}
    return tuple(
        IceChance(
            float(plan.arrive_s[row]),
            words.name(row),
            prepared.places.places[int(passes.place_ix[row])].supplies[Supply.ICE],
            bag_kg=keys.bag_kg,
            form=keys.form,
            key=pass_id(row),
            anyway=row in stops,
        )
        for row in sorted(rows, key=lambda row: float(plan.arrive_s[row]))
    )


def _with_forecast(
    plan: TripPlan, weather: tuple[DayWeather, ...], folder: Path
) -> tuple[tuple[DayWeather, ...], tuple[str, ...]]:
    from resupply.kitchen.cold.forecast import ForecastPoint, fetch_forecast

    missing = {day.date for day in weather if not day.known}
    if not missing:
        return weather, ()
    points = []
    for date in sorted(missing):
        leg = next((leg for leg in reversed(plan.legs) if leg.date <= date), plan.legs[0])
        for at_m in (leg.start_m, leg.end_m):
            lon, lat = plan.prepared.route.position_at(at_m)
            points.append(ForecastPoint(date, lon=lon, lat=lat))
    answer = fetch_forecast(
        points,
        now=dt.datetime.now(dt.UTC),
        endpoint=plan.trip.weather.forecast_url,
        cache=folder / "cache",
    )
    found = {day.date: day for day in answer.days}
    return tuple(found.get(day.date, day) if not day.known else day for day in weather), tuple(
        answer.problems
    )
