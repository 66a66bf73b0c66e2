"""The dynamic programme against brute force: every subset of passes, walked one by one."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st
from stop_problems import make_problem

from resupply.hours.state import OpenState
from resupply.supply.food_stops import walk_steps
from resupply.supply.stop_solver import Cost, Weights, path_cost, solve


def all_ways(problem):
    n = len(problem.leg_ix)
    return [set(way) for size in range(n + 1) for way in combinations(range(n), size)]


def is_open(problem, way) -> bool:
    return all(
        problem.risk[j, lost] != OpenState.SHUT for j, lost in walk_steps(problem, sorted(way))
    )


def pins_kept(problem) -> set[int]:
    """Pins that some way reaches before they shut, earlier ones first."""
    ways, kept = [way for way in all_ways(problem) if is_open(problem, way)], set()
    for j in range(len(problem.leg_ix)):
        if problem.pinned[j] and any(kept | {j} <= way for way in ways):
            kept.add(j)
    return kept


def brute_force(problem) -> Cost:
    kept = pins_kept(problem) if problem.pinned.any() else set()
    return min(path_cost(problem, sorted(way)) for way in all_ways(problem) if kept <= way)


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
def test_solver_stops_at_every_pinned_pass_that_is_not_shut_when_reached(seed, share):
    problem = make_problem(legs=3, per_leg=3, seed=seed, steps=40, pinned_share=share)
    found = solve(problem)
    assert pins_kept(problem) <= set(found.chosen)
    assert is_open(problem, found.chosen)
    assert found.cost == brute_force(problem)
