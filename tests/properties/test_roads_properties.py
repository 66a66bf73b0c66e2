"""What must hold for detours on any network."""

import numpy as np
from examples import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from road_world import draw, lon_lat, matched, passes_of, ride

from resupply.roads.detours import detours
from resupply.roads.search import Roads, connected_edges, find_doors, search

# The route is the quickest way along a straight line, so leaving some of it out is fair.
ROUTE = {"A": (0, 0), "B": (4, 0), "C": (8, 0), "D": (12, 0), "E": (16, 0)}
MAIN = (list(ROUTE), {"highway": "trunk", "surface": "asphalt"})
OFF_ROUTE = ("f", "g", "h", "i", "j", "k")
KINDS = st.sampled_from(["secondary", "residential", "track"])
ONEWAY = st.sampled_from(["no", "no", "yes", "-1"])


def _ends(road):
    return frozenset(road[0])


@st.composite
def networks(draw_value):
    coordinate = st.tuples(
        st.floats(0.5, 15.5).map(lambda x: round(x, 2)),
        st.floats(0.5, 6.0).map(lambda y: round(y, 2)),
    )
    spots = {**ROUTE, **{name: draw_value(coordinate) for name in OFF_ROUTE}}
    pair = st.tuples(st.sampled_from(list(spots)), st.sampled_from(OFF_ROUTE))
    roads = st.tuples(pair.filter(lambda p: p[0] != p[1]), KINDS, ONEWAY)
    ways = [
        (list(ends), {"highway": kind, "oneway": oneway})
        for ends, kind, oneway in draw_value(
            st.lists(roads, min_size=3, max_size=9, unique_by=_ends)
        )
        if spots[ends[0]] != spots[ends[1]]
    ]
    a, b = draw_value(st.sampled_from(ways))[0] if ways else ("A", "B")
    share = draw_value(st.floats(0.1, 0.9))
    place = tuple((1.0 - share) * np.array(spots[a]) + share * np.array(spots[b]))
    return spots, ways, place


def stops(spots, ways, place):
    route = ride(spots, *ROUTE)
    graph = draw(spots, [MAIN, *ways], route=route)
    passes, lon, lat = passes_of(route, [place])
    return graph, detours(graph, matched(graph, route), passes, lon, lat), passes


@settings(max_examples=examples(27))
@given(networks())
def test_a_detour_is_never_negative_and_known_only_with_numbers(network):
    _, found, passes = stops(*network)
    known = found.known
    assert (found.extra_m[known] >= 0.0).all() and (found.extra_s[known] >= 0.0).all()
    assert np.isnan(found.extra_m[~known]).all() and np.isnan(found.extra_s[~known]).all()
    assert [bool(why) for why in found.why_not] == (~known).tolist()
    assert len(found) == len(passes)


@settings(max_examples=examples(27))
@given(networks())
def test_the_drawn_way_is_no_longer_than_the_ride_and_reaches_the_place(network):
    from resupply.common.geodesy import segment_lengths_m

    _, found, _ = stops(*network)
    lon, lat = lon_lat(*network[2])
    for i in np.flatnonzero(found.known):
        out, back = found.path_out[i], found.path_back[i]
        assert np.allclose([out[0][-1], out[1][-1]], [lon, lat])
        assert np.allclose([back[0][0], back[1][0]], [lon, lat])
        drawn_m = sum(segment_lengths_m(*line).sum() for line in (out, back))
        left_out_m = found.rejoin_m[i] - found.leave_m[i]
        assert drawn_m - max(left_out_m, 0.0) <= found.extra_m[i] + 30.0


@settings(max_examples=examples(27))
@given(
    networks(), st.tuples(st.sampled_from([*ROUTE, *OFF_ROUTE]), st.sampled_from(OFF_ROUTE)), KINDS
)
def test_a_new_road_never_makes_a_detour_longer(network, ends, kind):
    spots, ways, place = network
    graph, before, _ = stops(spots, ways, place)
    home = connected_edges(graph, np.flatnonzero(np.isin(graph.node_id, (1, 5))))
    doors = find_doors(graph, home, *lon_lat([place[0]], [place[1]]), walk_m=500.0)
    # The road the place stands on was connected before; else the new road may give it a door.
    assume(doors.walk_m[0] < 1.0 and spots[ends[0]] != spots[ends[1]])
    _, after, _ = stops(spots, [*ways, (list(ends), {"highway": kind})], place)
    for i in np.flatnonzero(before.known):
        assert after.known[i]
        # A detour of up to 30 s is not sought to the last second.
        assert after.extra_s[i] <= max(before.extra_s[i], 30.0) + 1.0


@settings(max_examples=examples(18))
@given(networks())
def test_rides_keep_the_triangle_inequality(network):
    spots, ways, place = network
    graph = draw(spots, [MAIN, *ways])
    lon, lat = lon_lat([place[0]], [place[1]])
    doors = find_doors(graph, connected_edges(graph, np.arange(len(graph))), lon, lat, walk_m=500.0)
    if doors.lost[0]:
        return
    found = search(Roads.of(graph), doors, [0], limit_s=1e6)
    to_s, from_s = found.to_s[0], found.from_s[0]
    for tail, head, seconds in zip(graph.tail, graph.head, graph.seconds, strict=True):
        assert to_s[tail] <= seconds + to_s[head] + 1e-6
        assert from_s[head] <= from_s[tail] + seconds + 1e-6
