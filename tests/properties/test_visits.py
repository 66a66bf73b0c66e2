"""What a change of the wishes or of the shops may do to the choice of visits.

Each is provable for this objective (worst stretch first, the habit as a charge on the largest
load, the style as one factor on carrying and freshness); what cannot hold is in docs/how/supply.md.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from visit_problems import random_problem

from resupply.supply.visit_solver import HOME, NEVER, VisitProblem, solve

seeds = st.integers(0, 10**6)


def problem_of(seed: int, **changes) -> VisitProblem:
    return random_problem(seed, visits=14, days=5, steps=6, **changes)


def parts(problem: VisitProblem) -> tuple[float, float]:
    """Charged carrying (the habit's charge with it) and freshness, in minutes without the style."""
    plain = replace(problem, style=1.0, over_from=0 * problem.over_from)
    found = solve(problem)
    counts = [0, *problem.meals[list(found.chosen)].tolist(), problem.meal_count]
    carry = fresh = 0.0
    for at, (a, b) in zip([HOME, *found.chosen], pairwise(counts), strict=True):
        n = np.arange(b - a + 1)
        over = np.maximum(n - plain.convex_from, 0)
        load = n + over * (over + 1) / 2
        hours = np.array([plain.load_from[at], *np.diff(plain.meal_hours[a:b])][: b - a])
        carry += float((hours * load[::-1][: b - a]).sum()) * plain.carry_min
        if a <= plain.dinner[at] < b:
            fresh += float(plain.fresh_min[at])
    return carry + max(found.most_meals - problem.habit, 0) * problem.habit_min, fresh


@given(seeds)
def test_a_lower_limit_never_raises_the_largest_load(seed):
    problem = problem_of(seed)
    loads = [
        solve(replace(problem, limit=limit, start_limit=limit)).most_meals for limit in (9, 6, 4, 2)
    ]
    assert loads == sorted(loads, reverse=True)


@given(seeds)
def test_a_lower_habit_never_raises_the_largest_load(seed):
    problem = problem_of(seed)
    loads = [solve(replace(problem, habit=habit)).most_meals for habit in (8, 6, 4, 2, 0)]
    assert loads == sorted(loads, reverse=True)


@given(seeds)
def test_from_few_over_balanced_to_fresh_carrying_less_freshness_never_gets_worse(seed):
    problem = problem_of(seed)
    worth = []
    for style in (0.1, 1.0, 1.6):
        carry, fresh = parts(replace(problem, style=style))
        worth.append(carry - fresh)
    assert all(after <= before + 0.02 for before, after in pairwise(worth))


@given(seeds)
def test_a_larger_weight_of_carrying_never_raises_the_charged_carrying(seed):
    problem = problem_of(seed, habit_min=0.0)
    charged = [parts(replace(problem, carry_min=weight))[0] / weight for weight in (0.5, 1.0, 2.0)]
    assert all(after <= before + 0.05 for before, after in pairwise(charged))


@given(seeds, st.integers(0, 13))
def test_one_more_open_shop_never_makes_the_sum_worse(seed, at):
    problem = problem_of(seed)
    shut = problem.cost.copy()
    shut[at] = NEVER
    assert solve(problem).cost <= solve(replace(problem, cost=shut)).cost
