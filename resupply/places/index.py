"""A regional index: places and roads of whole extracts, prepared so that planning reads little.

`build_index` makes it once from extracts; `places_from_index` reads the places near a route, the
same ones with the same coverage as `resupply.places.extract.places_from_extract`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.places.coverage import SPACING_M
from resupply.places.index_build import build_index
from resupply.places.index_parts import SUFFIX, read_contents
from resupply.places.index_read import Samples, map_features, read_source, road_rows
from resupply.places.near_route import make_reach, samples_along
from resupply.places.several_extracts import join_sources

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from resupply.places.place import PlaceSet, Supply
    from resupply.places.sees import Sees, SeesRoads
    from resupply.route.route import Route

__all__ = ["SUFFIX", "build_index", "places_from_index"]


def places_from_index(
    path: Path,
    route: Route,
    *,
    reach_m: float,
    of_supply_m: Mapping[Supply, float] | None = None,
    also: Sees | None = None,
    roads: SeesRoads | None = None,
) -> PlaceSet:
    """Places within reach of a route, from a regional index.

    Parameters
    ----------
    path
        Folder whose name ends in `.places`.
    route, reach_m
        As in `places_from_extract`.
    also
        Shown the light map.
    roads
        Shown the roads, one extract after the other.
    of_supply_m
        How far off a place of each supply may be, metres, none above `reach_m`: what lies
        clearly beyond all of its own is left out. Without it the places are the same as those
        of `places_from_extract`, one for one.

    Raises
    ------
    MapDataError
        There is no such index, it is broken, or another version of the program made it.
    """
    parts = read_contents(path)
    reach = make_reach(route, reach_m)
    lon, lat, chainage_m = samples_along(route, SPACING_M)
    samples = Samples(lon, lat, chainage_m)
    sources = []
    for part in parts:
        sources.append(read_source(path / part.folder, part, samples, reach, of_supply_m))
        if also is not None:
            for feature in map_features(path / part.folder, part, also):
                also.see(feature)
        if roads is not None:
            roads.see_rows(road_rows(path / part.folder, part, roads.reach))
    return join_sources(
        sources,
        (lon, lat, chainage_m),
        reach_m=reach_m,
        told_as=f"regional index {path.name}",
    )
