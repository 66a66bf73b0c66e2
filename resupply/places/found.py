"""Places as riders found them: ice that was not there, and ice that the map does not know of.

In: the places of the map, and what was found. Out: the places a plan counts on.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from resupply.places.place import Confidence, PlaceSet, Supply

if TYPE_CHECKING:
    from collections.abc import Collection

__all__ = ["as_found"]


def as_found(
    places: PlaceSet, *, no_ice: Collection[str] = (), has_ice: Collection[str] = ()
) -> PlaceSet:
    """Correct what the map says of ice; the same set where nothing was found.

    Parameters
    ----------
    no_ice, has_ice
        Map ids. A place in both has none: nobody relies on ice that one rider missed.
    """
    if not no_ice and not has_ice:
        return places
    without, sure = set(no_ice), set(has_ice) - set(no_ice)
    told = []
    for place in places.places:
        if place.id in sure:
            told.append(replace(place, supplies={**place.supplies, Supply.ICE: Confidence.STATED}))
        elif place.id in without and Supply.ICE in place.supplies:
            left = dict(place.supplies)
            del left[Supply.ICE]
            told.append(replace(place, supplies=left))
        else:
            told.append(place)
    return replace(places, places=tuple(told))
