"""Fuel, water, a meal out and ice are planned beside food: against the joint optimum of both.

Every choice of visits of small invented trips is tried; `python -m tests.joint_choice` tries more.
"""

from __future__ import annotations

from pathlib import Path

import joint_choice
import pytest

from resupply.api.meals_and_ice import settle


@pytest.mark.parametrize("seed", range(3))
def test_fuel_after_food_is_the_joint_optimum_to_a_few_minutes(seed):
    found = joint_choice.fuel(seed)
    assert found.made[:3] == found.best[:3]
    assert -1e-6 <= found.made[3] - found.best[3] < 5.0


def test_where_stations_are_too_far_apart_food_first_may_leave_more_kilometres_missing():
    # What cannot hold: food is chosen without looking at the tank. The plan tells it first.
    found = joint_choice.fuel(26)
    assert found.made[:2] == found.best[:2]
    assert found.made[2] > found.best[2] >= 0.0


@pytest.mark.parametrize("seed", range(2))
def test_no_choice_of_food_stops_finds_water_sooner(seed):
    found = joint_choice.water(seed)
    assert found.made[:3] == found.best[:3]


@pytest.mark.parametrize("seed", range(2))
def test_where_a_meal_is_eaten_out_does_not_change_the_best_choice_of_stops(seed):
    assert joint_choice.meal_out(seed).same


@pytest.mark.parametrize("seed", [1, 26])
def test_ice_in_one_more_round_keeps_it_as_cold_as_any_choice_of_stops(seed):
    found = joint_choice.ice(seed)
    assert found.made[:3] == found.best[:3]
    assert -1e-6 <= found.made[3] - found.best[3] < 1.0


def test_what_the_one_round_for_ice_may_miss():
    # What cannot hold: which of two shops has the better ice is not tried. The plan says it fails.
    found = joint_choice.ice(37)
    assert found.made[2] > found.best[2] == 0.0


def test_where_the_cooler_needs_ice_twice_before_a_meal_no_stop_is_for_ice_alone():
    plan, _ = settle(joint_choice.ice_trip(16), Path())
    assert plan.supply.asked.ice_rows
    assert all(stop.carry_meals for stop in plan.supply.stops)
