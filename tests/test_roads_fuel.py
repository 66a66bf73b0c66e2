"""Fuel stops and gaps."""

import itertools

import numpy as np
import pytest

from resupply.places.place import RouteSpan
from resupply.supply.fuel_range import Station, beside_shops, plan_fuel


def gaps_of(stations, *, length_m, range_m=150e3, reserve_m=0.0, **more):
    """Gaps of a tank so small that every station is needed."""
    return plan_fuel(stations, length_m=length_m, range_m=range_m, reserve_m=reserve_m, **more).gaps


def stations_at(*km, **options):
    return [Station(i, 1000.0 * at, 0.0, 0.0, **options) for i, at in enumerate(km)]


def test_gaps_run_from_start_to_end():
    gaps = gaps_of(stations_at(100, 250), length_m=400e3)
    assert [(g.start_row, g.end_row, g.road_m) for g in gaps] == [
        (-1, 0, 100e3),
        (0, 1, 150e3),
        (1, -1, 150e3),
    ]
    assert not any(g.missing_m or g.beyond_range for g in gaps)


def test_gaps_count_half_of_each_way_to_a_station():
    stations = [Station(0, 100e3, 8e3, 600.0), Station(1, 200e3, 2e3, 120.0)]
    gaps = gaps_of(stations, length_m=300e3, range_m=105e3)
    assert [g.road_m for g in gaps] == [104e3, 105e3, 101e3]


def test_no_station_at_all_is_one_gap():
    (gap,) = gaps_of([], length_m=300e3, range_m=250e3, reserve_m=40e3)
    assert gap.beyond_range
    assert gap.missing_m == 90e3


def test_missing_map_data_is_said():
    holes = (RouteSpan(120e3, 130e3),)
    gaps = gaps_of(stations_at(100, 250), length_m=400e3, unknown=holes)
    assert [g.crosses_unknown for g in gaps] == [False, True, False]


def test_fewest_stops_that_keep_the_reserve():
    plan = plan_fuel(
        stations_at(80, 150, 240, 300, 390), length_m=600e3, range_m=300e3, reserve_m=40e3
    )
    assert [s.row for s in plan.stops] == [1, 4]
    assert [s.since_m for s in plan.stops] == [150e3, 240e3]
    assert plan.shortfalls == ()
    assert max(g.road_m for g in plan.gaps) <= plan.usable_m == 260e3


def test_no_stop_where_the_tank_is_enough():
    plan = plan_fuel(stations_at(80, 150), length_m=250e3, range_m=300e3, reserve_m=40e3)
    assert plan.stops == ()


def test_a_gap_beyond_the_range_is_listed_with_what_is_missing():
    plan = plan_fuel(stations_at(100, 450), length_m=500e3, range_m=300e3, reserve_m=40e3)
    (gap,) = plan.shortfalls
    assert (gap.start_row, gap.end_row) == (0, 1)
    assert gap.missing_m == 90e3
    assert gap.beyond_range


def test_eating_into_the_reserve_is_a_shortfall_but_not_beyond_the_range():
    plan = plan_fuel(stations_at(100, 380), length_m=500e3, range_m=300e3, reserve_m=40e3)
    (gap,) = plan.shortfalls
    assert gap.missing_m == 20e3
    assert not gap.beyond_range


def test_the_least_is_missing_where_something_must_be():
    # 0 … 280 cannot be kept; 250 before it makes the rest fit.
    plan = plan_fuel(stations_at(30, 310), length_m=500e3, range_m=290e3, reserve_m=40e3)
    assert sum(g.missing_m for g in plan.shortfalls) == 30e3
    assert [s.row for s in plan.stops] == [0, 1]


def test_a_station_beside_a_grocery_stop_is_preferred():
    stations = [
        Station(0, 200e3, 0.0, 0.0),
        Station(1, 230e3, 0.0, 0.0, joined=True),
    ]
    plan = plan_fuel(stations, length_m=450e3, range_m=300e3, reserve_m=40e3)
    assert [(s.row, s.joined) for s in plan.stops] == [(1, True)]
    assert plan.extra_s == 300.0


def test_a_joined_station_is_not_taken_if_it_does_not_reach():
    stations = [Station(0, 100e3, 0.0, 0.0, joined=True), Station(1, 230e3, 0.0, 0.0)]
    plan = plan_fuel(stations, length_m=450e3, range_m=300e3, reserve_m=40e3)
    assert [s.row for s in plan.stops] == [1]


def test_of_two_stations_the_one_with_the_shorter_way_is_taken():
    stations = [Station(0, 200e3, 6e3, 400.0), Station(1, 210e3, 0.0, 0.0)]
    plan = plan_fuel(stations, length_m=400e3, range_m=300e3, reserve_m=40e3)
    assert [s.row for s in plan.stops] == [1]


def test_detours_made_anyway_use_fuel_too():
    options = {"length_m": 250e3, "range_m": 300e3, "reserve_m": 40e3}
    assert plan_fuel(stations_at(120), **options).stops == ()
    plan = plan_fuel(stations_at(120), **options, also_m=[(60e3, 15e3)])
    assert [s.since_m for s in plan.stops] == [135e3]


def test_a_reserve_as_large_as_the_range_is_refused():
    with pytest.raises(ValueError, match="reserve"):
        plan_fuel([], length_m=100e3, range_m=40e3, reserve_m=40e3)


def best_of_all(stations, length_m, usable_m, first_m):
    best = None
    for count in range(len(stations) + 1):
        for pick in itertools.combinations(stations, count):
            ends = [Station(-1, 0.0, 0.0, 0.0), *pick, Station(-1, length_m, 0.0, 0.0)]
            over = 0
            for a, b in itertools.pairwise(ends):
                road_m = b.chainage_m - a.chainage_m + (a.extra_m + b.extra_m) / 2.0
                over += round(max(road_m - (first_m if a is ends[0] else usable_m), 0.0))
            seconds = sum(round(300.0 if s.joined else 600.0 + s.extra_s) for s in pick)
            cost = (over, sum(not s.joined for s in pick), seconds, count)
            best = cost if best is None else min(best, cost)
    return best


@pytest.mark.parametrize("seed", range(60))
def test_against_every_choice_of_stations(seed):
    rng = np.random.default_rng(seed)
    km = np.sort(rng.integers(1, 900, int(rng.integers(0, 10))))
    stations = [
        Station(
            i,
            1000.0 * float(at),
            float(rng.integers(0, 12) * 1000),
            float(rng.integers(0, 900)),
            joined=bool(rng.random() < 0.3),
        )
        for i, at in enumerate(km)
    ]
    tank_m = ("full", "unknown", 40e3, 150e3, 400e3)[seed % 5]
    plan = plan_fuel(stations, length_m=900e3, range_m=260e3, reserve_m=30e3, tank_m=tank_m)
    first_m = {"full": 260e3, "unknown": 0.0}.get(tank_m, tank_m) - 30e3
    first = plan.gaps[0]
    missing_m = first.missing_m
    if tank_m == "unknown":
        # Chosen as if it were empty; told for the fullest that it may be.
        assert missing_m == max(first.road_m - 230e3, 0.0)
        missing_m = max(first.road_m - first_m, 0.0)
    mine = (
        round(missing_m) + sum(round(g.missing_m) for g in plan.gaps[1:]),
        sum(not s.joined for s in plan.stops),
        sum(round(s.extra_s) for s in plan.stops),
        len(plan.stops),
    )
    assert mine == best_of_all(stations, 900e3, 230e3, first_m)


def test_500_stations_are_planned_at_once():
    rng = np.random.default_rng(1)
    km = np.sort(rng.uniform(0, 8000, 500)).tolist()
    plan = plan_fuel(stations_at(*km), length_m=8000e3, range_m=300e3, reserve_m=40e3)
    assert 30 <= len(plan.stops) <= 45


def test_beside_a_shop_means_within_300_m_on_the_same_pass():
    found = beside_shops(
        [-26.0, -26.0, -26.0],
        [46.5, 46.51, 46.5],
        [10e3, 11e3, 200e3],
        shop_lon=[-26.0005],
        shop_lat=[46.501],
        shop_chainage_m=[10e3],
    )
    assert found.tolist() == [True, False, False]
    nowhere = {"shop_lon": [], "shop_lat": [], "shop_chainage_m": []}
    assert beside_shops([-26.0], [46.5], [10e3], **nowhere).tolist() == [False]
