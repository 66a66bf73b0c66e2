"""What of a plan rests on map data that is missing or silent, as facts.

In: a `TripPlan`. Out: rows of passes and lengths in metres, ahead of the rider.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.place import Supply

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from resupply.plan.pipeline import TripPlan

__all__ = ["holidays_unknown", "near_edge_m", "rows_without_road", "without_roads_m"]

_NEEDED = (Supply.GROCERIES, Supply.SMALL_GROCERIES, Supply.ICE, Supply.WATER, Supply.FUEL)
_ROADLESS_M = 5_000.0
"""So much of a route may lie beside the roads of the map, on a ferry or a new road, unsaid."""


def near_edge_m(plan: TripPlan) -> float:
    """Length of the way ahead that runs close to where the map data ends."""
    here_m = plan.legs[0].start_m
    ends = [(max(s.start_m, here_m), s.end_m) for s in plan.prepared.places.coverage.near_edge]
    return sum(max(end_m - start_m, 0.0) for start_m, end_m in ends)


def holidays_unknown(plan: TripPlan) -> bool:
    """Whether public holidays are not known where something that may be needed is open."""
    timetable, prepared = plan.prepared.timetable, plan.prepared
    if timetable is None:
        return False
    shown = np.isin(plan.risk, (*BY_HOURS, OpenState.TIGHT)) & _needed_ahead(plan)
    return not timetable.has_calendar[prepared.passes.place_ix[shown]].all()


def rows_without_road(plan: TripPlan) -> list[int]:
    """Rows of passes ahead that the plan does not use, as no road to them is known."""
    # A spring on a hillside is nothing to be warned of: the way to the next water says enough.
    told = _ahead(plan, [kind for kind in _NEEDED if kind is not Supply.WATER])
    rows: list[int] = np.flatnonzero(told & ~plan.prepared.reachable).tolist()
    return rows


def without_roads_m(plan: TripPlan) -> float | None:
    """Length of the way ahead along which no roads are known; infinite on a map without any.

    None where that is too short for a word, or nothing that may be needed lies ahead.
    """
    if not _needed_ahead(plan).any():
        return None
    roads, here_m = plan.prepared.roads, plan.legs[0].start_m
    if roads is None:
        return np.inf
    missing_m = sum(max(s.end_m - max(s.start_m, here_m), 0.0) for s in roads.matched.unmatched)
    return missing_m if missing_m >= _ROADLESS_M else None


def _needed_ahead(plan: TripPlan) -> NDArray[np.bool_]:
    """Tell which passes ahead are of what may be needed."""
    return _ahead(plan, _NEEDED)


def _ahead(plan: TripPlan, kinds: Sequence[Supply]) -> NDArray[np.bool_]:
    prepared = plan.prepared
    needed: NDArray[np.bool_] = np.any([prepared.supply[kind] for kind in kinds], axis=0)
    ahead: NDArray[np.bool_] = prepared.passes.chainage_m >= plan.legs[0].start_m
    return needed & ahead
