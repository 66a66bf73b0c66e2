"""Places and backdrop for a trip, from whatever it names: extracts, an index, the map service.

In: a `Trip`, the folder its file names are relative to, and a route. Out: a `PlaceSet` that
knows where nothing is known, and the backdrop to draw.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from resupply.common.errors import MapDataError, TripFileError
from resupply.places.index_parts import SUFFIX as INDEX_SUFFIX
from resupply.places.place import Coverage, PlaceSet, RouteSpan, Supply

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from resupply.common.progress import Progress
    from resupply.places.kept_ground import GroundKeeper
    from resupply.places.sees import Sees, SeesRoads
    from resupply.route.route import Route
    from resupply.trip.settings import MapKeys, Trip

__all__ = ["INDEX_SUFFIX", "reach_m", "reaches_m", "read_corridor", "read_map"]

"""Told what is being done, and how much of it is done (0 to 1, None if not known)."""


def reaches_m(keys: MapKeys) -> dict[Supply, float]:
    """How far from the route a place of each supply may be, metres."""
    km = {
        Supply.GROCERIES: keys.corridor_km,
        Supply.SMALL_GROCERIES: keys.corridor_km,
        Supply.ICE: keys.ice_km or keys.corridor_km,
        Supply.WATER: keys.water_km,
        Supply.FUEL: keys.fuel_km,
        Supply.CAMP: keys.camp_km,
        Supply.MEAL_OUT: keys.meal_out_km,
    }
    return {kind: value * 1000.0 for kind, value in km.items()}


def reach_m(trip: Trip) -> float:
    """How far from the route places are read: the widest corridor of all supplies."""
    return max(reaches_m(trip.map).values())


def read_map(
    trip: Trip,
    folder: Path,
    route: Route,
    tell: Progress,
    stop: Callable[[], bool] | None,
    extracted: tuple[PlaceSet, Mapping[str, Any]] | None = None,
    drawn: Sees | None = None,
) -> tuple[PlaceSet, Mapping[str, Any]]:
    """Read places and backdrop; where nothing is named, nothing is known.

    Parameters
    ----------
    tell
        Told what is being done.
    stop
        Asked now and then whether to give up; what the map service answered is kept.
    extracted
        What the extracts say, where they have been read already.
    drawn
        Shown what the map service sends, where there are no extracts.

    Raises
    ------
    ResupplyError
        What the trip names cannot be used.
    """
    far_m = reach_m(trip)
    paths = [folder / name for name in trip.map.extracts]
    if not paths and not trip.map.service:
        return _no_data(route), {}
    if not paths:
        return _from_service(trip, folder, route, far_m, tell, stop, drawn=drawn), {}
    places, backdrop = extracted or read_corridor(paths, route, trip.map, stop)
    if trip.map.service and places.coverage.unknown:
        # The service is asked only where the extracts say nothing.
        rest = _from_service(trip, folder, route, far_m, tell, stop, only=places.coverage.unknown)
        places = _merged(places, rest)
    return places, backdrop


def read_corridor(
    paths: Sequence[Path],
    route: Route,
    keys: MapKeys,
    stop: Callable[[], bool] | None,
    roads: SeesRoads | None = None,
    keeper: GroundKeeper | None = None,
) -> tuple[PlaceSet, Mapping[str, Any]]:
    """Read places and backdrop of extracts, or of an index, and show the roads to a reader.

    Parameters
    ----------
    stop, keeper
        As in `places_from_extract`; an index gives no ground.

    Raises
    ------
    ResupplyError
        A file cannot be used.
    """
    from resupply.places.base_map import BackdropCollector, backdrop_document, read_extract

    far_m = max(reaches_m(keys).values())
    if not any(path.name.endswith(INDEX_SUFFIX) for path in paths):
        also = [] if roads is None else [roads]
        places, backdrop = read_extract(
            paths, route, reach_m=far_m, also=also, stop=stop, keeper=keeper
        )
        return places, backdrop_document(backdrop)
    from resupply.places.index import places_from_index

    if len(paths) > 1:
        raise TripFileError(
            "map.extracts: a regional index stands alone",
            mend="Gather all extracts into one index with: resupply gather",
            key="map.extracts",
            problem="a regional index stands alone",
        )
    # A remedy may look twice as far for shops.
    wide = keys.model_copy(update={"corridor_km": min(2.0 * keys.corridor_km, 50.0)})
    collector = BackdropCollector(route, max(15_000.0, far_m))
    places = places_from_index(
        paths[0],
        route,
        reach_m=far_m,
        of_supply_m=reaches_m(wide),
        also=collector,
        roads=roads,
    )
    return places, backdrop_document(collector.backdrop())


def _no_data(route: Route) -> PlaceSet:
    whole = RouteSpan(0.0, route.length_m, "no map data was given")
    told = (
        "No map data was given, so that nothing is known of shops, fuel or camps. The command "
        "`resupply fetch` finds and fetches it for your route."
    )
    return PlaceSet((), Coverage("no map data", None, (whole,)), (told,))


def _from_service(
    trip: Trip,
    folder: Path,
    route: Route,
    reach_m: float,
    tell: Progress,
    stop: Callable[[], bool] | None,
    only: tuple[RouteSpan, ...] | None = None,
    drawn: Sees | None = None,
) -> PlaceSet:
    from resupply.places.overpass import make_client, places_from_service

    stretches = only or (RouteSpan(0.0, route.length_m),)
    try:
        return places_from_service(
            route,
            [(stretch.start_m, stretch.end_m) for stretch in stretches],
            client=make_client(trip.map.service_url, trip.map.contact, stop=stop),
            cache_dir=folder / "cache",
            reach_m=reach_m,
            progress=tell,
            also=drawn,
        )
    except MapDataError as error:
        if only is None:
            raise
        return PlaceSet((), Coverage("live map service", None, only), (str(error),))


def _merged(first: PlaceSet, second: PlaceSet) -> PlaceSet:
    known = {place.id for place in first.places}
    extra = tuple(place for place in second.places if place.id not in known)
    dates = [d for d in (first.coverage.data_date, second.coverage.data_date) if d]
    return PlaceSet(
        places=tuple(sorted((*first.places, *extra), key=lambda p: p.id)),
        coverage=Coverage(
            source=f"{first.coverage.source} and {second.coverage.source}",
            data_date=min(dates, default=None),
            unknown=second.coverage.unknown,
            near_edge=first.coverage.near_edge,
        ),
        warnings=(*first.warnings, *second.warnings),
    )
