"""The choice of visits against a mixed-integer programme (HiGHS through scipy), time expanded.

Another formulation and another solver: a flow through (visit, steps lost), the largest load as a
variable of its own. The order of the objective is kept by solving for the worst stretch first.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import LinearConstraint, milp
from scipy.sparse import csr_array
from visit_problems import random_problem

from resupply.supply.visit_solver import HOME, NEVER, VisitProblem, solve

EXCESS_MIN = 1e5


def carrying(p: VisitProblem, at: int, a: int, b: int) -> float:
    """Minutes of a stretch by its definition, meal by meal."""
    if b == a:
        return 0.0
    load = [n + (lambda k: k * (k + 1) / 2)(max(n - p.convex_from, 0)) for n in range(b - a + 1)]
    hours = [p.load_from[at], *np.diff(p.meal_hours[a:b])]
    minutes = sum(h * load[b - a - k] for k, h in enumerate(hours)) * p.carry_min
    if a <= p.dinner[at] < b:
        minutes -= p.fresh_min[at]
    shop = 0.0 if at == HOME else float(p.over_from[at, b - a]) / 1000
    return p.style * minutes + shop


def by_milp(p: VisitProblem) -> tuple[int, int, float]:
    visits = range(len(p.leg_ix))
    nodes = [
        (HOME, 0),
        *((i, d) for i in visits for d in range(p.steps if not p.from_camp[i] else 1)),
    ]
    nodes = [(i, d) for i, d in nodes if i == HOME or p.cost[i, d] < NEVER]
    number = {node: k for k, node in enumerate(nodes)}
    arcs: list[tuple[int, int, float, int, int]] = []
    for (i, d), k in number.items():
        a = 0 if i == HOME else int(p.meals[i])
        limit = p.start_limit if i == HOME else p.limit
        for j in visits:
            if i != HOME and j <= i:
                continue
            same_day = i != HOME and p.leg_ix[i] == p.leg_ix[j]
            if same_day and p.from_camp[j] and p.from_camp[i] >= p.from_camp[j]:
                continue
            on_road = same_day and not p.from_camp[j]
            to = (j, d + int(p.own_steps[i]) if on_road else 0)
            b = int(p.meals[j])
            if to in number and (b > a or i == HOME):  # a visit buys something
                minutes = carrying(p, i, a, b) + float(p.cost[to]) / 1000
                arcs.append((k, number[to], minutes, b - a, max(b - a - limit, 0)))
        b = p.meal_count
        if b == a and i != HOME:
            continue
        arcs.append((k, len(nodes), carrying(p, i, a, b), b - a, max(b - a - limit, 0)))
    for worst in range(p.meal_count + 1):
        kept = [arc for arc in arcs if arc[4] <= worst]
        m = len(kept)
        tail, head = (np.array([arc[side] for arc in kept]) for side in (0, 1))
        ones, column = np.ones(m), np.arange(m)
        flow = csr_array(
            (np.concatenate([ones, -ones]), (np.concatenate([tail, head]), np.tile(column, 2))),
            shape=(len(nodes) + 1, m + 1),
        )
        balance = np.zeros(len(nodes) + 1)
        balance[0], balance[-1] = 1, -1
        # The last variable: meals of the largest load over the habit.
        loads = np.array([max(arc[3] - p.habit, 0) for arc in kept], dtype=float)
        over = csr_array(
            (
                np.concatenate([loads, -np.ones(m)]),
                (np.tile(column, 2), np.concatenate([column, np.full(m, m)])),
            ),
            shape=(m, m + 1),
        )
        price = [arc[2] + EXCESS_MIN * arc[4] for arc in kept]
        found = milp(
            np.array([*price, p.style * p.habit_min]),
            integrality=np.append(np.ones(m), 0),
            bounds=(0, np.append(np.ones(m), np.inf)),
            constraints=[
                LinearConstraint(flow, balance, balance),
                LinearConstraint(over, -np.inf, 0),
            ],
            options={"mip_rel_gap": 0.0},
        )
        if found.success:
            used = [arc for arc, x in zip(kept, found.x, strict=False) if x > 0.5]
            excess = sum(arc[4] for arc in used)
            return worst, excess, found.fun - EXCESS_MIN * excess
    raise AssertionError("no plan at all")


@pytest.mark.parametrize(
    "seed", [*range(8), *(pytest.param(n, marks=pytest.mark.long) for n in range(8, 24))]
)
def test_an_independent_solver_finds_the_same_sum(seed):
    problem = random_problem(1000 + seed, visits=30, days=5, steps=8)
    found = solve(problem).cost
    worst, excess, minutes = by_milp(problem)
    assert (found.worst_excess, found.excess) == (worst, excess)
    # Each part is rounded to a thousandth of a minute.
    assert found.milli_min / 1000 == pytest.approx(minutes, abs=0.05)
