"""The cold chain and the menu of a planned trip, in their order.

In: a supply plan with its clock, the trip's cooler, weather and party. Out: a `KitchenPlan`.

Menu, lists and ice are chosen by `agree`, together; what is derived from them follows. The supply
plan is never edited.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from resupply.common.progress import go_on
from resupply.common.quantity import limit, line, mass
from resupply.kitchen.agree import agree
from resupply.kitchen.cold.simulate import LIMIT_C
from resupply.kitchen.cold.steps import Stored
from resupply.kitchen.coolers import FoodCooler, drinks_note, plan_drinks
from resupply.kitchen.food.load import LoadLimits, make_load
from resupply.kitchen.food.menu import reserve_dishes
from resupply.kitchen.ice_price import stays_at_home
from resupply.kitchen.menu_input import make_menu_input, rests_inside
from resupply.kitchen.second_menu import second_menus

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from resupply.common.quantity import Sentence
    from resupply.kitchen.cold.ice_plan import IcePlan
    from resupply.kitchen.cold.ice_search import IceChance
    from resupply.kitchen.cold.weather import DayWeather
    from resupply.kitchen.food.dishes import Dish
    from resupply.kitchen.food.meals import Menu, MenuInput
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.ice_price import Spared
    from resupply.kitchen.menu_input import MapFacts, OtherDishes
    from resupply.kitchen.second_menu import SecondMenu
    from resupply.supply.food_stops import SupplyPlan
    from resupply.trip.settings import Trip

__all__ = ["KitchenPlan", "plan_kitchen"]

_OWN_KG = 1.0
"""Perishable food a person where no menu tells it (an assumption)."""


@dataclass(frozen=True, slots=True, eq=False)
class KitchenPlan:
    """Food, its cold and its order."""

    given: MenuInput
    weather: tuple[DayWeather, ...]
    food_ice: IcePlan
    """Of the food cooler; kind "none" without one."""
    other_ice: IcePlan | None
    """The same food with blocks instead of cubes, or the reverse; None where no ice is bought."""
    drinks_ice: IcePlan | None
    menu: Menu | None
    shopping: Shopping | None
    reserve: tuple[Dish, ...]
    carried_kg: tuple[float, ...]
    """Food on board leaving each of the menu's stops, reserve included; empty without a menu."""
    first_stop: int
    """Number of the plan's stop that the first of the menu's stops is; 0 is home."""
    assumed: tuple[Sentence, ...] = ()
    """What was taken for granted about the food; sentences."""
    problems: tuple[str, ...] = ()
    """What could not be had, e.g. a forecast; sentences."""
    second: tuple[SecondMenu, ...] = ()
    """What to do where ice that is only likely is not there, in order of time."""
    spared: Spared | None = None
    """Cold food that is not planned, as its ice would outweigh it by far."""
    rests: tuple[Stored, ...] = ()
    """What is left of packs in the food cooler, for meals to come or for the next bin."""

    @property
    def cooled(self) -> bool:
        """Whether a food cooler rides along: not where its ice would outweigh all it keeps."""
        ice = self.food_ice
        return ice.cooler.kind != "none" and not (self.spared and stays_at_home(ice))


def plan_kitchen(
    trip: Trip,
    supply: SupplyPlan,
    *,
    stop_names: Sequence[str],
    ice: Sequence[IceChance],
    weather: tuple[DayWeather, ...],
    said: MapFacts | None = None,
    others: OtherDishes | None = None,
    step: Callable[[], None] = go_on,
) -> KitchenPlan:
    """Plan ice, temperature, menu and lists.

    Parameters
    ----------
    stop_names
        Names of the plan's stops, in order.
    ice
        Where ice can be had on the way.
    weather
        One row per date of the trip; see `resupply.kitchen.coolers.day_weather`.
    said
        What the map says of the stops and camps.
    others
        Dishes besides the collection, or of another plan of the trip.
    step
        Called again and again; what it raises ends the work.

    Raises
    ------
    TripFileError
        A wrong cooler, allergen or dish file.
    """
    clock = supply.clock
    given = make_menu_input(trip, supply, stop_names, weather=weather, said=said, others=others)
    given = replace(given, step=step)
    box = FoodCooler.of(trip, clock, weather, ice)
    has_menu = trip.food.plan_menu and bool(given.slots)
    own, assumed = _own_food(trip, supply, box, has_menu=has_menu)
    menu: Menu | None = None
    shopping: Shopping | None = None
    reserve: tuple[Dish, ...] = ()
    stored, problems = own, tuple[str, ...]()
    spared: Spared | None = None
    if has_menu:
        reserve = reserve_dishes(given.cookbook, given.diet, supply.spare_meals)
        agreed = agree(given, box, own, reserve)
        menu, shopping, stored = agreed.menu, agreed.shopping, agreed.stored
        food_ice, problems, spared = agreed.ice, agreed.problems, agreed.spared
        given = agreed.given or given
    else:
        food_ice = box.plan(own)
    bought = {purchase.stop.key for purchase in food_ice.purchases}
    if box.cooler.kind != "none":
        # Comfort is worth no stop of its own: drinks are iced where food or its ice is bought.
        ice = [chance for chance in ice if chance.anyway or chance.key in bought]
    drinks_ice = plan_drinks(trip, clock, weather, ice)
    if drinks_ice is not None:
        assumed = (*assumed, drinks_note())
    return KitchenPlan(
        given=given,
        weather=weather,
        food_ice=food_ice,
        other_ice=_with_other_ice(box, stored, food_ice),
        drinks_ice=drinks_ice,
        menu=menu,
        shopping=shopping,
        reserve=reserve,
        carried_kg=_carried_kg(given, menu, shopping),
        first_stop=int(supply.asked.start_meals is not None),
        assumed=assumed,
        problems=(*problems, *_unknown_weather(supply, weather)),
        second=second_menus(given, box, own, (menu, shopping), food_ice)
        # Another plan of the trip is ridden because something is missing already.
        if menu and shopping and not given.kept
        else (),
        spared=spared,
        rests=rests_inside(given, menu, shopping) if menu and shopping else (),
    )


def _own_food(
    trip: Trip, supply: SupplyPlan, box: FoodCooler, *, has_menu: bool
) -> tuple[tuple[Stored, ...], tuple[Sentence, ...]]:
    """Food that needs cold and that no menu tells of, and the sentence that says so."""
    if box.cooler.kind == "none":
        return (), ()
    kg = _OWN_KG * trip.party.people
    last_s = float(supply.clock.arrive_s(supply.clock.legs[-1].end_m)[0])
    if not has_menu and trip.now.at_km is None:
        said = line(
            "No menu is planned: {kg} of food that must stay cold counts as inside from start to "
            "end (our assumption).",
            kg=mass(kg),
        )
        return (Stored("your own food", kg, box.around.start_s, last_s),), (said,)
    if trip.now.at_km is not None and trip.now.food_meals > 0:
        until_s = supply.stops[0].arrive_s if supply.stops else last_s
        said = line(
            "What is on board now counts as {kg} of food that must stay cold until the next stop "
            "(our assumption). What was above {limit} for more than 2 hours in all before now, 1 "
            "hour in the heat, is thrown out: the plan cannot know it.",
            kg=mass(kg),
            limit=limit(LIMIT_C),
        )
        return (Stored("food on board", kg, box.around.start_s, until_s),), (said,)
    return (), ()


def _with_other_ice(box: FoodCooler, stored: tuple[Stored, ...], ice: IcePlan) -> IcePlan | None:
    if not ice.purchases:
        return None
    form = ice.purchases[0].stop.form
    return box.plan(stored, "block" if form == "cube" else "cube")


def _carried_kg(
    given: MenuInput, menu: Menu | None, shopping: Shopping | None
) -> tuple[float, ...]:
    if menu is None or shopping is None:
        return ()
    load = make_load(given, menu, shopping, LoadLimits(cooler_l=None))
    return tuple(point.mass_kg for point in load.points if point.change.kind == "stop")


def _unknown_weather(supply: SupplyPlan, weather: Sequence[DayWeather]) -> tuple[str, ...]:
    last = supply.clock.legs[-1].date
    days = [day for day in weather if day.date <= last]
    unknown = sum(not day.known for day in days)
    if not unknown:
        return ()
    part = "any day" if unknown == len(days) else f"{unknown} of {len(days)} days"
    said = (
        f"No weather is known for {part}, so how long ice lasts there is not known either: "
        "give weather.low_c and weather.high_c, or a row for each day."
    )
    return (said,)
