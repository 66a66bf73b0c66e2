"""Food on board along the route: it falls at each meal and jumps at each stop."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from resupply.supply.food_stops import SupplyPlan

__all__ = ["carry_steps"]


def carry_steps(supply: SupplyPlan) -> tuple[tuple[float, int], ...]:
    """Follow the meals on board, the spare ones with them, a person.

    Returns
    -------
    tuple of (float, int)
        Chainage in metres and meals from there on, in order of time.
    """
    clock, spare, have = supply.clock, supply.spare_meals, supply.asked.start_meals
    # Under way the rider has what is stated, not what is needed.
    first = supply.start_carry_meals + spare if have is None else have
    knots = [(clock.legs[0].start_m, clock.start_s, first, True)]
    knots += [(s.on_board_m, s.arrive_s, s.carry_meals + spare, True) for s in supply.stops]
    for meal in clock.meals:
        leg = clock.legs[meal.leg_ix]
        at_m = leg.end_m
        if meal.kind == "lunch" and not meal.resting:
            lost_s = meal.when.timestamp() - clock.depart_s[meal.leg_ix]
            grid_m = np.linspace(leg.start_m, leg.end_m, 200)
            passed = clock.nominal_s(grid_m) - clock.depart_s[meal.leg_ix]
            at_m = float(np.interp(lost_s, passed, grid_m))
        elif not meal.resting and (meal.kind == "breakfast" or meal.when < leg.depart):
            at_m = leg.start_m
        knots.append((at_m, meal.when.timestamp(), 0, False))
    on_board, out = 0, []
    for at_m, _, meals, bought in sorted(knots, key=lambda k: (k[1], not k[3])):
        on_board = max(meals, on_board) if bought else max(on_board - 1, 0)
        out.append((at_m, on_board))
    return tuple(out)
