"""From seeds to files: ground, roads, routes, places, then OSM data and GPX."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from varrow.cover import add_cover
from varrow.gorge import make_gorge
from varrow.land import make_ground, to_km, to_lon_lat
from varrow.lay_out import make_rivers, make_roads, make_shores, make_streets
from varrow.osm_out import Region, write_gpx
from varrow.places import add_places, make_drives
from varrow.roads import Network, join
from varrow.routes import MARKS, ROUTES, Router
from varrow.story import GORGE_TOWN

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from varrow.land import Ground, Point

__all__ = ["build"]

SEED = 9
LIMITS_KMH = {"trunk": "70", "primary": "60", "secondary": "50", "tertiary": "40"}
BUILT_UP_KM = 0.45


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
    network = join([*roads, *gorge.roads, *make_drives(lines), *streets])
    homes |= gorge.homes
    region = Region()
    _add_ground(region, ground)
    region.add_long_way(gorge.river, {"waterway": "river", "name": "Garganta d'Orla"})
    _add_roads(region, network, homes.values())
    region.add_way(
        [homes["Noskerra"], (-24.93, 47.75), (-25.1, 47.83), homes["Sundraporto"]],
        {"route": "ferry", "name": "Balsa de Sundra", "motor_vehicle": "yes"},
    )
    add_places(region, homes, lines)
    add_cover(region, ground, homes, lines, SEED + 6)
    region.write(folder / "varrow.osm.pbf")
    for key, line in lines.items():
        marks = [(line.at(km), name) for km, name in MARKS[key]]
        write_gpx(folder / f"{key}.gpx", line, lambda p: _height(ground, p), marks)


def _height(ground: Ground, point: Point) -> float:
    return max(2.0, ground.height_at(*to_km(point)))


def _add_ground(region: Region, ground: Ground) -> None:
    shores = make_shores(ground, SEED + 3)
    for ring in shores.coasts:
        region.add_long_way(ring, {"natural": "coastline"})
    for ring in shores.lakes:
        region.add_way(ring, {"natural": "water", "water": "lake"})
    for name, points in make_rivers(ground, SEED + 4):
        region.add_long_way(points, {"waterway": "river", "name": name})


def _add_roads(region: Region, network: Network, homes: Iterable[Point]) -> None:
    built_up = list(homes)
    for points, road in network.ways:
        tags = {"highway": road.kind, **_surface(road.kind, points[0]), **road.tags}
        for slow, piece in _pieces(points, built_up):
            limit = "30" if road.kind == "residential" or slow else LIMITS_KMH.get(road.kind)
            region.add_long_way(piece, {**tags, "maxspeed": limit} if limit else tags)


def _surface(kind: str, first: Point) -> dict[str, str]:
    """Asphalt on the better roads; on the others it depends on where they begin."""
    dice = round(first[0] * 1e6) % 5
    if kind == "track":
        return {"surface": "dirt" if dice < 2 else "gravel", "tracktype": f"grade{2 + dice % 3}"}
    if kind == "unclassified":
        return {"surface": "asphalt" if dice < 3 else "gravel"}
    if kind in ("trunk", "primary"):
        return {"surface": "asphalt", "ref": "V1" if kind == "trunk" else "V2"}
    return {"surface": "asphalt"} if dice else {}


def _pieces(points: list[Point], built_up: list[Point]) -> list[tuple[bool, list[Point]]]:
    """Cut a road where it enters or leaves a settlement."""
    middles = np.array([to_km(p) for p in built_up])
    here = np.array([to_km(p) for p in points])
    near = np.zeros(len(points), dtype=bool)
    for middle in middles:
        near |= np.hypot(*(here - middle).T) < BUILT_UP_KM
    pieces, start = [], 0
    for i in range(1, len(points) - 1):
        if near[i] != near[i + 1]:
            pieces.append((bool(near[i]), points[start : i + 1]))
            start = i
    return [*pieces, (bool(near[-1]), points[start:])]
