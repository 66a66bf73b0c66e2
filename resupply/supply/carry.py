"""Food on board along the route: it falls at each meal and jumps at each stop."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from resupply.supply.food_stops import SupplyPlan

__all__ = ["carry_steps"]


def carry_steps(supply: SupplyPlan) -> tuple[tuple[float, float, int, int], ...]:
    """Follow the meals on board, the spare ones with them, a person.

    Returns
    -------
    tuple of (float, float, int, int)
        Chainage in metres, UTC epoch seconds, meals from then on, and the number of the stop at
        which they are bought, 0 for a meal and for the start; in order of time.
    """
    clock, spare, have = supply.clock, supply.spare_meals, supply.asked.start_meals
    # Under way the rider has what is stated, not what is needed.
    first = supply.start_carry_meals + spare if have is None else have
    knots = [(clock.legs[0].start_m, clock.start_s, first, True, 0)]
    knots += [
        (stop.on_board_m, stop.arrive_s, stop.carry_meals + spare, True, number)
        for number, stop in enumerate(supply.stops, 1)
    ]
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
        knots.append((at_m, meal.when.timestamp(), 0, False, 0))
    on_board, out = 0, []
    for at_m, at_s, meals, bought, number in sorted(knots, key=lambda k: (k[1], not k[3])):
        on_board = max(meals, on_board) if bought else max(on_board - 1, 0)
        out.append((at_m, at_s, on_board, number))
    return tuple(out)
