"""Files made to do harm: refused in one line, in bounded time and memory, or shown as text."""

from __future__ import annotations

import bz2
import csv
import gzip
import html.parser
import io
import json
import re
import resource
import time
import tracemalloc
from pathlib import Path
from xml.sax.saxutils import escape as xml_escape

import gpxpy
import icalendar
import numpy as np
import pytest
from extract_files import Drawing
from hypothesis import HealthCheck, Phase, given, settings
from rich.console import Console

from resupply.api import plan_files
from resupply.cli.terminal import print_summary
from resupply.common.errors import ExtractError, TripFileError
from resupply.hours.usual import read_usual_hours
from resupply.places.extract import outline_of, places_from_extract
from resupply.places.osm_file import Feature
from resupply.places.overpass_answers import AnswerError, checked
from resupply.report.document.model.as_json import to_dict
from resupply.report.write import MEDIA_TYPES, write_results
from resupply.route.route import make_route
from resupply.trip.read_file import make_trip, parse_trip
from tests import geojson_rules, gpx_rules
from tests.fuzz.inputs import HOSTILE_TEXT
from tests.fuzz.targets import TARGETS, kept
from tests.gpx_text import NS
from tests.plan_classes import as_plan

READERS = tuple(TARGETS)


def _needed_for(name: str) -> None:
    if name == "api":
        pytest.importorskip("schemathesis")


# -- the short run of the fuzz targets; the long one is tests/fuzz/run.py --


@pytest.mark.parametrize("name", READERS)
def test_a_sample_of_made_up_inputs_is_read_or_refused(name):
    _needed_for(name)
    target = TARGETS[name]()

    @settings(
        max_examples=25 if name in ("api", "route", "gpx") else 60,
        derandomize=True, database=None, deadline=None,
        phases=[Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(target.inputs)
    def one(value):
        start = time.process_time()
        assert target.check(value) in ("read", "refused")
        assert time.process_time() - start < target.most_s

    one()


@pytest.mark.parametrize("name", [name for name in READERS if kept(name)])
def test_inputs_on_file_are_read_or_refused(name):
    _needed_for(name)
    target = TARGETS[name]()
    for data in kept(name):
        assert target.check(target.of_file(data)) in ("read", "refused")


# -- maps --

ROUTE = make_route([(np.linspace(-26.0, -25.0, 101), np.full(101, 46.5), None)])
HEAD = b'<?xml version="1.0"?><osm version="0.6">'
SHOP = b'<node id="1" lat="46.5" lon="-25.5"><tag k="shop" v="supermarket"/>'


def refusal(path: Path, data: bytes) -> str:
    path.write_bytes(data)
    with pytest.raises(ExtractError) as error:
        places_from_extract([path], ROUTE, reach_m=5_000.0)
    assert "\n" not in str(error.value)
    return str(error.value)


BLANKS = b" " * 60_000_000
LONG_TAG = SHOP + b'<tag k="name" v="' + b"x" * 60_000_000 + b'"/></node>'
SAME_AGAIN = b'<node id="1" lat="46.5" lon="-25.5"/>' * 1_700_000


@pytest.mark.parametrize(
    ("pack", "ending", "filling", "says"),
    [
        (gzip.compress, ".osm.gz", BLANKS, "longer than 1 MB"),
        (bz2.compress, ".osm.bz2", BLANKS, "longer than 1 MB"),
        (gzip.compress, ".osm.gz", LONG_TAG, "longer than 1 MB"),
        (bz2.compress, ".osm.bz2", LONG_TAG, "longer than 1 MB"),
        (gzip.compress, ".osm.gz", SAME_AGAIN, "more than 100 times its size"),
    ],
    ids=["blanks, gz", "blanks, bz2", "one long tag, gz", "one long tag, bz2", "the same, gz"],
)
def test_a_packed_map_that_grows_without_end_is_refused_at_once(
    tmp_path, pack, ending, filling, says
):
    bomb = pack(HEAD + filling + b"</osm>")
    assert len(bomb) < 300_000
    tracemalloc.start()
    start = time.process_time()
    assert says in refusal(tmp_path / f"bomb{ending}", bomb)
    assert time.process_time() - start < 5.0
    assert tracemalloc.get_traced_memory()[1] < 30_000_000
    tracemalloc.stop()


@pytest.mark.parametrize(
    "inside",
    [
        b'<node id="1" lat="nan" lon="inf"/>',
        b'<node id="1" lat="1e30" lon="-25.5"/>',
        b'<bounds minlat="-999" minlon="0" maxlat="1e30" maxlon="5"/>' + SHOP + b"</node>",
        b'<node id="99999999999999999999" lat="46.5" lon="-25.5"/>',
        b'<node id="1" lat="46.5" lon="-25.5" timestamp="9999-99-99T99:99:99Z"/>',
        b"<a>" * 100_000 + b"</a>" * 100_000,
        SHOP + b'<tag k="name" v="&#xD800;"/></node>',
    ],
    ids=["no number", "no latitude", "bounds", "number", "date", "nesting", "half a character"],
)
def test_absurd_map_data_are_one_line(tmp_path, inside):
    refusal(tmp_path / "odd.osm", HEAD + inside + b"</osm>")


@pytest.mark.parametrize("ref", [4611686018427387904, -5])
def test_a_member_with_an_absurd_number_takes_no_memory_and_loses_no_shop(tmp_path, ref):
    relation = (
        f'<relation id="1"><member type="way" ref="{ref}" role=""/><member type="node" ref="{ref}" '
        'role=""/><tag k="type" v="site"/><tag k="amenity" v="fuel"/></relation>'
    )
    path = tmp_path / "odd.osm"
    path.write_bytes(HEAD + SHOP + b"</node>" + relation.encode() + b"</osm>")
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    found = places_from_extract([path], ROUTE, reach_m=5_000.0)
    assert [place.id for place in found.places] == ["node/1"]
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000


def test_a_tangled_footprint_takes_no_time():
    dice = np.random.default_rng(1)
    tangle = np.column_stack([-25.5 + 0.01 * dice.random(2_000), 46.5 + 0.01 * dice.random(2_000)])
    tangle[-1] = tangle[0]
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)])
    nested = tuple((square - 0.5) * (1 + n / 20_000) for n in range(20_000))
    start = time.process_time()
    assert outline_of(Feature("way/1", {}, tangle, closed=True)) is None
    assert outline_of(Feature("relation/1", {}, square, rings=nested)) is None
    assert time.process_time() - start < 2.0


def test_an_answer_of_millions_of_empty_lists_is_refused_before_it_is_built():
    body = b'{"elements": [' + b"[]," * 7_000_000 + b"[]]}"
    tracemalloc.start()
    with pytest.raises(AnswerError, match="more than we can take") as error:
        checked(body, "2027-07-09T08:30:00+00:00")
    assert error.value.too_much
    assert tracemalloc.get_traced_memory()[1] < 10_000_000
    tracemalloc.stop()


# -- settings --


@pytest.mark.parametrize("key", ["pace.depart", "pace.latest_camp", "food.lunch"])
def test_a_time_with_an_offset_is_refused(key):
    with pytest.raises(TripFileError, match="write it without an offset"):
        parse_trip(f'{key} = "08:30:00Z"')


@pytest.mark.parametrize(
    "text",
    [
        "x = " + "[" * 3_000,
        f"x = {'9' * 5_000}",
        "[[row]]\nkinds = [[1]]\nhours = '24/7'\nsource = 'own'",
    ],
)
def test_a_table_of_usual_hours_made_to_break_the_reader_is_one_line(tmp_path, text):
    path = tmp_path / "usual.toml"
    path.write_text(text)
    with pytest.raises(TripFileError) as error:
        read_usual_hours(path)
    assert str(error.value).startswith(str(path))


def test_the_slowest_trip_file_known_takes_little_time():
    deep = "[" + ".".join(["a"] * 2_000) + "]\n"
    for text in (deep * 100, "a = [" + "[1]," * 100_000 + "]", "x" * 999_999, '"' * 999_999):
        start = time.process_time()
        with pytest.raises(TripFileError):
            parse_trip(text[:1_000_000])
        assert time.process_time() - start < 3.0


# -- names, through the whole program --

# What XML can hold; the rest is tested where names come as JSON.
NAMES = [t for t in HOSTILE_TEXT if not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff]", t)]
# A terminal takes these for orders, or shows the text after them backwards.
ORDERS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


def hostile(n: int) -> str:
    return NAMES[n % len(NAMES)]


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """A trip of which every name is hostile: places, towns, marks, hours, files, dishes."""
    folder = tmp_path_factory.mktemp("<b>&'\"")
    map_name, route_name = "<img src=x onerror=alert(1)>.osm", "=cmd()<script>.gpx"
    drawing = Drawing()
    drawing.road()
    for n in range(3 * len(NAMES)):
        name = hostile(n)
        tags = {
            "shop": ("supermarket", "bakery", "convenience")[n % 3], "name": name, "brand": name,
            "phone": name, "website": f"javascript:alert('{name}')", "operator": name,
            "opening_hours": f'Mo-Su 00:00-24:00 "{name}"' if n % 2 else name or "24/7",
        }  # fmt: skip
        drawing.node(-26.0 + n / (3 * len(NAMES)), 46.5 + 0.002 * (n % 5), **tags)
        drawing.node(-25.99 + n / (3 * len(NAMES)), 46.5005, amenity="fuel", name=name, ice="yes")
        drawing.node(-25.98 + n / (3 * len(NAMES)), 46.48, tourism="camp_site", name=name)
        drawing.node(-25.97 + n / (3 * len(NAMES)), 46.51, place="town", name=name)
    drawing.write(folder / map_name)
    escaped = [xml_escape(name) for name in NAMES]
    marks = "".join(
        f'<wpt lat="46.5" lon="{-25.9 + n / 100}"><name>{name}</name></wpt>'
        for n, name in enumerate(escaped)
    )
    points = "".join(f'<trkpt lat="46.5" lon="{-26.0 + n / 50:.2f}"/>' for n in range(51))
    (folder / route_name).write_text(
        f'<gpx xmlns="{NS}"><metadata><name>{escaped[1]}</name></metadata>{marks}<trk><name>'
        f"{escaped[0]}</name><trkseg>{points}</trkseg></trk></gpx>", "utf-8",
    )  # fmt: skip
    dish = json.dumps(hostile(0))
    (folder / "own.toml").write_text(
        f'[ingredient.own]\nname = {dish}\nstorage = "dry"\naisle = "dry"\nunit = "g"\n'
        "packs = [100]\nl_per_kg = 1.0\nkcal_per_unit = 9.0\ndiet = 'vegan'\nallergens = []\n"
        f"[dish.own]\nname = {dish}\nkinds = ['breakfast', 'lunch', 'dinner']\nmethod = 'no-cook'\n"
        "heat = 'none'\nminutes = 1\nportions = [{ use = 'own', amount = 100, unit = 'g' }]\n"
    )
    trip = make_trip(
        {
            "name": "\x1b]0;owned\x07<script>alert(1)</script>\u202e", "route": route_name,
            "start": {"date": "2027-07-09"}, "pace": {"daily_km": 8.0},
            "map": {"extracts": [map_name], "water_km": 5.0}, "night": {"camps": True},
            "fuel": {"range_km": 60.0, "reserve_km": 5.0}, "food": {"dishes": "own.toml"},
            "cooler": {"kind": "hard", "volume_l": 20.0},
            "weather": {"low_c": 12.0, "high_c": 30.0},
        }
    )  # fmt: skip
    document, geo = plan_files(trip, folder, notes={"a note": hostile(0)})
    written = write_results(document, geo, folder / "out")
    return to_dict(document), written


def test_the_hostile_trip_has_stops_of_every_kind(results):
    document, _ = results
    assert len(document["stops"]) >= 2
    assert document["fuel"]["stops"]
    assert document["ice"]["stops"]
    names = {place["name"] for place in document["places"].values()}
    assert "<script>alert(1)</script>" in names


class _Tags(html.parser.HTMLParser):
    """Every tag of a page outside its own scripts, with its attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))


def test_hostile_names_add_no_element_to_the_page(results):
    page = results[1]["plan.html"].read_text("utf-8")
    parser = _Tags()
    parser.feed(page)
    assert not [tag for tag, attrs in parser.tags if "onerror" in attrs or "onload" in attrs]
    assert not [attrs for tag, attrs in parser.tags if tag == "img"]
    scripts = [attrs for tag, attrs in parser.tags if tag == "script"]
    assert {attrs.get("type") for attrs in scripts} <= {
        None,
        "application/json",
        "application/octet-stream",
    }
    assert "<script>alert" not in page
    assert "javascript:alert('<" not in page


def test_hostile_names_are_text_in_every_file_and_none_holds_a_control_character(results):
    _, written = results
    assert set(written) == set(MEDIA_TYPES)
    assert gpx_rules.faults(written["stops.gpx"].read_text("utf-8")) == []
    assert geojson_rules.faults(written["plan.geojson"].read_text("utf-8")) == []
    icalendar.Calendar.from_ical(written["stops.ics"].read_bytes())
    json.loads(written["plan.json"].read_text("utf-8"))
    for path in written.values():
        text = path.read_bytes().decode("utf-8").replace("\r\n", "\n").replace("\t", " ")
        found = ORDERS.search(text.replace("\u202e", "").replace("\u2066", ""))
        assert found is None, (path.name, found)


def test_a_name_adds_no_event_to_the_calendar_and_no_feature_to_the_map(results):
    document, written = results
    text = written["stops.ics"].read_text("utf-8")
    parts = list(icalendar.Calendar.from_ical(text).walk())
    assert {part.name for part in parts} <= {"VCALENDAR", "VEVENT", "VALARM"}
    assert len(re.findall(r"^BEGIN:", text, re.MULTILINE)) == len(parts)
    summaries = " ".join(part["SUMMARY"] for part in parts if part.name == "VEVENT")
    features = json.loads(written["plan.geojson"].read_text("utf-8"))["features"]
    told = " ".join(str(feature["properties"].get("name")) for feature in features)
    waypoints = gpxpy.parse(written["stops.gpx"].read_text("utf-8")).waypoints
    marked = " ".join(waypoint.name for waypoint in waypoints)
    bought = {document["places"][stop["place"]]["name"] for stop in document["stops"]}
    assert bought & set(NAMES)
    for name in bought:
        for shown in (summaries, told, marked):
            assert name in shown


def test_no_cell_of_the_table_is_a_formula(results):
    text = results[1]["stops.csv"].read_text("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert len(rows) > 2
    for row in rows:
        for key, cell in row.items():
            if key in ("lon", "lat"):
                assert not cell or abs(float(cell)) <= 180.0
            else:
                assert not re.match(r"[=+\-@\t\r＝＋－＠]", cell), (key, cell)


def test_the_terminal_is_given_no_orders(results):
    document, written = results
    out = io.StringIO()
    odd = {name: Path(f"\x1b[31m\udcff{path}") for name, path in written.items()}
    print_summary(as_plan(document), Console(file=out, width=100), odd)
    text = out.getvalue()
    assert "<script>alert(1)</script>" in text
    assert ORDERS.search(text) is None
    text.encode("utf-8")
