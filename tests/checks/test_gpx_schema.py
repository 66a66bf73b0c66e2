"""The GPX we write keeps every rule of the published schema.

Source: topografix.com/GPX/1/1/gpx.xsd; `tests/gpx_rules.py` says how its rules got here.
"""

from __future__ import annotations

import pytest
from real_data import gpx_files

from resupply.report.gpx import stops_gpx
from tests.gpx_rules import faults
from tests.gpx_text import gpx, track
from tests.output_world import GEO, document
from tests.plan_classes import as_plan

A, B = (10.0, 50.0), (10.01, 50.0)


def test_the_stops_file_keeps_every_rule():
    assert faults(stops_gpx(as_plan(document()), GEO)) == []


def test_names_that_are_markup_keep_every_rule():
    hostile = "]]><wpt lat='1' lon='1'/><!-- & \x00\x1b\ud800\uffff"
    text = stops_gpx(as_plan(document(hostile)), GEO)
    assert faults(text) == []
    assert text.count("<wpt ") == 6


def test_the_meridian_of_180_degrees_is_written_as_minus_180():
    geo = GEO | {"lon": [180.0, 179.9, -179.9, -179.85, -179.6, -179.5]}
    text = stops_gpx(as_plan(document()), geo)
    assert 'lon="180' not in text
    assert faults(text) == []


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("<wpt lat='91' lon='0'/>", "no latitudeType"),
        ("<wpt lat='1' lon='180'/>", "no longitudeType"),
        ("<wpt lat='1e1' lon='0'/>", "no latitudeType"),
        ("<wpt lat='1'/>", "attributes"),
        ("<wpt lat='1' lon='1' id='x'/>", "attributes"),
        ("<wpt lat='1' lon='1'><desc>b</desc><name>a</name></wpt>", "not allowed here"),
        ("<wpt lat='1' lon='1'><name>a</name><name>b</name></wpt>", "occurs 2 times"),
        ("<wpt lat='1' lon='1'><time>2027-07-09</time></wpt>", "no dateTime"),
        ("<wpt lat='1' lon='1'><sat>-1</sat></wpt>", "no nonNegativeInteger"),
        ("<wpt lat='1' lon='1'><ele><b/></ele></wpt>", "has children"),
        ("<wpt lat='1' lon='1'><link/></wpt>", "attributes"),
        ("<trk/><wpt lat='1' lon='1'/>", "not allowed here"),
        ("<trk><trkseg>text</trkseg></trk>", "text in <trkseg>"),
        ("<metadata><copyright/></metadata>", "attributes"),
        ("<shop/>", "not allowed here"),
    ],
)
def test_the_rules_find_each_kind_of_fault(body, says):
    text = gpx(body).decode().replace('version="1.1"', 'version="1.1" creator="x"')
    assert any(says in fault for fault in faults(text))


def test_the_rules_accept_what_other_programs_write():
    text = gpx(track([A, B], name="x")).decode()
    assert faults(text.replace('version="1.1"', 'version="1.1" creator="x"')) == []
    sound = [path for path in gpx_files() if "GPX/1/1" in path.read_text("utf-8")]
    assert sum(faults(path.read_text("utf-8")) == [] for path in sound) >= 3
