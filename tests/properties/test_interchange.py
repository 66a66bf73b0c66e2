"""Any name in any result file stays text; any route file is a route or one clear line."""

from __future__ import annotations

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import icalendar
import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from resupply.common.errors import RouteError
from resupply.common.text import one_line
from resupply.report.calendar import stops_calendar
from resupply.report.csv_file import stops_csv
from resupply.report.geojson import plan_geojson
from resupply.report.gpx import stops_gpx
from resupply.report.lines import cut_at_antimeridian
from resupply.route.read import parse_route
from tests import geojson_rules, gpx_rules
from tests.output_world import GEO, document
from tests.plan_classes import as_plan
from tests.route_files import FORMATS, every_format, fit_file

# A long run sets this; the suite takes a short, repeatable one.
few = settings(
    max_examples=examples(50),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)

spiteful = st.sampled_from(
    [
        "=1+1", "+", "-", "@", "'", '"', ",", ";", ":", "\\", "\\n", "\n", "\r\n", "\r", "\t",
        "<b>", "&amp;", "]]>", "<!--", "</wpt>", "BEGIN:VALARM", "END:VEVENT", "\x00", "\x1b[2J",
        "\x85", "\u2028", "\ud800", "\udfff", "\ufffe", "\uffff", "\u202e", "\ufeff", "é", "😀",
    ]
)  # fmt: skip
characters = st.characters(exclude_categories=())
names = st.lists(st.one_of(spiteful, characters), max_size=40).map("".join)

RIDE = [(-28.5, 46.25, 12.0), (-28.51, 46.26, 250.0), (-28.52, 46.25, 99.0)]
FILES = every_format(RIDE, name="Ride")


# -- names --


@few
@given(names)
def test_any_name_is_text_in_the_gpx(name):
    text = stops_gpx(as_plan(document(name)), GEO)
    assert gpx_rules.faults(text) == []
    point = ET.fromstring(text.encode()).find(f"{{{gpx_rules.NAMESPACE}}}wpt")
    shown = point.findtext(f"{{{gpx_rules.NAMESPACE}}}name")
    # gpxpy leaves blanks at the ends as they are, XML too.
    assert shown == f"1 {one_line(name) or 'unnamed supermarket'}"


@few
@given(names)
def test_any_name_is_text_in_the_table_and_never_a_formula(name):
    table = list(
        csv.reader(
            io.StringIO(stops_csv(as_plan(document(name))).removeprefix("\ufeff"), newline="")
        )
    )
    assert {len(row) for row in table} == {len(table[0])}
    assert len(table) == 6
    shown = table[2][table[0].index("name")]
    wanted = one_line(name) or "unnamed supermarket"
    assert shown.replace("'", "") == wanted.replace("'", "")
    assert not re.search(r"(^|[;\t])[=+\-@\t\r＝＋－＠]", shown)


@few
@given(names)
def test_any_name_is_text_in_the_calendar(name):
    content = stops_calendar(as_plan(document(name)))
    calendar = icalendar.Calendar.from_ical(content)
    events = calendar.walk("VEVENT")
    assert len(events) == 4 + 2 + 2 + 1  # visits, doors that shut, days, a night
    assert len(calendar.walk("VALARM")) == 2
    assert str(events[0]["location"]) == (one_line(name) or "unnamed supermarket")
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))


@few
@given(names)
def test_any_name_is_text_in_the_geojson(name):
    text = plan_geojson(as_plan(document(name)), GEO)
    assert geojson_rules.faults(text) == []
    stop = json.loads(text)["features"][5]["properties"]
    assert stop["name"] == (one_line(name) or "unnamed supermarket")
    assert text.encode("utf-8").count(b"\n") == 1


@few
@given(names)
def test_a_clean_line_is_one_printable_line_and_stays_as_it_is(name):
    line = one_line(name)
    assert line == one_line(line)
    assert len(line.splitlines()) <= 1
    assert not re.search("[\x00-\x1f\x7f-\x9f\ud800-\udfff]", line)


# -- lines --


positions = st.tuples(
    st.one_of(st.floats(-180, 180), st.sampled_from([-180.0, 180.0, 179.99999, -179.99999])),
    st.floats(-85, 85),
).map(lambda p: (round(p[0], 5), round(p[1], 5)))


@few
@given(st.lists(st.lists(positions, min_size=1, max_size=12), max_size=4))
def test_pieces_never_cross_the_antimeridian_and_keep_every_point(lines):
    pieces = cut_at_antimeridian(lines)
    for piece in pieces:
        assert len(piece) > 1
        assert all(abs(a[0] - b[0]) <= 180 for a, b in pairwise(piece))
    kept = {point for piece in pieces for point in piece}
    for line in lines:
        distinct = [p for n, p in enumerate(line) if n == 0 or p != line[n - 1]]
        inner = {p for p in distinct if abs(p[0]) != 180.0} if len(distinct) > 1 else set()
        assert inner <= kept


# -- route files --


def read(data: bytes) -> None:
    try:
        route = parse_route(data, name="ride")
    except RouteError as error:
        assert "\n" not in str(error)
        assert str(error).startswith("ride")
        return
    assert route.lon.size >= 2
    assert route.length_m > 0.0


@pytest.mark.parametrize("kind", FORMATS)
@few
@given(st.data())
def test_a_spoilt_file_is_a_route_or_one_clear_line(kind, data):
    spoilt = bytearray(FILES[kind])
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(spoilt)))
        piece = data.draw(
            st.one_of(
                st.binary(max_size=6), st.sampled_from([b"<", b"&x;", b"[[", b"1e999", b"\0"])
            )
        )
        spoilt[at : at + data.draw(st.integers(0, 8))] = piece
    read(bytes(spoilt))


@few
@given(st.binary(max_size=400))
def test_any_messages_behind_a_sound_checksum_are_a_route_or_one_clear_line(body):
    read(fit_file(body))


json_values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.floats(), st.integers(), names),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(
            st.sampled_from(
                ["type", "features", "geometry", "geometries", "coordinates", "properties", "name"]
            ),
            st.one_of(
                inner,
                st.sampled_from(
                    ["Feature", "FeatureCollection", "LineString", "Point", "MultiLineString",
                     "GeometryCollection", "Polygon"]
                ),
            ),
            max_size=5,
        ),
    ),
    max_leaves=25,
)  # fmt: skip


@few
@given(json_values)
def test_any_json_is_a_route_or_one_clear_line(value):
    read(json.dumps(value).encode())
