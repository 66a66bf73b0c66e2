"""Tables of the trip file: who eats what, the weather, coolers and luggage."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from resupply.trip.choice import refuse_old_keys
from resupply.trip.keys import (
    Celsius,
    DayNumber,
    Keys,
    Kilograms,
    LocalTime,
    MealName,
    Positive,
    Text,
)

__all__ = [
    "BikeKeys",
    "CoolerKeys",
    "DayWeatherKeys",
    "FoodKeys",
    "LuggageKeys",
    "PartyKeys",
    "WeatherKeys",
]


class BikeKeys(Keys):
    """One row of `party.bikes`."""

    name: Annotated[str, Field(max_length=60)] = ""
    """Whose it is; its number in the list where not given."""
    load_kg: Annotated[float, Field(gt=0, le=500)]
    """How much food, water, ice and kitchen gear it may carry."""
    room_l: Annotated[float, Field(gt=0, le=500)]
    """How much room there is for food and kitchen gear on it, without the cooler."""


class PartyKeys(Keys):
    """Table `[party]`."""

    people: Annotated[int, Field(ge=1, le=40)] = 2
    """How many eat."""
    diet: Literal["any", "vegetarian", "vegan"] = "any"
    """What all of them eat."""
    allergens: tuple[Text, ...] = ()
    """Allergens to keep out, by their names in the dish file, e.g. `["nuts", "milk"]`; nuts do not
    include peanuts."""
    strict_allergens: bool = False
    """For severe allergies: food that some makes of contain one of `allergens` ("may contain") is
    kept out too, where else the menu says to read its label."""
    appetite: tuple[Annotated[float, Field(ge=0.5, le=2)], ...] = ()
    """How much each of you eats of what is usual, e.g. `[1.15, 0.85]`; 1 for all not named."""
    leave_out: tuple[Text, ...] = ()
    """Dishes to leave out: by id or tag (the menu in plan.json names them), or by method (`foil`,
    `pot`, `pan`, `no-cook`)."""
    prefer: tuple[Text, ...] = ()
    """Dishes to prefer among those that fit as well, named the same way."""
    diets: dict[Literal["vegetarian", "vegan"], Annotated[int, Field(ge=1, le=40)]] = {}
    """How many of you eat nothing else, where the others do: `{ vegetarian = 2 }`. Dishes that all
    of you eat come first; others only where meat or fish can be kept apart."""
    bikes: Annotated[tuple[BikeKeys, ...], Field(max_length=40)] = ()
    """Rows `{ name = "Ann", load_kg = 20, room_l = 40 }`, names optional: what each bike may carry
    of food, water, ice and kitchen gear, and its room for them without the cooler. Lists and
    packing are then split by bike."""

    @model_validator(mode="after")
    def _check(self) -> Self:
        if len(self.bikes) > self.people:
            raise ValueError(f"{len(self.bikes)} bikes for {self.people} people")
        if sum(self.diets.values()) > self.people:
            raise ValueError(f"diets of {sum(self.diets.values())} for {self.people} people")
        return self


class FoodKeys(Keys):
    """Table `[food]`."""

    carry_limit_days: Annotated[float, Field(ge=1, le=30)] = 3.0
    """Never more days of food on board than this, the spare meals with it, if the route allows
    (common practice)."""
    carry_habit_days: Annotated[float, Field(ge=0, le=30)] = 2.0
    """Days of food usually carried, the spare meals with it; more costs `choice.habit_min` a meal
    of the trip's largest load (common practice)."""
    spare_meals: Annotated[int, Field(ge=0, le=30)] = 3
    """Meals a person always on board for a shut door or a day of storm: on top of the meals to
    eat, within the limit. A day's worth is common practice (no source)."""
    style: Literal["fresh", "balanced", "few"] = "balanced"
    """`fresh`: a shop most days, late in the day; `balanced`: about every second day, topped up
    where it costs little; `few`: as rarely as the limit allows."""
    breakfast: LocalTime = dt.time(7, 30)
    """Eaten in camp before departure."""
    lunch: LocalTime = dt.time(12, 30)
    """Eaten on the road at this time."""
    dinner: LocalTime = dt.time(19, 0)
    """Eaten in camp at this time, or on arrival if that is later."""
    full_stop_min: Annotated[int, Field(ge=0, le=240)] = 30
    """Time in a full shop, minutes."""
    small_stop_min: Annotated[int, Field(ge=0, le=240)] = 15
    """Time in a small shop, minutes."""
    kg_per_meal: Annotated[float, Field(gt=0, le=5)] = 0.6
    """Mass of one person's meal with packaging, used where no menu is planned (no source)."""
    plan_menu: bool = True
    """Assign dishes to meals and write shopping lists."""
    kcal_per_day: Annotated[float, Field(ge=1000, le=6000)] = 2500.0
    """Energy a person and day, snacks and drinks included: between a woman and a man of middle age
    who are active (published guidance, see docs/how/food.md)."""
    menu: Literal["quick", "best"] = "quick"
    """How long to look for a menu that wastes little: `quick` takes a second at most, `best` some
    ten times as long."""
    weigh_at_home: bool = True
    """From home dry food, spreads, bread, fruit, eggs, cheese and butter are taken in the amount
    needed and the rest stays in the cupboard; `false` buys whole packs for the trip there too."""
    freezer: bool = False
    """There is a freezer at home with a stew, a lentil stew and patties made for the trip: they are
    preferred for the first dinners, and keep the cooler cold while they thaw."""
    dishes: Text | None = None
    """Own dishes, a TOML file; relative to the trip file."""
    cook_late_min: Annotated[int, Field(ge=0, le=240)] = 20
    """Longest cooking on a late arrival, minutes."""
    stove: bool = True
    """There is a stove to cook on."""
    fire: bool = False
    """Open fire is allowed and wanted in your camps. Without it only where the map says that a
    camp has a fireplace; never before a ride, or on days of 30 °C and more."""
    fire_ban: bool = False
    """No open fire on the whole trip, whatever the map says."""
    eggs: Literal["by_country", "chilled", "unchilled"] = "by_country"
    """Whether eggs need the cooler: not where they are sold unchilled, as in the European Union and
    the United Kingdom."""
    eat_out: dict[DayNumber, tuple[MealName, ...]] = {}
    """Meals eaten out on single riding days: day number to e.g. `["dinner"]`. Where the map has a
    place that is not shut then they are not carried; where it has none the plan says so and food
    is carried."""
    eat_out_daily: tuple[MealName, ...] = ()
    """The same for every riding day: `["breakfast"]` at bakeries and cafés, `["lunch"]`."""
    no_cook_days: tuple[int, ...] = ()
    """Days without any cooking, by day of the trip from 1 (rest days count, as in
    `weather.days`)."""
    untreated_water: bool = True
    """Springs and other untreated water count as water, to be treated; `false` counts taps only."""

    @model_validator(mode="before")
    @classmethod
    def _refuse_old_keys(cls, data: object) -> object:
        return refuse_old_keys(data)


class DayWeatherKeys(Keys):
    """One row of `weather.days`."""

    day: Annotated[int, Field(ge=1, le=1000)] | None = None
    """Day of the trip, from 1 (rest days count); or give `date`."""
    date: dt.date | None = None
    """Calendar date; or give `day`."""
    low_c: Celsius
    """Night low."""
    high_c: Celsius
    """Afternoon high."""

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.day is None) == (self.date is None):
            raise ValueError("give either day or date")
        if self.low_c > self.high_c:
            raise ValueError("low is above high")
        return self


class WeatherKeys(Keys):
    """Table `[weather]`."""

    low_c: Celsius | None = None
    """Night low on days without a row of their own."""
    high_c: Celsius | None = None
    """Afternoon high on days without a row of their own."""
    days: tuple[DayWeatherKeys, ...] = ()
    """Rows `{ day = 3, low_c = 21, high_c = 37 }`."""
    forecast: bool = False
    """Ask an open weather service for days within its reach that have no row."""
    forecast_url: Text = "https://api.open-meteo.com/v1/forecast"
    """Address of the weather service."""


class CoolerKeys(Keys):
    """Table `[cooler]` and `[drinks_cooler]`."""

    kind: Literal["hard", "soft", "bag", "none"] = "none"
    """Hard-sided, soft-sided, insulated bag, or none."""
    volume_l: Annotated[float, Field(ge=0.5, le=200)] = 20.0
    """Inner volume."""
    test_ice_kg: Annotated[float, Field(gt=0, le=500)] | None = None
    """Your own ice test: ice put in …"""
    test_hours: Annotated[float, Field(gt=0, le=2000)] | None = None
    """… how long it lasted …"""
    test_ambient_c: Celsius | None = None
    """… and how warm it was around."""
    pre_chilled: bool = True
    """Cooled down before the first loading."""
    packs_kg: Kilograms = 0.0
    """Reusable frozen packs at the start; frozen again on the road only by `camp_freezer`."""
    camp_freezer: Annotated[
        tuple[Annotated[int, Field(ge=1, le=1000)], ...], Field(max_length=60)
    ] = ()
    """Days of the trip, from 1 (rest days count), at whose camp a freezer takes the packs for the
    night: only where you asked and they said yes."""
    ice_times_food: Annotated[float, Field(gt=0, le=1000)] = 10.0
    """Ice may weigh so many times the food that must stay cold: where a stretch would take more,
    its menu does without such food (our choice). Not for drinks."""
    ice_start_kg: Kilograms | None = None
    """Ice from home; worked out where not given."""
    bag_kg: Annotated[float, Field(ge=0.25, le=100)] | None = None
    """A bag of ice as sold; 2 kg where not given, in the United States 7, 10 or 20 lb: the largest
    that fills a third of the cooler at most, 7 lb at least."""
    form: Literal["cube", "block"] = "cube"
    """Ice as sold on the way."""
    colour: Literal["light", "middle", "dark"] = "middle"
    """Of its outside: a dark cooler takes in three times the sun of a light one."""
    shaded_riding: bool = False
    """Covered from the sun while riding."""
    shaded_camp: bool = True
    """In the shade in camp."""
    openings_per_day: Annotated[int, Field(ge=0, le=200)] = 8
    """Lid openings a day."""

    @model_validator(mode="after")
    def _check(self) -> Self:
        test = (self.test_ice_kg, self.test_hours, self.test_ambient_c)
        if any(x is not None for x in test) and any(x is None for x in test):
            raise ValueError("an ice test needs test_ice_kg, test_hours and test_ambient_c")
        return self


class LuggageKeys(Keys):
    """Table `[luggage]`."""

    food_kg: Positive | None = None
    """How much food, water and ice the bike may carry; all of `party.bikes` together where they are
    given."""
    food_l: Positive | None = None
    """How much room there is for food (without the cooler); the same."""
