"""Road graphs from drawings and extracts."""

import gzip

import numpy as np
import pytest
from extract_files import Drawing, straight_route
from road_world import draw, graph_from_extract, ride
from scipy.sparse.csgraph import dijkstra

from resupply.common.errors import ExtractError
from resupply.common.geodesy import geod
from resupply.roads import sources
from resupply.roads.sources import graph_from_answers
from resupply.route.route import make_route

CROSS = {"W": (0, 0), "bend": (1, 0.2), "X": (2, 0), "E": (4, 0), "N": (2, 2), "S": (2, -2)}
ROADS = [
    (["W", "bend", "X", "E"], {"highway": "primary", "surface": "asphalt"}),
    (["N", "X", "S"], {"highway": "track", "surface": "gravel"}),
]


def edge_between(graph, tail, head):
    (edge,) = graph.edges_between([tail, head])
    return edge


def test_nodes_are_junctions_and_ends_only():
    graph = draw(CROSS, ROADS)
    assert sorted(graph.node_id) == [1, 3, 4, 5, 6]
    assert len(graph.head) == 8


def test_edge_lengths_are_geodesic_along_the_bends():
    graph = draw(CROSS, ROADS)
    ids = list(graph.node_id)
    edge = edge_between(graph, ids.index(1), ids.index(3))
    lon, lat = graph.edge_line(edge)
    assert len(lon) == 3
    assert graph.length_m[edge] == pytest.approx(geod().line_length(lon, lat), abs=1e-6)
    assert graph.seconds[edge] == pytest.approx(graph.length_m[edge] * 3.6 / 70.0)


def test_the_way_back_has_the_same_shape_turned_round():
    graph = draw(CROSS, ROADS)
    ids = list(graph.node_id)
    there = graph.edge_line(edge_between(graph, ids.index(1), ids.index(3)))
    back = graph.edge_line(edge_between(graph, ids.index(3), ids.index(1)))
    assert (there[0] == back[0][::-1]).all() and (there[1] == back[1][::-1]).all()


def test_oneway_has_one_edge():
    graph = draw(CROSS, [(["W", "X"], {"highway": "primary", "oneway": "yes"})])
    assert [graph.node_id[graph.tail[0]], graph.node_id[graph.head[0]]] == [1, 3]
    turned = draw(CROSS, [(["W", "X"], {"highway": "primary", "oneway": "-1"})])
    assert [turned.node_id[turned.tail[0]], turned.node_id[turned.head[0]]] == [3, 1]


def test_of_two_roads_between_the_same_junctions_the_quicker_counts():
    spots = {**CROSS, "far": (1, 3)}
    graph = draw(
        spots,
        [
            (["W", "far", "X"], {"highway": "primary"}),
            (["W", "X"], {"highway": "primary"}),
            (["W", "E"], {"highway": "primary"}),
            (["X", "E"], {"highway": "primary"}),
        ],
    )
    ids = list(graph.node_id)
    edge = edge_between(graph, ids.index(1), ids.index(3))
    assert len(graph.edge_line(edge)[0]) == 2
    assert graph.matrix()[ids.index(1), ids.index(3)] == pytest.approx(graph.seconds[edge])


def test_no_road_between_two_nodes_is_an_error():
    graph = draw(CROSS, ROADS)
    ids = list(graph.node_id)
    with pytest.raises(ValueError, match="no road"):
        edge_between(graph, ids.index(1), ids.index(4))


def test_a_bollard_parts_the_road_and_keeps_both_dead_ends():
    graph = draw(CROSS, ROADS, closed=["bend"])
    ids = list(graph.node_id)
    far = dijkstra(graph.matrix(), indices=ids.index(1))
    assert np.isinf(far[ids.index(3)])
    assert sum(node < 0 for node in ids) == 2


def test_a_bollard_between_two_ways_parts_them():
    halves = [(["W", "bend"], {"highway": "primary"}), (["bend", "X"], {"highway": "primary"})]
    graph = draw(CROSS, halves, closed=["bend"])
    far = dijkstra(graph.matrix(), indices=list(graph.node_id).index(1))
    assert np.isinf(far[list(graph.node_id).index(3)])


def test_a_barrier_drawn_on_a_crossing_does_not_cut_the_main_road():
    graph = draw(CROSS, ROADS, closed=["X"])
    ids = list(graph.node_id)
    assert np.isfinite(dijkstra(graph.matrix(), indices=ids.index(1))[ids.index(4)])


def test_arrays_are_read_only():
    graph = draw(CROSS, ROADS)
    with pytest.raises(ValueError, match="read-only"):
        graph.seconds[0] = 0.0


def test_a_circular_road_and_a_doubled_vertex_are_survived():
    graph = draw(
        {**CROSS, "Y": (3, 1)},
        [(["X", "N", "Y", "X"], {"highway": "primary"}), (["W", "W", "X"], {"highway": "primary"})],
    )
    assert (graph.seconds > 0.0).all()
    assert graph.matrix().diagonal().sum() == 0.0


def drawing():
    map_ = Drawing()
    map_.road()
    lane = map_.line([(-25.5, 46.5), (-25.5, 46.52)], highway="service", access="private")
    gate = map_.node(-25.6, 46.505, barrier="bollard")
    ends = map_.node(-25.6, 46.50), map_.node(-25.6, 46.51)
    map_.way([ends[0], gate, ends[1]], highway="residential")
    map_.line([(-25.6, 47.5), (-25.5, 47.5)], highway="primary")
    map_.node(-25.4, 46.5, shop="supermarket")
    return map_, lane


def test_extract_gives_the_roads_within_reach(tmp_path):
    map_, lane = drawing()
    path = map_.write(tmp_path / "island.osm.pbf")
    graph = graph_from_extract([path], straight_route(), reach_m=5_000.0)
    assert lane not in graph.way_id
    assert graph.shape_lat.max() < 46.6
    assert (graph.node_id < 0).sum() == 2
    # The road goes on to the next vertex outside the reach and no farther.
    assert graph.node_lon.min() < -26.05
    assert graph.node_lon.min() > -26.1


def test_every_kind_of_extract_gives_the_same_graph(tmp_path):
    map_, _ = drawing()
    plain = map_.write(tmp_path / "island.osm")
    (tmp_path / "island.osm.gz").write_bytes(gzip.compress(plain.read_bytes()))
    packed = map_.write(tmp_path / "island.osm.pbf")
    graphs = [
        graph_from_extract([path], straight_route(), reach_m=5_000.0)
        for path in (plain, tmp_path / "island.osm.gz", packed)
    ]
    for graph in graphs[1:]:
        assert (graph.node_id == graphs[0].node_id).all()
        assert np.allclose(graph.seconds, graphs[0].seconds)


def test_a_country_of_roads_is_pruned_in_batches(tmp_path, monkeypatch):
    map_, _ = drawing()
    path = map_.write(tmp_path / "island.osm.pbf")
    usual = graph_from_extract([path], straight_route(), reach_m=5_000.0)
    monkeypatch.setattr(sources, "_BATCH_VERTICES", 7)
    batched = graph_from_extract([path], straight_route(), reach_m=5_000.0)
    assert sorted(batched.node_id) == sorted(usual.node_id)
    assert batched.length_m.sum() == pytest.approx(usual.length_m.sum())


def test_a_road_that_two_extracts_hold_is_taken_once_from_the_fuller(tmp_path):
    whole, clipped = Drawing(), Drawing()
    for map_ in (whole, clipped):
        refs = [map_.node(-25.9 + 0.1 * i, 46.5) for i in range(5)]
        map_.way(refs, highway="primary")
    clipped.nodes = clipped.nodes[2:]
    paths = [clipped.write(tmp_path / "a.osm.pbf"), whole.write(tmp_path / "b.osm.pbf")]
    both = graph_from_extract(paths, straight_route())
    one = graph_from_extract(paths[1:], straight_route())
    assert list(both.node_id) == list(one.node_id) == [1, 5]
    assert both.length_m == pytest.approx(one.length_m)


def test_nodes_missing_from_the_extract_cut_the_road(tmp_path):
    map_ = Drawing()
    refs = [map_.node(-25.9 + 0.1 * i, 46.5) for i in range(5)]
    map_.way(refs, highway="primary")
    del map_.nodes[2]
    graph = graph_from_extract([map_.write(tmp_path / "a.osm.pbf")], straight_route())
    assert list(graph.node_id) == [1, 2, 4, 5]
    assert np.isinf(dijkstra(graph.matrix(), indices=0)[3])


def test_no_roads_is_an_empty_graph(tmp_path):
    map_ = Drawing()
    map_.node(-25.5, 46.5, shop="kiosk")
    graph = graph_from_extract([map_.write(tmp_path / "a.osm.pbf")], straight_route())
    assert len(graph) == 0


def test_broken_and_missing_extracts_are_named(tmp_path):
    with pytest.raises(ExtractError, match=r"gone\.osm\.pbf"):
        graph_from_extract([tmp_path / "gone.osm.pbf"], straight_route())
    broken = tmp_path / "broken.osm.pbf"
    broken.write_bytes(b"not a map")
    with pytest.raises(ExtractError, match=r"broken\.osm\.pbf"):
        graph_from_extract([broken], straight_route())


def test_a_cut_off_extract_is_an_error_not_half_a_graph(tmp_path):
    map_, _ = drawing()
    path = map_.write(tmp_path / "island.osm.pbf")
    path.write_bytes(path.read_bytes()[:-200])
    with pytest.raises(ExtractError):
        graph_from_extract([path], straight_route())


def test_roads_across_the_antimeridian(tmp_path):
    map_ = Drawing()
    refs = [map_.node(lon, -17.0) for lon in (179.8, 179.9, 180.0, -179.9, -179.8)]
    map_.way(refs, highway="primary")
    route = make_route([([179.8, 179.9, 180.0, -179.9, -179.8], [-17.0] * 5, None)])
    graph = graph_from_extract([map_.write(tmp_path / "a.osm.pbf")], route)
    assert graph.length_m == pytest.approx([route.length_m] * 2, rel=1e-6)


def elements_of(map_):
    """The drawing as the live map service would send it."""
    nodes = [
        {"type": "node", "id": number, "lon": lon, "lat": lat, "tags": tags}
        for number, lon, lat, tags in map_.nodes
    ]
    ways = [
        {"type": "way", "id": number, "nodes": refs, "tags": tags}
        for number, refs, tags in map_.ways
    ]
    return [*ways, *nodes]


def crooked_country():
    map_ = Drawing()
    spine = [map_.node(-25.9 + 0.02 * i, 46.5 + 0.002 * (i % 3)) for i in range(40)]
    map_.way(spine, highway="primary", surface="asphalt")
    for i, tags in enumerate(
        (
            {"oneway": "-1"},
            {"oneway": "yes"},
            {"oneway": "yes", "oneway__motorcycle": "no"},
            {"motor_vehicle": "no"},
            {"junction": "roundabout"},
            {"surface": "gravel", "maxspeed__backward": "20"},
        )
    ):
        lon = -25.9 + 0.1 * i
        refs = map_.node(lon, 46.51), map_.node(lon + 0.05, 46.53), map_.node(lon + 0.06, 46.51)
        map_.way([spine[5 * i], *refs, spine[5 * i + 3]], highway="tertiary", **tags)
    post = map_.node(-25.2, 46.51, barrier="bollard")
    map_.way([spine[35], post, map_.node(-25.2, 46.52), spine[39]], highway="residential")
    return map_


def test_answers_of_the_service_give_the_same_graph_as_an_extract(tmp_path):
    map_, route = crooked_country(), straight_route()
    own = graph_from_extract([map_.write(tmp_path / "a.osm.pbf")], route, reach_m=5_000.0)
    elements = elements_of(map_)
    live = graph_from_answers([[*elements, *elements[:30]]], route, reach_m=5_000.0)
    assert live.source == "live map service"
    assert (live.node_id == own.node_id).all()
    assert (live.tail == own.tail).all() and (live.head == own.head).all()
    assert np.allclose(live.seconds, own.seconds)


def test_a_drawn_route_lies_on_its_roads():
    assert ride(CROSS, "W", "X").length_m == pytest.approx(2_000.0, rel=2e-3)
