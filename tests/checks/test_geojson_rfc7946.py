"""The GeoJSON we write keeps the rules of RFC 7946 (IETF, August 2016)."""

from __future__ import annotations

import json

import pytest

from resupply.report.geojson import plan_geojson
from tests.geojson_rules import faults
from tests.output_world import GEO, document
from tests.plan_classes import as_plan


def test_the_plan_file_keeps_every_rule():
    assert faults(plan_geojson(as_plan(document()), GEO)) == []


def test_names_that_are_code_keep_every_rule():
    hostile = '"},"crs":{"</script>\\u0000\x00\ud800'
    assert faults(plan_geojson(as_plan(document(hostile)), GEO)) == []


def test_the_example_of_the_standard_is_cut_as_it_is_there():
    # Section 3.1.9: a line from 45° N, 170° E to 45° N, 170° W.
    from resupply.report.lines import cut_at_antimeridian

    assert cut_at_antimeridian([[(170.0, 45.0), (-170.0, 45.0)]]) == [
        [(170.0, 45.0), (180.0, 45.0)],
        [(-180.0, 45.0), (-170.0, 45.0)],
    ]


@pytest.mark.parametrize(
    ("geometry", "says"),
    [
        ({"type": "LineString", "coordinates": [[170, 45], [-170, 45]]}, "crosses"),
        ({"type": "LineString", "coordinates": [[170, 45]]}, "fewer than two"),
        ({"type": "Point", "coordinates": [45, 170]}, "not in degrees"),
        ({"type": "Point", "coordinates": ["1", 2]}, "no position"),
        ({"type": "MultiLineString", "coordinates": []}, "no line"),
    ],
)
def test_the_rules_find_each_kind_of_fault(geometry, says):
    feature = {"type": "Feature", "properties": {}, "geometry": geometry}
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    assert any(says in fault for fault in faults(text))
