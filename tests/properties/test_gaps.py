from __future__ import annotations

import numpy as np
from builders import straight_clock
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from resupply.route.route import Break
from resupply.supply.gaps import find_gaps

CLOCKS = {daily: straight_clock(1000, daily) for daily in (150, 250, 400, 1000)}
KM = st.lists(st.floats(0, 1000), max_size=12).map(sorted)


def gaps_at(km, clock):
    return find_gaps(np.array(km) * 1000.0, clock=clock, length_m=1_000_000.0)


@given(km=KM, extra=st.floats(0, 1000))
def test_one_shop_more_never_lengthens_the_longest_gap(km, extra):
    clock = CLOCKS[250]
    before, after = gaps_at(km, clock), gaps_at(sorted([*km, extra]), clock)
    # Of gaps equal to the metre the one with most meals is named.
    assert after.longest.length_m <= before.longest.length_m + 1.0
    assert max(g.meals for g in after) <= max(g.meals for g in before)


@given(km=KM)
def test_splitting_the_route_into_other_days_never_changes_the_longest_gap(km):
    lengths = [gaps_at(km, clock).longest.length_m for clock in CLOCKS.values()]
    assert max(lengths) - min(lengths) < 1.0


@settings(max_examples=examples(22))
@given(km=KM, daily=st.sampled_from(sorted(CLOCKS)))
def test_gaps_add_up_to_the_whole_trip(km, daily):
    clock = CLOCKS[daily]
    gaps = gaps_at(km, clock)
    assert sum(g.meals for g in gaps) == clock.end_meals
    assert np.isclose(sum(g.length_m for g in gaps), 1_000_000.0)


@given(km=KM)
def test_of_equally_long_gaps_the_one_with_most_meals_is_named(km):
    gaps = gaps_at(km, CLOCKS[250])
    named = gaps.longest
    rivals = [gap for gap in gaps if gap.length_m > max(g.length_m for g in gaps) - 1.0]
    assert named.meals == max(gap.meals for gap in rivals)


def test_a_night_in_the_gap_tips_the_scale():
    # Both are 100 km; only the second holds a camp.
    gaps = find_gaps([100_000.0], clock=straight_clock(200, 150), length_m=200_000.0)
    first, second = gaps
    assert (first.length_m, second.length_m) == (100_000.0, 100_000.0)
    assert gaps.longest == second


@given(km=KM, at_km=st.floats(0, 1000), length_m=st.floats(31, 500_000))
def test_a_jump_is_told_by_every_gap_it_may_lie_on(km, at_km, length_m):
    jump = Break(7, at_km * 1000.0, length_m)
    gaps = find_gaps(np.array(km) * 1000.0, clock=CLOCKS[250], length_m=1_000_000.0, jumps=(jump,))
    for gap in gaps:
        touches = gap.start_m <= jump.chainage_m <= gap.end_m
        assert gap.jump_m == (length_m if touches else 0.0)
    assert any(gap.jump_m for gap in gaps)


@given(km=KM, shut=KM)
def test_shut_shops_are_told_on_the_gap_they_lie_on(km, shut):
    gaps = find_gaps(
        np.array(km) * 1000.0,
        clock=CLOCKS[250],
        length_m=1_000_000.0,
        shut_m=np.array(shut) * 1000.0,
    )
    for gap in gaps:
        inside = any(gap.start_m < at * 1000.0 < gap.end_m for at in shut)
        assert gap.has_shut or not inside
    assert any(gap.has_shut for gap in gaps) == any(0 <= at < 1000 for at in shut)
