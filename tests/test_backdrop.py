"""The light map under the route: what is on it, where it ends, how heavy it is."""

from __future__ import annotations

import json

import numpy as np
import pytest
from extract_files import Drawing, straight_route

from resupply.common.geodesy import geod
from resupply.places.base_map import Backdrop, backdrop_document, read_extract
from resupply.places.extract import places_from_extract
from resupply.route.route import make_route

BOX = (-26.2, 46.2, -24.8, 46.8)


@pytest.fixture
def drawing():
    one = Drawing()
    one.road()
    return one


def backdrop_of(path, route=None, **keys):
    return read_extract([path], route or straight_route(), reach_m=5_000.0, **keys)[1]


def offset_m(lon, lat):
    """Distance from the straight test road along latitude 46.5."""
    nearest = min(max(lon, -26.0), -25.0)
    return geod().inv(lon, lat, nearest, 46.5)[2]


def test_roads_in_pieces_become_one_line_and_side_streets_are_left_out(drawing, tmp_path):
    drawing.line([(-25.5, 46.5), (-25.5, 46.55)], highway="trunk")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert [kind for kind, _ in drawn.roads].count("major") == 1
    assert len(drawn.roads) == 2


def test_the_backdrop_ends_some_way_off_the_route(drawing, tmp_path):
    line = [(-25.5, lat) for lat in np.linspace(46.5, 48.0, 200)]
    drawing.line(line, highway="primary")
    drawing.line([(-25.6, 47.5), (-25.5, 47.5)], highway="primary")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX), backdrop_reach_m=15_000.0)
    far = [offset_m(*point) for _, line in drawn.roads for point in line]
    assert 15_000.0 < max(far) < 50_000.0


def test_a_long_straight_road_across_the_route_is_drawn_though_its_ends_are_far(tmp_path):
    drawing = Drawing()
    drawing.line([(-25.5, 46.0), (-25.5, 47.0)], highway="primary")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf"))
    assert len(drawn.roads) == 1


def test_lines_stay_within_the_tolerance_and_have_five_decimals(tmp_path):
    drawing = Drawing()
    lon = np.linspace(-26.0, -25.0, 2_000)
    lat = 46.5 + 0.01 * np.sin(lon * 60.0)
    drawing.line(list(zip(lon, lat, strict=True)), highway="primary")
    ((_, line),) = backdrop_of(drawing.write(tmp_path / "a.osm.pbf")).roads
    drawn = np.array(line)
    assert len(drawn) < 400
    off_m = np.abs(np.interp(lon, drawn[:, 0], drawn[:, 1]) - lat) * 111_200.0
    # 20 m on reading, 30 m on drawing; across the line, so steeper pieces show more in latitude.
    assert off_m.max() < 80.0
    assert np.array_equal(drawn, np.round(drawn, 5))


def test_rivers_are_lines_and_lakes_areas_but_ponds_are_left_out(drawing, tmp_path):
    drawing.line([(-25.7, 46.5), (-25.7, 46.55)], waterway="river")
    drawing.line([(-25.8, 46.5), (-25.8, 46.55)], waterway="stream")
    drawing.area(-25.5, 46.52, half=0.01, natural="water")
    drawing.area(-25.4, 46.52, half=0.001, natural="water")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert sorted(kind for kind, _ in drawn.waters) == ["area", "line"]
    (lake,) = [line for kind, line in drawn.waters if kind == "area"]
    assert lake[0] == lake[-1]


def test_a_lake_of_several_ways_is_one_area(drawing, tmp_path):
    corners = [(-25.5, 46.52), (-25.48, 46.52), (-25.48, 46.54), (-25.5, 46.54)]
    refs = [drawing.node(*corner) for corner in corners]
    halves = [drawing.way(refs[:3]), drawing.way([*refs[2:], refs[0]])]
    drawing.relation(
        [("w", half, "outer") for half in halves], type="multipolygon", natural="water"
    )
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    ((kind, line),) = drawn.waters
    assert kind == "area"
    assert len(set(line)) == 4


def shore(drawing, points):
    refs = [drawing.node(*point) for point in points]
    for one, other in zip(refs, [*refs[1:], refs[0]], strict=True):
        drawing.way([one, other], natural="coastline")


def test_a_shore_that_closes_around_the_route_is_land(drawing, tmp_path):
    shore(drawing, [(-27, 46), (-24, 46), (-24, 47), (-27, 47)])
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    ((*corners, last),) = drawn.land
    assert len(corners) == 4
    assert last == corners[0]


def test_a_shore_of_an_islet_beside_the_route_is_a_line_and_no_land(drawing, tmp_path):
    shore(drawing, [(-25.6, 46.55), (-25.5, 46.55), (-25.5, 46.6)])
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert drawn.land == ()
    assert [kind for kind, _ in drawn.waters] == ["line"]


def test_an_open_shore_is_a_line(drawing, tmp_path):
    drawing.line([(-27, 46.52), (-25, 46.52), (-24, 46.52)], natural="coastline")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert drawn.land == ()
    assert len(drawn.waters) == 1


def test_towns_are_ranked_and_the_largest_come_first(drawing, tmp_path):
    drawing.node(-25.5, 46.5, place="village", name="Wick Cross", population="300")
    drawing.node(-25.4, 46.5, place="town", name="Harrow Bay", population="4 200")
    drawing.node(-25.6, 46.5, place="city", name="<b>Port Varr</b>\x1b", population="many")
    drawing.node(-25.7, 46.5, place="village", name="Stonely", population="900")
    drawing.node(-25.7, 46.5, place="village")
    drawing.node(-25.8, 46.5, place="town", name="Crown Head", population="9000", capital="yes")
    drawing.node(-25.9, 46.5, place="village", name="Great Sallow", population="3100")
    drawing.node(-25.7, 47.9, place="city", name="Far Away")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert [(town.name, town.rank) for town in drawn.towns] == [
        ("Crown Head", 1),
        ("<b>Port Varr</b>", 1),
        ("Harrow Bay", 2),
        ("Great Sallow", 2),
        ("Stonely", 3),
        ("Wick Cross", 3),
    ]


def test_one_pass_gives_the_same_places_as_reading_for_places_alone(drawing, tmp_path):
    drawing.node(-25.5, 46.51, shop="supermarket")
    drawing.area(-25.4, 46.49, shop="bakery")
    drawing.node(-25.4, 46.5, place="town", name="Harrow Bay")
    path = drawing.write(tmp_path / "a.osm.pbf", box=BOX)
    alone = places_from_extract([path], straight_route(), reach_m=5_000.0)
    assert read_extract([path], straight_route(), reach_m=5_000.0)[0] == alone
    assert len(alone.places) == 2


def test_a_dense_4000_km_map_stays_below_a_megabyte(tmp_path):
    drawing = Drawing()
    rng = np.random.default_rng(3)
    route = straight_route((-20.0, 46.5), (32.0, 46.5), 2_000)
    for kind, count in (("trunk", 500), ("secondary", 3_000), ("tertiary", 6_000)):
        for _ in range(count):
            lon = rng.uniform(-20.0, 32.0) + np.cumsum(rng.uniform(0.0015, 0.006, 10))
            lat = rng.uniform(46.4, 46.6) + np.cumsum(rng.normal(0.0, 0.002, 10))
            drawing.line(list(zip(lon, lat, strict=True)), highway=kind)
    for number in range(4_000):
        drawing.node(
            rng.uniform(-20.0, 32.0),
            rng.uniform(46.4, 46.6),
            place="village",
            name=f"Wick {number}",
        )
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf"), route)
    text = json.dumps(backdrop_document(drawn), separators=(",", ":"))
    assert 200_000 < len(text) < 1_000_000
    assert {kind for kind, _ in drawn.roads} == {"major", "minor"}
    assert len(drawn.towns) <= 2_000


def test_the_document_is_plain_json(drawing, tmp_path):
    drawing.node(-25.4, 46.5, place="town", name="Harrow Bay")
    drawing.area(-25.5, 46.52, half=0.01, natural="water")
    document = backdrop_document(backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX)))
    text = json.dumps(document, allow_nan=False)
    assert list(json.loads(text)) == [
        "roads", "waters", "towns", "land", "cover", "borders", "peaks",
    ]  # fmt: skip
    assert document["towns"] == [{"name": "Harrow Bay", "lon": -25.4, "lat": 46.5, "rank": 2}]
    assert document["roads"][0]["class"] == "minor"
    assert document["waters"][0]["kind"] == "area"


def test_a_map_without_roads_gives_an_empty_backdrop(tmp_path):
    drawing = Drawing()
    drawing.node(-25.5, 46.5, shop="bakery")
    assert backdrop_of(drawing.write(tmp_path / "a.osm.pbf")) == Backdrop()


def test_the_same_file_gives_the_same_backdrop(drawing, tmp_path):
    path = drawing.write(tmp_path / "a.osm.pbf", box=BOX)
    assert backdrop_of(path) == backdrop_of(path)


def test_a_route_across_the_antimeridian_has_both_sides_on_its_map(tmp_path):
    drawing = Drawing()
    drawing.line([(179.5, -17.0), (180.0, -17.0)], highway="primary")
    drawing.line([(-180.0, -17.0), (-179.5, -17.0)], highway="primary")
    route = make_route([([179.6, 179.99, -179.99, -179.6], [-17.0] * 4, None)])
    drawn = backdrop_of(drawing.write(tmp_path / "fiji.osm.pbf"), route)
    assert {round(line[0][0]) // 100 for _, line in drawn.roads} == {1, -2}


def test_woods_quarters_and_ice_are_areas_and_small_ones_are_left_out(drawing, tmp_path):
    drawing.area(-25.7, 46.52, half=0.01, landuse="forest")
    drawing.area(-25.6, 46.52, half=0.008, landuse="residential")
    drawing.area(-25.5, 46.52, half=0.006, natural="glacier")
    drawing.area(-25.4, 46.52, half=0.001, natural="wood")
    drawing.area(-25.3, 46.52, half=0.01, landuse="meadow")
    drawing.area(-25.3, 47.9, half=0.01, landuse="forest")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX))
    assert [area.kind for area in drawn.cover] == ["wood", "built", "ice"]
    assert all(area.line[0] == area.line[-1] and not area.holes for area in drawn.cover)


def test_a_clearing_in_a_wood_stays_open(drawing, tmp_path):
    def ring(half):
        corners = [(-half, -half), (half, -half), (half, half), (-half, half)]
        refs = [drawing.node(-25.5 + x, 46.52 + y) for x, y in corners]
        return drawing.way([*refs, refs[0]])

    drawing.relation(
        [("w", ring(0.02), "outer"), ("w", ring(0.01), "inner"), ("w", ring(0.0005), "inner")],
        type="multipolygon", landuse="forest",
    )  # fmt: skip
    (wood,) = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).cover
    (hole,) = wood.holes
    assert {abs(round(lon + 25.5, 5)) for lon, _ in hole} == {0.01}


def test_a_land_full_of_woods_is_drawn_coarser_and_never_heavier(drawing, tmp_path):
    turn = np.linspace(0.0, 2.0 * np.pi, 400)
    for k in range(120):
        size = 0.004 * (1.0 + 0.3 * np.sin(turn * 40.0))
        lon = -25.9 + k % 40 * 0.02 + size * np.cos(turn)
        lat = 46.46 + k // 40 * 0.03 + size * np.sin(turn)
        refs = [drawing.node(*at) for at in zip(lon[:-1], lat[:-1], strict=True)]
        drawing.way([*refs, refs[0]], natural="wood")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).cover
    assert 0 < sum(len(area.line) for area in drawn) <= 12_000


def test_of_woods_that_are_all_small_and_too_many_some_are_drawn(drawing, tmp_path):
    for k in range(2_000):
        drawing.area(-26.0 + k % 100 * 0.01, 46.44 + k // 100 * 0.006, half=0.0025, natural="wood")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).cover
    assert 8_000 < sum(len(area.line) for area in drawn) <= 12_000


def test_borders_of_countries_are_lines(drawing, tmp_path):
    drawing.line([(-25.7, 46.5), (-25.7, 46.55)], boundary="administrative", admin_level="2")
    drawing.line([(-25.6, 46.5), (-25.6, 46.55)], boundary="administrative", admin_level="6")
    (border,) = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).borders
    assert {lon for lon, _ in border} == {-25.7}


def test_heights_are_the_pass_on_the_way_first_and_then_the_highest_peaks(drawing, tmp_path):
    drawing.node(-25.5, 46.53, natural="peak", name="Low Top", ele="812.5 m")
    drawing.node(-25.6, 46.53, natural="peak", name="<i>High Top</i>\x1b", ele="1204")
    drawing.node(-25.4, 46.5, mountain_pass="yes", name="The Saddle", ele="640")
    drawing.node(-25.3, 46.52, natural="saddle", name="Goat Gap", ele="900")
    drawing.node(-25.2, 46.52, natural="peak", name="Fable", ele="99999")
    drawing.node(-25.1, 46.52, natural="peak", name="Unmeasured", ele="high")
    drawing.node(-25.1, 46.53, natural="peak", ele="500")
    drawn = backdrop_of(drawing.write(tmp_path / "a.osm.pbf", box=BOX)).summits
    assert [(one.kind, one.name, one.ele_m) for one in drawn] == [
        ("pass", "The Saddle", 640.0),
        ("peak", "<i>High Top</i>", 1204.0),
        ("peak", "Low Top", 812.5),
    ]
