"""What a rider reads in miles, quarts and on a 12 hour clock."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resupply.common.units import format_at, format_volume, in_miles


def test_a_sentence_in_kilometres_is_told_in_miles_with_every_number_of_it():
    said = "km 0 to km 103, km 111 to km 143: the map extract ends within 10 km of the route"
    assert in_miles(said) == (
        "mile 0 to mile 64, mile 69 to mile 89: the map extract ends within 6.2 mi of the route"
    )


@pytest.mark.parametrize(
    ("metric", "imperial"),
    [
        ("jumps 29.7 km after 1,360.4 km", "jumps 18.5 mi after 845.3 mi"),
        ("8 pieces are longer than 5 km", "8 pieces are longer than 3.1 mi"),
        ("60 km/h and 2 bags of 2 kg", "60 km/h and 2 bags of 2 kg"),
        ("node/12 kmart", "node/12 kmart"),
    ],
)
def test_only_kilometres_are_told_otherwise(metric, imperial):
    assert in_miles(metric) == imperial


@given(st.integers(0, 40_000))
def test_a_place_on_the_route_is_the_same_place_in_miles(km):
    told = in_miles(f"km {km}")
    assert abs(float(re.sub(r"[^\d.]", "", told)) * 1.609344 - km) <= 0.81
    assert told.replace(",", "") == format_at(km * 1000.0, "imperial").replace(",", "")


@given(st.floats(0.05, 30.0))
def test_no_water_that_is_needed_reads_as_nothing(litres):
    value, unit = format_volume(litres, "imperial").split(" ")
    told_l = float(value) * {"gal": 3.785411784, "qt": 0.946352946}[unit]
    assert told_l > 0.0
    assert abs(told_l - litres) <= {"gal": 0.19, "qt": 0.048}[unit]
