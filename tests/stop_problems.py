"""Random stop problems for the solver's tests, made of a plain clock of their own."""

from __future__ import annotations

import numpy as np

from resupply.hours.state import OpenState
from resupply.supply.stop_solver import StopProblem, Weights


def make_problem(
    *,
    legs: int,
    per_leg: int,
    seed: int,
    steps: int = 12,
    weights: Weights | None = None,
    pinned_share: float = 0.0,
    shut_share: float = 0.3,
    on_board_meals: int | None = None,
) -> StopProblem:
    """A trip of `legs` days with lunch at a random pass of each day and random opening spells."""
    rng = np.random.default_rng(seed)
    n = legs * per_leg
    leg_ix = np.repeat(np.arange(legs), per_leg)
    minute = np.sort(rng.integers(0, 480, (legs, per_leg)), axis=1).ravel()
    lunch = rng.integers(60, 420, legs)
    arrive = minute[:, None] + 5 * np.arange(steps)[None, :]
    meals = 3 * leg_ix + (minute > lunch[leg_ix])
    # Each pass has a risk before and after some minute, so that delay can help and harm.
    switch = rng.integers(0, 520, n)
    kinds = np.array([state for state in OpenState if state is not OpenState.SHUT])
    first, second = rng.choice(kinds, n), rng.choice(kinds, n)
    first[rng.random(n) < shut_share] = OpenState.SHUT
    second[rng.random(n) < shut_share] = OpenState.SHUT
    risk = np.where(arrive < switch[:, None], first[:, None], second[:, None])
    late_from = rng.integers(-30, 120, legs)
    late = np.maximum(5 * np.arange(2 * steps)[None, :] - late_from[:, None], 0)
    return StopProblem(
        leg_ix=leg_ix.astype(np.int64),
        meals=meals.astype(np.int64),
        risk=risk.astype(np.int8),
        open_share=rng.random(risk.shape),
        stop_steps=rng.integers(0, 7, n).astype(np.int64),
        weight_min=rng.choice([0, 30], n).astype(np.int64),
        late_min=late.astype(np.int64),
        pinned=rng.random(n) < pinned_share,
        end_meals=3 * legs,
        weights=weights or Weights(),
        on_board_meals=on_board_meals,
    )
