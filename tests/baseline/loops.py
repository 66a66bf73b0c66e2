"""Loops through every real map extract, measured like an experienced rider would.

    python -m tests.baseline.loops [--seeds 1 2]

Each joins random points of an extract's roads (`../shared/data`) and is ridden in five days of
about six hours, whatever its length, with riders, cooler and season drawn too. All three styles are
planned; a row that misses a goal of docs/expert-cases.md ends with what it missed.
"""

from __future__ import annotations

import argparse
import json
import random
import tempfile
from pathlib import Path

from resupply.api.calls import plan_trip_at
from resupply.trip.read_file import load_trip
from tests.baseline.expert import HEAD, Measured, measure
from tests.baseline.lines import length_km, line_through, road_graph, write_gpx
from tests.baseline.trips import MAPS

EXTRACTS = {
    "andorra-2025-01.osm.pbf": 14,
    "beatty-nevada-2017-08.osm": 6,
    "columbus-ohio.osm.pbf": 14,
    "dreieich-2022-10.osm.pbf": 14,
    "heidelberg-2024-09.osm.pbf": 16,
    "helsinki-centre-2019-04.osm.pbf": 12,
    "krems-2013-12.osm.gz": 10,
    "monaco-2023-12.osm.pbf": 12,
    "north-bayreuth-2014-11.osm.gz": 10,
}
"""To the number of points that a loop joins."""
DAYS, HOURS = 5, 6
STYLES = ("fresh", "balanced", "few")


def main() -> None:
    """Read the command line, plan and print a table."""
    ask = argparse.ArgumentParser("tests.baseline.loops", description=__doc__)
    ask.add_argument("--seeds", nargs="+", type=int, default=[1])
    given = ask.parse_args()
    print(f"| extract | km | style | {HEAD} |\n| {' | '.join(['---'] * 10)} |")
    with tempfile.TemporaryDirectory() as folder:
        for extract in EXTRACTS:
            for seed in given.seeds:
                ride(extract, seed, Path(folder))


def ride(extract: str, seed: int, folder: Path) -> None:
    """Plan one loop in every style, and print its rows."""
    dice = random.Random(seed)
    graph = road_graph(MAPS / extract)
    nodes = sorted(graph)
    line = line_through(
        graph, [graph.nodes[dice.choice(nodes)]["at"] for _ in range(EXTRACTS[extract])]
    )
    write_gpx(folder / "loop.gpx", line, extract)
    long_km = length_km(line)
    daily_km = max(5.0, long_km / DAYS)
    (folder / "loop.toml").write_text(
        f"""
route = "loop.gpx"
map.extracts = ["{(MAPS / extract).as_posix()}"]
start.date = 2027-{dice.randint(5, 8):02d}-{dice.randint(10, 28)}
pace.daily_km = {daily_km:.1f}
pace.speed_kmh = {max(4.0, daily_km / HOURS):.1f}
party.people = {dice.choice([1, 2, 4])}
cooler.kind = "{dice.choice(["none", "soft", "hard"])}"
cooler.volume_l = 20
weather.low_c = 12
weather.high_c = 27
fuel.range_km = 250
show.sweep = false
""",
        "utf-8",
    )
    plan = plan_trip_at(load_trip(folder / "loop.toml"), folder)
    for style in STYLES:
        same = style == plan.trip.food.style
        one = plan if same else plan.replan(settings={"food.style": style})
        one.to_json(folder / "plan.json")
        told = measure(json.loads((folder / "plan.json").read_text("utf-8")))
        missed = missed_goals(told, style)
        print(f"| {extract} | {long_km:.0f} | `{style}` | {told.row()} | {', '.join(missed)}")


def missed_goals(told: Measured, style: str) -> list[str]:
    """Name the goals that a plan misses; nobody asks of `few` to use each evening."""
    goals = {
        "evening": told.missed if style != "few" else (),
        "ice alone": told.ice_alone,
        "shut door": told.shut,
        "off season": told.off_season,
    }
    return [f"MISSED: {name}" for name, found in goals.items() if found]


if __name__ == "__main__":
    main()
