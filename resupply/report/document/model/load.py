"""What is on board."""

from typing import Literal, TypeAlias

from resupply.report.document.model.base import Date, SentenceText, Time, model

__all__ = [
    "LoadDocument",
    "LoadPointRow",
    "MealFuel",
    "Overload",
    "Peak",
    "RationFigure",
    "StoveFuel",
    "WaterNeedRow",
]

Peak: TypeAlias = Literal["peak_kg", "peak_bag_l", "peak_cooler_l"]
"""Field of the load that tells when something is too much."""


@model
class LoadPointRow:
    """What is on board just after an event."""

    when: Time
    """Local time."""
    kind: Literal["stop", "meal", "other"]
    """A stop, a meal, or something else."""
    index: int
    """Number of the stop or slot of the meal."""
    label: str
    """What happens."""
    mass_kg: float
    """Food, water and ice on board, kg."""
    bag_l: float
    """Room taken in the food bag, litres."""
    cooler_l: float
    """Room taken in the cooler, litres."""


@model
class Overload:
    """What is too much, and when."""

    peak: Peak
    """The key of the moment."""
    words: SentenceText
    """How much it is over."""


@model
class WaterNeedRow:
    """A day."""

    day: int
    """Day of the trip, from 1."""
    drink_l: float
    """To drink, for all, litres."""
    cook_l: float
    """To cook, for all, litres."""
    ceiling_l: float
    """More than this in a day is dangerous, for all, litres."""
    why: SentenceText
    """Why so much."""
    date: Date | None
    """Date of the day."""


@model
class MealFuel:
    """A meal."""

    slot: int
    """Slot of the meal."""
    gas_g: float
    """Gas, grams …"""
    fuel_l: float
    """… or liquid fuel, litres."""


@model
class StoveFuel:
    """Fuel for the stove."""

    gas_g: float
    """Gas in all, grams …"""
    total_l: float
    """… or liquid fuel in all, litres."""
    meals: tuple[MealFuel, ...]
    """By meal."""
    words: SentenceText
    """In all, and what it rests on."""


@model
class RationFigure:
    """A figure."""

    value: float
    """Its value."""
    words: str
    """What it is, and its unit."""
    source: str
    """Who says so."""


@model
class LoadDocument:
    """What it weighs; absent if no food is planned."""

    points: tuple[LoadPointRow, ...]
    """In order of time."""
    peak_kg: LoadPointRow | None
    """When it is heaviest; null if nothing is carried."""
    peak_bag_l: LoadPointRow | None
    """When the bag is fullest; null if nothing is carried."""
    peak_cooler_l: LoadPointRow | None
    """When the cooler is fullest, packs and ice included; null if nothing is carried."""
    over: tuple[Overload, ...]
    """What is above the luggage's limits."""
    water: tuple[WaterNeedRow, ...]
    """Water by day."""
    stove_fuel: StoveFuel
    """Fuel for the stove."""
    rations: dict[str, RationFigure]
    """Figures used, by key."""
