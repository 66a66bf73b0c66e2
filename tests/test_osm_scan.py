"""One pass over an extract: in parts it gives what the stream of the whole file gives."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from dataclasses import fields
from types import SimpleNamespace

import numpy as np
import pytest
from extract_files import Drawing, straight_route
from real_data import extracts

from resupply.common.errors import ExtractError, MapDataError
from resupply.places import osm_scan, osm_sorted
from resupply.places.base_map import read_extract
from resupply.places.osm_blobs import BlobFile
from resupply.roads.graph import RoadGraph
from resupply.roads.sources import RoadCollector

BOX = (-27.0, 45.0, -24.0, 48.0)
# As numbers in the whole map: some ten thousand million, far apart.
FAR_APART = 123_456_789


def read(path, route, **keys):
    roads = RoadCollector(route)
    places, backdrop = read_extract([path], route, reach_m=5_000.0, also=[roads], **keys)
    return places, backdrop, roads.graph("extract")


def in_parts(path, route, monkeypatch, **keys):
    with monkeypatch.context() as changed:
        changed.setattr(osm_scan, "PARTS_FROM_BYTES", 0)
        return read(path, route, **keys)


def assert_same(one, other):
    assert one[0] == other[0]
    assert one[1] == other[1]
    for field in fields(RoadGraph):
        own, its = getattr(one[2], field.name), getattr(other[2], field.name)
        same = np.array_equal(own, its) if isinstance(own, np.ndarray) else own == its
        assert same, field.name


def island():
    """A road with all that a pass has to find, near and far."""
    map_ = Drawing()
    map_.road()
    map_.node(-25.5, 46.5, shop="bakery")
    map_.node(-25.4, 46.5, place="village", name="Nether Wick")
    map_.area(-25.3, 46.501, shop="supermarket")
    # Shores lie far off and close around all; a lake has one shore near and one far.
    map_.line([(-27, 45), (-24, 45), (-24, 48), (-27, 48), (-27, 45)], natural="coastline")
    west = map_.line([(-25.6, 46.55), (-25.62, 46.8), (-25.7, 47.3)])
    east = map_.line([(-25.7, 47.3), (-25.5, 46.9), (-25.6, 46.55)])
    map_.relation(
        [("w", west, "outer"), ("w", east, "outer")], type="multipolygon", natural="water"
    )
    map_.relation([("n", 1, ""), ("w", 1, "")], type="site", tourism="camp_site", name="Up")
    # A river that leaves for good, one that comes back, and a road with a node missing.
    map_.line([(-25.5, 46.5 + 0.2 * i) for i in range(6)], waterway="river")
    map_.line(
        [(-25.2, 46.5), (-25.2, 47.2), (-25.1, 47.4), (-25.0, 47.2), (-25.0, 46.5)],
        highway="primary",
    )
    ends = [map_.node(-25.8, 46.5), map_.node(-25.8, 46.52), map_.node(-25.8, 46.54)]
    map_.way([ends[0], ends[1], 90_001, ends[2]], highway="tertiary")
    map_.way([90_002, 90_003, 90_004], shop="deli")
    gate = map_.node(-25.75, 46.505, barrier="bollard")
    map_.way([map_.node(-25.75, 46.5), gate, map_.node(-25.75, 46.51)], highway="residential")
    return map_


def spread(map_):
    """The same map with numbers as real ones have them."""
    map_.nodes = [(number * FAR_APART, *rest) for number, *rest in map_.nodes]
    map_.ways = [
        (number * 1_000, [ref * FAR_APART for ref in refs], tags)
        for number, refs, tags in map_.ways
    ]
    factor = {"n": FAR_APART, "w": 1_000}
    map_.relations = [
        (number, [(kind, ref * factor[kind], role) for kind, ref, role in parts], tags)
        for number, parts, tags in map_.relations
    ]
    return map_


@pytest.mark.parametrize(
    ("change", "passes"), [(lambda map_: map_, 3), (spread, 3), (spread, 1 << 20)]
)
def test_in_parts_a_file_gives_what_its_stream_gives(tmp_path, monkeypatch, change, passes):
    path = change(island()).write(tmp_path / "a.osm.pbf", box=BOX, is_sorted=True)
    route = straight_route()
    # A piece at a time, as with a country, or all ways once; several runs, as with more than 4 MB.
    monkeypatch.setattr(osm_sorted, "_MOST_PIECES", 2)
    monkeypatch.setattr(osm_sorted, "_MOST_PASSES", passes)
    monkeypatch.setattr("resupply.places.osm_blobs._RUN_BYTES", 1)
    whole, parts = read(path, route), in_parts(path, route, monkeypatch)
    assert_same(parts, whole)
    assert len(whole[0].places) == 3
    assert whole[0].warnings[0].endswith("1 place left out because the extract doesn't say where")
    assert len(whole[1].land) == 1
    assert any(kind == "area" for kind, _ in whole[1].waters)


def test_places_far_from_the_route_are_known_to_be_there(tmp_path, monkeypatch):
    map_ = Drawing()
    map_.road()
    map_.area(-24.1, 47.9, shop="supermarket")
    path = map_.write(tmp_path / "a.osm.pbf", box=BOX, is_sorted=True)
    places, _, _ = in_parts(path, straight_route(), monkeypatch)
    assert not places.places
    assert not places.coverage.unknown


ACROSS = {
    "monaco-2023-12.osm.pbf": ((7.39, 43.72), (7.46, 43.76)),
    "dreieich-2022-10.osm.pbf": ((8.65, 50.0), (8.75, 50.03)),
}


@pytest.mark.parametrize("path", extracts(*ACROSS))
def test_real_extracts_give_the_same_in_parts(monkeypatch, path):
    start, end = ACROSS[path.name]
    route = straight_route(start=start, end=end)
    whole = read(path, route)
    assert whole[0].places
    assert_same(in_parts(path, route, monkeypatch), whole)


@pytest.mark.parametrize("parts_from", [0, 1 << 40])
def test_a_pass_that_nobody_waits_for_ends_part_way(tmp_path, monkeypatch, parts_from):
    path = island().write(tmp_path / "a.osm.pbf", box=BOX, is_sorted=True)
    monkeypatch.setattr(osm_scan, "PARTS_FROM_BYTES", parts_from)
    monkeypatch.setattr(osm_scan, "_FEATURES_AT_ONCE", 10)
    asked = []

    def stop():
        asked.append(True)
        return len(asked) > 1

    with pytest.raises(MapDataError, match="stopped"):
        read(path, straight_route(), stop=stop)
    assert len(asked) == 2


def test_a_file_that_only_says_that_it_is_sorted_is_refused(tmp_path, monkeypatch):
    map_ = island()
    map_.nodes.reverse()
    path = map_.write(tmp_path / "a.osm.pbf", box=BOX, is_sorted=True)
    with pytest.raises(ExtractError, match="says that it is sorted, and is not"):
        in_parts(path, straight_route(), monkeypatch)
    # Read as a stream it gives what it gives when it says nothing.
    (tmp_path / "plain").mkdir()
    plain = map_.write(tmp_path / "plain" / "a.osm.pbf", box=BOX)
    assert_same(read(path, straight_route()), read(plain, straight_route()))


def test_a_sorted_file_cut_off_anywhere_is_an_error(tmp_path, monkeypatch):
    whole = island().write(tmp_path / "a.osm.pbf", box=BOX, is_sorted=True).read_bytes()
    path = tmp_path / "cut.osm.pbf"
    for size in (100, len(whole) // 2, len(whole) - 1):
        path.write_bytes(whole[:size])
        with pytest.raises(ExtractError):
            in_parts(path, straight_route(), monkeypatch)


def test_text_of_any_kind_in_a_tag_is_read_as_it_is_written(tmp_path):
    map_ = island()
    name = "50 % off, a=b @ Café \"Ñ\" 'x' %20% \\n 氷 🧊"
    map_.node(-25.45, 46.5, shop="bakery", name=name)
    map_.write(tmp_path / "a.osm.pbf", box=BOX)
    map_.write(tmp_path / "a.osm", box=BOX)
    route = straight_route()
    # XML is read object by object.
    one, other = (read(tmp_path / f"a.{kind}", route) for kind in ("osm.pbf", "osm"))
    assert name in {place.name for place in one[0].places}
    assert_same((one[0].places, *one[1:]), (other[0].places, *other[1:]))


def test_without_the_package_for_an_index_the_same_is_read(tmp_path, monkeypatch):
    path = island().write(tmp_path / "a.osm.pbf", box=BOX, is_sorted=True)
    route = straight_route()
    own = read(path, route)
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert_same(own, read(path, route))


def made_blobs(monkeypatch, *first_ways):
    """Runs of one blob that begin with these ways; None is a blob without any."""
    blobs = object.__new__(BlobFile)
    runs = [(k + 1, k + 2) for k in range(len(first_ways))]
    monkeypatch.setattr(BlobFile, "way_runs", lambda _: iter(runs))

    @contextmanager
    def opened(_, run, *_kinds):
        number = first_ways[run[0] - 1]
        yield iter([] if number is None else [SimpleNamespace(id=number)])

    monkeypatch.setattr(BlobFile, "opened", opened)
    return blobs


def test_a_way_is_looked_for_only_where_its_number_can_be(monkeypatch):
    blobs = made_blobs(monkeypatch, None, 100, 200, 300, None)
    found = blobs.runs_of_ways(np.array([5, 99, 100, 301, 9_999_999_999]))
    assert [(run, some.tolist()) for run, some in found] == [
        ((1, 2), [5, 99]),
        ((2, 3), [100]),
        ((4, 5), [301, 9_999_999_999]),
    ]
    assert list(blobs.runs_of_ways(np.zeros(0, np.int64))) == []


def test_ways_that_do_not_rise_are_refused(monkeypatch):
    with pytest.raises(ValueError, match="says that it is sorted, and is not"):
        made_blobs(monkeypatch, 100, 300, 200).runs_of_ways(np.array([5])).__next__()
