"""Fuel and water."""

from typing import Annotated, Literal

from pydantic import Field

from resupply.report.document.model.base import SentenceText, Time, Whole, model
from resupply.say.states import StateKey

__all__ = [
    "BeyondRange",
    "FillingStop",
    "FuelDocument",
    "WaterDayRow",
    "WaterDocument",
    "WaterGapRow",
    "WaterOnBoard",
]


@model
class FillingStop:
    """A filling stop."""

    pass_id: Annotated[str, Field(alias="pass")]
    """Id of its pass."""
    name: str
    """Name."""
    leg: int
    """Riding day."""
    chainage_m: Whole
    """Where, metres."""
    since_m: Whole
    """Road since the last filling, metres."""
    eta: Time
    """Local time."""
    state: StateKey
    """Open state then."""
    confidence: Literal["stated", "likely"]
    """Whether the map names what the tank takes (or no fuel at all), or only other fuels."""
    joined: bool
    """True if it is beside a food stop."""
    at_stop: int | None
    """Number of that food stop: one visit serves both; null if none."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class BeyondRange:
    """A stretch beyond the range."""

    start_m: Whole
    """Chainage where it begins, metres."""
    end_m: Whole
    """Chainage where it ends, metres."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class FuelDocument:
    """Where to fill up; absent if no range is stated."""

    range_m: int
    """Range of a full tank, metres."""
    reserve_m: int
    """Kept in reserve, metres."""
    tank_m: int | None
    """What the fuel at the start reaches, metres; null if not known."""
    tank_words: SentenceText
    """What the plan counts on at the start, and how far the first station is."""
    stops: tuple[FillingStop, ...]
    """In order."""
    longest_gap_m: int
    """Longest road between fillings, metres."""
    exceeded: tuple[BeyondRange, ...]
    """Where the range does not reach."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class WaterDayRow:
    """A day."""

    leg: int
    """Riding day."""
    litres: float
    """For all, litres."""
    road_l: float
    """Of it drunk between camps, litres."""
    camp_l: float
    """Used in the camp that ends the day till the next departure, days of rest there with it,
    litres."""
    words: SentenceText
    """Why so much."""


@model
class WaterFillRow:
    """Where water is taken on, and how much the plan takes."""

    pass_id: Annotated[str | None, Field(alias="pass")]
    """Id of the pass; null at the start."""
    start_m: Whole
    """Chainage, metres."""
    litres: float
    """To the next place with water, for all, litres."""


@model
class WaterGapRow:
    """A ride from one place with water to the next."""

    pass_id: Annotated[str | None, Field(alias="pass")]
    """Id of the pass where water is taken on; null at the start."""
    start_m: Whole
    """Chainage where water is taken on, metres."""
    end_m: Whole
    """Chainage of the next water, metres."""
    litres: float
    """Water to carry for all, litres."""
    dry_camps: Whole
    """Nights on the way."""
    treat: bool
    """True if the water must be treated before it is drunk."""
    buy: bool
    """True if it is bought, at a food stop of the plan."""
    crosses_unknown: bool
    """True if map data is missing on part of it."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class WaterOnBoard:
    """On a trip under way: whether the water on board lasts to the next place with water."""

    litres: float | None
    """On board for all, litres; null if not known."""
    needed_l: float
    """Needed for all to there, litres."""
    lasts: bool | None
    """Whether it lasts; null if not known."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class WaterDocument:
    """Water to drink and cook with."""

    litres_by_day: tuple[WaterDayRow, ...]
    """By riding day."""
    every_day: SentenceText
    """How much is too much, on every day."""
    unknown_heat: tuple[int, ...]
    """Riding days whose heat is not known: a cool day is counted."""
    gaps: tuple[WaterGapRow, ...]
    """Those that take a litre or more."""
    fills: tuple[WaterFillRow, ...]
    """Every place where water is taken on, the start first."""
    longest: WaterGapRow
    """The one that takes most."""
    words: SentenceText
    """Plain sentence, ready to show."""
    on_board: WaterOnBoard | None = None
    """On a trip under way: whether the water on board lasts to the next place with water."""
