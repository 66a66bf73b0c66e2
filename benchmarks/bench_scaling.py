"""How the cost of each stage grows with route points and with places: 1x, 4x, 16x.

Run: `python benchmarks/bench_scaling.py`; about two minutes. Prints a table with time, memory
taken while working, and the exponent fitted to each (1.0 is linear).
"""

from __future__ import annotations

import gc
import json
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench_index import write_route
from bench_route import match, places_around, wandering, write_track
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.common.progress import silent
from resupply.places.index import places_from_index
from resupply.places.index_build import PartFiles
from resupply.places.index_parts import CONTENTS, Part, contents_text, rules_mark
from resupply.plan.pipeline import plan_trip
from resupply.report.document.document import plan_document
from resupply.report.document.model.as_json import to_json
from resupply.route.gpx import read_gpx
from resupply.route.route import make_route

GROWTH = (1, 4, 16)
Job = Callable[[], object]


def measured(job: Job, rounds: int) -> tuple[float, float]:
    """Least time (s) of some rounds, and the most memory (MB) taken in one more."""
    best = np.inf
    for _ in range(rounds):
        gc.collect()
        start = time.perf_counter()
        job()
        best = min(best, time.perf_counter() - start)
    gc.collect()
    tracemalloc.start()
    job()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return float(best), peak


def reading(points: int, folder: Path) -> Job:
    path = write_track(folder / f"{points}.gpx", points)
    return lambda: read_gpx(path)


def matching(points: int, places: int) -> Job:
    route = make_route([(*wandering(points), None)])
    # The same road with more points on it, so that the corridor does not grow with them.
    lon, lat = places_around(make_route([(*wandering(12_500), None)]), places, 0.08)
    return lambda: match(route, lon, lat)


def dense(points: int, places: int) -> Job:
    """Match a fixed road recorded with more and more points."""
    lon, lat = wandering(12_500)
    at = np.linspace(0.0, len(lon) - 1.0, points)
    row = np.arange(len(lon))
    route = make_route([(np.interp(at, row, lon), np.interp(at, row, lat), None)])
    spots = places_around(make_route([(lon, lat, None)]), places, 0.08)
    return lambda: match(route, *spots)


def indexed(places: int, folder: Path) -> Job:
    """Read the corridor of one road from an index of more and more places around it."""
    import shapely

    from resupply.common.files import write_atomic

    index = folder / f"{places}.places"
    part_folder = index / "part-made"
    part_folder.mkdir(parents=True)
    part = PartFiles(part_folder, silent, "made")
    spots = np.random.default_rng(1).uniform((-9.0, 38.0), (30.0, 68.0), (places, 2))
    tags = json.dumps({"brand": "None"})
    for number, (lon, lat) in enumerate(spots.tolist()):
        row = (
            f"node/{number}",
            lon,
            lat,
            "Shop",
            "shop=bakery",
            "small_groceries:stated",
            "",
            tags,
        )
        part.places.rows.add(row, shapely.Point(lon, lat))
    part.cover.grid.take(spots[:2], np.zeros(2, dtype=np.int64))
    part.finish(cover_least=1)
    made = Part("part-made", "a.osm.pbf", 0, 0, rules_mark(), None, None, None, False, places, 0, 0)
    write_atomic(index / CONTENTS, contents_text((made,)))
    write_route(folder / "route.gpx", points=4_000)
    route = read_gpx(folder / "route.gpx")
    return lambda: places_from_index(index, route, reach_m=10_000.0)


def planning(shops: int) -> Job:
    """Plan a road of 4 km for each shop, its document and JSON included."""
    trip = trip_of(pace={"daily_km": 300.0}, show={"sweep": True})
    route = winding_route(shops * 4.0, points=shops * 20)
    km = np.sort(np.random.default_rng(1).uniform(0, route.length_m / 1000, shops))
    hours = ("Mo-Sa 08:00-19:00", None, "Mo-Fr 08:00-12:30,15:00-19:00; Sa 08:00-13:00", "24/7")
    world = prepared_world(route, shops_along(route, km, hours=hours), trip)
    return lambda: to_json(plan_document(plan_trip(world, trip)))


def main() -> None:
    """Measure every stage and print the table."""
    print("| stage | grows with | 1x, 4x, 16x | s | exponent | MB | exponent |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        stages: tuple[tuple[str, str, int, Callable[[int], Job]], ...] = (
            ("read a GPX track", "track points", 12_500, lambda n: reading(n, folder)),
            ("find passes of 50,000 places", "points on the same road", 12_500,
             lambda n: dense(n, 50_000)),
            ("find passes, road of 50,000 points", "places", 12_500, lambda n: matching(50_000, n)),
            ("read a corridor of 4,000 km from an index", "places in the index", 25_000,
             lambda n: indexed(n, folder)),
            ("plan, sweep 40 distances, write JSON", "shops and km of road", 60, planning),
        )  # fmt: skip
        for name, what, base, make in stages:
            sizes = [base * growth for growth in GROWTH]
            rows = [measured(make(size), 3 if size < 150_000 else 2) for size in sizes]
            seconds, megabytes = (np.array(column) for column in zip(*rows, strict=True))
            power = [
                np.polyfit(np.log(sizes), np.log(column), 1)[0] for column in (seconds, megabytes)
            ]
            print(
                f"| {name} | {what} | {', '.join(f'{size:,}' for size in sizes)} | "
                f"{', '.join(f'{one:.3f}' for one in seconds)} | {power[0]:.2f} | "
                f"{', '.join(f'{one:.1f}' for one in megabytes)} | {power[1]:.2f} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
