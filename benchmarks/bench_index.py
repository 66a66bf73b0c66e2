"""A regional index: making it against C++ decoders, planning from one of two million places.

Run: `python benchmarks/bench_index.py gather` (real extracts, needs osmium-tool), `… memory`
(copies of a country side by side: 1, 4 and 12, or as many as the words behind it say) and `… plan`
(invented places); a minute or two each. Prints tables.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

ROOT = Path(__file__).parents[1]
DATA = ROOT.parent / "shared/data/osm"
PLACES = 2_000_000
# Numbers in use at the end of 2025, about (from memory), and how many in a row one edit takes.
SPREAD_OVER = {"n": 13_000_000_000, "w": 1_400_000_000, "r": 20_000_000}
HANDFUL = 1_000
WEST, SOUTH, EAST, NORTH = -9.0, 38.0, 30.0, 68.0
TOWNS = 60_000
KINDS = (
    ("shop=supermarket", "groceries:stated;ice:likely"),
    ("shop=convenience", "small_groceries:stated"),
    ("shop=bakery", "small_groceries:stated"),
    ("amenity=fuel", "fuel:stated;ice:likely"),
    ("amenity=restaurant", "meal_out:stated"),
    ("amenity=cafe", "meal_out:stated"),
    ("amenity=drinking_water", "water:stated"),
    ("tourism=camp_site", "camp:stated"),
)
SHARE = (0.05, 0.05, 0.06, 0.05, 0.35, 0.20, 0.20, 0.04)
HOURS = ("Mo-Sa 08:00-20:00", "Mo-Fr 07:00-18:30; Sa 08:00-13:00", "24/7", "", "", "")

# An installed program is compiled; one that must not keep what it compiles does it each time.
_AS_INSTALLED = {key: os.environ[key] for key in os.environ if key != "PYTHONDONTWRITEBYTECODE"}
_AS_INSTALLED["PYTHONPATH"] = str(ROOT)

PLAN_ALONE = """
import gc
import sys
gc.set_threshold(50_000)  # as the command line does
from pathlib import Path
from resupply.places.read import reaches_m
from resupply.route.read import read_route
from resupply.places.index import places_from_index
from resupply.plan.prepare import join_passes
from resupply.roads.sources import RoadCollector
from resupply.trip.settings import MapKeys, Trip
route, trip = read_route(Path(sys.argv[1])), Trip()
wide = MapKeys(corridor_km=2.0 * trip.map.corridor_km)
roads = RoadCollector(route) if sys.argv[3] == "roads" else None
places = places_from_index(
    Path(sys.argv[2]), route, reach_m=10_000.0, of_supply_m=reaches_m(wide), roads=roads
)
graph = roads.graph("index") if roads else ()
passes, supply = join_passes(route, places, trip)
print(f"{route.length_m / 1000:.0f} km, {len(places.places)} places, {len(passes)} passes, "
      f"{len(graph):,} road nodes")
"""


def timed(
    command: list[str], *, repeats: int = 3, folder: Path | None = None
) -> tuple[float, float, float, str]:
    """Least wall time (s), least CPU time (s), most memory (MB) and the last line printed.

    A plan keeps what it read in the folder in which it is started.

    The memory is right only while this process itself is small: a child starts with its peak.
    """
    wall, cpu, memory, last = [], [], [], ""
    for _ in range(repeats):
        start = time.perf_counter()
        child = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=_AS_INSTALLED,
            cwd=folder,
        )
        assert child.stdout is not None
        text = child.stdout.read().decode()
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = status
        if status:
            raise SystemExit(text)
        wall.append(time.perf_counter() - start)
        cpu.append(usage.ru_utime + usage.ru_stime)
        memory.append(usage.ru_maxrss / 1024)
        last = (text.strip().splitlines() or [""])[-1]
    return min(wall), min(cpu), max(memory), last


def make_index(out: Path) -> None:
    """Write an index of invented places in towns over half a continent, without an extract."""
    import shapely

    from resupply.common.files import write_atomic
    from resupply.common.progress import silent
    from resupply.places.index_build import PartFiles
    from resupply.places.index_parts import CONTENTS, Part, contents_text, rules_mark
    from resupply.places.osm_file import Feature

    dice = np.random.default_rng(7)
    folder = out / "part-made"
    folder.mkdir(parents=True)
    part = PartFiles(folder, silent, "made")
    towns = dice.uniform((WEST, SOUTH), (EAST, NORTH), (TOWNS, 2))
    size = dice.pareto(1.2, TOWNS) + 1.0
    town = dice.choice(TOWNS, PLACES, p=size / size.sum())
    spread = 0.003 * np.sqrt(size[town])[:, None]
    lonlat = np.round(towns[town] + dice.normal(0.0, 1.0, (PLACES, 2)) * np.minimum(spread, 0.2), 7)
    kind = dice.choice(len(KINDS), PLACES, p=SHARE)
    is_area = dice.random(PLACES) < 0.5
    tags = json.dumps({"addr:street": "Long Road", "phone": "+000 000 000", "brand": "None"})
    for first in range(0, PLACES, 50_000):
        rows = slice(first, first + 50_000)
        points = shapely.points(lonlat[rows])
        shapes = np.where(is_area[rows], shapely.buffer(points, 0.0002, quad_segs=2), points)
        for number, (lon, lat), sort, shape in zip(
            range(first, PLACES), lonlat[rows].tolist(), kind[rows].tolist(), shapes, strict=False
        ):
            name, supplies = KINDS[sort]
            hours = HOURS[number % len(HOURS)]
            part.places.rows.add(
                (f"way/{number}", lon, lat, f"Shop {number}", name, supplies, hours, tags), shape
            )
    for town_number, (lon, lat) in enumerate(towns.tolist()):
        part.light_map.rows.add(
            ("village", f"node/{town_number}", f"Town {town_number}", "900"),
            shapely.Point(lon, lat),
        )
    # Roads along the parallels, 2 km apart, in pieces of some 30 km; each tenth is drawn.
    west = np.arange(WEST, EAST, 0.35)
    for row, lat in enumerate(np.arange(SOUTH, NORTH, 0.018)):
        lon = west[:, None] + np.linspace(0.0, 0.35, 12)
        line = np.stack([lon, np.full(lon.shape, lat)], axis=-1)
        part.cover.grid.take(line.reshape(-1, 2), np.repeat(np.arange(len(west)), 12))
        for column, piece in enumerate(line):
            number = row * len(west) + column
            spots = np.round(piece, 7)
            # Neighbours share a node, and so does the road across at the same place.
            refs = number * 12 + np.arange(12, dtype=np.int64)
            refs[-1] += 1
            sort = ("secondary", "residential", "unclassified")[number % 3]
            part.roads.see(
                Feature(f"way/{number}", {"highway": sort}, spots, refs=refs, spots=spots)
            )
            if row and column % 4 == 0:
                up = np.array([spots[0] - [0.0, 0.018], spots[0]])
                ends = np.array([refs[0] - 12 * len(west), refs[0]], dtype=np.int64)
                number = 10_000_000 + number
                part.roads.see(
                    Feature(f"way/{number}", {"highway": "tertiary"}, up, refs=ends, spots=up)
                )
        if row % 10 == 0:
            for piece in line:
                shape = shapely.LineString(
                    np.round(piece + np.array([0.0, 1e-3 * np.sin(piece[0, 0])]), 7)
                )
                part.light_map.rows.add(
                    (("primary", "secondary")[row // 10 % 2], "", "", ""), shape
                )
    part.finish(cover_least=1)
    box = (WEST, SOUTH, EAST, NORTH)
    made = Part(
        folder=folder.name,
        source="made.osm.pbf",
        source_bytes=0,
        source_changed_ns=0,
        rules=rules_mark(),
        data_date="2027-01-01",
        box=box,
        extent=box,
        believable=True,
        places=part.places.count,
        nowhere=0,
        coast_points=0,
    )
    assert asdict(made)
    write_atomic(out / CONTENTS, contents_text((made,)))


def write_route(path: Path, *, points: int = 40_000) -> None:
    """Write a winding route of some 4,000 km as GPX."""
    share = np.linspace(0.0, 1.0, points)
    lon = -8.0 + 36.0 * share + 0.3 * np.sin(share * 60.0)
    lat = 39.0 + 15.0 * share + 1.0 * np.sin(share * 25.0)
    write_track(path, lon, lat)


def write_track(path: Path, lon: np.ndarray, lat: np.ndarray) -> None:
    """Write points as GPX."""
    rows = "".join(
        f'<trkpt lat="{y:.6f}" lon="{x:.6f}"/>\n'
        for x, y in zip(lon.tolist(), lat.tolist(), strict=True)
    )
    path.write_text(
        '<gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        f"{rows}</trkseg></trk></gpx>"
    )


def plan() -> None:
    """Plan 4,000 km against two million places, from process start."""
    with tempfile.TemporaryDirectory() as scratch:
        index, route = Path(scratch) / "made.places", Path(scratch) / "long.gpx"
        start = time.perf_counter()
        subprocess.run([sys.executable, __file__, "make", str(index)], check=True)
        size = sum(path.stat().st_size for path in index.rglob("*") if path.is_file())
        print(
            f"made {PLACES:,} places, {size / 1e6:.0f} MB, in {time.perf_counter() - start:.0f} s"
        )
        write_route(route)
        python = [sys.executable, "-c"]
        alone = timed([*python, PLAN_ALONE, str(route), str(index), "no roads"])
        roads = timed([*python, PLAN_ALONE, str(route), str(index), "roads"])
        print(roads[3])
        whole = timed(
            [
                sys.executable, "-m", "resupply", "plan", str(route), "--extract", str(index),
                "--daily-km", "300", "--start", "2027-07-09", "--out", f"{scratch}/out",
                "--set", "show.pocket_plans=false",
            ]
        )  # fmt: skip
        page = Path(f"{scratch}/out/plan.html").stat().st_size
        imports = timed(
            [*python, "import numpy, pyarrow.parquet, shapely, scipy.spatial, pydantic"]
        )
        print("\n| from process start | wall s | CPU s | peak MB |\n| --- | --- | --- | --- |")
        for name, row in (
            ("imports of the libraries alone", imports),
            ("route, places, coverage and passes", alone),
            ("the same with the roads near the route", roads),
            (f"`resupply plan`, all files written (HTML {page / 1e6:.1f} MB)", whole),
        ):
            print(f"| {name} | {row[0]:.2f} | {row[1]:.2f} | {row[2]:.0f} |")


GATHER = """
import sys, time
from pathlib import Path
from resupply.places.extract import place_of
from resupply.places.index_build import build_index
from resupply.places.osm_file import read_header
from resupply.places.osm_scan import scan_whole
from resupply.places.sees import Sees
from resupply.places.tags import classify, may_supply, rule_keys
import osmium, shapely, geopandas, pyarrow.parquet
path, out = Path(sys.argv[1]), Path(sys.argv[2])
class Count(Sees):
    node_keys = way_keys = rule_keys()
    count = 0
    def wants(self, tags):
        return may_supply(tags)
    def wants_relation(self, tags):
        return classify(tags) is not None
    def see(self, feature):
        made = place_of(feature)
        self.count += made is not None and made[0] is not None
def places():
    found = Count()
    scan_whole(path, read_header(path), [found], kept_in="flex_mem")
    return found.count
start = time.perf_counter(), time.process_time()
count = places() if sys.argv[3] == "places" else build_index([path], out)[0].places
print(count, time.perf_counter() - start[0], time.process_time() - start[1])
"""


def gather() -> None:
    """Time reading real extracts, in turns: decoding alone, tag filter, places, whole index."""
    from resupply.places.tags import RULES

    tags = sorted({f"nwr/{rule.key}={rule.value}" for rule in RULES})
    # One of the extracts is not in the order that merging wants.
    files = sorted(set(DATA.glob("*.osm.pbf")) - {DATA / "columbus-ohio.osm.pbf"})
    print(
        "| file | program | wall s | CPU s | to decoding alone |\n| --- | --- | --- | --- | --- |"
    )
    with tempfile.TemporaryDirectory() as scratch:
        merged = Path(scratch) / "merged.osm.pbf"
        run = {"check": True, "capture_output": True}
        subprocess.run(["osmium", "merge", *map(str, files), "-o", str(merged)], **run)
        copies = Path(scratch) / "copies.osm.pbf"
        write_copies(copies, 4)
        for path in (merged, copies):
            filtered, index = f"{scratch}/filtered.osm.pbf", f"{scratch}/one.places"
            python = [sys.executable, "-c", GATHER, str(path), index]
            programs = {
                "`osmium fileinfo -e` (decoding alone)": ["osmium", "fileinfo", "-e", str(path)],
                "`osmium tags-filter`, with references": [
                    "osmium", "tags-filter", str(path), *tags, "-O", "-o", filtered
                ],
                "places with area points": [*python, "places"],
                "`resupply gather`: places, roads, coverage, light map, written": [*python, "all"],
            }  # fmt: skip
            rows: dict[str, list[tuple[float, float]]] = {name: [] for name in programs}
            for _ in range(5):
                for name, command in programs.items():
                    shutil.rmtree(index, ignore_errors=True)
                    wall, cpu, _, last = timed(command, repeats=1)
                    if command[0] == sys.executable:
                        wall, cpu = (float(number) for number in last.split()[1:])
                    rows[name].append((wall, cpu))
            base = min(wall for wall, _ in rows["`osmium fileinfo -e` (decoding alone)"])
            for name, found in rows.items():
                wall, cpu = (min(column) for column in zip(*found, strict=True))
                print(f"| {path.name} | {name} | {wall:.2f} | {cpu:.2f} | {wall / base:.1f} |")


MEMORY = """
import sys, threading, time
from pathlib import Path
from resupply.places import index_build
def status(key):
    words = Path("/proc/self/status").read_text().split()
    return int(words[words.index(key) + 1]) / 1024
own = [0.0]
def watch():
    while True:
        own[0] = max(own[0], status("RssAnon:"))
        time.sleep(0.02)
threading.Thread(target=watch, daemon=True).start()
index_build._NODES_IN_MEMORY_BYTES = 0
index_build.build_index([Path(sys.argv[1])], Path(sys.argv[2]))
print(f"{own[0]:.0f} | {status('VmHWM:'):.0f}")
"""


def write_copies(path: Path, copies: int, *, spread: bool = False) -> int:
    """Write a country several times, side by side; returns how many nodes.

    Parameters
    ----------
    spread
        Give nodes numbers as the whole map has them: handfuls all over the range in use, those of
        different copies in turns. A filter by number takes memory for the range that it spans.
    """
    things, own_ids = _country()
    number = {
        kind: _new_numbers(np.array(ids), copies, SPREAD_OVER[kind] if spread else 0)
        for kind, ids in own_ids.items()
    }
    row_of = {kind: {own: row for row, own in enumerate(ids)} for kind, ids in own_ids.items()}
    # Fifteen rows of them: more would reach the pole.
    wide = max(copies // 15, 4)

    def new(kind: str, ref: int, copy: int) -> str:
        # A member that lies outside the country has no number of its own.
        row = row_of[kind].get(ref)
        own = SPREAD_OVER[kind] + copy + 1 if row is None else int(number[kind][copy, row])
        return f"{kind}{own}"

    def lines(kind: str) -> Iterator[str]:
        order = np.argsort(number[kind], axis=None)
        for some in np.array_split(order, max(order.size // 1_000_000, 1)):
            at_copy, at_row = np.unravel_index(some, number[kind].shape)
            own = number[kind].ravel()[some]
            rows = zip(own.tolist(), at_copy.tolist(), at_row.tolist(), strict=True)
            for one, copy, row in rows:
                what, tags = things[kind][row]
                if kind == "n":
                    x, y = what[0] + copy % wide, what[1] + copy // wide
                    yield f"n{one} x{x:.7f} y{y:.7f}{tags}\n"
                elif kind == "w":
                    yield f"w{one}{tags} N{','.join([new('n', ref, copy) for ref in what])}\n"
                else:
                    parts = [f"{new(sort, ref, copy)}@{role}" for sort, ref, role in what]
                    yield f"r{one}{tags} M{','.join(parts)}\n"

    # Several times quicker than pyosmium's writer, of which each object is a call.
    write = ["osmium", "cat", "-F", "opl", "-", "--overwrite", "-o", str(path)]
    write += ["--output-header=sorting=Type_then_ID"]
    with subprocess.Popen(write, stdin=subprocess.PIPE) as writer:
        assert writer.stdin is not None
        for kind in "nwr":
            text = lines(kind)
            while block := "".join(islice(text, 20_000)):
                writer.stdin.write(block.encode())
    if writer.returncode:
        raise SystemExit("the copies cannot be written")
    return len(things["n"]) * copies


def _country() -> tuple[dict[str, list[tuple[Any, str]]], dict[str, list[int]]]:
    """Everything in the country by kind, tags as OPL writes them; and its numbers."""
    import osmium

    things: dict[str, list[tuple[Any, str]]] = {"n": [], "w": [], "r": []}
    own_ids: dict[str, list[int]] = {"n": [], "w": [], "r": []}
    for item in osmium.FileProcessor(str(DATA / "andorra-2025-01.osm.pbf")):
        kind = item.type_str()
        own_ids[kind].append(item.id)
        if kind == "n":
            what: Any = (item.lon, item.lat)
        elif kind == "w":
            what = [node.ref for node in item.nodes]
        else:
            what = [(one.type, one.ref, _opl(one.role)) for one in item.members]
        pairs = ",".join([f"{_opl(key)}={_opl(value)}" for key, value in dict(item.tags).items()])
        things[kind].append((what, f" T{pairs}" if pairs else ""))
    return things, own_ids


def _opl(text: str) -> str:
    """Text as the OPL format writes it: anything unusual by its number."""
    return re.sub(r"[^0-9A-Za-z_:.-]", lambda found: f"%{ord(found[0]):x}%", text)


def _new_numbers(own: NDArray[np.int64], copies: int, most: int) -> NDArray[np.int64]:
    """Numbers of the things of each copy, (copies, n): without holes, or over a range."""
    copy = np.arange(copies)[:, None]
    if not most:
        return np.asarray(np.arange(len(own)) + 1 + copy * len(own))
    handfuls, handful = np.unique(own // HANDFUL, return_inverse=True)
    step = max(most // HANDFUL // (len(handfuls) * copies), 1)
    # In no order: copies of one handful side by side would shrink to a seventh of their size.
    slot = np.random.default_rng(7).permutation(len(handfuls) * copies).reshape(copies, -1)
    return np.asarray(slot[:, handful] * step * HANDFUL + own % HANDFUL + 1)


def memory() -> None:
    """Peak memory of gathering copies of a country, nodes kept on disk."""
    print("| nodes | places | wall s | own memory, MB | with file pages, MB |")
    print("| --- | --- | --- | --- | --- |")
    for copies in [int(word) for word in sys.argv[2:]] or (1, 4, 12):
        with tempfile.TemporaryDirectory() as scratch:
            path, index = Path(scratch) / "copies.osm.pbf", Path(scratch) / "copies.places"
            make = (
                f"import bench_index as b; print(b.write_copies(b.Path({str(path)!r}), {copies}))"
            )
            nodes = subprocess.run(
                [sys.executable, "-c", make], cwd=Path(__file__).parent, check=True,
                capture_output=True, text=True,
            ).stdout  # fmt: skip
            gathered = [sys.executable, "-c", MEMORY, str(path), str(index)]
            wall, _, _, last = timed(gathered, repeats=1)
            (part,) = json.loads((index / "index.json").read_text())["parts"]
            count = f"{int(nodes):,} | {part['places']:,}"
            print(f"| {count} | {wall:.1f} | {last} |")


if __name__ == "__main__":
    if sys.argv[1] == "make":
        make_index(Path(sys.argv[2]))
    else:
        {"gather": gather, "memory": memory, "plan": plan}[sys.argv[1]]()
