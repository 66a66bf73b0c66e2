"""The choice of visits against every possible choice, one by one: nothing is cheaper."""

from __future__ import annotations

from itertools import combinations

import pytest
from visit_problems import random_problem

from resupply.supply.visit_solver import cost_of, solve


@pytest.mark.parametrize("seed", range(150))
def test_no_choice_of_visits_is_cheaper(seed):
    problem = random_problem(seed, visits=4 + seed % 5, days=2 + seed % 3)
    count = len(problem.leg_ix)
    every = (
        cost_of(problem, chosen)
        for size in range(count + 1)
        for chosen in combinations(range(count), size)
    )
    assert solve(problem).cost == min(cost for cost in every if cost is not None)
