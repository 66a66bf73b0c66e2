"""What is carried: its mass, the line of it along the trip, the spare, and the three styles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import MEALS_PER_DAY
from resupply.report.document.model.stops import CarryStep, SpareDocument, StyleRow
from resupply.say.carry import mass_on_board, spare_words, style_words

if TYPE_CHECKING:
    from resupply.common.quantity import Sentence
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words

__all__ = ["Carried", "carried", "carry_profile", "spare_block", "style_rows"]


@dataclass(frozen=True, slots=True)
class Carried:
    """Food on board for the whole party, kg."""

    start_kg: float | None
    stops_kg: tuple[float | None, ...]
    """Leaving each stop. None while a menu is wanted and not planned yet: what a guess says, the
    menu would change under the rider's eyes."""
    spare_kg: float | None
    by_menu: bool
    """Added up over the menu's packs, the spare included; else so much a meal."""
    kg_per_meal: float
    start_by_menu: bool = False
    """What is on board under way is no part of the menu."""

    def start_words(self) -> Sentence:
        """Say the mass at the start and what it rests on."""
        return mass_on_board(self.start_kg, self.kg_per_meal, by_menu=self.start_by_menu)

    def words(self, kg: float | None) -> Sentence:
        """Say the mass leaving a stop and what it rests on."""
        return mass_on_board(kg, self.kg_per_meal, by_menu=self.by_menu)


def carried(plan: TripPlan, kitchen: KitchenPlan | None = None) -> Carried:
    """Weigh the food: by the menu where one is planned, else by the trip's mass of a meal."""
    each_kg, spare = plan.trip.food.kg_per_meal, plan.supply.spare_meals

    def guess_kg(meals: int) -> float | None:
        if plan.trip.food.plan_menu and kitchen is None:
            return None
        return round(meals * plan.trip.party.people * each_kg, 2)

    stops_kg = tuple(guess_kg(stop.carry_meals + spare) for stop in plan.supply.stops)
    start_kg = guess_kg(plan.supply.start_carry_meals + spare)
    spare_kg = guess_kg(spare)
    if kitchen is None or kitchen.shopping is None:
        return Carried(start_kg, stops_kg, spare_kg, by_menu=False, kg_per_meal=each_kg)
    parts = kitchen.given.cookbook.ingredients
    told = tuple(round(kg, 2) for kg in kitchen.carried_kg)
    if kitchen.shopping.reserve:
        lines = kitchen.shopping.reserve
        spare_kg = round(sum(ln.bought * parts[ln.ingredient].unit_kg for ln in lines), 2)
    if not kitchen.first_stop:
        start_kg, told = told[0], told[1:]
    return Carried(
        start_kg,
        told,
        spare_kg,
        by_menu=True,
        kg_per_meal=each_kg,
        start_by_menu=not kitchen.first_stop,
    )


def carry_profile(plan: TripPlan) -> tuple[CarryStep, ...]:
    """Food on board as a step line: falls at each meal, jumps at each stop."""
    clock, supply, now = plan.clock, plan.supply, plan.trip.now
    # Under way the rider has what is stated, not what is needed.
    spare = supply.spare_meals
    first = supply.start_carry_meals + spare if now.at_km is None else now.food_meals
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
        out.append(CarryStep(chainage_m=round(at_m), meals=on_board))
    return tuple(out)


def spare_block(plan: TripPlan, words: Words, weights: Carried) -> SpareDocument:
    """Say what is kept spare, and whether it does if a door is shut."""
    supply = plan.supply
    return SpareDocument(
        meals=supply.spare_meals,
        kg=weights.spare_kg,
        worst_stop=supply.worst_stop or None,
        worst_more_meals=supply.worst_more_meals,
        longest_gap_meals=supply.longest_if_shut_meals,
        longest_gap_days=supply.longest_if_shut_meals / MEALS_PER_DAY,
        words=spare_words(plan, words, weights.spare_kg),
    )


def _about(plan: TripPlan, style: str) -> bool:
    """Whether the cooler has asked for stops in the plan's style, and might for others in this."""
    return bool(plan.supply.asked.ice_rows) and style != plan.trip.food.style


def style_rows(plan: TripPlan) -> tuple[StyleRow, ...]:
    """Tell what each style of shopping comes to, the plan's own among them."""
    return tuple(
        StyleRow(
            style=name,
            chosen=name == plan.trip.food.style,
            stops=figures.visits,
            minutes=figures.minutes,
            most_meals=figures.most_meals,
            fresh_dinners=figures.fresh_dinners,
            dinners=figures.dinners,
            fail_chance=round(figures.fail_chance, 3),
            approximate=_about(plan, name),
            words=style_words(figures, plan.supply.spare_meals, about=_about(plan, name)),
        )
        for name, figures in plan.styles.items()
    )
