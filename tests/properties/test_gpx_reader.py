"""Any document: read as gpxpy reads it, whatever the size of the pieces; or one clear line."""

from __future__ import annotations

import gpxpy
import numpy as np
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from resupply.common.errors import RouteError
from resupply.route.gpx import parse_gpx
from resupply.route.gpx_xml import read_content
from tests.gpx_text import NS

# A long run sets this; the suite takes a short, repeatable one.
few = settings(
    max_examples=examples(50),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)

numbers = st.one_of(
    st.floats(-179.0, 179.0).map(lambda x: f"{x:.7f}"),
    st.integers(-170, 170).map(str),
    st.sampled_from(
        ["0", "-0.0", "1e1", " 7.5 ", "+3.25", "00012.500", "1.", ".5", "-12.3456789012"]
    ),
)
lats = st.one_of(st.floats(-90.0, 90.0).map(lambda x: f"{x:.6f}"), st.sampled_from(["0", "89.5"]))
blanks = st.sampled_from(["", "", "\n", "  ", "\r\n\t"])
comments = st.sampled_from(["", "", "", "<!-- x -->", "<!-- <trkpt lat='1' lon='1'></trkpt> -->"])
extras = st.sampled_from(
    [
        "",
        "",
        "<time>2027-07-09T08:30:00Z</time>",
        "<name>a &amp; b</name>",
        "<extensions><e:hr>90</e:hr></extensions>",
        "<extensions><e:trkpt lat='9' lon='9'><e:ele>1</e:ele></e:trkpt></extensions>",
        "<sym><![CDATA[</trkpt>]]></sym>",
    ]
)


@st.composite
def a_point(draw, tag: str) -> str:
    quote = draw(st.sampled_from(['"', '"', "'"]))
    pair = [f"lat={quote}{draw(lats)}{quote}", f"lon={quote}{draw(numbers)}{quote}"]
    if draw(st.booleans()):
        pair.reverse()
    ele = draw(
        st.sampled_from(["", "<ele>12.5</ele>", "<ele>-3</ele>", "<ele/>", "<ele>4e2</ele>"])
    )
    inside = [ele, draw(extras), draw(blanks), draw(comments)]
    if draw(st.booleans()):
        inside.reverse()
    return f"<{tag} {draw(blanks)}{' '.join(pair)}>{''.join(inside)}</{tag}>{draw(blanks)}"


def some_points(tag: str, most: int):
    # A repeated point makes the long plain blocks that are read without expat.
    run = st.tuples(a_point(tag), st.integers(1, most)).map(lambda pair: pair[0] * pair[1])
    return st.lists(run, max_size=4).map("".join)


segments = some_points("trkpt", 6).map(lambda inside: f"<trkseg>{inside}</trkseg>")
tracks = st.lists(segments | comments, max_size=3).map(lambda s: f"<trk>{''.join(s)}</trk>")
routes = some_points("rtept", 2).map(lambda inside: f"<rte>{inside}</rte>")
waypoints = a_point("wpt")
documents = st.lists(tracks | routes | waypoints | comments, max_size=5).map(
    lambda body: f'<gpx version="1.1" xmlns="{NS}" xmlns:e="urn:e">{"".join(body)}</gpx>'
)


def in_pieces(data: bytes, size: int) -> list[bytes]:
    return [data[at : at + size] for at in range(0, len(data), size)]


def parts_of(line) -> list[list[list[float]]]:
    return [np.stack(part, axis=1).tolist() for part in line.parts()]


def as_rows(points) -> list[list[float]]:
    return [
        [p.longitude, p.latitude, np.nan if p.elevation is None else p.elevation] for p in points
    ]


@few
@given(documents, st.sampled_from([7, 60, 200, 1_000, 1 << 17]))
def test_every_point_is_the_one_gpxpy_reads(text, size):
    ours = read_content(in_pieces(text.encode(), size), "x.gpx")
    theirs = gpxpy.parse(text)
    segments = [s.points for track in theirs.tracks for s in track.segments if s.points]
    np.testing.assert_equal(parts_of(ours.tracks), [as_rows(points) for points in segments])
    planned = [r.points for r in theirs.routes if r.points]
    np.testing.assert_equal(parts_of(ours.routes), [as_rows(points) for points in planned])
    assert [(m.lon, m.lat) for m in ours.marks] == [
        (w.longitude, w.latitude) for w in theirs.waypoints
    ]


def outcome(data: bytes, size: int) -> object:
    try:
        content = read_content(in_pieces(data, size), "x.gpx")
    except RouteError as error:
        return error.what
    return repr([parts_of(content.tracks), parts_of(content.routes), content.marks])


@st.composite
def spoilt(draw) -> bytes:
    data = bytearray(draw(documents).encode())
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, max(len(data) - 1, 0)))
        kind = draw(st.sampled_from(["cut", "change", "insert", "drop"]))
        if kind == "cut":
            del data[at:]
        elif kind == "change" and data:
            data[at] = draw(st.integers(0, 255))
        elif kind == "insert":
            odd = draw(
                st.sampled_from(
                    [b"<", b">", b"&", b"<!--", b"]]>", b"<![CDATA[", b"\x00", b"\xed\xa0\x80",
                     b"&#xD800;", b"&a;", b"<?x ?>", b"<trkseg>", b"</trkseg>", b"<trkpt/>",
                     b"</trkpt>", b"<trkpt lat='nan' lon='1'/>", b"xmlns='other' ", b"999"]
                )
            )  # fmt: skip
            data[at:at] = odd
        else:
            del data[at : at + draw(st.integers(1, 40))]
    return bytes(data)


@few
@given(spoilt(), st.sampled_from([5, 64, 300]))
def test_a_spoilt_document_ends_the_same_whatever_the_pieces(data, size):
    assert outcome(data, size) == outcome(data, 1 << 17)


@few
@given(spoilt() | st.binary(max_size=300))
def test_any_bytes_are_a_route_or_one_clear_line(data):
    try:
        route = parse_gpx(data, name="x.gpx")
    except RouteError as error:
        text = str(error)
        assert "\n" not in text
        assert text.startswith("x.gpx")
        text.encode()
    else:
        assert np.isfinite(route.chainage_m).all()
        assert (np.diff(route.chainage_m) >= 0.0).all()
        assert route.length_m > 0.0
        route.name.encode()
