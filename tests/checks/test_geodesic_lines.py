"""Chainage and positions against published geodesics on WGS84.

- C. F. F. Karney, Test set for geodesics (2010), doi:10.5281/zenodo.32156, CC0: one line of it,
  as remembered (the text of the line was not fetched again); both implementations below agree
  with every digit used.
- Lines of the GeographicLib test suite (geodtest) and its documentation's example, as found in
  copies of the code.
- The package geographiclib, Karney's algorithms in plain Python, as a second implementation
  beside PROJ's, which the project uses.
"""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from resupply.common.geodesy import M_PER_DEGREE, margins_deg, segment_lengths_m
from resupply.route.route import make_route

# lat1, lon1, lat2, lon2, metres.
PUBLISHED = [
    (35.60777, -139.44815, -11.17491, -69.95921, 8935244.5604818305),
    (55.52454, 106.05087, 77.03196, 197.18234, 4105086.1713924406),
    (-21.97856, 142.59065, 41.84138, 98.56635, 8394328.894657671),
    (-41.32, 174.81, 40.96, -5.50, 19959679.26735382),
    (40.6, -73.8, 49.0 + 1.0 / 60.0, 2.55, 5853226.256),
]
# The line of the test set: lat1, lon1, azi1, lat2, lon2, metres.
TEST_SET = (
    36.530042355041,
    0.0,
    176.125875162171,
    -48.164270779097768864,
    5.762344694676510456,
    9398502.0434687,
)


def wrapped(lon: float) -> float:
    return (lon + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize(("lat1", "lon1", "lat2", "lon2", "metres"), PUBLISHED)
def test_chainage_is_the_published_length(lat1, lon1, lat2, lon2, metres):
    route = make_route([([wrapped(lon1), wrapped(lon2)], [lat1, lat2], None)])
    assert route.length_m == pytest.approx(metres, abs=1e-3)


def test_chainage_and_position_follow_the_line_of_the_test_set():
    lat1, lon1, azimuth, lat2, lon2, metres = TEST_SET
    route = make_route([([lon1, lon2], [lat1, lat2], None)])
    assert route.length_m == pytest.approx(metres, abs=1e-6)
    line = Geodesic.WGS84.Line(lat1, lon1, azimuth)
    at_m = np.linspace(0.0, metres, 25)
    lon, lat = route.positions_at(at_m)
    for x, y, s in zip(lon, lat, at_m, strict=True):
        true = line.Position(s)
        assert Geodesic.WGS84.Inverse(y, x, true["lat2"], true["lon2"])["s12"] < 1e-4


def test_both_implementations_agree_on_lines_all_over_the_earth():
    rng = np.random.default_rng(20_100)
    lon, lat = rng.uniform(-180.0, 180.0, 300), np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, 300)))
    theirs = [
        Geodesic.WGS84.Inverse(lat[i], lon[i], lat[i + 1], lon[i + 1])["s12"] for i in range(299)
    ]
    np.testing.assert_allclose(segment_lengths_m(lon, lat), theirs, rtol=0.0, atol=1e-6)


@pytest.mark.parametrize("scale", [1e-6, 1e-4, 1e-2])
def test_both_implementations_agree_on_short_steps(scale):
    rng = np.random.default_rng(7)
    lon = np.clip(np.cumsum(rng.normal(0.0, scale, 200)) + 179.9, -180.0, 180.0)
    lat = np.cumsum(rng.normal(0.0, scale, 200)) + 65.0
    theirs = [
        Geodesic.WGS84.Inverse(lat[i], lon[i], lat[i + 1], lon[i + 1])["s12"] for i in range(199)
    ]
    route = make_route([(lon, lat, None)])
    np.testing.assert_allclose(np.diff(route.chainage_m), theirs, rtol=0.0, atol=1e-6)


@pytest.mark.parametrize(
    ("lat", "north_m", "east_m"),
    [
        (0.0, 110574.304, 111319.491),
        (30.0, 110852.457, 96485.974),
        (40.0, 111034.638, 85393.409),
        (45.0, 111131.778, 78846.335),
        (60.0, 111412.273, 55799.470),
    ],
)
def test_a_degree_is_as_long_as_the_second_implementation_says(lat, north_m, east_m):
    north = make_route([([10.0, 10.0], [lat - 0.5, lat + 0.5], None)]).length_m
    east = make_route([([10.0, 11.0], [lat, lat], None)]).length_m
    assert north == pytest.approx(north_m, abs=6e-4)
    assert east == pytest.approx(east_m, abs=6e-4)
    inverse = Geodesic.WGS84.Inverse
    assert north == pytest.approx(inverse(lat - 0.5, 10.0, lat + 0.5, 10.0)["s12"], abs=1e-6)
    assert east == pytest.approx(inverse(lat, 10.0, lat, 11.0)["s12"], abs=1e-6)


@pytest.mark.parametrize("lat", [0.0, 1.0, -46.5, 60.0, -80.0, 89.3])
@pytest.mark.parametrize("margin_m", [500.0, 5_000.0])
def test_a_box_around_a_point_leaves_out_nothing_within_its_margin(lat, margin_m):
    box_lat, (box_lon,) = margins_deg([lat], margin_m)
    for bearing in range(0, 360, 5):
        there = Geodesic.WGS84.Direct(lat, 0.0, bearing, margin_m)
        assert abs(there["lat2"] - lat) <= box_lat
        assert abs(wrapped(there["lon2"])) <= box_lon


def test_a_degree_is_on_average_a_ninetieth_of_the_way_from_equator_to_pole():
    quarter_m = Geodesic.WGS84.Inverse(0.0, 0.0, 90.0, 0.0)["s12"]
    assert pytest.approx(quarter_m / 90.0, rel=1e-3) == M_PER_DEGREE
