"""What Varrow's ground looks like from afar: woods, built-up ground, summits and passes.

Drawn after everything else, so that nothing else gets another number by it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from varrow.land import (
    CELL_KM,
    X_MAX,
    X_MIN,
    Y_MAX,
    Y_MIN,
    contours,
    polygon_area_km2,
    to_km,
    to_lon_lat,
    value_noise,
)  # fmt: skip
from varrow.towns import SETTLEMENTS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from varrow.land import Ground, Point
    from varrow.osm_out import Region
    from varrow.routes import Line

__all__ = ["add_cover"]

WOOD_ABOVE = 0.22
LEAST_WOOD_KM2 = 4.0
RADIUS_KM = {"city": 1.9, "town": 1.1, "village": 0.55}
SUMMITS_APART_KM = 17.0
PEAKS = (
    *("Kveldshorn", "Pico da Torva", "Stora Varr", "Monte Ferrol", "Gråsula", "Alto do Vento"),
    *("Morrvarden", "Pico Lagarto", "Tindevar", "Serra Calva", "Nebbkollen", "Monte Orla"),
    *("Skarvehø", "Cabeço Frio"),
)
PASSES = {"coast_loop": "Passo da Névoa", "long_moor": "Torvskaret"}


def add_cover(
    region: Region, ground: Ground, homes: Mapping[str, Point], lines: Mapping[str, Line], seed: int
) -> None:
    """Add all of it to the region."""
    for ring in _woods(ground, seed):
        region.add_way(ring, {"natural": "wood"})
    kinds = {name: kind for name, kind, _, _ in SETTLEMENTS}
    for name, home in homes.items():
        radius_km = RADIUS_KM.get(kinds.get(name, ""))
        if radius_km is not None:
            region.add_way(_quarter(to_km(home), radius_km), {"landuse": "residential"})
    for name, (x, y, height_m) in zip(PEAKS, _summits(ground), strict=False):
        tags = {"natural": "peak", "name": name, "ele": f"{height_m:.0f}"}
        region.add_node(to_lon_lat(x, y), tags)
    for key, name in PASSES.items():
        at, height_m = max(
            ((p, ground.height_at(*to_km(p))) for part in lines[key].segments for p in part),
            key=lambda one: one[1],
        )
        region.add_node(at, {"mountain_pass": "yes", "name": name, "ele": f"{height_m:.0f}"})


def _woods(ground: Ground, seed: int) -> Iterable[list[Point]]:
    """Draw closed lines, degrees, where noise is high, on dry land below the bare heights."""
    xs = np.arange(X_MIN, X_MAX + CELL_KM, CELL_KM)
    ys = np.arange(Y_MIN, Y_MAX + CELL_KM, CELL_KM)
    x, y = np.meshgrid(xs, ys)
    noise = value_noise(x, y, wavelength_km=26, octaves=4, seed=seed) - WOOD_ABOVE
    height = ground.height_m
    field = np.minimum(noise, np.minimum(height - 25.0, 480.0 - height) / 200.0)
    field = np.round(np.minimum(field, -ground.tarn), 5)
    for ring in contours(field, 0.0):
        if polygon_area_km2(ring) >= LEAST_WOOD_KM2:
            thin = ring[:-1:2]
            yield [to_lon_lat(*p) for p in (*thin, thin[0])]


def _quarter(middle: Point, radius_km: float) -> list[Point]:
    """Draw a closed line of twelve corners, a little uneven, round the middle of a settlement."""
    turn = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    far = radius_km * (1.0 + 0.25 * np.sin(3.0 * turn + middle[0]))
    xs, ys = middle[0] + far * np.cos(turn), middle[1] + far * np.sin(turn)
    ring = [to_lon_lat(x, y) for x, y in zip(xs.tolist(), ys.tolist(), strict=True)]
    return [*ring, ring[0]]


def _summits(ground: Ground) -> Iterable[tuple[float, float, float]]:
    """Highest points, km and metres, well apart, the highest first."""
    height = np.where(ground.tarn > -0.1, -1.0, ground.height_m)
    rows, columns = np.indices(height.shape)
    for _ in PEAKS:
        row, column = (int(i) for i in np.unravel_index(int(np.argmax(height)), height.shape))
        yield X_MIN + CELL_KM * column, Y_MIN + CELL_KM * row, float(height[row, column])
        near = np.hypot(rows - row, columns - column) * CELL_KM < SUMMITS_APART_KM
        height[near] = -1.0
