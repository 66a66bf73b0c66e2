"""Ways to shops are sought once; what is kept of them is the same ways, or is sought again."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from extract_files import Drawing, straight_route

from resupply.common.columns import pack
from resupply.plan import kept_ways
from resupply.plan.prepare import prepare
from resupply.roads.detours import Detours
from resupply.roads.match import MatchedRoute
from resupply.trip.settings import Trip


@pytest.fixture
def folder(tmp_path):
    map_ = Drawing()
    map_.road()
    map_.node(-25.5, 46.5, shop="bakery", name="Crumb")
    map_.node(-25.2, 46.502, amenity="fuel", fuel__octane_95="yes")
    map_.write(tmp_path / "a.osm.pbf", box=(-27.0, 45.0, -24.0, 48.0))
    (tmp_path / "cache").mkdir()
    return tmp_path


@pytest.fixture
def sought(monkeypatch):
    """How many passes each search was for, in order."""
    counts = []
    search = kept_ways.detours

    def noted(graph, matched, passes, lon, lat):
        counts.append(len(passes))
        return search(graph, matched, passes, lon, lat)

    monkeypatch.setattr(kept_ways, "detours", noted)
    return counts


def ways(folder, **settings):
    trip = Trip.model_validate({"map": {"extracts": ["a.osm.pbf"]}, **settings})
    return prepare(trip, folder, route=straight_route()).detours


def assert_same(one, other):
    for field in fields(Detours):
        own, its = getattr(one, field.name), getattr(other, field.name)
        if field.name.startswith("path_"):
            assert [[*map(list, line)] for line in own] == [[*map(list, line)] for line in its]
        elif isinstance(own, np.ndarray):
            assert np.array_equal(own, its, equal_nan=True)
        else:
            assert own == its


def test_other_days_seek_no_way_again(folder, sought):
    first = ways(folder, pace={"daily_km": 200.0})
    assert_same(first, ways(folder, pace={"daily_km": 90.0}))
    assert len(sought) == 1
    assert any(len(line[0]) for line in first.path_out)


def test_fewer_places_are_sought_anew(folder, sought):
    ways(folder)
    trip = Trip.model_validate({"map": {"extracts": ["a.osm.pbf"]}})
    shop = prepare(trip, folder, route=straight_route())
    ways(folder, shops={"gone": [shop.places.places[0].id]})
    assert sought == [2, 1]


def test_what_is_damaged_or_of_other_passes_is_sought_again(folder, sought):
    first = ways(folder)
    (path,) = (folder / "cache").glob("ways-*.kept")
    whole = path.read_bytes()
    path.write_bytes(whole[:-9] + b"x" + whole[-8:])
    assert_same(first, ways(folder))
    assert len(sought) == 2
    assert kept_ways._unpacked(b"no archive", 2) is None
    packed = kept_ways._packed(first)
    count = len(first.extra_m)
    assert kept_ways._unpacked(packed, count) is not None
    assert kept_ways._unpacked(packed, count + 1) is None
    assert kept_ways._unpacked(pack({"why_not": [], "source": ""}, {}), 0) is None


def test_without_the_folder_nothing_is_kept(folder, sought):
    (folder / "cache").rmdir()
    assert_same(ways(folder), ways(folder))
    assert len(sought) == 2
    assert not (folder / "cache").exists()


def test_the_roads_under_a_route_are_matched_once_for_all_days(folder, monkeypatch):
    matched = []
    match = kept_ways.match_route
    monkeypatch.setattr(
        kept_ways,
        "match_route",
        lambda *of, **how: matched.append(match(*of, **how)) or matched[-1],
    )
    route, cache = straight_route(), folder / "cache"
    trip = Trip.model_validate({"map": {"extracts": ["a.osm.pbf"]}})
    graph = prepare(trip, folder, route=route).roads.graph
    matched.clear()
    for path in cache.glob("match-*"):
        path.unlink()
    first, again = (kept_ways.match_once(graph, route, 60.0, cache) for _ in "ab")
    assert len(matched) == 1
    assert len(first.edge) > 10
    for field in fields(MatchedRoute):
        own, its = getattr(first, field.name), getattr(again, field.name)
        if field.name == "ride_time":
            assert np.array_equal(own.chainage_m, its.chainage_m)
            assert np.array_equal(own.ride_s, its.ride_s)
            assert (own.source, own.crossings) == (its.source, its.crossings)
        else:
            assert np.array_equal(own, its) if isinstance(own, np.ndarray) else own == its
    # Roads that the graph has not are matched anew.
    (path,) = cache.glob("match-*.kept")
    body = kept_ways._packed_match(replace(first, edge=first.edge + len(graph.head)))
    assert kept_ways._unpacked_match(body, graph) is None
    body = kept_ways._packed_match(replace(first, node=first.node[1:]))
    assert kept_ways._unpacked_match(body, graph) is None
    path.write_bytes(path.read_bytes()[:-9] + b"x" * 9)
    kept_ways.match_once(graph, route, 60.0, cache)
    kept_ways.match_once(graph, route, 50.0, cache)
    assert len(matched) == 3
