"""The chosen visits walked through: when each is made, and what they come to.

In: `VisitOptions` and the rows chosen. Out: a `Made` for each, and the figures of a style.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from resupply.supply.visit_solver import STEP_MIN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.route.clock import RideClock
    from resupply.supply.candidates import Candidates
    from resupply.supply.visit_options import VisitOptions

__all__ = ["Figures", "Made", "figures_of", "loads_of", "walk", "with_visits"]


@dataclass(frozen=True, slots=True)
class Made:
    """One visit that is made."""

    visit: int
    """Row of the options."""
    candidate: int
    leg_ix: int
    """Day on which it is made."""
    from_camp: bool
    at_m: float
    """Chainage at which the food comes on board: where the route is left, or the camp."""
    meals: int
    """Eaten before it."""
    lost: int
    """Steps lost in earlier shops of the same day."""
    arrive_s: float
    """UTC epoch at the door."""
    state: int
    """Code of `OpenState`."""
    shut_chance: float
    way_s: float
    """Riding there and back."""
    stop_min: float
    """In the shop."""

    def waiting(self, clock: RideClock) -> bool:
        """Whether it is made from the camp where the rider waits to ride on."""
        return self.from_camp and self.arrive_s < clock.depart_s[self.leg_ix]


@dataclass(frozen=True, slots=True)
class Figures:
    """What a choice of visits comes to."""

    visits: int
    minutes: int
    """Riding to the shops and back, and in them."""
    most_meals: int
    """Largest load to eat, a person; spare ones not counted."""
    excess_meals: int
    fresh_dinners: int
    """Dinners cooked from food bought late that day, near camp."""
    dinners: int
    fail_chance: float
    """Chance that at least one door is found shut."""


def walk(
    options: VisitOptions, candidates: Candidates, clock: RideClock, chosen: Sequence[int]
) -> tuple[Made, ...]:
    """Walk through the chosen visits, in order."""
    problem, made = options.problem, []
    day, lost = -1, 0
    for visit in chosen:
        j, leg_ix = int(options.candidate[visit]), int(problem.leg_ix[visit])
        turn, leg = int(problem.from_camp[visit]), clock.legs[leg_ix]
        from_camp, camp_m = turn != 0, leg.start_m if turn < 0 else leg.end_m
        if leg_ix != day:
            day, lost = leg_ix, 0
        steps = 0 if from_camp else min(lost, problem.steps - 1)
        made.append(
            Made(
                visit=int(visit),
                candidate=j,
                leg_ix=leg_ix,
                from_camp=from_camp,
                at_m=float(camp_m if from_camp else candidates.chainage_m[j]),
                meals=int(problem.meals[visit]),
                lost=steps,
                arrive_s=float(options.at_s[visit]) + steps * STEP_MIN * 60.0,
                state=int(options.state[visit, steps]),
                shut_chance=float(options.shut_chance[visit, steps]),
                way_s=float(options.way_s[visit]),
                stop_min=float(candidates.stop_min[j]),
            )
        )
        lost += int(problem.own_steps[visit])
    return tuple(made)


def with_visits(
    clock: RideClock, options: VisitOptions, candidates: Candidates, made: Sequence[Made]
) -> RideClock:
    """Clock with the visits on the road; those from camp delay nothing."""
    road = [one for one in made if not one.from_camp]
    return clock.with_stops(
        [float(candidates.chainage_m[one.candidate]) for one in road],
        [float(options.problem.own_steps[one.visit]) * STEP_MIN * 60.0 for one in road],
    )


def loads_of(options: VisitOptions, chosen: Sequence[int]) -> list[int]:
    """Meals to eat from home, and from each visit, to the next."""
    problem = options.problem
    counts = [0, *problem.meals[list(chosen)].tolist(), problem.meal_count]
    return [b - a for a, b in pairwise(counts)]


def figures_of(
    options: VisitOptions,
    candidates: Candidates,
    clock: RideClock,
    chosen: Sequence[int],
    *,
    fresh_min: float,
) -> Figures:
    """Tell what a choice comes to.

    Parameters
    ----------
    fresh_min
        Minutes that a wholly fresh dinner is worth; see the trip file's `[choice]`.
    """
    problem, made = options.problem, walk(options, candidates, clock, chosen)
    loads = loads_of(options, chosen)
    limits = [problem.start_limit, *[problem.limit] * len(made)]
    fresh = 0.0
    for at, first, load in zip([-1, *chosen], [0, *(m.meals for m in made)], loads, strict=True):
        if first <= problem.dinner[at] < first + load:
            fresh += float(problem.fresh_min[at]) / max(fresh_min, 1e-9)
    return Figures(
        visits=len(made),
        minutes=round(sum(one.way_s / 60.0 + one.stop_min for one in made)),
        most_meals=max(loads),
        excess_meals=sum(max(load - limit, 0) for load, limit in zip(loads, limits, strict=True)),
        fresh_dinners=math.floor(fresh + 0.5),
        dinners=sum(meal.kind == "dinner" for meal in clock.meals),
        fail_chance=float(1.0 - np.prod([1.0 - one.shut_chance for one in made])),
    )
