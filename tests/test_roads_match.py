"""Which roads lie under a route."""

import numpy as np
import pytest
from road_world import draw, lon_lat, matched, matched_share, ride

from resupply.roads.match import match_route, surface_mix
from resupply.route.route import make_route

# A main road with a gravel short cut, a parallel lane and a dead end.
SPOTS = {
    "A": (0, 0), "B": (3, 0), "C": (6, 0), "D": (9, 0), "a": (0, 0.15), "d": (9, 0.15),
    "top": (4.5, 1.5), "end": (6, -3),
}  # fmt: skip
WAYS = [
    (["A", "B", "C", "D"], {"highway": "primary", "surface": "asphalt"}),
    (["B", "top", "C"], {"highway": "unclassified", "surface": "gravel"}),
    (["a", "d"], {"highway": "residential"}),
    (["a", "A"], {"highway": "residential"}),
    (["d", "D"], {"highway": "residential"}),
    (["C", "end"], {"highway": "track"}),
]
NAMES = list(SPOTS)


def nodes_passed(graph, found):
    return [NAMES[graph.node_id[node] - 1] for node in found.node]


def test_the_line_follows_its_road_and_not_the_lane_beside_it():
    graph = draw(SPOTS, WAYS)
    route = ride(SPOTS, "A", "D")
    found = matched(graph, route)
    assert nodes_passed(graph, found) == ["A", "B", "C", "D"]
    assert matched_share(found) == pytest.approx(1.0)
    assert found.chainage_m == pytest.approx([0, 3000, 6000, 9000], rel=2e-3)
    assert found.along_m == pytest.approx(found.chainage_m, abs=1.0)


def test_ride_time_is_that_of_the_roads():
    graph = draw(SPOTS, WAYS)
    route = ride(SPOTS, "A", "B", "top", "C", "D")
    found = matched(graph, route)
    assert nodes_passed(graph, found) == ["A", "B", "C", "D"]
    gravel_m = route.length_m - 2 * 3_000.0
    assert found.ride_time.source == "roads under the route"
    assert found.ride_time.at(route.length_m) == pytest.approx(
        6_000.0 * 3.6 / 70.0 + gravel_m * 3.6 / 36.0, rel=2e-3
    )


def test_surfaces_add_up_to_the_leg():
    graph = draw(SPOTS, WAYS)
    route = ride(SPOTS, "A", "B", "top", "C", "end")
    found = matched(graph, route)
    mix = surface_mix(found, graph, start_m=1_000.0, end_m=route.length_m)
    assert mix.paved_m == pytest.approx(2_000.0, abs=10.0)
    assert mix.gravel_m == pytest.approx(2 * np.hypot(1500, 1500), abs=15.0)
    assert mix.track_m == pytest.approx(3_000.0, abs=15.0)
    assert sum((mix.paved_m, mix.gravel_m, mix.track_m, mix.unknown_m)) == pytest.approx(
        route.length_m - 1_000.0
    )


def test_a_road_without_a_surface_tag_is_not_known():
    graph = draw(SPOTS, WAYS)
    route = ride(SPOTS, "a", "d")
    mix = surface_mix(matched(graph, route), graph, start_m=0.0, end_m=route.length_m)
    assert mix.unknown_m == pytest.approx(route.length_m)


def test_there_and_back_rides_each_road_twice():
    graph = draw(SPOTS, WAYS)
    found = matched(graph, ride(SPOTS, "A", "C", "end", "C", "D"))
    assert nodes_passed(graph, found) == ["A", "B", "C", "end", "C", "D"]
    assert (np.diff(found.chainage_m) >= 0.0).all()


def test_turning_round_in_the_middle_of_a_road():
    graph = draw(SPOTS, WAYS)
    spots = {**SPOTS, "half": (6, -1.5)}
    route = ride(spots, "A", "C", "half", "C", "D")
    found = matched(graph, route)
    assert nodes_passed(graph, found) == ["A", "B", "C", "C", "D"]
    assert found.chainage_m == pytest.approx([0, 3000, 6000, 9000, 12_000], abs=60.0)
    assert found.along_m[-1] == pytest.approx(route.length_m, abs=120.0)


def test_a_route_that_starts_and_ends_between_junctions():
    graph = draw(SPOTS, WAYS)
    spots = {**SPOTS, "s": (1, 0), "e": (8, 0)}
    route = ride(spots, "s", "e")
    found = matched(graph, route)
    assert nodes_passed(graph, found) == ["B", "C"]
    assert matched_share(found) == pytest.approx(1.0)
    assert found.ride_time.at(route.length_m) == pytest.approx(7_000.0 * 3.6 / 70.0, rel=3e-3)


def test_where_no_road_fits_the_average_speed_is_used_and_said_so():
    graph = draw(SPOTS, WAYS)
    spots = {**SPOTS, "far": (18, 0)}
    route = ride(spots, "A", "D", "far")
    found = matched(graph, route, average_kmh=45.0)
    (lost,) = found.unmatched
    assert lost.start_m == pytest.approx(9_000.0, abs=100.0)
    assert lost.end_m == pytest.approx(route.length_m)
    assert "no road" in lost.reason
    assert found.ride_time.at(route.length_m) == pytest.approx(
        lost.start_m * 3.6 / 70.0 + (lost.end_m - lost.start_m) * 3.6 / 45.0, rel=5e-3
    )


def test_nothing_matched_is_plain_average_speed():
    graph = draw(SPOTS, WAYS)
    spots = {"p": (0, 20), "q": (10, 20)}
    found = matched(graph, ride(spots, "p", "q"), average_kmh=50.0)
    assert found.ride_time.source == "average speed"
    assert matched_share(found) == pytest.approx(0.0)
    assert len(found.node) == 0


def test_a_break_is_not_bridged():
    graph = draw(SPOTS, WAYS)
    first, second = (
        lon_lat(np.linspace(0, 3, 30), np.zeros(30)),
        lon_lat(np.linspace(6, 9, 30), np.zeros(30)),
    )
    route = make_route([(*first, None), (*second, None)])
    found = match_route(graph, route, average_kmh=60.0)
    assert nodes_passed(graph, found) == ["A", "B", "C", "D"]
    assert found.chainage_m[1] == pytest.approx(found.chainage_m[2], abs=1.0)
    assert found.along_m[-1] == pytest.approx(route.length_m, abs=1.0)


def test_a_noisy_track_still_finds_its_roads():
    graph = draw(SPOTS, WAYS)
    rng = np.random.default_rng(4)
    clean = ride(SPOTS, "A", "B", "top", "C", "D", step_km=0.03)
    noise = rng.normal(0.0, 0.006, (2, len(clean.lon)))
    route = make_route([(clean.lon + noise[0] / 77.0, clean.lat + noise[1] / 111.0, None)])
    found = matched(graph, route)
    assert nodes_passed(graph, found) == ["A", "B", "C", "D"]
    assert matched_share(found) > 0.97


def test_an_oneway_is_not_ridden_against():
    ways = [(["A", "B", "C", "D"], {"highway": "primary", "oneway": "yes"})]
    found = matched(draw(SPOTS, ways), ride(SPOTS, "D", "A"))
    assert len(found.edge) == 0


def test_a_short_hole_in_the_mapping_is_bridged_by_road():
    spots = {**SPOTS, "kink": (4.5, 0.3)}
    ways = [(["A", "B"], {"highway": "primary"}), (["C", "D"], {"highway": "primary"})]
    ways.append((["B", "kink", "C"], {"highway": "primary"}))
    graph = draw({**spots, "B": (4.2, 0), "C": (4.8, 0)}, ways)
    found = matched(graph, ride({**spots, "B": (4.2, 0)}, "A", "D"))
    assert nodes_passed(graph, found) == ["A", "B", "C", "D"]
    assert matched_share(found) == pytest.approx(1.0)


def test_knots_never_run_backwards():
    graph = draw(SPOTS, WAYS)
    found = matched(graph, ride(SPOTS, "A", "C", "end", "C", "top", "B", "A", "D"))
    assert (np.diff(found.ride_time.chainage_m) >= 0.0).all()
    assert (np.diff(found.ride_time.ride_s) >= 0.0).all()


def test_roads_of_another_country_match_nothing():
    spots = {"p": (300, 300), "q": (300.2, 300)}
    graph = draw(spots, [(["p", "q"], {"highway": "primary"})])
    found = matched(graph, ride(SPOTS, "A", "D"), average_kmh=50.0)
    assert matched_share(found) == pytest.approx(0.0)


def test_long_lines_are_matched_in_blocks_with_the_same_result(monkeypatch):
    graph = draw(SPOTS, WAYS)
    route = ride(SPOTS, "A", "B", "top", "C", "end", "C", "D")
    whole = matched(graph, route)
    monkeypatch.setattr("resupply.roads.match._BLOCK", 7)
    parts = matched(graph, route)
    assert (whole.edge == parts.edge).all()
    assert (whole.ride_s == parts.ride_s).all()
