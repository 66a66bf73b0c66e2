"""Cold chain, menu, lists, packing, load and cautions of a plan, as blocks of its document."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.cold.document import cold_document
from resupply.food.care import care_for, load_care, situation_of
from resupply.food.document import (
    care_document,
    load_document,
    menu_document,
    packing_document,
    shopping_document,
)
from resupply.food.load import LoadChange, make_load
from resupply.food.menu import reserve_dishes
from resupply.food.model import Kitchen as Cooking
from resupply.food.packing import load_packing_rules, pack
from resupply.food.rations import cooking_water_l, load_rations, stove_fuel, water_need
from resupply.food.shopping import make_shopping
from resupply.food.sources import load_sources
from resupply.food.storage import make_storage
from resupply.kitchen import history_of
from resupply.report.supplies import water_block

if TYPE_CHECKING:
    from resupply.cold.iceplan import IcePlan
    from resupply.food.rations import WaterNeed
    from resupply.kitchen import KitchenPlan
    from resupply.pipeline import TripPlan
    from resupply.report.words import Words

__all__ = ["kitchen_blocks"]


def kitchen_blocks(plan: TripPlan, kitchen: KitchenPlan, words: Words) -> dict[str, Any]:
    """Blocks `cold`, `water`, `menu`, `shopping`, `packing`, `load`, `care`, where planned."""
    trip, sources = plan.trip, load_sources()
    has_cooler = kitchen.food_ice.cooler.kind != "none"
    blocks: dict[str, Any] = {}
    coolers = [
        ice for ice in (kitchen.food_ice, kitchen.drinks_ice) if ice and ice.cooler.kind != "none"
    ]
    if coolers:
        blocks["cold"] = cold_document(
            coolers,
            weather=kitchen.weather,
            local=lambda at_s: _local(plan, at_s),
            say_time=words.day_clock,
            units=words.units,
            problems=kitchen.problems,
        )
    care = load_care()
    cooking = Cooking(fire=not trip.food.fire_ban)
    highs = [day.high_c for day in kitchen.weather]
    situation = situation_of(
        kitchen.menu,
        cookbook=kitchen.cookbook,
        table=kitchen.storage,
        kitchen=cooking,
        diet=kitchen.diet,
        cooler=has_cooler,
        highest_m=_highest_m(plan),
        hottest_c=None if None in highs else max(h for h in highs if h is not None),
    )
    blocks["care"] = care_document(
        care_for(situation, care), care=care, sources=sources, highest_m=_highest_m(plan)
    )
    water = _water(plan, kitchen, load_rations())
    blocks["water"] = water_block(plan, water, words)
    if kitchen.menu is not None:
        blocks |= _menu_blocks(plan, kitchen, sources, care, cooking, water)
    return blocks


def _menu_blocks(
    plan: TripPlan,
    kitchen: KitchenPlan,
    sources: Any,
    care: Any,
    cooking: Cooking,
    water: dict[int, WaterNeed],
) -> dict[str, Any]:
    menu, book, table = kitchen.menu, kitchen.cookbook, kitchen.storage
    if menu is None:
        return {}
    people, trip = plan.trip.party.people, plan.trip
    reserve = reserve_dishes(book, kitchen.diet, plan.supply.reserve_meals)
    shopping = make_shopping(
        menu,
        kitchen.stops,
        cookbook=book,
        storage=make_storage(table, history_of(kitchen.food_ice)),
        people=people,
        reserve=reserve,
    )
    has_cooler = kitchen.food_ice.cooler.kind != "none"
    cooler_l = trip.cooler.volume_l if has_cooler else None
    rules, rations = load_packing_rules(), load_rations()
    packings = [
        pack(
            menu,
            kitchen.stops,
            stop,
            cookbook=book,
            table=table,
            rules=rules,
            people=people,
            cooler_l=cooler_l,
            ice_kg=_ice_at(kitchen.food_ice, kitchen.stops[stop].when.timestamp()),
        )
        for stop in range(len(kitchen.stops))
    ]
    load = make_load(
        menu,
        shopping,
        kitchen.stops,
        cookbook=book,
        table=table,
        cooler_l=cooler_l,
        limit_kg=trip.luggage.food_kg,
        limit_bag_l=trip.luggage.food_l,
        others=[*_ice_changes(plan, kitchen), *_water_changes(plan, water)],
    )
    return {
        "menu": menu_document(menu, cookbook=book, table=table, people=people, care=care),
        "shopping": shopping_document(shopping, kitchen.stops, cookbook=book, reserve=reserve),
        "packing": packing_document(
            packings, kitchen.stops, cookbook=book, rules=rules, sources=sources
        ),
        "load": load_document(
            load,
            water=water,
            fuel=stove_fuel(menu, rations, kitchen=cooking, people=people),
            rations=rations,
            sources=sources,
        ),
    }


def _local(plan: TripPlan, at_s: float) -> Any:
    starts = plan.clock.depart_s
    leg = plan.legs[max(int(np.searchsorted(starts, at_s, side="right")) - 1, 0)]
    return plan.clock.local(leg.end_m, at_s)


def _highest_m(plan: TripPlan) -> float | None:
    ele_m = plan.prepared.route.ele_m
    return float(np.nanmax(ele_m)) if np.isfinite(ele_m).any() else None


def _ice_at(ice: IcePlan, at_s: float) -> float:
    """Ice on board just after an instant; 0 where it is not known."""
    trace = ice.trace
    last = int(np.searchsorted(trace.times_s, at_s + 1.0, side="right")) - 1
    kg = float(trace.ice_kg[max(last, 0)])
    return kg if np.isfinite(kg) else 0.0


def _ice_changes(plan: TripPlan, kitchen: KitchenPlan) -> list[LoadChange]:
    """Ice on board as it is after each purchase; what melts between is not yet taken off."""
    changes = []
    for ice in (kitchen.food_ice, kitchen.drinks_ice):
        if ice is None:
            continue
        before_kg = 0.0
        for purchase in ice.purchases:
            at_s = purchase.stop.at_s
            now_kg = max(_ice_at(ice, at_s), purchase.kg)
            label = f"ice for {ice.cooler.name}"
            when = _local(plan, at_s)
            changes.append(LoadChange(when, "other", 0, label, now_kg - before_kg, 0.0, 0.0))
            before_kg = now_kg
    return changes


def _water(plan: TripPlan, kitchen: KitchenPlan, rations: Any) -> dict[int, WaterNeed]:
    first = plan.legs[0].date
    cooking: dict[int, float] = {}
    if kitchen.menu is not None:
        by_slot = cooking_water_l(kitchen.menu, plan.trip.party.people)
        for slot in kitchen.slots:
            cooking[slot.day] = cooking.get(slot.day, 0.0) + by_slot.get(slot.index, 0.0)
    riding = {(leg.date - first).days + 1: leg.ride_s / 3600.0 for leg in plan.legs}
    return {
        (day.date - first).days + 1: water_need(
            rations,
            high_c=day.high_c,
            riding_h=riding.get((day.date - first).days + 1, 0.0),
            people=plan.trip.party.people,
            cook_l=cooking.get((day.date - first).days + 1, 0.0),
        )
        for day in kitchen.weather
        if day.date <= plan.legs[-1].date
    }


def _water_changes(plan: TripPlan, water: dict[int, WaterNeed]) -> list[LoadChange]:
    """Take on a whole day's water each morning and use it up by the evening: the cautious case."""
    first = plan.legs[0].date
    changes = []
    for leg in plan.legs:
        need = water.get((leg.date - first).days + 1)
        if need is None:
            continue
        kg = need.drink_l + need.cook_l
        arrive = plan.clock.local(leg.end_m, float(plan.clock.arrive_s(leg.end_m)[0]))
        changes.append(LoadChange(leg.depart, "other", 0, "water for the day", kg, 0.0, 0.0))
        changes.append(LoadChange(arrive, "other", 0, "water used", -kg, 0.0, 0.0))
    return changes
