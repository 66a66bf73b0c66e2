"""The map data of a trip: extracts first, the live service where they say nothing."""

from __future__ import annotations

import geopandas
import pytest
from extract_files import Drawing, straight_route
from overpass_server import OverpassServer, node

from resupply.common.errors import TripFileError
from resupply.places.read import read_map
from resupply.trip.read_file import make_trip

ROUTE = straight_route()
EAST = node(12, -25.2, 46.51, shop="bakery", name="Ada's Oven")
WEST_AGAIN = node(1, -25.8, 46.5, shop="supermarket", name="Teal & Sons")


@pytest.fixture(autouse=True)
def _quick_projection(monkeypatch):
    monkeypatch.setattr(geopandas.GeoDataFrame, "estimate_utm_crs", lambda *_, **__: "EPSG:32626")


@pytest.fixture
def west(tmp_path):
    """An extract of the western half of the road, with one shop."""
    drawing = Drawing()
    drawing.road()
    drawing.node(-25.8, 46.5, shop="supermarket", name="Teal & Sons")
    box = (-26.2, 46.2, -25.5, 46.8)
    return drawing.write(tmp_path / "west.osm.pbf", box=box, stamp="2027-03-04T00:00:00Z")


def read(tmp_path, extract, server):
    trip = make_trip(
        {
            "map": {"extracts": [extract.name], "service": True, "service_url": server.endpoint},
            "pace": {"daily_km": 100.0},
        }
    )
    return read_map(trip, tmp_path, ROUTE, lambda *_: None, None)


def test_the_service_is_asked_only_where_the_extract_says_nothing(tmp_path, west):
    with OverpassServer([WEST_AGAIN, EAST]) as server:
        (places, backdrop) = read(tmp_path, west, server)
    assert [place.name for place in places.places].count("Teal & Sons") == 1
    assert "Ada's Oven" in {place.name for place in places.places}
    assert places.coverage.unknown == ()
    # The older of the two dates holds for the whole.
    assert places.coverage.data_date.startswith("2027-03-04")
    assert "live map service" in places.coverage.source
    assert backdrop


def test_a_service_that_fails_leaves_the_rest_not_known_and_says_why(tmp_path, west):
    with OverpassServer([EAST], faults=["blocked"] * 50) as server:
        places, _ = read(tmp_path, west, server)
    assert [place.name for place in places.places] == ["Teal & Sons"]
    (unknown,) = places.coverage.unknown
    assert unknown.end_m == ROUTE.length_m
    assert any("refused the question" in warning for warning in places.warnings)


def test_a_regional_index_stands_alone(tmp_path):
    trip = make_trip({"map": {"extracts": ["a.places", "b.osm.pbf"]}})
    with pytest.raises(TripFileError, match="stands alone"):
        read_map(trip, tmp_path, ROUTE, lambda *_: None, None)
