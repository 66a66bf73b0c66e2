from __future__ import annotations

import io
import json
import math
import tracemalloc
import zipfile
from pathlib import Path

import numpy as np
import pytest
from real_data import gpx_files

from resupply.common.errors import RouteError
from resupply.route.gpx import read_gpx
from resupply.route.read import parse_route, read_route
from tests.route_files import (
    FORMATS,
    every_format,
    fit,
    fit_file,
    geojson,
    kml,
    kml_line,
    kml_point,
    kmz,
    line,
)

A, B, C, D = (10.0, 50.0), (10.01, 50.0), (10.02, 50.0), (10.03, 50.0)
RIDE = ((-28.5, 46.25, 12.0), (-28.51, 46.26, 250.4), (-28.52, 46.25, 99.0))
# A FIT position is a 2^31st of half a turn.
FIT_DEG = 180.0 / 2**31


def read(data: bytes):
    return parse_route(data, name="ride")


def fault(data: bytes) -> str:
    with pytest.raises(RouteError) as caught:
        read(data)
    text = str(caught.value)
    assert "\n" not in text
    assert text.startswith("ride")
    assert caught.value.mend
    return text


# -- every format --


@pytest.mark.parametrize("kind", FORMATS)
def test_the_same_ride_is_read_alike_from_every_format(kind):
    route = read(every_format(RIDE)[kind])
    lon, lat, ele_m = zip(*RIDE, strict=True)
    assert route.lon == pytest.approx(lon, abs=FIT_DEG if kind == "fit" else 0.0)
    assert route.lat == pytest.approx(lat, abs=FIT_DEG if kind == "fit" else 0.0)
    assert route.ele_m == pytest.approx(ele_m, abs=0.1 if kind == "fit" else 0.0)
    assert route.name == "Ride"
    assert route.breaks == ()
    assert route.warnings == ()


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("ending", ["gpx", "kml", "bin", ""])
def test_the_content_decides_and_not_the_ending(tmp_path, kind, ending):
    path = tmp_path / f"ride.{ending}"
    path.write_bytes(every_format(RIDE)[kind])
    assert read_route(path).lon.size == 3


@pytest.mark.parametrize("kind", FORMATS)
def test_every_format_says_where_a_position_is_none(kind):
    data = every_format([(10.0, 50.0), (10.0, 95.0), (10.1, 50.0)])[kind]
    text = fault(data)
    assert "position" in text
    assert "95" in text


@pytest.mark.parametrize("kind", ["kml", "kmz", "geojson", "fit"])
def test_points_alone_are_no_route(kind):
    marks = {
        "kml": kml(kml_point(A, "Spring")),
        "kmz": kmz(kml(kml_point(A, "Spring"))),
        "geojson": geojson({"type": "Point", "coordinates": [*A]}),
        "fit": fit([], marks=[(A, "Spring")]),
    }
    assert "only waypoints (1)" in fault(marks[kind])


@pytest.mark.parametrize("kind", ["kml", "kmz", "geojson", "fit"])
def test_points_are_marks_with_their_names(kind):
    point = {"type": "Point", "coordinates": [*C]}
    files = {
        "kml": kml(kml_line([A, B]), kml_point(C, "Spring")),
        "kmz": kmz(kml(kml_line([A, B]), kml_point(C, "Spring"))),
        "geojson": geojson(line(A, B), point, name="Spring"),
        "fit": fit([A, B], marks=[(C, "Spring")]),
    }
    (mark,) = read(files[kind]).marks
    assert mark.name == "Spring"
    assert (mark.lon, mark.lat) == pytest.approx(C, abs=FIT_DEG)


@pytest.mark.parametrize("kind", ["kml", "geojson"])
def test_two_lines_are_joined_and_the_jump_is_kept(kind):
    files = {
        "kml": kml(kml_line([A, B]), kml_line([C, D])),
        "geojson": geojson(line(A, B), line(C, D)),
    }
    route = read(files[kind])
    assert route.lon.tolist() == [10.0, 10.01, 10.02, 10.03]
    (jump,) = route.breaks
    # A hundredth of a degree of longitude at 50° N on WGS84.
    assert (jump.index, jump.length_m) == (1, pytest.approx(717.0, abs=0.5))


@pytest.mark.parametrize("kind", FORMATS)
def test_height_nought_throughout_is_not_known(kind):
    route = read(every_format([(*A, 0.0), (*B, 0.0)])[kind])
    if kind == "gpx":
        assert route.ele_m.tolist() == [0.0, 0.0]
    else:
        assert np.isnan(route.ele_m).all()


def test_other_kinds_are_named():
    assert "web page" in fault(b"<!DOCTYPE html><html></html>")
    assert "PDF" in fault(b"%PDF-1.7 ...")
    assert "empty" in fault(b"")
    assert "not GeoJSON" in fault(b'{"a": 1}')
    assert "not GeoJSON" in fault(b"[1, 2]")
    assert "holds no .kml" in fault(kmz(b"x", name="readme.txt"))


def test_a_missing_file_is_one_line(tmp_path):
    with pytest.raises(RouteError, match="cannot be read: No such file"):
        read_route(tmp_path / "none.kml")
    with pytest.raises(RouteError, match="cannot be read"):
        read_route(Path("a\0b"))


# -- KML --


def test_tracks_with_times_are_read():
    track = (
        "<Placemark><gx:Track><altitudeMode>absolute</altitudeMode>"
        "<when>2027-07-09T08:00:00Z</when><when>2027-07-09T08:01:00Z</when><when/>"
        "<gx:coord>10.0 50.0 5</gx:coord><gx:coord>10.01 50.0 7</gx:coord><gx:coord/>"
        "</gx:Track></Placemark>"
    )
    route = read(kml(track))
    assert route.lon.tolist() == [10.0, 10.01]
    assert route.ele_m.tolist() == [5.0, 7.0]


def test_lines_in_collections_are_read_and_areas_are_left_out():
    ring = "<coordinates>1,1 2,1 2,2 1,1</coordinates>"
    collection = (
        "<Placemark><MultiGeometry><LineString><coordinates>10,50 10.01,50</coordinates>"
        "</LineString><Polygon><outerBoundaryIs><LinearRing>"
        f"{ring}</LinearRing></outerBoundaryIs><innerBoundaryIs><LinearRing>{ring}"
        "</LinearRing></innerBoundaryIs></Polygon></MultiGeometry></Placemark>"
    )
    route = read(kml(collection))
    assert route.lon.tolist() == [10.0, 10.01]
    assert route.warnings == ("Left out of the route: 1 area of the file",)


def test_links_are_told_and_never_followed():
    link = "<NetworkLink><Link><href>http://192.0.2.1/more.kml</href></Link></NetworkLink>"
    assert read(kml(kml_line([A, B]), link)).warnings == (
        "The file links to maps kept elsewhere: they are not fetched",
    )


@pytest.mark.parametrize("mode", ["relativeToGround", "relativeToSeaFloor", "clampToSeaFloor"])
def test_heights_above_the_ground_are_no_elevations(mode):
    route = read(kml(kml_line([(*A, 5.0), (*B, 6.0)], mode=mode)))
    assert np.isnan(route.ele_m).all()


def test_a_long_line_is_read_whole_wherever_its_text_is_cut():
    places = [(round(10 + i * 1e-5, 5), 50.0, float(i % 700)) for i in range(20_000)]
    route = read(kml(kml_line(places)))
    assert route.lon.tolist() == [place[0] for place in places]
    assert route.ele_m.tolist() == [place[2] for place in places]


def test_a_position_that_is_none_is_named_with_its_line():
    blank = kml_line([A, B]).replace("10.01,50", "10.01 ,50")
    assert 'a position cannot be read ("10.01")' in fault(kml(blank))
    text = fault(kml("", kml_line([A, B]).replace("10.01", "ten")))
    assert 'ride, line 4: a position cannot be read ("ten,50.0")' in text
    assert "nan" in fault(kml(kml_line([A, ("nan", 50.0)])))


def test_a_position_longer_than_any_number_is_refused():
    assert "longer than any number" in fault(kml(kml_line([("1" * 300_000, 50.0)])))


def test_a_document_type_is_refused_before_any_entity_is_expanded():
    entities = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 40))
    text = "<kml><Document><name>&e39;</name></Document></kml>"
    bomb = f'<!DOCTYPE kml [<!ENTITY e0 "x">{entities}]>{text}'
    for data in (bomb.encode(), kmz(bomb.encode())):
        assert "document type" in fault(data)


def test_an_outside_entity_is_not_read(tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("1,1 2,2")
    document = (
        f'<!DOCTYPE kml [<!ENTITY x SYSTEM "{secret.as_uri()}">]>'
        "<kml><Placemark><LineString><coordinates>&x;</coordinates></LineString></Placemark></kml>"
    )
    assert "document type" in fault(document.encode())


def test_deep_nesting_and_long_tags_are_refused():
    assert "nested more than" in fault(b"<kml>" + b"<Folder>" * 1_000_000)
    assert "longer than 1 MB" in fault(b"<kml><!--" + b"x" * 3_000_000)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"<kml><Document>", "broken here (no element found)"),
        (b"<kml></Document>", "mismatched tag"),
        (b"<kml>\xff\xfe</kml>", "broken here"),
        (b'<?xml version="1.0" encoding="x-none"?><kml/>', "encoding"),
    ],
)
def test_broken_kml_is_one_line(data, says):
    assert says in fault(data)


def test_kml_in_utf_16_and_without_a_namespace_is_read():
    document = "<kml>" + kml_line([A, B]) + "</kml>"
    assert read(document.encode("utf-16")).lon.size == 2
    assert read(document.encode()).lon.size == 2


# -- KMZ --


def test_the_first_document_of_an_archive_is_read_and_nothing_else():
    data = kmz(kml(kml_line([A, B])), name="files/Ride.KML", before=("a.png", "b.txt"))
    assert read(data).lon.tolist() == [10.0, 10.01]


def test_a_zip_bomb_is_refused_in_little_memory():
    bomb = kmz(b"<kml><!--" + b" " * 1_000 + b"-->" + b" " * 201_000_000)
    assert len(bomb) < 1_000_000
    tracemalloc.start()
    text = fault(bomb)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "more than the 200 MB" in text
    assert peak < 20_000_000


def test_an_archive_of_many_files_is_not_opened():
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for number in range(10_001):
            archive.writestr(str(number), b"")
    assert "more than 10,000 files" in fault(packed.getvalue())


def test_damaged_encrypted_and_oddly_packed_archives_are_one_line():
    good = kmz(kml(kml_line([A, B])))
    assert "cannot be read" in fault(good[:-30])
    middle = len(good) // 3
    assert "cannot be read" in fault(good[:middle] + b"\xff\xff" + good[middle + 2 :])
    # Bit 0 of the general purpose flags, in the local header and in the directory.
    locked = bytearray(good)
    locked[6] |= 1
    locked[good.index(b"PK\x01\x02") + 8] |= 1
    assert "locked by a password" in fault(bytes(locked))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_LZMA) as archive:
        archive.writestr("doc.kml", b"<kml/>")
    assert "packed in an unusual way" in fault(packed.getvalue())


# -- GeoJSON --


def test_bare_geometries_features_and_collections_are_read():
    for document in (
        line(A, B),
        {"type": "Feature", "properties": None, "geometry": line(A, B)},
        {"type": "GeometryCollection", "geometries": [line(A, B)]},
        {"type": "MultiLineString", "coordinates": [[[*A], [*B]]]},
        {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": line(A, B)}]},
    ):
        assert read(json.dumps(document).encode()).lon.tolist() == [10.0, 10.01]


def test_features_without_a_place_and_areas_are_left_out():
    area = {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]]}
    route = read(geojson(None, area, {**area, "type": "MultiPolygon"}, line(A, B)))
    assert route.lon.size == 2
    assert route.warnings == ("Left out of the route: 2 areas of the file",)


def test_a_line_cut_at_the_antimeridian_is_one_line():
    cut = {
        "type": "MultiLineString",
        "coordinates": [[[179.9, 1], [180, 1]], [[-180, 1], [-179.9, 1]]],
    }
    route = read(json.dumps(cut).encode())
    assert route.breaks == ()
    assert route.length_m == pytest.approx(0.2 * 111_302.6, rel=1e-4)


def test_positions_in_another_reference_system_are_refused():
    def named(name: str) -> bytes:
        return geojson(line(A, B), crs={"type": "name", "properties": {"name": name}})

    assert read(named("urn:ogc:def:crs:OGC:1.3:CRS84")).lon.size == 2
    assert "EPSG::25832" in fault(named("urn:ogc:def:crs:EPSG::25832"))
    assert "not in longitude" in fault(geojson(line(A, B), crs={"type": "link"}))


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b'{"type": "LineString"', "ends in the middle"),
        (b'{"type": "LineString", }', "line 1, character 24"),
        (b'{"type": "LineString", "coordinates": [[NaN, 1], [2, 2]]}', "NaN is not a number"),
        (b'{"type": "LineString", "coordinates": [[1e999, 1], [2, 2]]}', "longitude inf"),
        (b'{"type": "LineString", "coordinates": [[' + b"9" * 400 + b", 1]]}", "longitude inf"),
        (b'{"type": "LineString", "coordinates": [[' + b"9" * 9000 + b", 1]]}", "cannot be read"),
        (b'{"type": "LineString", "coordinates": [["1", "2"], [2, 2]]}', "no number"),
        (b'{"type": "LineString", "coordinates": [[true, 1], [2, 2]]}', "no number"),
        (b'{"type": "LineString", "coordinates": [1, 2]}', "list of longitude and latitude"),
        (b'{"type": "LineString", "coordinates": {}}', "has no list of coordinates"),
        (b'{"type": "MultiLineString", "coordinates": [1]}', "a line is a list"),
        (b'{"type": "Topology", "objects": {}, "arcs": []}', '"Topology"'),
        (b'{"type": ["LineString"], "coordinates": []}', "type is"),
        (b'{"type": "FeatureCollection", "features": [7]}', "feature 1: this is not GeoJSON"),
        (b'{"type": "Point", "coordinates": [200, 1]}', "longitude 200"),
        ('{"type": "Point"}'.encode("utf-16"), "not"),
        (b'{"type": "Point", "name": "\xff"}', "UTF-8"),
        (b"[" * 200_000, "nested too deeply"),
        (b'{"type": "FeatureCollection", "features": []}', "no points"),
        (b'{"type": "LineString", "coordinates": []}', "no points"),
    ],
)
def test_json_that_is_no_route_is_one_line(data, says):
    assert says in fault(data)


def test_collections_within_collections_end_somewhere():
    node: dict = line(A, B)
    for _ in range(30):
        node = {"type": "GeometryCollection", "geometries": [node]}
    assert "nested more than 20 deep" in fault(json.dumps(node).encode())


def test_a_document_of_too_many_values_is_refused_before_it_is_built():
    tracemalloc.start()
    text = fault(b'{"type": "Point", "coordinates": [' + b"[]," * 6_000_000 + b"[]]}")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "10,000,000 values" in text
    assert peak < 60_000_000


def test_half_a_character_in_a_name_is_replaced_for_no_file_can_hold_it():
    route = read(
        b'{"type":"Feature","properties":{"name":"a\\ud800b\\u0000c"},"geometry":'
        b'{"type":"LineString","coordinates":[[10,50],[10.01,50]]}}'
    )
    assert route.name == "a?bc"


# -- FIT --


def test_records_without_a_position_are_passed_over():
    places = [A, (180.0 * (2**31 - 1) / 2**31, 50.0), B]  # 0x7fffffff: not known
    assert read(fit(places)).lon.size == 2


def test_an_unknown_height_is_unknown():
    route = read(fit([(*A, 100.0), B]))
    assert route.ele_m[0] == pytest.approx(100.0)
    assert math.isnan(route.ele_m[1])


def test_damaged_fit_files_are_one_line():
    good = fit([A, B, C])
    assert "checksum" in fault(good[:-20] + b"\x01" + good[-19:])
    assert "ends in the middle" in fault(good[:-7])
    assert "no sense" in fault(fit_file(b"\x05" * 40))


def test_a_fit_file_of_endless_messages_is_refused(monkeypatch):
    monkeypatch.setattr("resupply.route.fit._MAX_MESSAGES", 1_000)
    empty_records = b"\x40\x00\x00\x14\x00\x00" + b"\x00" * 1_001
    assert "more than 1,000 messages" in fault(fit_file(empty_records))


def test_a_large_fit_file_is_refused_unread():
    assert "9 MB" in fault(b"\x0e\x20\x34\x08\0\0\0\0.FIT" + bytes(9_000_000))


# -- a second opinion --


# GDAL tells that XML cannot hold some of the files' names as they are.
@pytest.mark.filterwarnings("ignore:Layer name .* adjusted:RuntimeWarning")
@pytest.mark.parametrize("driver", ["KML", "GeoJSON"])
def test_real_rides_turned_by_gdal_into_another_format_are_read_alike(tmp_path, driver):
    import pyogrio
    from shapely.geometry import LineString, MultiLineString

    compared = 0
    for path in gpx_files():
        try:
            own = read_gpx(path)
        except RouteError:
            continue
        ends = [b.index + 1 for b in own.breaks]
        pieces = [
            np.column_stack(piece)
            for piece in zip(np.split(own.lon, ends), np.split(own.lat, ends), strict=True)
            if len(piece[0]) > 1
        ]
        if sum(len(piece) for piece in pieces) < own.lon.size:
            continue
        made = tmp_path / f"{path.stem}.{driver.lower()}"
        pyogrio.raw.write(
            made,
            geometry=np.array([MultiLineString([LineString(p) for p in pieces]).wkb]),
            field_data=[np.array(["ride"], dtype=object)],
            fields=["Name"],
            geometry_type="MultiLineString",
            crs="EPSG:4326",
            driver=driver,
        )
        other = read_route(made)
        assert other.lon == pytest.approx(own.lon, abs=1e-9)
        assert other.lat == pytest.approx(own.lat, abs=1e-9)
        assert other.length_m == pytest.approx(own.length_m, abs=0.01)
        assert [b.index for b in other.breaks] == [b.index for b in own.breaks]
        compared += 1
    assert compared >= 5
