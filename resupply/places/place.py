"""What a place is, and what the map data covers. No data is not "no shop"."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.common.quantity import Said

__all__ = ["Confidence", "Coverage", "Place", "PlaceSet", "RouteSpan", "Supply"]


class Supply(StrEnum):
    """What a place can supply."""

    GROCERIES = "groceries"
    """A full shop: fresh, dry and tinned food."""
    SMALL_GROCERIES = "small_groceries"
    """A narrow range: kiosk, bakery, filling-station shop."""
    ICE = "ice"
    WATER = "water"
    FUEL = "fuel"
    CAMP = "camp"
    MEAL_OUT = "meal_out"


class Confidence(StrEnum):
    """Whether the map says so, or we infer it from the kind of place."""

    STATED = "stated"
    LIKELY = "likely"


@dataclass(frozen=True, slots=True)
class Place:
    """One map feature. All strings but `id` and `kind` are hostile map text."""

    id: str
    """`node/…`, `way/…` or `relation/…`."""
    lon: float
    lat: float
    name: str
    """May be empty: then show `kind` in words."""
    kind: str
    """The tag that made it a place, e.g. `shop=supermarket`."""
    supplies: Mapping[Supply, Confidence]
    opening_hours: str | None = None
    """Raw tag text; None where the map has none."""
    tags: Mapping[str, str] = field(default_factory=dict)
    """The few other tags worth showing (brand, phone, website, fee, tents, seasonal, …)."""
    merged_ids: tuple[str, ...] = ()
    """Other features that are the same place (a node inside its own building)."""


@dataclass(frozen=True, slots=True)
class RouteSpan:
    """A piece of the route, metres of chainage."""

    start_m: float
    end_m: float
    reason: str = ""
    """Why it is listed, e.g. "the extract ends here" or "leg 3: the map service timed out"."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """Which stretches of the route the map data does *not* cover, and how old it is."""

    source: str
    """In words: "extract alps.osm.pbf" or "live map service"."""
    data_date: str | None
    """ISO date of the data, None if it does not say."""
    unknown: tuple[RouteSpan, ...] = ()
    """Sorted, not overlapping. Nothing may be concluded about these."""
    near_edge: tuple[RouteSpan, ...] = ()
    """Covered stretches of which the data ends within reach: beyond its edge nothing is known."""


@dataclass(frozen=True, slots=True)
class PlaceSet:
    """Places near a route, sorted by id, and what the data covers."""

    places: tuple[Place, ...]
    coverage: Coverage
    warnings: tuple[Said, ...] = ()
