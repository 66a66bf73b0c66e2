"""Windows looked up on rows of stretches."""

from __future__ import annotations

import numpy as np
import pytest

from resupply.hours.intervals import OpenSpan, look_up, make_timeline, row_of
from resupply.hours.state import OpenState

OPEN, TIGHT, SHUT, UNKNOWN = (state.value for state in OpenState)
S, O, U = OpenState.SHUT, OpenState.OPEN, OpenState.UNKNOWN  # noqa: E741

ROWS = [
    [OpenSpan(1000, 1100, S, ""), OpenSpan(1100, 1200, O, ""), OpenSpan(1200, 2000, S, "")],
    [OpenSpan(1000, 2000, U, "no hours")],
    [OpenSpan(1000, 2000, O, "")],
    [OpenSpan(1000, 1100, O, ""), OpenSpan(1100, 1150, U, "perhaps"), OpenSpan(1150, 2000, S, "")],
]
LINE = make_timeline(ROWS, 1000, 2000)


@pytest.mark.parametrize(
    ("row", "since", "until", "expected"),
    [
        (0, 1100, 1200, OPEN),
        (0, 1100, 1100, OPEN),
        (0, 1199.5, 1199.5, OPEN),
        (0, 1200, 1200, SHUT),
        (0, 1099, 1101, TIGHT),
        (0, 1150, 1201, TIGHT),
        (0, 1050, 1900, TIGHT),
        (0, 1000, 1100, SHUT),
        (0, 1000, 1100.2, TIGHT),
        (0, 1200, 2000, SHUT),
        (0, 1200, 2001, UNKNOWN),
        (0, 2000, 2000, UNKNOWN),
        (0, 999, 1050, UNKNOWN),
        (0, 3000, 3000, UNKNOWN),
        (0, -1e9, -1e9, UNKNOWN),
        (1, 1500, 1500, UNKNOWN),
        (2, 1000, 2000, OPEN),
        (3, 1050, 1060, OPEN),
        (3, 1050, 1101, UNKNOWN),
        (3, 1120, 1900, UNKNOWN),
        (3, 1150, 1900, SHUT),
        (3, 1050, 1900, UNKNOWN),
    ],
)
def test_state_of_a_window(row, since, until, expected):
    assert look_up(LINE, row, since, until) == expected


def test_windows_of_many_rows_are_broadcast():
    found = look_up(LINE, np.array([[0], [1], [2]]), np.array([1110.0, 1300.0]), 1305.0)

    assert found.tolist() == [[TIGHT, SHUT], [UNKNOWN, UNKNOWN], [OPEN, OPEN]]
    assert found.dtype == np.int8


def test_a_row_comes_back_as_it_went_in():
    assert [list(row_of(LINE, row)) for row in range(4)] == ROWS


def test_arrays_cannot_be_written():
    with pytest.raises(ValueError, match="read-only"):
        LINE.code[0] = OPEN


def test_no_rows_make_an_empty_timeline():
    empty = make_timeline([], 0, 10)

    assert look_up(empty, np.zeros(0, dtype=int), np.zeros(0), np.zeros(0)).shape == (0,)
