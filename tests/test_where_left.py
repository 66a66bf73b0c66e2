"""Passes at the kilometre from which their road leaves, with its time."""

from dataclasses import replace

import numpy as np
import pytest
from road_world import draw, lon_lat, matched, passes_of, ride

from resupply.places.place import Supply
from resupply.plan.where_left import ReachedPasses, where_left
from resupply.roads.detours import detours

PRIMARY = {"highway": "primary", "surface": "asphalt"}
# A gorge: the only bridge to the shop at km 11 is at km 28. Another shop stands at km 20.
SPOTS = {
    "A": (0, 0),
    "C": (20, 0),
    "bridge": (28, 0),
    "F": (60, 0),
    "over": (28, 1),
    "across": (11, 2),
    "side": (20, 1),
}
WAYS = [
    (["A", "C", "bridge", "F"], PRIMARY),
    (["bridge", "over", "across"], PRIMARY),
    (["C", "side"], PRIMARY),
]
PLACES = [SPOTS["across"], SPOTS["side"]]


def found_passes():
    route = ride(SPOTS, "A", "F")
    graph = draw(SPOTS, WAYS, route=route)
    line = matched(graph, route)
    passes, lon, lat = passes_of(route, PLACES)
    ways = detours(graph, line, passes, lon, lat)
    supply = {Supply.GROCERIES: np.array([True, False]), Supply.ICE: np.array([False, True])}
    return ReachedPasses(passes, supply, ways, ways.known.copy(), ("", "")), line


def test_a_place_across_a_gorge_belongs_to_the_kilometre_of_the_bridge():
    found, line = found_passes()
    assert found.passes.chainage_m == pytest.approx([11_000.0, 20_000.0], rel=2e-3)
    moved = where_left(found, line)
    assert moved.passes.chainage_m == pytest.approx([20_000.0, 28_000.0], rel=2e-3)
    assert moved.passes.place_ix.tolist() == [1, 0]
    assert moved.passes.offset_m == pytest.approx([1_000.0, 2_000.0], rel=5e-3)


def test_what_belongs_to_a_pass_moves_with_it():
    found, line = found_passes()
    moved = where_left(found, line)
    assert moved.supply[Supply.GROCERIES].tolist() == [False, True]
    assert moved.supply[Supply.ICE].tolist() == [True, False]
    assert moved.detours.extra_m.tolist() == found.detours.extra_m[::-1].tolist()
    assert moved.detours.leave_m == pytest.approx([20_000.0, 28_000.0], rel=2e-3)
    door_lon, door_lat = lon_lat(*SPOTS["across"])
    drawn_lon, drawn_lat = moved.detours.path_out[1]
    assert (drawn_lon[-1], drawn_lat[-1]) == pytest.approx((float(door_lon), float(door_lat)))


def test_an_estimate_and_a_way_close_by_stay_where_the_place_is_nearest():
    found, line = found_passes()
    guessed = found._replace(by_road=np.array([False, True]))
    assert where_left(guessed, line) is guessed


def test_a_way_past_the_door_has_the_kilometre_ridden_when_it_is_reached():
    found, line = found_passes()
    # As if the way left at km 28, reached the door in six minutes and came back at km 36.
    ways = replace(
        found.detours,
        out_s=np.array([360.0, found.detours.out_s[1]]),
        rejoin_m=np.array([36_000.0, found.detours.rejoin_m[1]]),
    )
    moved = where_left(found._replace(detours=ways), line)
    kmh = 3.6 * (36_000 - 28_000) / float(np.diff(np.interp(
        [28_000, 36_000], line.chainage_m, line.ride_s))[0])  # fmt: skip
    assert moved.passes.chainage_m[1] == pytest.approx(28_000 + kmh * 100.0, rel=3e-3)
