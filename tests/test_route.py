from __future__ import annotations

import math

import numpy as np
import pytest

from resupply.common.errors import RouteError
from resupply.common.geodesy import geod, segment_lengths_m, to_ecef_m
from resupply.route.route import JOIN_M, Mark, make_route


def east_of(lon: float, lat: float, metres: float) -> float:
    return float(geod().fwd(lon, lat, 90.0, metres)[0])


def test_chainage_is_the_sum_of_geodesics():
    lon, lat = [10.0, 10.1, 10.3], [47.0, 47.2, 47.1]
    route = make_route([(lon, lat, None)])
    steps = [geod().inv(lon[i], lat[i], lon[i + 1], lat[i + 1])[2] for i in range(2)]
    assert route.chainage_m == pytest.approx([0.0, steps[0], sum(steps)], abs=1e-6)
    assert route.length_m == pytest.approx(sum(steps), abs=1e-6)


def test_a_loop_keeps_its_full_length():
    lon, lat = [10.0, 10.1, 10.1, 10.0, 10.0], [47.0, 47.0, 47.1, 47.1, 47.0]
    once = make_route([(lon, lat, None)])
    twice = make_route([(lon + lon[1:], lat + lat[1:], None)])
    assert twice.length_m == pytest.approx(2.0 * once.length_m, abs=1e-6)


def test_the_step_over_the_antimeridian_is_short():
    route = make_route([([179.9, -179.9], [-17.0, -17.0], None)])
    assert route.length_m == pytest.approx(segment_lengths_m([0.0, 0.2], [-17.0, -17.0])[0])


@pytest.mark.parametrize(("gap_m", "breaks"), [(0.0, 0), (JOIN_M - 1.0, 0), (JOIN_M + 1.0, 1)])
def test_a_gap_is_ridden_up_to_the_join_length_and_a_break_beyond(gap_m, breaks):
    start = east_of(10.01, 0.0, gap_m)
    route = make_route(
        [([10.0, 10.01], [0.0, 0.0], None), ([start, start + 0.01], [0.0, 0.0], None)]
    )
    assert len(route.breaks) == breaks
    ridden_m = 2.0 * segment_lengths_m([10.0, 10.01], [0.0, 0.0])[0]
    ridden_m += gap_m if not breaks else 0.0
    assert route.length_m == pytest.approx(ridden_m, abs=1e-6)


def test_a_break_tells_where_and_how_far_and_adds_no_chainage():
    route = make_route([([10.0, 10.1], [0.0, 0.0], None), ([11.0, 11.1], [0.0, 0.0], None)])
    (jump,) = route.breaks
    assert jump.index == 1
    assert jump.chainage_m == route.chainage_m[1] == route.chainage_m[2]
    assert jump.length_m == pytest.approx(segment_lengths_m([10.1, 11.0], [0.0, 0.0])[0])


def test_elevation_is_kept_and_unknown_where_a_part_has_none():
    route = make_route([([1.0, 1.1], [0.0] * 2, [5.0, 6.0]), ([1.1, 1.2], [0.0] * 2, None)])
    assert route.ele_m[:2].tolist() == [5.0, 6.0]
    assert np.isnan(route.ele_m[2:]).all()


def test_marks_names_and_warnings_are_carried():
    mark = Mark("Ford", 1.0, 2.0)
    route = make_route([([1.0, 1.1], [0.0] * 2, None)], name="a", marks=[mark], warnings=["w"])
    assert (route.name, route.marks, route.warnings) == ("a", (mark,), ("w",))


@pytest.mark.parametrize("parts", [[], [([1.0], [2.0], None)]])
def test_fewer_than_two_points_are_no_route(parts):
    with pytest.raises(RouteError, match="point"):
        make_route(parts)


def test_points_in_one_place_are_no_route():
    with pytest.raises(RouteError, match="no length"):
        make_route([([1.0, 1.0, 1.0], [2.0, 2.0, 2.0], None)])


def test_a_route_longer_than_twice_round_the_earth_is_none():
    lon = np.tile([0.0, 120.0, -120.0], 5)
    with pytest.raises(RouteError, match="which no one rides"):
        make_route([(lon, np.zeros(15), None)])


def test_arrays_cannot_be_changed_and_are_not_the_callers():
    lon = np.array([1.0, 1.1])
    route = make_route([(lon, np.zeros(2), None)])
    lon[0] = 9.0
    assert route.lon[0] == 1.0
    for array in (route.lon, route.lat, route.ele_m, route.chainage_m):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0.0


# -- positions --


def test_a_position_lies_on_the_geodesic_at_its_chainage():
    route = make_route([([10.0, 23.3, 24.0], [47.0, 47.0, 46.0], None)])
    at_m = np.linspace(0.0, route.length_m, 41)
    lon, lat = route.positions_at(at_m)
    bend_m = route.chainage_m[1]
    for x, y, s in zip(lon, lat, at_m, strict=True):
        i = 0 if s <= bend_m else 1
        from_start_m = geod().inv(route.lon[i], route.lat[i], x, y)[2]
        to_end_m = geod().inv(x, y, route.lon[i + 1], route.lat[i + 1])[2]
        assert from_start_m == pytest.approx(s - route.chainage_m[i], abs=1e-4)
        step_m = route.chainage_m[i + 1] - route.chainage_m[i]
        assert from_start_m + to_end_m == pytest.approx(step_m, abs=1e-4)


def test_positions_are_the_points_themselves_at_their_chainages():
    rng = np.random.default_rng(3)
    route = make_route([(rng.uniform(170.0, 180.0, 50), rng.uniform(60.0, 90.0, 50), None)])
    lon, lat = route.positions_at(route.chainage_m)
    assert lon.tolist() == route.lon.tolist()
    assert lat.tolist() == route.lat.tolist()


def test_positions_beyond_the_ends_are_the_ends():
    route = make_route([([10.0, 10.1], [47.0, 47.1], None)])
    assert route.position_at(-5.0) == (10.0, 47.0)
    assert route.position_at(1e9) == (10.1, 47.1)


def test_one_position_is_a_pair_of_plain_numbers():
    position = make_route([([10.0, 10.1], [47.0, 47.1], None)]).position_at(1_000.0)
    assert [type(x) for x in position] == [float, float]


def test_the_position_at_a_break_is_before_the_jump_and_just_after_it_beyond():
    route = make_route([([10.0, 10.1], [0.0, 0.0], None), ([11.0, 11.1], [0.0, 0.0], None)])
    at_m = route.breaks[0].chainage_m
    assert route.position_at(at_m) == (10.1, 0.0)
    assert route.position_at(at_m + 0.01)[0] == pytest.approx(11.0, abs=1e-6)


def test_repeated_points_have_positions():
    route = make_route([([10.0, 10.0, 10.1, 10.1], [0.0] * 4, None)])
    assert route.position_at(0.0) == (10.0, 0.0)
    assert route.position_at(route.length_m) == (10.1, 0.0)
    assert not any(math.isnan(x) for x in route.position_at(route.length_m / 2.0))


# -- earth-centred coordinates --


def test_earth_centred_coordinates_of_the_axes():
    a, b = 6_378_137.0, 6_356_752.314245
    points = to_ecef_m([0.0, 90.0, 180.0, 77.0, 0.0], [0.0, 0.0, 0.0, 90.0, -90.0])
    expected = [[a, 0, 0], [0, a, 0], [-a, 0, 0], [0, 0, b], [0, 0, -b]]
    np.testing.assert_allclose(points, expected, atol=1e-5)


def test_a_line_of_one_point_has_no_pieces():
    assert segment_lengths_m([1.0], [2.0]).tolist() == []
