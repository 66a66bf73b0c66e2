"""What every plan of a trip works on: the route, the places, the passes and the ways to them.

`resupply.plan.prepare` reads it. Changing the daily distance, the date or the party re-uses a
`Prepared` as it is; other corridors change its passes, other dates its timetable.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.places.place import PlaceSet, Supply
from resupply.roads.detours import straight_detours

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from resupply.hours.timetable import Timetable
    from resupply.hours.usual import UsualHours
    from resupply.passes.find import Passes
    from resupply.roads.detours import Detours
    from resupply.roads.graph import RoadGraph
    from resupply.roads.match import MatchedRoute
    from resupply.route.route import Route

__all__ = ["USUAL_KMH", "JoinedBy", "Prepared", "RoadsUnder", "cover_span", "covers"]

USUAL_KMH = 60.0
"""Average moving speed where neither the rider nor the roads say (common practice, no source)."""

_SAME_M = 1.0
"""The nearest point to a place is found a little elsewhere when looked for from farther off."""
_DETOUR_COLUMNS = ("extra_m", "extra_s", "out_s", "walk_m", "leave_m", "rejoin_m")


@dataclass(frozen=True, slots=True, eq=False)
class RoadsUnder:
    """Road graph near the route, and what of it the route follows."""

    graph: RoadGraph
    matched: MatchedRoute


@dataclass(frozen=True, slots=True)
class JoinedBy:
    """Settings that decide which places the route passes, and what they supply."""

    all_but_gone: tuple[object, ...]
    gone: frozenset[str]
    """Map ids of places that are left out."""

    def only_less_gone(self, other: JoinedBy) -> bool:
        """Whether all of the other's passes are among these."""
        return self.all_but_gone == other.all_but_gone and self.gone <= other.gone


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """What the planner works on; m passes."""

    route: Route
    places: PlaceSet
    passes: Passes
    supply: Mapping[Supply, NDArray[np.bool_]]
    """Per supply, (m,) True where the place supplies it within that supply's corridor."""
    detours: Detours
    """Of every pass: by road, or the straight estimate where no road is known."""
    by_road: NDArray[np.bool_]
    """(m,) the detour is by road."""
    no_road: tuple[str, ...]
    """(m) why no road to the place is known though roads are; empty where one is, or none are.
    Such a place may be across a river: the plan does not count on it."""
    roads: RoadsUnder | None
    """The roads under the route; None where the map data has none."""
    backdrop: Mapping[str, Any]
    """Roads, water and towns to draw under the map; may be empty."""
    timetable: Timetable | None
    """Hours over the trip's span; None before `cover_span`."""
    zone: str | None
    """Time zone for the whole trip, None to take each place's own."""
    country: str | None
    usual: UsualHours
    """Estimates for places without hours, the rider's own rows first."""
    zone_of: Callable[[float, float], str | None]
    """Time zone name at lon, lat in degrees; None where none is known."""
    places_read: PlaceSet | None = None
    """Places as the map has them, where `places` holds what riders found there instead."""
    joined: JoinedBy | None = None
    """What the passes were found by; None where they are others than any trip's."""

    def zone_name(self, chainage_m: float) -> str:
        """Name of the time zone by which the rider lives at a chainage."""
        return self.zone or _zone_at(self.route, self.zone_of, chainage_m) or "UTC"

    @property
    def food(self) -> NDArray[np.bool_]:
        """(m,) True where food can be bought."""
        return self.supply[Supply.GROCERIES] | self.supply[Supply.SMALL_GROCERIES]

    @property
    def reachable(self) -> NDArray[np.bool_]:
        """(m,) False where roads are known, but none to the place."""
        return np.array([not why for why in self.no_road], dtype=bool)

    @property
    def leave_m(self) -> NDArray[np.float64]:
        """(m,) chainage at which the route is left: by road where known, else the nearest point."""
        return np.where(self.by_road, self.detours.leave_m, self.passes.chainage_m)

    @property
    def rejoin_m(self) -> NDArray[np.float64]:
        """(m,) chainage at which the route is joined again: by road where known."""
        return np.where(self.by_road, self.detours.rejoin_m, self.passes.chainage_m)

    def with_passes(self, passes: Passes, supply: Mapping[Supply, NDArray[np.bool_]]) -> Prepared:
        """Put in the passes of another corridor; detours of new ones are straight estimates."""
        old = _same_passes(passes, self.passes)
        # A pass stays at the kilometre of its road.
        chainage_m = passes.chainage_m.copy()
        chainage_m[old >= 0] = self.passes.chainage_m[old[old >= 0]]
        order = np.lexsort((passes.place_ix, chainage_m))
        passes = replace(passes, chainage_m=chainage_m).of(order)
        supply = {kind: mask[order] for kind, mask in supply.items()}
        old = old[order]
        mine = np.flatnonzero(old >= 0)
        straight = straight_detours(passes, speed_kmh=USUAL_KMH)
        columns = {name: getattr(straight, name).copy() for name in _DETOUR_COLUMNS}
        for name, column in columns.items():
            column[mine] = getattr(self.detours, name)[old[mine]]
        by_road = np.zeros(len(passes), dtype=bool)
        by_road[mine] = self.by_road[old[mine]]
        return replace(
            self,
            passes=passes,
            supply=supply,
            detours=replace(straight, **columns),
            by_road=by_road,
            no_road=tuple(self.no_road[row] if row >= 0 else "" for row in old.tolist()),
            joined=None,
        )


# The days of other plans of a trip begin and end at the same camps.
@lru_cache(maxsize=8192)
def _zone_at(
    route: Route, zone_of: Callable[[float, float], str | None], chainage_m: float
) -> str | None:
    return zone_of(*route.position_at(chainage_m))


def covers(prepared: Prepared, start: dt.date, end: dt.date) -> bool:
    """Whether the timetable covers the dates from start to end."""
    first, last = _span(start, end)
    table = prepared.timetable
    return (
        table is not None and table.start_s <= first.timestamp() and last.timestamp() <= table.end_s
    )


def cover_span(prepared: Prepared, start: dt.date, end: dt.date) -> Prepared:
    """Make sure that the timetable covers the dates from start to end.

    The old timetable is kept if it covers them already.
    """
    from resupply.hours.timetable import build_timetable

    if covers(prepared, start, end):
        return prepared
    first, last = _span(start, end)
    timetable = build_timetable(
        prepared.places.places,
        start=first,
        end=last,
        zone_of=prepared.zone or prepared.zone_of,
        country=prepared.country,
        country_zone_of=prepared.zone_of if prepared.zone and not prepared.country else None,
        usual=prepared.usual,
    )
    return replace(prepared, timetable=timetable)


def _span(start: dt.date, end: dt.date) -> tuple[dt.datetime, dt.datetime]:
    """Whole days in every zone of the world."""
    first = dt.datetime.combine(start, dt.time(), tzinfo=dt.UTC) - dt.timedelta(days=1)
    return first, dt.datetime.combine(end, dt.time(), tzinfo=dt.UTC) + dt.timedelta(days=2)


def _same_passes(passes: Passes, others: Passes) -> NDArray[np.int64]:
    """Row of each pass among others, -1 where it is none of them.

    Where a place is nearest is not where its road is, so passes of a place are told apart by
    their offset first; of equally far ones the nearest is taken.
    """
    rows_of: dict[int, list[int]] = {}
    for row, place in enumerate(others.place_ix.tolist()):
        rows_of.setdefault(place, []).append(row)

    def found(place: int, at_m: float, offset_m: float) -> int:
        same = [
            row for row in rows_of.get(place, ()) if abs(others.offset_m[row] - offset_m) < _SAME_M
        ]
        return min(same, key=lambda row: abs(others.chainage_m[row] - at_m), default=-1)

    columns = (passes.place_ix.tolist(), passes.chainage_m.tolist(), passes.offset_m.tolist())
    return np.array([found(*one) for one in zip(*columns, strict=True)], dtype=np.int64)
