from __future__ import annotations

import datetime as dt

import numpy as np
from builders import straight_clock

from resupply.route.legs import Pace


def test_meals_of_a_trip_start_after_breakfast_at_home_and_end_on_arrival():
    clock = straight_clock(500, 250)
    kinds = [meal.kind for meal in clock.meals]
    # Two days of 5 h from 08:30: lunch and dinner, then breakfast and lunch; dinner is at home.
    assert kinds == ["lunch", "dinner", "breakfast", "lunch"]
    assert clock.base_meals.tolist() == [0, 3]


def test_a_rest_day_adds_three_meals():
    assert straight_clock(500, 250, rest_days_after={1: 1}).end_meals == 7


def test_lunch_splits_the_passes_of_a_day():
    clock = straight_clock(500, 250)
    # 12:30 is four hours of 50 km/h after 08:30.
    assert clock.meals_before([199e3, 201e3]).tolist() == [0, 1]


def test_time_lost_in_shops_does_not_move_lunch():
    clock = straight_clock(500, 250)
    late = clock.with_stops([100e3], [7200.0])
    assert late.meals_before([199e3, 201e3]).tolist() == [0, 1]


def test_a_late_dinner_is_eaten_on_arrival():
    clock = straight_clock(1200, 600)
    dinner = next(meal for meal in clock.meals if meal.kind == "dinner")
    assert dinner.late
    assert dinner.when == clock.legs[0].arrive


def test_a_stop_delays_only_what_follows_on_the_same_day():
    clock = straight_clock(500, 250)
    timed = clock.with_stops([100e3], [1800.0])
    at_m = np.array([50e3, 100e3, 101e3, 250e3, 251e3])
    lost = timed.arrive_s(at_m) - clock.arrive_s(at_m)
    assert lost.tolist() == [0.0, 0.0, 1800.0, 1800.0, 0.0]


def test_the_doubt_of_an_arrival_grows_through_the_day():
    pace = Pace(rest_min=0.0, drift_min=10.0, drift_min_per_h=6.0)
    clock = straight_clock(500, 250, pace=pace)
    at_m = np.array([0.0, 50e3, 250e3])
    half = clock.half_width_s(at_m, clock.arrive_s(at_m))
    assert half.tolist() == [600.0, 960.0, 2400.0]


def test_an_afternoon_start_has_its_lunch_at_home():
    pace = Pace(rest_min=0.0, depart=dt.time(14, 0))
    clock = straight_clock(100, 250, pace=pace)
    assert clock.meals == ()
