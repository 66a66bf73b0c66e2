"""Put together what several extracts say about one route.

In: for each extract, the places near the route and which samples of it are covered. Out: one
`PlaceSet`. A stretch is covered if any of them covers it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from resupply.places.coverage import stretches_where
from resupply.places.duplicates import merge_duplicates
from resupply.places.place import Coverage, PlaceSet

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from shapely import MultiPolygon, Polygon

    from resupply.places.place import Place, RouteSpan

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
    warnings: tuple[str, ...] = field(default=())


def join_sources(
    sources: Sequence[ExtractResult],
    chainage_m: NDArray[np.float64],
    *,
    reach_m: float,
    told_as: str,
) -> PlaceSet:
    """One set of places, each counted once, and what of the route is not covered.

    Parameters
    ----------
    chainage_m
        (n,) of the samples, metres.
    told_as
        Where the data is from, in words.
    """
    warnings: list[str] = []
    covered = np.zeros(chainage_m.size, dtype=bool)
    whole = np.zeros(chainage_m.size, dtype=bool)
    outlines: dict[str, Polygon | MultiPolygon] = {}
    for source in sources:
        outlines.update(source.outlines)
        warnings += source.warnings
        if source.nowhere:
            warnings.append(
                f"{source.name}: {source.nowhere} place{'s' * (source.nowhere > 1)} left out "
                "because the extract doesn't say where"
            )
        if source.covered.any() and not source.box_believed:
            warnings.append(
                f"{source.name}: the extract doesn't say how far it reaches; what it covers is "
                "judged by its roads alone"
            )
        covered |= source.covered
        whole |= source.covered & source.reached
    names = ", ".join(source.name for source in sources)
    unknown = stretches_where(
        ~covered, chainage_m, f"the map extract ({names}) doesn't cover this stretch"
    )
    warnings += _edge_warning(stretches_where(covered & ~whole, chainage_m, ""), reach_m)
    dates = [source.date for source in sources]
    return PlaceSet(
        places=merge_duplicates([one for source in sources for one in source.places], outlines),
        coverage=Coverage(
            source=told_as,
            data_date=None
            if None in dates
            else min((date for date in dates if date), default=None),
            unknown=unknown,
        ),
        warnings=tuple(warnings),
    )


def _edge_warning(pieces: Sequence[RouteSpan], reach_m: float) -> list[str]:
    """One line on all stretches near an edge of the data."""
    if not pieces:
        return []
    # The unit stands at every number, so that each can be told in miles.
    spans = [f"km {p.start_m / 1000:.0f} to km {p.end_m / 1000:.0f}" for p in pieces]
    shown = ", ".join(spans[:4]) + (f" and {len(spans) - 4} more" if len(spans) > 4 else "")
    return [
        (
            f"{shown}: the map extract ends within {reach_m / 1000:g} km of the route, places "
            "beyond its edge are not known"
        )
    ]
