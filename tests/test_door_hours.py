"""Opening hours are told as a person writes them, or not at all."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resupply.common.show import Show, text
from resupply.say.door_hours import door_hours

TOLD = {
    "Mo-Fr 08:00-20:00; Sa 08:00-18:00; PH off": "Mon–Fri 8–20, Sat 8–18, shut on holidays",
    "24/7": "day and night",
    "Tu-Fr 08:30-12:30,15:00-18:30": "Tue–Fri 8:30–12:30 and 15–18:30",
    "Sa, Su 10:00-12:00; Mo off": "Sat and Sun 10–12, shut on Mon",
    "08:00-22:00": "every day 8–22",
    "Mo-Su,PH 07:00-24:00": "every day and holidays 7–24",
}


@pytest.mark.parametrize(("raw", "told"), TOLD.items())
def test_days_and_times_read_as_on_a_sign(raw, told):
    said = door_hours(raw)
    assert said is not None
    assert text(said) == told


def test_the_clock_is_the_riders():
    said = door_hours("Mo-Fr 08:00-24:00")
    assert said is not None
    assert text(said, Show("imperial", 12)) == "Mon–Fri 8 am–midnight"


@pytest.mark.parametrize(
    "raw",
    [
        None, "", "10:00+", "Jan-Mar 10:00-12:00", 'Mo "by appointment"', "sunrise-sunset", "off",
        "SH 10:00-12:00", "Mo 25:00-26:00", "Mo[1] 10:00-12:00", "Mo-Fr 10:00-12:00 || Sa",
    ],
)  # fmt: skip
def test_more_than_days_and_times_is_left_to_the_map_s_own_text(raw):
    assert door_hours(raw) is None


@given(st.text(alphabet="MoTuWeSaPHSH0123456789:-,; +/off", max_size=40))
def test_no_text_breaks_it(raw):
    said = door_hours(raw)
    assert said is None or text(said)
