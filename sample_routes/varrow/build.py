"""From seeds to files: ground, roads, routes, places, then OSM data and GPX."""

from __future__ import annotations

from typing import TYPE_CHECKING

from varrow.gorge import make_gorge
from varrow.land import make_ground, to_km, to_lon_lat
from varrow.lay_out import make_rivers, make_roads, make_shores, make_streets
from varrow.osm_out import Region, write_gpx
from varrow.places import add_places
from varrow.roads import Network, join
from varrow.routes import ROUTES, Router
from varrow.story import GORGE_TOWN

if TYPE_CHECKING:
    from pathlib import Path

    from varrow.land import Ground, Point

__all__ = ["build"]

SEED = 9


def build(folder: Path) -> None:
    """Write varrow.osm.pbf and the GPX routes into a folder."""
    ground = make_ground(SEED)
    roads, homes_km = make_roads(ground, SEED + 1)
    streets = make_streets(homes_km, SEED + 2)
    network = join([*roads, *streets])
    homes = {name: to_lon_lat(*p) for name, p in homes_km.items()}
    router = Router(network)
    lines = {
        key: router.line(name, parts, homes, turn_back=key == "there_and_back")
        for key, (name, parts) in ROUTES.items()
    }
    gorge = make_gorge(lines["coast_loop"], homes[GORGE_TOWN], SEED + 5)
    network = join([*roads, *gorge.roads, *streets])
    homes |= gorge.homes
    region = Region()
    _add_ground(region, ground)
    region.add_long_way(gorge.river, {"waterway": "river", "name": "Garganta d'Orla"})
    _add_roads(region, network)
    add_places(region, homes, lines)
    region.write(folder / "varrow.osm.pbf")
    for key, line in lines.items():
        write_gpx(folder / f"{key}.gpx", line, lambda p: _height(ground, p), _marks(key, homes))


def _height(ground: Ground, point: Point) -> float:
    return max(2.0, ground.height_at(*to_km(point)))


def _marks(key: str, homes: dict[str, Point]) -> list[tuple[Point, str]]:
    first = ROUTES[key][1][0][0]
    return [(homes[first], f"Start: {first}")]


def _add_ground(region: Region, ground: Ground) -> None:
    shores = make_shores(ground, SEED + 3)
    for ring in shores.coasts:
        region.add_long_way(ring, {"natural": "coastline"})
    for ring in shores.lakes:
        region.add_way(ring, {"natural": "water", "water": "lake"})
    for name, points in make_rivers(ground, SEED + 4):
        region.add_long_way(points, {"waterway": "river", "name": name})


def _add_roads(region: Region, network: Network) -> None:
    for points, road in network.ways:
        region.add_long_way(points, {"highway": road.kind, **road.tags})
