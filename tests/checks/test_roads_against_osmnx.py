"""Road distances of a real town against osmnx's own graph of the same extract.

osmnx: G. Boeing, Modeling and Analyzing Urban Networks and Amenities with OSMnx, Geographical
Analysis 57(4), 2025. It measures on a sphere of 6,371,009 m; ours are geodesics on WGS84, so the
two may differ by up to 0.56 %.
"""

import networkx as nx
import numpy as np
import osmium
import osmnx as ox
import pytest
from real_data import extracts
from road_world import graph_from_extract
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from resupply.route.route import make_route

PLAIN_ROADS = {"primary", "secondary", "tertiary", "unclassified", "residential"}
SPHERE_AGAINST_ELLIPSOID = 0.0056


def plain_roads(source, target):
    """Copy whole, untagged-for-access roads; osmnx fails on ways whose nodes were clipped."""
    refs, ways = set(), []
    for way in osmium.FileProcessor(str(source), osmium.osm.NODE | osmium.osm.WAY).with_locations():
        if not way.is_way() or way.tags.get("highway") not in PLAIN_ROADS:
            continue
        if any(key in way.tags for key in ("access", "motor_vehicle", "vehicle", "motorcycle")):
            continue
        if all(node.location.valid() for node in way.nodes):
            tags = {k: way.tags[k] for k in ("highway", "oneway", "junction") if k in way.tags}
            ways.append((way.id, [node.ref for node in way.nodes], tags))
            refs.update(ways[-1][1])
    with osmium.SimpleWriter(str(target)) as out:
        for node in osmium.FileProcessor(str(source), osmium.osm.NODE):
            if node.id in refs:
                out.add_node(node.replace(tags={}))
        for number, nodes, tags in ways:
            out.add_way(osmium.osm.mutable.Way(id=number, nodes=nodes, tags=tags, version=1))
    return len(ways)


ENDS = {
    "krems-2013-12.osm.gz": ([15.56, 15.85], [48.40, 48.42]),
    "north-bayreuth-2014-11.osm.gz": ([11.45, 11.62], [49.92, 50.05]),
}


@pytest.mark.parametrize("source", extracts(*ENDS))
def test_distances_between_junctions(tmp_path, source):
    plain = tmp_path / "plain.osm"
    assert plain_roads(source, plain) > 200
    graph = graph_from_extract([plain], make_route([(*ENDS[source.name], None)]), reach_m=200_000.0)
    theirs = ox.graph_from_xml(plain, simplify=False, retain_all=True)
    rows = np.flatnonzero(graph.node_id > 0)
    picked = np.random.default_rng(3).choice(rows, 25, replace=False)
    # The route's ends are nodes of ours alone; a node between two edges changes no length.
    mine_m = dijkstra(_shortest_of_parallel(graph), indices=picked)
    compared = 0
    for start, far_m in zip(picked, mine_m, strict=True):
        other = nx.single_source_dijkstra_path_length(
            theirs, int(graph.node_id[start]), weight="length"
        )
        expected = np.array([other.get(int(node), np.inf) for node in graph.node_id[rows]])
        assert (np.isfinite(far_m[rows]) == np.isfinite(expected)).all()
        both = np.isfinite(expected) & (expected > 0.0)
        ratio = far_m[rows][both] / expected[both]
        assert np.abs(ratio - 1.0).max() < SPHERE_AGAINST_ELLIPSOID
        compared += int(both.sum())
    assert compared > 2_000


def _shortest_of_parallel(graph):
    order = np.lexsort((graph.length_m, graph.head, graph.tail))
    tail, head = graph.tail[order], graph.head[order]
    first = np.ones(len(order), bool)
    first[1:] = (np.diff(tail) != 0) | (np.diff(head) != 0)
    first &= tail != head
    entries = (tail[first], head[first])
    return csr_array((graph.length_m[order][first], entries), shape=(len(graph),) * 2)
