"""What is on board along the trip, worked out once the kitchen is planned.

In: a `KitchenPlan` with the trip and its supply plan. Out: what the food weighs, how the cooler and
the bags are packed at each stop, the load with ice and water, water by day, and what matters for
cautions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.units import S_PER_HOUR
from resupply.kitchen.cold.cooler import stowage_l_per_kg
from resupply.kitchen.food.care import situation_of
from resupply.kitchen.food.gear import kitchen_gear
from resupply.kitchen.food.load import LoadChange, LoadLimits, make_load
from resupply.kitchen.food.packing import CoolerNow, load_packing_rules, pack
from resupply.kitchen.food.rations import cooking_water_l, load_rations, water_need
from resupply.kitchen.food.stove import stove_fuel
from resupply.supply.water import split_day, water_along

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from resupply.kitchen.cold.cooler import IceForm
    from resupply.kitchen.cold.ice_plan import IcePlan
    from resupply.kitchen.food.care import Situation
    from resupply.kitchen.food.gear import Gear
    from resupply.kitchen.food.load import LoadOnBoard
    from resupply.kitchen.food.meals import Menu, MenuMeal
    from resupply.kitchen.food.packing import Packing
    from resupply.kitchen.food.rations import WaterNeed
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.food.stove import FuelUse
    from resupply.kitchen.plan import KitchenPlan
    from resupply.route.clock import RideClock
    from resupply.route.route import Route
    from resupply.supply.food_stops import SupplyPlan
    from resupply.supply.pass_table import PassTable
    from resupply.supply.water import WaterDay, WaterGap
    from resupply.trip.settings import Trip

__all__ = [
    "FoodWeight",
    "coolers_of",
    "food_weight",
    "fuel_and_gear",
    "load_on_board",
    "local",
    "packings_of",
    "situation_on",
    "trip_day",
    "water_by_day",
    "water_changes",
    "water_days",
    "water_gaps_of",
]


def coolers_of(kitchen: KitchenPlan) -> list[IcePlan]:
    """Plans of the coolers there are, food first."""
    both = (kitchen.food_ice, kitchen.drinks_ice)
    return [ice for ice in both if ice is not None and ice.cooler.kind != "none"]


def trip_day(trip: Trip, clock: RideClock, date: dt.date) -> int:
    """Day of the trip, from 1, rest days counted, also on a trip under way."""
    return (date - (trip.start.date or clock.legs[0].date)).days + 1


def local(clock: RideClock, at_s: float) -> dt.datetime:
    """Local time of an instant, UTC epoch seconds, where the rider is that day."""
    leg = clock.legs[max(int(np.searchsorted(clock.depart_s, at_s, side="right")) - 1, 0)]
    return clock.local(leg.end_m, at_s)


@dataclass(frozen=True, slots=True)
class FoodWeight:
    """Food on board for the whole party, kg."""

    start_kg: float | None
    stops_kg: tuple[float | None, ...]
    """Leaving each stop. None while a menu is wanted and not planned yet: what a guess says, the
    menu would change under the rider's eyes."""
    spare_kg: float | None
    by_menu: bool
    """Added up over the menu's packs, the spare included; else so much a meal."""
    kg_per_meal: float
    start_by_menu: bool = False
    """What is on board under way is no part of the menu."""


def food_weight(trip: Trip, supply: SupplyPlan, kitchen: KitchenPlan | None = None) -> FoodWeight:
    """Weigh the food: by the menu where one is planned, else by the trip's mass of a meal."""
    each_kg, spare = trip.food.kg_per_meal, supply.spare_meals

    def guess_kg(meals: int) -> float | None:
        if trip.food.plan_menu and kitchen is None:
            return None
        return round(meals * trip.party.people * each_kg, 2)

    stops_kg = tuple(guess_kg(stop.carry_meals + spare) for stop in supply.stops)
    start_kg = guess_kg(supply.start_carry_meals + spare)
    spare_kg = guess_kg(spare)
    if kitchen is None or kitchen.shopping is None:
        return FoodWeight(start_kg, stops_kg, spare_kg, by_menu=False, kg_per_meal=each_kg)
    parts = kitchen.given.cookbook.ingredients
    told = tuple(round(kg, 2) for kg in kitchen.carried_kg)
    if kitchen.shopping.reserve:
        lines = kitchen.shopping.reserve
        spare_kg = round(sum(ln.bought * parts[ln.ingredient].unit_kg for ln in lines), 2)
    if not kitchen.first_stop:
        start_kg, told = told[0], told[1:]
    return FoodWeight(
        start_kg,
        told,
        spare_kg,
        by_menu=True,
        kg_per_meal=each_kg,
        start_by_menu=not kitchen.first_stop,
    )


def water_by_day(trip: Trip, clock: RideClock, kitchen: KitchenPlan) -> dict[int, WaterNeed]:
    """Water of each day of the trip (from 1, rest days count), whole party."""
    cooking: dict[int, float] = {}
    if kitchen.menu is not None:
        by_slot = cooking_water_l(kitchen.menu, trip.party.people)
        for slot in kitchen.given.slots:
            day = trip_day(trip, clock, slot.when.date())
            cooking[day] = cooking.get(day, 0.0) + by_slot.get(slot.index, 0.0)
    riding = {trip_day(trip, clock, leg.date): leg.ride_s / S_PER_HOUR for leg in clock.legs}
    return {
        (day := trip_day(trip, clock, weather.date)): water_need(
            load_rations(),
            high_c=weather.high_c,
            riding_h=riding.get(day, 0.0),
            people=trip.party.people,
            cook_l=cooking.get(day, 0.0),
        )
        for weather in kitchen.weather
        if weather.date <= clock.legs[-1].date
    }


def water_gaps_of(
    trip: Trip,
    clock: RideClock,
    prepared: PassTable,
    water: NDArray[np.bool_],
    needs: Mapping[int, WaterNeed],
    shops: Sequence[tuple[float, int]] = (),
) -> tuple[WaterGap, ...]:
    """Find the stretches between places to fill up, and what to take on for each.

    Parameters
    ----------
    water
        (m,) passes with water; see `resupply.supply.water.water_mask`.
    needs
        As of `water_by_day`.
    shops
        Where water is bought with the food; see `resupply.supply.water.water_along`.
    """
    return water_along(prepared, water, clock.legs, water_days(trip, clock, needs), shops)


def water_days(
    trip: Trip, clock: RideClock, needs: Mapping[int, WaterNeed]
) -> tuple[WaterDay, ...]:
    """Divide the water of each riding day between road and camp; `needs` as of `water_by_day`."""
    days = []
    for leg in clock.legs:
        need = needs[trip_day(trip, clock, leg.date)]
        riding_h = leg.ride_s / S_PER_HOUR
        days.append(split_day(drink_l=need.drink_l, cook_l=need.cook_l, riding_h=riding_h))
    return tuple(days)


def packings_of(trip: Trip, kitchen: KitchenPlan, menu: Menu) -> list[Packing]:
    """Pack the cooler and the bags at each stop of the menu."""
    rules, form = load_packing_rules(), trip.cooler.form
    return [
        pack(kitchen.given, menu, number, rules, _cooler_now(kitchen, stop.when.timestamp(), form))
        for number, stop in enumerate(kitchen.given.stops)
    ]


def load_on_board(
    trip: Trip,
    clock: RideClock,
    kitchen: KitchenPlan,
    planned: tuple[Menu, Shopping],
    water: tuple[Mapping[int, WaterNeed], Sequence[WaterGap]],
    *,
    gear_kg: float = 0.0,
) -> LoadOnBoard:
    """Add up food, ice and water along the trip.

    Parameters
    ----------
    planned
        The kitchen's menu and lists.
    water
        Needs by day of the trip, and what to take on from each place with water to the next.
    gear_kg
        Of the kitchen, which the bikes' loads hold too.
    """
    bikes, luggage = trip.party.bikes, trip.luggage
    all_kg = sum(bike.load_kg for bike in bikes) - gear_kg if bikes else None
    all_l = sum(bike.room_l for bike in bikes) if bikes else None
    ice, cooled = kitchen.food_ice, kitchen.cooled
    return make_load(
        kitchen.given,
        *planned,
        LoadLimits(
            cooler_l=ice.cooler.usable_l if cooled else None,
            luggage_kg=all_kg if luggage.food_kg is None else luggage.food_kg,
            bag_l=all_l if luggage.food_l is None else luggage.food_l,
        ),
        others=[*_ice_changes(kitchen, clock), *water_changes(clock, *water)],
        room_l=(lambda at_s: _room_at(ice, at_s)) if cooled else None,
    )


def fuel_and_gear(
    clock: RideClock, route: Route, kitchen: KitchenPlan, menu: Menu
) -> tuple[tuple[FuelUse, ...], tuple[Gear, ...]]:
    """Stove fuel by meal, and what to bring to the kitchen.

    A meal counts as cooked at the height of the camp of its day; where the route has no heights,
    as at the sea, and the list says so.
    """

    def height_m(meal: MenuMeal) -> float:
        at_s = meal.slot.when.timestamp()
        before = int(np.searchsorted(clock.depart_s[: len(clock.legs)], at_s, side="right")) - 1
        here = int(np.searchsorted(route.chainage_m, clock.legs[max(before, 0)].end_m))
        found = float(route.ele_m[min(here, len(route.ele_m) - 1)])
        return found if np.isfinite(found) else 0.0

    fuel = stove_fuel(kitchen.given, menu.meals, load_rations(), height_m)
    known = bool(np.isfinite(route.ele_m).all())
    return fuel, kitchen_gear(kitchen.given, menu, fuel, cooler=kitchen.cooled, heights_known=known)


def situation_on(trip: Trip, clock: RideClock, route: Route, kitchen: KitchenPlan) -> Situation:
    """Read off a plan what matters for cautions."""
    highs = [day.high_c for day in kitchen.weather if day.date <= clock.legs[-1].date]
    known = np.isfinite(route.ele_m)
    return situation_of(
        kitchen.given,
        kitchen.menu,
        cooler=kitchen.cooled,
        under_way=trip.now.at_km is not None and trip.now.food_meals > 0,
        untreated_water=trip.food.untreated_water,
        highest_m=float(np.nanmax(route.ele_m)) if known.any() else None,
        hottest_c=None if None in highs else max(h for h in highs if h is not None),
        bears=trip.region.bears,
    )


def _cooler_now(kitchen: KitchenPlan, at_s: float, form: IceForm) -> CoolerNow | None:
    """Tell what is in the food cooler when leaving a stop; None without one."""
    cooler = kitchen.food_ice.cooler
    if not kitchen.cooled:
        return None
    ice_kg = _ice_at(kitchen.food_ice, at_s)
    return CoolerNow(
        volume_l=cooler.volume_l,
        usable_l=cooler.usable_l,
        ice_kg=ice_kg,
        ice_l=ice_kg * stowage_l_per_kg(form),
        packs_kg=cooler.packs_kg,
        packs_l=cooler.packs_l,
        rests_l=sum(rest.room_l for rest in kitchen.rests if rest.in_s <= at_s < rest.out_s),
    )


def _ice_at(ice: IcePlan, at_s: float) -> float:
    """Ice on board just after an instant; 0 where it is not known."""
    kg = float(ice.trace.ice_kg[_since(ice, at_s)])
    return kg if np.isfinite(kg) else 0.0


def _room_at(ice: IcePlan, at_s: float) -> float:
    """Room taken in the cooler by food, packs and ice just after an instant, litres."""
    return float(ice.trace.room_l[_since(ice, at_s)])


def _since(ice: IcePlan, at_s: float) -> int:
    return max(int(np.searchsorted(ice.trace.times_s, at_s + 1.0, side="right")) - 1, 0)


def _ice_changes(kitchen: KitchenPlan, clock: RideClock) -> Iterator[LoadChange]:
    """Ice and packs on board; what melts leaves when meltwater is poured off for new ice."""
    for ice in coolers_of(kitchen):
        name, packs_kg = ice.cooler.name, ice.cooler.packs_kg
        if packs_kg > 0.0:
            yield _other(local(clock, float(ice.trace.times_s[0])), f"packs for {name}", packs_kg)
        loads = [(stated.load.at_s, stated.loaded_kg) for stated in ice.stated]
        loads += [(purchase.stop.at_s, purchase.loaded_kg) for purchase in ice.purchases]
        before_kg = 0.0
        for at_s, loaded_kg in loads:
            now_kg = max(_ice_at(ice, at_s), loaded_kg)
            yield _other(local(clock, at_s), f"ice for {name}", now_kg - before_kg)
            before_kg = now_kg


def water_changes(
    clock: RideClock, needs: Mapping[int, WaterNeed], gaps: Sequence[WaterGap]
) -> Iterator[LoadChange]:
    """Take on at each place with water what is needed to the next, as the water block tells.

    It counts as used up on arrival there: the cautious case. Where the map is missing nobody can
    tell how far it must last; a day's water is counted then.
    """
    day_l = max((need.total_l for need in needs.values()), default=0.0)
    for gap in gaps:
        kg = min(gap.litres, day_l) if gap.crosses_unknown else gap.litres
        if kg < 0.05:
            continue
        times_s = clock.arrive_s(np.array([gap.start_m, gap.end_m]))
        start_s = max(float(times_s[0]), float(clock.depart_s[0]))
        end_s = max(float(times_s[1]), start_s)
        yield _other(clock.local(gap.end_m, end_s), "water used", -kg)
        yield _other(clock.local(gap.start_m, start_s), "filling up water", kg)


def _other(when: dt.datetime, label: str, kg: float) -> LoadChange:
    return LoadChange(when, "other", 0, label, kg, 0.0, 0.0)
