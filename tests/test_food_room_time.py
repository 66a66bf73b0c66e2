"""How fast food ages uncooled."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kitchen_world import FRIDAY, history, moment, table

from resupply.common.show import text
from resupply.kitchen.food.room_time import start_room_clock
from resupply.kitchen.food.storage import make_storage
from resupply.kitchen.food.warm_time import make_history

DAY = 86400.0


def lasts(temps, days=2.0, start_s=0.0):
    """Days of that many days' worth, for (day, °C) points."""
    kept = make_history([day * DAY for day, _ in temps], [c for _, c in temps])
    return (start_room_clock(kept).deadline_s(start_s, days) - start_s) / DAY


def test_up_to_20_degrees_a_day_is_a_day_and_cold_gives_none_back():
    assert lasts([(0, 20), (9, 20)]) == pytest.approx(2.0)
    assert lasts([(0, 3), (9, 3)]) == pytest.approx(2.0)


def test_in_rising_heat_the_days_end_where_the_sum_says():
    # From 20 °C to 40 °C in two days the rate is 1 + t: t + t² / 2 = 2 at t = √5 − 1.
    assert lasts([(0, 20), (2, 40), (9, 40)]) == pytest.approx(5.0**0.5 - 1.0)
    # Cold first: the rate only begins to rise at 20 °C, half way.
    assert lasts([(0, 0), (2, 40), (9, 40)], days=1.0) == pytest.approx(1.0)


def test_what_is_not_known_counts_as_a_hot_day():
    assert (start_room_clock(None).deadline_s(0.0, 2.0)) == pytest.approx(DAY, abs=1.0)
    assert lasts([(0, 10), (0.5, 10)], days=1.5) == pytest.approx(1.0, abs=1e-3)
    gap = make_history([0.0, DAY, 2 * DAY, 9 * DAY], [float("nan")] * 2 + [10.0, 10.0])
    assert start_room_clock(gap).deadline_s(0.0, 2.0) == pytest.approx(DAY, abs=1.0)


@given(
    st.lists(st.floats(-10, 50), min_size=2, max_size=12),
    st.floats(0.0, 3.0),
    st.floats(0.1, 9.0),
)
def test_it_agrees_with_adding_up_minute_by_minute(temps, start_days, days):
    kept = make_history([n * DAY / 2 for n in range(len(temps))], temps)
    end_s = start_room_clock(kept).deadline_s(start_days * DAY, days)
    step_s, at_s, age_s = 120.0, start_days * DAY, 0.0
    last_s = (len(temps) - 1) * DAY / 2
    while at_s < end_s:
        step = min(step_s, end_s - at_s)
        middle_s = at_s + step / 2
        n, x = divmod(middle_s, DAY / 2)
        known = middle_s <= last_s and int(n) + 1 < len(temps)
        temp_c = (
            temps[int(n)] + (temps[int(n) + 1] - temps[int(n)]) * x / (DAY / 2) if known else 30.0
        )
        age_s += step * (1.0 + max(temp_c - 20.0, 0.0) / 10.0)
        at_s += step
    assert age_s == pytest.approx(days * DAY, rel=1e-3, abs=120.0)


def test_bread_beside_a_cold_cooler_has_the_heat_of_the_air():
    air = history((-240.0, 40.0), (2000.0, 40.0))
    cold = make_history(air.time_s, [2.0, 2.0], air=air)
    storage = make_storage(table(), cold)
    bread = storage.use_by("bread", FRIDAY)
    assert bread.when == moment(1, 8)  # a third of three days
    assert "fewer in such heat" in text(bread.why)
    cheese = storage.use_by("hard-cheese", FRIDAY)  # in the cooler
    assert (cheese.when - FRIDAY).days == 21
