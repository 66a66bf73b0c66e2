"""Gaps, carry and reserve on a trip worked out by hand.

The rules checked (two days of food between shops, never more than three) are common practice,
no source. The arithmetic below was done on paper:

Seven days of 200 km at 50 km/h from 08:30, no rests: arrival 12:30, so lunch (12:30) is in camp
on every day but the last, where it would be at home (the trip ends on arrival). Meals: day 1
lunch, dinner; days 2 to 6 breakfast, lunch, dinner; day 7 breakfast: 2 + 15 + 1 = 18.
Meals eaten before each departure: 0, 3, 6, 9, 12, 15, 18.

Shops at km 50 and 150 (day 1, before any meal), 390 (day 2, 3 meals eaten), 1010 (day 6, 15).
"""

from __future__ import annotations

import pytest
from builders import candidates_at, judge_all, plan_at, straight_clock

from resupply.hours.state import OpenState
from resupply.supply.gaps import find_gaps, longest_gap
from resupply.supply.stop_solver import Weights

KM = (50, 150, 390, 1010)


def test_gaps_by_hand():
    clock = straight_clock(1400, 200)
    gaps = find_gaps([km * 1000.0 for km in KM], clock=clock, length_m=1400e3)
    assert [g.length_m / 1000 for g in gaps] == [50, 100, 240, 620, 390]
    assert [g.meals for g in gaps] == [0, 0, 3, 12, 3]
    assert [g.ride_s / 3600 for g in gaps] == pytest.approx([1, 2, 4.8, 12.4, 7.8])
    assert longest_gap(gaps).length_m == 620e3


def test_carry_by_hand_and_a_stretch_over_the_limit():
    plan = plan_at(candidates_at(*KM), length_km=1400, daily_km=200)
    # Days 2 to 6 hold 12 meals without a shop: 3 over the limit of 9 whatever one does; the
    # last shop before it and the first after it must be used.
    assert [stop.chainage_m / 1000 for stop in plan.stops] == [390, 1010]
    assert plan.start_carry_meals == 3
    assert [stop.carry_meals for stop in plan.stops] == [12, 3]
    (short,) = plan.shortfalls
    assert (short.start_m, short.end_m, short.meals, short.excess_meals) == (390e3, 1010e3, 12, 3)


def test_reserve_covers_the_worst_single_shut_shop_by_hand():
    plan = plan_at(candidates_at(*KM), length_km=1400, daily_km=200)
    first, last = plan.stops
    # If km 390 is shut the next shop is at km 1010, 12 meals later; those 12 and the 3 eaten on
    # the way to km 390 have to come from home.
    assert first.fallback.chainage_m == 1010e3
    assert first.if_shut_meals == 15
    assert last.fallback.kind == "none"
    assert plan.reserve_meals == 12
    assert plan.reserve_stop == 1


def test_two_days_is_the_habit_and_three_the_limit():
    weights = Weights(limit_meals=9, habit_meals=6, habit_min=10)
    every_100 = candidates_at(*range(100, 1200, 100))
    plan = plan_at(every_100, length_km=1200, daily_km=200, weights=weights)
    carried = [plan.start_carry_meals, *(stop.carry_meals for stop in plan.stops)]
    assert max(carried) <= 6
    assert not plan.shortfalls
    # The fewest stops that keep the habit: 15 meals in parts of at most 6 need two.
    assert len(plan.stops) == 2


def test_a_shut_shop_is_passed_by_and_a_doubtful_one_only_used_where_it_saves_the_limit():
    shut = plan_at(candidates_at(*KM), length_km=1400, daily_km=200, risk={2: OpenState.SHUT})
    assert [s.chainage_m / 1000 for s in shut.stops] == [1010]
    # Neither km 50 nor km 150 shortens the 15 meals to km 1010, so neither costs a stop.
    doubtful = plan_at(
        candidates_at(*KM), length_km=1400, daily_km=200, risk={2: OpenState.UNKNOWN}
    )
    assert [s.chainage_m / 1000 for s in doubtful.stops] == [390, 1010]
    assert doubtful.stops[0].risk == OpenState.UNKNOWN


def test_a_fallback_must_be_open_for_sure_unless_it_is_the_next_stop():
    km = (380, 395, 399, 1010)
    plan = plan_at(
        candidates_at(*km),
        length_km=1400,
        daily_km=200,
        risk={1: OpenState.USUALLY_OPEN, 0: OpenState.TIGHT},
    )
    stop = plan.stops[0]
    assert stop.chainage_m == 399e3
    early = plan_at(
        candidates_at(*km, pinned=(380,)),
        length_km=1400,
        daily_km=200,
        risk={1: OpenState.USUALLY_OPEN},
    )
    assert early.stops[0].chainage_m == 380e3
    assert early.stops[0].fallback.chainage_m == 399e3


def test_the_judge_is_asked_with_the_time_lost_in_earlier_shops():
    asked = []

    def judge(rows, arrive_s, half_width_s, stay_s):
        asked.append((rows, arrive_s))
        return judge_all({})(rows, arrive_s, half_width_s, stay_s)

    import datetime as dt

    from resupply.supply.food_stops import make_problem

    clock = straight_clock(400, 200)
    make_problem(candidates_at(50, 100), clock, judge, latest_camp=dt.time(20), weights=Weights())
    _, arrive_s = asked[0]
    # The second column is five minutes later than the first: one step of lost time.
    assert (arrive_s[:, 1] - arrive_s[:, 0]).tolist() == [300.0, 300.0]
