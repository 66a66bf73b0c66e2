"""Put settlements and everything a rider needs on the map, as nodes, areas and relations."""

from __future__ import annotations

from math import cos, sin
from typing import TYPE_CHECKING

from varrow.land import KM_PER_DEG_LAT, KM_PER_DEG_LON, Point, to_km
from varrow.roads import Road
from varrow.town_places import TOWN_PLACES
from varrow.towns import GORGE_SETTLEMENTS, SETTLEMENTS
from varrow.way_places import WAY_PLACES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from varrow.osm_out import Region
    from varrow.routes import Line

__all__ = ["add_places", "make_drives"]

GOLDEN_ANGLE_RAD = 2.39996
WITHOUT_DRIVE = ("backcountry=yes", "Foz do Sul Verde", "Lagoa de Beir", "access=members")
"""Camps so marked or named lie where the map knows no road."""


def add_places(region: Region, homes: Mapping[str, Point], lines: Mapping[str, Line]) -> None:
    """Add the settlements, then what stands in them and between them."""
    for name, place in [*((n, p) for n, p, _, _ in SETTLEMENTS), *GORGE_SETTLEMENTS]:
        region.add_node(homes[name], {"place": place, "name": name})
    seen: dict[str, int] = {}
    for settlement, shape, text in TOWN_PLACES:
        number = seen[settlement] = seen.get(settlement, 0) + 1
        # Round the middle on a spiral, so that no two stand on one another.
        angle, radius_m = GOLDEN_ANGLE_RAD * number + 0.6, 45.0 + 32.0 * number
        at = _moved(homes[settlement], radius_m * cos(angle), radius_m * sin(angle))
        _add(region, at, shape, _tags(text))
    for route, km, right_m, shape, text in WAY_PLACES:
        _add(region, lines[route].at(km, right_m), shape, _tags(text))


def make_drives(lines: Mapping[str, Line]) -> list[Road]:
    """Give most camps a drive from the route (km)."""
    drives = []
    for route, km, right_m, _, text in WAY_PLACES:
        if "tourism=" in text and not any(mark in text for mark in WITHOUT_DRIVE):
            line = lines[route]
            start, end = to_km(line.vertex(km)), to_km(line.at(km, right_m))
            bend = (start[0] + end[0]) / 2.0 + 0.03, (start[1] + end[1]) / 2.0 - 0.02
            drives.append(Road((start, bend, end), "service"))
    return drives


def _tags(text: str) -> dict[str, str]:
    return dict(part.split("=", 1) for part in text.split("|"))


def _moved(point: Point, east_m: float, north_m: float) -> Point:
    return (
        round(point[0] + east_m / 1000.0 / KM_PER_DEG_LON, 6),
        round(point[1] + north_m / 1000.0 / KM_PER_DEG_LAT, 6),
    )


def _ring(middle: Point, half_m: float) -> list[Point]:
    corners = [(-half_m, -half_m), (half_m, -half_m), (half_m, half_m), (-half_m, half_m)]
    ring = [_moved(middle, east, 0.7 * north) for east, north in corners]
    return [*ring, ring[0]]


def _add(region: Region, at: Point, shape: str, tags: dict[str, str]) -> None:
    if shape == "node":
        region.add_node(at, tags)
    elif shape == "area":
        region.add_way(_ring(at, 60.0 if "tourism" in tags else 17.0), tags)
    elif shape == "double":
        region.add_node(at, tags)
        region.add_way(_ring(at, 15.0), {"building": "retail", **tags})
    elif shape == "relation":
        outer = region.add_way(_ring(at, 24.0), {})
        inner = region.add_way(_ring(at, 7.0), {})
        region.add_relation(
            [("w", outer, "outer"), ("w", inner, "inner")], {"type": "multipolygon", **tags}
        )
    else:
        raise ValueError(f"{shape} is no way of mapping")
