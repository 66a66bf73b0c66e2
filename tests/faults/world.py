"""A small trip on the invented island, and whether what a run left behind is whole."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import TYPE_CHECKING, Any

import icalendar
import numpy as np

from resupply.common.kept_answers import kept
from resupply.report.write import MEDIA_TYPES
from tests import command_line
from tests.extract_files import Drawing
from tests.gpx_text import gpx, track
from tests.overpass_server import node

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

ROOT = Path(__file__).parents[2]
LAUNCH = Path(__file__).with_name("launch.py")
BOX = (-26.3, 46.2, -24.7, 46.8)
SHOPS = [
    node(n, -26.0 + 0.04 * n, 46.501, shop="supermarket", name=f"Shop {n}", opening_hours="24/7")
    for n in range(1, 13)
]
BUILDINGS = [
    *(
        {**node(101 + n, -25.7 + 0.0005 * n, 46.5012 + 0.0004 * (n == 2)), "tags": {}}
        for n in range(3)
    ),
    {"type": "way", "id": 1, "nodes": [101, 102, 103, 101], "tags": {"shop": "supermarket"}},
]
_TRIP = """
route = "ride.gpx"
[start]
date = 2027-07-09
[pace]
daily_km = 20
[show]
sweep = false
pocket_plans = false
"""


def write_trip(
    folder: Path,
    *,
    service: str = "",
    extract: bool = False,
    daily_km: int = 10,
    weather: str = "",
) -> Path:
    """Write a trip of 40 km that asks the service at an address, or reads an extract beside it."""
    folder.mkdir(parents=True, exist_ok=True)
    ride = [(lon, 46.5) for lon in np.linspace(-26.0, -25.48, 80).round(5).tolist()]
    (folder / "ride.gpx").write_bytes(gpx(track(ride, name="Short ride")))
    text = _TRIP.replace("daily_km = 20", f"daily_km = {daily_km}") + "[map]\n"
    if service:
        text += f'service = true\nservice_url = "{service}"\ncontact = "rider@example.org"\n'
    if extract:
        text += 'extracts = ["island.osm.pbf"]\n'
        if not (folder / "island.osm.pbf").exists():
            write_extract(folder / "island.osm.pbf")
    if weather:
        text += f'[weather]\nforecast = true\nforecast_url = "{weather}"\n'
        text += '[cooler]\nkind = "hard"\nvolume_l = 20\n'
    (folder / "trip.toml").write_text(text)
    return folder / "trip.toml"


def write_extract(path: Path) -> Path:
    """Write the shops and a road as an extract."""
    drawing = Drawing()
    drawing.road()
    for shop in SHOPS:
        drawing.node(shop["lon"], shop["lat"], **shop["tags"])
    return drawing.write(path, box=BOX, stamp="2027-06-01T00:00:00Z")


def command(*args: object, own: Sequence[object] = ()) -> list[str]:
    """Give the words that run the program with a fault built in."""
    return [sys.executable, str(LAUNCH), *map(str, own), "--", *map(str, args)]


def run(
    *args: object,
    own: Sequence[object] = (),
    before: Callable[[], None] | None = None,
    env: Mapping[str, str] | None = None,
    **keys: Any,
) -> subprocess.CompletedProcess[str]:
    """Run the program to its end, `before` called in it and `env` added to its environment.

    Without a fault built in no new process is needed.
    """
    if not (own or before or env or keys):
        return command_line.run(*args, columns=400)
    return subprocess.run(
        command(*args, own=own),
        capture_output=True, text=True, timeout=300, check=False, preexec_fn=before,
        env={**os.environ, "COLUMNS": "400", "NO_COLOR": "1", **(env or {})}, **keys,
    )  # fmt: skip


def said(done: subprocess.CompletedProcess[str]) -> str:
    """Give the line a rider reads: the error, or the first caution about map data."""
    errors = [line for line in done.stderr.splitlines() if line.startswith("resupply: ")]
    if errors and "a fault of the program" in errors[-1]:
        return f"TRACEBACK {errors[-1]}"
    if errors:
        return errors[-1].removeprefix("resupply: ")
    if "Traceback" in done.stderr:
        return "TRACEBACK " + done.stderr.splitlines()[-1]
    cautions = [line[2:].strip() for line in done.stdout.splitlines() if line.startswith("! ")]
    about = (
        "forecast: ",
        "Map data is missing",
        "can't be kept",
        "older map data",
        "cannot be kept",
    )
    return next((text for text in cautions if any(words in text for words in about)), "")


def faults_of(out: Path) -> list[str]:
    """List the results in a folder that are not whole."""
    faults = []
    for name in MEDIA_TYPES:
        path = out / name
        if path.exists() and (why := _broken(path)):
            faults.append(f"{name}: {why}")
    there = [name for name in MEDIA_TYPES if (out / name).exists()]
    if there and len(there) < len(MEDIA_TYPES):
        faults.append(f"only {', '.join(there)}")
    return faults


def _broken(path: Path) -> str:
    try:
        text = path.read_bytes().decode("utf-8")
        match path.suffix:
            case ".json" | ".geojson":
                json.loads(text)
            case ".gpx":
                ET.fromstring(text)
            case ".csv":
                assert len({len(row) for row in csv.reader(text.splitlines())}) == 1
            case ".ics":
                icalendar.Calendar.from_ical(text)
            case ".html":
                assert text.rstrip().endswith("</html>")
    except (ValueError, AssertionError, ET.ParseError) as error:
        return repr(error)[:80]
    return ""


def cache_faults(folder: Path) -> list[str]:
    """List the kept answers in a folder that are not whole; temporary files are none."""
    return [
        path.name
        for path in (folder / "cache").glob("[!.]*.kept")
        if kept(path, json.loads(path.read_bytes().partition(b"\n")[0])["question"]) is None
    ]


def contents(out: Path) -> dict[str, bytes]:
    """Give the results in a folder by name."""
    return {name: (out / name).read_bytes() for name in MEDIA_TYPES if (out / name).exists()}


def plan_of(out: Path) -> dict[str, Any]:
    """Give the parts of a plan that rest on the places found."""
    document = json.loads((out / "plan.json").read_text("utf-8"))
    return {key: document[key] for key in ("legs", "passes", "stops", "gaps")} | {
        "unknown": document["coverage"]["unknown"]
    }
