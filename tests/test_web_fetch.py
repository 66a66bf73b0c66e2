"""The live page finds and fetches map data, with a local provider of real extracts."""

from __future__ import annotations

import json

import pytest
import requests
from catalogue_server import CatalogueServer
from gpx_text import gpx, track
from live_world import serving
from test_fetch import ANDORRA, EXTRACTS, RIDE

from resupply.web.settings import ServerMap

GPX = gpx(track(RIDE, name="Up the valley"))
TRIP = {"start": {"date": "2027-07-09"}, "pace": {"daily_km": 10}}


@pytest.fixture
def provider():
    with CatalogueServer(EXTRACTS) as server:
        yield server


def asked(address, path, body):
    return requests.post(f"{address}{path}", json=body, headers={"Origin": address}, timeout=20)


def events(address, key):
    with requests.get(f"{address}/api/load/{key}", stream=True, timeout=20) as answer:
        for line in answer.iter_lines():
            if line.startswith(b"data: "):
                yield json.loads(line[6:])


def test_the_page_tells_what_it_would_fetch_fetches_it_and_plans_with_it(provider, tmp_path):
    own = ServerMap(catalogue=provider.address)
    with serving(own, tmp_path) as address:
        route = requests.post(
            f"{address}/api/route", data=GPX, headers={"Origin": address}, timeout=20
        ).json()["route"]
        body = {"route": route, "trip": TRIP}
        early = asked(address, "/api/maps/fetch", body)
        assert early.status_code == 422
        assert "Look for map data first" in early.json()["error"]
        told = asked(address, "/api/maps/find", body).json()
        assert [(one["name"], one["bytes"]) for one in told["maps"]] == [
            ("Andorra", ANDORRA.stat().st_size)
        ]
        assert provider.fetched() == []
        load = asked(address, "/api/maps/fetch", body).json()["load"]
        *_, last = events(address, load)
        assert (last["done"], last["error"]) == (True, None)
        assert requests.get(f"{address}/api/map", timeout=20).json()["extracts"] == [
            "andorra.osm.pbf"
        ]
        assert (tmp_path / "maps" / "andorra.osm.pbf").read_bytes() == ANDORRA.read_bytes()


def test_a_client_names_no_catalogue_of_its_own(provider, tmp_path):
    own = ServerMap(catalogue=str(tmp_path / "none.json"))
    with serving(own, tmp_path) as address:
        route = requests.post(
            f"{address}/api/route", data=GPX, headers={"Origin": address}, timeout=20
        ).json()["route"]
        trip = {**TRIP, "map": {"catalogue": provider.address}}
        refused = asked(address, "/api/maps/find", {"route": route, "trip": trip})
        assert refused.status_code == 422
        assert "none.json" in refused.json()["error"]
    assert provider.asked == []


@pytest.mark.browser
def test_a_rider_fetches_map_data_on_the_page(browser, provider, tmp_path):
    from test_web_browser import Rider

    own = ServerMap(catalogue=provider.address)
    path = tmp_path / "valley.gpx"
    path.write_bytes(GPX)
    with serving(own, tmp_path) as address, Rider(browser, address) as rider:
        tab = rider.tab
        rider.open()
        rider.upload(path)
        tab.click("#open-map-data")
        tab.locator("#fetch-maps").wait_for(timeout=15_000)
        assert "Andorra" in tab.inner_text("#panel-days .fetching")
        # What was found stays when the answers lead there again.
        tab.click("#tab-answers")
        tab.click("#open-map-data")
        assert tab.locator("#fetch-maps").is_visible()
        tab.locator("#fetch-maps").click()
        tab.locator(".strip-dark path").first.wait_for(state="detached")
        rider.rest()
        assert tab.evaluate("Object.keys(Resupply.plan.places).length") > 3
        tab.click("#tab-answers")
        assert tab.locator("#open-map-data").count() == 0
        assert rider.faults == []
