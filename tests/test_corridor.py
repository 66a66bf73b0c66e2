from __future__ import annotations

import numpy as np
import pytest

from resupply.passes.find import HYSTERESIS, HYSTERESIS_MIN_M, find_passes
from resupply.route.route import Route, make_route
from tests.line_truth import GEOD, assert_true, sample, true_passes


def ride(lon: float, lat: float, *moves: tuple[float, float], step_m: float = 500.0):
    """Points from a start, by (azimuth, metres) moves, one about every `step_m`."""
    lons, lats = [lon], [lat]
    for azimuth, length_m in moves:
        count = max(round(length_m / step_m), 1)
        along_m = np.arange(1, count + 1) * (length_m / count)
        start = (np.full(count, v) for v in (lons[-1], lats[-1], azimuth))
        x, y, _ = GEOD.fwd(*start, along_m)
        lons += x.tolist()
        lats += y.tolist()
    return lons, lats


def route_of(*parts) -> Route:
    return make_route([(lon, lat, None) for lon, lat in parts])


def beside(route: Route, chainage_m: float, offset_m: float, azimuth: float):
    lon, lat = route.position_at(chainage_m)
    x, y, _ = GEOD.fwd(lon, lat, azimuth, offset_m)
    return np.array([x]), np.array([y])


def check(route: Route, lon, lat, *, reach_m: float, step_m: float = 20.0):
    passes = find_passes(route, lon, lat, reach_m=reach_m)
    rise_m = max(HYSTERESIS * reach_m, HYSTERESIS_MIN_M)
    truth = true_passes(sample(route, step_m), lon, lat, reach_m=reach_m, rise_m=rise_m)
    assert_true(passes, truth)
    return passes


def test_a_place_beside_a_straight_road_has_one_pass():
    route = route_of(ride(10.0, 47.0, (90.0, 60_000.0)))
    lon, lat = beside(route, 31_234.0, 2_500.0, 0.2)
    passes = check(route, lon, lat, reach_m=5_000.0)
    assert len(passes) == 1
    assert passes.offset_m[0] == pytest.approx(2_500.0, abs=1.0)
    assert passes.side[0] == -1


def test_a_place_beyond_reach_has_none():
    route = route_of(ride(10.0, 47.0, (90.0, 60_000.0)))
    lon, lat = beside(route, 30_000.0, 5_050.0, 0.0)
    assert len(find_passes(route, lon, lat, reach_m=5_000.0)) == 0
    assert len(find_passes(route, lon, lat, reach_m=5_100.0)) == 1


def test_an_out_and_back_passes_the_same_shop_twice():
    out = ride(10.0, 47.0, (20.0, 40_000.0))
    route = route_of((out[0] + out[0][-2::-1], out[1] + out[1][-2::-1]))
    lon, lat = beside(route, 12_000.0, 800.0, 110.0)
    passes = check(route, lon, lat, reach_m=5_000.0)
    assert passes.chainage_m == pytest.approx([12_000.0, 68_000.0], abs=1.0)
    assert passes.side.tolist() == [1, -1]


def test_an_out_and_back_that_stays_in_the_corridor_still_passes_twice():
    # Camp lies 3 km beyond the shop: in the evening and in the morning the rider is there.
    out = ride(10.0, 47.0, (20.0, 43_000.0))
    route = route_of((out[0] + out[0][-2::-1], out[1] + out[1][-2::-1]))
    lon, lat = beside(route, 40_000.0, 300.0, 110.0)
    passes = check(route, lon, lat, reach_m=5_000.0)
    assert passes.chainage_m == pytest.approx([40_000.0, 46_000.0], abs=1.0)


@pytest.mark.parametrize("lat", [-60.0, -17.3, 0.0, 12.2, 47.0, 71.0])
@pytest.mark.parametrize("beyond_m", [300.0, 700.0, 1_100.0])
def test_of_two_equally_near_points_of_one_approach_the_first_is_taken(lat, beyond_m):
    for azimuth in range(0, 360, 15):
        out = ride(10.0, lat, (float(azimuth), 20_000.0), step_m=333.0)
        route = route_of((out[0] + out[0][::-1], out[1] + out[1][::-1]))
        at_m = 20_000.0 - beyond_m
        x, y = beside(route, at_m, 900.0, azimuth + 90.0)
        passes = find_passes(route, x, y, reach_m=5_000.0)
        assert passes.chainage_m == pytest.approx([at_m], abs=20.0)


@pytest.mark.parametrize("turn_m", [1_150.0, 1_450.0, 2_000.0])
def test_a_turn_is_judged_the_same_wherever_the_route_starts(turn_m):
    # How the route falls into chunks must not matter.
    for start_m in range(3_000, 5_500, 50):
        moves = ((20.0, start_m + turn_m), (200.0, turn_m + 3_000.0))
        route = route_of(ride(10.0, 47.0, *moves, step_m=90.0))
        lon, lat = beside(route, start_m, 100.0, 110.0)
        passes = find_passes(route, lon, lat, reach_m=5_000.0)
        both_m = [start_m, start_m + 2.0 * turn_m]
        if turn_m > HYSTERESIS * 5_000.0 + 100.0:
            assert passes.chainage_m == pytest.approx(both_m, abs=0.5)
        else:
            assert len(passes) == 1
            assert np.abs(passes.chainage_m[0] - both_m).min() < 0.5


def test_a_loop_passes_the_shop_at_its_start_twice():
    route = route_of(ride(10.0, 47.0, *[(a, 20_000.0) for a in range(0, 360, 60)]))
    lon, lat = beside(route, 0.0, 400.0, 200.0)
    passes = check(route, lon, lat, reach_m=5_000.0)
    assert len(passes) == 2
    assert passes.chainage_m[0] == pytest.approx(0.0, abs=1.0)
    assert passes.chainage_m[1] > 115_000.0


def test_a_wiggle_along_the_edge_of_the_corridor_makes_no_new_pass():
    # The road swings between 4.8 and 5.6 km from the shop.
    moves = [(90.0, 1_000.0), (0.0, 800.0), (90.0, 1_000.0), (180.0, 800.0)] * 3
    route = route_of(ride(10.0, 47.0, (90.0, 20_000.0), *moves, (90.0, 20_000.0)))
    lon, lat = beside(route, 20_000.0 + 6_000.0, 4_800.0, 180.0)
    assert len(check(route, lon, lat, reach_m=5_000.0)) == 1


def test_a_place_at_a_crossing_of_the_route_with_itself_has_two_passes():
    route = route_of(
        ride(10.0, 47.0, (90.0, 30_000.0), (0.0, 15_000.0), (270.0, 15_000.0), (180.0, 30_000.0))
    )
    lon, lat = beside(route, 15_000.0, 200.0, 45.0)
    assert len(check(route, lon, lat, reach_m=2_000.0)) == 2


def test_the_antimeridian_is_an_ordinary_place():
    lon, lat = ride(179.8, -17.0, (85.0, 60_000.0))
    assert min(lon) < -179.0
    route = route_of((lon, lat))
    for chainage_m in (5_000.0, 21_300.0, 50_000.0):
        x, y = beside(route, chainage_m, 3_000.0, 175.0)
        assert len(check(route, x, y, reach_m=5_000.0)) == 1


@pytest.mark.parametrize("lat", [89.9, -89.9])
def test_the_poles_are_ordinary_places(lat):
    route = route_of(ride(30.0, lat, (0.0 if lat > 0 else 180.0, 40_000.0)))
    for chainage_m, azimuth in ((2_000.0, 90.0), (11_000.0, 270.0), (30_000.0, 90.0)):
        x, y = beside(route, chainage_m, 1_500.0, azimuth)
        assert len(check(route, x, y, reach_m=5_000.0)) == 1
    assert (
        len(check(route, np.array([77.0]), np.array([90.0 if lat > 0 else -90.0]), reach_m=500.0))
        == 1
    )


def test_a_sparse_route_is_followed_along_its_geodesic():
    # 1,000 km in one step: the geodesic runs some 12 km from the line of constant bearing.
    route = route_of(([10.0, 23.3], [47.0, 47.0]))
    for chainage_m, azimuth in ((123_456.0, 0.0), (500_000.0, 180.0), (987_654.0, 45.0)):
        x, y = beside(route, chainage_m, 2_000.0, azimuth)
        passes = check(route, x, y, reach_m=5_000.0, step_m=100.0)
        assert len(passes) == 1


def test_no_distance_is_taken_to_a_jump():
    # A ferry of 40 km; an island beside its line has a shop.
    first, second = ride(10.0, 57.0, (90.0, 30_000.0)), ride(11.15, 57.0, (90.0, 30_000.0))
    route = route_of(first, second)
    assert route.breaks[0].length_m > 30_000.0
    x, y = (np.array([v]) for v in (10.8, 57.0))
    assert len(find_passes(route, x, y, reach_m=5_000.0)) == 0
    x, y = (np.array([v]) for v in (11.14, 57.0))
    passes = find_passes(route, x, y, reach_m=5_000.0)
    assert passes.chainage_m == pytest.approx([30_000.0], abs=1.0)
    assert passes.offset_m == pytest.approx([GEOD.inv(11.14, 57.0, 11.15, 57.0)[2]], abs=0.01)


def test_a_small_jump_in_town_makes_no_second_pass():
    first = ride(10.0, 47.0, (90.0, 20_000.0))
    second = ride(first[0][-1] + 0.004, 47.0, (90.0, 20_000.0))
    route = route_of(first, second)
    assert len(route.breaks) == 1
    lon, lat = beside(route, 19_000.0, 400.0, 0.0)
    assert len(check(route, lon, lat, reach_m=5_000.0)) == 1


def test_a_part_of_one_point_is_found():
    route = route_of(
        ride(10.0, 47.0, (90.0, 20_000.0)), ([11.0], [48.0]), ([12.0, 12.1], [47.0] * 2)
    )
    passes = find_passes(route, [11.0], [48.01], reach_m=5_000.0)
    assert passes.chainage_m == pytest.approx([20_000.0], abs=1.0)
    assert passes.offset_m == pytest.approx([GEOD.inv(11.0, 48.0, 11.0, 48.01)[2]], abs=0.01)


def test_each_place_has_its_own_reach():
    route = route_of(ride(10.0, 47.0, (90.0, 60_000.0)))
    lon, lat = beside(route, 30_000.0, 3_000.0, 0.0)
    twice = find_passes(
        route, np.repeat(lon, 4), np.repeat(lat, 4), reach_m=[2_999, 3_001, 100, 2e4]
    )
    assert sorted(twice.place_ix.tolist()) == [1, 3]
    assert twice.offset_m[0] == pytest.approx(twice.offset_m[1], abs=1e-6)


@pytest.mark.parametrize("reach_m", [1.0, 60.0, 400.0, 5_000.0, 30_000.0, 150_000.0])
def test_any_reach_finds_the_true_passes(reach_m):
    rng = np.random.default_rng(7)
    moves = [(float(a), 900.0) for a in np.cumsum(rng.normal(0.0, 25.0, 120)) + 60.0]
    route = route_of(ride(-24.0, 46.0, *moves, step_m=300.0))
    at = rng.uniform(0.0, route.length_m, 12)
    x, y = route.positions_at(at)
    x, y, _ = GEOD.fwd(x, y, rng.uniform(0.0, 360.0, 12), rng.uniform(0.0, 1.2 * reach_m, 12))
    assert len(check(route, x, y, reach_m=reach_m, step_m=15.0)) > 0


def test_left_and_right_are_the_riders():
    route = route_of(ride(10.0, 47.0, (0.0, 20_000.0)))
    places = [beside(route, 10_000.0, offset_m, azimuth) for offset_m, azimuth in
              ((900.0, 270.0), (900.0, 90.0), (0.3, 90.0))]  # fmt: skip
    lon, lat = (np.concatenate([p[i] for p in places]) for i in range(2))
    passes = find_passes(route, lon, lat, reach_m=5_000.0)
    assert dict(zip(passes.place_ix.tolist(), passes.side.tolist(), strict=True)) == {
        0: -1,
        1: 1,
        2: 0,
    }


def test_a_place_straight_ahead_of_the_end_is_on_neither_side():
    route = route_of(ride(10.0, 47.0, (0.0, 20_000.0)))
    lon, lat = GEOD.fwd(*route.position_at(20_000.0), 0.0, 1_000.0)[:2]
    passes = find_passes(route, [lon], [lat], reach_m=5_000.0)
    assert passes.side.tolist() == [0]
    assert passes.chainage_m[0] == pytest.approx(20_000.0, abs=0.01)


def test_at_a_corner_the_side_is_judged_by_the_mean_direction():
    # A right-angle bend to the left: a place outside it lies to the right of both roads.
    route = route_of(ride(10.0, 47.0, (90.0, 10_000.0), (0.0, 10_000.0)))
    lon, lat = beside(route, 10_000.0, 1_000.0, 135.0)
    assert find_passes(route, lon, lat, reach_m=5_000.0).side.tolist() == [1]


def test_repeated_points_change_nothing():
    lon, lat = ride(10.0, 47.0, (70.0, 30_000.0))
    plain, doubled = route_of((lon, lat)), route_of((np.repeat(lon, 5), np.repeat(lat, 5)))
    x, y = beside(plain, 15_100.0, 1_000.0, 200.0)
    a, b = (find_passes(r, x, y, reach_m=5_000.0) for r in (plain, doubled))
    assert a.chainage_m == pytest.approx(b.chainage_m, abs=1e-6)
    assert a.side.tolist() == b.side.tolist()


def test_passes_are_sorted_by_chainage_and_cannot_be_changed():
    route = route_of(ride(10.0, 47.0, (90.0, 60_000.0)))
    lon, lat = route.positions_at(np.array([50_000.0, 10_000.0, 30_000.0, 10_000.0]))
    passes = find_passes(route, lon, lat, reach_m=5_000.0)
    assert passes.place_ix.tolist() == [1, 3, 2, 0]
    with pytest.raises(ValueError, match="read-only"):
        passes.offset_m[0] = 0.0


def test_no_places_have_no_passes():
    route = route_of(ride(10.0, 47.0, (90.0, 60_000.0)))
    passes = find_passes(route, [], [], reach_m=5_000.0)
    assert len(passes) == 0
    assert passes.place_ix.dtype == np.int64


@pytest.mark.parametrize(
    ("lon", "lat", "reach_m"),
    [(np.nan, 47.0, 5e3), (10.0, np.inf, 5e3), (10.0, 47.0, np.nan), (10.0, 47.0, -1.0)],
)
def test_numbers_that_mean_nothing_are_refused(lon, lat, reach_m):
    route = route_of(ride(10.0, 47.0, (90.0, 60_000.0)))
    with pytest.raises(ValueError, match=r"place|reach"):
        find_passes(route, [lon], [lat], reach_m=reach_m)
