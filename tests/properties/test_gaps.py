from __future__ import annotations

import numpy as np
from builders import straight_clock
from hypothesis import given, settings
from hypothesis import strategies as st

from resupply.supply.gaps import find_gaps, longest_gap

CLOCKS = {daily: straight_clock(1000, daily) for daily in (150, 250, 400, 1000)}
KM = st.lists(st.floats(0, 1000), max_size=12).map(sorted)


def gaps_at(km, clock):
    return find_gaps(np.array(km) * 1000.0, clock=clock, length_m=1_000_000.0)


@given(km=KM, extra=st.floats(0, 1000))
def test_one_shop_more_never_lengthens_the_longest_gap(km, extra):
    clock = CLOCKS[250]
    before, after = gaps_at(km, clock), gaps_at(sorted([*km, extra]), clock)
    assert longest_gap(after).length_m <= longest_gap(before).length_m
    assert max(g.meals for g in after) <= max(g.meals for g in before)


@given(km=KM)
def test_splitting_the_route_into_other_days_never_changes_the_longest_gap(km):
    lengths = {daily: longest_gap(gaps_at(km, clock)).length_m for daily, clock in CLOCKS.items()}
    assert len(set(lengths.values())) == 1


@settings(max_examples=50)
@given(km=KM, daily=st.sampled_from(sorted(CLOCKS)))
def test_gaps_add_up_to_the_whole_trip(km, daily):
    clock = CLOCKS[daily]
    gaps = gaps_at(km, clock)
    assert sum(g.meals for g in gaps) == clock.end_meals
    assert np.isclose(sum(g.length_m for g in gaps), 1_000_000.0)
