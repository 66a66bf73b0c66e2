"""Matching on a real network: rides along known roads, with a receiver's noise, are found again.

Map data: Andorra, January 2025, © OpenStreetMap contributors, ODbL 1.0. The recorded line is
GraphHopper's own example for map matching (Apache-2.0).
"""

import numpy as np
import pytest
from real_data import CUTS, extracts
from road_world import graph_from_extract, matched_share
from scipy.sparse.csgraph import dijkstra

from resupply.roads.match import match_route
from resupply.route.gpx import read_gpx
from resupply.route.route import make_route

ANDORRA = extracts("andorra-2025-01.osm.pbf")
RECORDED = CUTS / "gpx" / "gh-andorra_for_map_matching.gpx"


@pytest.fixture(scope="module", params=ANDORRA)
def andorra(request):
    across = make_route([([1.45, 1.70], [42.45, 42.57], None)])
    return graph_from_extract([request.param], across, reach_m=12_000.0)


def quickest(graph, start, goal):
    far, last = dijkstra(graph.matrix(), indices=start, return_predecessors=True)
    if not np.isfinite(far[goal]):
        return None
    nodes = [goal]
    while nodes[-1] != start:
        nodes.append(int(last[nodes[-1]]))
    nodes.reverse()
    return graph.edges_between(nodes).tolist()


@pytest.mark.parametrize("seed", range(6))
def test_a_noisy_ride_is_found_again(andorra, seed):
    graph, rng = andorra, np.random.default_rng(seed)
    path = None
    while path is None or graph.length_m[path].sum() < 10_000.0:
        path = quickest(graph, *rng.integers(0, len(graph), 2).tolist())
    lines = [graph.edge_line(edge) for edge in path]
    lon, lat = (np.concatenate(side) for side in zip(*lines, strict=True))
    plain = make_route([(lon, lat, None)])
    at_m = np.arange(0.0, plain.length_m, 25.0)
    noise = rng.normal(0.0, 4.0, (2, at_m.size))
    # Neighbouring fixes err alike.
    noise = np.stack([np.convolve(row, np.ones(5) / 5.0**0.5, "same") for row in noise])
    lon = np.interp(at_m, plain.chainage_m, plain.lon) + noise[0] / 82_000.0
    lat = np.interp(at_m, plain.chainage_m, plain.lat) + noise[1] / 111_000.0
    found = match_route(graph, make_route([(lon, lat, None)]), average_kmh=40.0)
    ridden_m, truth = graph.length_m[path], set(path)
    again_m = ridden_m[np.isin(path, found.edge)].sum()
    wrong_m = sum(graph.length_m[e] for e in set(found.edge.tolist()) - truth)
    assert again_m > 0.97 * ridden_m.sum()
    assert wrong_m < 0.03 * ridden_m.sum()
    expected_s = graph.seconds[path].sum()
    assert found.ride_time.ride_s[-1] == pytest.approx(expected_s, rel=0.05)


@pytest.mark.parametrize("extract", ANDORRA)
def test_a_recorded_line_lies_on_two_roads_and_not_on_those_beside_them(extract):
    route = read_gpx(RECORDED)
    graph = graph_from_extract([extract], route, reach_m=3_000.0)
    found = match_route(graph, route, average_kmh=40.0)
    assert matched_share(found) > 0.99
    assert graph.way_id[found.edge].tolist() == [177526454, 23857247]
    assert found.ride_time.ride_s[-1] > 0.0
