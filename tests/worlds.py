"""Invented worlds for tests and benchmarks: a long road with shops, ready to plan on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.usual import read_usual_hours
from resupply.places.place import Confidence, Coverage, Place, PlaceSet, RouteSpan, Supply
from resupply.plan.prepare import join_passes, zone_at
from resupply.plan.prepared import USUAL_KMH, Prepared
from resupply.roads.detours import straight_detours
from resupply.route.route import Route, make_route
from resupply.trip.read_file import make_trip

if TYPE_CHECKING:
    from resupply.trip.settings import Trip

FULL = {Supply.GROCERIES: Confidence.STATED, Supply.ICE: Confidence.LIKELY}
SMALL = {Supply.SMALL_GROCERIES: Confidence.STATED}


def winding_route(length_km: float, *, points: int = 2000) -> Route:
    """A road from west to east that winds a little; its length is close to `length_km`."""
    t = np.linspace(0.0, 1.0, points)
    lon = -28.0 + t * length_km / 78.0
    lat = 46.0 + 0.2 * np.sin(t * 40.0)
    return make_route([(lon, lat, None)], name="winding road")


def shop(number: int, lon: float, lat: float, *, hours: str | None = None, **options) -> Place:
    options.setdefault("kind", "shop=supermarket")
    options.setdefault("supplies", FULL)
    return Place(
        id=f"node/{number}", lon=lon, lat=lat, name=f"Shop {number}", opening_hours=hours, **options
    )


def shops_along(
    route: Route, at_km, *, hours=("Mo-Sa 08:00-19:00",), seed: int = 1
) -> tuple[Place, ...]:
    """Shops near given kilometres, hours taken in turn."""
    places = []
    for n, km in enumerate(at_km):
        lon, lat = route.position_at(km * 1000.0)
        # By place and not by number, so that one shop more leaves the others where they are.
        offset = 0.02 * np.sin(1000.0 * seed + km)
        small = n % 3 == 2
        places.append(
            shop(
                n + 1,
                lon,
                lat + offset,
                hours=hours[n % len(hours)],
                kind="shop=bakery" if small else "shop=supermarket",
                supplies=SMALL if small else FULL,
            )
        )
    return tuple(sorted(places, key=lambda place: place.id))


def prepared_world(
    route: Route,
    places: tuple[Place, ...],
    trip: Trip,
    *,
    unknown: tuple[RouteSpan, ...] = (),
) -> Prepared:
    found = PlaceSet(places, Coverage("an invented map", "2027-01-01", unknown))
    passes, supply = join_passes(route, found, trip)
    return Prepared(
        route=route,
        places=found,
        passes=passes,
        supply=supply,
        detours=straight_detours(passes, speed_kmh=USUAL_KMH),
        by_road=np.zeros(len(passes), dtype=bool),
        no_road=("",) * len(passes),
        roads=None,
        backdrop={},
        timetable=None,
        zone="Atlantic/Azores",
        country="AT",
        usual=read_usual_hours(),
        zone_of=zone_at,
    )


def trip_of(**tables) -> Trip:
    tables.setdefault("start", {"date": "2027-07-09"})
    tables["show"] = {"sweep": False, **tables.get("show", {})}
    return make_trip(tables)
