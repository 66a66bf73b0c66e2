"""Roads from the live map service, against a local one that misbehaves."""

import numpy as np
import pytest
from extract_files import straight_route
from overpass_server import OverpassServer
from road_world import graph_from_extract, ride
from test_roads_graph import crooked_country, elements_of

from resupply.common.errors import MapServiceError
from resupply.places.overpass import make_client
from resupply.roads import live
from resupply.roads.live import graph_from_service
from resupply.route.route import make_route

ROUTE = straight_route(start=(-25.95, 46.5), end=(-25.1, 46.5), points=50)


@pytest.fixture(autouse=True)
def _quick_projection(monkeypatch):
    """Spare osmnx its search for a map projection, 0.2 s for each question."""
    import geopandas

    monkeypatch.setattr(geopandas.GeoDataFrame, "estimate_utm_crs", lambda *_, **__: "EPSG:32626")


def ask(server, cache_dir, **keys):
    client = make_client(
        server.endpoint, "rider@example.org", deadline_s=20.0, timeout_s=0.4, pause_s=0.01,
        attempts=1,
    )  # fmt: skip
    return graph_from_service(
        keys.pop("route", ROUTE), client=client, cache_dir=cache_dir, reach_m=5_000.0, **keys
    )


def test_the_service_gives_the_roads_that_an_extract_gives(tmp_path):
    map_ = crooked_country()
    own = graph_from_extract([map_.write(tmp_path / "a.osm.pbf")], ROUTE, reach_m=5_000.0)
    with OverpassServer(elements_of(map_)) as server:
        steps = []
        found = ask(server, tmp_path / "kept", progress=lambda *step: steps.append(step))
        assert len(server.questions) == 2
    assert [what for what, _ in steps] == [
        "Asking for the roads: 2 questions for 65 km, about a minute",
        "Asking for the roads, part 1 of 2, about a minute left",
        "Asking for the roads, part 2 of 2, about a minute left",
    ]
    assert [share for _, share in steps] == [0.0, 0.0, pytest.approx(40.0 / 65.0, abs=0.01)]
    assert (found.node_id == own.node_id).all()
    assert np.allclose(found.seconds, own.seconds)


def test_the_second_run_asks_nothing(tmp_path):
    with OverpassServer(elements_of(crooked_country())) as server:
        first = ask(server, tmp_path)
        asked = len(server.questions)
        second = ask(server, tmp_path)
        assert len(server.questions) == asked
    assert (first.seconds == second.seconds).all()


@pytest.mark.parametrize("fault", ["refused", "cut off", "nonsense", "web page"])
def test_a_piece_without_a_whole_answer_is_an_error_not_a_hole(tmp_path, fault):
    faults = [None, fault]
    with (
        OverpassServer(elements_of(crooked_country()), faults=faults) as server,
        pytest.raises(MapServiceError, match=r"km 40 to 65 are not known"),
    ):
        ask(server, tmp_path)


def test_what_is_too_much_at_once_is_asked_in_halves(tmp_path):
    map_ = crooked_country()
    with OverpassServer(elements_of(map_), faults=["remark"]) as server:
        found = ask(server, tmp_path)
        assert len(server.questions) == 4
    own = graph_from_extract([map_.write(tmp_path / "a.osm.pbf")], ROUTE, reach_m=5_000.0)
    assert (found.node_id == own.node_id).all()


def test_a_longer_route_that_begins_alike_asks_for_the_rest_alone(tmp_path):
    map_ = elements_of(crooked_country())
    lon = np.concatenate([ROUTE.lon, ROUTE.lon[-1] + 0.02 * np.arange(1, 31)])
    longer = make_route([(lon, np.full(len(lon), 46.5), None)])
    with OverpassServer(map_) as server:
        ask(server, tmp_path)
        first = len(server.questions)
        ask(server, tmp_path, route=longer)
        asked = len(server.questions) - first
        assert (first, asked) == (2, 2)


def test_roads_along_a_route_of_any_length_are_asked_for(tmp_path):
    long = ride({"a": (0, 0), "b": (600, 0)}, "a", "b", step_km=10.0)
    with OverpassServer(elements_of(crooked_country())) as server:
        ask(server, tmp_path, route=long)
        assert len(server.questions) == 15


def test_more_than_a_service_should_send_is_not_asked_for(tmp_path, monkeypatch):
    monkeypatch.setattr(live, "MOST_BYTES", 10)
    with OverpassServer(elements_of(crooked_country())) as server:
        with pytest.raises(MapServiceError, match="of roads came"):
            ask(server, tmp_path)
        assert len(server.questions) == 1
