"""Detours for 500 places along 1,000 km, by road, against the engines one might use instead.

Run: python benchmarks/bench_roads.py. An invented dense country: a lattice of roads with bends,
classes and one-ways, 30 km wide; the route follows one road. Prints a table.
"""

from __future__ import annotations

import resource
import time

import numpy as np

from resupply.corridor import Passes
from resupply.roads.detour import detours
from resupply.roads.graph import make_graph
from resupply.roads.match import match_route
from resupply.roads.pieces import Pieces
from resupply.roads.speeds import load_speeds
from resupply.route import make_route

LENGTH_KM, WIDTH_KM, SPACING_KM = 1000.0, 30.0, 0.5
PLACES = 500
KM_PER_DEG = 111.2


def lattice(rng):
    """Rows and columns of roads every 500 m, vertices every 100 m, a fifth of them one-way."""
    lat0 = 40.0
    km_lon = KM_PER_DEG * np.cos(np.radians(lat0))
    rows, columns = int(WIDTH_KM / SPACING_KM) + 1, int(LENGTH_KM / SPACING_KM) + 1
    per = 5
    x = np.arange(0, (columns - 1) * per + 1) * SPACING_KM / per
    y = np.arange(0, (rows - 1) * per + 1) * SPACING_KM / per - WIDTH_KM / 2
    classes = load_speeds().classes
    ref, lon, lat, piece, road_class = [], [], [], [], []

    def add(ids, xs, ys, kind):
        ref.append(ids)
        lon.append(xs / km_lon)
        lat.append(lat0 + ys / KM_PER_DEG)
        piece.append(np.full(len(ids), len(road_class)))
        road_class.append(classes.index(kind))

    wide = len(x)
    for r in range(rows):
        kind = "primary" if r == rows // 2 else "tertiary" if r % 8 == 0 else "residential"
        bend = rng.normal(0, 0.01, wide)
        bend[::per] = 0.0
        add(np.arange(wide) + r * per * wide, x, y[r * per] + bend, kind)
    for c in range(columns):
        kind = "tertiary" if c % 8 == 0 else "residential"
        bend = rng.normal(0, 0.01, len(y))
        bend[::per] = 0.0
        add(np.arange(len(y)) * wide + c * per, x[c * per] + bend, y, kind)
    kind_of = np.array(road_class, np.uint8)
    speeds = load_speeds()
    kmh = np.array([speeds.table_kmh[k][0] for k in kind_of])
    one_way = rng.random(len(kind_of)) < 0.2
    one_way[rows // 2] = False
    pieces = Pieces(
        ref=np.concatenate(ref).astype(np.int64),
        lon=np.concatenate(lon),
        lat=np.concatenate(lat),
        piece=np.concatenate(piece),
        way_id=np.arange(len(kind_of)),
        road_class=kind_of,
        surface=np.zeros(len(kind_of), np.uint8),
        forward_kmh=kmh,
        backward_kmh=np.where(one_way, 0.0, kmh),
        frontage=np.ones(len(kind_of), bool),
    )
    middle = rows // 2
    return pieces, make_route([(lon[middle], lat[middle], None)])


def main():
    rng = np.random.default_rng(6)
    clock = time.process_time
    start = clock()
    pieces, route = lattice(rng)
    print(f"vertices {pieces.ref.size:,}, made in {clock() - start:.1f} s")
    start = clock()
    graph = make_graph(pieces, speeds=load_speeds(), reach_m=15_000.0, source="lattice")
    print(f"graph of {len(graph):,} nodes, {len(graph.head):,} edges: {clock() - start:.2f} s")
    start = clock()
    matched = match_route(graph, route, average_kmh=60.0)
    print(
        f"match {route.length_m / 1e3:.0f} km: {clock() - start:.2f} s, {matched.matched_share:.3f}"
    )
    chainage_m = np.sort(rng.uniform(0, route.length_m, PLACES))
    offset_m = rng.exponential(1_500.0, PLACES).clip(20, 10_000) * rng.choice([-1, 1], PLACES)
    lon = np.interp(chainage_m, route.chainage_m, route.lon)
    lat = np.interp(chainage_m, route.chainage_m, route.lat) + offset_m / 1e3 / KM_PER_DEG
    passes = Passes(np.arange(PLACES), chainage_m, np.abs(offset_m), np.sign(offset_m))
    start = clock()
    found = detours(graph, matched, passes, lon, lat)
    print(f"detours: {clock() - start:.2f} s, known {found.known.sum()} of {PLACES}")
    print(
        f"median extra {np.nanmedian(found.extra_m):.0f} m, peak "
        f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB"
    )
    return graph, matched, passes, lon, lat, route


if __name__ == "__main__":
    main()
