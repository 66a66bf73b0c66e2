"""The island's roads: the gorge, the loop and the way there and back."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from road_world import graph_from_extract, matched_share

from resupply.passes.find import find_passes
from resupply.places.extract import places_from_extract
from resupply.roads.detours import detours
from resupply.roads.match import match_route, surface_mix
from resupply.route.gpx import read_gpx

SAMPLES = Path(__file__).parents[1] / "sample_routes"


@cache
def ridden(name):
    route = read_gpx(SAMPLES / f"{name}.gpx")
    graph = graph_from_extract([SAMPLES / "varrow.osm.pbf"], route)
    return route, graph, match_route(graph, route, average_kmh=45.0)


@cache
def stops(name, reach_m=6_000.0):
    route, graph, matched = ridden(name)
    places = places_from_extract([SAMPLES / "varrow.osm.pbf"], route, reach_m=reach_m).places
    lon, lat = np.array([p.lon for p in places]), np.array([p.lat for p in places])
    passes = find_passes(route, lon, lat, reach_m=reach_m)
    return places, passes, detours(graph, matched, passes, lon, lat)


def stop(name, shop):
    places, passes, found = stops(name)
    (i,) = [i for i, ix in enumerate(passes.place_ix) if places[ix].name == shop]
    return float(passes.offset_m[i]), float(found.extra_m[i]), i


def test_the_shop_across_the_gorge_is_nearer_in_the_air_and_farther_by_road():
    gorge_off_m, gorge_extra_m, _ = stop("coast_loop", "Supermercado Orlagja")
    far_off_m, far_extra_m, _ = stop("coast_loop", "Mercado Fjellarinha")
    assert gorge_off_m < 2_500.0 < 3_500.0 < far_off_m
    assert gorge_extra_m > 30_000.0
    assert far_extra_m < 10_000.0


def test_the_way_to_the_gorge_shop_leaves_at_the_bridge_and_comes_back_to_it():
    _, passes, found = stops("coast_loop")
    _, _, i = stop("coast_loop", "Supermercado Orlagja")
    assert found.leave_m[i] == pytest.approx(found.rejoin_m[i])
    assert found.leave_m[i] - passes.chainage_m[i] > 14_000.0
    assert len(found.path_out[i][0]) > 50


@pytest.mark.parametrize("name", ["coast_loop", "long_moor", "there_and_back"])
def test_the_whole_route_lies_on_known_roads(name):
    route, graph, matched = ridden(name)
    assert matched_share(matched) > 0.999
    assert matched.ride_time.source == "roads under the route"
    mix = surface_mix(matched, graph, start_m=0.0, end_m=route.length_m)
    total_m = mix.paved_m + mix.gravel_m + mix.track_m + mix.unknown_m
    assert total_m == pytest.approx(route.length_m)


def test_the_moor_has_gravel_and_tracks():
    route, graph, matched = ridden("long_moor")
    mix = surface_mix(matched, graph, start_m=0.0, end_m=route.length_m)
    assert mix.gravel_m > 100e3
    assert mix.track_m > 10e3


@pytest.mark.parametrize("name", ["coast_loop", "there_and_back"])
def test_no_detour_is_shorter_than_the_straight_way_there_and_back(name):
    places, passes, found = stops(name)
    assert found.known.mean() > 0.8
    for i in np.flatnonzero(found.known):
        if found.rejoin_m[i] <= found.leave_m[i]:
            # 1 % for the offset to the line, which may be nearer than any junction.
            assert found.extra_m[i] > 1.98 * passes.offset_m[i] - 20.0, places[passes.place_ix[i]]


def test_what_is_not_known_has_a_reason_and_no_number():
    _, _, found = stops("coast_loop")
    for i in np.flatnonzero(~found.known):
        assert found.why_not[i]
        assert np.isnan(found.extra_m[i])
