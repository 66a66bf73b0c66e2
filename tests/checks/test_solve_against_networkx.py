"""The choice of stops against a generic shortest path solver.

Second opinion: Dijkstra's algorithm as in networkx, on the graph of all (pass, delay) labels,
built here edge by edge without the solver's folding of labels.
"""

from __future__ import annotations

import networkx as nx
import pytest
from stop_problems import make_problem

from resupply.hours.state import OpenState
from resupply.supply.stop_solver import STEP_MIN, Weights, solve

SCALE_EXCESS, SCALE_MINUTE = 10**12, 10**6


def shortest_cost(problem) -> tuple[int, int, int]:
    w = problem.weights
    n, steps = problem.risk.shape
    graph = nx.DiGraph()

    def carry(meals: int) -> int:
        return (
            max(meals - w.limit_meals, 0) * SCALE_EXCESS
            + w.habit_min * max(meals - w.habit_meals, 0) * SCALE_MINUTE
            + sum(range(1, meals + 1))
        )

    def stop(j: int, d: int) -> int | None:
        risk = problem.risk[j, d]
        if risk == OpenState.SHUT:
            return None
        late = problem.late_min[problem.leg_ix[j]]
        after = min(d + int(problem.stop_steps[j]), len(late) - 1)
        tight = round(2 * w.tight_min * (1 - float(problem.open_share[j, d])))
        holiday = w.unknown_min // 20
        extra = [0, holiday, tight, w.usual_min, w.unknown_min, 3 * w.unknown_min][risk]
        minutes = extra + int(problem.stop_steps[j]) * STEP_MIN + int(problem.weight_min[j])
        return (minutes + w.late_min_per_min * int(late[after] - late[d])) * SCALE_MINUTE

    graph.add_edge("start", "end", weight=carry(problem.end_meals))
    frontier = []
    for j in range(n):
        cost = stop(j, 0)
        if cost is not None:
            graph.add_edge("start", (j, 0), weight=carry(int(problem.meals[j])) + cost)
            frontier.append((j, 0))
    seen = set(frontier)
    while frontier:
        i, d = frontier.pop()
        here = int(problem.meals[i])
        graph.add_edge((i, d), "end", weight=carry(problem.end_meals - here))
        for j in range(i + 1, n):
            same_day = problem.leg_ix[j] == problem.leg_ix[i]
            arrive = d + int(problem.stop_steps[i]) if same_day else 0
            cost = stop(j, arrive) if arrive < steps else None
            if cost is None:
                continue
            weight = carry(int(problem.meals[j]) - here) + cost
            graph.add_edge((i, d), (j, arrive), weight=weight)
            if (j, arrive) not in seen:
                seen.add((j, arrive))
                frontier.append((j, arrive))
    total = nx.shortest_path_length(graph, "start", "end", weight="weight")
    return (
        total // SCALE_EXCESS,
        total % SCALE_EXCESS // SCALE_MINUTE,
        total % SCALE_MINUTE,
    )


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("legs", "per_leg"), [(4, 15), (9, 8), (14, 4)])
def test_solver_equals_a_generic_shortest_path(seed, legs, per_leg):
    weights = Weights(limit_meals=6, habit_meals=4)
    problem = make_problem(
        legs=legs, per_leg=per_leg, seed=seed, steps=24, weights=weights, shut_share=0.5
    )
    found = solve(problem).cost
    assert (found.excess, found.minutes, found.burden) == shortest_cost(problem)
