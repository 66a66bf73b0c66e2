from __future__ import annotations

import math
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from resupply.common import text
from resupply.common.errors import RouteError
from resupply.common.quantity import as_sentence
from resupply.common.show import text as shown_as
from resupply.route import gpx as gpx_in
from resupply.route import gpx_xml
from resupply.route.gpx import parse_gpx, read_gpx
from tests.gpx_text import NS, gpx, planned, points, track

A, B, C, D = (10.0, 50.0), (10.01, 50.0), (10.02, 50.0), (10.03, 50.0)
FAR = (11.0, 50.0)


def lons(data: bytes) -> list[float]:
    return parse_gpx(data, name="ride.gpx").lon.tolist()


def fault(data: bytes) -> str:
    with pytest.raises(RouteError) as caught:
        parse_gpx(data, name="ride.gpx")
    text = str(caught.value)
    assert "\n" not in text
    assert text.startswith("ride.gpx")
    assert caught.value.mend
    return text


# -- what is read --


def told(route):
    return [shown_as(as_sentence(said)) for said in route.warnings]


def test_a_track_is_read_point_by_point():
    route = parse_gpx(gpx(track([(*A, 101.5), B, (*C, -3.25)])), name="ride.gpx")
    assert route.lon.tolist() == [10.0, 10.01, 10.02]
    assert route.lat.tolist() == [50.0, 50.0, 50.0]
    assert route.ele_m[[0, 2]].tolist() == [101.5, -3.25]
    assert math.isnan(route.ele_m[1])
    assert route.breaks == ()
    assert route.warnings == ()


def test_gpx_1_0_is_read():
    data = gpx(track([A, B]), version="1.0", ns="http://www.topografix.com/GPX/1/0")
    assert lons(data) == [10.0, 10.01]


def test_a_document_without_namespace_is_read():
    assert lons(f"<gpx>{track([A, B])}</gpx>".encode()) == [10.0, 10.01]


def test_a_prefixed_document_is_read():
    body = track([A, B]).replace("</", "</g:").replace("<trk", "<g:trk")
    data = f'<g:gpx xmlns:g="{NS}">{body}</g:gpx>'.encode()
    assert lons(data) == [10.0, 10.01]


def test_tracks_and_segments_keep_their_order():
    data = gpx(track([A, B], [C]), track([D, FAR]))
    assert lons(data) == [10.0, 10.01, 10.02, 10.03, 11.0]


def test_a_route_is_read_where_there_is_no_track():
    route = parse_gpx(gpx(planned([A, B, C])), name="ride.gpx")
    assert route.lon.tolist() == [10.0, 10.01, 10.02]
    assert route.warnings == ()


def test_tracks_win_over_routes_and_it_is_said():
    route = parse_gpx(gpx(planned([A, FAR]), track([A, B])), name="ride.gpx")
    assert route.lon.tolist() == [10.0, 10.01]
    assert "only the tracks are used" in route.warnings[0]


def test_an_empty_track_gives_way_to_the_route_and_it_is_said():
    route = parse_gpx(gpx(track([A]), planned([B, C])), name="ride.gpx")
    assert route.lon.tolist() == [10.01, 10.02]
    assert "routes are used" in route.warnings[0]


def test_several_routes_are_joined_and_it_is_said():
    route = parse_gpx(gpx(planned([A, B]), planned([B, C])), name="ride.gpx")
    assert route.lon.tolist() == [10.0, 10.01, 10.01, 10.02]
    assert route.breaks == ()
    assert route.warnings == ("The file's 2 routes are joined in their order",)


def test_shape_points_between_route_points_are_read_and_it_is_said():
    shape = (
        "<extensions><x:RoutePointExtension>"
        '<x:rpt lat="50.0" lon="10.005"/><x:rpt lat="50.0" lon="10.008"/>'
        "</x:RoutePointExtension></extensions>"
    )
    data = gpx(
        '<rte xmlns:x="http://www.garmin.com/xmlschemas/GpxExtensions/v3">'
        f'<rtept lat="50" lon="10">{shape}</rtept><rtept lat="50" lon="10.01"/></rte>'
    )
    route = parse_gpx(data, name="ride.gpx")
    assert route.lon.tolist() == [10.0, 10.005, 10.008, 10.01]
    assert "2 shape points" in route.warnings[0]


def test_waypoints_become_marks_in_order():
    data = gpx(
        '<wpt lat="50" lon="10"><name>Ford</name></wpt>',
        '<wpt lat="50.1" lon="10.1"><ele>3</ele></wpt>',
        track([A, B]),
    )
    marks = parse_gpx(data, name="ride.gpx").marks
    assert [(m.name, m.lon, m.lat) for m in marks] == [("Ford", 10.0, 50.0), ("", 10.1, 50.1)]


def test_points_of_an_extension_are_not_ridden():
    inside = f'<extensions><o:trkpt xmlns:o="other" lat="1" lon="1"/>{points([FAR])}</extensions>'
    data = gpx(f"<trk>{inside}<trkseg>{points([A])}{inside}{points([B])}</trkseg></trk>")
    assert lons(data) == [10.0, 10.01]


def test_only_the_first_elevation_counts_and_rubbish_is_unknown():
    body = (
        '<trkpt lat="50" lon="10"><ele>7</ele><ele>8</ele></trkpt>'
        '<trkpt lat="50" lon="10.01"><ele>high</ele></trkpt>'
        '<trkpt lat="50" lon="10.02"><ele>1e999</ele></trkpt>'
        '<trkpt lat="50" lon="10.03"><ele>99999</ele></trkpt>'
        '<trkpt lat="50" lon="10.04"><ele> 12.5 </ele></trkpt>'
    )
    ele_m = parse_gpx(gpx(f"<trk><trkseg>{body}</trkseg></trk>"), name="x.gpx").ele_m
    assert ele_m[[0, 4]].tolist() == [7.0, 12.5]
    assert np.isnan(ele_m[1:4]).all()


@pytest.mark.parametrize(
    ("body", "name"),
    [
        (
            ("<metadata><name>Whole ride</name></metadata>", track([A, B], name="Day 1")),
            "Whole ride",
        ),
        (("<name>Old style</name>", track([A, B])), "Old style"),
        ((track([A, B], name="Day 1"),), "Day 1"),
        ((track([A, B], name="Day 1"), track([B, C], name="Day 2")), "ride"),
        ((track([A, B]),), "ride"),
    ],
)
def test_the_name_is_the_documents_or_the_only_tracks_or_the_files(body, name):
    assert parse_gpx(gpx(*body), name="ride.gpx").name == name


def test_names_lose_control_characters_but_keep_markup_as_text():
    data = gpx(track([A, B], name="&lt;b&gt;x&#x9b;31m\n  y&lt;/b&gt;"))
    assert parse_gpx(data, name="ride.gpx").name == "<b>x31m y</b>"


def test_names_are_cut():
    data = gpx(track([A, B], name="ab " * 100_000))
    assert parse_gpx(data, name="ride.gpx").name == ("ab " * 100)[: text.NAME_LIMIT].strip()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1", "windows-1250"])
def test_encodings_are_read_as_declared(encoding):
    declared = "utf-8" if encoding == "utf-8-sig" else encoding
    body = track([A, B], name="Höhenweg")
    data = f'<?xml version="1.0" encoding="{declared}"?><gpx>{body}</gpx>'.encode(encoding)
    route = parse_gpx(data, name="ride.gpx")
    assert route.name == "Höhenweg"
    assert route.lon.tolist() == [10.0, 10.01]


def test_blank_lines_before_the_declaration_are_forgiven():
    assert lons(b"\n\r\n " + gpx(track([A, B]))) == [10.0, 10.01]


# -- jumps and sparse lines --


def test_a_jump_is_a_break_and_not_ridden():
    route = parse_gpx(gpx(track([A, B], [C, D])), name="ride.gpx")
    assert [jump.index for jump in route.breaks] == [1]
    assert route.breaks[0].length_m == pytest.approx(716.9, abs=0.5)
    assert route.length_m == pytest.approx(2 * 716.9, abs=1.0)
    # What it was taken for is said with the plan, which knows what the rider says of it.
    assert route.warnings == ()


def test_a_recorders_pause_of_some_metres_is_ridden_on():
    near = (10.0103, 50.0)
    route = parse_gpx(gpx(track([A, B], [near, C])), name="ride.gpx")
    assert route.breaks == ()
    assert route.length_m == pytest.approx(2 * 716.9, abs=1.0)


def test_empty_segments_change_nothing():
    assert lons(gpx(track([], [A, B], [], [B, C], []))) == [10.0, 10.01, 10.01, 10.02]


def test_a_sparse_route_names_its_longest_straight_piece():
    route = parse_gpx(gpx(planned([A, B, FAR, (11.0, 50.2)])), name="ride.gpx")
    (warning,) = told(route)
    assert "longest straight piece is 71 km (from km 1 to km 72)" in warning
    assert "2 pieces are longer than 5 km" in warning


# -- what is refused, each in one line --


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b" \n ", "empty"),
        (b"hello", "not XML"),
        (b"\x00\x01\x02", "not XML"),
        (b"PK\x03\x04rest", "zip archive"),
        (b"\x1f\x8b\x08rest", "gzip archive"),
        (b'{"type": "FeatureCollection"}', "JSON"),
        (b"\x0e\x10\x00\x00\x00\x00\x00\x00.FIT", "FIT file"),
        (b'<kml xmlns="http://www.opengis.net/kml/2.2"></kml>', "KML"),
        (b"<!DOCTYPE html><html></html>", "web page"),
        (b"<html><br></html>", "web page"),
        (b"<rss/>", "root <rss>"),
        (gpx(), "no points"),
        (gpx(track([A])), "one point"),
        (gpx(track([A, A, A])), "no length"),
        (gpx('<wpt lat="1" lon="2"/>'), "only waypoints (1)"),
        (gpx(track([A, B]))[:-40], "ends in the middle"),
        (gpx(track([A, B]))[:90], "ends in the middle"),
        (gpx(track([A, B])) * 2, "broken"),
        (gpx(track([A, B], name="&nosuch;")), "broken"),
        (gpx(track([A, B], name="caf\xe9")).decode().encode("latin-1"), "encoding"),
        (gpx(track([A, B], name="&#xD800;")), "not allowed"),
        (gpx(track([A, B], name="&#0;")), "not allowed"),
        (
            gpx(track([A, B], name="@")).replace(b"@", b"\xed\xa0\x80"),
            "not allowed",
        ),
    ],
)
def test_bad_input_is_one_clear_line(data, said):
    assert said in fault(data)


@pytest.mark.parametrize("encoding", ["klingon", "gbk", "hex", "idna", "undefined", "utf-7", ""])
def test_an_encoding_that_cannot_be_read_is_refused(encoding):
    data = f'<?xml version="1.0" encoding="{encoding}"?><gpx>{track([A, B])}</gpx>'.encode()
    fault(data)


@pytest.mark.parametrize(
    "position",
    [
        'lat="NaN" lon="10"',
        'lat="50" lon="inf"',
        'lat="1e999" lon="10"',
        'lat="90.0001" lon="10"',
        'lat="50" lon="-180.5"',
        'lat="50,5" lon="10"',
        'lat="" lon="10"',
        'lat="50"',
        'lon="10"',
        "",
    ],
)
@pytest.mark.parametrize("tag", ["trkpt", "rtept", "wpt"])
def test_a_point_without_a_usable_position_is_refused_by_line(position, tag):
    wrap = {
        "trkpt": "<trk><trkseg>\n{}</trkseg></trk>",
        "rtept": "<rte>\n{}</rte>",
        "wpt": "\n{}",
    }[tag]
    text = fault(gpx(wrap.format(f"<{tag} {position}/>"), track([A, B])))
    assert text.startswith("ride.gpx, line 4: a point has no usable position (")


@pytest.mark.parametrize("bad", [(10.0, 95.0), (10.0, -95.0), (181.0, 50.0), (-181.0, 50.0)])
def test_the_line_is_right_in_and_after_blocks_of_plain_points(bad):
    ridden = [(10.0 + i / 1e5, 50.0) for i in range(10_000)]
    data = gpx(f"<trk><trkseg>\n{points([*ridden, bad, *ridden])}</trkseg></trk>")
    line = data[: data.index(points([bad]).encode())].count(b"\n") + 1
    assert fault(data).startswith(f"ride.gpx, line {line}: ")


@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>',
        '<!DOCTYPE gpx SYSTEM "file:///etc/hostname">',
        '<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/hostname">]>',
        "<!DOCTYPE gpx>",
    ],
)
def test_document_types_are_refused_so_no_entity_is_expanded(doctype):
    data = f"{doctype}<gpx>{track([A, B], name='&b;')}</gpx>".encode()
    assert "document type" in fault(data)


def test_deep_nesting_is_refused_early():
    assert "nested" in fault(b"<gpx>" + b"<a>" * 200_000)


@pytest.mark.parametrize(
    "long",
    [b"<gpx a='" + b"x" * 3_000_000, b"<gpx><!--" + b"x" * 3_000_000, b"<" + b"x" * 3_000_000],
)
def test_one_endless_tag_is_refused(long):
    assert "longer than 1 MB" in fault(long)


def test_a_route_longer_than_twice_round_the_earth_is_refused():
    text = fault(gpx(track([(0.0, -80.0), (179.0, 80.0)] * 10)))
    assert "which no one rides" in text


def test_limits_are_stated_when_passed(monkeypatch):
    ridden = gpx(track([A, B, C, D]))
    monkeypatch.setattr(gpx_xml, "MAX_POINTS", 3)
    assert "more than 3 points" in fault(ridden)
    monkeypatch.undo()
    monkeypatch.setattr(gpx_xml, "MAX_PARTS", 2)
    assert "more than 2 separate pieces" in fault(gpx(track([A, B], [B, C], [C, D])))
    monkeypatch.undo()
    monkeypatch.setattr(gpx_in, "MAX_BYTES", 100)
    assert "more than the 200 MB" in fault(ridden)


def test_further_waypoints_are_left_out_and_counted(monkeypatch):
    monkeypatch.setattr(gpx_xml, "MAX_MARKS", 2)
    route = parse_gpx(gpx('<wpt lat="1" lon="2"/>' * 5, track([A, B])), name="ride.gpx")
    assert len(route.marks) == 2
    assert "3 are left out" in route.warnings[0]


def test_a_300_mb_file_is_refused_without_being_read(tmp_path):
    path = tmp_path / "huge.gpx"
    with path.open("wb") as stream:
        stream.truncate(300_000_000)
    tracemalloc.start()
    with pytest.raises(RouteError, match="the file is 300 MB, more than the 200 MB"):
        read_gpx(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 1_000_000


def test_memory_grows_with_the_points_not_with_the_file(tmp_path):
    path = tmp_path / "wordy.gpx"
    wordy = f"<extensions><x>{'word ' * 400}</x></extensions>"
    rows = (f'<trkpt lat="50" lon="{10 + i / 1e5}">{wordy}</trkpt>' for i in range(10_000))
    path.write_bytes(gpx(f"<trk><trkseg>{''.join(rows)}</trkseg></trk>"))
    assert path.stat().st_size > 20_000_000
    tracemalloc.start()
    read_gpx(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 4_000_000


@pytest.mark.parametrize("name", ["missing.gpx", ".", "nul\0.gpx", "\udcff.gpx"])
def test_a_file_that_cannot_be_opened_is_one_clear_line(name):
    with pytest.raises(RouteError) as caught:
        read_gpx(Path(name))
    str(caught.value).encode()
    assert "cannot be read" in str(caught.value)


def test_long_runs_of_blanks_take_no_time():
    plain = points([(10.0 + i / 1e5, 50.0) for i in range(5_000)])
    odd = f'<trkpt lat="50" lon="10">{" " * 100_000}<time>{" " * 100_000}</time></trkpt>'
    route = parse_gpx(gpx(f"<trk><trkseg>{plain}{odd * 20}</trkseg></trk>"), name="x.gpx")
    assert len(route.lon) == 5_020


def test_what_looks_like_a_block_of_points_in_a_comment_is_not_read():
    many = points([(10.0 + i / 1e5, 50.0) for i in range(2_000)])
    hidden = points([FAR] * 10_000)
    for before, after in (("<!--", "-->"), ("<![CDATA[", "]]>"), ("<extensions>", "</extensions>")):
        data = gpx(f"<trk><trkseg>{many}{before}{hidden}{after}{many}</trkseg></trk>")
        assert 11.0 not in lons(data)
        assert len(lons(data)) == 4_000


def test_points_in_another_default_namespace_are_not_read():
    many = points([(10.0 + i / 1e5, 50.0) for i in range(3_000)])
    for tag in ("trkseg", "g:trkseg"):
        other = f'<{tag} xmlns="other" xmlns:g="{NS}">{points([FAR] * 10_000)}</{tag}>'
        data = gpx(f"<trk><trkseg>{many}</trkseg>{other}<trkseg>{many}</trkseg></trk>")
        assert len(lons(data)) == 6_000
