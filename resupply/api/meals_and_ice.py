"""Ice, weather and menu of a planned trip: what is asked of services and read for them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from resupply.common.progress import go_on
from resupply.kitchen.cold.ice_search import IceChance
from resupply.kitchen.coolers import day_weather, trip_dates
from resupply.kitchen.food.trades import STATION
from resupply.kitchen.menu_input import MapFacts, OtherDishes
from resupply.kitchen.plan import plan_kitchen
from resupply.places.place import Confidence, Supply
from resupply.plan.pipeline import plan_trip
from resupply.report.document.passes import pass_id, row_of
from resupply.say.names import Words
from resupply.supply.camps import fire_in_camp
from resupply.supply.ice_stops import ice_rows

if TYPE_CHECKING:
    from collections.abc import Callable
    from collections.abc import Set as AbstractSet
    from pathlib import Path

    from resupply.kitchen.cold.weather import DayWeather
    from resupply.kitchen.food.meals import Menu
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan

__all__ = ["cook", "ice_chances", "settle", "too_warm"]


def settle(
    plan: TripPlan,
    folder: Path,
    *,
    like: Menu | None = None,
    step: Callable[[], None] = go_on,
) -> tuple[TripPlan, KitchenPlan]:
    """Plan ice and meals; where food stops alone do not keep it cold, stop for ice and food.

    At the shops where the cooler needs ice, food is bought too, and the stops are chosen anew
    around them: once. Where that does not keep it cold for longer, the plan stays as it is. It is
    the one second step of the choice: fuel and water are planned around it, meals out before it.

    Parameters
    ----------
    like
        The menu of another plan of the trip, whose dishes stay where they may.
    step
        Called again and again; what it raises ends the work.
    """
    kitchen = cook(plan, folder, like=like, step=step)
    if not too_warm(kitchen):
        return plan, kitchen
    bought = cook(plan, folder, at_food_shops=True, like=like, step=step).food_ice.purchases
    rows = {row_of(one.stop.key) for one in bought if one.stop.counts}
    rows = {row for row in rows if plan.prepared.food[row] and row not in plan.with_ice}
    if not rows:
        return plan, kitchen
    again = _stopping_at(plan, rows)
    other = cook(again, folder, like=like, step=step)
    better = too_warm(other) < too_warm(kitchen)
    return (again, other) if better else (plan, kitchen)


def _stopping_at(plan: TripPlan, rows: AbstractSet[int]) -> TripPlan:
    """Choose the stops anew, with food bought at these passes too; at none of them ice alone."""
    again = plan_trip(plan.prepared, plan.trip, alone=True, ice_rows=frozenset(rows))
    alone = {stop.row for stop in again.supply.stops if not stop.carry_meals}
    return _stopping_at(plan, rows - alone) if rows & alone else again


def too_warm(kitchen: KitchenPlan) -> float:
    """How much of the trip the food cooler is not known to be cold, from 0 (none) to 1."""
    ice = kitchen.food_ice
    failed = [at_s for at_s in (ice.fails_at_s, ice.no_ice_from_s) if at_s is not None]
    if not failed:
        return 0.0
    first_s, last_s = float(ice.trace.times_s[0]), float(ice.trace.times_s[-1])
    return (last_s - min(failed)) / max(last_s - first_s, 1.0)


def cook(
    plan: TripPlan,
    folder: Path,
    *,
    at_food_shops: bool = False,
    like: Menu | None = None,
    step: Callable[[], None] = go_on,
) -> KitchenPlan:
    """Weather as stated, or asked of the weather service where the trip wants it; then the menu.

    A forecast that cannot be had leaves those days not known, and says so.

    Parameters
    ----------
    at_food_shops
        With the ice of food shops at which the plan does not stop.
    like
        The menu of another plan of the trip, whose dishes stay where they may.
    """
    trip = plan.trip
    dates = trip_dates(plan.clock)
    weather = day_weather(trip, dates)
    problems: tuple[str, ...] = ()
    if trip.weather.forecast:
        weather, problems = _with_forecast(plan, weather, folder)
    kitchen = plan_kitchen(
        trip,
        plan.supply,
        stop_names=[Words(plan).name(stop.row) for stop in plan.supply.stops],
        ice=ice_chances(plan, at_food_shops=at_food_shops),
        weather=weather,
        said=MapFacts(_trades(plan), _camp_fires(plan)),
        others=OtherDishes(folder / trip.food.dishes if trip.food.dishes else None, like),
        step=step,
    )
    return replace(kitchen, problems=(*problems, *kitchen.problems)) if problems else kitchen


def _trades(plan: TripPlan) -> dict[int, str]:
    """Kinds of the food stops that are not full shops, by number; a station is one above all."""
    places, place_ix = plan.prepared.places.places, plan.prepared.passes.place_ix
    small = {s.number: places[int(place_ix[s.row])] for s in plan.supply.stops if not s.full}
    return {
        number: STATION if place.tags.get("amenity") == "fuel" else place.kind
        for number, place in small.items()
    }


def _camp_fires(plan: TripPlan) -> dict[int, bool]:
    """Whether the map says that a fire may be lit in camp, by day; days it says nothing of miss."""
    places, place_ix = plan.prepared.places.places, plan.prepared.passes.place_ix
    said = {
        night.day: fire_in_camp(places[int(place_ix[night.row])].tags)
        for night in plan.nights
        if night.row >= 0
    }
    return {day: fire for day, fire in said.items() if fire is not None}


def ice_chances(plan: TripPlan, *, at_food_shops: bool = False) -> tuple[IceChance, ...]:
    """List the ice stop of each leg, every food stop that has ice, and ice stated elsewhere.

    Nobody stops at a shop that sells food and buys none. Likely ice elsewhere is left out: there
    may be hundreds of filling stations. Places known to be shut on arrival, those to which no road
    is known, and those behind a rider under way, are no chance.

    Parameters
    ----------
    at_food_shops
        List those at which the plan does not stop too.
    """
    prepared = plan.prepared
    passes, words = prepared.passes, Words(plan)
    usable = ice_rows(
        prepared,
        plan.clock,
        plan.risk,
        plan.with_ice,
        free_days=plan.trip.shops.none_on_days,
        at_food_shops=at_food_shops,
    )
    rows = {stop.row for stop in plan.ice} | set(plan.with_ice)
    if at_food_shops:
        rows |= {stop.row for stop in plan.ice_elsewhere}
    rows |= {
        int(row)
        for row in usable
        if prepared.places.places[int(passes.place_ix[row])].supplies[Supply.ICE]
        is Confidence.STATED
    }
    return tuple(
        IceChance(
            float(plan.arrive_s[row]),
            words.name(row),
            prepared.places.places[int(passes.place_ix[row])].supplies[Supply.ICE],
            key=pass_id(row),
            anyway=row in plan.with_ice,
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
