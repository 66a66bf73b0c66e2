"""Roads that follow the ground: cheapest paths over the height grid, smoothed and joined.

In: `Ground` and the list of connections. Out: a `Network` of ways with shared points where
roads meet, in degrees. Paths prefer gentle slopes, keep off the shore and join roads that
are already there.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from varrow.land import X_MAX, X_MIN, Y_MAX, Y_MIN, Point, to_lon_lat, value_noise

if TYPE_CHECKING:
    import random
    from collections.abc import Mapping, Sequence

    from varrow.land import Ground

__all__ = ["CLASSES", "OWN_ROAD", "Grid", "Network", "Road", "carve", "join", "smooth", "wiggle"]

Cell = tuple[int, int]

CLASSES = ("trunk", "primary", "secondary", "tertiary", "unclassified", "track", "residential")
"""Best first: where two connections share a road, the better class wins."""

STEPS = [
    (1, 0),
    (0, 1),
    (1, 1),
    (1, -1),
    (1, 2),
    (2, 1),
    (1, -2),
    (2, -1),
    (1, 3),
    (3, 1),
    (1, -3),
    (3, -1),
    (2, 3),
    (3, 2),
    (2, -3),
    (3, -2),
]
MARGIN_KM = 22
SHARED_ROAD = 0.6
"""What a kilometre costs on a road that is already there ..."""
OWN_ROAD = 6.0
"""... and where the new road should be another one."""


@dataclass(frozen=True)
class Road:
    """A line in local kilometres with the class of its road."""

    points: tuple[Point, ...]
    kind: str
    tags: Mapping[str, str] = field(default_factory=dict)


@dataclass
class Network:
    """Ways as sequences of points in degrees; equal points are one node."""

    ways: list[tuple[list[Point], Road]]


class Grid:
    """One-kilometre cells with the cost of crossing them."""

    def __init__(self, ground: Ground, seed: int) -> None:
        self.height = ground.height_m[::2, ::2]
        wet = (self.height <= 1.0) | (ground.tarn[::2, ::2] > -0.06)
        self.near_wet = np.zeros(wet.shape)
        for dy in range(-2, 3):
            for dx in range(-2, 3):
                if dx * dx + dy * dy <= 5:
                    shifted = np.roll(np.roll(wet, dy, axis=0), dx, axis=1)
                    self.near_wet = np.maximum(
                        self.near_wet, shifted * (3.0 - (dx * dx + dy * dy) ** 0.5)
                    )
        self.wet = wet
        x, y = np.meshgrid(np.arange(X_MIN, X_MAX + 1.0), np.arange(Y_MIN, Y_MAX + 1.0))
        bogs = value_noise(x, y, wavelength_km=9.0, octaves=2, seed=seed)
        self.toil = 1.0 + 4.5 * np.clip(bogs + 0.15, 0.0, None)
        self.sea = self.height < 0.0
        self.on_road = np.zeros(wet.shape, dtype=bool)

    def cell(self, x_km: float, y_km: float) -> Cell:
        """Nearest cell as (row, column)."""
        return round(y_km - Y_MIN), round(x_km - X_MIN)

    def path(
        self,
        start: Cell,
        end: Cell,
        *,
        dry: bool = True,
        downhill: bool = False,
        road_cost: float = SHARED_ROAD,
    ) -> list[Cell]:
        """Cheapest path between two cells; rivers (`dry=False`) may end in the sea."""
        top, left = min(start[0], end[0]) - MARGIN_KM, min(start[1], end[1]) - MARGIN_KM
        bottom, right = max(start[0], end[0]) + MARGIN_KM, max(start[1], end[1]) + MARGIN_KM
        top, left = max(top, 0), max(left, 0)
        bottom = min(bottom, int(Y_MAX - Y_MIN))
        right = min(right, int(X_MAX - X_MIN))
        rows, columns = bottom - top + 1, right - left + 1
        r, c = np.divmod(np.arange(rows * columns), columns)
        sources, targets, costs = [], [], []
        for dr, dc in STEPS + [(-a, -b) for a, b in STEPS]:
            ok = (r + dr >= 0) & (r + dr < rows) & (c + dc >= 0) & (c + dc < columns)
            r1, c1 = r[ok] + top, c[ok] + left
            r2, c2 = r1 + dr, c1 + dc
            length = hypot(dr, dc)
            climb = self.height[r2, c2] - self.height[r1, c1]
            if downhill:
                cost = length * (
                    1.0
                    + np.clip(climb, 0.0, None) * 0.5
                    + np.clip(self.height[r2, c2], 0.0, None) / 300
                )
            else:
                cost = length * (self.toil[r2, c2] + (climb / length / 40.0) ** 2)
                cost = cost + 2.2 * self.near_wet[r2, c2] + self.height[r2, c2] / 900.0
            shared = self.on_road[r1, c1] & self.on_road[r2, c2]
            cost = np.where(shared, length * road_cost, cost)
            if dry:
                ok2 = ~self.wet[r2, c2]
                for part in range(3):  # no step over a narrow arm of water
                    ok2 &= ~self.wet[r1 + dr * part // 3, c1 + dc * part // 3]
            else:
                ok2 = np.ones(cost.shape, dtype=bool)
            sources.append(((r1 - top) * columns + c1 - left)[ok2])
            targets.append(((r2 - top) * columns + c2 - left)[ok2])
            costs.append(np.round(cost[ok2] * 1000.0) + 1.0)
        size = rows * columns
        graph = coo_matrix(
            (np.concatenate(costs), (np.concatenate(sources), np.concatenate(targets))),
            shape=(size, size),
        ).tocsr()
        first = (start[0] - top) * columns + start[1] - left
        at = (end[0] - top) * columns + end[1] - left
        _, previous = dijkstra(graph, indices=first, return_predecessors=True)
        cells = [at]
        while at != first:
            at = int(previous[at])
            if at < 0:
                raise ValueError(f"no way by land from {start} to {end}")
            cells.append(at)
        return [(i // columns + top, i % columns + left) for i in reversed(cells)]

    def claim(self, path: Sequence[Cell]) -> None:
        """Remember a path, so that later ones join it."""
        for row, column in path:
            self.on_road[row, column] = True


def carve(
    paths: Sequence[tuple[Sequence[Cell], str]], fixed: set[Cell]
) -> list[tuple[list[Cell], str]]:
    """Split overlapping paths into chains between junctions, each with its best class."""
    kind_of: dict[tuple[Cell, Cell], int] = {}
    beside: dict[Cell, list[Cell]] = defaultdict(list)
    for path, kind in paths:
        for a, b in pairwise(path):
            edge = (min(a, b), max(a, b))
            if edge not in kind_of:
                beside[a].append(b)
                beside[b].append(a)
            kind_of[edge] = min(kind_of.get(edge, 99), CLASSES.index(kind))

    def rank(a: Cell, b: Cell) -> int:
        return kind_of[(min(a, b), max(a, b))]

    def is_junction(cell: Cell) -> bool:
        near = beside[cell]
        return len(near) != 2 or cell in fixed or rank(cell, near[0]) != rank(cell, near[1])

    chains, done = [], set()
    for cell in sorted(beside):
        if not is_junction(cell):
            continue
        for following in beside[cell]:
            if (cell, following) in done:
                continue
            chain = [cell, following]
            while not is_junction(chain[-1]):
                a, b = beside[chain[-1]]
                chain.append(b if a == chain[-2] else a)
            done.add((cell, following))
            done.add((chain[-1], chain[-2]))
            chains.append((chain, CLASSES[rank(cell, following)]))
    return chains


def smooth(cells: Sequence[Cell]) -> list[Point]:
    """Round the corners of a chain of cells (Chaikin, ends kept), in local kilometres."""
    points = [(c + X_MIN, r + Y_MIN) for r, c in cells]
    for _ in range(4):
        cut = [points[0]]
        for (ax, ay), (bx, by) in pairwise(points):
            cut.append((0.75 * ax + 0.25 * bx, 0.75 * ay + 0.25 * by))
            cut.append((0.25 * ax + 0.75 * bx, 0.25 * ay + 0.75 * by))
        points = [*cut, points[-1]]
    return points


def _resample(points: Sequence[Point], step_km: float) -> list[Point]:
    lengths = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)]
    along = [0.0]
    for length in lengths:
        along.append(along[-1] + length)
    count = max(1, round(along[-1] / step_km))
    at = np.arange(count + 1) * (along[-1] / count)
    xs = np.interp(at, along, [p[0] for p in points])
    ys = np.interp(at, along, [p[1] for p in points])
    return list(zip(xs.tolist(), ys.tolist(), strict=True))


def _line_noise(count: int, step_km: float, wave_km: float, rng: random.Random) -> list[float]:
    knots = [rng.random() * 2 - 1 for _ in range(int(count * step_km / wave_km) + 4)]
    phase, values = rng.random(), []
    for i in range(count):
        u = i * step_km / wave_km + phase
        k = int(u)
        f = u - k
        f = f * f * (3 - 2 * f)
        values.append(knots[k] * (1 - f) + knots[k + 1] * f)
    return values


def wiggle(
    points: Sequence[Point], rng: random.Random, *, size: float, step_km: float
) -> list[Point]:
    """Bend a line sideways by gentle noise, ends kept, and space its points evenly."""
    line = _resample(points, step_km)
    count = len(line)
    waves = ((4.8, 0.85), (2.1, 0.46), (0.95, 0.18))
    push = [0.0] * count
    for wave_km, amplitude_km in waves:
        noise = _line_noise(count, step_km, wave_km, rng)
        push = [p + amplitude_km * size * n for p, n in zip(push, noise, strict=True)]
    bent = [line[0]]
    for i in range(1, count - 1):
        (ax, ay), (bx, by) = line[max(i - 4, 0)], line[min(i + 4, count - 1)]
        length = hypot(bx - ax, by - ay) or 1.0
        ends = min(1.0, min(i, count - 1 - i) * step_km / 2.0)
        side = push[i] * ends * ends * (3 - 2 * ends)
        bent.append(
            (line[i][0] - (by - ay) / length * side, line[i][1] + (bx - ax) / length * side)
        )
    bent.append(line[-1])
    return bent


def join(roads: Sequence[Road]) -> Network:
    """Give crossing roads a shared point, and turn kilometres into degrees."""
    from shapely import STRtree, linestrings

    segments = [(i, k) for i, road in enumerate(roads) for k in range(len(road.points) - 1)]
    ends = np.array([[roads[i].points[k], roads[i].points[k + 1]] for i, k in segments])
    lines = np.asarray(linestrings(ends))
    first, second = STRtree(lines).query(lines, predicate="intersects")
    extra: dict[int, list[tuple[float, Point]]] = defaultdict(list)
    for s, t in sorted(zip(first.tolist(), second.tolist(), strict=True)):
        if s >= t or _touch(ends[s].tolist(), ends[t].tolist()):
            continue
        (ax, ay), (bx, by) = ends[s].tolist()
        (cx, cy), (dx, dy) = ends[t].tolist()
        across = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
        if across == 0.0:
            continue
        u = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / across
        v = ((cx - ax) * (by - ay) - (cy - ay) * (bx - ax)) / across
        meet = (ax + u * (bx - ax), ay + u * (by - ay))
        extra[s].append((u, meet))
        extra[t].append((v, meet))
    ways = []
    at = 0
    for road in roads:
        points: list[Point] = []
        for k in range(len(road.points) - 1):
            points.append(road.points[k])
            points.extend(p for _, p in sorted(extra.get(at, [])))
            at += 1
        points.append(road.points[-1])
        degrees = [to_lon_lat(*p) for p in points]
        kept = [degrees[0]]
        kept += [p for q, p in pairwise(degrees) if p != q]
        ways.append((kept, road))
    return Network(ways)


def _touch(a: list[list[float]], b: list[list[float]]) -> bool:
    return any(p == q for p in a for q in b)
