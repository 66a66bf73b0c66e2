"""Cold chain, menu, lists, packing, load and cautions of a plan, as blocks of its document."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import Sentence
from resupply.common.units import S_PER_HOUR
from resupply.kitchen.cold.cooler import stowage_l_per_kg
from resupply.kitchen.food.care import boil_minutes, care_for, load_care, situation_of
from resupply.kitchen.food.load import LoadChange, LoadLimits, make_load
from resupply.kitchen.food.packing import CoolerNow, load_packing_rules, pack
from resupply.kitchen.food.rations import (
    cooking_water_l,
    energy_words,
    load_rations,
    stove_fuel,
    water_need,
)
from resupply.kitchen.food.sources import load_sources
from resupply.report.document.cold import cold_document
from resupply.report.document.food import (
    care_document,
    load_document,
    packing_document,
    shopping_document,
)
from resupply.report.document.ice import add_ice, coolers_of, ice_at, ice_changes, room_at
from resupply.report.document.menu import menu_document
from resupply.report.document.model.shopping import ReserveList, ShoppingDocument
from resupply.report.document.supplies import gaps_of_water, trip_day, water_block

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from resupply.kitchen.food.care import CareTable
    from resupply.kitchen.food.meals import Menu
    from resupply.kitchen.food.rations import WaterNeed
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.food.sources import Reference
    from resupply.kitchen.food.storage_classes import TableValue
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan
    from resupply.report.document.model.care import CareDocument
    from resupply.report.document.model.cold import ColdDocument
    from resupply.report.document.model.load import LoadDocument
    from resupply.report.document.model.menu import MenuDocument
    from resupply.report.document.model.packing import PackingDocument
    from resupply.report.document.model.supplies import WaterDocument
    from resupply.say.names import Words
    from resupply.supply.water import WaterGap

__all__ = ["KitchenBlocks", "kitchen_blocks"]

_NO_COOLER = (
    "No cooler: food that needs cold is planned only where it is eaten within 2 hours of the "
    "shop, 1 hour in the heat."
)
_UNDER_WAY = "The menu begins at the next stop; until then eat what is on board."

_PEANUTS = (
    "You keep out nuts but not peanuts, which count as an allergen of their own: add them to the "
    "trip's allergens if they harm you too."
)


@dataclass(frozen=True, slots=True)
class KitchenBlocks:
    """Blocks of the plan document that tell of the kitchen; None where nothing is planned."""

    care: CareDocument
    water: WaterDocument
    cold: ColdDocument | None = None
    menu: MenuDocument | None = None
    shopping: ShoppingDocument | None = None
    packing: PackingDocument | None = None
    load: LoadDocument | None = None


def kitchen_blocks(plan: TripPlan, kitchen: KitchenPlan, words: Words) -> KitchenBlocks:
    """Make the blocks of the kitchen, where they are planned."""
    sources, care, rations = load_sources(), load_care(), load_rations()
    coolers = coolers_of(kitchen)
    water = _water(plan, kitchen, rations)
    gaps = gaps_of_water(plan, water, words)
    blocks = KitchenBlocks(
        care=_care(plan, kitchen, care, sources),
        water=water_block(plan, water, gaps, words),
        cold=cold_document(
            coolers,
            weather=kitchen.weather,
            local=lambda at_s: _local(plan, at_s),
            problems=kitchen.problems,
            other=kitchen.other_ice,
            assumed=kitchen.assumed,
        )
        if coolers
        else None,
    )
    if kitchen.menu is not None and kitchen.shopping is not None:
        menu, shopping = kitchen.menu, kitchen.shopping
        told, lists, packing = _menu_blocks(plan, kitchen, menu, shopping, sources, care)
        load = _load(plan, kitchen, menu, shopping, water, gaps, rations, sources)
        return replace(blocks, menu=told, shopping=lists, packing=packing, load=load)
    lists_of_ice = add_ice((), plan, kitchen) if coolers else ()
    if lists_of_ice:
        nothing = ReserveList(dishes=(), lines=(), words=Sentence())
        only_ice = ShoppingDocument(
            people=kitchen.given.people, stops=lists_of_ice, reserve=nothing
        )
        return replace(blocks, shopping=only_ice)
    return blocks


def _care(
    plan: TripPlan, kitchen: KitchenPlan, care: CareTable, sources: Mapping[str, Reference]
) -> CareDocument:
    trip = plan.trip
    highs = [day.high_c for day in kitchen.weather if day.date <= plan.legs[-1].date]
    highest_m = _highest_m(plan)
    situation = situation_of(
        kitchen.given,
        kitchen.menu,
        cooler=kitchen.food_ice.cooler.kind != "none",
        under_way=trip.now.at_km is not None and trip.now.food_meals > 0,
        untreated_water=trip.food.untreated_water,
        highest_m=highest_m,
        hottest_c=None if None in highs else max(h for h in highs if h is not None),
        bears=trip.region.bears,
    )
    boil_min = boil_minutes(care, highest_m) if trip.food.untreated_water else None
    return care_document(
        care_for(situation, care),
        care=care,
        sources=sources,
        situation=situation,
        boil_min=boil_min,
    )


def _menu_blocks(
    plan: TripPlan,
    kitchen: KitchenPlan,
    menu: Menu,
    shopping: Shopping,
    sources: Mapping[str, Reference],
    care: CareTable,
) -> tuple[MenuDocument, ShoppingDocument, PackingDocument]:
    given = kitchen.given
    book, first = given.cookbook, kitchen.first_stop
    rules = load_packing_rules()
    packings = [
        pack(given, menu, number, rules, _cooler_now(plan, kitchen, stop.when.timestamp()))
        for number, stop in enumerate(given.stops)
    ]
    told = menu_document(
        menu,
        cookbook=book,
        table=given.storage,
        people=given.people,
        care=care,
        shopping=shopping,
        first_stop=first,
    )
    energy = f"{energy_words(menu, book, load_rations())} {told.words.energy}".strip()
    told = replace(
        told,
        words=replace(told.words, energy=energy),
        warnings=(*told.warnings, *_menu_warnings(plan, kitchen)),
    )
    lists = shopping_document(
        shopping, given.stops, cookbook=book, reserve=kitchen.reserve, first_stop=first
    )
    return (
        told,
        replace(lists, stops=add_ice(lists.stops, plan, kitchen)),
        packing_document(
            packings,
            given.stops,
            cookbook=book,
            rules=rules,
            sources=sources,
            first_stop=first,
        ),
    )


def _menu_warnings(plan: TripPlan, kitchen: KitchenPlan) -> list[str]:
    party, said = plan.trip.party, []
    if kitchen.food_ice.cooler.kind == "none":
        said.append(_NO_COOLER)
    if kitchen.first_stop:
        said.append(_UNDER_WAY)
    if "nuts" in party.allergens and "peanuts" not in party.allergens:
        said.append(_PEANUTS)
    known = frozenset[str]().union(*(d.labels for d in kitchen.given.cookbook.dishes.values()))
    if strange := sorted(set(party.leave_out) - known):
        said.append(f"No dish has the id or tag {', '.join(strange)}: none is left out for it.")
    if strange := sorted(set(party.prefer) - known):
        said.append(f"No dish has the id or tag {', '.join(strange)}: none is preferred for it.")
    return said


def _load(
    plan: TripPlan,
    kitchen: KitchenPlan,
    menu: Menu,
    shopping: Shopping,
    water: Mapping[int, WaterNeed],
    gaps: Sequence[WaterGap],
    rations: Mapping[str, TableValue],
    sources: Mapping[str, Reference],
) -> LoadDocument:
    trip = plan.trip
    ice, cooled = kitchen.food_ice, kitchen.food_ice.cooler.kind != "none"
    others = ice_changes(kitchen, lambda at_s: _local(plan, at_s))
    load = make_load(
        kitchen.given,
        menu,
        shopping,
        LoadLimits(
            cooler_l=ice.cooler.usable_l if cooled else None,
            luggage_kg=trip.luggage.food_kg,
            bag_l=trip.luggage.food_l,
        ),
        others=[*others, *_water_changes(plan, water, gaps)],
        room_l=(lambda at_s: room_at(ice, at_s)) if cooled else None,
    )
    return load_document(
        load,
        water=water,
        first_date=trip.start.date or plan.legs[0].date,
        fuel=stove_fuel(menu, rations, kitchen=kitchen.given.cooking, people=kitchen.given.people),
        rations=rations,
        sources=sources,
        first_stop=kitchen.first_stop,
    )


def _cooler_now(plan: TripPlan, kitchen: KitchenPlan, at_s: float) -> CoolerNow | None:
    """Tell what is in the food cooler when leaving a stop; None without one."""
    cooler = kitchen.food_ice.cooler
    if cooler.kind == "none":
        return None
    ice_kg = ice_at(kitchen.food_ice, at_s)
    return CoolerNow(
        volume_l=cooler.volume_l,
        usable_l=cooler.usable_l,
        ice_kg=ice_kg,
        ice_l=ice_kg * stowage_l_per_kg(plan.trip.cooler.form),
        packs_kg=cooler.packs_kg,
        packs_l=cooler.packs_l,
        rests_l=sum(rest.room_l for rest in kitchen.rests if rest.in_s <= at_s < rest.out_s),
    )


def _local(plan: TripPlan, at_s: float) -> dt.datetime:
    starts = plan.clock.depart_s
    leg = plan.legs[max(int(np.searchsorted(starts, at_s, side="right")) - 1, 0)]
    return plan.clock.local(leg.end_m, at_s)


def _highest_m(plan: TripPlan) -> float | None:
    ele_m = plan.prepared.route.ele_m
    return float(np.nanmax(ele_m)) if np.isfinite(ele_m).any() else None


def _water(
    plan: TripPlan, kitchen: KitchenPlan, rations: Mapping[str, TableValue]
) -> dict[int, WaterNeed]:
    """Water by day of the trip."""
    cooking: dict[int, float] = {}
    if kitchen.menu is not None:
        by_slot = cooking_water_l(kitchen.menu, plan.trip.party.people)
        for slot in kitchen.given.slots:
            day = trip_day(plan, slot.when.date())
            cooking[day] = cooking.get(day, 0.0) + by_slot.get(slot.index, 0.0)
    riding = {trip_day(plan, leg.date): leg.ride_s / S_PER_HOUR for leg in plan.legs}
    return {
        (day := trip_day(plan, weather.date)): water_need(
            rations,
            high_c=weather.high_c,
            riding_h=riding.get(day, 0.0),
            people=plan.trip.party.people,
            cook_l=cooking.get(day, 0.0),
        )
        for weather in kitchen.weather
        if weather.date <= plan.legs[-1].date
    }


def _water_changes(
    plan: TripPlan, water: Mapping[int, WaterNeed], gaps: Sequence[WaterGap]
) -> list[LoadChange]:
    """Take on at each place with water what is needed to the next, as the water block tells.

    It counts as used up on arrival there: the cautious case. Where the map is missing nobody can
    tell how far it must last; a day's water is counted then.
    """
    day_l = max((need.total_l for need in water.values()), default=0.0)
    changes = []
    for gap in gaps:
        kg = min(gap.litres, day_l) if gap.crosses_unknown else gap.litres
        if kg < 0.05:
            continue
        times_s = plan.clock.arrive_s(np.array([gap.start_m, gap.end_m]))
        start_s = max(float(times_s[0]), float(plan.clock.depart_s[0]))
        end_s = max(float(times_s[1]), start_s)
        filled, empty = plan.clock.local(gap.start_m, start_s), plan.clock.local(gap.end_m, end_s)
        changes.append(LoadChange(empty, "other", 0, "water used", -kg, 0.0, 0.0))
        changes.append(LoadChange(filled, "other", 0, "filling up water", kg, 0.0, 0.0))
    return changes
