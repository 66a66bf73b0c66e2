"""Every reader of foreign input: what is fed to it, and what must hold of what it makes of it.

A check returns "read" or "refused"; whatever it raises is a fault. Refused means one of the
errors of `resupply.common.errors`, as one printable line.
"""

from __future__ import annotations

import atexit
import datetime as dt
import io
import os
import shutil
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np

from resupply.common.errors import ResupplyError
from resupply.common.show import text
from tests.fuzz import from_elsewhere, inputs, texts
from tests.gpx_text import gpx, planned, track
from tests.made_up_hours import made_up_hours
from tests.route_files import every_format, fit_file, kml, kml_line, kml_point, kmz

if TYPE_CHECKING:
    from hypothesis.strategies import SearchStrategy

    from tests.fuzz.inputs import Make

CORPUS = Path(__file__).parent / "corpus"
RIDE = [(-25.9, 46.5, 12.0), (-25.5, 46.52, 250.0), (-25.1, 46.5, 99.0)]
XML_PIECES = (
    b"<", b">", b"&", b"<!--", b"]]>", b"<![CDATA[", b"\x00", b"\xed\xa0\x80", b"&#xD800;", b"&a;",
    b"<?x ?>", b"<trkseg>", b"</trkpt>", b"<trkpt lat='nan' lon='1'/>", b" xmlns='other'", b"999",
)  # fmt: skip
JSON_PIECES = (b"[", b"]", b"{", b"}", b",", b'"', b"null", b"1e999", b"-", b"\\ud800", b"NaN")


@dataclass(frozen=True)
class Target:
    """One reader."""

    what: str
    """In words, for the table."""
    inputs: SearchStrategy[Any]
    check: Callable[[Any], str]
    of_file: Callable[[bytes], Any] = bytes
    """Make an input of what is kept on file."""
    most_s: float = 5.0
    """No input may take longer, on a busy machine."""


def kept(name: str) -> list[bytes]:
    """Inputs on file: sound ones to start from, and those that once found a fault."""
    return [path.read_bytes() for path in sorted((CORPUS / name).glob("*"))]


def _outcome(read: Callable[[], object], holds: Callable[[Any], None] = lambda _: None) -> str:
    try:
        made = read()
    except ResupplyError as error:
        line = str(error)
        assert line
        assert "\n" not in line
        line.encode()
        return "refused"
    holds(made)
    return "read"


# -- routes --


def _is_route(route: Any) -> None:
    assert route.lon.size >= 2
    assert np.isfinite(route.chainage_m).all()
    assert (np.diff(route.chainage_m) >= 0.0).all()
    assert 0.0 < route.length_m <= 1e8
    assert np.abs(route.lon).max() <= 180.0
    assert np.abs(route.lat).max() <= 90.0
    told = [one if isinstance(one, str) else text(one) for one in route.warnings]
    for said in (route.name, *(mark.name for mark in route.marks), *told):
        assert not any(c < " " or "\x7f" <= c < "\xa0" for c in said)
        said.encode()


def read_gpx(data: bytes) -> str:
    from resupply.route.gpx import parse_gpx

    return _outcome(lambda: parse_gpx(data, name="ride.gpx"), _is_route)


def read_route(data: bytes) -> str:
    from resupply.route.read import parse_route

    return _outcome(lambda: parse_route(data, name="ride"), _is_route)


def _zipped(files: list[tuple[str, bytes]]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, (name, content) in enumerate(files):
            archive.writestr(f"{number}{name}", content)
    return packed.getvalue()


def _route_inputs() -> Make:
    sound = every_format(RIDE)
    sound["kml"] = kml(kml_line(RIDE), kml_point(RIDE[0], "Camp"))
    sound["kmz"] = kmz(sound["kml"])
    names = ("doc.kml", "../doc.kml", "a/b.KML", "x.png", "\u202e.kml", "doc.kml/")
    packed = inputs.several(lambda dice: (dice.choice(names), inputs.kml(dice)), 0, 3)
    return inputs.weighted(
        (4, inputs.kml),
        (2, inputs.spoilt([sound["kml"]], XML_PIECES)),
        (1, inputs.spoilt([sound["kmz"]])),
        (3, inputs.then(packed, _zipped)),
        (2, inputs.spoilt([sound["geojson"]], JSON_PIECES)),
        (3, inputs.then(inputs.geometry, inputs.as_json)),
        (1, inputs.spoilt([sound["fit"]])),
        (3, inputs.then(inputs.spoilt([sound["fit"][14:-2]]), fit_file)),
        (1, inputs.noise),
    )


# -- settings --


def read_trip(text: str) -> str:
    from resupply.trip.read_file import dump_trip, parse_trip

    def holds(trip: Any) -> None:
        assert parse_trip(dump_trip(trip)) == trip

    return _outcome(lambda: parse_trip(text, where="trip.toml"), holds)


def _trip_inputs() -> Make:
    seeds = [*kept("trip"), *(path.read_bytes() for path in _samples("*.toml"))]
    return inputs.weighted(
        (5, texts.toml(trip_tables())),
        (3, inputs.then(inputs.spoilt(seeds), lambda d: d.decode("utf-8", "surrogateescape"))),
        (1, inputs.any_text),
    )


def trip_tables() -> dict[str, dict[str, list[str]]]:
    """List every key of a trip file, by table, with some sound values as TOML."""
    from pydantic import BaseModel

    from resupply.trip.settings import Trip

    tables: dict[str, dict[str, list[str]]] = {"": {}, "nowhere": {"x": []}}
    for name, field in Trip.model_fields.items():
        kind = field.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            tables[name] = {key: _sound(one) for key, one in kind.model_fields.items()}
            tables[name] |= {"daily_mi": ["150"], "low_f": ["50"], "x": []}
        else:
            tables[""][name] = _sound(field)
    return tables


def _sound(field: Any) -> list[str]:
    """Values a key takes, as TOML: its default, and what its type suggests."""
    import tomli_w

    default = field.get_default()
    plain = default is not None and not isinstance(default, dict)
    found = [tomli_w.dumps({"x": default}).strip()[4:]] if plain else []
    by_type = {
        "float": ["1.5", "30", "200", "2"],
        "int": ["1", "5", "20"],
        "bool": ["true", "false"],
        "str": ['"x.toml"', '"AT"', '"Atlantic/Azores"', '"\u202e<b>"', '"café ☕"'],
        "tuple": ["[]", '["a", "b"]', "[1, 3]"],
        "date": ["2027-07-09"],
        "time": ["08:00:00", "23:59:59"],
        "dict": ["{ 2 = 150 }", "{ 1 = 1, 3 = 2 }"],
        "hard": ['"hard"', '"soft"'],
        "DayWeather": ["[{ day = 1, low_c = 10, high_c = 20 }]"],
    }
    told = repr(field.annotation) + repr(field.metadata)
    return found + [text for kind, texts in by_type.items() if kind in told for text in texts]


def _samples(pattern: str) -> list[Path]:
    return sorted((Path(__file__).parents[2] / "sample_routes").glob(pattern))


def read_tables(data: bytes) -> str:
    """Read a rider's own dishes and usual hours; each is refused or read for itself."""
    from resupply.hours.usual import read_usual_hours
    from resupply.kitchen.food.dishes import parse_cookbook, read_dishes

    path = scratch() / "own.toml"
    path.write_bytes(data)
    storage, starter = _starter()
    found = {
        _outcome(
            lambda: parse_cookbook(read_dishes(path), storage, where="own.toml", base=starter)
        ),
        _outcome(lambda: read_usual_hours(path)),
    }
    return "read" if "read" in found else "refused"


@cache
def _starter() -> tuple[Any, Any]:
    from resupply.kitchen.food.dishes import load_cookbook
    from resupply.kitchen.food.storage_classes import load_storage

    return load_storage(), load_cookbook(load_storage())


def _table_inputs() -> Make:
    keys: dict[str, dict[str, list[str]]] = {
        "": {"dish": [], "row": []},
        "dish.own-pot": {
            "name": ['"Own pot"'], "kinds": ['["dinner"]'], "method": ['"pot"'], "minutes": ["20"],
            "heat": ['"stove"'], "portions": ["[{ use = 'rice', amount = 90, unit = 'g' }]"],
        },
        "ingredient.own-peas": {
            "name": ['"Peas"'], "storage": ['"dry"'], "unit": ['"g"', '"piece"'], "packs": ["[5]"],
            "aisle": ['"dry"'], "l_per_kg": ["1.4"], "kcal_per_unit": ["3.4"], "diet": ['"vegan"'],
        },
        "[row]": {
            "kinds": ['["shop=bakery"]'], "countries": ['["AT"]', '["*"]'], "source": ['"own"'],
            "hours": ['"Mo-Sa 06:00-12:00"', '"24/7"'],
        },
    }  # fmt: skip
    return inputs.weighted(
        (1, inputs.then(texts.toml(keys), lambda text: text.encode("utf-8", "surrogatepass"))),
        (1, inputs.spoilt(kept("tables"))),
    )


# -- maps --


@cache
def scratch() -> Path:
    # In memory where there is such a place: a hundred thousand files are written here.
    shm = Path("/dev/shm")
    folder = tempfile.mkdtemp(prefix="resupply-fuzz-", dir=shm if shm.is_dir() else None)
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)


@cache
def road() -> Any:
    from resupply.route.route import make_route

    # Short, for much of what reading does is done for every kilometre.
    lon = np.linspace(-25.6, -25.4, 21)
    return make_route([(lon, np.full(21, 46.5), None)])


def are_places(found: Any) -> None:
    assert [place.id for place in found.places] == sorted({place.id for place in found.places})
    for place in found.places:
        assert abs(place.lon) <= 180.0
        assert abs(place.lat) <= 90.0
        assert place.supplies
        for said in (place.name, place.opening_hours or "", *place.tags.values()):
            assert not any(c < " " or "\x7f" <= c < "\xa0" for c in said)
            said.encode()
    for stretch, after in pairwise(found.coverage.unknown):
        assert stretch.end_m <= after.start_m


def read_extract(packed: tuple[str, bytes]) -> str:
    """Read an extract as planning does: places, backdrop and roads."""
    from resupply.places.base_map import backdrop_document, read_extract
    from resupply.places.osm_file import read_header
    from resupply.places.osm_scan import scan_extract
    from resupply.roads.sources import RoadCollector

    ending, data = packed
    path = scratch() / f"map{ending}"
    path.write_bytes(data)

    def read() -> Any:
        places, backdrop = read_extract([path], road(), reach_m=5_000.0)
        backdrop_document(backdrop)
        roads = RoadCollector(road())
        scan_extract(path, read_header(path), [roads])
        roads.graph("extract")
        return places

    return _outcome(read, are_places)


@cache
def _plain_pbf() -> bytes:
    """Give a map in the binary format, not compressed, so that damage reaches the contents."""
    import osmium
    from osmium.osm.mutable import Node, Relation, Way

    path = scratch() / "seed.osm.pbf"
    file = osmium.io.File(str(path), "pbf,pbf_compression=none")
    writer = osmium.SimpleWriter(file, overwrite=True)
    for number in range(1, 8):
        shop = {"shop": "supermarket", "name": f"Shop {number}", "opening_hours": "24/7"}
        lat = 46.5 + number / 900
        writer.add_node(Node(id=number, location=(-25.65 + number / 30, lat), tags=shop))
    writer.add_way(Way(id=1, nodes=[1, 2, 3, 1], tags={"shop": "bakery"}))
    writer.add_way(Way(id=2, nodes=[4, 5, 6], tags={"highway": "secondary", "maxspeed": "80"}))
    members = [("w", 1, "outer"), ("n", 7, "")]
    writer.add_relation(
        Relation(id=1, members=members, tags={"type": "multipolygon", "shop": "farm"})
    )
    writer.close()
    return path.read_bytes()


def _extract_inputs() -> Make:
    import bz2
    import gzip

    seeds = kept("extract")
    text = inputs.weighted((3, inputs.osm), (1, inputs.spoilt(seeds, XML_PIECES)))
    gz, bz = ([pack(seed) for seed in seeds] for pack in (gzip.compress, bz2.compress))
    return inputs.weighted(
        (6, inputs.then(text, lambda data: (".osm", data))),
        (3, inputs.then(inputs.spoilt([_plain_pbf()]), lambda data: (".osm.pbf", data))),
        (2, inputs.then(text, lambda data: (".osm.gz", gzip.compress(data, 1)))),
        (1, inputs.then(inputs.spoilt(gz), lambda data: (".osm.gz", data))),
        (1, inputs.then(inputs.spoilt(bz), lambda data: (".osm.bz2", data))),
    )


def read_index(damaged: tuple[str, bytes]) -> str:
    """Read places and backdrop from a regional index of which one file is damaged."""
    from resupply.places.base_map import BackdropCollector
    from resupply.places.index import places_from_index

    name, data = damaged
    folder, sound = scratch() / "damaged.places", _sound_index()
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(sound, folder, copy_function=os.link)
    (folder / name).unlink()
    (folder / name).write_bytes(data)

    def read() -> Any:
        collector = BackdropCollector(road(), 15_000.0)
        places = places_from_index(folder, road(), reach_m=5_000.0, also=collector)
        collector.backdrop()
        return places

    return _outcome(read, are_places)


@cache
def _sound_index() -> Path:
    from resupply.places.index import build_index

    extract, root = scratch() / "seed.osm", scratch() / "sound.places"
    extract.write_bytes(kept("extract")[0])
    build_index([extract], root)
    return root


def _bare(path: Path) -> bytes:
    """Write a file of the index anew without compression and checksums, so that damage is read."""
    import pyarrow.parquet as pq

    bare = scratch() / "bare.parquet"
    file = pq.ParquetFile(path)
    about = {key: text for key, text in file.metadata.metadata.items() if key != b"ARROW:schema"}
    with file, pq.ParquetWriter(bare, file.schema_arrow, compression="none") as writer:
        for group in range(file.num_row_groups):
            writer.write_table(file.read_row_group(group))
        writer.add_key_value_metadata(about)
    return bare.read_bytes()


def _index_inputs() -> Make:
    root = _sound_index()
    makers = []
    for path in sorted(path for path in root.rglob("*") if path.is_file()):
        seeds = [path.read_bytes()]
        if path.suffix == ".parquet":
            seeds += [_bare(path)] * 2
        pair = partial(_pair, path.relative_to(root))
        makers.append(inputs.then(inputs.spoilt(seeds, (b"\xff" * 4, b"\0")), pair))
    return lambda dice: dice.choice(makers)(dice)


def _as_places(data: bytes) -> tuple[str, bytes]:
    """Put a kept file in the place of the one that holds the places, or the light map."""
    name = "map" if b"layer" in data else "places"
    (path,) = _sound_index().glob(f"part-*/{name}.parquet")
    return _pair(path.relative_to(_sound_index()), data)


def _pair(file: Path, data: bytes) -> tuple[str, bytes]:
    return str(file), data


def read_answer(data: bytes) -> str:
    """Read an answer of the live map service, up to places and roads; and from the cache."""
    from resupply.places.extract import place_of
    from resupply.places.overpass_answers import (
        AnswerError,
        OnDisk,
        checked,
        features_of,
        roads_of,
    )
    from resupply.roads.sources import graph_from_answers

    now = "2027-07-09T08:30:00+00:00"
    try:
        answer = checked(data, now)
    except AnswerError as error:
        assert len(str(error).splitlines()) == 1
        return "refused"
    for feature in features_of(answer):
        made = place_of(feature)
        if made is not None and made[0] is not None:
            assert abs(made[0].lon) <= 180.0
            made[0].name.encode()
    graph_from_answers([answer.elements], road(), reach_m=5_000.0)
    list(roads_of(answer))
    on_disk = OnDisk(scratch(), "question")
    assert on_disk.write(data, answer) is None
    assert on_disk.read() == answer
    return "read"


def _answer_inputs() -> Make:
    return inputs.weighted(
        (6, inputs.then(inputs.answers, inputs.as_json)),
        (3, inputs.spoilt(kept("answer"), JSON_PIECES)),
        (1, inputs.then(inputs.json_value, inputs.as_json)),
        (1, inputs.noise),
    )


def read_forecast(data: bytes) -> str:
    """Read an answer of the weather service, as kept on disk."""
    import json

    from resupply.common.kept_answers import keep
    from resupply.kitchen.cold.forecast import ForecastPoint, fetch_forecast

    folder = scratch() / "weather"
    path, question = _forecast_question()
    keep(folder / path, question, data, "2027-07-09T08:00:00+00:00")
    now = dt.datetime(2027, 7, 9, 9, tzinfo=dt.UTC)
    point = ForecastPoint(now.date(), lon=-25.0, lat=46.0)
    found = fetch_forecast([point], now=now, endpoint="x://", cache=folder)
    assert len(found.days) == 1
    low, high = found.days[0].low_c, found.days[0].high_c
    assert (low is None) == (high is None) == bool(found.problems)
    if low is None:
        return "refused"
    assert -90.0 <= low <= high <= 60.0
    json.dumps([low, high], allow_nan=False)
    return "read"


@cache
def _forecast_question() -> tuple[str, str]:
    """Find the one question asked here, and the name under which its answer is kept."""
    from resupply.kitchen.cold import forecast

    seen: list[tuple[str, str]] = []
    real = forecast._read_kept
    forecast._read_kept = lambda path, question, count: seen.append((path.name, question))
    try:
        point = forecast.ForecastPoint(dt.date(2027, 7, 9), lon=-25.0, lat=46.0)
        now = dt.datetime(2027, 7, 9, 9, tzinfo=dt.UTC)
        forecast.fetch_forecast([point], now=now, endpoint="x://", cache=scratch())
    finally:
        forecast._read_kept = real
    return seen[0]


# -- opening hours --


def read_hours(text: str) -> str:
    from resupply.hours.holidays import holidays_of
    from resupply.hours.stated import Sun, stated_hours

    first, last = dt.date(2027, 7, 5), dt.date(2027, 7, 19)
    sun = Sun(-25.0, 46.5, ZoneInfo("Atlantic/Azores"))
    found = stated_hours(text, first, last, holidays=_holidays(holidays_of), sun=sun)
    segments = found.segments
    assert segments[0].start == dt.datetime.combine(first, dt.time())
    assert segments[-1].end == dt.datetime.combine(last, dt.time())
    for part, after in pairwise(segments):
        assert part.start < part.end == after.start
    for part in segments:
        assert not any(c < " " for c in part.note)
    return "refused" if found.problem else "read"


@cache
def _holidays(holidays_of: Callable[..., Any]) -> Any:
    return holidays_of("AT", dt.date(2027, 7, 5), dt.date(2027, 7, 19))


def _hours_inputs() -> Make:
    sound = [text.encode() for text in made_up_hours(200, seed=8)] + kept("hours")
    pieces = tuple(word.encode() for word in texts.WORDS)
    damaged = inputs.then(
        inputs.spoilt(sound, pieces), lambda data: data.decode("utf-8", "replace")
    )
    return inputs.weighted((2, texts.hours), (1, damaged))


def _gpx_inputs() -> Make:
    sound = [gpx(track(RIDE, RIDE[:1], name="Ride")), gpx(planned(RIDE)), *kept("gpx")]
    return inputs.weighted(
        (6, inputs.gpx), (3, inputs.spoilt(sound, XML_PIECES)), (1, inputs.noise)
    )


def _forecast_inputs() -> Make:
    return inputs.weighted(
        (1, inputs.then(inputs.forecasts, inputs.as_json)),
        (1, inputs.spoilt(kept("forecast"), JSON_PIECES)),
    )


def _api() -> Target:
    from tests.fuzz import api

    return Target("the live page's API", api.inputs(), api.check, api.asks_for_plan, most_s=20.0)


def _of(
    what: str,
    make: Callable[[], Make],
    check: Callable[[Any], str],
    of_file: Callable[[bytes], Any] = bytes,
) -> Callable[[], Target]:
    return lambda: Target(what, inputs.drawn(make()), check, of_file)


TARGETS: dict[str, Callable[[], Target]] = {
    "gpx": _of("GPX", _gpx_inputs, read_gpx),
    "route": _of("KML, KMZ, GeoJSON and FIT", _route_inputs, read_route),
    "trip": _of("trip file (TOML)", _trip_inputs, read_trip, bytes.decode),
    "tables": _of("own dishes and usual hours (TOML)", _table_inputs, read_tables),
    "extract": _of(
        "map extract (.osm.pbf, .osm, .osm.gz, .osm.bz2)",
        _extract_inputs,
        read_extract,
        lambda data: (".osm", data),
    ),
    "index": _of("regional index", _index_inputs, read_index, _as_places),
    "answer": _of("answer of the live map service", _answer_inputs, read_answer),
    "forecast": _of("answer of the weather service", _forecast_inputs, read_forecast),
    "phone": _of("what a phone hands over", from_elsewhere.phone_inputs, from_elsewhere.read_phone),
    "catalogue": _of(
        "catalogue of map extracts",
        from_elsewhere.catalogue_inputs,
        from_elsewhere.read_catalogue,
    ),
    "kept": _of(
        "kept map near a route", from_elsewhere.kept_map_inputs, from_elsewhere.read_kept_map
    ),
    "hours": _of("opening hours", _hours_inputs, read_hours, bytes.decode),
    "api": _api,
}
