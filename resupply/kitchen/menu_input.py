"""Who eats what they can cook, when, and from which shop: what a menu is planned from.

In: a trip and its supply plan. Out: a `MenuInput`; and of a menu made from it, what rides in the
cooler.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.common.errors import TripFileError
from resupply.common.units import S_PER_HOUR
from resupply.kitchen.cold.steps import Stored
from resupply.kitchen.food.dishes import Allergen, MealKind, load_cookbook
from resupply.kitchen.food.fire import fire_at, on_its_heat
from resupply.kitchen.food.load import goes_in_cooler
from resupply.kitchen.food.meals import Diet, Kitchen, MealSlot, MenuInput, ShopVisit
from resupply.kitchen.food.rests import rests_of
from resupply.kitchen.food.storage_classes import load_storage

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from resupply.kitchen.cold.weather import DayWeather
    from resupply.kitchen.food.meals import Menu
    from resupply.kitchen.food.shopping import Shopping
    from resupply.supply.food_stops import SupplyPlan
    from resupply.trip.settings import Trip

__all__ = ["food_inside", "make_menu_input", "rests_inside"]


def make_menu_input(
    trip: Trip,
    supply: SupplyPlan,
    stop_names: Sequence[str],
    dishes_path: Path | None = None,
    *,
    weather: Sequence[DayWeather] = (),
    camp_fires: Mapping[int, bool] | None = None,
) -> MenuInput:
    """Read a trip's meals, shops, dishes and diet.

    Parameters
    ----------
    weather
        Low and high by date; dates not given are not known.
    camp_fires
        Whether the map says that a fire may be lit in camp, by the number of the day that ends
        there; days not given are not known.

    Raises
    ------
    TripFileError
        A wrong allergen or dish file.
    """
    storage = load_storage()
    food = trip.food
    return MenuInput(
        slots=_slots(trip, supply, weather, camp_fires or {}),
        stops=_stops(supply, stop_names),
        cookbook=on_its_heat(load_cookbook(storage, dishes_path), stove=food.stove),
        storage=storage,
        diet=_diet(trip),
        cooking=Kitchen(stove=food.stove, late_minutes=food.cook_late_min),
        people=trip.party.people,
    )


def food_inside(given: MenuInput, menu: Menu, shopping: Shopping) -> tuple[Stored, ...]:
    """List what rides in the cooler: food from shop to meal, and the rests of its packs."""
    return (*_meals_inside(given, menu), *rests_inside(given, menu, shopping))


def rests_inside(given: MenuInput, menu: Menu, shopping: Shopping) -> tuple[Stored, ...]:
    """List what of packs lies in the cooler beside the meals."""
    stored = []
    for rest in rests_of(given, menu, shopping):
        part = given.cookbook.ingredients[rest.ingredient]
        kg = rest.amount * part.unit_kg
        # The lists use a rest only if it was cold, so it asks for no ice of its own.
        stored.append(
            Stored(
                f"rest: {part.name}",
                kg,
                rest.in_s,
                rest.out_s,
                volume_l=kg * part.l_per_kg,
                perishable=False,
            )
        )
    return tuple(stored)


def _meals_inside(given: MenuInput, menu: Menu) -> Iterator[Stored]:
    storage = given.storage
    first_hour_s = storage.rule["hot_h"].value * S_PER_HOUR
    for meal in menu.meals:
        if meal.dish is None:
            continue
        for portion, item in zip(meal.dish.portions, meal.bought, strict=True):
            part = given.cookbook.ingredients[item.ingredient]
            if not goes_in_cooler(storage, part.storage):
                continue
            kg = portion.amount * part.unit_kg * given.people
            in_s = given.stops[item.stop].when.timestamp()
            out_s = meal.slot.when.timestamp()
            # What is eaten within an hour of the shop needs no cooler.
            if out_s - in_s > first_hour_s:
                yield Stored(
                    part.name,
                    kg,
                    in_s,
                    out_s,
                    volume_l=kg * part.l_per_kg,
                    perishable=storage.classes[part.storage].needs_cold,
                )


def _stops(supply: SupplyPlan, names: Sequence[str]) -> tuple[ShopVisit, ...]:
    bought = [
        ShopVisit(name, supply.clock.local(stop.on_board_m, stop.arrive_s), full=stop.full)
        for stop, name in zip(supply.stops, names, strict=True)
    ]
    if supply.asked.start_meals is not None:
        # Under way there is no kitchen at home to buy from.
        return tuple(bought)
    return (ShopVisit("home", supply.clock.legs[0].depart, full=True), *bought)


def _slots(
    trip: Trip,
    supply: SupplyPlan,
    weather: Sequence[DayWeather],
    camp_fires: Mapping[int, bool],
) -> tuple[MealSlot, ...]:
    clock, food = supply.clock, trip.food
    high_c = {day.date: day.high_c for day in weather}
    bounds = [0, supply.start_carry_meals]
    for stop in supply.stops:
        bounds.append(bounds[-1] + stop.carry_meals)
    first = trip.start.date or clock.legs[0].date
    under_way = supply.asked.start_meals is not None
    slots: list[MealSlot] = []
    for meal in clock.meals:
        stretch = int(np.searchsorted(bounds[1:], meal.index, side="right"))
        if under_way and stretch == 0:
            continue  # eaten from what is on board, which only the rider knows
        day = (meal.date - first).days + 1
        slots.append(
            MealSlot(
                index=len(slots),
                when=meal.when,
                kind=MealKind(meal.kind),
                stretch=stretch - under_way,
                day=day,
                late=meal.late,
                fire=fire_at(
                    MealKind(meal.kind),
                    resting=meal.resting,
                    ban=food.fire_ban,
                    wanted=food.fire,
                    camp=camp_fires.get(clock.legs[meal.leg_ix].number),
                    high_c=high_c.get(meal.date),
                ),
                no_cook=day in food.no_cook_days,
            )
        )
    return tuple(slots)


def _diet(trip: Trip) -> Diet:
    party = trip.party
    try:
        avoid = frozenset(Allergen(name.strip().lower()) for name in party.allergens)
    except ValueError as error:
        known = ", ".join(allergen.value for allergen in Allergen)
        raise TripFileError(
            f"party.allergens: {error}", mend=f"Use these names: {known}"
        ) from error
    return Diet(
        vegetarian=party.diet != "any",
        vegan=party.diet == "vegan",
        avoid=avoid,
        leave_out=frozenset(party.leave_out),
        prefer=frozenset(party.prefer),
    )
