from __future__ import annotations

import math

import pytest

from resupply.route.gpx_points import plain_points

POINT = (
    b'<trkpt lat="1.5" lon="-2">\n  <ele>3.25</ele>\n  <time>2027-07-09T08:30:00Z</time>\n</trkpt>'
)


def columns(block: bytes) -> list[list[float]] | None:
    found = plain_points(block)
    return None if found is None else [list(column) for column in found]


def test_latitude_may_come_first_or_last():
    swapped = POINT.replace(b'lat="1.5" lon="-2"', b'lon="-2" lat="1.5"')
    assert columns(POINT * 3) == [[-2.0] * 3, [1.5] * 3, [3.25] * 3]
    assert columns(swapped * 3) == [[-2.0] * 3, [1.5] * 3, [3.25] * 3]
    assert columns(POINT + swapped) is None


def test_a_missing_elevation_is_unknown():
    lon, lat, ele_m = columns(b' <trkpt lat="1" lon="2"></trkpt>' + POINT)
    assert (lon, lat) == ([2.0, -2.0], [1.0, 1.5])
    assert math.isnan(ele_m[0])
    assert ele_m[1] == 3.25


@pytest.mark.parametrize(
    "odd",
    [
        b"<!-- x -->" + POINT,
        POINT.replace(b"1.5", b"1e0"),
        POINT.replace(b"1.5", b"91"),
        POINT.replace(b"1.5", b"-91"),
        POINT.replace(b"-2", b"181"),
        POINT.replace(b"-2", b"-181"),
        POINT.replace(b"1.5", b"nan"),
        POINT.replace(b"1.5", b"&#49;"),
        POINT.replace(b"3.25", b"high"),
        POINT.replace(b"3.25", b"3.25</ele><ele>4"),
        POINT.replace(b"08:30", b"\x00"),
        POINT.replace(b"<time>", b"<hdop>1</hdop><time>"),
        POINT.replace(b'"', b"'"),
        POINT.replace(b"trkpt", b"rtept") + b"</trkpt>",
        POINT.replace(b"</trkpt>", b"<extensions/></trkpt>"),
        b"</trkseg><trkseg>" + POINT,
        b"x" + POINT,
    ],
)
def test_a_block_with_anything_else_is_left_to_the_parser(odd):
    assert columns(POINT * 5) is not None
    for block in (odd, POINT + odd, POINT * 4 + odd, odd + POINT):
        assert columns(block) is None
