"""Places read from small extracts written here: what is found, merged, covered, refused."""

from __future__ import annotations

import bz2
import gzip
import subprocess
import sys

import numpy as np
import pytest
import shapely
from extract_files import Drawing, straight_route

from resupply.common.errors import ExtractError
from resupply.common.geodesy import geod
from resupply.places.extract import places_from_extract
from resupply.places.near_route import make_reach, samples_along
from resupply.places.place import Confidence, Supply
from resupply.route.route import make_route

BOX = (-26.2, 46.2, -24.8, 46.8)


@pytest.fixture
def drawing():
    one = Drawing()
    one.road()
    far_shop(one)
    return one


def far_shop(drawing, lon=-25.9):
    """A place that no test finds, by which the extract is one of places too."""
    drawing.node(lon, 46.75, shop="kiosk")


def found_in(path, route=None, reach_m=5_000.0):
    return places_from_extract([path], route or straight_route(), reach_m=reach_m)


def by_id(places):
    return {place.id: place for place in places.places}


@pytest.mark.parametrize("suffix", [".osm.pbf", ".osm", ".osm.bz2", ".osm.gz"])
def test_every_kind_of_file_gives_the_same_places(drawing, tmp_path, suffix):
    node = drawing.node(-25.5, 46.51, shop="supermarket", name="Teal & Sons")
    way = drawing.area(-25.4, 46.49, shop="bakery")
    found = found_in(drawing.write(tmp_path / f"varrow{suffix}", box=BOX))
    assert [place.id for place in found.places] == [f"node/{node}", f"way/{way}"]
    assert found.places[0].name == "Teal & Sons"
    assert found.coverage.source == f"extract varrow{suffix}"
    assert found.coverage.unknown == ()


def test_an_area_is_placed_at_a_point_on_it(drawing, tmp_path):
    # A horseshoe: its centre of gravity lies outside.
    corners = [(0, 0), (4, 0), (4, 3), (3, 3), (3, 1), (1, 1), (1, 3), (0, 3)]
    shape = [(-25.5 + x * 1e-3, 46.5 + y * 1e-3) for x, y in corners]
    refs = [drawing.node(*corner) for corner in shape]
    way = drawing.way([*refs, refs[0]], shop="supermarket")
    place = by_id(found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX)))[f"way/{way}"]
    assert shapely.Polygon(shape).contains(shapely.Point(place.lon, place.lat))


def test_a_multipolygon_is_placed_on_its_ground_and_not_in_its_hole(drawing, tmp_path):
    outer, inner = drawing.area(-25.5, 46.5, half=0.001), drawing.area(-25.5, 46.5, half=0.0008)
    number = drawing.relation(
        [("w", outer, "outer"), ("w", inner, "inner")], type="multipolygon", shop="supermarket"
    )
    places = by_id(found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX)))
    place = places[f"relation/{number}"]
    off = max(abs(place.lon + 25.5), abs(place.lat - 46.5))
    assert 0.0008 < off < 0.001


def test_a_site_relation_of_pump_and_kiosk_is_one_place(drawing, tmp_path):
    pump, kiosk = drawing.node(-25.5, 46.5), drawing.area(-25.4995, 46.5)
    number = drawing.relation(
        [("n", pump, ""), ("w", kiosk, "")], type="site", amenity="fuel", shop="convenience"
    )
    place = by_id(found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX)))[f"relation/{number}"]
    assert set(place.supplies) == {Supply.FUEL, Supply.SMALL_GROCERIES, Supply.ICE}
    assert abs(place.lon + 25.4995) < 0.001


def test_a_node_in_its_own_building_counts_once(drawing, tmp_path):
    area = drawing.area(-25.5, 46.5, shop="supermarket", building="retail")
    node = drawing.node(
        -25.5001, 46.5, shop="supermarket", name="Blue Gate", opening_hours="Mo-Sa 08:00-20:00"
    )
    found = found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert [place.id for place in found.places] == [f"way/{area}"]
    assert found.places[0].merged_ids == (f"node/{node}",)
    assert found.places[0].name == "Blue Gate"
    assert found.places[0].opening_hours == "Mo-Sa 08:00-20:00"


def test_two_different_shops_in_one_building_stay_two(drawing, tmp_path):
    drawing.area(-25.5, 46.5, shop="supermarket", name="Blue Gate")
    drawing.node(-25.5001, 46.5, shop="supermarket", name="Harbour Foods")
    drawing.node(-25.5001, 46.5001, shop="bakery")
    assert len(found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).places) == 3


def test_the_same_name_on_the_same_spot_counts_once_but_not_down_the_road(drawing, tmp_path):
    drawing.node(-25.5, 46.5, shop="bakery", name="Ada's Oven")
    drawing.node(-25.5001, 46.5001, shop="bakery", name="ada's oven")
    drawing.node(-25.51, 46.5, shop="bakery", name="Ada's Oven")
    drawing.node(-25.52, 46.5, shop="bakery")
    drawing.node(-25.5201, 46.5, shop="bakery")
    assert len(found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).places) == 4


def test_pitches_belong_to_their_camp_site(drawing, tmp_path):
    site = drawing.area(-25.5, 46.5, half=0.002, tourism="camp_site", name="Gull Meadow")
    pitches = [drawing.node(-25.5 + n * 1e-4, 46.5, tourism="camp_pitch", name=str(n)) for n in
               range(3)]  # fmt: skip
    found = found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert [place.id for place in found.places] == [f"way/{site}"]
    assert found.places[0].merged_ids == tuple(f"node/{pitch}" for pitch in pitches)


def test_disused_and_private_features_are_left_out(drawing, tmp_path):
    drawing.node(-25.5, 46.5, disused__shop="supermarket")
    drawing.area(-25.5, 46.5, shop="supermarket", disused="yes")
    drawing.node(-25.5, 46.5, amenity="drinking_water", access="private")
    assert found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).places == ()


def test_several_extracts_join_and_a_place_in_two_counts_once(drawing, tmp_path):
    drawing.node(-25.5, 46.5, shop="bakery", name="Ada's Oven")
    whole = drawing.write(tmp_path / "whole.osm.pbf", box=BOX)
    again = drawing.write(tmp_path / "again.osm", box=BOX)
    found = places_from_extract([whole, again], straight_route(), reach_m=5_000.0)
    assert len(found.places) == 1
    assert found.coverage.source == "extracts whole.osm.pbf, again.osm"


def test_two_halves_cover_what_neither_does_alone(tmp_path):
    west, east = Drawing(), Drawing()
    west.road(end=(-25.45, 46.5), pieces=60)
    east.road(start=(-25.55, 46.5), pieces=60)
    far_shop(west)
    far_shop(east, lon=-25.1)
    files = [
        west.write(tmp_path / "west.osm.pbf", box=(-26.2, 46.2, -25.45, 46.8)),
        east.write(tmp_path / "east.osm.pbf", box=(-25.55, 46.2, -24.8, 46.8)),
    ]
    assert all(found_in(file).coverage.unknown for file in files)
    both = places_from_extract(files, straight_route(), reach_m=2_000.0)
    assert both.coverage.unknown == ()
    assert both.warnings == ()


def test_places_far_from_the_route_are_left_out(drawing, tmp_path):
    near = drawing.node(-25.5, 46.5 + 4.9 / 111.2, shop="bakery")
    drawing.node(-25.5, 46.5 + 25.0 / 111.2, shop="bakery")
    found = found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert [place.id for place in found.places] == [f"node/{near}"]


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ((179.5, 65.0), (-179.5, 65.2)),
        ((-179.9, -17.0), (179.6, -16.5)),
        ((10.0, 89.2), (150.0, 89.5)),
    ],
)
def test_nothing_within_reach_is_ever_left_out(start, end):
    steps = np.linspace(0.0, 1.0, 40)
    lon = start[0] + steps * ((end[0] - start[0] + 180.0) % 360.0 - 180.0)
    lat = start[1] + steps * (end[1] - start[1])
    route = make_route([((lon + 180.0) % 360.0 - 180.0, lat, None)])
    reach = make_reach(route, 3_000.0)
    rng = np.random.default_rng(1)
    on_lon, on_lat, _ = samples_along(route, 400.0)
    pick = rng.integers(0, on_lon.size, 400)
    out_lon, out_lat, _ = geod().fwd(
        on_lon[pick], on_lat[pick], rng.uniform(0, 360, 400), rng.uniform(0, 2_999.0, 400)
    )
    assert reach.near(out_lon, out_lat).all()
    cells = zip(np.floor(out_lon).astype(int), np.floor(out_lat).astype(int), strict=True)
    assert reach.degree_cells.issuperset(cells)
    far_lon, far_lat, _ = geod().fwd(on_lon[0], on_lat[0], 180.0, 400_000.0)
    assert not reach.near([far_lon], [far_lat])[0]


def test_a_building_across_the_antimeridian_keeps_its_place(tmp_path):
    drawing = Drawing()
    drawing.road(start=(179.9, -17.0), end=(179.999, -17.0), pieces=20)
    corners = [(179.9995, -17.0), (-179.9995, -17.0), (-179.9995, -16.999), (179.9995, -16.999)]
    refs = [drawing.node(*corner) for corner in corners]
    way = drawing.way([*refs, refs[0]], shop="supermarket")
    route = straight_route((179.9, -17.0), (179.999, -17.0), 11)
    place = by_id(found_in(drawing.write(tmp_path / "fiji.osm.pbf"), route))[f"way/{way}"]
    assert abs(place.lon) > 179.99


# ---- coverage ------------------------------------------------------------------------------


def unknown_km(found):
    return [
        (round(piece.start_m / 1000), round(piece.end_m / 1000)) for piece in found.coverage.unknown
    ]


def test_a_stretch_outside_the_box_is_unknown_and_named(drawing, tmp_path):
    found = found_in(drawing.write(tmp_path / "west.osm.pbf", box=(-26.2, 46.2, -25.5, 46.8)))
    ((start_km, end_km),) = unknown_km(found)
    assert start_km in (38, 39)
    assert end_km == round(straight_route().length_m / 1000)
    assert "west.osm.pbf" in found.coverage.unknown[0].reason


def test_a_box_without_roads_in_it_covers_nothing_there(tmp_path):
    drawing = Drawing()
    drawing.road(end=(-25.5, 46.5), pieces=60)
    far_shop(drawing)
    found = found_in(drawing.write(tmp_path / "a.osm.pbf", box=(-26.2, 46.4, -25.0, 46.6)))
    ((start_km, end_km),) = unknown_km(found)
    assert 38 <= start_km <= 45
    assert end_km == 77


def test_a_box_of_half_the_world_is_not_believed(tmp_path):
    drawing = Drawing()
    drawing.road(end=(-25.5, 46.5), pieces=60)
    # One road leaves the clipped town whole, as clipping tools keep it.
    drawing.line([(-25.5, 46.5), (-25.2, 46.5), (-24.9, 46.5)], highway="trunk")
    far_shop(drawing)
    found = found_in(drawing.write(tmp_path / "town.osm.pbf", box=(-180, 0, 180, 90)))
    ((start_km, end_km),) = unknown_km(found)
    assert 38 <= start_km <= 45
    assert end_km == 77


def test_without_a_box_one_road_alone_is_no_proof(tmp_path):
    drawing = Drawing()
    drawing.line([(-26.1, 46.5), (-25.5, 46.5), (-24.9, 46.5)], highway="trunk")
    found = found_in(drawing.write(tmp_path / "a.osm.pbf"))
    assert unknown_km(found) == [(0, 77)]


def test_a_lone_road_inside_a_box_is_covered(tmp_path):
    drawing = Drawing()
    drawing.line([(-26.1, 46.45), (-26.1, 46.5), (-24.9, 46.5), (-24.9, 46.55)], highway="trunk")
    far_shop(drawing)
    found = found_in(drawing.write(tmp_path / "a.osm.pbf", box=(-26.1, 46.4, -24.9, 46.6)))
    assert unknown_km(found) == []


def test_an_extract_of_elsewhere_is_named_with_its_own_box_and_the_route_s(drawing, tmp_path):
    far = Drawing()
    far.road(start=(1.4, 42.5), end=(1.8, 42.5))
    far.node(1.5, 42.5, shop="supermarket")
    old = "2019-01-01T00:00:00Z"
    elsewhere = far.write(tmp_path / "far.osm.pbf", box=(1.3, 42.4, 1.9, 42.6), stamp=old)
    found = found_in(elsewhere)
    assert found.places == ()
    assert unknown_km(found) == [(0, 77)]
    (told,) = found.warnings
    assert told == (
        "far.osm.pbf doesn't touch the route: it lies in 42.4° N to 42.6° N, 1.3° E to 1.9° E; "
        "the route lies in 46.5° N to 46.5° N, 26.0° W to 25.0° W."
    )
    stamp = "2027-05-01T20:21:02Z"
    both = [drawing.write(tmp_path / "here.osm.pbf", box=BOX, stamp=stamp), elsewhere]
    found = places_from_extract(both, straight_route(), reach_m=5_000.0)
    assert found.coverage.unknown == ()
    assert found.coverage.data_date == "2027-05-01"
    assert found.warnings[0].startswith("far.osm.pbf doesn't touch the route")


def test_an_extract_that_does_not_say_how_far_it_reaches_is_told_by_its_data(tmp_path):
    far = Drawing()
    far.road(start=(1.4, -42.5), end=(1.8, -42.5))
    far.node(1.5, -42.5, shop="supermarket")
    (told,) = found_in(far.write(tmp_path / "far.osm.pbf")).warnings
    assert "it lies in 42.5° S to 42.5° S, 1.4° E to 1.8° E" in told


def test_an_extract_that_touches_the_route_without_roads_there_is_not_of_elsewhere(tmp_path):
    drawing = Drawing()
    drawing.line([(-25.5, 46.45), (-25.5, 46.55)], highway="trunk")
    drawing.node(-25.5, 46.5, shop="kiosk")
    found = found_in(drawing.write(tmp_path / "a.osm.pbf"))
    assert unknown_km(found) == [(0, 77)]
    assert found.warnings == ()


def test_roads_without_a_place_of_any_kind_tell_of_no_shop(tmp_path):
    roads = Drawing()
    roads.road()
    found = found_in(roads.write(tmp_path / "roads.osm.pbf", box=BOX))
    assert unknown_km(found) == [(0, 77)]
    assert "holds roads here and no places" in found.coverage.unknown[0].reason
    assert found.warnings[0].startswith("roads.osm.pbf holds roads and no place of any kind")


def test_where_only_an_extract_of_bare_roads_reaches_nothing_is_known(drawing, tmp_path):
    roads = Drawing()
    roads.road()
    files = [
        roads.write(tmp_path / "roads.osm.pbf", box=BOX),
        drawing.write(tmp_path / "west.osm.pbf", box=(-26.2, 46.2, -25.5, 46.8)),
    ]
    found = places_from_extract(files, straight_route(), reach_m=5_000.0)
    ((start_km, end_km),) = unknown_km(found)
    assert start_km in (38, 39)
    assert end_km == 77


def test_an_extract_that_ends_within_reach_says_where(tmp_path):
    drawing = Drawing()
    drawing.road()
    drawing.node(-25.5, 46.5, shop="kiosk")
    found = found_in(drawing.write(tmp_path / "thin.osm.pbf", box=(-26.2, 46.47, -24.8, 46.53)))
    assert found.coverage.unknown == ()
    assert [(s.start_m, round(s.end_m / 1000)) for s in found.coverage.near_edge] == [(0.0, 77)]
    assert found.warnings == ()


def test_a_ride_over_the_sea_is_unknown_and_a_break_is_not_ridden(drawing, tmp_path):
    lon, lat = np.linspace(-25.9, -25.1, 50), np.full(50, 46.5)
    sailing = make_route([(lon, lat, None), ([-25.1, -25.1], [46.8, 46.81], None)])
    found = found_in(drawing.write(tmp_path / "a.osm.pbf", box=(-26.2, 46.2, -24.8, 46.9)), sailing)
    # The break itself is no stretch; the kilometre ridden beyond it has no road in the data.
    assert unknown_km(found) == [(61, round(sailing.length_m / 1000))]


# ---- date ----------------------------------------------------------------------------------


def test_the_date_is_the_header_s_or_else_the_newest_edit(drawing, tmp_path):
    with_header = drawing.write(tmp_path / "a.osm.pbf", box=BOX, stamp="2027-05-01T20:21:02Z")
    assert found_in(with_header).coverage.data_date == "2027-05-01"
    assert found_in(drawing.write(tmp_path / "b.osm.pbf")).coverage.data_date == "2027-03-04"


def test_no_date_at_all_is_not_known(drawing, tmp_path):
    undated = drawing.write(tmp_path / "c.osm.pbf", edited=None)
    assert found_in(undated).coverage.data_date is None


def test_several_extracts_are_as_old_as_the_oldest(drawing, tmp_path):
    files = [
        drawing.write(tmp_path / "new.osm.pbf", stamp="2027-05-01T20:21:02Z"),
        drawing.write(tmp_path / "old.osm.pbf", stamp="2024-01-01T00:00:00Z"),
    ]
    found = places_from_extract(files, straight_route(), reach_m=1_000.0)
    assert found.coverage.data_date == "2024-01-01"


# ---- what is refused -----------------------------------------------------------------------


def one_line(error):
    text = str(error.value)
    assert "\n" not in text
    return text


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    with pytest.raises(ExtractError) as error:
        found_in(tmp_path / "none.osm.pbf")
    assert "no such file" in one_line(error)
    (tmp_path / "folder.osm.pbf").mkdir()
    with pytest.raises(ExtractError) as error:
        found_in(tmp_path / "folder.osm.pbf")
    assert "folder" in one_line(error)


def test_no_extract_at_all_is_refused():
    with pytest.raises(ExtractError):
        places_from_extract([], straight_route(), reach_m=5_000.0)


@pytest.mark.parametrize("name", ["route.gpx", "region.zip", "region.shp", "osm"])
def test_an_unknown_kind_is_refused(tmp_path, name):
    (tmp_path / name).write_text("hello")
    with pytest.raises(ExtractError) as error:
        found_in(tmp_path / name)
    assert "Use .osm.pbf" in one_line(error)


EMPTY_XML = b'<osm version="0.6"></osm>'


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.osm.pbf", b""),
        ("empty.osm", b""),
        ("nothing.osm", EMPTY_XML),
        ("nothing.osm.gz", gzip.compress(EMPTY_XML, mtime=0)),
        ("nothing.osm.bz2", bz2.compress(EMPTY_XML)),
        ("page.osm.pbf", b"<html>not found</html>"),
        ("page.osm", b"<html>not found</html>"),
        ("page.osm.gz", b"<html>not found</html>"),
        ("noise.osm.bz2", bytes(range(256)) * 40),
        ("half.osm", b'<osm version="0.6"><node id="1" lat="1" lon="2"'),
    ],
)
def test_an_empty_or_foreign_file_is_refused_in_one_line(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(ExtractError) as error:
        found_in(path)
    assert str(path) in one_line(error)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.999])
def test_a_truncated_pbf_is_refused_wherever_it_is_cut(drawing, tmp_path, share):
    whole = drawing.write(tmp_path / "whole.osm.pbf", box=BOX).read_bytes()
    cut = tmp_path / "cut.osm.pbf"
    cut.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(ExtractError) as error:
        found_in(cut)
    assert "Download it again" in one_line(error)


@pytest.mark.parametrize("suffix", [".osm", ".osm.gz", ".osm.bz2"])
@pytest.mark.parametrize("share", [0.3, 0.7, 0.99])
def test_a_truncated_xml_file_is_refused_packed_or_not(drawing, tmp_path, suffix, share):
    whole = drawing.write(tmp_path / f"whole{suffix}", box=BOX).read_bytes()
    cut = tmp_path / f"cut{suffix}"
    cut.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(ExtractError) as error:
        found_in(cut)
    one_line(error)


def test_xml_entities_are_refused_and_never_expanded(tmp_path):
    path = tmp_path / "laughs.osm"
    layers = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    path.write_text(
        f'<!DOCTYPE osm [<!ENTITY l0 "ha">{layers}]><osm version="0.6">'
        '<node id="1" lat="46.5" lon="-25.5"><tag k="name" v="&l9;"/></node></osm>'
    )
    with pytest.raises(ExtractError) as error:
        found_in(path)
    one_line(error)


def test_a_large_file_keeps_its_node_positions_on_disk_and_gives_the_same(
    drawing, tmp_path, monkeypatch
):
    corner = drawing.area(-25.4, 46.49, shop="supermarket")
    drawing.relation([("w", corner, "outer")], type="multipolygon", shop="bakery")
    path = drawing.write(tmp_path / "a.osm.pbf", box=BOX)
    in_memory = found_in(path)
    monkeypatch.setattr("resupply.places.osm_scan.LARGE_FILE_BYTES", 0)
    assert found_in(path) == in_memory
    assert len(in_memory.places) == 2


def test_a_damaged_pbf_never_gives_half_a_result(drawing, tmp_path):
    drawing.node(-25.5, 46.5, shop="bakery")
    whole = drawing.write(tmp_path / "whole.osm.pbf", box=BOX).read_bytes()
    expected = [place.id for place in found_in(tmp_path / "whole.osm.pbf").places]
    rng = np.random.default_rng(7)
    for at in rng.integers(0, len(whole), 60):
        broken = bytearray(whole)
        broken[at] ^= 0xFF
        path = tmp_path / "broken.osm.pbf"
        path.write_bytes(bytes(broken))
        try:
            assert [place.id for place in found_in(path).places] == expected
        except ExtractError as error:
            assert "\n" not in str(error)


def test_a_way_whose_nodes_are_missing_is_told_and_not_placed(drawing, tmp_path):
    drawing.way([9001, 9002, 9003, 9001], shop="supermarket")
    found = found_in(drawing.write(tmp_path / "clipped.osm.pbf", box=BOX))
    assert found.places == ()
    assert "1 place left out" in found.warnings[0]


def test_a_half_clipped_way_is_placed_by_what_is_known_of_it(drawing, tmp_path):
    way = drawing.way([drawing.node(-25.5, 46.5), 9002, 9003], shop="supermarket")
    place = by_id(found_in(drawing.write(tmp_path / "clipped.osm.pbf", box=BOX)))[f"way/{way}"]
    assert (round(place.lon, 5), round(place.lat, 5)) == (-25.5, 46.5)


def test_unsaved_objects_with_negative_numbers_are_told(tmp_path):
    path = tmp_path / "editor.osm"
    path.write_text(
        '<osm version="0.6"><node id="-1" lat="46.5" lon="-25.5"/>'
        '<node id="-2" lat="46.5" lon="-25.501"/>'
        '<node id="-3" lat="46.5" lon="-25.5"><tag k="shop" v="bakery"/></node>'
        '<way id="-4"><nd ref="-1"/><nd ref="-2"/><tag k="shop" v="deli"/></way></osm>'
    )
    found = found_in(path)
    assert [place.id for place in found.places] == ["node/-3"]
    assert "1 place left out" in found.warnings[0]


def test_impossible_coordinates_are_no_place(tmp_path):
    path = tmp_path / "a.osm"
    path.write_text(
        '<osm version="0.6"><node id="1" lat="95" lon="2"><tag k="shop" v="bakery"/></node></osm>'
    )
    found = found_in(path)
    assert found.places == ()
    assert "1 place left out" in found.warnings[1]


def test_names_from_the_map_stay_text_on_one_line(drawing, tmp_path):
    drawing.node(-25.5, 46.5, shop="bakery", name="<script>\x1b[31m'\"\n\u202e ☕")
    (place,) = found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).places
    assert place.name == "<script>[31m'\" ☕"


def test_a_nameless_place_takes_its_brand(drawing, tmp_path):
    drawing.node(-25.5, 46.5, amenity="fuel", brand="Puffin Oil")
    (place,) = found_in(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).places
    assert place.name == "Puffin Oil"
    assert place.supplies[Supply.ICE] is Confidence.LIKELY


def test_the_same_files_give_the_same_places(drawing, tmp_path):
    for one in range(20):
        drawing.node(-25.9 + one * 0.04, 46.5, shop="bakery")
    path = drawing.write(tmp_path / "a.osm.pbf", box=BOX)
    assert found_in(path) == found_in(path)


def test_importing_the_reader_loads_no_heavy_library():
    code = (
        "import sys, resupply.places.extract; "
        "heavy = {'osmium', 'scipy', 'shapely', 'pandas', 'osmnx', 'pyproj'} & set(sys.modules); "
        "sys.exit(str(heavy) if heavy else 0)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
