"""The dynamic programme against brute force: every subset of passes, walked one by one."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st
from stop_problems import make_problem

from resupply.supply.solve import Cost, Weights, path_cost, solve


def brute_force(problem) -> Cost:
    n = len(problem.leg_ix)
    pinned = {j for j in range(n) if problem.pinned[j]}
    best = None
    for size in range(n + 1):
        for subset in combinations(range(n), size):
            if pinned <= set(subset):
                cost = path_cost(problem, subset)
                best = cost if best is None or cost < best else best
    assert best is not None
    return best


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(0, 10**9),
    legs=st.integers(1, 4),
    per_leg=st.integers(1, 3),
    steps=st.sampled_from([4, 8, 20]),
    limit=st.integers(1, 9),
    habit=st.integers(0, 6),
)
def test_solver_finds_the_least_cost_of_all_subsets(seed, legs, per_leg, steps, limit, habit):
    weights = Weights(limit_meals=limit, habit_meals=habit)
    problem = make_problem(legs=legs, per_leg=per_leg, seed=seed, steps=steps, weights=weights)
    assert solve(problem).cost == brute_force(problem)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**9), on_board=st.integers(0, 9))
def test_solver_reckons_with_what_is_on_board_at_the_start(seed, on_board):
    problem = make_problem(legs=3, per_leg=3, seed=seed, steps=12, on_board_meals=on_board)
    assert solve(problem).cost == brute_force(problem)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**9), share=st.floats(0.05, 0.5))
def test_solver_stops_at_every_pinned_pass(seed, share):
    problem = make_problem(legs=3, per_leg=3, seed=seed, steps=40, pinned_share=share)
    found = solve(problem)
    assert {j for j in range(9) if problem.pinned[j]} <= set(found.chosen)
    assert found.cost == brute_force(problem)
