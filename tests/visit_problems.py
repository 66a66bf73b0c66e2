"""Small random choices of visits, for checks against other ways to solve them."""

from __future__ import annotations

import numpy as np

from resupply.supply.visit_solver import NEVER, VisitProblem


def random_problem(
    seed: int, *, visits: int = 8, days: int = 3, steps: int = 6, **changes
) -> VisitProblem:
    """Days of three meals; shops on the road and from camp, some shut at some hours."""
    dice = np.random.default_rng(seed)
    meals = 3 * days
    leg = np.sort(dice.integers(0, days, visits))
    turn = dice.choice([-2, -1, 1, 2], visits)
    camp = np.where(dice.random(visits) < 0.3, turn, 0)
    lunch = dice.integers(0, 2, visits)
    order = np.lexsort((lunch, camp, leg))
    leg, camp, lunch = leg[order], camp[order], lunch[order]
    eaten = 3 * leg + np.where(camp > 0, 2, np.where(camp < 0, 0, lunch))
    cost = dice.integers(10_000, 60_000, (visits, steps))
    cost[dice.random((visits, steps)) < 0.15] = NEVER
    over = np.zeros((visits, meals + 1), dtype=np.int64)
    for i in np.flatnonzero(dice.random(visits) < 0.4):
        k = np.maximum(np.arange(meals + 1) - dice.integers(1, 4), 0)
        over[i] = 5_000 * k * (k + 1)
    dinner = np.append(3 * leg + 2, 2)
    values = {
        "leg_ix": leg,
        "from_camp": camp,
        "meals": eaten,
        "own_steps": np.where(camp != 0, 0, dice.integers(1, 4, visits)),
        "cost": cost,
        "load_from": dice.random(visits + 1) * 4,
        "over_from": over,
        "meal_hours": np.cumsum(dice.random(meals) * 5),
        "dinner": np.where(dinner < meals, dinner, -1),
        "fresh_min": 25.0 * dice.random(visits + 1),
        "style": float(dice.choice([0.1, 1.0, 1.6])),
        "carry_min": 1.0,
        "convex_from": int(dice.integers(2, 7)),
        "limit": int(dice.integers(1, meals)),
        "start_limit": int(dice.integers(0, meals)),
        "habit": int(dice.integers(1, 5)),
        "habit_min": 15.0,
    }
    return VisitProblem(**{**values, **changes})
