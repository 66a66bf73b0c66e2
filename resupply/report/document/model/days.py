"""Riding days."""

from typing import Annotated, Literal

from pydantic import Field

from resupply.report.document.model.base import (
    Date,
    Ordinal,
    SentenceText,
    Time,
    Whole,
    model,
)
from resupply.say.states import StateKey

__all__ = ["ArrivalTable", "DayFactRow", "DayRow", "MealOutRow", "NightRow", "SurfaceRow"]


@model
class NightRow:
    """Where the day ends."""

    kind: Literal["camp", "nominal", "end"]
    """A camp, a place by distance alone, or the end of the route."""
    name: str | None
    """Name of the camp; null if none is chosen or it has none."""
    place: str | None
    """Its id in `places`; null if none is chosen."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class SurfaceRow:
    """Metres of each surface; null where no roads are known."""

    paved_m: Whole
    """Paved, metres."""
    gravel_m: Whole
    """Gravel, metres."""
    track_m: Whole
    """Track, metres."""
    unknown_m: Whole
    """Not known, metres."""


@model
class ArrivalTable:
    """When the rider is where on a day, to be looked up: straight lines between the rows."""

    chainage_m: tuple[int, ...]
    """Never falling, metres; a halt stands twice: its begin and its end."""
    arrive_s: tuple[int, ...]
    """UTC seconds since 1970."""
    half_width_s: tuple[int, ...]
    """How far off each may be, seconds either way."""


@model
class DayFactRow:
    """What is special on a day, or on the days of rest before it."""

    kind: Literal["holiday", "clocks", "time_zone", "border", "sunset", "meal_out"]
    """A public holiday, clocks changed, a time zone or a border crossed, the sunset against the
    arrival in camp, a meal eaten out."""
    label: str
    """A word to put before it."""
    words: SentenceText
    """Plain words, ready to show."""
    chainage_m: Whole | None
    """Where, metres; null where it has no place."""


@model
class MealOutRow:
    """A meal that the rider wants to eat out."""

    day: Ordinal
    """Number of the riding day."""
    date: Date
    """Date."""
    meal: Literal["breakfast", "lunch", "dinner"]
    """Which."""
    pass_id: Annotated[str | None, Field(alias="pass")]
    """Id of the pass of its place; null where none is known, and the meal is carried."""
    name: str | None
    """Name of the place."""
    at: Time | None
    """Local time at its door."""
    earliest: Time | None
    """Earliest likely arrival there."""
    latest: Time | None
    """Latest likely arrival there."""
    state: StateKey
    """Open state then; not known where there is no place."""
    state_words: SentenceText | None
    """Hours in words; null where there is no place."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class DayRow:
    """A riding day."""

    number: Ordinal
    """Number of the riding day, from 1."""
    date: Date
    """Date."""
    weekday: str
    """Weekday."""
    start_m: Whole
    """Chainage where it begins, metres."""
    end_m: Whole
    """Chainage where it ends, metres."""
    length_m: Whole
    """Length, metres."""
    began_m: Whole | None = None
    """Chainage where the day began that a rider under way is riding; only on the first."""
    depart: Time
    """Local time of departure."""
    arrive: Time
    """Time of arrival, stops included, by the clock at the day's end."""
    arrivals: ArrivalTable
    """When the rider is where on this day."""
    ride_s: Whole
    """Riding time, seconds."""
    rest_days_before: Whole
    """Days without riding before it, rest days and days of a crossing."""
    crossing_days_before: Whole
    """How many of them a crossing takes."""
    night: NightRow
    """Where the day ends."""
    sunrise: Time | None
    """At the day's start; null where the sun does not rise."""
    sunset: Time | None
    """At the day's end; null where the sun does not set."""
    surface: SurfaceRow | None
    """Metres of each surface; null where no roads are known."""
    low_c: float | None
    """Lowest air temperature, °C; null if not known."""
    high_c: float | None
    """Highest air temperature, °C; null if not known."""
    facts: tuple[DayFactRow, ...]
    """What is special on this day, or on the days of rest before it."""
    cautions: tuple[SentenceText, ...]
    """What to beware of on this day."""
