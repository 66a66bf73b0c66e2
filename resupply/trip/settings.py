"""The trip: every setting of a plan as one frozen tree.

Every command line option is a key of the trip file, which `resupply.trip.read_file` reads. Keys
carry their unit; a rider who thinks in miles, °F, lb or gal writes the same key with that unit
(`daily_mi` for `daily_km`) and it is converted on reading.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from resupply.trip.choice import ChanceKeys, ChoiceKeys
from resupply.trip.keys import DayNumber, Keys, Kilograms, NotNegative, Text
from resupply.trip.kitchen_keys import CoolerKeys, FoodKeys, LuggageKeys, PartyKeys, WeatherKeys
from resupply.trip.riding_keys import (
    MOST_REST_DAYS,
    FuelKeys,
    JumpKeys,
    NightKeys,
    PaceKeys,
    StartKeys,
)

__all__ = ["MapKeys", "NowKeys", "RegionKeys", "ShopsKeys", "ShowKeys", "Trip"]


class MapKeys(Keys):
    """Table `[map]`."""

    extracts: tuple[Text, ...] = ()
    """OpenStreetMap extracts (.osm.pbf, .osm, .osm.bz2, .osm.gz), or one regional index
    (.places); relative to the trip file."""
    service: bool = False
    """Ask the live map service (Overpass) instead of, or besides, the extracts."""
    service_url: Text = "https://overpass-api.de/api"
    """Address of the live map service."""
    contact: Text = ""
    """Your mail address or web page, told to the live map service as its rules ask."""
    catalogue: Text = "https://download.geofabrik.de/index-v1.json"
    """Address or file of the list of map extracts in which `resupply fetch` looks."""
    corridor_km: Annotated[float, Field(gt=0, le=50)] = 5.0
    """How far from the route a shop may be."""
    ice_km: Annotated[float, Field(gt=0, le=50)] | None = None
    """The same for ice; the shop's where not given."""
    water_km: Annotated[float, Field(gt=0, le=50)] = 2.0
    """The same for drinking water."""
    fuel_km: Annotated[float, Field(gt=0, le=50)] = 5.0
    """The same for fuel."""
    camp_km: Annotated[float, Field(gt=0, le=50)] = 10.0
    """The same for camps."""
    meal_out_km: Annotated[float, Field(gt=0, le=50)] = 3.0
    """The same for meals out."""
    roads: bool = True
    """Work out detours and riding times by road, where the map data has roads."""
    speeds: Text | None = None
    """Own table of speeds by road and surface, a TOML file; relative to the trip file."""


class RegionKeys(Keys):
    """Table `[region]`."""

    country: Annotated[str, Field(pattern=r"^[A-Z]{2}$")] | None = None
    """Two-letter country for holidays and usual hours; found from the map where not given."""
    time_zone: Text | None = None
    """Time zone name; found from the position where not given."""
    usual_hours: Text | None = None
    """Own table of usual shop hours, a TOML file; relative to the trip file."""
    bears: Literal["yes", "no", "unknown"] = "unknown"
    """Whether there are bears; their cautions are left out only for `"no"`."""


class ShopsKeys(Keys):
    """Table `[shops]`."""

    gone: tuple[Text, ...] = ()
    """Places to leave out, by map id ("it's gone")."""
    no_ice: tuple[Text, ...] = ()
    """Places found without ice, by map id: none is looked for there again."""
    has_ice: tuple[Text, ...] = ()
    """Places found to sell ice, by map id: it counts as sure there, whatever the map says."""
    pinned: tuple[Text, ...] = ()
    """Shops to stop at unless they are known to be shut when you pass, by map id."""
    none_on_days: tuple[DayNumber, ...] = ()
    """Riding days on which you do not want to shop, on the road or from camp in the evening; a
    pinned shop is visited all the same. No ice is bought either; the tank is filled where it must
    be, fuel only."""


class NowKeys(Keys):
    """Table `[now]`: a trip under way."""

    at_km: NotNegative | None = None
    """Where you are, by the route's kilometres; the plan then goes on from there."""
    time: dt.datetime | None = None
    """Local date and time there, e.g. `2027-07-12T14:10:00`. Where a day ends you are in camp:
    after lunch the plan goes on next morning, and after the rest days set there."""
    food_meals: Annotated[int, Field(ge=0, le=300)] = 0
    """Meals a person still on board."""
    ice_kg: Kilograms = 0.0
    """Ice left in the cooler."""
    fuel_km: Annotated[float, Field(ge=0, le=3000)] | None = None
    """How far the fuel in the tank still goes. Without it that is not known, the report says so,
    and the first stop for fuel is the nearest station ahead."""
    water_l: Annotated[float, Field(ge=0, le=500)] | None = None
    """Drinking water on board, for all; not known where not given, and the report says so."""
    leave_on: dt.date | None = None
    """Date on which you ride on from the camp where you are, or which you reach tonight: the days
    until then are days of rest. One that is past says nothing."""

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.at_km is None) != (self.time is None):
            raise ValueError("at_km and time belong together")
        if self.time is not None and self.time.tzinfo is not None:
            raise ValueError("time is local: write it without an offset")
        if self.leave_on is not None and self.time is not None:
            late = (self.leave_on - self.time.date()).days
            if late > MOST_REST_DAYS:
                raise ValueError(f"leave_on is {late} days from time: at most {MOST_REST_DAYS}")
        return self


class ShowKeys(Keys):
    """Table `[show]`."""

    units: Literal["metric", "imperial"] = "metric"
    """Units in the report."""
    clock: Literal[12, 24] = 24
    """12 or 24 hour clock."""
    sweep: bool = True
    """Compare daily distances."""
    sweep_weekdays: bool = False
    """Compare start weekdays too."""
    remedies: bool = True
    """Where the limit cannot be kept, re-plan to find remedies."""
    pocket_plans: bool = True
    """Put the plans that you may need on the way into the map's file: other daily distances, a rest
    day after each night, shops shut, ice not there, other styles. They are made after the files
    are written."""


class Trip(Keys):
    """All settings of one trip."""

    name: Text = ""
    """Title of the plan; the route's name where not given."""
    route: Text | None = None
    """Route file (GPX, KML, KMZ, GeoJSON or FIT), relative to the trip file."""
    start: StartKeys = StartKeys()
    pace: PaceKeys = PaceKeys()
    jumps: JumpKeys = JumpKeys()
    party: PartyKeys = PartyKeys()
    food: FoodKeys = FoodKeys()
    choice: ChoiceKeys = ChoiceKeys()
    chances: ChanceKeys = ChanceKeys()
    map: MapKeys = MapKeys()
    region: RegionKeys = RegionKeys()
    weather: WeatherKeys = WeatherKeys()
    cooler: CoolerKeys = CoolerKeys()
    drinks_cooler: CoolerKeys = CoolerKeys()
    luggage: LuggageKeys = LuggageKeys()
    fuel: FuelKeys = FuelKeys()
    night: NightKeys = NightKeys()
    shops: ShopsKeys = ShopsKeys()
    now: NowKeys = NowKeys()
    show: ShowKeys = ShowKeys()
