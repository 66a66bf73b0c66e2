"""Shortest rides and detours against networkx on the same graphs, node id by node id.

networkx: A. Hagberg, D. Schult, P. Swart, Exploring network structure, dynamics, and function
using NetworkX, SciPy 2008. Its Dijkstra shares no code with the engine used.
"""

import itertools

import networkx as nx
import numpy as np
import pytest
from real_data import extracts
from road_world import (
    LAT_0,
    LON_0,
    draw,
    graph_from_extract,
    lon_lat,
    matched,
    matched_share,
    passes_of,
    ride,
)

from resupply.roads.detours import detours
from resupply.roads.quickest import quickest_until
from resupply.roads.search import Roads, connected_edges, find_doors, no_dead_ends, search
from resupply.route.route import make_route

KINDS = ("primary", "tertiary", "residential", "track")


def as_networkx(graph):
    out = nx.DiGraph()
    ids = graph.node_id.tolist()
    out.add_nodes_from(ids)
    for tail, head, seconds in zip(
        graph.tail.tolist(), graph.head.tolist(), graph.seconds.tolist(), strict=True
    ):
        a, b = ids[tail], ids[head]
        if a != b and seconds < out.get_edge_data(a, b, {"s": np.inf})["s"]:
            out.add_edge(a, b, s=seconds)
    return out


def country(seed, rows=5, columns=9, main="secondary"):
    """A crooked lattice with missing roads, one-ways and four kinds of road, 2 km apart."""
    rng = np.random.default_rng(seed)
    spots = {
        (r, c): (2.0 * c + rng.uniform(-0.4, 0.4), 2.0 * r + rng.uniform(-0.4, 0.4))
        for r in range(rows)
        for c in range(columns)
    }
    middle = rows // 2
    ways = [([(middle, c) for c in range(columns)], {"highway": main})]
    for (r, c), (dr, dc) in itertools.product(list(spots), ((0, 1), (1, 0))):
        other = (r + dr, c + dc)
        if other not in spots or (r == middle and dc) or rng.random() < 0.25:
            continue
        oneway = str(rng.choice(["no", "no", "yes", "-1"]))
        kind = str(rng.choice(KINDS))
        ways.append(([(r, c), other], {"highway": kind, "oneway": oneway}))
    route = ride(spots, *[(middle, c) for c in range(columns)])
    places = [spots[r, c] for r in range(rows) for c in range(columns) if r != middle]
    places += [(rng.uniform(0, 16), rng.uniform(0, 8)) for _ in range(20)]
    return draw(spots, ways, route=route), route, places


def with_door(roads, graph, doors, place):
    """Seconds from every node to a door and from it to every node, by networkx."""
    ids = graph.node_id.tolist()
    inward, outward = roads.copy(), roads.copy()
    for edge, before in sorted(doors.edges[place], reverse=True):
        tail, head = ids[graph.tail[edge]], ids[graph.head[edge]]
        to_s, from_s = before * graph.seconds[edge], (1.0 - before) * graph.seconds[edge]
        # A circular road has the same node at both ends.
        to_s = min(to_s, inward.get_edge_data(tail, "door", {"s": np.inf})["s"])
        from_s = min(from_s, outward.get_edge_data("door", head, {"s": np.inf})["s"])
        inward.add_edge(tail, "door", s=to_s)
        outward.add_edge("door", head, s=from_s)
    return (
        nx.single_source_dijkstra_path_length(inward.reverse(copy=False), "door", weight="s"),
        nx.single_source_dijkstra_path_length(outward, "door", weight="s"),
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_rides_to_and_from_every_node(seed):
    graph, _, places = country(seed)
    ids = graph.node_id.tolist()
    home = connected_edges(graph, np.arange(len(graph)))
    lon, lat = lon_lat(*np.array(places).T)
    doors = find_doors(graph, home, lon, lat, walk_m=500.0)
    reachable = [i for i in range(len(places)) if not doors.lost[i]]
    assert len(reachable) > 25
    found = search(Roads.of(graph), doors, reachable, limit_s=1e6)
    assert (found.nodes == np.arange(len(graph))).all()
    roads = as_networkx(graph)
    for k, place in enumerate(reachable):
        to_s, from_s = with_door(roads, graph, doors, place)
        expected_to = [to_s.get(node, np.inf) for node in ids]
        expected_from = [from_s.get(node, np.inf) for node in ids]
        assert found.to_s[k].tolist() == pytest.approx(expected_to, abs=1e-4)
        assert found.from_s[k].tolist() == pytest.approx(expected_from, abs=1e-4)
    # Without what lies in dead ends the rest is as far as before.
    some = np.unique([graph.tail[edge] for place in reachable for edge, _ in doors.edges[place]])
    some = np.union1d(some, graph.head[[e for p in reachable for e, _ in doors.edges[p]]])
    part = search(Roads.of(graph, no_dead_ends(graph, some)), doors, reachable, limit_s=1e6)
    assert len(part.nodes) < len(found.nodes)
    assert np.array_equal(part.to_s, found.to_s[:, part.nodes])
    assert np.array_equal(part.from_s, found.from_s[:, part.nodes])


def brute_force(graph, passes, doors, matched_route, i, skip_m, span_m=30_000.0):
    """Least cost of pass i by trying every pair of route nodes with networkx.

    Extra seconds, and 10 s for each kilometre of route left out, 5 s for each by which it is left
    after the pass or joined again before it; the least extra seconds alone.
    """
    ids = graph.node_id.tolist()
    roads = as_networkx(graph)
    place = int(passes.place_ix[i])
    to_door, from_door = with_door(roads, graph, doors, place)
    best, least_s = np.inf, np.inf
    own_m = passes.chainage_m[passes.place_ix == place]
    for a, leave in enumerate(matched_route.node):
        leave_m, leave_s = matched_route.chainage_m[a], matched_route.ride_s[a]
        if abs(leave_m - passes.chainage_m[i]) > np.abs(own_m - leave_m).min() + 1e-6:
            continue
        direct = nx.single_source_dijkstra_path_length(roads, ids[leave], weight="s")
        for b, rejoin in enumerate(matched_route.node):
            rejoin_m, rejoin_s = matched_route.chainage_m[b], matched_route.ride_s[b]
            skipped_s = rejoin_s - leave_s
            if rejoin_m - leave_m > skip_m or abs(leave_m - passes.chainage_m[i]) > span_m:
                continue
            if skipped_s - direct[ids[rejoin]] > 30.0:
                continue
            cost = to_door.get(ids[leave], np.inf) + from_door.get(ids[rejoin], np.inf)
            least_s = min(least_s, max(cost - skipped_s, 0.0))
            at_m = passes.chainage_m[i]
            off_m = max(leave_m - at_m, 0.0) + max(at_m - rejoin_m, 0.0)
            best = min(best, cost - skipped_s + 0.01 * (rejoin_m - leave_m) + 0.005 * off_m)
    return best, least_s


@pytest.mark.parametrize("seed", [4, 5, 6, 7])
@pytest.mark.parametrize("window_m", [0.0, 6_000.0])
def test_detours_are_the_best_pair_of_leave_and_rejoin(seed, window_m):
    graph, route, places = country(seed)
    line = matched(graph, route)
    assert matched_share(line) > 0.99
    passes, lon, lat = passes_of(route, places)
    found = detours(graph, line, passes, lon, lat, window_m=window_m)
    home = connected_edges(graph, line.node)
    doors = find_doors(graph, home, lon, lat, walk_m=500.0)
    checked = 0
    for i in range(len(passes)):
        place = int(passes.place_ix[i])
        skip_m = max(window_m, 2.0 * passes.offset_m[i])
        if doors.lost[place]:
            assert not found.known[i]
            continue
        walk_s = 2.0 * doors.walk_m[place] / (graph.slowest_kmh / 3.6)
        best, least_s = brute_force(graph, passes, doors, line, i, skip_m)
        if found.extra_m[i] > 2.0 * doors.walk_m[place]:
            mine = found.extra_s[i] - walk_s
            leave_m, rejoin_m, at_m = found.leave_m[i], found.rejoin_m[i], passes.chainage_m[i]
            off_m = max(leave_m - at_m, 0.0) + max(at_m - rejoin_m, 0.0)
            left_out_s = 0.01 * (rejoin_m - leave_m) + 0.005 * off_m
            # What costs no more than 30 s is not sought to the last second.
            assert mine + left_out_s == pytest.approx(best, abs=0.2) or mine <= 30.0
            assert mine >= least_s - 0.2
            checked += 1
    assert checked > 20


@pytest.mark.parametrize("seed", [9, 11, 17])
@pytest.mark.parametrize("window_m", [3_000.0, 8_000.0, 40_000.0])
def test_only_what_is_the_quickest_way_may_be_left_out(seed, window_m):
    graph, route, _ = country(seed, main="track")
    line = matched(graph, route)
    until = quickest_until(Roads.of(graph), line, window_m=window_m)
    roads, ids = as_networkx(graph), graph.node_id.tolist()
    cut = 0
    for leave, node in enumerate(line.node):
        far_s = nx.single_source_dijkstra_path_length(roads, ids[node], weight="s")
        rejoin = leave
        for other in range(leave + 1, len(line.node)):
            saved_s = line.ride_s[other] - line.ride_s[leave] - far_s[ids[line.node[other]]]
            if line.chainage_m[other] > line.chainage_m[leave] + window_m or saved_s > 30.0:
                cut += int(saved_s > 30.0)
                break
            rejoin = other
        assert until[leave] == rejoin
    assert len(line.node) >= 8
    assert cut or window_m < 40_000.0


@pytest.mark.parametrize("path", extracts("andorra-2025-01.osm.pbf"))
def test_a_real_extract_ride_by_ride(path):
    route = make_route([([1.46, 1.60], [42.46, 42.55], None)])
    graph = graph_from_extract([path], route, reach_m=4_000.0)
    ids = graph.node_id.tolist()
    home = connected_edges(graph, np.arange(len(graph)))
    picked = np.random.default_rng(8).integers(0, graph.shape_lon.size, 14)
    lon, lat = graph.shape_lon[picked], graph.shape_lat[picked]
    doors = find_doors(graph, home, lon, lat, walk_m=500.0)
    reachable = [i for i in range(14) if not doors.lost[i]]
    assert len(reachable) > 8
    found = search(Roads.of(graph), doors, reachable, limit_s=1_500.0)
    roads, settled = as_networkx(graph), 0
    for k, place in enumerate(reachable):
        to_s, from_s = with_door(roads, graph, doors, place)
        for mine, theirs in ((found.to_s[k], to_s), (found.from_s[k], from_s)):
            expected = np.array([theirs.get(ids[node], np.inf) for node in found.nodes])
            expected[expected > 1_500.0] = np.inf
            assert mine.tolist() == pytest.approx(expected.tolist(), abs=1e-4)
            settled += int(np.isfinite(mine).sum())
    assert settled > 4_000


def test_the_drawing_is_where_it_should_be():
    assert lon_lat(0.0, 0.0) == (LON_0, LAT_0)
