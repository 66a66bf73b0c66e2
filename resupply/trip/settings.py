"""The trip file: every setting of a plan as one frozen tree, read from TOML.

Every command line option is a key of this file. Keys carry their unit; a rider who thinks in
miles, °F, lb or gal writes the same key with that unit (`daily_mi` for `daily_km`) and it is
converted on reading. Errors name the file, the line and the key.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, Field, ValidationError, model_validator

from resupply.common.errors import TripFileError
from resupply.common.files import is_endless
from resupply.trip.choice import ChanceKeys, ChoiceKeys, refuse_old_keys
from resupply.trip.faults import fault_words
from resupply.trip.fuels import ANY_PETROL, is_fuel
from resupply.trip.keys import OTHER_UNITS, Keys
from resupply.trip.pace import Pace

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

__all__ = [
    "DayWeatherKeys",
    "JumpKeys",
    "Trip",
    "dump_trip",
    "load_trip",
    "make_trip",
    "own_key",
    "parse_trip",
]

# Limits that only refuse slips: far outside what a trip has.
_Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
_NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
_Kilograms = Annotated[float, Field(ge=0, le=500)]
_Celsius = Annotated[float, Field(ge=-60, le=60, allow_inf_nan=False)]


def _local(time: dt.time) -> dt.time:
    if time.tzinfo is not None:
        raise ValueError("must be local, like 08:30:00: write it without an offset")
    return time


_LocalTime = Annotated[dt.time, AfterValidator(_local)]
_Text = Annotated[str, Field(max_length=500)]
"""Our choice: a line of a report, with room to spare."""
_FIRST_DATE, _LAST_DATE = dt.date(1970, 1, 1), dt.date(2199, 12, 31)
"""Our choice: a date outside of these is a slip."""


def _not_tiny(hours: float) -> float:
    if 0.0 < hours < 0.1:
        raise ValueError("must be 0 for no rests, or at least 0.1")
    return hours


def _a_fuel(name: str) -> str:
    if not is_fuel(name.lower()):
        raise ValueError(f"{name!r} is no fuel: use petrol, diesel, octane_95, e10 or the like")
    return name.lower()


class StartKeys(Keys):
    """Table `[start]`."""

    date: Annotated[dt.date, Field(ge=_FIRST_DATE, le=_LAST_DATE)] | None = None
    """First riding day, e.g. `2027-07-09`. Without it tomorrow is taken, and the report says so."""


_PACE = Pace()


class PaceKeys(Keys):
    """Table `[pace]`."""

    daily_km: Annotated[float, Field(ge=5, le=2000)] = 250.0
    """Wanted distance a day; what is left of a last kilometre is ridden on."""
    even_days: bool | None = None
    """Spread the days evenly. `false`: ride full days, however short the last one gets. Without it
    full days are ridden, and a last one under a fifth of a day is spread over the others."""
    speed_kmh: Annotated[float, Field(ge=3, le=150)] | None = None
    """Your average moving speed. Without it the roads' own, and 60 km/h where none are known."""
    depart: _LocalTime = _PACE.depart
    """Departure each morning, local time."""
    rest_every_h: Annotated[float, Field(ge=0, le=24), AfterValidator(_not_tiny)] = (
        _PACE.rest_every_h
    )
    """A rest after each so many hours of riding; 0 for none."""
    rest_min: Annotated[float, Field(ge=0, le=240)] = _PACE.rest_min
    """Length of a rest, minutes."""
    drift_min: Annotated[float, Field(ge=0, le=240)] = _PACE.drift_min
    """How far off an ETA may be just after departure, minutes either way."""
    drift_min_per_h: Annotated[float, Field(ge=0, le=60)] = _PACE.drift_min_per_h
    """How much that grows per hour since departure."""
    latest_camp: _LocalTime = _PACE.latest_camp
    """Latest time in camp, local; later arrivals cost extra and are cautioned."""
    own_km: dict[Annotated[int, Field(ge=1, le=1000)], Annotated[float, Field(ge=1, le=3000)]] = {}
    """Own distance of single days: day number to km."""
    rest_days: dict[Annotated[int, Field(ge=1, le=1000)], Annotated[int, Field(ge=0, le=60)]] = {}
    """Rest days in camp: day number to how many follow it."""

    def pace(self) -> Pace:
        """Pick the part that the clock needs."""
        return Pace(
            depart=self.depart,
            rest_every_h=self.rest_every_h,
            rest_min=self.rest_min,
            drift_min=self.drift_min,
            drift_min_per_h=self.drift_min_per_h,
            latest_camp=self.latest_camp,
        )


_JumpNumber = Annotated[int, Field(ge=1, le=100_000)]
"""Our choice: far more jumps than a route has."""


class JumpKeys(Keys):
    """Table `[jumps]`: what the jumps of the line are."""

    kind: Literal["unknown", "ferry", "ridden"] = "unknown"
    """A ferry, or ridden (in a straight line, as no road is known). Where not said, the plan asks,
    and counts time as for a ferry and fuel as if ridden."""
    each: dict[_JumpNumber, Literal["ferry", "ridden"]] = {}
    """What single jumps are: number of the jump, from 1 in the order of the route, to `"ferry"` or
    `"ridden"`."""
    hours: dict[_JumpNumber, Annotated[float, Field(ge=0, le=72)]] = {}
    """Hours that single crossings take, waiting included: number of the jump to hours."""


class PartyKeys(Keys):
    """Table `[party]`."""

    people: Annotated[int, Field(ge=1, le=40)] = 2
    """How many eat."""
    diet: Literal["any", "vegetarian", "vegan"] = "any"
    """What all of them eat."""
    allergens: tuple[_Text, ...] = ()
    """Allergens to keep out, by their names in the dish file, e.g. `["nuts", "milk"]`; nuts do not
    include peanuts."""
    leave_out: tuple[_Text, ...] = ()
    """Dishes to leave out: by id or tag (the menu in plan.json names them), or by method (`foil`,
    `pot`, `pan`, `no-cook`)."""
    prefer: tuple[_Text, ...] = ()
    """Dishes to prefer among those that fit as well, named the same way."""


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
    breakfast: _LocalTime = dt.time(7, 30)
    """Eaten in camp before departure."""
    lunch: _LocalTime = dt.time(12, 30)
    """Eaten on the road at this time."""
    dinner: _LocalTime = dt.time(19, 0)
    """Eaten in camp at this time, or on arrival if that is later."""
    full_stop_min: Annotated[int, Field(ge=0, le=240)] = 30
    """Time in a full shop, minutes."""
    small_stop_min: Annotated[int, Field(ge=0, le=240)] = 15
    """Time in a small shop, minutes."""
    kg_per_meal: Annotated[float, Field(gt=0, le=5)] = 0.6
    """Mass of one person's meal with packaging, used where no menu is planned (no source)."""
    plan_menu: bool = True
    """Assign dishes to meals and write shopping lists."""
    dishes: _Text | None = None
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
    no_cook_days: tuple[int, ...] = ()
    """Days without any cooking, by day of the trip from 1 (rest days count, as in
    `weather.days`)."""
    untreated_water: bool = True
    """Springs and other untreated water count as water, to be treated; `false` counts taps only."""

    @model_validator(mode="before")
    @classmethod
    def _refuse_old_keys(cls, data: object) -> object:
        return refuse_old_keys(data)


class MapKeys(Keys):
    """Table `[map]`."""

    extracts: tuple[_Text, ...] = ()
    """OpenStreetMap extracts (.osm.pbf, .osm, .osm.bz2, .osm.gz), or one regional index
    (.places); relative to the trip file."""
    service: bool = False
    """Ask the live map service (Overpass) instead of, or besides, the extracts."""
    service_url: _Text = "https://overpass-api.de/api"
    """Address of the live map service."""
    contact: _Text = ""
    """Your mail address or web page, told to the live map service as its rules ask."""
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
    speeds: _Text | None = None
    """Own table of speeds by road and surface, a TOML file; relative to the trip file."""


class RegionKeys(Keys):
    """Table `[region]`."""

    country: Annotated[str, Field(pattern=r"^[A-Z]{2}$")] | None = None
    """Two-letter country for holidays and usual hours; found from the map where not given."""
    time_zone: _Text | None = None
    """Time zone name; found from the position where not given."""
    usual_hours: _Text | None = None
    """Own table of usual shop hours, a TOML file; relative to the trip file."""
    bears: Literal["yes", "no", "unknown"] = "unknown"
    """Whether there are bears; their cautions are left out only for `"no"`."""


class DayWeatherKeys(Keys):
    """One row of `weather.days`."""

    day: Annotated[int, Field(ge=1, le=1000)] | None = None
    """Day of the trip, from 1 (rest days count); or give `date`."""
    date: dt.date | None = None
    """Calendar date; or give `day`."""
    low_c: _Celsius
    """Night low."""
    high_c: _Celsius
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

    low_c: _Celsius | None = None
    """Night low on days without a row of their own."""
    high_c: _Celsius | None = None
    """Afternoon high on days without a row of their own."""
    days: tuple[DayWeatherKeys, ...] = ()
    """Rows `{ day = 3, low_c = 21, high_c = 37 }`."""
    forecast: bool = False
    """Ask an open weather service for days within its reach that have no row."""
    forecast_url: _Text = "https://api.open-meteo.com/v1/forecast"
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
    test_ambient_c: _Celsius | None = None
    """… and how warm it was around."""
    pre_chilled: bool = True
    """Cooled down before the first loading."""
    packs_kg: _Kilograms = 0.0
    """Reusable frozen packs at the start; not renewed on the road."""
    ice_start_kg: _Kilograms | None = None
    """Ice from home; worked out where not given."""
    bag_kg: Annotated[float, Field(ge=0.1, le=100)] = 2.0
    """A bag of ice as sold."""
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

    food_kg: _Positive | None = None
    """How much food, water and ice the bike may carry."""
    food_l: _Positive | None = None
    """How much room there is for food (without the cooler)."""


class FuelKeys(Keys):
    """Table `[fuel]`."""

    range_km: Annotated[float, Field(gt=0, le=3000)] | None = None
    """Distance on a full tank; without it only gaps are shown."""
    reserve_km: _NotNegative = 40.0
    """Distance kept in reserve."""
    takes: Annotated[
        tuple[Annotated[_Text, AfterValidator(_a_fuel)], ...], Field(min_length=1, max_length=20)
    ] = (ANY_PETROL,)
    """What the tank takes: `petrol`, `diesel`, or grades by the map's keys, e.g.
    `["octane_95", "octane_98"]`. Stations that name only other fuels are likely at best."""


class NightKeys(Keys):
    """Table `[night]`."""

    camps: bool = True
    """Let days end at a camp near the nominal end, where the map has one."""
    tolerance_km: Annotated[float, Field(ge=0, le=500)] = 30.0
    """How far a day's end may move along the route."""
    own: tuple[_Text, ...] = ()
    """Places to sleep at, by map id, besides the camps found."""


class ShopsKeys(Keys):
    """Table `[shops]`."""

    gone: tuple[_Text, ...] = ()
    """Places to leave out, by map id ("it's gone")."""
    pinned: tuple[_Text, ...] = ()
    """Shops to stop at unless they are known to be shut when you pass, by map id."""


class NowKeys(Keys):
    """Table `[now]`: a trip under way."""

    at_km: _NotNegative | None = None
    """Where you are, by the route's kilometres; the plan then goes on from there."""
    time: dt.datetime | None = None
    """Local date and time there, e.g. `2027-07-12T14:10:00`. Where a day ends you are in camp:
    after lunch the plan goes on next morning, and after the rest days set there."""
    food_meals: Annotated[int, Field(ge=0, le=300)] = 0
    """Meals a person still on board."""
    ice_kg: _Kilograms = 0.0
    """Ice left in the cooler."""
    fuel_km: Annotated[float, Field(ge=0, le=3000)] | None = None
    """How far the fuel in the tank still goes. Without it that is not known, the report says so,
    and the first stop for fuel is the nearest station ahead."""
    water_l: Annotated[float, Field(ge=0, le=500)] | None = None
    """Drinking water on board, for all; not known where not given, and the report says so."""

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.at_km is None) != (self.time is None):
            raise ValueError("at_km and time belong together")
        if self.time is not None and self.time.tzinfo is not None:
            raise ValueError("time is local: write it without an offset")
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


class Trip(Keys):
    """All settings of one trip."""

    name: _Text = ""
    """Title of the plan; the route's name where not given."""
    route: _Text | None = None
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


def load_trip(path: Path, overrides: Mapping[str, object] | None = None) -> Trip:
    """Read a trip file.

    Parameters
    ----------
    path
        A TOML file.
    overrides
        Dotted keys (`pace.daily_km`) set on the command line; they win over the file.

    Raises
    ------
    TripFileError
        The file cannot be read, is no TOML, or has a wrong key or value.
    """
    try:
        if is_endless(path):
            raise TripFileError(
                "is no file but a pipe or a device",
                where=str(path),
                mend="Save it as a file first",
            )
        if path.stat().st_size > 1_000_000:
            raise TripFileError(
                "is larger than 1 MB, which no trip file is",
                where=str(path),
                mend="Give the trip file here and the route file with --route",
            )
        text = path.read_text("utf-8")
    except OSError as error:
        raise TripFileError(
            f"cannot be read ({error.strerror or error})",
            where=str(path),
            mend="Check the name of the trip file",
        ) from error
    except UnicodeDecodeError as error:
        raise TripFileError(
            "is not text in UTF-8", where=str(path), mend="Save it again as UTF-8"
        ) from error
    return parse_trip(text, where=str(path), overrides=overrides)


def parse_trip(
    text: str, *, where: str = "trip", overrides: Mapping[str, object] | None = None
) -> Trip:
    """Read a trip from TOML text; see `load_trip`."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise TripFileError(
            f"is no valid TOML: {error}", where=where, mend="Look at that line for a missing quote"
        ) from error
    try:
        return make_trip(data, where=where, text=text, overrides=overrides)
    except RecursionError as error:
        raise TripFileError(
            "holds tables within tables without end",
            where=where,
            mend="The keys and their values are listed in docs/trip-file.md",
        ) from error


def make_trip(
    data: Mapping[str, object],
    *,
    where: str = "trip",
    text: str = "",
    overrides: Mapping[str, object] | None = None,
) -> Trip:
    """Check a tree of settings; see `load_trip`."""
    tree = _copied(data)
    for dotted, value in (overrides or {}).items():
        _put(tree, dotted.split("."), value)
    try:
        return Trip.model_validate(tree)
    except ValidationError as error:
        faults = error.errors(include_url=False)
        keys = [str(part) for part in faults[0]["loc"]]
        key = ".".join(keys)
        words, problem = fault_words(key, faults[0], _known_keys())
        more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        raise TripFileError(
            words + more,
            where=_placed(where, text, keys),
            mend="The keys and their values are listed in docs/trip-file.md",
            key=key,
            problem=problem,
        ) from error


@cache
def _known_keys() -> tuple[str, ...]:
    """Every dotted key of the trip file, in order."""
    tables = {name: field.annotation for name, field in Trip.model_fields.items()}
    return tuple(
        f"{name}.{key}" if key else name
        for name, table in tables.items()
        for key in (
            table.model_fields
            if isinstance(table, type) and issubclass(table, BaseModel)
            else ("",)
        )
    )


def own_key(dotted: str) -> str:
    """Give a key as the tables have it: `pace.daily_km` for `pace.daily_mi`."""
    for suffix, (own_suffix, _) in OTHER_UNITS.items():
        own = dotted.removesuffix(suffix) + own_suffix
        if dotted.endswith(suffix) and dotted not in _known_keys() and own in _known_keys():
            return own
    return dotted


def dump_trip(trip: Trip) -> str:
    """Write a trip as TOML that `parse_trip` reads back to an equal trip; defaults left out."""
    import tomli_w

    tree = trip.model_dump(exclude_defaults=True, exclude_none=True, mode="python")
    return tomli_w.dumps(_textual(tree))


def _textual(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _textual(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_textual(item) for item in value]
    return value


def _copied(data: Mapping[str, object]) -> dict[str, Any]:
    return {k: _copied(v) if isinstance(v, dict) else v for k, v in data.items()}


def _put(tree: dict[str, Any], keys: list[str], value: object) -> None:
    for key in keys[:-1]:
        inner = tree.setdefault(key, {})
        if not isinstance(inner, dict):
            return  # the file holds a plain value there; validation names it
        tree = inner
    # An option in km must win over the file's same key in miles.
    for suffix, (own_suffix, _) in OTHER_UNITS.items():
        if keys[-1].endswith(own_suffix):
            tree.pop(keys[-1].removesuffix(own_suffix) + suffix, None)
        if keys[-1].endswith(suffix):
            tree.pop(keys[-1].removesuffix(suffix) + own_suffix, None)
    tree[keys[-1]] = value


def _placed(where: str, text: str, keys: list[str]) -> str:
    line = next(_lines_of(text, keys), None)
    return f"{where}, line {line}" if line else where


def _lines_of(text: str, keys: list[str]) -> Iterator[int]:
    """Yield the line of the key, else of the nearest table that holds it."""
    wanted = [key for key in keys if not key.isdigit()]
    found: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        # Plain splitting: no line of a made-up file may keep a pattern busy.
        if stripped.startswith("["):
            header, closed, _ = stripped.lstrip("[").partition("]")
            if closed and "=" not in header:
                table = _parts(header)
                found.setdefault(table, number)
            continue
        key, equals, _ = stripped.partition("=")
        if equals:
            found.setdefault(table + _parts(key), number)
    spellings = [tuple(wanted)]
    for suffix, (own_suffix, _) in OTHER_UNITS.items():
        if wanted and wanted[-1].endswith(own_suffix):
            other = wanted[-1].removesuffix(own_suffix) + suffix
            spellings.append((*wanted[:-1], other))
    for size in range(len(wanted), 0, -1):
        for spelling in spellings:
            if spelling[:size] in found:
                yield found[spelling[:size]]


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))
