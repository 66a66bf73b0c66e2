"""Real GPX files against gpxpy: every point, and the lengths it gives.

The files are recordings and exports of many programs: six in tests/data/gpx, more where they lie
beside the checkout in shared/data/gpx (sources and licences in the README of each folder).
gpxpy measures on a sphere of 6,378,137 m (gpxpy.geo.EARTH_RADIUS), and on a plane for short
steps, so its lengths differ from the geodesic by up to some 0.6 %.
"""

from __future__ import annotations

from itertools import pairwise

import gpxpy
import numpy as np
import pytest
from real_data import gpx_files

from resupply.common.errors import RouteError
from resupply.route.gpx import parse_gpx, read_gpx
from resupply.route.gpx_xml import read_content

FILES = gpx_files()


def rows(points) -> list[list[float]]:
    return [
        [p.longitude, p.latitude, np.nan if p.elevation is None else p.elevation] for p in points
    ]


def used_parts(document) -> list:
    """Points of the tracks' segments, or of the routes where there is no track to ride."""
    segments = [s.points for track in document.tracks for s in track.segments if s.points]
    if sum(map(len, segments)) >= 2:
        return segments
    return [route.points for route in document.routes if route.points]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
@pytest.mark.parametrize("size", [64, 1_000, 1 << 17])
def test_every_point_of_every_track_and_route_is_gpxpys(path, size):
    data = path.read_bytes()
    ours = read_content((data[i : i + size] for i in range(0, len(data), size)), path.name)
    theirs = gpxpy.parse(data.decode())
    segments = [s.points for track in theirs.tracks for s in track.segments if s.points]
    planned = [route.points for route in theirs.routes if route.points]
    for line, expected in ((ours.tracks, segments), (ours.routes, planned)):
        parts = [np.stack(part, axis=1).tolist() for part in line.parts()]
        np.testing.assert_equal(parts, [rows(points) for points in expected])
    marks = [(w.name or "", w.longitude, w.latitude) for w in theirs.waypoints]
    assert [(m.name, m.lon, m.lat) for m in ours.marks] == marks


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_length_is_gpxpys_within_its_sphere(path):
    document = gpxpy.parse(path.read_text())
    parts = used_parts(document)
    route = read_gpx(path)
    assert len(route.lon) == sum(map(len, parts))
    theirs_m = 0.0
    for points in parts:
        theirs_m += sum(a.distance_2d(b) or 0.0 for a, b in pairwise(points))
    # gpxpy leaves out the short gaps that are joined as ridden.
    gaps = np.cumsum([len(points) for points in parts])[:-1] - 1
    joined_m = float(np.diff(route.chainage_m)[gaps].sum())
    assert route.length_m - joined_m == pytest.approx(theirs_m, rel=0.006)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_cut_anywhere_a_file_is_one_clear_line(path):
    data = path.read_bytes()
    for share in (0.1, 0.35, 0.6, 0.9, 0.995):
        with pytest.raises(RouteError) as caught:
            parse_gpx(data[: int(share * len(data))], name="cut.gpx")
        assert "\n" not in str(caught.value)
        assert "ends in the middle" in str(caught.value)
