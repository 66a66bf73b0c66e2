"""The map near a route is read once and kept; what is kept is checked before it is used."""

from __future__ import annotations

import json
import os
from dataclasses import fields

import numpy as np
import pytest
from extract_files import Drawing, straight_route

from resupply.common.errors import ExtractError
from resupply.common.kept_answers import make_room
from resupply.plan import kept_corridor
from resupply.plan.prepare import prepare
from resupply.roads.graph import RoadGraph
from resupply.route.route import make_route
from resupply.trip.settings import Trip

BOX = (-27.0, 45.0, -24.0, 48.0)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(kept_corridor, "_LEAST_BYTES", 0)
    map_ = Drawing()
    map_.road()
    map_.node(-25.5, 46.5, shop="bakery", name="Crumb", opening_hours="Mo-Sa 07:00-18:00")
    map_.node(-25.2, 46.502, amenity="fuel", fuel__octane_95="yes")
    map_.node(-25.4, 46.5, place="village", name="Nether Wick")
    map_.write(tmp_path / "a.osm.pbf", box=BOX)
    return tmp_path


@pytest.fixture
def passes(monkeypatch):
    """Names of the extracts read, in order."""
    read = []
    scan = kept_corridor._read

    def noted(trip, paths, *rest):
        read.extend(path.name for path in paths)
        return scan(trip, paths, *rest)

    monkeypatch.setattr(kept_corridor, "_read", noted)
    return read


def trip(**pace):
    return Trip.model_validate({"map": {"extracts": ["a.osm.pbf"]}, "pace": pace})


def prepared(folder, told=None, **pace):
    tell = (lambda what, share: None) if told is None else (lambda what, share: told.append(what))
    return prepare(trip(**pace), folder, route=straight_route(), progress=tell)


def assert_same(one, other):
    assert one.places == other.places
    assert json.dumps(one.backdrop) == json.dumps(other.backdrop)
    for field in fields(RoadGraph):
        own, its = getattr(one.roads.graph, field.name), getattr(other.roads.graph, field.name)
        assert np.array_equal(own, its) if isinstance(own, np.ndarray) else own == its


def test_other_days_start_from_what_the_first_plan_read(folder, passes):
    told = []
    first = prepared(folder, daily_km=200.0)
    second = prepared(folder, told, daily_km=90.0)
    assert passes == ["a.osm.pbf"]
    assert_same(first, second)
    assert any(what.startswith("Taking the map near the route as kept on 20") for what in told)


def test_on_the_road_what_was_kept_serves_without_the_extract(folder, passes):
    first = prepared(folder)
    (folder / "a.osm.pbf").unlink()
    assert_same(first, prepared(folder))
    assert len(passes) == 1


def test_without_extract_and_with_nothing_kept_the_extract_is_missed(folder):
    (folder / "a.osm.pbf").unlink()
    with pytest.raises(ExtractError, match="no such file"):
        prepared(folder)


def test_another_extract_of_the_same_name_is_read(folder, passes):
    prepared(folder)
    path = folder / "a.osm.pbf"
    os.utime(path, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns + 1_000))
    prepared(folder)
    assert len(passes) == 2


def test_another_route_is_read_for_itself(folder, passes):
    prepared(folder)
    other = straight_route(end=(-25.1, 46.5))
    prepare(trip(), folder, route=other)
    assert len(passes) == 2


def bent(by_deg):
    """The route with a bulge in its middle, to the north; 0.01 degrees are 1.1 km."""
    lon = np.linspace(-26.0, -25.0, 201)
    bulge = np.exp(-(((lon + 25.5) / 0.05) ** 2)) - np.exp(-100.0)
    return make_route([(lon, 46.5 + by_deg * bulge * (np.abs(lon + 25.5) < 0.45), None)])


def test_a_small_change_of_the_route_reads_nothing_and_knows_the_same(folder, passes, monkeypatch):
    prepared(folder)
    found = prepare(trip(), folder, route=bent(0.01))
    assert len(passes) == 1
    monkeypatch.setattr(kept_corridor, "_alike", lambda path, *_: (path, None, None))
    fresh = prepare(trip(), folder, route=bent(0.01))
    assert len(passes) == 2
    assert found.places == fresh.places
    assert np.array_equal(found.passes.offset_m, fresh.passes.offset_m)
    assert np.array_equal(found.detours.extra_s, fresh.detours.extra_s, equal_nan=True)


def test_what_was_kept_knows_where_the_extract_ends_for_a_small_change_too(
    tmp_path, passes, monkeypatch
):
    monkeypatch.setattr(kept_corridor, "_LEAST_BYTES", 0)
    map_ = Drawing()
    map_.road(end=(-25.52, 46.5))
    map_.node(-25.7, 46.5, shop="bakery")
    map_.write(tmp_path / "a.osm.pbf", box=(-27.0, 45.0, -25.5, 48.0))
    first = prepare(trip(), tmp_path, route=straight_route()).places.coverage
    again = prepare(trip(), tmp_path, route=straight_route()).places.coverage
    assert again == first
    assert again.unknown
    found = prepare(trip(), tmp_path, route=bent(0.008))
    assert len(passes) == 1
    monkeypatch.setattr(kept_corridor, "_alike", lambda path, *_: (path, None, None))
    fresh = prepare(trip(), tmp_path, route=bent(0.008))
    assert fresh.places.coverage.unknown
    assert found.places.coverage == fresh.places.coverage


def test_a_larger_change_and_another_end_are_read(folder, passes):
    prepared(folder)
    prepare(trip(), folder, route=bent(0.03))
    assert len(passes) == 2
    prepare(trip(), folder, route=straight_route(end=(-25.001, 46.5)))
    assert len(passes) == 3


def test_damage_of_one_bit_is_noticed_and_mended(folder, passes):
    first = prepared(folder)
    (path,) = (folder / "cache").glob("corridor-*.kept")
    whole = path.read_bytes()
    for at in (40, len(whole) // 2, len(whole) - 9):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
        assert_same(first, prepared(folder))
    assert len(passes) == 4
    assert prepared(folder) and len(passes) == 4


def test_columns_that_do_not_fit_together_are_not_used(folder):
    graph = prepared(folder).roads.graph
    corridor = kept_corridor.Corridor(prepared(folder).places, {}, graph)
    marks = [None]
    packed = kept_corridor._packed(corridor, marks, straight_route())
    assert kept_corridor._unpacked(packed, marks) is not None
    for change in ({"head": graph.head + 10_000}, {"tail": graph.tail[:-1]}):
        columns = {field.name: getattr(graph, field.name) for field in fields(RoadGraph)}
        bad = kept_corridor.Corridor(corridor.places, {}, RoadGraph(**(columns | change)))
        packed = kept_corridor._packed(bad, marks, straight_route())
        assert kept_corridor._unpacked(packed, marks) is None


def test_what_is_kept_stays_within_a_bound_and_the_oldest_goes_first(folder):
    cache = folder / "cache"
    cache.mkdir()
    for age, name in enumerate(("corridor-new.kept", "corridor-old.kept")):
        (cache / name).write_bytes(bytes(1_000))
        os.utime(cache / name, (2e9 - age, 2e9 - age))
    make_room(cache, "corridor", most_bytes=1_500)
    assert [path.name for path in cache.iterdir()] == ["corridor-new.kept"]


def test_a_small_extract_is_not_kept(folder, monkeypatch):
    monkeypatch.setattr(kept_corridor, "_LEAST_BYTES", 1 << 30)
    prepared(folder)
    assert not (folder / "cache").exists()
