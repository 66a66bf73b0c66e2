from __future__ import annotations

import numpy as np
import pytest

from resupply.common.geodesy import geod, segment_lengths_m
from resupply.route.route import Route, make_route
from resupply.route.simplify import simplify
from tests.line_truth import distances_m, sample


def winding(start=(10.0, 47.0), points: int = 1_500, step_m: float = 40.0, seed: int = 5) -> Route:
    rng = np.random.default_rng(seed)
    azimuth = np.cumsum(rng.normal(0.0, 6.0, points)) + 70.0
    lon, lat = [start[0]], [start[1]]
    for a in azimuth:
        x, y, _ = geod().fwd(lon[-1], lat[-1], a, step_m)
        lon.append(x)
        lat.append(y)
    return make_route([(lon, lat, None)])


def farthest_m(route: Route, line) -> float:
    """How far the route's points stray from the drawn line, by sampled geodesics."""
    starts = np.flatnonzero(np.diff(line.part, prepend=-1))
    ends = [*starts[1:], len(line.part)]
    lon = (line.lon + 180.0) % 360.0 - 180.0
    drawn = make_route([(lon[a:b], line.lat[a:b], None) for a, b in zip(starts, ends, strict=True)])
    samples = sample(drawn, 2.0)
    rows = range(0, len(route.lon), len(route.lon) // 13)
    return max(float(distances_m(samples, route.lon[i], route.lat[i]).min()) for i in rows)


@pytest.mark.parametrize("tolerance_m", [5.0, 50.0])
@pytest.mark.parametrize("start", [(10.0, 47.0), (179.9, -17.0), (40.0, 89.98)])
def test_the_drawn_line_stays_within_the_tolerance(start, tolerance_m):
    route = winding(start)
    line = simplify(route, tolerance_m)
    assert len(line.lon) < len(route.lon)
    assert farthest_m(route, line) < tolerance_m + 0.2


def test_a_smaller_tolerance_keeps_more_points():
    route = winding()
    counts = [len(simplify(route, t).lon) for t in (1.0, 10.0, 100.0, 1_000.0)]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > 4 * counts[-1]


def test_points_of_a_straight_road_are_dropped():
    lon = np.linspace(10.0, 10.1, 900)
    assert len(simplify(make_route([(lon, np.zeros(900), None)]), 20.0).lon) == 2


def test_ends_chainage_and_parts_are_kept():
    lon = np.linspace(10.0, 10.02, 20)
    route = make_route([(lon, np.zeros(20), None), (lon + 1.0, np.ones(20), None)])
    line = simplify(route, 10.0)
    assert line.part.tolist() == [0, 0, 1, 1]
    assert line.lon.tolist() == pytest.approx([10.0, 10.02, 11.0, 11.02])
    at_break = route.breaks[0].chainage_m
    assert line.chainage_m.tolist() == [0.0, at_break, at_break, route.length_m]


def test_longitude_runs_on_over_the_antimeridian():
    route = winding((179.95, -17.0))
    assert route.lon.min() < -179.0
    line = simplify(route, 20.0)
    assert np.abs(np.diff(line.lon)).max() < 1.0
    assert line.lon.max() > 180.0
    assert (line.part == 0).all()


def test_a_long_straight_piece_bends_with_its_geodesic():
    route = make_route([([10.0, 23.3], [47.0, 47.0], None)])
    line = simplify(route, 50.0)
    assert line.lat.max() > 47.1
    assert segment_lengths_m(line.lon, line.lat).sum() == pytest.approx(route.length_m, abs=1e-3)
    # Drawn straight in degrees, no piece leaves its geodesic by more than the tolerance.
    middle_lon = (line.lon[1:] + line.lon[:-1]) / 2.0
    middle_lat = (line.lat[1:] + line.lat[:-1]) / 2.0
    lon, lat = route.positions_at((line.chainage_m[1:] + line.chainage_m[:-1]) / 2.0)
    assert geod().inv(middle_lon, middle_lat, lon, lat)[2].max() < 50.0


def test_a_line_wound_without_end_is_done_soon():
    turns = np.linspace(0.0, 2_000.0, 60_000)
    lon = 10.0 + 1e-5 * turns * np.cos(turns)
    lat = 1e-5 * turns * np.sin(turns)
    route = make_route([(lon, lat, None)])
    assert 1_000 < len(simplify(route, 2.0).lon) < 60_000
