"""The cold chain and the menu of a planned trip, in their order.

In: a supply plan with its clock, the trip's cooler, weather and party. Out: a `KitchenPlan`.

What is in the cooler decides its temperature, and its temperature decides what may be in it.
That loop is cut here: the menu is planned as if the cooler stayed cold, and the ice for that
food; then the menu for the temperature this gives. If the food changed, the ice bought stays as
it is, and temperature and menu are worked out again, for the warmest of all rounds and a few
times at most. The supply plan is never edited.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from resupply.cold.balance import IceLoad
from resupply.cold.cooler import IceTest, make_cooler
from resupply.cold.iceplan import plan_ice
from resupply.cold.icesearch import IceStop as IceChance
from resupply.cold.timeline import Need, Stored
from resupply.cold.weather import DayWeather, make_ambient, sun_spans
from resupply.errors import TripFileError
from resupply.food.classes import load_storage
from resupply.food.dishes import Allergen, MealKind, load_cookbook
from resupply.food.history import make_history
from resupply.food.menu import plan_menu
from resupply.food.model import Diet, MealSlot, Stop
from resupply.food.model import Kitchen as Cooking
from resupply.places.model import Confidence

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from resupply.clock import Clock
    from resupply.cold.cooler import Cooler
    from resupply.cold.iceplan import IcePlan
    from resupply.cold.weather import Ambient
    from resupply.food.classes import StorageTable
    from resupply.food.dishes import Cookbook
    from resupply.food.history import TempHistory
    from resupply.food.model import Menu
    from resupply.supply.choose import SupplyPlan
    from resupply.trip import CoolerKeys, Trip

__all__ = ["KitchenPlan", "day_weather", "history_of", "plan_kitchen", "trip_dates"]

_COLD_C = 3.0
"""Inside of the cooler in the first round, before it is worked out."""
_ROUNDS = 4
_DRINKS_C = 10.0
"""Drinks are wanted at or below this while riding: comfort, not safety (an assumption)."""
_DRINKS_L = 1.5
"""Litres of drinks a person in the drinks cooler each morning (an assumption)."""


@dataclass(frozen=True, slots=True, eq=False)
class KitchenPlan:
    """Food, its cold and its order."""

    weather: tuple[DayWeather, ...]
    food_ice: IcePlan
    """Of the food cooler; kind "none" without one."""
    drinks_ice: IcePlan | None
    menu: Menu | None
    slots: tuple[MealSlot, ...]
    stops: tuple[Stop, ...]
    """Home first, then the plan's food stops."""
    cookbook: Cookbook
    storage: StorageTable
    diet: Diet
    problems: tuple[str, ...] = ()
    """What could not be had, e.g. a forecast; sentences."""


def day_weather(trip: Trip, dates: Sequence[dt.date]) -> tuple[DayWeather, ...]:
    """Low and high of each date as the trip states them; not known where it states none."""
    first = dates[0]
    own = {
        row.date or first + dt.timedelta(days=(row.day or 1) - 1): row for row in trip.weather.days
    }
    out = []
    for date in dates:
        row = own.get(date)
        if row is not None:
            out.append(DayWeather(date, row.low_c, row.high_c, "stated for the day"))
        elif trip.weather.low_c is not None and trip.weather.high_c is not None:
            low, high = trip.weather.low_c, trip.weather.high_c
            out.append(DayWeather(date, low, high, "stated for the trip"))
        else:
            out.append(DayWeather(date, None, None, "not stated"))
    return tuple(out)


def plan_kitchen(
    trip: Trip,
    supply: SupplyPlan,
    *,
    stop_names: Sequence[str],
    ice: Sequence[IceChance],
    weather: tuple[DayWeather, ...],
    problems: tuple[str, ...] = (),
    dishes_path: Path | None = None,
) -> KitchenPlan:
    """Plan ice, temperature and menu.

    Parameters
    ----------
    stop_names
        Names of the plan's stops, in order.
    ice
        Where ice can be had on the way.
    weather
        One row per date of the trip; see `day_weather`.
    problems
        What could not be had for it.
    dishes_path
        The rider's own dishes.

    Raises
    ------
    TripFileError
        A wrong cooler, allergen or dish file.
    """
    clock = supply.clock
    storage = load_storage()
    cookbook = load_cookbook(storage, dishes_path)
    stops = _stops(supply, stop_names)
    slots = _slots(trip, supply)
    diet = _diet(trip)
    ambient = make_ambient(weather, lambda date: _zone_on(clock, date))
    cooler = _cooler(trip.cooler, "food")
    ice_plan = _IcePlanner(trip, clock, ambient, cooler, ice)

    def menu_for(history: TempHistory) -> Menu:
        return plan_menu(
            slots,
            stops,
            cookbook=cookbook,
            storage_table=storage,
            history=history,
            diet=diet,
            kitchen=Cooking(fire=not trip.food.fire_ban, late_minutes=trip.food.cook_late_min),
        )

    menu: Menu | None = None
    wants_menu = trip.food.plan_menu and bool(slots)
    stored: tuple[Stored, ...] = ()
    if wants_menu and cooler.kind != "none":
        stored = _stored(menu_for(_steady(clock)), stops, cookbook, storage, trip.party.people)
    food_ice = ice_plan.plan(stored)
    if wants_menu:
        history = history_of(food_ice)
        for _ in range(_ROUNDS):
            menu = menu_for(history)
            other = _stored(menu, stops, cookbook, storage, trip.party.people)
            if other == stored:
                break
            stored, food_ice = other, ice_plan.follow(other, food_ice)
            # The warmest of all rounds, so that each menu is at least as careful as the last.
            history = _warmest(history, history_of(food_ice))
        else:
            problems = (*problems, "Menu and cooler did not settle: check the cooler by hand.")
    return KitchenPlan(
        weather=weather,
        food_ice=food_ice,
        drinks_ice=_drinks(trip, clock, ambient, ice),
        menu=menu,
        slots=slots,
        stops=stops,
        cookbook=cookbook,
        storage=storage,
        diet=diet,
        problems=problems,
    )


class _IcePlanner:
    """The food cooler's surroundings, for planning its ice more than once."""

    def __init__(
        self,
        trip: Trip,
        clock: Clock,
        ambient: Ambient,
        cooler: Cooler,
        ice: Sequence[IceChance],
    ) -> None:
        self._cooler, self._ambient = cooler, ambient
        self._start_s, self._end_s = _span_s(clock)
        self._sun = _sun(trip.cooler, clock)
        keys = trip.cooler
        start_kg = keys.ice_start_kg if trip.now.at_km is None else trip.now.ice_kg
        self._fixed = (IceLoad(self._start_s, start_kg),) if start_kg is not None else ()
        home = IceChance(
            self._start_s,
            "home",
            Confidence.STATED,
            bag_kg=keys.bag_kg,
            form=keys.form,
            counts=False,
        )
        has_cooler = cooler.kind != "none"
        from_home = () if self._fixed else (home,)
        self._chances = (*from_home, *ice) if has_cooler else ()

    def plan(self, stored: Sequence[Stored]) -> IcePlan:
        """Ice for this food."""
        return plan_ice(
            self._cooler,
            self._ambient,
            start_s=self._start_s,
            end_s=self._end_s,
            stored=stored,
            stops=self._chances,
            sun=self._sun,
            fixed=self._fixed,
        )

    def follow(self, stored: Sequence[Stored], bought: IcePlan) -> IcePlan:
        """Other food with the ice already planned: the same purchases, another temperature."""
        loads = tuple(IceLoad(p.stop.at_s, p.kg) for p in bought.purchases)
        followed = plan_ice(
            self._cooler,
            self._ambient,
            start_s=self._start_s,
            end_s=self._end_s,
            stored=stored,
            stops=(),
            sun=self._sun,
            fixed=(*self._fixed, *loads),
        )
        return replace(followed, purchases=bought.purchases, without=bought.without)


def _span_s(clock: Clock) -> tuple[float, float]:
    """From departure to the midnight after the last arrival, UTC epoch."""
    last = clock.legs[-1]
    arrive = clock.local(last.end_m, float(clock.arrive_s(last.end_m)[0]))
    midnight = dt.datetime.combine(
        arrive.date() + dt.timedelta(days=1), dt.time(), tzinfo=arrive.tzinfo
    )
    return float(clock.depart_s[0]), midnight.timestamp()


def _cooler(keys: CoolerKeys, name: str) -> Cooler:
    test = None
    if keys.test_ice_kg is not None and keys.test_hours is not None:
        test = IceTest(keys.test_ice_kg, keys.test_hours, keys.test_ambient_c or 0.0)
    return make_cooler(
        keys.kind,
        keys.volume_l,
        name=name,
        ice_test=test,
        pre_chilled=keys.pre_chilled,
        packs_kg=keys.packs_kg,
        openings_per_day=float(keys.openings_per_day),
    )


def _sun(keys: CoolerKeys, clock: Clock) -> tuple[tuple[float, float], ...]:
    rides = [
        (float(clock.depart_s[k]), float(clock.arrive_s(leg.end_m)[0]))
        for k, leg in enumerate(clock.legs)
    ]
    return sun_spans(
        rides,
        trip_dates(clock),
        lambda date: _zone_on(clock, date),
        shaded_riding=keys.shaded_riding,
        shaded_camp=keys.shaded_camp,
    )


def trip_dates(clock: Clock) -> list[dt.date]:
    """Every date of the trip, rest days included, and the day after."""
    first, last = clock.legs[0].date, clock.legs[-1].date
    # One more: a late arrival may run past midnight.
    return [first + dt.timedelta(days=n) for n in range((last - first).days + 2)]


def _zone_on(clock: Clock, date: dt.date) -> dt.tzinfo:
    leg = next((leg for leg in reversed(clock.legs) if leg.date <= date), clock.legs[0])
    zone = leg.depart.tzinfo
    if zone is None:
        raise ValueError("a leg's times are aware")
    return zone


def _stops(supply: SupplyPlan, names: Sequence[str]) -> tuple[Stop, ...]:
    bought = [
        Stop(name, supply.clock.local(stop.chainage_m, stop.arrive_s), full=stop.full)
        for stop, name in zip(supply.stops, names, strict=True)
    ]
    if supply.problem.on_board_meals is not None:
        # Under way there is no kitchen at home to buy from.
        return tuple(bought)
    return (Stop("home", supply.clock.legs[0].depart, full=True), *bought)


def _slots(trip: Trip, supply: SupplyPlan) -> tuple[MealSlot, ...]:
    clock, food = supply.clock, trip.food
    bounds = [0, supply.start_carry_meals]
    for stop in supply.stops:
        bounds.append(bounds[-1] + stop.carry_meals)
    first = clock.legs[0].date
    under_way = supply.problem.on_board_meals is not None
    slots: list[MealSlot] = []
    for meal in clock.meals:
        stretch = int(np.searchsorted(bounds[1:], meal.index, side="right"))
        if under_way and stretch == 0:
            continue  # eaten from what is on board, which only the rider knows
        day = (meal.date - first).days + 1
        leg = clock.legs[meal.leg_ix]
        slots.append(
            MealSlot(
                index=len(slots),
                when=meal.when,
                kind=MealKind(meal.kind),
                stretch=stretch - under_way,
                day=day,
                late=meal.late,
                fire_ban=food.fire_ban,
                no_cook=leg.number in food.no_cook_days or day in food.no_cook_days,
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
    )


def _steady(clock: Clock) -> TempHistory:
    start_s, end_s = _span_s(clock)
    return make_history([start_s - 3600.0, end_s + 86_400.0], [_COLD_C, _COLD_C])


def history_of(plan: IcePlan) -> TempHistory:
    """Temperature inside a cooler as the menu reads it."""
    times_s, keep = np.unique(plan.trace.times_s[::-1], return_index=True)
    # Of two samples at one time the later one holds: what was put in is in.
    return make_history(times_s, plan.trace.temp_c[::-1][keep])


def _warmest(one: TempHistory, other: TempHistory) -> TempHistory:
    """At each moment the warmer of two histories; not known where either is not."""
    times_s = np.union1d(one.time_s, other.time_s)
    temps = [np.interp(times_s, h.time_s, h.temp_c) for h in (one, other)]
    return make_history(times_s, np.maximum(*temps))


def _stored(
    menu: Menu,
    stops: Sequence[Stop],
    cookbook: Cookbook,
    storage: StorageTable,
    people: int,
) -> tuple[Stored, ...]:
    """Everything of the menu that must be kept cold, from shop to meal."""
    stored = []
    for meal in menu.meals:
        if meal.dish is None:
            continue
        mass_kg = {p.use: p.amount for p in meal.dish.portions}
        for item in meal.bought:
            ingredient = cookbook.ingredients[item.ingredient]
            if not storage.classes[ingredient.storage].needs_cold:
                continue
            kg = mass_kg.get(item.ingredient, 0.0) * ingredient.unit_kg * people
            if kg > 0.0:
                stored.append(
                    Stored(
                        ingredient.name,
                        kg,
                        stops[item.stop].when.timestamp(),
                        meal.slot.when.timestamp(),
                        volume_l=kg * ingredient.l_per_kg,
                    )
                )
    return tuple(stored)


def _drinks(trip: Trip, clock: Clock, ambient: Ambient, ice: Sequence[IceChance]) -> IcePlan | None:
    keys = trip.drinks_cooler
    if keys.kind == "none":
        return None
    start_s, end_s = _span_s(clock)
    litres = _DRINKS_L * trip.party.people
    rides = [
        (float(clock.depart_s[k]), min(float(clock.depart_s[k]) + 9 * 3600.0, end_s))
        for k in range(len(clock.legs))
    ]
    stored = [
        Stored(
            "drinks",
            litres,
            a,
            b,
            temp_c=20.0 if n else 5.0,
            cp_kj_per_kg_k=4.19,
            volume_l=litres,
            perishable=False,
        )
        for n, (a, b) in enumerate(rides)
        if b > a
    ]
    home = IceChance(
        start_s, "home", Confidence.STATED, bag_kg=keys.bag_kg, form=keys.form, counts=False
    )
    fixed = (IceLoad(start_s, keys.ice_start_kg),) if keys.ice_start_kg is not None else ()
    return plan_ice(
        _cooler(keys, "drinks"),
        ambient,
        start_s=start_s,
        end_s=end_s,
        stored=stored,
        # Warm drinks put in need an hour to cool before they are wanted cold.
        needs=[Need(a + 2 * 3600.0, b, "drinks") for a, b in rides if b > a + 2 * 3600.0],
        stops=(*(() if fixed else (home,)), *ice),
        sun=_sun(keys, clock),
        fixed=fixed,
        limit_c=_DRINKS_C,
        keep_kg=0.0,
    )
