"""The whole plan document, its trip, route and coverage."""

from typing import Literal

from resupply.report.document.model.answers import FirstAnswers
from resupply.report.document.model.base import Date, Ordinal, SentenceText, Whole, model
from resupply.report.document.model.care import CareDocument
from resupply.report.document.model.cold import ColdDocument
from resupply.report.document.model.days import DayRow, MealOutRow
from resupply.report.document.model.gaps import SupplyGaps
from resupply.report.document.model.ice import IceDocument
from resupply.report.document.model.load import LoadDocument
from resupply.report.document.model.menu import MenuDocument
from resupply.report.document.model.packing import PackingDocument
from resupply.report.document.model.places import PassRow, PlaceRow
from resupply.report.document.model.shopping import ShoppingDocument
from resupply.report.document.model.stops import (
    CarryStep,
    HoursIgnored,
    ShortfallRow,
    SpareDocument,
    StartCarry,
    StopRow,
    StyleRow,
)
from resupply.report.document.model.summary import Summary
from resupply.report.document.model.supplies import FuelDocument, WaterDocument

__all__ = [
    "Attribution",
    "CoverageDocument",
    "DailyDistances",
    "PaceRow",
    "PlanDocument",
    "ReadingRules",
    "RouteDocument",
    "RouteJump",
    "RouteMark",
    "TripDocument",
    "UnknownSpan",
]


@model
class TripDocument:
    """The settings in short."""

    id: str
    """Hash of the settings and the route: the same trip has the same id."""
    name: str
    """Title."""
    units: Literal["metric", "imperial"]
    """Units of the sentences; numbers are metric always."""
    clock: Literal[12, 24]
    """Hours of the clock in the sentences."""
    people: Ordinal
    """How many eat."""
    start_date: Date
    """First riding day."""
    days: Ordinal
    """Days from the first to the last, rest days included."""
    daily_m: int
    """Wanted distance a day, metres."""
    speed_kmh: float
    """Average moving speed, km/h."""
    speed_source: str
    """What riding times are worked out from."""
    style: Literal["fresh", "balanced", "few"]
    """How often to shop (food.style)."""
    carry_limit_days: float
    """Most days of food to carry."""
    carry_habit_days: float
    """Days of food carried by habit."""
    corridor_m: int
    """How far from the route a shop may be, metres."""
    country: str | None
    """Country whose holidays count, two letters; null if it goes by place."""
    time_zone: str | None
    """Time zone of the whole trip; null if it goes by place."""
    settings: dict[str, object]
    """Every setting that differs from its default, by dotted key (see the trip file)."""


@model
class RouteJump:
    """A jump."""

    chainage_m: Whole
    """Where, metres."""
    length_m: Whole
    """Straight length, not part of the chainage, metres."""
    kind: Literal["ferry", "unknown"]
    """What it is by the trip file: `ferry`, or `unknown` (one that is ridden is no jump any more).
    """
    crossing_s: Whole
    """Time that the plan counts for it, waiting included, seconds."""


@model
class RouteMark:
    """A waypoint."""

    name: str
    """Name in the file."""
    lon: float
    """Longitude, degrees."""
    lat: float
    """Latitude, degrees."""


@model
class RouteDocument:
    """The route."""

    name: str
    """Name in the file."""
    length_m: Whole
    """Ridden length, metres."""
    warnings: tuple[SentenceText, ...]
    """What the reader of the file has to tell."""
    breaks: tuple[RouteJump, ...]
    """Jumps of the line: ferries, gaps in the recording."""
    marks: tuple[RouteMark, ...]
    """Waypoints of the file."""


@model
class UnknownSpan:
    """A stretch without data."""

    start_m: Whole
    """Chainage where it begins, metres."""
    end_m: Whole
    """Chainage where it ends, metres."""
    reason: SentenceText
    """Why."""


@model
class CoverageDocument:
    """How much of the route the map data covers: no data is not no shop."""

    source: str
    """Where the map data is from."""
    data_date: str | None
    """Date of the map data; null if not known."""
    unknown: tuple[UnknownSpan, ...]
    """Stretches on which nothing is known."""
    warnings: tuple[SentenceText, ...]
    """What the reader of the map data has to tell."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class ReadingRules:
    """How to read the plan."""

    rules: tuple[SentenceText, ...]
    """Rules in plain sentences."""


@model
class Attribution:
    """Source of the map data, to be named with every copy."""

    text: str
    """Credit."""
    url: str
    """Its terms."""
    data_date: str | None
    """Date of the data; null if not known."""


@model
class PaceRow:
    """One way to ride it."""

    daily_m: int
    """Distance a day, metres."""
    start_date: Date
    """First day."""
    weekday: str
    """Its weekday."""
    days: int
    """Days."""
    stops: int
    """Food stops."""
    max_carry_meals: int
    """Most food on board, meals a person."""
    max_carry_days: float
    """The same in days."""
    excess_meals: int
    """Meals a person above the limit."""
    extra_s: int
    """Time for shopping, seconds."""
    shut_on_arrival: int
    """Shops passed while shut."""
    doubtful_stops: int
    """Stops not sure to be open."""
    best: tuple[str, ...]
    """What it is best at."""
    chosen: bool
    """True for the trip as planned."""


@model
class DailyDistances:
    """The same trip with other daily distances."""

    rows: tuple[PaceRow, ...]
    """By daily distance."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class PlanDocument:
    """A planned trip: days, passes, stops, gaps, ice, meals and what to carry."""

    schema: Literal["resupply-plan/2"]
    """Name and version of this format."""
    made_with: str
    """Program and version."""
    trip: TripDocument
    """The settings in short."""
    summary: Summary
    """The first thing to read."""
    answers: FirstAnswers
    """What is asked first: the next shop, the longest stretch, ice; and what could go wrong most.
    """
    route: RouteDocument
    """The route."""
    coverage: CoverageDocument
    """How much of the route the map data covers: no data is not no shop."""
    legs: tuple[DayRow, ...]
    """Riding days in order."""
    places: dict[str, PlaceRow]
    """Places by map id (node/…, way/…, relation/…)."""
    passes: tuple[PassRow, ...]
    """Passes in order of the route."""
    start_carry: StartCarry
    """What to carry from home."""
    stops: tuple[StopRow, ...]
    """Food stops in order."""
    carry_profile: tuple[CarryStep, ...]
    """Food on board along the route: falls at meals, jumps at stops."""
    gaps: dict[str, SupplyGaps]
    """Stretches without each supply: groceries (a full food shop), small_groceries (any food shop,
    a small one too), ice, water, fuel, camp, meal_out.
    """
    shortfalls: tuple[ShortfallRow, ...]
    """Where the limit cannot be kept."""
    spare: SpareDocument
    """What is kept spare, and what a shut door would ask for."""
    eat_out: tuple[MealOutRow, ...]
    """Meals that the rider wants to eat out; those with a place are not carried."""
    styles: tuple[StyleRow, ...]
    """Three ways to shop, planned together (food.style)."""
    ice: IceDocument
    """Where to buy ice."""
    explain: ReadingRules
    """How to read the plan."""
    attribution: Attribution
    """Source of the map data, to be named with every copy."""
    naive: HoursIgnored | None = None
    """What a plan that ignores opening hours would meet."""
    sweep: DailyDistances | None = None
    """The same trip with other daily distances."""
    fuel: FuelDocument | None = None
    """Where to fill up; absent if no range is stated."""
    water: WaterDocument | None = None
    """Water to drink and cook with."""
    cold: ColdDocument | None = None
    """The cold chain; absent without a cooler."""
    care: CareDocument | None = None
    """Cautions that apply, with their sources."""
    menu: MenuDocument | None = None
    """What to eat when; absent if no food is planned."""
    shopping: ShoppingDocument | None = None
    """What to buy; absent if no food is planned."""
    packing: PackingDocument | None = None
    """How to pack; absent if no food is planned."""
    load: LoadDocument | None = None
    """What it weighs; absent if no food is planned."""
