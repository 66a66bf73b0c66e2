"""Everything of a plan that does not depend on the pace: route, places, passes, detours.

In: a `Trip` and the folder its file names are relative to. Out: a `Prepared`. All reading of
files and asking of services happens here; `resupply.pipeline` is pure. Changing the daily
distance, the date or the party re-uses a `Prepared` as it is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.corridor import Passes, find_passes
from resupply.errors import MapDataError, TripFileError
from resupply.places.model import Coverage, PlaceSet, Stretch, Supply

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from resupply.hours import Timetable
    from resupply.legs import RideTime
    from resupply.route import Route
    from resupply.trip import MapKeys, Trip

__all__ = ["Prepared", "Progress", "cover_span", "join_passes", "prepare", "zone_at"]

Progress = Callable[[str, float | None], None]
"""Told what is being done, and how much of it is done (0 to 1, None if not known)."""

DETOUR_FACTOR = 1.4
"""Road distance per straight distance: common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """What the planner works on; m passes."""

    route: Route
    places: PlaceSet
    passes: Passes
    supply: Mapping[Supply, NDArray[np.bool_]]
    """Per supply, (m,) True where the place supplies it within that supply's corridor."""
    detour_m: NDArray[np.float64]
    """(m,) extra distance to the place and back to the route."""
    detour_s: NDArray[np.float64]
    """(m,) extra riding time; NaN where it is not known by road."""
    by_road: NDArray[np.bool_]
    """(m,) the detour is by road; else it is the straight offset with a factor."""
    ride_time: RideTime | None
    """Riding time by the roads under the route; None to use the average speed."""
    backdrop: Mapping[str, Any]
    """Roads, water and towns to draw under the map; may be empty."""
    timetable: Timetable | None
    """Hours over the trip's span; None before `cover_span`."""
    zone: str | None
    """Time zone for the whole trip, None to take each place's own."""
    country: str | None

    @property
    def food(self) -> NDArray[np.bool_]:
        """(m,) True where food can be bought."""
        return self.supply[Supply.GROCERIES] | self.supply[Supply.SMALL_GROCERIES]

    def with_passes(self, passes: Passes, supply: Mapping[Supply, NDArray[np.bool_]]) -> Prepared:
        """Put in the passes of another corridor; detours are straight estimates again."""
        return replace(
            self,
            passes=passes,
            supply=supply,
            detour_m=straight_detour_m(passes),
            detour_s=np.full(len(passes), np.nan),
            by_road=np.zeros(len(passes), dtype=bool),
        )


def straight_detour_m(passes: Passes) -> NDArray[np.float64]:
    """There and back along the straight offset, times a factor for bends: an estimate."""
    return 2.0 * DETOUR_FACTOR * passes.offset_m


def prepare(
    trip: Trip,
    folder: Path,
    *,
    route: Route | None = None,
    progress: Progress | None = None,
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

    Raises
    ------
    ResupplyError
        The route or the map data cannot be used, or the trip names neither.
    """
    tell = progress or (lambda _what, _share: None)
    if route is None:
        from resupply.gpx_in import read_gpx

        if not trip.route:
            raise TripFileError("no route is given", mend="Name a GPX file as the key route")
        tell("Reading the route", None)
        route = read_gpx(folder / trip.route)
    tell("Reading the map data", None)
    places, backdrop = _read_map(trip, folder, route, tell)
    gone = set(trip.shops.gone)
    if gone:
        kept = tuple(p for p in places.places if p.id not in gone)
        places = replace(places, places=kept)
    tell("Finding the shops along the route", None)
    passes, supply = join_passes(route, places, trip.map)
    return Prepared(
        route=route,
        places=places,
        passes=passes,
        supply=supply,
        detour_m=straight_detour_m(passes),
        detour_s=np.full(len(passes), np.nan),
        by_road=np.zeros(len(passes), dtype=bool),
        ride_time=None,
        backdrop=backdrop,
        timetable=None,
        zone=trip.region.time_zone,
        country=trip.region.country,
    )


def join_passes(
    route: Route, places: PlaceSet, keys: MapKeys
) -> tuple[Passes, dict[Supply, NDArray[np.bool_]]]:
    """Every pass of every place within its widest corridor, and what it supplies there."""
    reach_m = _reaches_m(keys)
    rows = places.places
    widest_m = np.array([max(reach_m[s] for s in place.supplies) for place in rows])
    passes = find_passes(
        route,
        np.array([p.lon for p in rows]),
        np.array([p.lat for p in rows]),
        reach_m=widest_m,
    )
    supply = {}
    for kind in Supply:
        has = np.array([kind in place.supplies for place in rows], dtype=bool)
        near = passes.offset_m <= reach_m[kind]
        supply[kind] = has[passes.place_ix] & near if len(rows) else near
    return passes, supply


def _reaches_m(keys: MapKeys) -> dict[Supply, float]:
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


def _read_map(
    trip: Trip, folder: Path, route: Route, tell: Progress
) -> tuple[PlaceSet, Mapping[str, Any]]:
    reach_m = max(_reaches_m(trip.map).values())
    paths = [folder / name for name in trip.map.extracts]
    if not paths and not trip.map.service:
        return _no_data(route), {}
    if not paths:
        return _from_service(trip, folder, route, reach_m, tell), {}
    from resupply.backdrop import backdrop_document, read_extract

    places, backdrop = read_extract(paths, route, reach_m=reach_m)
    if trip.map.service and places.coverage.unknown:
        # The service is asked only where the extracts say nothing.
        rest = _from_service(trip, folder, route, reach_m, tell, only=places.coverage.unknown)
        places = _merged(places, rest)
    return places, backdrop_document(backdrop)


def _no_data(route: Route) -> PlaceSet:
    whole = Stretch(0.0, route.length_m, "no map data was given")
    return PlaceSet((), Coverage("no map data", None, (whole,)))


def _from_service(
    trip: Trip,
    folder: Path,
    route: Route,
    reach_m: float,
    tell: Progress,
    only: tuple[Stretch, ...] | None = None,
) -> PlaceSet:
    from resupply.places.overpass import places_from_service

    daily_m = trip.pace.daily_km * 1000.0
    stretches = only or (Stretch(0.0, route.length_m),)
    legs_m = [
        (at_m, min(at_m + daily_m, stretch.end_m))
        for stretch in stretches
        for at_m in np.arange(stretch.start_m, stretch.end_m, daily_m).tolist()
    ]
    try:
        return places_from_service(
            route,
            legs_m,
            reach_m=reach_m,
            cache_dir=folder / "cache",
            endpoint=trip.map.service_url,
            contact=trip.map.contact,
            on_progress=lambda done, total: tell("Asking the map service", done / max(total, 1)),
        )
    except MapDataError:
        if only is None:
            raise
        return PlaceSet((), Coverage("live map service", None, only))


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
        ),
        warnings=(*first.warnings, *second.warnings),
    )


@cache
def _zone_finder() -> Any:
    from timezonefinder import TimezoneFinder

    return TimezoneFinder()


def zone_at(lon: float, lat: float) -> str | None:
    """Time zone name at a position in degrees; None where none is known."""
    found: str | None = _zone_finder().timezone_at(lng=lon, lat=lat)
    return found


def cover_span(
    prepared: Prepared, start: dt.date, end: dt.date, *, usual_path: Path | None = None
) -> Prepared:
    """Make sure that the timetable covers the dates from start to end.

    The old timetable is kept if it covers them already.
    """
    from resupply.hours import build_timetable
    from resupply.usual_hours import read_usual_hours

    first = dt.datetime.combine(start, dt.time(), tzinfo=dt.UTC) - dt.timedelta(days=1)
    last = dt.datetime.combine(end, dt.time(), tzinfo=dt.UTC) + dt.timedelta(days=2)
    table = prepared.timetable
    if table is not None and table.start_s <= first.timestamp() and last.timestamp() <= table.end_s:
        return prepared
    timetable = build_timetable(
        prepared.places.places,
        start=first,
        end=last,
        zone_of=prepared.zone or zone_at,
        country=prepared.country,
        usual=read_usual_hours(usual_path),
    )
    return replace(prepared, timetable=timetable)
