"""Whether a filling station sells what a tank takes, from its `fuel:…` tags.

In: a place, and what the tank takes. Out: *stated*, *likely* or None. A station that names no fuel
is taken for what its kind promises. One that names others and not ours may still have it ("yes on
some says nothing of others", OpenStreetMap wiki, Key:fuel:*): likely, with a caution.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from resupply.places.place import Confidence, Supply
from resupply.trip.fuels import ANY_PETROL, kind_of_fuel

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from resupply.places.place import Place

__all__ = ["fuel_confidence", "is_unmanned", "supplied"]

_PREFIX: Final = "fuel:"

_EVERYWHERE: Final = frozenset((ANY_PETROL, "diesel"))
"""What a filling station that names no fuel sells."""
_BESIDE_PETROL: Final = frozenset((*_EVERYWHERE, "ethanol", "lpg"))
"""Sold beside petrol nearly everywhere; some mappers name only what is rare."""
_ORDINARY: Final = re.compile(r"octane_(?:8\d|9[0-5])|petrol|gasoline")
"""A station without these has no petrol; without the finer grades it may."""


def fuel_confidence(
    kind: str, tags: Mapping[str, str], takes: Collection[str]
) -> Confidence | None:
    """How sure a station is to sell one of some fuels; None if it does not.

    Parameters
    ----------
    kind
        The tag that made it a place; `shop=fuel` sells cans of anything.
    takes
        Kinds (`petrol`, `diesel`) or keys of the map (`octane_95`).

    Examples
    --------
    >>> fuel_confidence("amenity=fuel", {"fuel:octane_95": "yes"}, ["petrol"])
    <Confidence.STATED: 'stated'>
    >>> fuel_confidence("amenity=fuel", {"fuel:diesel": "yes"}, ["petrol"])
    <Confidence.LIKELY: 'likely'>
    >>> fuel_confidence("amenity=fuel", {"fuel:h70": "yes"}, ["petrol"]) is None
    True
    """
    yes, no = _named(tags)
    if any(_is_taken(name, takes) for name in yes):
        return Confidence.STATED
    kinds = {kind_of_fuel(name) for name in yes} - {"", "other"}
    denied = {name for name in no if _is_taken(name, takes)}
    # The rider's own grade, or the ordinary one, is said not to be there.
    if denied & set(takes) or any(_ORDINARY.fullmatch(name) for name in denied):
        return None
    if "others" in no:
        return None
    if yes and not kinds:
        return Confidence.LIKELY if any(not kind_of_fuel(name) for name in yes) else None
    road = not _EVERYWHERE.isdisjoint({*takes, *map(kind_of_fuel, takes)})
    if not kinds:
        sure = kind == "amenity=fuel" and road and not denied
        return Confidence.STATED if sure else Confidence.LIKELY
    if denied and ANY_PETROL not in kinds:
        return None
    return Confidence.LIKELY if road and kinds & _BESIDE_PETROL else None


def supplied(place: Place, takes: Collection[str]) -> Mapping[Supply, Confidence]:
    """Give what a place supplies to a rider whose tank takes some fuels."""
    if Supply.FUEL not in place.supplies:
        return place.supplies
    sold = fuel_confidence(place.kind, place.tags, takes)
    found = dict(place.supplies)
    if sold is None:
        del found[Supply.FUEL]
    else:
        found[Supply.FUEL] = sold
    return found


def is_unmanned(tags: Mapping[str, str]) -> bool:
    """Whether there are pumps without staff, which take cards (OpenStreetMap: Key:automated)."""
    return tags.get("automated", "").lower() in ("yes", "only")


def _named(tags: Mapping[str, str]) -> tuple[frozenset[str], frozenset[str]]:
    """Fuels said to be there and not to be there, in small letters."""
    yes: set[str] = set()
    no: set[str] = set()
    for key, value in tags.items():
        if key.startswith(_PREFIX) and ":" not in key.removeprefix(_PREFIX):
            (no if value.strip().lower() in ("no", "none") else yes).add(
                key.removeprefix(_PREFIX).lower()
            )
    # What is said beside the fuels is no fuel; nor is a key that nobody knows.
    return frozenset(yes - {"discount", "others"}), frozenset(no)


def _is_taken(name: str, takes: Collection[str]) -> bool:
    return name in takes or kind_of_fuel(name) in takes
