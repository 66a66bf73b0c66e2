"""Who eats what they can cook, when, and from which shop: what a menu is planned from.

In: a trip and its supply plan. Out: a `MenuInput`; and of a menu made from it, what rides in the
cooler.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.errors import TripFileError
from resupply.common.units import S_PER_HOUR
from resupply.hours.holidays import country_of
from resupply.kitchen.cold.steps import Stored
from resupply.kitchen.food.dishes import Allergen, MealKind, load_cookbook, sold_in
from resupply.kitchen.food.fire import fire_at, on_its_heat
from resupply.kitchen.food.load import goes_in_cooler
from resupply.kitchen.food.meals import Diet, Helpings, Kitchen, MealSlot, MenuInput, ShopVisit
from resupply.kitchen.food.rests import rests_of
from resupply.kitchen.food.storage_classes import load_storage

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Collection, Iterator, Mapping, Sequence
    from pathlib import Path

    from resupply.kitchen.cold.weather import DayWeather
    from resupply.kitchen.food.dishes import Cookbook
    from resupply.kitchen.food.meals import Menu
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.food.storage_classes import StorageTable
    from resupply.route.clock import MealTime
    from resupply.supply.food_stops import SupplyPlan
    from resupply.trip.settings import Trip

__all__ = ["MapFacts", "diet_of", "food_inside", "make_menu_input", "rests_inside"]

_SEARCHES = 25
"""For the best menu: our choice, some ten times the work."""
_COOKED_S = 1800.0
"""From arrival in camp until a quick dinner is cooked (our choice)."""
_EARLY_S = 2 * S_PER_HOUR
"""Dinner is not brought forward by more than this (our choice)."""
_CHILLED_C = 4.0
"""Food from a shop's fridge or the one at home (an assumption)."""
_UNCHILLED_EGGS = (
    "AT BE BG CY CZ DE DK EE ES FI FR GB GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK"
)
"""Where eggs are not chilled before they are sold: the European Union, by Regulation (EC) 589/2008
(read on trade pages), and the United Kingdom (from memory)."""


@dataclass(frozen=True, slots=True)
class MapFacts:
    """What the map says that matters to a cook."""

    trades: Mapping[int, str] = field(default_factory=dict)
    """Kinds of the food stops that are not full shops, e.g. `shop=bakery`, by their numbers."""
    camp_fires: Mapping[int, bool] = field(default_factory=dict)
    """Whether a fire may be lit in camp, by the number of the day that ends there; days not given
    are not known."""


@dataclass(frozen=True, slots=True, eq=False)
class OtherDishes:
    """Dishes that are not only those of the collection."""

    own: Path | None = None
    """File of the rider's own dishes."""
    stay: Menu | None = None
    """The menu of another plan of the trip: its dishes stay where they may."""


def make_menu_input(
    trip: Trip,
    supply: SupplyPlan,
    stop_names: Sequence[str],
    *,
    weather: Sequence[DayWeather] = (),
    said: MapFacts | None = None,
    others: OtherDishes | None = None,
) -> MenuInput:
    """Read a trip's meals, shops, dishes and diet.

    Parameters
    ----------
    weather
        Low and high by date; dates not given are not known.
    said
        What the map says of the stops and camps; None for nothing.
    others
        Dishes besides the collection, or of another plan of the trip; None for none.

    Raises
    ------
    TripFileError
        A wrong allergen or dish file.
    """
    storage, said, others = load_storage(), said or MapFacts(), others or OtherDishes()
    food = trip.food
    slots = _slots(trip, supply, weather, said.camp_fires)
    return MenuInput(
        slots=slots,
        stops=_stops(trip, supply, stop_names, said.trades),
        cookbook=_cookbook(trip, supply, storage, others.own),
        storage=storage,
        diet=diet_of(trip),
        cooking=Kitchen(stove=food.stove, late_minutes=food.cook_late_min),
        people=trip.party.people,
        helpings=_helpings(trip),
        kept=_kept(slots, others.stay) if others.stay else {},
    )


def _kept(slots: Sequence[MealSlot], like: Menu) -> dict[int, str]:
    """Take the dishes of another menu meal by meal, from the first that both have.

    What is on board is eaten in the same order, however far the days go.
    """
    when = [(meal.slot.day, meal.slot.kind) for meal in like.meals]
    first = (slots[0].day, slots[0].kind) if slots else None
    ahead = like.meals[when.index(first) :] if first in when else like.meals
    return {
        n: meal.dish.id
        for n, (slot, meal) in enumerate(zip(slots, ahead, strict=False))
        if meal.dish is not None and meal.slot.kind == slot.kind
    }


def _helpings(trip: Trip) -> Helpings:
    people = trip.party.people
    stated = trip.party.appetite[:people]
    return Helpings(
        sum(stated) + people - len(stated),
        trip.food.kcal_per_day,
        searches=_SEARCHES if trip.food.menu == "best" else 1,
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
    for meal in menu.meals:
        for use in meal.uses(given.people):
            yield from _ridden(given, use.ingredient, use.amount, use.bought.stop, meal.slot.when)
    for extra in menu.extras:
        yield from _ridden(given, extra.ingredient, extra.amount, extra.stop, extra.when)


def _ridden(
    given: MenuInput, key: str, amount: float, stop: int, eaten: dt.datetime
) -> Iterator[Stored]:
    """Food that rides in the cooler from its shop until it is eaten, if it is of that kind."""
    storage, part = given.storage, given.cookbook.ingredients[key]
    if not goes_in_cooler(storage, part.storage):
        return
    in_s, out_s = given.stops[stop].when.timestamp(), eaten.timestamp()
    # What is eaten within an hour of the shop needs no cooler.
    if out_s - in_s > storage.rule["hot_h"].value * S_PER_HOUR:
        kg = amount * part.unit_kg
        frozen = part.frozen if given.stops[stop].freezer else 0.0
        yield Stored(
            part.name,
            kg,
            in_s,
            out_s,
            temp_c=0.0 if frozen else _CHILLED_C,
            volume_l=kg * part.l_per_kg,
            frozen_water_share=frozen,
            perishable=storage.classes[part.storage].needs_cold,
        )


def _stops(
    trip: Trip, supply: SupplyPlan, names: Sequence[str], trades: Mapping[int, str]
) -> tuple[ShopVisit, ...]:
    bought = [
        ShopVisit(
            name,
            supply.clock.local(stop.on_board_m, stop.arrive_s),
            full=stop.full,
            trade=trades.get(stop.number, ""),
        )
        for stop, name in zip(supply.stops, names, strict=True)
    ]
    if supply.asked.start_meals is not None:
        # Under way there is no kitchen at home to buy from.
        return tuple(bought)
    at_home = ShopVisit(
        "home",
        supply.clock.legs[0].depart,
        full=True,
        weighed=trip.food.weigh_at_home,
        freezer=trip.food.freezer,
    )
    return (at_home, *bought)


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
        soon = _on_arrival(supply, meal) if trip.cooler.kind == "none" else None
        slots.append(
            MealSlot(
                index=len(slots),
                when=soon or meal.when,
                at_once=soon is not None,
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


def _on_arrival(supply: SupplyPlan, meal: MealTime) -> dt.datetime | None:
    """When a dinner may be eaten to cook at once what was bought on the way; None as usual.

    Without a cooler, fresh food is bought in the last hours before camp and goes into the pan
    on arrival. Whether it is soon enough the storage limits decide: two hours, one in the heat.
    """
    clock = supply.clock
    today_s = float(clock.depart_s[meal.leg_ix])
    bought = [
        stop
        for stop in supply.stops
        if stop.leg_ix == meal.leg_ix and stop.full and stop.arrive_s >= today_s
    ]
    if meal.kind != "dinner" or meal.resting or not bought:
        return None
    stop = bought[-1]
    leg = clock.legs[meal.leg_ix]
    # A shop visited from camp lies half of its way from there.
    back_s = stop.leave_s + (stop.way_s / 2.0 if stop.from_camp else 0.0)
    eaten_s = max(float(clock.arrive_s(leg.end_m)[0]), back_s) + _COOKED_S
    usual_s = meal.when.timestamp()
    if usual_s - stop.arrive_s <= S_PER_HOUR or not usual_s - _EARLY_S <= eaten_s < usual_s:
        return None
    return clock.local(leg.end_m, eaten_s)


def _cookbook(trip: Trip, supply: SupplyPlan, storage: StorageTable, own: Path | None) -> Cookbook:
    """Read the dishes, each on its heat, packs and eggs as they are sold there."""
    country = country_of(trip.region.country, supply.clock.legs[0].depart.tzinfo)
    book = on_its_heat(sold_in(load_cookbook(storage, own), country), stove=trip.food.stove)
    if trip.party.strict_allergens:
        book = _strictly(book, diet_of(trip).avoid)
    if not _eggs_unchilled(trip, country):
        return book
    shelf = {
        key: replace(part, storage="shelf-eggs") if part.storage == "raw-eggs" else part
        for key, part in book.ingredients.items()
    }
    return replace(book, ingredients=shelf)


def _strictly(book: Cookbook, avoid: Collection[Allergen]) -> Cookbook:
    """Let what may contain an allergen to keep out count as food that contains it."""
    parts = {
        key: replace(
            part,
            allergens=(*part.allergens, *(a for a in part.may_contain if a in avoid)),
            may_contain=tuple(a for a in part.may_contain if a not in avoid),
        )
        for key, part in book.ingredients.items()
    }
    return replace(book, ingredients=parts)


def _eggs_unchilled(trip: Trip, country: str | None) -> bool:
    """Whether eggs are sold unchilled where the trip begins; not where that is not known."""
    if trip.food.eggs != "by_country":
        return trip.food.eggs == "unchilled"
    return country in _UNCHILLED_EGGS.split()


def diet_of(trip: Trip) -> Diet:
    """Read what the party eats.

    Raises
    ------
    TripFileError
        An allergen that is none.
    """
    party = trip.party
    try:
        avoid = frozenset(Allergen(name.strip().lower()) for name in party.allergens)
    except ValueError as error:
        known = ", ".join(allergen.value for allergen in Allergen)
        raise TripFileError(
            f"party.allergens: {error}",
            mend=f"Use these names: {known}",
            key="party.allergens",
            problem=f"{error}; use these names: {known}",
        ) from error
    vegans = party.diets.get("vegan", 0) if party.diet != "vegan" else 0
    vegetarians = party.diets.get("vegetarian", 0) if party.diet == "any" else 0
    return Diet(
        vegetarian=party.diet != "any" or vegans + vegetarians == party.people,
        vegan=party.diet == "vegan" or vegans == party.people,
        avoid=avoid,
        leave_out=frozenset(party.leave_out),
        prefer=frozenset(party.prefer),
        # What all of them keep to is no matter of some.
        vegetarians=vegetarians if vegans + vegetarians < party.people else 0,
        vegans=vegans if vegans < party.people else 0,
    )
