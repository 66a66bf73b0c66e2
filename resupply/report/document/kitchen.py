"""Cold chain, menu, lists, packing, load and cautions of a plan, as blocks of its document."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from resupply.common.quantity import Sentence
from resupply.kitchen.food.care import boil_minutes, care_for, load_care
from resupply.kitchen.food.packing import load_packing_rules
from resupply.kitchen.food.rations import energy_words, load_rations
from resupply.kitchen.food.sources import load_sources
from resupply.kitchen.food.storage_classes import Keeping
from resupply.kitchen.on_bikes import loaded_bikes
from resupply.kitchen.on_board import (
    coolers_of,
    fuel_and_gear,
    load_on_board,
    local,
    packings_of,
    situation_on,
    water_by_day,
    water_gaps_of,
)
from resupply.report.document.bikes import lists_by_bike, packing_by_bike
from resupply.report.document.cold import cold_document
from resupply.report.document.food import (
    care_document,
    load_document,
    packing_document,
    shopping_document,
)
from resupply.report.document.ice import add_ice
from resupply.report.document.list_rows import with_gear
from resupply.report.document.menu import menu_document
from resupply.report.document.model.shopping import KitList, ReserveList, ShoppingDocument
from resupply.report.document.supplies import water_block, water_shops, with_water

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.kitchen.food.care import CareTable
    from resupply.kitchen.food.meals import Menu
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.food.sources import Reference
    from resupply.kitchen.food.storage_classes import StorageClass
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan
    from resupply.report.document.model.care import CareDocument
    from resupply.report.document.model.cold import ColdDocument
    from resupply.report.document.model.load import LoadDocument
    from resupply.report.document.model.menu import MenuDocument
    from resupply.report.document.model.packing import PackingDocument
    from resupply.report.document.model.supplies import WaterDocument
    from resupply.say.names import Words

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
    water = water_by_day(plan.trip, plan.clock, kitchen)
    gaps = water_gaps_of(
        plan.trip, plan.clock, plan.prepared, with_water(plan), water, water_shops(plan)
    )
    blocks = KitchenBlocks(
        care=_care(plan, kitchen, care, sources),
        water=water_block(plan, water, gaps, words),
        cold=cold_document(
            coolers,
            weather=kitchen.weather,
            local=lambda at_s: local(plan.clock, at_s),
            problems=kitchen.problems,
            other=kitchen.other_ice,
            assumed=kitchen.assumed,
            spared=kitchen.spared,
        )
        if coolers
        else None,
    )
    if kitchen.menu is not None and kitchen.shopping is not None:
        menu, shopping = kitchen.menu, kitchen.shopping
        told, lists, packing = _menu_blocks(plan, kitchen, menu, shopping, sources, care)
        fuel, gear = fuel_and_gear(plan.clock, plan.prepared.route, kitchen, menu)
        load = load_on_board(
            plan.trip,
            plan.clock,
            kitchen,
            (menu, shopping),
            (water, gaps),
            gear_kg=sum(one.mass_kg for one in gear),
        )
        bikes = loaded_bikes(plan.trip, plan.clock, kitchen, (menu, shopping), (water, gaps), gear)
        book, first = kitchen.given.cookbook, kitchen.first_stop
        return replace(
            blocks,
            menu=told,
            shopping=lists_by_bike(with_gear(lists, gear), bikes, first),
            packing=packing_by_bike(packing, bikes, book),
            load=load_document(
                load,
                water=water,
                first_date=plan.trip.start.date or plan.legs[0].date,
                fuel=fuel,
                rations=rations,
                sources=sources,
                first_stop=first,
            ),
        )
    lists_of_ice = add_ice((), plan, kitchen) if coolers else ()
    if lists_of_ice:
        nothing = ReserveList(dishes=(), lines=(), words=Sentence())
        no_kit = KitList(lines=(), words=Sentence())
        only_ice = ShoppingDocument(
            people=kitchen.given.people,
            stops=lists_of_ice,
            kit=no_kit,
            gear=no_kit,
            reserve=nothing,
        )
        return replace(blocks, shopping=only_ice)
    return blocks


def _care(
    plan: TripPlan, kitchen: KitchenPlan, care: CareTable, sources: Mapping[str, Reference]
) -> CareDocument:
    situation = situation_on(plan.trip, plan.clock, plan.prepared.route, kitchen)
    boil_min = boil_minutes(care, situation.highest_m) if situation.untreated_water else None
    return care_document(
        care_for(situation, care),
        care=care,
        sources=sources,
        situation=situation,
        limits=_limits(kitchen),
        figures=load_rations(),
        boil_min=boil_min,
    )


def _limits(kitchen: KitchenPlan) -> tuple[StorageClass, ...]:
    """Kinds of food on the menu that do not keep."""
    given = kitchen.given
    meals = kitchen.menu.meals if kitchen.menu is not None else ()
    parts = (p for meal in meals if meal.dish for p in given.cookbook.parts(meal.dish))
    rows = {part.storage: given.storage.classes[part.storage] for part in parts}
    return tuple(row for row in rows.values() if row.keeping is not Keeping.STABLE)


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
    packings = packings_of(plan.trip, kitchen, menu)
    told = menu_document(
        menu,
        cookbook=book,
        table=given.storage,
        people=given.people,
        care=care,
        diet=given.diet,
        shopping=shopping,
        first_stop=first,
    )
    energy = f"{energy_words(menu, given, load_rations())} {told.words.energy}".strip()
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
