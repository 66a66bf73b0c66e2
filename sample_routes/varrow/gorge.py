"""The gorge beside the coast loop, and the side road to the shop that is nearer by road."""

from __future__ import annotations

import random
from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

from varrow import story
from varrow.land import Point, to_km, to_lon_lat
from varrow.roads import Road, wiggle

if TYPE_CHECKING:
    from varrow.routes import Line

__all__ = ["Gorge", "make_gorge"]

RAMP_KM = 2.4
"""How soon the rim road has its full distance from the route."""
SIDE_VALLEYS_KM, SIDE_VALLEY_KM = (6.0, 11.0), 2.0
"""Where, and how far, the rim road bends inland round a side valley."""


@dataclass(frozen=True)
class Gorge:
    """Two dead-end roads (km), the river (degrees) and where their villages are (degrees)."""

    roads: list[Road]
    river: list[Point]
    homes: dict[str, Point]


def make_gorge(line: Line, town: Point, seed: int) -> Gorge:
    """Lay the rim road inland of the route, back from the bridge, with the river between."""
    rng = random.Random(seed)
    town_km = line.km_of(town)
    bridge_km = town_km - story.BRIDGE_BEFORE_KM
    end_km = bridge_km - story.GORGE_LENGTH_KM
    side_km = town_km + story.SIDE_ROAD_AFTER_KM

    def beside(km: float, offset_km: float) -> Point:
        """Right of the smoothed route."""
        near = [to_km(line.at(km + d / 2.0)) for d in range(-4, 5)]
        x, y = sum(p[0] for p in near) / 9.0, sum(p[1] for p in near) / 9.0
        (ax, ay), (bx, by) = to_km(line.at(km - 3.0)), to_km(line.at(km + 3.0))
        length = hypot(bx - ax, by - ay)
        return x + (by - ay) / length * offset_km, y - (bx - ax) / length * offset_km

    rim = [to_km(line.vertex(bridge_km))]
    steps = int((story.GORGE_LENGTH_KM) / 0.5)
    for i in range(1, steps + 1):
        along_km = i * 0.5
        offset_km = story.GORGE_OFFSET_KM * min(1.0, along_km / RAMP_KM)
        from_side_km = min(abs(along_km - middle_km) for middle_km in SIDE_VALLEYS_KM)
        if from_side_km < SIDE_VALLEY_KM:
            offset_km += SIDE_VALLEY_KM * (1.0 - (from_side_km / SIDE_VALLEY_KM) ** 2) ** 2
        rim.append(beside(bridge_km - along_km, offset_km))
    river = [beside(end_km - 6.0, 6.0), beside(end_km - 2.0, 2.2)]
    river += [beside(end_km + i * 0.6, 0.65) for i in range(1, 25)]
    river += [beside(bridge_km + 1.4, 0.5), beside(bridge_km + 2.2, -1.0)]
    river += [beside(bridge_km + 2.6, -4.0), beside(bridge_km + 3.0, -6.5)]
    start = to_km(line.vertex(side_km))
    side = [start, *(beside(side_km, story.SIDE_ROAD_LENGTH_KM * i / 5.0) for i in range(1, 6))]
    rim_bent = wiggle(rim, rng, size=0.62, step_km=0.13)
    side_bent = wiggle(side, rng, size=0.3, step_km=0.13)
    return Gorge(
        roads=[
            Road(tuple(rim_bent), "tertiary", {"name": "Estrada da Garganta"}),
            Road(tuple(side_bent), "tertiary", {"name": "Fjellveien"}),
        ],
        river=[to_lon_lat(*p) for p in wiggle(river, rng, size=0.25, step_km=0.15)],
        homes={
            story.GORGE_VILLAGE: to_lon_lat(*rim_bent[-1]),
            story.MONDAY_VILLAGE: to_lon_lat(*side_bent[-1]),
        },
    )
