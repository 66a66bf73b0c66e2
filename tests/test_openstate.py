"""Segments of local time and their states."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from resupply.hours.state import OpenState, Segment, agreed, merged, replace_days, side_by_side

OPEN, SHUT, UNKNOWN = OpenState.OPEN, OpenState.SHUT, OpenState.UNKNOWN


def at(hour: float, day: int = 1) -> dt.datetime:
    return dt.datetime.combine(dt.date(2027, 7, day), dt.time()) + dt.timedelta(hours=hour)


def test_an_open_state_is_no_boolean():
    for state in OpenState:
        with pytest.raises(TypeError):
            bool(state)


def test_codes_of_the_states_are_their_values():
    codes = np.array(list(OpenState), dtype=np.int8)

    assert [OpenState(code) for code in codes] == list(OpenState)
    assert (codes == OpenState.SHUT).sum() == 1


def test_neighbours_in_one_state_are_joined():
    parts = [Segment(at(0), at(8), SHUT), Segment(at(8), at(9), OPEN), Segment(at(9), at(12), OPEN)]

    assert merged(parts) == [Segment(at(0), at(8), SHUT), Segment(at(8), at(12), OPEN)]


def test_unknown_neighbours_with_different_reasons_stay_apart():
    parts = [Segment(at(0), at(8), UNKNOWN, "a"), Segment(at(8), at(24), UNKNOWN, "b")]

    assert merged(parts) == parts


def test_comments_on_shut_hours_do_not_keep_them_apart():
    parts = [Segment(at(0), at(8), SHUT, "feast"), Segment(at(8), at(24), SHUT)]

    assert merged(parts) == [Segment(at(0), at(24), SHUT)]


def test_coverings_are_cut_at_all_borders():
    left = [Segment(at(0), at(10), SHUT), Segment(at(10), at(24), OPEN)]
    right = [Segment(at(0), at(12), OPEN), Segment(at(12), at(24), SHUT)]

    assert [
        (one.start, one.end, one.state, two.state) for one, two in side_by_side(left, right)
    ] == [
        (at(0), at(10), SHUT, OPEN),
        (at(10), at(12), OPEN, OPEN),
        (at(12), at(24), OPEN, SHUT),
    ]


def test_readings_that_differ_leave_the_time_unknown_with_the_reason():
    one = [Segment(at(0), at(10), OPEN), Segment(at(10), at(24), SHUT)]
    two = [Segment(at(0), at(8), OPEN), Segment(at(8), at(24), SHUT)]

    assert agreed([one, two], "who knows") == [
        Segment(at(0), at(8), OPEN),
        Segment(at(8), at(10), UNKNOWN, "who knows"),
        Segment(at(10), at(24), SHUT),
    ]


def test_a_day_is_replaced_from_midnight_to_midnight_and_no_other():
    usual = [Segment(at(0), at(0, day=4), OPEN)]
    instead = [Segment(at(0), at(0, day=4), SHUT)]

    assert replace_days(usual, instead, {dt.date(2027, 7, 2), dt.date(2030, 1, 1)}) == [
        Segment(at(0), at(0, day=2), OPEN),
        Segment(at(0, day=2), at(0, day=3), SHUT),
        Segment(at(0, day=3), at(0, day=4), OPEN),
    ]
