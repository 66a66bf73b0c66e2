"""Coolers and the weather they stand in."""

from typing import Annotated, Literal

from pydantic import Field

from resupply.report.document.model.base import Date, SentenceText, Time, model

__all__ = [
    "ColdDocument",
    "ColdNeed",
    "CoolerInstant",
    "CoolerRoom",
    "CoolerRow",
    "IceLoadRow",
    "OtherForm",
    "WeatherDay",
    "WeatherDocument",
]


@model
class ColdNeed:
    """A time with something perishable inside."""

    since: Annotated[Time, Field(alias="from")]
    """Local time."""
    to: Time
    """Local time."""


@model
class IceLoadRow:
    """Ice to buy."""

    at: Time
    """Local time."""
    label: str
    """Where."""
    bags: int
    """Bags."""
    bag_kg: float
    """Ice in one, kg."""
    kg: float
    """Ice bought, kg."""
    loaded_kg: float
    """Ice that fits, kg."""
    kind: Literal["cube", "block"]
    """Form of the ice."""
    confidence: Literal["stated", "likely"]
    """On the map, or likely."""
    on_the_way: bool
    """False for ice from home."""
    if_none_fails_at: Time | None
    """If there is none: when it gets too warm; null if it does not, or the ice is sure."""
    words: SentenceText
    """Plain sentence, ready to show."""
    pass_id: Annotated[str | None, Field(alias="pass")]
    """Its pass; null for home."""
    doubt_words: SentenceText
    """What happens if there is none; empty if that does not matter."""


@model
class CoolerInstant:
    """An instant."""

    t: Time
    """Local time."""
    temp_c: float | None
    """Inside, °C; null if not known."""
    ice_kg: float | None
    """Ice left, kg; null if not known."""
    ambient_c: float | None
    """Air, °C; null if not known."""


@model
class CoolerRoom:
    """How much of the cooler is taken by food, packs and ice."""

    usable_l: float
    """Room they may take, litres."""
    fullest_l: float
    """Most they take, litres; without ice where the weather is not known."""
    fullest_at: Time
    """When that is."""
    over_l: float
    """So much more than fits, litres; 0 if all fits."""
    known: bool
    """False where the ice left is not known to the end, as weather is missing."""
    words: SentenceText
    """The same in a few words; empty without anything inside."""


@model
class OtherForm:
    """The same plan with the other form of ice."""

    kind: str
    """cube or block."""
    ice_stops: int
    """Ice stops on the way."""
    ice_kg: float
    """Ice put in, all told."""
    fails_at: Time | None
    """First time above the limit."""
    words: SentenceText
    """The same in a sentence."""


@model
class CoolerRow:
    """A cooler."""

    name: str
    """food or drinks."""
    kind: str
    """Kind of cooler."""
    volume_l: float
    """Room inside, litres."""
    ua_w_per_k: float | None
    """Heat it lets in per degree, W/K; null if not known."""
    ua_source: str
    """Where that is from."""
    limit_c: float
    """What is inside must stay at or below this, °C."""
    state: Literal["holds", "fails", "too full", "not known", "no need", "no cooler"]
    """Whether it does."""
    needs: tuple[ColdNeed, ...]
    """When it must be cold."""
    fails_at: Time | None
    """When it first gets too warm; null if it does not."""
    hours_above: float
    """Hours above the limit."""
    warmest_c: float | None
    """Warmest inside while it must be cold, °C; null if not known."""
    ice_gone: Time | None
    """When ice first runs out; null if it does not."""
    no_ice_from: Time | None
    """From when there is no ice although it is needed; null if there always is."""
    unknown_from: Time | None
    """From when the weather, and so the cold, is not known; null if it is known throughout."""
    ice_stops: int
    """Ice stops on the way."""
    ice_kg: float
    """Ice to buy in all, kg."""
    ice_kg_per_day: float | None
    """The same per day of need, kg; null if there is no need."""
    spared_ice_kg: float | None
    """Ice that is not bought, as it would outweigh by far the food it keeps, kg: the menu does
    without such food; null where none is spared."""
    purchases: tuple[IceLoadRow, ...]
    """In order."""
    trace: tuple[CoolerInstant, ...]
    """Temperature and ice hour by hour."""
    room: CoolerRoom
    """How much of the cooler is taken by food, packs and ice."""
    words: SentenceText
    """Plain sentence, ready to show."""
    loaded_kg: float
    """Ice put in, all told."""
    other_form: OtherForm | None = None
    """The same plan with the other form of ice."""
    safety: bool
    """Kept for food safety; false for drinks."""
    limit_words: SentenceText
    """The limit in words."""
    verdict: SentenceText
    """Whether it holds, in a sentence that names the cooler."""


@model
class WeatherDay:
    """A day."""

    date: Date
    """Date."""
    low_c: float | None
    """Lowest, °C; null if not known."""
    high_c: float | None
    """Highest, °C; null if not known."""
    source: str
    """Stated, forecast or not known."""


@model
class WeatherDocument:
    """Weather it was worked out with."""

    days: tuple[WeatherDay, ...]
    """By date."""
    problems: tuple[str, ...]
    """Why weather is missing."""


@model
class ColdDocument:
    """The cold chain; absent without a cooler."""

    coolers: tuple[CoolerRow, ...]
    """One or two."""
    weather: WeatherDocument
    """Weather it was worked out with."""
    assumptions: tuple[SentenceText, ...]
    """What is taken for granted."""
    sources: tuple[str, ...]
    """Sources of the figures."""
