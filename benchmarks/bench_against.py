"""Each stage against what one would use instead, in one run; prints the table of the docs.

Run: `python benchmarks/bench_against.py`; about two minutes. Needs the real extracts beside the
checkout and osmium-tool for the stages that read maps; they are left out otherwise.
"""

from __future__ import annotations

import gc
import shutil
import subprocess
import sys
import tempfile
import time
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

sys.path[:0] = [
    str(Path(__file__).parents[1] / "tests"),
    str(Path(__file__).parents[1] / "tests/checks"),
]

from bench_index import DATA
from bench_route import wandering, write_track
from test_visits_by_milp import by_milp
from visit_problems import random_problem

from resupply.common.geodesy import to_ecef_m
from resupply.passes.find import find_passes
from resupply.places.extract import places_from_extract
from resupply.places.index import build_index, places_from_index
from resupply.route.gpx import read_gpx
from resupply.route.route import make_route
from resupply.supply.visit_solver import solve

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

REACH_M = 5_000.0
Row = tuple[str, str, float, str]


def timed(job: Callable[[], object], rounds: int = 3) -> tuple[float, object]:
    """Least time (s) of some rounds, and the result."""
    best, result = np.inf, None
    for _ in range(rounds):
        gc.collect()
        start = time.perf_counter()
        result = job()
        best = min(best, time.perf_counter() - start)
    return float(best), result


def read_track(folder: Path) -> Iterator[Row]:
    """Read a recorded track of 100,000 points."""
    import gpxpy

    path = write_track(folder / "track.gpx", 100_000)
    own, route = timed(lambda: read_gpx(path))
    text = path.read_text()
    other, document = timed(lambda: gpxpy.parse(text), rounds=1)
    points = document.tracks[0].segments[0].points
    same = route.lon.tolist() == [point.longitude for point in points]
    stage = "read a track of 100,000 points"
    yield stage, "resupply `read_gpx`, chainage included", own, ""
    yield stage, "gpxpy `parse` alone", other, "same points" if same else "OTHER POINTS"


def match_places(_: Path) -> Iterator[Row]:
    """Find the places within 5 km of a road of 340 km, and where it passes them."""
    import geopandas
    import shapely

    lon, lat = wandering(20_000)
    route = make_route([(lon, lat, None)])
    dice = np.random.default_rng(2)
    at = dice.integers(0, len(lon), 20_000)
    x = lon[at] + dice.uniform(-0.08, 0.08, len(at))
    y = lat[at] + dice.uniform(-0.06, 0.06, len(at))
    own, passes = timed(lambda: find_passes(route, x, y, reach_m=REACH_M))
    first = np.full(len(x), np.inf)
    np.minimum.at(first, passes.place_ix, passes.offset_m)

    line_m, spot_m = to_ecef_m(lon, lat), to_ecef_m(x[:500], y[:500])

    def brute() -> np.ndarray:
        start, step = line_m[:-1], np.diff(line_m, axis=0)
        length = np.einsum("ij,ij->i", step, step)
        nearest = []
        for spot in spot_m:
            share = np.clip(np.einsum("ij,ij->i", spot - start, step) / length, 0.0, 1.0)
            away = spot - start - share[:, None] * step
            nearest.append(np.sqrt(np.einsum("ij,ij->i", away, away).min()))
        return np.array(nearest)

    def joined() -> geopandas.GeoDataFrame:
        line = geopandas.GeoSeries([shapely.LineString(np.column_stack([lon, lat]))], crs=4326)
        places = geopandas.GeoDataFrame(geometry=geopandas.points_from_xy(x, y), crs=4326)
        zone = line.estimate_utm_crs()
        line_xy, places_xy = line.to_crs(zone), places.to_crs(zone)
        area = geopandas.GeoDataFrame(geometry=line_xy.buffer(REACH_M))
        near = geopandas.sjoin(places_xy, area, predicate="within")
        near["chainage_m"] = line_xy.iloc[0].project(near.geometry.array)
        return near

    brute_s, nearest_m = timed(brute, rounds=1)
    joined_s, near = timed(joined, rounds=1)
    by_place = np.full(len(x), np.nan)
    by_place[passes.place_ix[::-1]] = passes.chainage_m[::-1]
    one_pass = np.bincount(passes.place_ix, minlength=len(x)) == 1
    rows = near.index.to_numpy()
    rows = rows[one_pass[rows]]
    off_m = np.abs(near.loc[rows, "chainage_m"].to_numpy() - by_place[rows])
    reached = nearest_m <= REACH_M - 1.0
    worst_m = np.abs(first[:500][reached] - nearest_m[reached]).max()
    stage = "match 20,000 places to a road of 340 km, 20,000 points"
    yield stage, "resupply `find_passes`, all passes", own, ""
    yield (
        stage, "brute force, every segment (numpy; scaled up from 500 places)",
        brute_s * len(x) / len(spot_m), f"one pass only; offsets within {worst_m:.2f} m of ours",
    )  # fmt: skip
    yield (
        stage, "geopandas `buffer` + `sjoin` + `project` in one UTM zone", joined_s,
        f"one pass only; chainage off by up to {off_m.max():,.0f} m",
    )  # fmt: skip


def read_map(folder: Path) -> Iterator[Row]:
    """Find the places along a road in an extract."""
    import osmnx

    small = DATA / "dreieich-2022-10.osm.pbf"
    route = make_route([([8.69, 8.73], [49.99, 50.01], None)])
    xml = folder / "small.osm"
    subprocess.run(["osmium", "cat", str(small), "-o", str(xml)], check=True, capture_output=True)
    own, found = timed(lambda: places_from_extract([small], route, reach_m=10_000.0))
    tags = {"shop": True, "amenity": True, "tourism": True}
    other, _ = timed(lambda: osmnx.features_from_xml(xml, tags=tags), rounds=1)
    index = folder / "small.places"
    build_index([small], index)
    indexed, same = timed(lambda: places_from_index(index, route, reach_m=10_000.0))
    stage = "places of a town (25,000 nodes)"
    yield stage, "resupply `places_from_extract`", own, ""
    note = "same places" if same.places == found.places else "OTHER PLACES"
    yield stage, "resupply `places_from_index`", indexed, note
    yield stage, "`osmnx.features_from_xml`", other, "without classes, merging or coverage"


def read_country(folder: Path) -> Iterator[Row]:
    """Find the places along a road in an extract of a country."""
    country = DATA / "andorra-2025-01.osm.pbf"
    route = make_route([(np.linspace(1.45, 1.75, 300), np.linspace(42.45, 42.6, 300), None)])
    own, found = timed(lambda: places_from_extract([country], route, reach_m=5_000.0))
    index = folder / "country.places"
    made, _ = timed(lambda: (shutil.rmtree(index, True), build_index([country], index)))
    indexed, same = timed(lambda: places_from_index(index, route, reach_m=5_000.0))
    tags = ["nwr/shop", "nwr/amenity", "nwr/tourism", "nwr/drinking_water", "nwr/vending"]
    command = ["osmium", "tags-filter", str(country), *tags, "-O", "-o", f"{folder}/f.osm.pbf"]
    run = {"check": True, "capture_output": True}
    filtered, _ = timed(lambda: subprocess.run(command, **run))
    decoded, _ = timed(lambda: subprocess.run(["osmium", "fileinfo", "-e", str(country)], **run))
    stage = "places along a road in a country (471,000 nodes)"
    yield stage, "resupply `places_from_extract`", own, ""
    note = "same places" if same.places == found.places else "OTHER PLACES"
    yield stage, "resupply `places_from_index`", indexed, note
    yield stage, "resupply `gather`, once: the whole country into an index", made, ""
    yield stage, "`osmium tags-filter`, with references", filtered, "a file, not yet places"
    yield stage, "`osmium fileinfo -e`", decoded, "decoding alone"


def choose_stops(_: Path) -> Iterator[Row]:
    """Choose among 30 visits."""
    problem = random_problem(1001, visits=30, days=5, steps=8)
    own, found = timed(lambda: solve(problem))
    other, told = timed(lambda: by_milp(problem), rounds=1)
    cost = found.cost
    same = (cost.worst_excess, cost.excess) == told[:2]
    same = same and abs(cost.milli_min / 1000 - told[2]) < 0.05
    stage = "choose among 30 visits of 5 days, with a clock"
    yield stage, "resupply `solve`", own, ""
    yield stage, "HiGHS, a flow through (visit, time lost)", other, "same" if same else "OTHER"


def main() -> None:
    """Measure every stage and print one table."""
    warnings.simplefilter("ignore")
    stages = [read_track, match_places, choose_stops]
    if DATA.is_dir() and shutil.which("osmium"):
        stages[2:2] = [read_map, read_country]
    print("| stage | with | s | to ours | result |\n| --- | --- | --- | --- | --- |")
    for stage in stages:
        with tempfile.TemporaryDirectory() as scratch:
            rows = list(stage(Path(scratch)))
        for what, program, seconds, note in rows:
            ratio = seconds / rows[0][2]
            print(f"| {what} | {program} | {seconds:.3g} | {ratio:.3g}x | {note} |", flush=True)


if __name__ == "__main__":
    main()
