"""Put together what several extracts say about one route.

In: for each extract, the places near the route and which samples of it are covered. Out: one
`PlaceSet`. A stretch is covered if any of them covers it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.geodesy import margins_deg
from resupply.places.coverage import joined, stretches_where
from resupply.places.duplicates import merge_duplicates
from resupply.places.place import Coverage, PlaceSet

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray
    from shapely import MultiPolygon, Polygon

    from resupply.places.osm_file import Box
    from resupply.places.place import Place

__all__ = ["ExtractResult", "join_sources"]


@dataclass(frozen=True, slots=True, eq=False)
class ExtractResult:
    """What one extract says about a route of n samples."""

    name: str
    places: Sequence[Place]
    outlines: Mapping[str, Polygon | MultiPolygon]
    """Place id to its area, degrees."""
    date: str | None
    nowhere: int
    """Places left out because the extract doesn't say where they are."""
    covered: NDArray[np.bool_]
    """(n,) whether each sample is covered."""
    reached: NDArray[np.bool_]
    """(n,) whether all the ground within reach of it lies in the extract."""
    box_believed: bool
    """Whether the extract says how far it reaches."""
    extent: Box | None
    """How far it reaches: as it says, or else as far as its data does, degrees."""
    holds_places: bool
    """Whether it has a place of any kind, near the route or not."""
    warnings: tuple[str, ...] = field(default=())


def join_sources(
    sources: Sequence[ExtractResult],
    samples: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
    *,
    reach_m: float,
    told_as: str,
) -> PlaceSet:
    """One set of places, each counted once, and what of the route is not covered.

    Parameters
    ----------
    samples
        Longitude, latitude (degrees) and chainage (metres) of the samples, each (n,).
    told_as
        Where the data is from, in words.
    """
    lon, lat, chainage_m = samples
    warnings: list[str] = []
    covered, whole, bare = (np.zeros(chainage_m.size, dtype=bool) for _ in range(3))
    outlines: dict[str, Polygon | MultiPolygon] = {}
    for source in sources:
        outlines.update(source.outlines)
        warnings += _told(source, lon, lat, reach_m)
        if source.holds_places:
            covered |= source.covered
            whole |= source.covered & source.reached
        else:
            bare |= source.covered
    names = ", ".join(source.name for source in sources)
    elsewhere = stretches_where(
        ~covered & ~bare, chainage_m, f"the map extract ({names}) doesn't cover this stretch"
    )
    without = stretches_where(
        bare & ~covered, chainage_m, f"the map extract ({names}) holds roads here and no places"
    )
    # An extract of elsewhere tells nothing here, nor does its date.
    used = [one for one in sources if one.places or one.covered.any()]
    dates = [one.date for one in used or sources]
    return PlaceSet(
        places=merge_duplicates([one for source in sources for one in source.places], outlines),
        coverage=Coverage(
            source=told_as,
            data_date=None
            if None in dates
            else min((date for date in dates if date), default=None),
            unknown=joined((*elsewhere, *without)),
            near_edge=stretches_where(covered & ~whole, chainage_m, ""),
        ),
        warnings=tuple(warnings),
    )


def _told(
    source: ExtractResult, lon: NDArray[np.float64], lat: NDArray[np.float64], reach_m: float
) -> Iterator[str]:
    """Tell what a rider should know of one extract."""
    if not source.covered.any() and not _touches(source.extent, lon, lat, reach_m):
        own = "has no roads and no places" if source.extent is None else _in_words(source.extent)
        here = _in_words((lon.min(), lat.min(), lon.max(), lat.max()))
        yield f"{source.name} doesn't touch the route: it {own}; the route {here}."
    elif not source.holds_places:
        yield (
            f"{source.name} holds roads and no place of any kind, so that it tells of no shop. "
            "Use one that was not cut to roads."
        )
    yield from source.warnings
    if source.nowhere:
        yield (
            f"{source.name}: {source.nowhere} place{'s' * (source.nowhere > 1)} left out "
            "because the extract doesn't say where"
        )
    if source.covered.any() and not source.box_believed:
        yield (
            f"{source.name}: the extract doesn't say how far it reaches; what it covers is "
            "judged by its roads alone"
        )


def _touches(
    box: Box | None, lon: NDArray[np.float64], lat: NDArray[np.float64], reach_m: float
) -> bool:
    """Whether a part of the route lies in a box or within reach of it."""
    if box is None:
        return False
    west, south, east, north = box
    margin_lat, margin_lon = margins_deg(lat, reach_m)
    near = (lat + margin_lat >= south) & (lat - margin_lat <= north)
    return bool((near & (lon + margin_lon >= west) & (lon - margin_lon <= east)).any())


def _in_words(box: Box) -> str:
    west, south, east, north = box
    lat = [f"{abs(value):.1f}° {'N' if value >= 0 else 'S'}" for value in (south, north)]
    lon = [f"{abs(value):.1f}° {'E' if value >= 0 else 'W'}" for value in (west, east)]
    return f"lies in {' to '.join(lat)}, {' to '.join(lon)}"
