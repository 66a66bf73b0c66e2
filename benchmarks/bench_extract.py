"""Planning from a large extract and gathering it, against decoding: CPU time and memory.

Run: `python benchmarks/bench_extract.py` (needs osmium-tool; 60 copies of a country side by side,
28 million nodes). `--copies 4` takes four, `--spread` gives the nodes numbers as the whole map has
them. Each row is a process of its own, from its start. `--keep FOLDER` keeps the file and the
index, so that the parts can be run one at a time: `--only make`, `gather`, `one` (a route in one
copy) and `many` (through eight).
"""

from __future__ import annotations

import argparse
import compileall
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from bench_index import ROOT, timed, write_track

READ = """
import sys
from pathlib import Path
from resupply.places.read import read_corridor
from resupply.roads.sources import RoadCollector
from resupply.route.read import read_route
from resupply.trip.settings import MapKeys
class Roads(RoadCollector):
    ways = 0
    def see(self, feature):
        # Whatever a reader wants is shown to all of them.
        self.ways += feature.id.startswith("way/")
        super().see(feature)
route = read_route(Path(sys.argv[1]))
roads = Roads(route)
places, _ = read_corridor([Path(sys.argv[2])], route, MapKeys(), None, roads)
graph = roads.graph("extract")
print(f"{route.length_m / 1000:.0f} km, {len(places.places)} places, {len(graph):,} road nodes, "
      f"{roads.ways} ways near the route")
"""


def main() -> None:
    """Measure a route in one copy, and one through up to eight of them."""
    asks = argparse.ArgumentParser()
    asks.add_argument("--copies", type=int, default=60)
    asks.add_argument("--spread", action="store_true")
    asks.add_argument("--keep", type=Path)
    asks.add_argument("--only", choices=("make", "gather", "one", "many"))
    asked = asks.parse_args()
    # An installed program is compiled.
    compileall.compile_dir(str(ROOT / "resupply"), quiet=1)
    with tempfile.TemporaryDirectory() as folder:
        scratch = asked.keep or Path(folder)
        scratch.mkdir(parents=True, exist_ok=True)
        extract = scratch / f"copies-{asked.copies}{'-spread' * asked.spread}.osm.pbf"
        if not extract.exists():
            write_copies_apart(extract, asked.copies, spread=asked.spread)
        print(f"{asked.copies} copies, {extract.stat().st_size / 1e6:.0f} MB")
        if asked.only != "make":
            Rows(extract, asked.copies).measure(asked.only)


class Rows:
    """Rows of the table, each against decoding the same file."""

    def __init__(self, extract: Path, copies: int) -> None:
        self._extract, self._index = extract, extract.with_name(f"{extract.name}.places")
        self._folder, self._copies = extract.parent, copies
        self._base = timed(["osmium", "fileinfo", "-e", str(extract)], repeats=3)[1]
        self._program = [sys.executable, "-m", "resupply"]
        print("\n| what | CPU s | to decoding alone | peak MB | goal | |")
        print("| --- | --- | --- | --- | --- | --- |")
        print(f"| `osmium fileinfo -e` (decoding alone) | {self._base:.1f} | 1.0 | | | |")

    def measure(self, only: str | None) -> None:
        """Measure all parts, or one."""
        if only in (None, "gather"):
            shutil.rmtree(self._index, ignore_errors=True)
            files = [str(self._extract), "--out", str(self._index)]
            self._row("gather, roads too", [*self._program, "gather", *files], 8.0)
        share = np.linspace(0.0, 1.0, 3_000)
        across = min(self._copies // 4, 8) * 0.9
        if only in (None, "one"):
            lat = 42.55 + 0.08 * np.sin(share * 22.0)
            # Where numbers are spread the ways are read more often.
            goal = (6.0, 400.0) if "spread" in self._extract.name else (5.0, 400.0)
            self._along("129 km in one copy", 1.43 + 0.34 * share, lat, goal)
        if only in (None, "many"):
            lon = 1.6 + 0.15 * np.sin(share * 60.0)
            many = "918 km through eight copies" if across == 7.2 else "a route through many"
            self._along(many, lon, 42.5 + across * share, (10.0, 700.0))

    def _along(
        self, name: str, lon: np.ndarray, lat: np.ndarray, goal: tuple[float, float]
    ) -> None:
        gpx, changed = self._folder / "route.gpx", self._folder / "changed.gpx"
        write_track(gpx, lon, lat)
        # A bulge of a kilometre in the middle.
        middle = np.linspace(-0.5, 0.5, len(lat)) / 0.02
        write_track(changed, lon, lat + 0.009 * np.exp(-(middle**2)))
        shutil.rmtree(self._folder / "cache", ignore_errors=True)
        read = [sys.executable, "-c", READ, str(gpx), str(self._extract)]
        self._row(f"{name}: reading", read, 3.0, s_per_1000_ways=0.2)

        def plan(route: Path, data: Path, day: str) -> list[str]:
            options = ["--daily-km", "45", "--start", day, "--out", str(self._folder / "out")]
            options += ["--set", "show.sweep=false", "--set", "show.pocket_plans=false"]
            return [*self._program, "plan", str(route), "--extract", str(data), *options]

        times, most_mb = goal
        first = plan(gpx, self._extract, "2027-07-09")
        self._row(f"{name}: first plan", first, times, most_mb=most_mb)
        other = plan(gpx, self._extract, "2027-07-10")
        self._row(f"{name}: another day, from what was kept", other, most_s=3.0)
        small = plan(changed, self._extract, "2027-07-10")
        self._row(f"{name}: a small change of it", small, most_s=3.0)
        if self._index.exists():
            whole = plan(gpx, self._index, "2027-07-10")
            self._row(f"{name}: plan from the index", whole, most_s=3.0)

    def _row(
        self,
        what: str,
        command: list[str],
        times: float = 0.0,
        *,
        most_s: float = 0.0,
        most_mb: float = float("inf"),
        s_per_1000_ways: float = 0.0,
    ) -> None:
        _, cpu, memory, last = timed(command, repeats=1, folder=self._folder)
        goal_s = times * self._base or most_s
        goal = f"{times:g}x" if times else f"{most_s:g} s"
        if s_per_1000_ways:
            # The reader's own count: what it kept near the route, and has to look at.
            ways = int(last.split()[-5])
            goal_s += s_per_1000_ways * ways / 1_000.0
            goal += f" + {s_per_1000_ways:g} s for each 1,000 of {ways:,} ways: {goal_s:.1f} s"
        if np.isfinite(most_mb):
            goal += f", {most_mb:g} MB"
        told = "met" if cpu <= goal_s and memory <= most_mb else "missed"
        ratio = f"{cpu / self._base:.1f}"
        print(f"| {what} | {cpu:.1f} | {ratio} | {memory:.0f} | {goal} | {told} |", flush=True)


def write_copies_apart(extract: Path, copies: int, *, spread: bool) -> None:
    """Make the file in a process of its own: what is timed starts with the memory of this one."""
    make = (
        "import bench_index as b; from pathlib import Path; "
        f"b.write_copies(Path({str(extract)!r}), {copies}, spread={spread})"
    )
    subprocess.run([sys.executable, "-c", make], cwd=Path(__file__).parent, check=True)


if __name__ == "__main__":
    main()
