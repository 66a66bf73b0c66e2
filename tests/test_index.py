"""A regional index: the same places and coverage as its extracts, little read, never half made."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from extract_files import Drawing, straight_route
from real_data import extracts
from road_world import graph_from_extract

from resupply.common.errors import ExtractError, MapDataError, OutputError
from resupply.common.geodesy import geod, to_ecef_m
from resupply.places import index_build, index_read, index_roads, index_write
from resupply.places.base_map import BackdropCollector, read_extract
from resupply.places.extract import places_from_extract
from resupply.places.index import build_index, places_from_index
from resupply.places.index_columns import blob_column, number_column, text_column
from resupply.places.index_cover import CoverGrid, cube_boxes, on_surface
from resupply.places.index_write import hilbert_distance
from resupply.places.near_route import cube_keys, samples_along
from resupply.places.place import Supply
from resupply.roads.graph import array_names
from resupply.roads.sources import RoadCollector
from resupply.roads.speeds import load_speeds
from resupply.roads.ways import road_of
from resupply.route.route import make_route

pq = pytest.importorskip("pyarrow.parquet")

BOX = (-26.2, 46.2, -24.8, 46.8)
DAY = "2027-03-04T00:00:00Z"


def street(shops=40, *, area=False):
    """A road with shops beside it, some far off, some of them areas with a node inside."""
    drawing = Drawing()
    drawing.road()
    for number, lon in enumerate(np.linspace(-26.05, -24.95, shops)):
        lat = 46.5 + 0.004 * (number % 5) + (0.2 if number % 7 == 0 else 0.0)
        kind = ("supermarket", "bakery", "kiosk")[number % 3]
        if number % 2 or area:
            drawing.area(lon, lat, shop=kind, name=f"Shop {number}")
            drawing.node(lon, lat, shop=kind, opening_hours="24/7")
        else:
            drawing.node(lon, lat, shop=kind, name=f"Shop {number}", opening_hours="Mo-Fr 08:00+")
    drawing.node(-25.3, 46.503, amenity="drinking_water")
    drawing.node(-25.2, 46.48, tourism="camp_site", name='Say "hi" \\ <b>\u2028🏕</b>', fee="yes")
    return drawing


@pytest.fixture
def extract(tmp_path):
    return street().write(tmp_path / "street.osm.pbf", box=BOX, stamp=DAY)


@pytest.fixture
def index(extract, tmp_path):
    build_index([extract], tmp_path / "street.places")
    return tmp_path / "street.places"


def told_alike(found):
    return replace(found, coverage=replace(found.coverage, source=""))


@pytest.mark.parametrize("reach_m", [300.0, 5_000.0, 30_000.0])
def test_an_index_gives_the_places_and_coverage_of_its_extract(extract, index, reach_m):
    route = straight_route(start=(-26.6, 46.5), end=(-25.0, 46.5))
    expected = places_from_extract([extract], route, reach_m=reach_m)
    found = places_from_index(index, route, reach_m=reach_m)
    assert expected.places
    assert expected.coverage.unknown
    assert told_alike(found) == told_alike(expected)


def test_hostile_names_come_back_as_they_were(index):
    found = places_from_index(index, straight_route(), reach_m=5_000.0)
    (camp,) = [place for place in found.places if Supply.CAMP in place.supplies]
    assert camp.name == 'Say "hi" \\ <b> 🏕</b>'
    assert camp.tags["fee"] == "yes"


def test_two_extracts_in_one_index_count_a_place_once(tmp_path):
    drawing = street()
    west = drawing.write(tmp_path / "west.osm.pbf", box=(-26.2, 46.2, -25.5, 46.8), stamp=DAY)
    drawing.node(-25.1, 46.505, shop="deli", name="Only in the east")
    east = drawing.write(
        tmp_path / "east.osm.pbf", box=(-25.6, 46.2, -24.8, 46.8), stamp="2027-01-01T00:00:00Z"
    )
    build_index([west, east], tmp_path / "both.places")
    route = straight_route()
    expected = places_from_extract([west, east], route, reach_m=5_000.0)
    found = places_from_index(tmp_path / "both.places", route, reach_m=5_000.0)
    assert told_alike(found) == told_alike(expected)
    assert found.coverage.data_date == "2027-01-01"
    assert found.coverage.unknown == ()


def test_without_a_box_one_stray_road_covers_nothing_as_in_the_extract(tmp_path):
    drawing = street()
    drawing.line([(-25.0, 46.5), (-24.2, 46.5)], highway="primary")
    path = drawing.write(tmp_path / "a.osm.pbf")
    build_index([path], tmp_path / "a.places")
    route = straight_route(end=(-24.3, 46.5), points=400)
    expected = places_from_extract([path], route, reach_m=5_000.0)
    found = places_from_index(tmp_path / "a.places", route, reach_m=5_000.0)
    assert found.coverage.unknown[-1].end_m == pytest.approx(route.length_m)
    assert told_alike(found) == told_alike(expected)
    assert found.coverage.data_date == "2027-03-04"


def test_a_route_across_the_antimeridian_finds_both_sides(tmp_path):
    drawing = Drawing()
    for lon in (179.9, -179.9):
        drawing.line([(lon, -17.0), (lon + 0.09, -17.0)], highway="secondary")
        drawing.node(lon, -17.01, shop="supermarket", name=f"At {lon}")
    drawing.node(170.0, -17.01, shop="supermarket", name="Far")
    path = drawing.write(tmp_path / "a.osm.pbf", box=(-180, -18, 180, -16))
    build_index([path], tmp_path / "a.places")
    route = make_route([([179.7, 180.0, -179.7], [-17.0, -17.0, -17.0], None)])
    found = places_from_index(tmp_path / "a.places", route, reach_m=5_000.0)
    assert {place.name for place in found.places} == {"At 179.9", "At -179.9"}


def test_a_place_stays_if_anything_it_supplies_is_near_enough(extract, index):
    route = straight_route()
    every = places_from_index(index, route, reach_m=30_000.0)
    own_m = dict.fromkeys(Supply, 1_000.0) | {Supply.GROCERIES: 30_000.0}
    found = places_from_index(index, route, reach_m=30_000.0, of_supply_m=own_m)
    far = {place.id for place in every.places if abs(place.lat - 46.5) > 0.05}
    full = {place.id for place in every.places if Supply.GROCERIES in place.supplies}
    assert {place.id for place in found.places} == {p.id for p in every.places} - (far - full)
    assert far - full
    assert far & full


def test_the_light_map_is_that_of_the_extract(tmp_path):
    drawing = street()
    drawing.line([(-26.0, 46.51), (-25.5, 46.52), (-25.2, 46.55)], waterway="river")
    drawing.area(-25.6, 46.56, half=0.02, natural="water")
    drawing.node(-25.4, 46.51, place="town", name="Skerry", population="1 200")
    drawing.node(-25.3, 46.51, place="town", name="Crown Head", capital="yes")
    drawing.node(-20.0, 46.51, place="town", name="Far")
    drawing.line([(-25.8, 46.4), (-25.7, 46.6)], boundary="administrative", admin_level="2")
    drawing.line([(-25.8, 46.4), (-25.7, 46.6)], boundary="administrative", admin_level="8")
    drawing.node(-25.65, 46.55, natural="volcano", name="Smoke", ele="1204 m")
    drawing.node(-25.65, 46.56, natural="peak", name="Of no height")
    drawing.node(-25.66, 46.5, mountain_pass="yes", name="Gap", ele="730")
    drawing.node(-25.66, 46.56, mountain_pass="yes", name="Footpath", ele="930")
    path = drawing.write(tmp_path / "a.osm.pbf", box=BOX)
    build_index([path], tmp_path / "a.places")
    route = straight_route()
    _, expected = read_extract([path], route, reach_m=5_000.0)
    collector = BackdropCollector(route, 15_000.0)
    places_from_index(tmp_path / "a.places", route, reach_m=5_000.0, also=collector)
    found = collector.backdrop()
    assert found.towns == expected.towns
    assert [kind for kind, _ in found.waters] == ["area", "line"]
    assert len(found.borders) == 1
    assert [one.name for one in found.summits] == ["Gap", "Smoke"]
    assert found == expected


@pytest.fixture
def many_places(tmp_path, monkeypatch):
    """An index of 8,000 places all over half a continent, in groups of 128."""
    monkeypatch.setattr(index_write, "ROWS_IN_GROUP", 128)
    monkeypatch.setattr(index_write, "_ROWS_IN_RUN", 1_000)
    dice = np.random.default_rng(5)
    drawing = Drawing()
    drawing.road()
    for lon, lat in dice.uniform((-30.0, 40.0), (-10.0, 60.0), (8_000, 2)):
        drawing.node(lon, lat, shop="bakery")
    path = drawing.write(tmp_path / "many.osm.pbf", box=(-30, 40, -10, 60))
    build_index([path], tmp_path / "many.places")
    return path, tmp_path / "many.places"


def test_only_row_groups_that_the_corridor_touches_are_read(many_places, monkeypatch):
    path, index = many_places
    read = []
    inner = pq.ParquetFile.read_row_groups

    def counted(self, groups, columns=None, **options):
        if columns and "lon" in columns:
            read.append((len(groups), self.metadata.num_row_groups))
        return inner(self, groups, columns=columns, **options)

    monkeypatch.setattr(pq.ParquetFile, "read_row_groups", counted)
    route = straight_route()
    found = places_from_index(index, route, reach_m=10_000.0)
    ((touched, whole),) = read
    assert whole == 63
    assert 1 <= touched <= 4
    assert found.places == places_from_extract([path], route, reach_m=10_000.0).places
    assert found.places


def test_other_readers_understand_the_file_and_its_boxes(many_places):
    geopandas = pytest.importorskip("geopandas")
    (part,) = many_places[1].glob("part-*")
    box = (-26.0, 46.0, -25.0, 47.0)
    frame = geopandas.read_parquet(part / "places.parquet", bbox=box)
    whole = geopandas.read_parquet(part / "places.parquet")
    assert whole.crs.equals("OGC:CRS84")
    assert len(whole) == 8_000
    inside = whole[
        whole.geometry.intersects(
            geopandas.GeoSeries.from_wkt(["POLYGON((-26 46,-25 46,-25 47,-26 47,-26 46))"])[0]
        )
    ]
    assert set(inside["id"]) <= set(frame["id"])
    assert len(frame) < 40


def test_columns_are_the_ones_that_the_library_makes():
    import pyarrow as pa

    words = ["", "Café", "氷 🧊", "a" * 300]
    assert text_column(words).equals(pa.array(words))
    assert text_column([]).equals(pa.array([], pa.string()))
    assert blob_column([b"", b"\x00\xff"]).equals(pa.array([b"", b"\x00\xff"]))
    for kind in (np.int64, np.int32, np.float32, np.float64):
        numbers = np.arange(5, dtype=kind)
        assert number_column(numbers[::2]).equals(pa.array(numbers[::2]))


def test_writing_an_index_loads_no_table_library(tmp_path):
    code = (
        "import sys, pyarrow as pa, shapely; from pathlib import Path; "
        "from resupply.places.index_write import SpatialWriter; "
        "rows = SpatialWriter(pa.schema([('id', pa.string()), ('lon', pa.float64())]), Path('r')); "
        "rows.add(('a', 1.0), shapely.Point(1.0, 2.0)); "
        "rows.finish(Path('f'), geometry_types=['Point'], about={}); "
        "sys.exit('pandas' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, cwd=tmp_path).returncode == 0


def test_sorted_runs_are_merged_without_loss(tmp_path, monkeypatch):
    import pyarrow as pa
    import shapely

    monkeypatch.setattr(index_write, "_ROWS_IN_RUN", 300)
    dice = np.random.default_rng(3)
    spots = dice.uniform((-170.0, -80.0), (170.0, 80.0), (5_000, 2))
    writer = index_write.SpatialWriter(pa.schema([("number", pa.int64())]), tmp_path / "runs")
    for number, spot in enumerate(spots):
        writer.add((number,), shapely.Point(spot))
    boxes = writer.finish(tmp_path / "a.parquet", geometry_types=("Point",), about={})
    file = pq.ParquetFile(tmp_path / "a.parquet")
    first = 0
    numbers = file.read().column("number").to_pylist()
    for group, (west, south, east, north) in enumerate(boxes):
        rows = file.metadata.row_group(group).num_rows
        here = spots[numbers[first : first + rows]]
        assert (here >= [west, south]).all()
        assert (here <= [east, north]).all()
        first += rows
    assert sorted(numbers) == list(range(5_000))
    assert list(tmp_path.iterdir()) == [tmp_path / "a.parquet"]


def test_cubes_through_the_ground_are_never_left_out():
    dice = np.random.default_rng(4)
    lon, lat = dice.uniform(-180, 180, 20_000), np.degrees(np.arcsin(dice.uniform(-1, 1, 20_000)))
    for side_m in (2_500.0, 62_500.0):
        keys = cube_keys(to_ecef_m(lon, lat), side_m)
        assert on_surface(keys, side_m).all()
        boxes = cube_boxes(keys[:500], side_m)
        for x, y in zip(lon[:500], lat[:500], strict=True):
            inside = (
                (boxes[:, 0] <= x) & (x <= boxes[:, 2]) & (boxes[:, 1] <= y) & (y <= boxes[:, 3])
            )
            assert inside.any()


def test_coverage_gathered_in_small_batches_is_the_same(monkeypatch):
    from resupply.places import index_cover

    dice = np.random.default_rng(6)
    lines = [
        np.cumsum(np.vstack([dice.uniform((5, 45), (7, 46)), dice.normal(0, 0.01, (6, 2))]), axis=0)
        for _ in range(300)
    ]

    def gathered(at_once):
        grid = CoverGrid()
        for first in range(0, 300, at_once):
            some = lines[first : first + at_once]
            grid.take(np.concatenate(some), np.repeat(np.arange(len(some)), 7))
        return grid.covered(1), grid.covered(3)

    expected = gathered(300)
    monkeypatch.setattr(index_cover, "_PAIRS_AT_ONCE", 50)
    monkeypatch.setattr(index_cover, "_ROADS_AT_ONCE", 40)
    for one, other in zip(gathered(7), expected, strict=True):
        assert np.array_equal(one, other)
    assert 0 < len(expected[1]) < len(expected[0])


def test_a_finished_part_is_not_made_again_and_a_changed_extract_is(extract, index, monkeypatch):
    made = []
    inner = index_build._make_part
    monkeypatch.setattr(
        index_build, "_make_part", lambda *args: (made.append(args[0].name), inner(*args))
    )
    (before,) = index.glob("part-*")
    build_index([extract], index)
    assert made == []
    os.utime(extract, (1, 1))
    build_index([extract], index)
    assert made == [extract.name]
    (after,) = index.glob("part-*")
    assert before != after


def test_a_broken_extract_leaves_the_earlier_index_alone(extract, index, tmp_path):
    before = (index / "index.json").read_bytes()
    bad = tmp_path / "cut.osm.pbf"
    bad.write_bytes(extract.read_bytes()[:-40])
    with pytest.raises(ExtractError, match=r"cut\.osm\.pbf"):
        build_index([extract, bad], index)
    assert (index / "index.json").read_bytes() == before
    assert not list(index.glob("unfinished-*"))
    assert places_from_index(index, straight_route(), reach_m=5_000.0).places


SLOW_BUILD = """
import sys, time
from pathlib import Path
from resupply.places import index_build
inner = index_build.PartFiles.finish
def slow(self, **keys):
    inner(self, **keys)
    if list(Path(sys.argv[1]).glob("part-*/part.json"))[1:]:
        print("nearly", flush=True)
        time.sleep(60)
index_build.PartFiles.finish = slow
index_build.build_index([Path(name) for name in sys.argv[2:]], Path(sys.argv[1]))
"""


def test_a_killed_build_leaves_the_earlier_index_and_goes_on_where_it_was(
    index, tmp_path, monkeypatch
):
    before = (index / "index.json").read_bytes()
    route = straight_route()
    found = places_from_index(index, route, reach_m=5_000.0)
    second = street(area=True).write(tmp_path / "second.osm.pbf", box=BOX)
    third = street(10).write(tmp_path / "third.osm.pbf", box=BOX)
    slow = subprocess.Popen(
        [sys.executable, "-c", SLOW_BUILD, index, second, third], stdout=subprocess.PIPE
    )
    with slow.stdout:
        assert slow.stdout.readline() == b"nearly\n"
        slow.send_signal(signal.SIGKILL)
        slow.wait()
    assert list(index.glob("unfinished-*"))
    assert (index / "index.json").read_bytes() == before
    assert places_from_index(index, route, reach_m=5_000.0) == found
    made = []
    inner = index_build._make_part
    monkeypatch.setattr(
        index_build, "_make_part", lambda *args: (made.append(args[0].name), inner(*args))
    )
    parts = build_index([second, third], index)
    assert made == ["third.osm.pbf"]
    assert [part.source for part in parts] == ["second.osm.pbf", "third.osm.pbf"]
    assert len(list(index.iterdir())) == 3
    assert len(places_from_index(index, route, reach_m=5_000.0).places) > len(found.places)


def test_a_disk_that_fills_up_while_gathering_leaves_the_earlier_index(
    index, tmp_path, monkeypatch
):
    found = places_from_index(index, straight_route(), reach_m=5_000.0)
    before = (index / "index.json").read_bytes()
    second = street(10).write(tmp_path / "second.osm.pbf", box=BOX)
    with monkeypatch.context() as full, pytest.raises(OutputError, match="No space left") as fault:
        full.setattr(os, "fsync", _no_space)
        build_index([second], index)
    assert "\n" not in str(fault.value)
    assert (index / "index.json").read_bytes() == before
    assert places_from_index(index, straight_route(), reach_m=5_000.0) == found
    assert [part.source for part in build_index([second], index)] == ["second.osm.pbf"]
    assert not list(index.glob("unfinished-*"))


def _no_space(_handle):
    raise OSError(28, "No space left on device")


def test_what_is_no_index_is_refused_in_one_line(index, tmp_path):
    route = straight_route()

    def refused(path, says):
        with pytest.raises(MapDataError, match=says) as error:
            places_from_index(path, route, reach_m=5_000.0)
        assert "\n" not in str(error.value)

    refused(tmp_path / "none.places", "no such regional index")
    (tmp_path / "empty.places").mkdir()
    refused(tmp_path / "empty.places", "never finished")
    contents = json.loads((index / "index.json").read_text())
    (index / "index.json").write_text(json.dumps({**contents, "schema": "resupply-places/9"}))
    refused(index, "another version")
    for wrong in (
        {"folder": "../elsewhere"}, {"box": [1, 2, 3]}, {"extent": ["west", 0, 1, 2]},
        {"nowhere": "none"}, {"believable": 1}, {"data_date": 20270304},
    ):  # fmt: skip
        parts = [{**contents["parts"][0], **wrong}]
        (index / "index.json").write_text(json.dumps({**contents, "parts": parts}))
        refused(index, "broken")
    (index / "index.json").write_text("{")
    refused(index, "broken")
    (index / "index.json").write_text(json.dumps(contents))
    (part,) = index.glob("part-*")
    file = part / "places.parquet"
    file.write_bytes(file.read_bytes()[:100])
    refused(index, "broken")


def test_no_changed_byte_changes_the_places_unseen(index):
    (path,) = index.glob("part-*/places.parquet")
    sound, route = path.read_bytes(), straight_route()
    whole = places_from_index(index, route, reach_m=30_000.0)
    with pq.ParquetFile(path) as file:
        columns = [file.metadata.row_group(0).column(n) for n in range(file.metadata.num_columns)]
    told = 0
    for column in columns:
        if column.path_in_schema in ("lon", "lat", "opening_hours"):
            start = column.dictionary_page_offset or column.data_page_offset
            for at in range(start, start + column.total_compressed_size, 5):
                damaged = bytearray(sound)
                damaged[at] ^= 4
                path.write_bytes(damaged)
                try:
                    assert places_from_index(index, route, reach_m=30_000.0) == whole
                except MapDataError:
                    told += 1
    assert told > 100


def test_an_index_by_older_rules_says_so(index):
    contents = json.loads((index / "index.json").read_text())
    contents["parts"][0]["rules"] = "other"
    (index / "index.json").write_text(json.dumps(contents))
    found = places_from_index(index, straight_route(), reach_m=5_000.0)
    assert any("gather it again" in warning for warning in found.warnings)


def test_the_name_and_the_folder_of_an_index_are_checked(extract, tmp_path):
    with pytest.raises(OutputError, match=r"region\.places"):
        build_index([extract], tmp_path / "region")
    with pytest.raises(ExtractError, match="no map extract"):
        build_index([], tmp_path / "a.places")
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        build_index([extract], tmp_path / "file" / "a.places")


def test_an_extract_without_any_place_makes_an_index_that_knows_it(tmp_path):
    drawing = Drawing()
    drawing.road()
    path = drawing.write(tmp_path / "bare.osm.pbf", box=BOX)
    build_index([path], tmp_path / "bare.places")
    found = places_from_index(tmp_path / "bare.places", straight_route(), reach_m=5_000.0)
    assert found.places == ()
    (unknown,) = found.coverage.unknown
    assert unknown.end_m == straight_route().length_m
    assert "holds roads here and no places" in unknown.reason
    assert found.warnings[0].startswith("bare.osm.pbf holds roads and no place of any kind")


def test_a_route_that_is_nowhere_near_the_index_is_not_known_all_along(index, extract):
    route = straight_route(start=(-5.0, 40.0), end=(-4.0, 40.0))
    collector = BackdropCollector(route, 15_000.0)
    found = places_from_index(index, route, reach_m=5_000.0, also=collector)
    assert told_alike(found) == told_alike(places_from_extract([extract], route, reach_m=5_000.0))
    assert [(s.start_m, s.end_m) for s in found.coverage.unknown] == [(0.0, route.length_m)]
    assert not found.places
    assert not collector.backdrop().roads


def test_relations_are_gathered_in_batches(tmp_path, monkeypatch):
    from resupply.places import osm_scan

    drawing = Drawing()
    drawing.road()
    for number in range(9):
        outer = drawing.line(
            [
                (-25.9 + number / 10 + x * 1e-3, 46.5 + y * 1e-3)
                for x, y in ((0, 0), (1, 0), (1, 1), (0, 1), (0, 0))
            ]
        )
        drawing.relation([("w", outer, "outer")], type="multipolygon", shop="supermarket")
    path = drawing.write(tmp_path / "a.osm.pbf", box=BOX)
    monkeypatch.setattr(osm_scan, "_MEMBERS_AT_ONCE", 2)
    build_index([path], tmp_path / "a.places")
    found = places_from_index(tmp_path / "a.places", straight_route(), reach_m=5_000.0)
    assert len(found.places) == 9
    assert found.places == places_from_extract([path], straight_route(), reach_m=5_000.0).places


ACROSS = {
    "andorra-2025-01.osm.pbf": ((1.35, 42.40), (1.85, 42.70)),
    "heidelberg-2024-09.osm.pbf": ((8.5, 49.38), (8.9, 49.45)),
    "columbus-ohio.osm.pbf": ((-83.4, 39.9), (-82.6, 40.05)),
    "monaco-2023-12.osm.pbf": ((7.39, 43.72), (7.46, 43.76)),
    "krems-2013-12.osm.gz": ((15.5, 48.38), (15.8, 48.43)),
}


@pytest.mark.parametrize("path", extracts(*ACROSS))
def test_real_extracts_give_the_same_places_from_an_index(tmp_path, path):
    start, end = ACROSS[path.name]
    build_index([path], tmp_path / "real.places")
    route = straight_route(start=start, end=end)
    expected = places_from_extract([path], route, reach_m=3_000.0)
    found = places_from_index(tmp_path / "real.places", route, reach_m=3_000.0)
    assert expected.places
    assert told_alike(found) == told_alike(expected)


def same_graph(one, other):
    return [
        name
        for name in array_names()
        if not np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)
    ]


ROADS_ACROSS = ("andorra-2025-01.osm.pbf", "heidelberg-2024-09.osm.pbf", "krems-2013-12.osm.gz")


@pytest.mark.parametrize("path", extracts(*ROADS_ACROSS))
def test_roads_of_a_real_extract_are_the_same_from_an_index(tmp_path, path):
    start, end = ACROSS[path.name]
    route = straight_route(start=start, end=end)
    build_index([path], tmp_path / "real.places")
    expected = graph_from_extract([path], route)
    collector = RoadCollector(route)
    places_from_index(tmp_path / "real.places", route, reach_m=3_000.0, roads=collector)
    found = collector.graph("x")
    assert len(expected) > 100
    assert same_graph(expected, found) == []


def test_a_road_cut_by_the_edge_of_two_extracts_comes_from_the_fuller_one(tmp_path):
    paths = []
    for name, missing in (("west", 3), ("east", 1)):
        drawing = Drawing()
        line = [drawing.node(-26.0 + x * 0.01, 46.5) for x in range(12)]
        drawing.way(line, highway="secondary")
        drawing.node(-25.95, 46.501, shop="supermarket")
        drawing.nodes = drawing.nodes[: 12 - missing] + drawing.nodes[12:]
        paths.append(drawing.write(tmp_path / f"{name}.osm.pbf", box=BOX))
    build_index(paths, tmp_path / "two.places")
    route = straight_route()
    collector = RoadCollector(route)
    found = places_from_index(tmp_path / "two.places", route, reach_m=5_000.0, roads=collector)
    assert len(found.places) == 1
    assert same_graph(collector.graph("x"), graph_from_extract(paths, route)) == []


def test_roads_of_an_index_are_read_by_the_row_groups_near_the_route(tmp_path, monkeypatch):
    monkeypatch.setattr(index_write, "ROWS_IN_GROUP", 64)
    drawing = Drawing()
    for row in range(30):
        drawing.road(start=(-26.1, 40.0 + row / 2), end=(-24.9, 40.0 + row / 2), pieces=20)
    path = drawing.write(tmp_path / "rows.osm.pbf", box=(-27, 39, -24, 56))
    build_index([path], tmp_path / "rows.places")
    read = []
    inner = pq.ParquetFile.read_row_groups

    def counted(self, groups, columns=None, **options):
        if columns and "ref" in columns:
            read.append((len(groups), self.metadata.num_row_groups))
        return inner(self, groups, columns=columns, **options)

    monkeypatch.setattr(pq.ParquetFile, "read_row_groups", counted)
    route = straight_route(start=(-26.0, 46.5), end=(-25.0, 46.5))
    collector = RoadCollector(route)
    places_from_index(tmp_path / "rows.places", route, reach_m=5_000.0, roads=collector)
    ((touched, whole),) = read
    assert whole >= 18
    assert touched <= whole / 3
    assert same_graph(collector.graph("x"), graph_from_extract([path], route)) == []


def test_the_index_keeps_the_roads_and_the_tags_that_the_speed_table_knows():
    speeds = load_speeds()
    assert set(speeds.classes) == index_roads.RIDDEN | index_roads.SELDOM_RIDDEN
    assert speeds.stated_only == index_roads.SELDOM_RIDDEN

    class Asked(dict):
        def get(self, key, default=None):
            asked.add(key)
            return super().get(key, default)

    asked = set()
    for highway in ("primary", "track", "path", "motorway"):
        road_of(Asked(highway=highway), speeds)
        road_of(Asked(highway=highway, motorcycle="yes", surface="gravel"), speeds)
    assert asked <= set(index_roads.ROAD_KEYS)


def test_a_plan_from_an_index_has_detours_and_times_by_road(extract, index, tmp_path):
    from resupply.plan.prepare import prepare
    from resupply.trip.read_file import make_trip

    route = straight_route(start=(-26.0, 46.5), end=(-25.0, 46.5))
    found = {}
    for name in (extract.name, index.name):
        trip = make_trip({"start": {"date": "2027-07-09"}, "map": {"extracts": [name]}})
        found[name] = prepare(trip, tmp_path, route=route)
    by_file, by_index = found.values()
    assert by_index.roads is not None
    assert np.array_equal(by_index.detours.extra_s, by_file.detours.extra_s, equal_nan=True)
    assert by_index.detours.source == by_file.detours.source
    assert by_index.backdrop["roads"] == by_file.backdrop["roads"]


def test_nearness_in_blocks_agrees_with_the_exact_distance():
    route = straight_route(start=(-26.0, 70.0), end=(-20.0, 71.0), points=7)
    samples = index_read.Samples(*samples_along(route, 500.0))
    dice = np.random.default_rng(8)
    lon, lat = dice.uniform(-26, -20, 60), dice.uniform(69.9, 71.1, 60)
    found_m = samples.distance_m(lon, lat, 20_000.0)
    line_lon, line_lat, _ = samples_along(route, 50.0)
    for x, y, away_m in zip(lon, lat, found_m, strict=True):
        shape = line_lon.shape
        exact_m = geod().inv(np.full(shape, x), np.full(shape, y), line_lon, line_lat)[2].min()
        if exact_m < 20_000.0:
            assert exact_m - 1.0 <= away_m <= exact_m + 1_000.0
        else:
            assert away_m > 20_000.0 - 1.0


def test_neighbours_along_the_curve_touch():
    side = np.arange(16, dtype=np.uint64)
    x, y = (axis.ravel() for axis in np.meshgrid(side, side))
    along = hilbert_distance(x, y, level=4)
    order = np.argsort(along)
    steps = np.abs(np.diff(np.stack([x, y])[:, order].astype(int), axis=1)).sum(axis=0)
    assert sorted(along.tolist()) == list(range(256))
    assert (steps == 1).all()
