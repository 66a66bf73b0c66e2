"""The invented island of Varrow as lines: coast, roads, towns and a route with its heights."""

# ruff: noqa: E501 (rows of made-up data read best as rows)

from __future__ import annotations

import numpy as np
from page_rows import OUTLINE, TOWNS, Json

from resupply.common.geodesy import segment_lengths_m


def island_geo(points: list[tuple[float, float]]) -> Json:
    line = _wiggled(_spline(points, closed=False, per_piece=60), 0.007)
    chainage = np.concatenate([[0.0], np.cumsum(segment_lengths_m(line[:, 0], line[:, 1]))])
    # The shape is free, the kilometres are not: stretch the chainage to a round 1,060 km.
    chainage *= 1_060_000.0 / chainage[-1]
    x = chainage / 1000.0
    ele = 240 + 180 * np.sin(x / 37) + 120 * np.sin(x / 13 + 1) + 45 * np.sin(x / 4.1)
    coast = _wiggled(_spline(OUTLINE, closed=True, per_piece=24), 0.018)
    lake = _spline(
        [(-26.6, 47.62), (-26.3, 47.66), (-26.15, 47.58), (-26.45, 47.54)],
        closed=True,
        per_piece=8,
    )
    river = _wiggled(
        _spline([(-26.6, 47.58), (-27.0, 47.5), (-27.2, 47.1), (-27.6, 46.8), (-28.2, 46.75)], closed=False, per_piece=20),
        0.012,
    )  # fmt: skip
    towns = {name: (lon, lat) for name, lon, lat, _ in TOWNS}
    links = [("Tollan", "Hale Cross"), ("Hale Cross", "Brack"), ("Merrow", "Little Fenn"), ("Merrow", "Port Ness"), ("Merrow", "Stonehythe"), ("Kirrin", "Stonehythe"), ("Stonehythe", "Orlo"), ("Aldersey", "Hale Cross"), ("Merrow", "Tollan")]  # fmt: skip
    roads = [{"class": "major", "line": _pairs(line[::6])}]
    for number, (a, b) in enumerate(links):
        (ax, ay), (bx, by) = towns[a], towns[b]
        mid = ((ax + bx) / 2 + 0.06 * (-1) ** number, (ay + by) / 2 + 0.05)
        road = _wiggled(_spline([(ax, ay), mid, (bx, by)], closed=False, per_piece=14), 0.009)
        roads.append({"class": "minor" if number % 2 else "major", "line": _pairs(road)})
    return {
        "lon": [round(float(v), 5) for v in line[:, 0]],
        "lat": [round(float(v), 5) for v in line[:, 1]],
        "chainage_m": [round(float(c)) for c in chainage],
        "part_start": [0],
        "ele_m": [round(float(e)) for e in ele],
        "backdrop": {
            "land": [{"line": _pairs(coast)}],
            "waters": [
                {"kind": "area", "line": _pairs(lake)},
                {"kind": "line", "line": _pairs(river)},
            ],
            "roads": roads,
            "towns": [{"name": n, "lon": x, "lat": y, "rank": r} for n, x, y, r in TOWNS],
        },
    }


def _spline(points: list[tuple[float, float]], *, closed: bool, per_piece: int) -> np.ndarray:
    """Catmull-Rom through the points, (n, 2)."""
    base = np.asarray(points, float)
    ends = (base[-1:], base[:2]) if closed else (base[:1], base[-1:])
    padded = np.concatenate([ends[0], base, ends[1]])
    t = np.linspace(0.0, 1.0, per_piece, endpoint=False)[:, None]
    pieces = []
    for a, b, c, d in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        pieces.append(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3))  # fmt: skip
    if not closed:
        pieces.append(base[-1:])
    return np.concatenate(pieces)


def _wiggled(line: np.ndarray, size: float) -> np.ndarray:
    n = np.arange(len(line))
    wave = np.sin(n * 0.31) + 0.6 * np.sin(n * 0.83 + 1) + 0.35 * np.sin(n * 2.1 + 2)
    wave2 = np.cos(n * 0.27) + 0.5 * np.sin(n * 0.91 + 3) + 0.3 * np.cos(n * 1.7)
    return line + size * np.stack([wave, wave2 * 0.8], axis=1)


def _pairs(line: np.ndarray) -> list[list[float]]:
    return [[round(float(x), 4), round(float(y), 4)] for x, y in line]
