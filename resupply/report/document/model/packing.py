"""How to pack."""

from typing import Literal

from resupply.report.document.model.base import SentenceText, Time, model

__all__ = [
    "BikeLoad",
    "BikeParcel",
    "PackedItem",
    "PackedLayer",
    "PackedStop",
    "PackingDocument",
    "PackingRule",
]


@model
class PackedItem:
    """Something packed."""

    id: str
    """Id of the ingredient."""
    name: str
    """Name of the ingredient."""
    words: SentenceText
    """Amount in words."""
    first_use: Time
    """When it is first needed, local time."""
    mass_kg: float
    """Mass, kg."""
    volume_l: float
    """Room it takes, litres."""


@model
class PackedLayer:
    """A layer."""

    kind: Literal["raw", "ice", "packs", "food", "rests", "fill"]
    """What it is."""
    volume_l: float
    """Room it takes, litres."""
    ice_kg: float
    """Ice in it, kg."""
    packs_kg: float
    """Reusable packs in it, kg."""
    first_use: Time | None
    """When it is first needed; null if it is not food."""
    items: tuple[PackedItem, ...]
    """What is in it."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class BikeParcel:
    """What lies together on a bike."""

    kind: Literal["cooler", "drinks", "raw", "kitchen", "food", "spare"]
    """What it is: the food or the drinks cooler with all in it, raw meat, pots and stove with
    spices, a food, or one of the spare meals."""
    foods: tuple[str, ...]
    """Ids of the ingredients in it."""
    mass_kg: float
    """Mass, kg."""
    words: SentenceText
    """What it is, in words."""


@model
class BikeLoad:
    """What one bike carries."""

    name: str
    """Its name."""
    mass_kg: float
    """Food, ice, gear and its share of the water, kg."""
    load_kg: float
    """What it may carry, kg."""
    water_kg: float
    """Its share of the water, kg."""
    room_l: float
    """Room taken, without the cooler, litres."""
    has_l: float
    """Room it has, litres."""
    parcels: tuple[BikeParcel, ...]
    """What it carries, the largest first."""
    words: SentenceText
    """The same in words."""
    over_words: SentenceText
    """What is too much for it; may be empty."""


@model
class PackedStop:
    """After a stop."""

    stop: int
    """Number of the stop, 0 is home."""
    name: str
    """Name."""
    when: Time
    """Local time."""
    cooler: tuple[PackedLayer, ...]
    """Layers of the cooler, bottom first."""
    food_bag: tuple[PackedItem, ...]
    """Outside the cooler."""
    spice_bag: tuple[PackedItem, ...]
    """Small things used often."""
    over_l: float
    """Litres more than food, packs and ice may fill."""
    rules: tuple[str, ...]
    """Keys of `rules` that apply."""
    words: SentenceText
    """What does not fit; may be empty."""
    bikes: tuple[BikeLoad, ...] = ()
    """Who carries what until the next stop, with the most ice and water until then; empty where
    one bike carries all."""


@model
class PackingRule:
    """A rule."""

    words: str
    """Plain sentence, ready to show."""
    source: str
    """Who says so."""


@model
class PackingDocument:
    """How to pack; absent if no food is planned."""

    stops: tuple[PackedStop, ...]
    """By stop."""
    rules: dict[str, PackingRule]
    """Rules by key."""
