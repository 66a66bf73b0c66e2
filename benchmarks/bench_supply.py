"""Choosing stops and sweeping daily distances, against networkx on the same graph.

Run with `pytest benchmarks/bench_supply.py --benchmark-only -s`.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pytest

sys.path[:0] = [
    str(Path(__file__).parents[1] / "tests"),
    str(Path(__file__).parents[1] / "tests/checks"),
]

from stop_problems import make_problem
from test_solve_against_networkx import shortest_cost
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.plan.pipeline import plan_trip
from resupply.supply.stop_solver import solve


@pytest.mark.parametrize("passes", [1250, 5000])
def test_choice_of_stops(benchmark, passes):
    problem = make_problem(legs=passes // 125, per_leg=125, seed=1, steps=48)
    benchmark(solve, problem)


def test_choice_of_stops_against_networkx(benchmark):
    problem = make_problem(legs=6, per_leg=20, seed=1, steps=24, shut_share=0.5)
    start = time.perf_counter()
    other = shortest_cost(problem)
    networkx_s = time.perf_counter() - start
    found = benchmark(solve, problem)
    assert (found.cost.excess, found.cost.minutes, found.cost.burden) == other
    print(f"\nnetworkx / own, 120 passes: {networkx_s / benchmark.stats['median']:.0f}x")


@pytest.mark.parametrize("shops", [500, 2000])
def test_sweep_of_40_distances_on_4000_km(benchmark, shops):
    trip = trip_of(pace={"daily_km": 300.0}, show={"sweep": True})
    route = winding_route(4000, points=20_000)
    km = np.sort(np.random.default_rng(1).uniform(0, route.length_m / 1000, shops))
    hours = ("Mo-Sa 08:00-19:00", None, "Mo-Fr 08:00-12:30,15:00-19:00; Sa 08:00-13:00", "24/7")
    world = prepared_world(route, shops_along(route, km, hours=hours), trip)
    plan = plan_trip(world, trip)
    assert len(plan.sweep) >= 40
    benchmark.pedantic(plan_trip, args=(plan.prepared, trip), rounds=3)
