"""What a rider reads in gallons and quarts."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from resupply.common.quantity import volume
from resupply.common.show import Show, shown


@given(st.floats(0.05, 30.0))
def test_no_water_that_is_needed_reads_as_nothing(litres):
    value, unit = shown(volume(litres), Show("imperial")).split(" ")
    told_l = float(value) * {"gal": 3.785411784, "qt": 0.946352946}[unit]
    assert told_l > 0.0
    assert abs(told_l - litres) <= {"gal": 0.19, "qt": 0.048}[unit]
