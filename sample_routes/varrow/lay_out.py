"""Put the pieces together: shores, lakes, rivers, roads and streets in kilometres and degrees."""

from __future__ import annotations

import random
from dataclasses import dataclass
from math import cos, sin
from typing import TYPE_CHECKING

from varrow.land import (
    X_MAX,
    X_MIN,
    Y_MAX,
    Y_MIN,
    Point,
    contours,
    polygon_area_km2,
    roughen,
    to_lon_lat,
)
from varrow.roads import OWN_ROAD, Grid, Road, carve, smooth, wiggle
from varrow.towns import CONNECTIONS, OWN_ROADS, RIVERS, SETTLEMENTS, SPURS

if TYPE_CHECKING:
    from varrow.land import Ground

__all__ = ["Shores", "make_rivers", "make_roads", "make_shores", "make_streets"]

WIGGLE = {"trunk": 0.55, "primary": 0.8, "secondary": 1.0, "tertiary": 1.15}
STEP_KM = 0.125
SMALLEST_ISLET_KM2, SMALLEST_LAKE_KM2 = 0.8, 0.5


@dataclass(frozen=True)
class Shores:
    """Rings in degrees: land counter-clockwise, lakes."""

    coasts: list[list[Point]]
    lakes: list[list[Point]]


def make_shores(ground: Ground, seed: int) -> Shores:
    """Coastlines with land on the left, as the map's rule wants it, and lakes."""
    rng = random.Random(seed)
    coasts, lakes = [], []
    for ring in contours(ground.height_m, 0.0):
        area = polygon_area_km2(ring)
        if area >= SMALLEST_ISLET_KM2:
            coasts.append(roughen(ring, rng, levels=1, size=0.22))
        elif area <= -SMALLEST_LAKE_KM2:
            lakes.append(roughen(ring, rng, levels=1, size=0.22))
    lakes += [
        roughen(ring, rng, levels=1, size=0.22)
        for ring in contours(ground.tarn, 0.0)
        if polygon_area_km2(ring) >= SMALLEST_LAKE_KM2
    ]
    return Shores(
        [[to_lon_lat(*p) for p in ring] for ring in coasts],
        [[to_lon_lat(*p) for p in ring] for ring in lakes],
    )


def make_rivers(ground: Ground, seed: int) -> list[tuple[str, list[Point]]]:
    """Named rivers from their springs down to the sea, joining where they meet."""
    rng = random.Random(seed)
    grid = Grid(ground, seed)
    rivers = []
    for name, (x1, y1), (x2, y2) in RIVERS:
        path = grid.path(grid.cell(x1, y1), grid.cell(x2, y2), dry=False, downhill=True)
        joined = next(
            (i for i, cell in enumerate(path) if i and (grid.on_road[cell] or grid.sea[cell])),
            len(path) - 1,
        )
        grid.claim(path)
        bends = wiggle(smooth(path[: joined + 1]), rng, size=0.9, step_km=0.2)
        rivers.append((name, [to_lon_lat(*p) for p in bends]))
    return rivers


def make_roads(ground: Ground, seed: int) -> tuple[list[Road], dict[str, Point]]:
    """All roads between settlements and some dead ends; and where each settlement is (km)."""
    rng = random.Random(seed)
    grid = Grid(ground, seed)
    cells = {name: grid.cell(x, y) for name, _, x, y in SETTLEMENTS}
    paths = []
    for a, b, kind in CONNECTIONS:
        if (a, b) in OWN_ROADS:
            path = grid.path(cells[a], cells[b], road_cost=OWN_ROAD)
        else:
            path = grid.path(cells[a], cells[b])
        grid.claim(path)
        paths.append((path, kind))
    anchors = sorted({cell for path, _ in paths for cell in path})
    for number in range(SPURS):
        start = anchors[rng.randrange(len(anchors))]
        row, column = start[0] + rng.randint(-11, 11), start[1] + rng.randint(-11, 11)
        inside = 0 <= row < Y_MAX - Y_MIN and 0 <= column < X_MAX - X_MIN
        if not inside or grid.wet[row, column] or grid.on_road[row, column]:
            continue
        try:
            path = grid.path((row, column), start)
        except ValueError:
            continue
        joined = next(i for i, cell in enumerate(path) if grid.on_road[cell])
        if joined < 3:
            continue
        grid.claim(path[: joined + 1])
        paths.append((path[: joined + 1], "track" if number % 3 == 0 else "unclassified"))
    roads = []
    for chain, kind in carve(paths, set(cells.values())):
        # Own dice for each road: a change in one place leaves the others as they are.
        dice = random.Random(f"{seed} {chain[0]} {chain[1]} {chain[-1]}")
        line = smooth(chain)
        for share in (1.0, 0.6, 0.25):
            bent = wiggle(line, dice, size=share * WIGGLE.get(kind, 1.3), step_km=STEP_KM)
            if all(ground.is_dry(*p) for p in bent):
                break
        roads.append(Road(tuple(bent), kind))
    return roads, {name: (c + X_MIN, r + Y_MIN) for name, (r, c) in cells.items()}


def make_streets(homes: dict[str, Point], seed: int) -> list[Road]:
    """Blocks of streets round each town and village, some of them one-way."""
    rng = random.Random(seed)
    size = {"town": (0.42, 0.26, 3), "village": (0.22, 0.14, 1)}
    streets = []
    for name, place, _, _ in SETTLEMENTS:
        if place not in size:
            continue
        half_x, half_y, rungs = size[place]
        angle = rng.random() * 3.1416
        ux, uy = cos(angle), sin(angle)
        x0, y0 = homes[name][0] + 0.03, homes[name][1] + 0.02

        def at(u: float, v: float, frame: tuple[float, ...] = (x0, y0, ux, uy)) -> Point:
            x, y, cx, cy = frame
            return round(x + u * cx - v * cy, 4), round(y + u * cy + v * cx, 4)

        ring = [(-1, -1), (0, -1.1), (1, -1), (1.05, 0), (1, 1), (0, 1.08), (-1, 1), (-1.05, 0)]
        block = [at(u * half_x, v * half_y) for u, v in [*ring, ring[0]]]
        streets.append(Road(tuple(block), "residential"))
        for k in range(rungs):
            u = half_x * (2 * (k + 1) / (rungs + 1) - 1)
            streets.append(
                Road(
                    (at(u, -half_y * 1.2), at(u * 1.05, 0.013), at(u, half_y * 1.2)),
                    "residential",
                    {"oneway": "yes"} if place == "town" and k == 0 else {},
                )
            )
    return streets
