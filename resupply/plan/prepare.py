"""Everything of a plan that does not depend on the pace: route, places, passes, detours.

In: a `Trip` and the folder its file names are relative to. Out: a `Prepared`. All reading of
files and asking of services happens here; `resupply.plan.pipeline` is pure. Changing the daily
distance, the date or the party re-uses a `Prepared` as it is.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.common.errors import MapDataError, TripFileError
from resupply.common.progress import silent
from resupply.hours.usual import read_usual_hours
from resupply.passes.find import Passes, find_passes
from resupply.places.found import as_found
from resupply.places.fuels import supplied
from resupply.places.place import PlaceSet, RouteSpan, Supply
from resupply.places.read import reaches_m, read_map
from resupply.plan.prepared import USUAL_KMH, JoinedBy, Prepared, RoadsUnder
from resupply.plan.schedule import zone_info
from resupply.plan.where_left import ReachedPasses, where_left
from resupply.roads.detours import straight_detours
from resupply.route.jumps import with_ridden_jumps

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from resupply.common.progress import Progress
    from resupply.places.sees import Sees
    from resupply.roads.detours import Detours
    from resupply.roads.graph import RoadGraph
    from resupply.roads.speeds import Speeds
    from resupply.route.route import Route
    from resupply.trip.settings import Trip

__all__ = ["join_passes", "prepare", "rejoin", "zone_at"]

_STOPS = (
    Supply.GROCERIES,
    Supply.SMALL_GROCERIES,
    Supply.ICE,
    Supply.WATER,
    Supply.FUEL,
    Supply.CAMP,
)
_NO_ROAD_KNOWN = "the line jumps here: the road you ride is not known"


def prepare(
    trip: Trip,
    folder: Path,
    *,
    route: Route | None = None,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
) -> Prepared:
    """Read the route and the map data and find every pass.

    Parameters
    ----------
    trip
        Settings; `route` and `[map]` say what is read.
    folder
        File names of the trip are relative to it.
    route
        A route already read; then the trip's own is not.
    progress
        Told what is being done.
    stop
        Asked now and then whether to give up; what the map service answered is kept.

    Raises
    ------
    ResupplyError
        The route or the map data cannot be used, or the trip names neither.
    """
    tell = progress or silent
    if trip.region.time_zone:
        zone_info(trip.region.time_zone)  # told now, not when all has been read
    if route is None:
        from resupply.route.read import read_route

        if not trip.route:
            raise TripFileError("no route is given", mend="Name a route file as the key route")
        tell("Reading the route", None)
        route = read_route(folder / trip.route)
    route = with_ridden_jumps(route, trip.jumps)
    from resupply.plan.kept_corridor import corridor_near
    from resupply.roads.speeds import load_speeds

    speeds = load_speeds(folder / trip.map.speeds if trip.map.speeds else None)
    corridor = None
    if trip.map.extracts:
        corridor = corridor_near(trip, folder, route, speeds, tell, stop)
    else:
        tell("Reading the map data", None)
    extracted = None if corridor is None else (corridor.places, corridor.backdrop)
    drawn = None
    if corridor is None and trip.map.service:
        from resupply.places.base_map import LIVE_REACH_M, BackdropCollector, backdrop_document

        drawn = BackdropCollector(route, LIVE_REACH_M)
    places, backdrop = read_map(trip, folder, route, tell, stop, extracted, drawn)
    places = _with_lines_not_known(places, route)
    roads = None
    if corridor is not None and corridor.graph is not None:
        tell("Following the roads", None)
        roads = _roads_under(corridor.graph, route, folder / "cache")
    elif corridor is None and trip.map.roads and trip.map.service:
        tell("Following the roads", None)
        roads, problem = _live_roads(trip, folder, route, speeds, tell, stop, drawn)
        places = replace(places, warnings=(*places.warnings, *problem))
    if drawn is not None:
        backdrop = backdrop_document(drawn.backdrop())
    usual_hours = folder / trip.region.usual_hours if trip.region.usual_hours else None
    return Prepared(
        route=route,
        **_joined(route, places, roads, trip, tell, folder / "cache"),
        roads=roads,
        backdrop=backdrop,
        timetable=None,
        zone=trip.region.time_zone,
        country=trip.region.country,
        usual=read_usual_hours(usual_hours),
        zone_of=zone_at,
    )


def _with_lines_not_known(places: PlaceSet, route: Route) -> PlaceSet:
    """Nothing is known of a jump that is ridden: the road is not the straight line."""
    if not route.ridden_jumps:
        return places
    own = [
        RouteSpan(jump.chainage_m, jump.chainage_m + jump.length_m, _NO_ROAD_KNOWN)
        for jump in route.ridden_jumps
    ]
    unknown: list[RouteSpan] = []
    for span in sorted([*places.coverage.unknown, *own], key=lambda s: s.start_m):
        start_m = max(span.start_m, unknown[-1].end_m) if unknown else span.start_m
        if span.end_m > start_m:
            unknown.append(RouteSpan(start_m, span.end_m, span.reason))
    return replace(places, coverage=replace(places.coverage, unknown=tuple(unknown)))


def rejoin(prepared: Prepared, trip: Trip) -> Prepared:
    """Find the passes again for other corridors or places found otherwise; nothing is read.

    Where only some places are gone that were not before, they are left out, and the ways to all
    others stay as they are.

    Parameters
    ----------
    prepared
        Read with a trip whose `mapdata.reach_m` is the same as this one's.
    """
    wanted, before = _joined_by(trip), prepared.joined
    if before == wanted:
        return prepared
    if before is not None and before.only_less_gone(wanted):
        return replace(_without(prepared, wanted.gone - before.gone), joined=wanted)
    places = prepared.places_read or prepared.places
    return replace(prepared, **_joined(prepared.route, places, prepared.roads, trip, silent))


def _joined_by(trip: Trip) -> JoinedBy:
    shops = trip.shops
    told = (frozenset(shops.no_ice), frozenset(shops.has_ice))
    return JoinedBy((reaches_m(trip.map), *told, trip.fuel.takes), frozenset(shops.gone))


def _without(prepared: Prepared, gone: Collection[str]) -> Prepared:
    """Leave out the passes of some places, by map id."""
    here = np.array([place.id not in gone for place in prepared.places.places], dtype=bool)
    rows = np.flatnonzero(here[prepared.passes.place_ix]) if len(here) else np.zeros(0, np.int64)
    every = ReachedPasses(*(getattr(prepared, name) for name in ReachedPasses._fields))
    return replace(prepared, **every.of(rows)._asdict())


def _joined(
    route: Route,
    places: PlaceSet,
    roads: RoadsUnder | None,
    trip: Trip,
    tell: Progress,
    cache: Path | None = None,
) -> dict[str, Any]:
    """Fields of a `Prepared` that depend on corridors and on how places were found."""
    tell("Finding the shops along the route", None)
    shops = trip.shops
    told = as_found(places, no_ice=shops.no_ice, has_ice=shops.has_ice)
    passes, supply = join_passes(route, told, trip)
    found = ReachedPasses(passes, supply, *_detours(passes, supply, told, roads, tell, cache))
    reached = where_left(found, roads.matched) if roads else found
    read = None if told is places else places
    return {"places": told, "places_read": read, "joined": _joined_by(trip), **reached._asdict()}


def join_passes(
    route: Route, places: PlaceSet, trip: Trip
) -> tuple[Passes, dict[Supply, NDArray[np.bool_]]]:
    """Every pass of every place within its widest corridor, and what it supplies there.

    The trip says how wide the corridors are, what is gone, and what the tank takes.
    """
    reach_m = reaches_m(trip.map)
    rows = places.places
    widest_m = np.array([max((reach_m[s] for s in one.supplies), default=0.0) for one in rows])
    passes = find_passes(
        route,
        np.array([p.lon for p in rows]),
        np.array([p.lat for p in rows]),
        reach_m=widest_m,
    )
    sold = [supplied(place, trip.fuel.takes) for place in rows]
    supply = {}
    for kind in Supply:
        has = np.array([kind in one for one in sold], dtype=bool)
        near = passes.offset_m <= reach_m[kind]
        supply[kind] = has[passes.place_ix] & near if len(rows) else near
    left_out = {*trip.shops.gone, *(place.id for place in rows if not place.supplies)}
    if left_out:
        here = np.array([place.id not in left_out for place in rows], dtype=bool)
        kept = np.flatnonzero(here[passes.place_ix])
        passes = passes.of(kept)
        supply = {kind: mask[kept] for kind, mask in supply.items()}
    return passes, supply


def _live_roads(
    trip: Trip,
    folder: Path,
    route: Route,
    speeds: Speeds,
    tell: Progress,
    stop: Callable[[], bool] | None,
    drawn: Sees | None,
) -> tuple[RoadsUnder | None, tuple[str, ...]]:
    """Roads from the live map service; without them detours are estimates, and that is said."""
    from resupply.places.overpass import make_client
    from resupply.roads.live import graph_from_service

    try:
        graph = graph_from_service(
            route,
            client=make_client(trip.map.service_url, trip.map.contact, stop=stop),
            cache_dir=folder / "cache",
            speeds=speeds,
            progress=tell,
            also=drawn,
        )
    except MapDataError as fault:
        return None, (f"Detours are estimates: {fault.what}",)
    return _roads_under(graph, route, folder / "cache"), ()


def _roads_under(graph: RoadGraph, route: Route, cache: Path) -> RoadsUnder | None:
    from resupply.plan.kept_ways import match_once

    if len(graph) == 0:
        return None
    return RoadsUnder(graph, match_once(graph, route, USUAL_KMH, cache))


def _detours(
    passes: Passes,
    supply: Mapping[Supply, NDArray[np.bool_]],
    places: PlaceSet,
    roads: RoadsUnder | None,
    tell: Progress,
    cache: Path | None,
) -> tuple[Detours, NDArray[np.bool_], tuple[str, ...]]:
    """Detours by road for what the plan may stop at; straight estimates for the rest."""
    straight = straight_detours(passes, speed_kmh=USUAL_KMH)
    by_road = np.zeros(len(passes), dtype=bool)
    if roads is None:
        return straight, by_road, ("",) * len(passes)
    from resupply.plan.kept_ways import detours_once

    wanted = np.flatnonzero(np.any([supply[kind] for kind in _STOPS], axis=0))
    tell("Finding the way to each shop", None)
    part = passes.of(wanted)
    lon = np.array([p.lon for p in places.places])
    lat = np.array([p.lat for p in places.places])
    found = detours_once(roads, part, lon, lat, cache)
    known = np.flatnonzero(found.known)
    rows = wanted[known]
    by_road[rows] = True
    why_not = [""] * len(passes)
    for row, why in zip(wanted.tolist(), found.why_not, strict=True):
        at_m = float(passes.chainage_m[row])
        # Where the route itself is on no known road, roads to places are not known either.
        known_here = not any(s.start_m <= at_m <= s.end_m for s in roads.matched.unmatched)
        why_not[row] = why if known_here else ""

    def filled(own: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
        column = own.copy()
        column[rows] = other[known]
        return column

    lines_out, lines_back = list(straight.path_out), list(straight.path_back)
    for row, k in zip(rows.tolist(), known.tolist(), strict=True):
        lines_out[row], lines_back[row] = found.path_out[k], found.path_back[k]
    merged = replace(
        straight,
        extra_m=filled(straight.extra_m, found.extra_m),
        extra_s=filled(straight.extra_s, found.extra_s),
        out_s=filled(straight.out_s, found.out_s),
        walk_m=filled(straight.walk_m, found.walk_m),
        leave_m=filled(straight.leave_m, found.leave_m),
        rejoin_m=filled(straight.rejoin_m, found.rejoin_m),
        path_out=tuple(lines_out),
        path_back=tuple(lines_back),
    )
    return merged, by_road, tuple(why_not)


@cache
def _zone_finder() -> Any:
    from timezonefinder import TimezoneFinder

    return TimezoneFinder()


def zone_at(lon: float, lat: float) -> str | None:
    """Time zone name at a position in degrees; None where none is known."""
    found: str | None = _zone_finder().timezone_at(lng=lon, lat=lat)
    return found
