"""The ten trips of the baseline: three samples of version 0.1.0 and seven over real map data."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

from tests.baseline.lines import Lonlat, line_through, road_graph, write_gpx
from tests.baseline.long_road import long_line, real_tags, write_country

ROOT = Path(__file__).parents[2]
MAPS = ROOT.parent / "shared" / "data" / "osm"
SAMPLES = ("coast_loop", "there_and_back", "long_moor")
STYLES = {"metric24": ("metric", 24), "imperial12": ("imperial", 12)}

ANDORRA = "andorra-2025-01.osm.pbf"
# Towns of Andorra, by their place nodes in the map.
CAPITAL, ORDINO, SERRAT = (1.5212, 42.5069), (1.5335, 42.5562), (1.5389, 42.6196)
JULIA, ARINSAL, PAL = (1.4923, 42.4669), (1.4844, 42.5721), (1.4760, 42.5458)
CANILLO, SOLDEU, CASA = (1.5978, 42.5668), (1.6682, 42.5769), (1.7335, 42.5447)
BIXESSARRI, MASSANA, ENCAMP = (1.4567, 42.4836), (1.5164, 42.5442), (1.5836, 42.5360)
LOOP = [JULIA, CAPITAL, ENCAMP, CASA, SOLDEU, CANILLO, ORDINO, SERRAT, MASSANA, ARINSAL, PAL]

REAL: dict[str, tuple[str, list[Lonlat], str]] = {
    # A dense country: a loop of three days.
    "andorra_loop": (
        ANDORRA,
        [*LOOP, BIXESSARRI, JULIA],
        """
start.date = 2027-07-09
pace.daily_km = 45
pace.speed_kmh = 35
party.people = 2
weather.low_c = 12
weather.high_c = 27
cooler.kind = "soft"
cooler.volume_l = 18
fuel.range_km = 300
night.camps = true
""",
    ),
    # Mountains: every valley and both ways over the pass, six days, alone, nothing kept cold.
    "andorra_mountains": (
        ANDORRA,
        [*LOOP, BIXESSARRI, JULIA, *LOOP[1:4], SERRAT, CASA, PAL, ENCAMP, ARINSAL, CASA, JULIA],
        """
start.date = 2027-07-08
pace.daily_km = 62
pace.speed_kmh = 38
party.people = 1
weather.low_c = 9
weather.high_c = 22
fuel.range_km = 280
night.camps = true
""",
    ),
    # Four riders through a country whose hours are on the map and usual, over Whitsun.
    "neckar": (
        "heidelberg-2024-09.osm.pbf",
        [
            *((8.69, 49.41), (8.80, 49.39), (8.99, 49.46), (8.84, 49.35), (8.60, 49.43)),
            *((8.80, 49.50), (8.60, 49.33), (8.90, 49.40), (8.66, 49.48), (8.99, 49.46)),
            *((8.72, 49.32), (8.60, 49.43), (8.84, 49.47), (8.69, 49.41)),
        ],
        """
start.date = 2027-05-14
pace.daily_km = 90
pace.speed_kmh = 50
party.people = 4
weather.low_c = 8
weather.high_c = 21
cooler.kind = "hard"
cooler.volume_l = 30
fuel.range_km = 300
night.camps = true
""",
    ),
    # A desert, alone, in miles: there is hardly a shop.
    "beatty": (
        "beatty-nevada-2017-08.osm",
        [
            *2 * [(-116.76, 36.91), (-117.2, 37.4), (-116.76, 36.91), (-116.2, 36.5)],
            (-116.76, 36.91),
        ],
        """
start.date = 2027-07-09
pace.daily_mi = 70
pace.depart = 07:00:00
party.people = 1
weather.low_f = 72
weather.high_f = 104
cooler.kind = "hard"
cooler.volume_l = 20
fuel.range_mi = 150
show.units = "imperial"
show.clock = 12
""",
    ),
    # A town whose shops are outlines and tell no hours.
    "columbus": (
        "columbus-ohio.osm.pbf",
        [
            *((-83.00, 39.96), (-83.22, 40.09), (-82.82, 40.08), (-83.20, 39.90), (-82.84, 39.88)),
            *((-83.02, 40.02), (-83.20, 39.98), (-82.81, 39.96), (-83.05, 39.87), (-83.03, 40.10)),
            *((-82.85, 40.02), (-83.15, 39.94), (-82.85, 39.92), (-83.20, 40.05), (-82.80, 40.00)),
            *((-83.12, 39.88), (-83.10, 40.08), (-83.00, 39.96)),
        ],
        """
start.date = 2027-07-09
pace.daily_mi = 75
pace.speed_mph = 26
party.people = 2
weather.low_f = 66
weather.high_f = 86
cooler.kind = "soft"
cooler.volume_l = 24
fuel.range_mi = 160
show.units = "imperial"
show.clock = 12
""",
    ),
    # Out and back by the same road in the country, over a Sunday.
    "bayreuth_and_back": (
        "north-bayreuth-2014-11.osm.gz",
        [(11.56, 49.97), (11.50, 50.02), (11.45, 50.08), (11.50, 50.02), (11.56, 49.97)],
        """
start.date = 2027-07-10
pace.daily_km = 16
pace.speed_kmh = 40
party.people = 2
party.diet = "vegetarian"
weather.low_c = 12
weather.high_c = 26
cooler.kind = "bag"
cooler.volume_l = 10
""",
    ),
}
LONG = """
start.date = 2027-07-09
pace.daily_km = 300
pace.speed_kmh = 55
pace.rest_days = { 5 = 1 }
party.people = 1
weather.low_c = 12
weather.high_c = 25
fuel.range_km = 320
night.camps = true
region.country = "DE"
region.time_zone = "Europe/Berlin"
map.extracts = ["long_road.osm.pbf"]
"""
TRIPS = (*SAMPLES, *REAL, "long_road")
# Under way on the first sample trip: `resupply here` with these.
UNDER_WAY = (
    *("--at-km", "455", "--time", "2027-07-10T15:30", "--food-meals", "2"),
    *("--ice-kg", "2", "--fuel-km", "200", "--water-l", "3"),
)


@cache
def _graph(path: Path):
    return road_graph(path)


def make_inputs(names: tuple[str, ...], folder: Path, samples: Path) -> None:
    """Write trip file, route and map of each trip into the folder, unless they are there.

    Parameters
    ----------
    samples
        Sample routes of version 0.1.0, so that both versions plan the same trip.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name in names:
        if not (folder / f"{name}.toml").exists():
            _maker(name)(name, folder, samples)


def _maker(name: str) -> Callable[[str, Path, Path], None]:
    if name in SAMPLES:
        return _sample
    if not MAPS.is_dir():
        raise SystemExit(
            f"{name} needs the map extracts of ../shared/data; without them: {SAMPLES}"
        )
    return _real if name in REAL else _long


def _sample(name: str, folder: Path, samples: Path) -> None:
    for file in (f"{name}.gpx", "varrow.osm.pbf", f"{name}.toml"):
        shutil.copy(samples / file, folder / file)


def _real(name: str, folder: Path, _samples: Path) -> None:
    extract, points, keys = REAL[name]
    write_gpx(folder / f"{name}.gpx", line_through(_graph(MAPS / extract), points), name)
    where = f'map.extracts = ["{(MAPS / extract).as_posix()}"]\n'
    (folder / f"{name}.toml").write_text(f'route = "{name}.gpx"\n{where}{keys}', "utf-8")


def _long(name: str, folder: Path, _samples: Path) -> None:
    line = long_line()
    write_gpx(folder / f"{name}.gpx", line, name)
    extracts = [
        MAPS / one for one in ("andorra-2025-01.osm.pbf", "helsinki-centre-2019-04.osm.pbf")
    ]
    extracts += [MAPS / "dreieich-2022-10.osm.pbf", MAPS / "heidelberg-2024-09.osm.pbf"]
    write_country(folder / f"{name}.osm.pbf", line, real_tags(extracts))
    (folder / f"{name}.toml").write_text(f'route = "{name}.gpx"\n{LONG}', "utf-8")


def styled(name: str, style: str, folder: Path) -> Path:
    """Write a copy of a trip file shown in other units and clock, beside it."""
    units, clock = STYLES[style]
    lines = (folder / f"{name}.toml").read_text("utf-8").splitlines()
    kept = [line for line in lines if not line.startswith(("show.", "[show]"))]
    path = folder / f"{name}.{style}.toml"
    path.write_text(
        f'show.units = "{units}"\nshow.clock = {clock}\n' + "\n".join(kept) + "\n", "utf-8"
    )
    return path
