"""Planning from a large extract and gathering it, against decoding: CPU time and memory.

Run: `python benchmarks/bench_extract.py` (needs osmium-tool; 60 copies of a country side by side,
28 million nodes; making them takes some minutes). `… 4` takes four copies, `… 60 spread` gives the
nodes numbers as the whole map has them. Each row is a process of its own, from its start.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from bench_index import timed, write_track

READ = """
import sys
from pathlib import Path
from resupply.places.read import read_corridor
from resupply.roads.sources import RoadCollector
from resupply.route.read import read_route
from resupply.trip.settings import MapKeys
route = read_route(Path(sys.argv[1]))
roads = RoadCollector(route)
places, _ = read_corridor([Path(sys.argv[2])], route, MapKeys(), None, roads)
graph = roads.graph("extract")
print(f"{route.length_m / 1000:.0f} km, {len(places.places)} places, {len(graph):,} road nodes")
"""


def main() -> None:
    """Measure a route in one copy, and one through up to eight of them."""
    copies = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    share = np.linspace(0.0, 1.0, 3_000)
    across = min(copies // 4, 8) * 0.9
    routes = {
        "a route in one copy": (1.43 + 0.34 * share, 42.55 + 0.08 * np.sin(share * 22.0)),
        "a route through many": (1.6 + 0.15 * np.sin(share * 60.0), 42.5 + across * share),
    }
    with tempfile.TemporaryDirectory() as scratch:
        extract = Path(scratch) / "copies.osm.pbf"
        write_copies_apart(extract, copies, spread="spread" in sys.argv)
        print(f"{copies} copies, {extract.stat().st_size / 1e6:.0f} MB")
        base = timed(["osmium", "fileinfo", "-e", str(extract)], repeats=3)[1]
        print("\n| what | CPU s | to decoding alone | peak MB | goal | |")
        print("| --- | --- | --- | --- | --- | --- |")
        print(f"| `osmium fileinfo -e` (decoding alone) | {base:.1f} | 1.0 | | | |")

        def row(what: str, command: list[str], times: float = 0.0, most_s: float = 0.0) -> None:
            _, cpu, memory, _ = timed(command, repeats=1)
            goal = f"{times:g}x" if times else f"{most_s:g} s"
            met = cpu <= (times * base or most_s)
            told = "met" if met else "missed"
            ratio = f"{cpu / base:.1f}"
            print(f"| {what} | {cpu:.1f} | {ratio} | {memory:.0f} | {goal} | {told} |", flush=True)

        index = f"{scratch}/copies.places"
        program = [sys.executable, "-m", "resupply"]
        row("gather, roads too", [*program, "gather", str(extract), "--out", index], 8.0)
        for (name, (lon, lat)), times in zip(routes.items(), (5.0, 10.0), strict=True):
            gpx, changed = Path(scratch) / "route.gpx", Path(scratch) / "changed.gpx"
            write_track(gpx, lon, lat)
            # A bulge of a kilometre in the middle.
            write_track(changed, lon, lat + 0.009 * np.exp(-(((share - 0.5) / 0.02) ** 2)))
            shutil.rmtree(Path(scratch) / "cache", ignore_errors=True)
            read = [sys.executable, "-c", READ, str(gpx), str(extract)]
            row(f"{name}: reading", read, times - 2.0)
            options = ["--daily-km", "45", "--set", "show.sweep=false", "--out", f"{scratch}/out"]
            options += ["--set", "show.pocket_plans=false"]
            plan = [*program, "plan", str(gpx), "--extract", str(extract), *options, "--start"]
            other = [str(changed) if word == str(gpx) else word for word in plan]
            from_index = [index if word == str(extract) else word for word in plan]
            row(f"{name}: first plan", [*plan, "2027-07-09"], times)
            row(f"{name}: another day, from what was kept", [*plan, "2027-07-10"], most_s=3.0)
            row(f"{name}: a small change of it", [*other, "2027-07-10"], most_s=3.0)
            row(f"{name}: plan from the index", [*from_index, "2027-07-10"], most_s=3.0)


def write_copies_apart(extract: Path, copies: int, *, spread: bool) -> None:
    """Make the file in a process of its own: what is timed starts with the memory of this one."""
    make = (
        "import bench_index as b; from pathlib import Path; "
        f"b.write_copies(Path({str(extract)!r}), {copies}, spread={spread})"
    )
    subprocess.run([sys.executable, "-c", make], cwd=Path(__file__).parent, check=True)


if __name__ == "__main__":
    main()
