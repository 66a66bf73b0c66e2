"""Detours for 500 places along 1,000 km, by road, against the engines one might use instead.

Run with `pytest benchmarks/bench_roads.py --benchmark-only -s`. An invented dense country: a
lattice of roads with bends, classes and one-ways, 30 km wide; the route follows one road.
"""

from __future__ import annotations

import time

import networkx as nx
import numpy as np
import pytest
from scipy.sparse.csgraph import dijkstra

from resupply.passes.find import Passes
from resupply.roads.detours import detours
from resupply.roads.graph import make_graph
from resupply.roads.match import match_route
from resupply.roads.pieces import Pieces
from resupply.roads.speeds import load_speeds
from resupply.route.route import make_route

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


@pytest.fixture(scope="module")
def country():
    rng = np.random.default_rng(6)
    pieces, route = lattice(rng)
    graph = make_graph(pieces, speeds=load_speeds(), reach_m=15_000.0, source="lattice")
    chainage_m = np.sort(rng.uniform(0, route.length_m, PLACES))
    offset_m = rng.exponential(1_500.0, PLACES).clip(20, 10_000) * rng.choice([-1, 1], PLACES)
    lon = np.interp(chainage_m, route.chainage_m, route.lon)
    lat = np.interp(chainage_m, route.chainage_m, route.lat) + offset_m / 1e3 / KM_PER_DEG
    passes = Passes(
        np.arange(PLACES), chainage_m, np.abs(offset_m), np.sign(offset_m).astype(np.int8)
    )
    return pieces, route, graph, passes, lon, lat


def test_join_1_2_million_vertices(benchmark, country):
    graph = benchmark.pedantic(
        make_graph,
        args=(country[0],),
        kwargs={"speeds": load_speeds(), "reach_m": 15_000.0, "source": "lattice"},
        rounds=3,
    )
    print(f"\n{len(graph):,} nodes, {len(graph.head):,} edges")


def test_match_1000_km(benchmark, country):
    _, route, graph, *_ = country
    found = benchmark.pedantic(
        match_route, args=(graph, route), kwargs={"average_kmh": 60.0}, rounds=3
    )
    assert not found.unmatched


def test_500_detours_along_1000_km(benchmark, country):
    _, route, graph, passes, lon, lat = country
    matched = match_route(graph, route, average_kmh=60.0)
    found = benchmark.pedantic(detours, args=(graph, matched, passes, lon, lat), rounds=3)
    assert found.known.all()
    assert benchmark.stats["min"] < 2.0


def test_one_search_against_networkx(benchmark, country):
    _, _, graph, *_ = country
    roads = nx.DiGraph()
    roads.add_weighted_edges_from(zip(graph.tail, graph.head, graph.seconds, strict=True))
    matrix, start = graph.matrix(), len(graph) // 2
    began = time.perf_counter()
    other = nx.single_source_dijkstra_path_length(roads, start, cutoff=1_200.0)
    networkx_s = time.perf_counter() - began
    mine = benchmark(dijkstra, matrix, indices=start, limit=1_200.0)
    assert int(np.isfinite(mine).sum()) == len(other)
    print(
        f"\nnetworkx / scipy, {len(other):,} nodes: {networkx_s / benchmark.stats['median']:.0f}x"
    )
