from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from builders import FRIDAY, straight_legs
from hypothesis import given
from hypothesis import strategies as st

from resupply.route.legs import Pace, RideTime, SetOut, leg_ends_m, make_legs


def test_last_day_is_a_stub_unless_days_are_evened():
    assert leg_ends_m(700e3, 300e3) == (300e3, 600e3, 700e3)
    assert leg_ends_m(700e3, 300e3, even=True) == pytest.approx((700e3 / 3, 1400e3 / 3, 700e3))


def test_the_last_kilometre_is_ridden_on_and_is_no_day_of_its_own():
    assert leg_ends_m(180.1e3, 60e3) == (60e3, 120e3, 180.1e3)
    assert leg_ends_m(181e3, 60e3) == (60e3, 120e3, 181e3)
    assert leg_ends_m(181.2e3, 60e3) == (60e3, 120e3, 180e3, 181.2e3)
    # 2 % of a short day; and a day set by hand rides exactly as far as that.
    assert leg_ends_m(20.5e3, 10e3) == (10e3, 20e3, 20.5e3)
    assert leg_ends_m(120.5e3, 60e3, overrides_m={2: 60e3}) == (60e3, 120e3, 120.5e3)


def test_own_distance_of_one_day_leaves_the_others_alone():
    assert leg_ends_m(700e3, 300e3, overrides_m={2: 50e3}) == (300e3, 350e3, 650e3, 700e3)


@given(
    length_km=st.floats(1, 5000),
    daily_km=st.floats(5, 2000),
    even=st.booleans(),
    own=st.dictionaries(st.integers(1, 12), st.floats(1, 3000), max_size=4),
)
def test_days_cover_the_route_once(length_km, daily_km, even, own):
    overrides = {day: km * 1000.0 for day, km in own.items()}
    ends = leg_ends_m(length_km * 1e3, daily_km * 1e3, even=even, overrides_m=overrides)
    assert ends[-1] == length_km * 1e3
    assert all(a < b for a, b in zip((0.0, *ends), ends, strict=False))


def test_rest_days_move_the_dates_that_follow():
    legs = straight_legs(600, 200, rest_days_after={1: 2})
    assert [leg.date - FRIDAY for leg in legs] == [dt.timedelta(d) for d in (0, 3, 4)]
    assert legs[1].rest_days_before == 2


def test_a_rest_falls_after_each_two_hours_but_not_at_the_camp():
    pace = Pace(rest_every_h=2.0, rest_min=15.0, depart=dt.time(8, 0))
    (leg,) = straight_legs(200, 200, pace=pace)
    # By hand: 4 h of riding, one rest after 2 h; the second would fall on arrival.
    assert leg.arrive == dt.datetime(2027, 7, 9, 12, 15, tzinfo=dt.UTC)
    assert leg.eta(100e3) == dt.datetime(2027, 7, 9, 10, 0, tzinfo=dt.UTC)
    assert leg.eta(150e3) == dt.datetime(2027, 7, 9, 11, 15, tzinfo=dt.UTC)


def test_a_clock_change_at_night_leaves_the_departure_at_the_local_hour():
    zone = ZoneInfo("Europe/Lisbon")
    pace = Pace(rest_min=0.0, depart=dt.time(8, 0))
    legs = straight_legs(300, 100, pace=pace, zone_at=lambda _m: zone)
    assert {leg.depart.hour for leg in legs} == {8}
    assert all(leg.arrive - leg.depart == dt.timedelta(hours=2) for leg in legs)


def test_riding_through_a_clock_change_takes_as_long_as_it_takes():
    zone = ZoneInfo("Europe/Lisbon")
    pace = Pace(rest_every_h=0.0, depart=dt.time(0, 30))
    # Clocks in Lisbon go from 01:00 to 02:00 on Sunday 2027-03-28.
    (leg,) = make_legs(
        (200e3,),
        set_out=SetOut(dt.date(2027, 3, 28)),
        pace=pace,
        ride_time=RideTime.constant(200e3, 50.0),
        zone_at=lambda _m: zone,
    )
    assert leg.eta(100e3).hour == 3
    assert leg.eta(200e3) == leg.arrive
    assert leg.arrive.timestamp() - leg.depart.timestamp() == 4 * 3600


def test_a_last_day_under_a_fifth_of_the_others_is_spread_over_them():
    assert leg_ends_m(604e3, 300e3, even=None) == (302e3, 604e3)
    assert leg_ends_m(659e3, 300e3, even=None) == (329.5e3, 659e3)
    assert leg_ends_m(660e3, 300e3, even=None) == (300e3, 600e3, 660e3)
    assert leg_ends_m(604e3, 300e3, even=False) == (300e3, 600e3, 604e3)


def test_a_day_set_by_hand_keeps_its_length_when_a_short_last_one_is_spread():
    assert leg_ends_m(620e3, 300e3, even=None, overrides_m={1: 280e3}) == (280e3, 620e3)
