"""Planning from a large extract, against decoding it: CPU time and memory, from process start.

Run: `python benchmarks/bench_extract.py` (needs osmium-tool; 60 copies of a country side by side,
28 million nodes; making them takes some minutes). `… 4` takes four copies, `… 60 spread` gives the
nodes numbers as the whole map has them.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from bench_index import timed

READ = """
import sys
from pathlib import Path
from resupply.places.read import read_corridor
from resupply.roads.sources import RoadCollector
from resupply.route.read import read_route
route = read_route(Path(sys.argv[1]))
roads = RoadCollector(route)
places, _ = read_corridor([Path(sys.argv[2])], route, 10_000.0, None, [roads])
graph = roads.graph("extract")
print(f"{route.length_m / 1000:.0f} km, {len(places.places)} places, {len(graph):,} road nodes")
"""


def write_route(path: Path, lon: np.ndarray, lat: np.ndarray) -> None:
    """Write a track as GPX."""
    rows = "".join(
        f'<trkpt lat="{y:.6f}" lon="{x:.6f}"/>\n'
        for x, y in zip(lon.tolist(), lat.tolist(), strict=True)
    )
    path.write_text(
        '<gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        f"{rows}</trkseg></trk></gpx>"
    )


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
        # In a process of its own: what is timed starts with the memory of this one.
        make = (
            "import bench_index as b; from pathlib import Path; "
            f"b.write_copies(Path({str(extract)!r}), {copies}, spread={'spread' in sys.argv})"
        )
        subprocess.run([sys.executable, "-c", make], cwd=Path(__file__).parent, check=True)
        print(f"{copies} copies, {extract.stat().st_size / 1e6:.0f} MB")
        rows = [("`osmium fileinfo -e` (decoding alone)", ["osmium", "fileinfo", "-e"])]
        base = timed([*rows[0][1], str(extract)], repeats=3)[1]
        print("\n| what | CPU s | to decoding alone | peak MB |\n| --- | --- | --- | --- |")
        print(f"| {rows[0][0]} | {base:.1f} | 1.0 | |")
        for name, line in routes.items():
            gpx = Path(scratch) / "route.gpx"
            write_route(gpx, *line)
            shutil.rmtree(Path(scratch) / "cache", ignore_errors=True)
            read = [sys.executable, "-c", READ, str(gpx), str(extract)]
            plan = [
                sys.executable, "-m", "resupply", "plan", str(gpx), "--extract", str(extract),
                "--daily-km", "45", "--out", f"{scratch}/out", "--start",
            ]  # fmt: skip
            for what, command in (
                (f"{name}: reading", read),
                (f"{name}: first plan", [*plan, "2027-07-09"]),
                (f"{name}: another day, from what was kept", [*plan, "2027-07-10"]),
            ):
                _, cpu, memory, _ = timed(command, repeats=1)
                print(f"| {what} | {cpu:.1f} | {cpu / base:.1f} | {memory:.0f} |", flush=True)


if __name__ == "__main__":
    main()
