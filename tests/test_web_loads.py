"""Loads of map data for the live page: which runs next, and which are in vain."""

from __future__ import annotations

import threading
import time

import pytest
from extract_files import straight_route

from resupply.plan.prepare import prepare
from resupply.trip.read_file import make_trip
from resupply.web import kept_maps, kept_routes
from resupply.web.kept_maps import KeptMaps
from resupply.web.kept_routes import LoadedRoute, MapReading

TRIP = make_trip({"start": {"date": "2027-07-09"}})
ROUTE = straight_route(points=5)


@pytest.fixture
def begun(monkeypatch):
    """Keys of the routes whose maps were begun, each of which takes 0.4 s."""
    seen = []

    def slow(trip, folder, *, progress, stop, **keys):
        seen.append(folder.name)
        for _ in range(20):
            progress("Reading", None)
            time.sleep(0.02)
        return prepare(trip, folder, progress=progress, stop=stop, **keys)

    monkeypatch.setattr(kept_maps, "prepare", slow)
    return seen


def source(tmp_path, name):
    folder = tmp_path / name
    folder.mkdir(exist_ok=True)
    return LoadedRoute(name, ROUTE, folder)


def left_behind(worlds, source_of):
    """Start a load for a page that goes away at once."""
    load = worlds.find(TRIP, source_of, stopped=lambda: True)
    assert isinstance(load, MapReading)
    return load


def ended(load, seconds=3.0):
    with load.changed:
        assert load.changed.wait_for(lambda: load.done, timeout=seconds)
    return load.error


def test_a_new_route_does_not_wait_for_those_that_nobody_waits_for(tmp_path, begun):
    worlds = KeptMaps()
    loads = [left_behind(worlds, source(tmp_path, f"old {n}")) for n in range(40)]
    start = time.monotonic()
    mine = source(tmp_path, "mine")
    while isinstance(found := worlds.find(TRIP, mine), MapReading):
        assert time.monotonic() - start < 4.0
    assert found.prepared.route is ROUTE
    # Only what was running when it came.
    assert begun.index("mine") <= 2
    for load in loads:
        load.cancel()
    assert {ended(load) for load in loads} >= {"loading was stopped; what was fetched is kept"}


def test_a_load_that_nobody_waits_for_any_more_ends(tmp_path, begun, monkeypatch):
    monkeypatch.setattr(kept_routes, "_UNWANTED_S", 0.1)
    worlds = KeptMaps()
    running, queued = (left_behind(worlds, source(tmp_path, name)) for name in ("one", "two"))
    assert "stopped" in ended(running)
    assert "stopped" in ended(queued)


def test_a_load_that_is_listened_to_goes_on(tmp_path, begun, monkeypatch):
    monkeypatch.setattr(kept_routes, "_UNWANTED_S", 0.1)
    load = left_behind(KeptMaps(), source(tmp_path, "one"))
    with load.listened_to():
        assert ended(load) is None


def test_the_wait_for_a_short_load_ends_when_the_page_goes_away(tmp_path, begun):
    gone = threading.Event()
    threading.Timer(0.1, gone.set).start()
    start = time.monotonic()
    assert isinstance(
        KeptMaps().find(TRIP, source(tmp_path, "one"), stopped=gone.is_set), MapReading
    )
    assert time.monotonic() - start < 0.39
