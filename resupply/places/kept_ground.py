"""What extracts cover around a route, kept so that a small change of the route reads none again.

In: what was read of each extract along one route. Out: what is known along another one, if all of
it lies on the ground that was looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.geodesy import to_ecef_m
from resupply.places.coverage import SIDE_M, SPACING_M, box_reaches, in_box
from resupply.places.near_route import cube_keys, samples_along
from resupply.places.several_extracts import ExtractResult, join_sources

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from resupply.places.osm_file import Box
    from resupply.places.place import PlaceSet
    from resupply.route.route import Route

__all__ = ["Ground", "GroundKeeper", "known_along"]


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What one extract covers near a route."""

    name: str
    date: str | None
    nowhere: int
    holds_places: bool
    box: Box | None
    """As the extract says; None where it says nothing that can be believed, degrees."""
    extent: Box | None
    near: NDArray[np.int64]
    """(k,) sorted cubes that were looked at."""
    covered: NDArray[np.int64]
    """(j,) those of them in which a route is covered."""


@dataclass(slots=True)
class GroundKeeper:
    """Asks for more than a route needs, so that it may change a little, and keeps the ground."""

    margin_m: float
    """How much farther from the route is read, metres."""
    grounds: list[Ground] = field(default_factory=list)


def known_along(
    grounds: Sequence[Ground], route: Route, reach_m: float, told_as: str
) -> PlaceSet | None:
    """Tell what is known along a route, without its places; None if some of it was not looked at.

    Parameters
    ----------
    reach_m
        How far from the route places are wanted, metres.
    told_as
        Where the data is from, in words.
    """
    lon, lat, chainage_m = samples_along(route, SPACING_M)
    cubes = cube_keys(to_ecef_m(lon, lat), SIDE_M)
    if not all(_among(cubes, ground.near).all() for ground in grounds):
        return None
    sources = [
        ExtractResult(
            name=ground.name,
            places=(),
            outlines={},
            date=ground.date,
            nowhere=ground.nowhere,
            covered=_among(cubes, ground.covered) & in_box(lon, lat, ground.box),
            reached=box_reaches(lon, lat, ground.box, reach_m),
            box_believed=ground.box is not None,
            extent=ground.extent,
            holds_places=ground.holds_places,
        )
        for ground in grounds
    ]
    return join_sources(sources, (lon, lat, chainage_m), reach_m=reach_m, told_as=told_as)


def _among(keys: NDArray[np.int64], known: NDArray[np.int64]) -> NDArray[np.bool_]:
    at = np.minimum(np.searchsorted(known, keys), max(len(known) - 1, 0))
    return np.asarray(known[at] == keys) if len(known) else np.zeros(len(keys), bool)
