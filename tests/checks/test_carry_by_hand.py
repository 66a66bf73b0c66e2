"""Gaps, carry and what a shut door costs, on a trip worked out by hand.

The rules checked (about two days of food, never more than three, one of them spare) are common
practice, no source. The arithmetic below is our own, done on paper:

Seven days of 200 km at 50 km/h from 08:30, no rests: arrival 12:30, so lunch (12:30) is in camp
on every day but the last, where it would be at home (the trip ends on arrival). Meals: day 1
lunch, dinner; days 2 to 6 breakfast, lunch, dinner; day 7 breakfast: 2 + 15 + 1 = 18.
Meals eaten before each departure: 0, 3, 6, 9, 12, 15, 18.

Shops at km 50 and 150 (day 1, before any meal), 390 (day 2, 3 meals eaten), 1010 (day 6, 15).
"""

from __future__ import annotations

import pytest
from builders import ask, candidates_at, judge_all, plan_at, straight_clock

from resupply.hours.state import OpenState
from resupply.supply.gaps import find_gaps
from resupply.supply.visit_options import make_options

KM = (50, 150, 390, 1010)
HOURS = {"length_km": 1400, "daily_km": 200}


def test_gaps_by_hand():
    clock = straight_clock(1400, 200)
    gaps = find_gaps([km * 1000.0 for km in KM], clock=clock, length_m=1400e3)
    assert [g.length_m / 1000 for g in gaps] == [50, 100, 240, 620, 390]
    assert [g.meals for g in gaps] == [0, 0, 3, 12, 3]
    assert [g.ride_s / 3600 for g in gaps] == pytest.approx([1, 2, 4.8, 12.4, 7.8])
    assert gaps.longest.length_m == 620e3


def test_carry_by_hand_and_a_stretch_over_the_limit():
    plan = plan_at(candidates_at(*KM), **HOURS)
    # Between km 390 and km 1010 lie 12 meals without a shop, 6 over what the limit of 9 leaves
    # to eat with 3 spare: the last shop before it and the first after it must be used.
    assert {390, 1010} <= {stop.chainage_m / 1000 for stop in plan.stops}
    carried = {stop.chainage_m / 1000: stop.carry_meals for stop in plan.stops}
    assert (carried[390], carried[1010]) == (12, 3)
    (short,) = plan.shortfalls
    assert (short.start_m, short.end_m, short.meals, short.excess_meals) == (390e3, 1010e3, 12, 6)


def test_the_worst_shut_door_by_hand():
    plan = plan_at(candidates_at(390, 1010), **HOURS)
    first, last = plan.stops
    # If km 390 is shut the next shop is at km 1010, 12 meals later; those 12 and the 3 eaten on
    # the way to km 390 have to come from home.
    assert first.fallback.chainage_m == 1010e3
    assert first.if_shut_meals == 15
    assert last.fallback.kind == "none"
    assert (plan.worst_more_meals, plan.worst_stop, plan.spare_meals) == (12, 1, 3)


def test_where_shops_are_dense_nobody_carries_more_than_the_habit():
    every_20 = candidates_at(*range(20, 1200, 20))
    plan = plan_at(every_20, length_km=1200, daily_km=200)
    carried = [plan.start_carry_meals, *(stop.carry_meals for stop in plan.stops)]
    assert max(carried) <= 3
    assert not plan.shortfalls
    # Not twice a day.
    assert len({stop.leg_ix for stop in plan.stops}) == len(plan.stops)


def test_late_near_camp_is_where_dinner_is_bought():
    # Day 1 ends at km 200; both shops are open all day.
    plan = plan_at(candidates_at(60, 190), length_km=400, daily_km=200)
    assert [stop.chainage_m for stop in plan.stops] == [190e3]


def test_the_style_changes_how_often_not_what_is_eaten():
    every_20 = candidates_at(*range(20, 1200, 20))
    few, balanced, fresh = (
        plan_at(every_20, length_km=1200, daily_km=200, style=style) for style in (0.1, 1.0, 1.6)
    )
    assert len(few.stops) < len(balanced.stops) <= len(fresh.stops)
    assert few.most_meals > balanced.most_meals >= fresh.most_meals
    for plan in (few, balanced, fresh):
        assert plan.start_carry_meals + sum(stop.carry_meals for stop in plan.stops) == 15


def test_a_shut_shop_is_passed_by_and_a_doubtful_one_only_used_where_it_saves_the_limit():
    shut = plan_at(candidates_at(390, 1010), **HOURS, risk={0: OpenState.SHUT})
    assert [s.chainage_m / 1000 for s in shut.stops] == [1010]
    doubtful = plan_at(candidates_at(390, 1010), **HOURS, risk={0: OpenState.UNKNOWN})
    assert [s.chainage_m / 1000 for s in doubtful.stops] == [390, 1010]
    assert doubtful.stops[0].risk == OpenState.UNKNOWN


def test_a_fallback_must_be_open_for_sure_unless_it_is_the_next_stop():
    km = (380, 395, 399, 1010)
    early = plan_at(candidates_at(*km, pinned=(380,)), **HOURS, risk={1: OpenState.USUALLY_OPEN})
    assert early.stops[0].chainage_m == 380e3
    if early.stops[1].chainage_m != 399e3:
        assert early.stops[0].fallback.chainage_m == 399e3


def test_the_judge_is_asked_with_the_time_lost_in_earlier_shops():
    asked = []

    def judge(rows, arrive_s, half_width_s, stay_s):
        asked.append(arrive_s)
        return judge_all({})(rows, arrive_s, half_width_s, stay_s)

    make_options(candidates_at(50, 100), straight_clock(400, 200), judge, ask())
    # The second column is five minutes later than the first: one step of lost time.
    assert (asked[0][:, 1] - asked[0][:, 0]).tolist() == [300.0, 300.0]
