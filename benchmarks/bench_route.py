"""Reading long tracks and matching places to them, against what one would use instead.

Run with `pytest benchmarks/bench_route.py -o addopts= -s`; about two minutes. The table at the
end compares each stage with its baseline measured in the same run; the lines printed on the
way give memory (of a fresh process), errors and how cost grows.
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import gpxpy
import numpy as np
import pyproj
import pytest
from scipy.spatial import cKDTree

from resupply.common.geodesy import geod, to_ecef_m
from resupply.passes.find import find_passes
from resupply.route.gpx import read_gpx
from resupply.route.route import Route, make_route

if TYPE_CHECKING:
    from pathlib import Path

POINTS = 200_000
PLACES = 200_000
REACH_M = 5_000.0


def wandering(points: int, step_m: float = 17.0) -> tuple[np.ndarray, np.ndarray]:
    """A road that wanders south over Europe, some 3,400 km at 200,000 points."""
    rng = np.random.default_rng(1)
    azimuth = 0.2 * np.cumsum(rng.normal(0.0, 0.05, points)) + 1.0
    lat = 40.0 + np.cumsum(np.cos(azimuth)) * step_m / 111e3
    return 5.0 + np.cumsum(np.sin(azimuth)) * step_m / 85e3, lat


def write_track(path: Path, points: int, extra: str = "") -> Path:
    lon, lat = wandering(points)
    with path.open("w") as out:
        out.write('<?xml version="1.0"?>\n<gpx version="1.1" ')
        out.write('xmlns="http://www.topografix.com/GPX/1/1" xmlns:e="urn:e">\n<trk><trkseg>\n')
        for i in range(points):
            stamp = f"2027-07-09T{i // 3600 % 24:02d}:{i // 60 % 60:02d}:{i % 60:02d}Z"
            out.write(
                f'<trkpt lat="{lat[i]:.7f}" lon="{lon[i]:.7f}">\n  <ele>{500 + i % 300:.2f}</ele>\n'
                f"  <time>{stamp}</time>\n{extra}</trkpt>\n"
            )
        out.write("</trkseg></trk></gpx>\n")
    return path


def places_around(route: Route, count: int, spread_deg: float) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(2)
    at = rng.integers(0, len(route.lon), count)
    return (
        route.lon[at] + rng.uniform(-spread_deg, spread_deg, count),
        route.lat[at] + rng.uniform(-spread_deg, spread_deg, count) * 0.75,
    )


@pytest.fixture(scope="module")
def route() -> Route:
    lon, lat = wandering(POINTS)
    return make_route([(lon, lat, None)])


@pytest.fixture(scope="module")
def track(tmp_path_factory) -> Path:
    return write_track(tmp_path_factory.mktemp("gpx") / "long.gpx", POINTS)


@pytest.fixture(scope="module")
def seconds():
    """Best times by name; printed as ratios when the module is done."""
    times: dict[str, float] = {}
    yield times
    pairs = (
        ("resupply read_gpx", "gpxpy parse alone"),
        ("resupply read_gpx, extensions", "gpxpy parse alone, extensions"),
        ("resupply find_passes", "k-d tree, nearest vertex"),
        ("resupply find_passes", "k-d tree, nearest vertex within reach"),
        ("resupply find_passes, a place", "brute force, a place"),
    )
    for own, baseline in pairs:
        if own in times and baseline in times:
            ratio = times[baseline] / times[own]
            print(f"\n{own}: {times[own]:.3g} s; {baseline}: {times[baseline]:.3g} s; {ratio:.1f}x")


def best_of(benchmark, seconds, name, rounds, function, *args):
    result = benchmark.pedantic(
        function, args=args, rounds=rounds, warmup_rounds=min(rounds - 1, 1)
    )
    seconds[name] = benchmark.stats.stats.min
    return result


# -- reading --


@pytest.mark.benchmark(group="read 200,000 track points")
def test_read_gpxpy(benchmark, seconds, track):
    with track.open() as stream:
        text = stream.read()
    document = best_of(benchmark, seconds, "gpxpy parse alone", 1, gpxpy.parse, text)
    points = document.tracks[0].segments[0].points
    own = read_gpx(track)
    assert own.lon.tolist() == [p.longitude for p in points]
    assert own.lat.tolist() == [p.latitude for p in points]
    assert own.ele_m.tolist() == [p.elevation for p in points]


@pytest.mark.benchmark(group="read 200,000 track points")
def test_read(benchmark, seconds, track):
    best_of(benchmark, seconds, "resupply read_gpx", 5, read_gpx, track)


EXTENSIONS = (
    "  <extensions><e:TrackPointExtension><e:hr>90</e:hr><e:atemp>21</e:atemp>"
    "</e:TrackPointExtension></extensions>\n"
)


@pytest.mark.benchmark(group="read 50,000 track points with extensions")
def test_read_extensions_gpxpy(benchmark, seconds, tmp_path):
    text = write_track(tmp_path / "x.gpx", 50_000, EXTENSIONS).read_text()
    best_of(benchmark, seconds, "gpxpy parse alone, extensions", 1, gpxpy.parse, text)


@pytest.mark.benchmark(group="read 50,000 track points with extensions")
def test_read_extensions(benchmark, seconds, tmp_path):
    path = write_track(tmp_path / "x.gpx", 50_000, EXTENSIONS)
    best_of(benchmark, seconds, "resupply read_gpx, extensions", 3, read_gpx, path)


def test_memory_of_a_fresh_process(track):
    # VmHWM is the peak since this program started; ru_maxrss would count its parent too.
    code = (
        "import sys; from pathlib import Path\n{}\n"
        "lines = Path('/proc/self/status').read_text().splitlines()\n"
        "print(next(int(x.split()[1]) // 1024 for x in lines if x.startswith('VmHWM')))"
    )
    readers = {
        "resupply read_gpx": "from resupply.route.gpx import read_gpx; read_gpx(Path(sys.argv[1]))",
        "gpxpy parse alone": "import gpxpy; gpxpy.parse(Path(sys.argv[1]).read_text())",
        "nothing (numpy, pyproj imported)": "import numpy, pyproj; pyproj.Geod(ellps='WGS84')",
    }
    for name, body in readers.items():
        command = [sys.executable, "-c", code.format(body), str(track)]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        print(f"\npeak memory, {name}: {done.stdout.strip()} MB")


# -- matching --


def nearest_vertex(route: Route, lon, lat, within_m: float = np.inf):
    tree = cKDTree(to_ecef_m(route.lon, route.lat))
    return tree.query(to_ecef_m(lon, lat), distance_upper_bound=within_m)


@pytest.mark.benchmark(group="match 200,000 places to 200,000 points, 5 km")
def test_match_tree(benchmark, seconds, route):
    places = places_around(route, PLACES, 0.08)
    best_of(benchmark, seconds, "k-d tree, nearest vertex", 3, nearest_vertex, route, *places)


@pytest.mark.benchmark(group="match 200,000 places to 200,000 points, 5 km")
def test_match_tree_within_reach(benchmark, seconds, route):
    places = places_around(route, PLACES, 0.08)
    name = "k-d tree, nearest vertex within reach"
    best_of(benchmark, seconds, name, 3, nearest_vertex, route, *places, REACH_M)


def match(route, lon, lat):
    return find_passes(route, lon, lat, reach_m=REACH_M)


@pytest.mark.benchmark(group="match 200,000 places to 200,000 points, 5 km")
def test_match(benchmark, seconds, route):
    places = places_around(route, PLACES, 0.08)
    passes = best_of(benchmark, seconds, "resupply find_passes", 5, match, route, *places)
    seconds["resupply find_passes, a place"] = seconds["resupply find_passes"] / PLACES
    vertex_m, _ = nearest_vertex(route, *places)
    own_m = np.full(PLACES, np.inf)
    np.minimum.at(own_m, passes.place_ix, passes.offset_m)
    reached = vertex_m <= REACH_M
    assert np.isfinite(own_m[reached]).all()
    excess_m = vertex_m[reached] - own_m[reached]
    print(f"\n{len(passes):,} passes; the nearest vertex is up to {excess_m.max():.1f} m too far")


@pytest.mark.benchmark(group="match one place by brute force")
def test_match_brute_force(benchmark, seconds, route):
    lon, lat = places_around(route, 8, 0.04)

    def every_segment_end():
        n = len(route.lon)
        return [
            geod().inv(np.full(n, x), np.full(n, y), route.lon, route.lat)[2].min()
            for x, y in zip(lon, lat, strict=True)
        ]

    best_of(benchmark, seconds, "brute force, a place", 1, every_segment_end)
    seconds["brute force, a place"] /= len(lon)


def test_errors_against_the_geodesic(route):
    """Offset and chainage of 2,000 passes against a search on the geodesic itself."""
    lon, lat = places_around(route, PLACES, 0.06)
    passes = match(route, lon, lat)
    rows = np.random.default_rng(3).choice(len(passes), 2_000, replace=False)
    place, own_m = passes.place_ix[rows], passes.chainage_m[rows]
    geodesic = pyproj.Geod(ellps="WGS84")

    def away_m(at_m):
        x, y = route.positions_at(at_m)
        return geodesic.inv(x, y, lon[place], lat[place])[2]

    # Golden section: the distance has one minimum within some metres of the one found.
    low, high = own_m - 15.0, own_m + 15.0
    ratio = (math.sqrt(5.0) - 1.0) / 2.0
    for _ in range(40):
        a, b = high - ratio * (high - low), low + ratio * (high - low)
        left = away_m(a) < away_m(b)
        low, high = np.where(left, low, a), np.where(left, b, high)
    true_m = np.clip((low + high) / 2.0, 0.0, route.length_m)
    chainage_off = np.abs(true_m - own_m)
    # Where the search stopped at another bend the distances tell which is nearer.
    better = away_m(true_m) < passes.offset_m[rows] - 0.01
    offset_off = np.abs(away_m(own_m) - passes.offset_m[rows])
    print(
        f"\noffset: at most {offset_off.max() * 1000.0:.2f} mm off; chainage: 50/99 % within "
        f"{np.percentile(chainage_off, 50):.3f} / {np.percentile(chainage_off, 99):.3f} m; "
        f"{better.sum()} of {len(rows)} passes could be nearer within 15 m"
    )
    assert better.sum() == 0
    assert offset_off.max() < 0.05


@pytest.mark.parametrize("what", ["read", "match"])
def test_cost_grows_linearly(what, tmp_path):
    sizes, times = [12_500, 50_000, 200_000], []
    for size in sizes:
        lon, lat = wandering(size)
        route = make_route([(lon, lat, None)])
        if what == "read":
            path = write_track(tmp_path / "t.gpx", size)
            job = lambda path=path: read_gpx(path)  # noqa: E731
        else:
            places = places_around(route, size, 0.08)
            job = lambda route=route, places=places: match(route, *places)  # noqa: E731
        best = math.inf
        for _ in range(5):
            start = time.perf_counter()
            job()
            best = min(best, time.perf_counter() - start)
        times.append(best)
    exponent = np.polyfit(np.log(sizes), np.log(times), 1)[0]
    listed = ", ".join(f"{t:.3f}" for t in times)
    print(f"\n{what} 1x, 4x, 16x: {listed} s; exponent {exponent:.2f}")
