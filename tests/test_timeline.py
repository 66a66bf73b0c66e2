"""Windows looked up on rows of stretches."""

from __future__ import annotations

import numpy as np
import pytest

from resupply.hours.intervals import (
    OpenSpan,
    look_up,
    make_timeline,
    open_share,
    row_of,
    shut_throughout,
)
from resupply.hours.state import OpenState

OPEN, TIGHT = OpenState.OPEN, OpenState.TIGHT
SHUT, UNKNOWN = OpenState.SHUT, OpenState.UNKNOWN
UNLESS = OpenState.UNLESS_HOLIDAY
S, O, U = OpenState.SHUT, OpenState.OPEN, OpenState.UNKNOWN  # noqa: E741

ROWS = [
    [OpenSpan(1000, 1100, S, ""), OpenSpan(1100, 1200, O, ""), OpenSpan(1200, 2000, S, "")],
    [OpenSpan(1000, 2000, U, "no hours")],
    [OpenSpan(1000, 2000, O, "")],
    [OpenSpan(1000, 1100, O, ""), OpenSpan(1100, 1150, U, "perhaps"), OpenSpan(1150, 2000, S, "")],
    [OpenSpan(1000, 1100, S, ""), OpenSpan(1100, 1200, UNLESS, ""), OpenSpan(1200, 2000, S, "")],
]
LINE = make_timeline(ROWS, 1000, 2000)


@pytest.mark.parametrize(
    ("row", "since", "until", "at", "expected"),
    [
        (0, 1100, 1200, 1100, OPEN),
        (0, 1100, 1100, 1100, OPEN),
        (0, 1199.5, 1199.5, 1199.5, OPEN),
        (0, 1200, 1200, 1200, SHUT),
        (0, 1099, 1101, 1100, TIGHT),
        (0, 1099, 1101, 1099, SHUT),
        (0, 1150, 1201, 1199, TIGHT),
        (0, 1150, 1201, 1200, SHUT),
        (0, 1050, 1900, 1150, TIGHT),
        (0, 1050, 1900, 1300, SHUT),
        (0, 1000, 1100, 1050, SHUT),
        (0, 1000, 1100.2, 1050, SHUT),
        (0, 1200, 2000, 1300, SHUT),
        (0, 1200, 2001, 1300, UNKNOWN),
        (0, 2000, 2000, 2000, UNKNOWN),
        (0, 999, 1050, 1000, UNKNOWN),
        (0, 3000, 3000, 3000, UNKNOWN),
        (0, -1e9, -1e9, -1e9, UNKNOWN),
        (1, 1500, 1500, 1500, UNKNOWN),
        (2, 1000, 2000, 1500, OPEN),
        (3, 1050, 1060, 1055, OPEN),
        (3, 1050, 1101, 1060, UNKNOWN),
        (3, 1120, 1900, 1130, UNKNOWN),
        (3, 1120, 1900, 1200, SHUT),
        (3, 1150, 1900, 1200, SHUT),
        (3, 1050, 1900, 1090, UNKNOWN),
        (4, 1150, 1160, 1155, UNLESS),
        (4, 1150, 1210, 1155, TIGHT),
        (4, 1150, 1210, 1205, SHUT),
    ],
)
def test_state_of_a_window(row, since, until, at, expected):
    assert look_up(LINE, row, since, until, at) == expected


def test_windows_of_many_rows_are_broadcast():
    rows, since = np.array([[0], [1], [2]]), np.array([1110.0, 1300.0])
    found = look_up(LINE, rows, since, 1305.0, since)

    assert found.tolist() == [[TIGHT, SHUT], [UNKNOWN, UNKNOWN], [OPEN, OPEN]]
    assert found.dtype == np.int8


@pytest.mark.parametrize(
    ("row", "since", "until", "share"),
    [
        (0, 1100, 1200, 1.0),
        (0, 1050, 1150, 0.5),
        (0, 1196, 1264, 4 / 68),
        (0, 1000, 2000, 0.1),
        (1, 1000, 2000, 0.0),
        (4, 1150, 1250, 0.5),
        (2, 1500, 2500, 0.5),
        (2, 3000, 3100, 0.0),
    ],
)
def test_share_of_a_window_that_is_open(row, since, until, share):
    assert open_share(LINE, row, since, until) == pytest.approx(share)


@pytest.mark.parametrize(
    ("row", "since", "until", "shut"),
    [(0, 1200, 1900, True), (0, 1050, 1900, False), (0, 1000, 1100, True), (1, 1100, 1200, False),
     (3, 1120, 1200, False), (0, 1900, 2100, False), (4, 1050, 1150, False)],
)  # fmt: skip
def test_a_window_is_shut_throughout_if_it_meets_nothing_else(row, since, until, shut):
    assert bool(shut_throughout(LINE, row, since, until)) is shut


def test_a_row_comes_back_as_it_went_in():
    assert [list(row_of(LINE, row)) for row in range(5)] == ROWS


def test_arrays_cannot_be_written():
    with pytest.raises(ValueError, match="read-only"):
        LINE.code[0] = OPEN


def test_no_rows_make_an_empty_timeline():
    empty = make_timeline([], 0, 10)

    assert look_up(empty, np.zeros(0, dtype=int), np.zeros(0), np.zeros(0), np.zeros(0)).shape == (
        0,
    )
