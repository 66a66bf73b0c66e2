"""What is carried: its mass, the line of it along the trip, the spare, and the three styles."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import MEALS_PER_DAY
from resupply.report.document.model.stops import CarryStep, SpareDocument, StyleRow
from resupply.say.carry import mass_on_board, spare_words, style_words
from resupply.supply.carry import carry_steps

if TYPE_CHECKING:
    from resupply.common.quantity import Sentence
    from resupply.kitchen.on_board import FoodWeight
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words

__all__ = ["carry_profile", "spare_block", "start_mass_words", "stop_mass_words", "style_rows"]


def start_mass_words(weights: FoodWeight) -> Sentence:
    """Say the mass at the start and what it rests on."""
    return mass_on_board(weights.start_kg, weights.kg_per_meal, by_menu=weights.start_by_menu)


def stop_mass_words(weights: FoodWeight, kg: float | None) -> Sentence:
    """Say the mass leaving a stop and what it rests on."""
    return mass_on_board(kg, weights.kg_per_meal, by_menu=weights.by_menu)


def carry_profile(plan: TripPlan) -> tuple[CarryStep, ...]:
    """Food on board as a step line: falls at each meal, jumps at each stop."""
    return tuple(
        CarryStep(chainage_m=round(at_m), at_s=round(at_s), meals=meals, stop=number or None)
        for at_m, at_s, meals, number in carry_steps(plan.supply)
    )


def spare_block(plan: TripPlan, words: Words, weights: FoodWeight) -> SpareDocument:
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


def style_rows(plan: TripPlan, *, cooked: bool) -> tuple[StyleRow, ...]:
    """Tell what each style of shopping comes to, the plan's own among them.

    Parameters
    ----------
    cooked
        The kitchen is planned, so that the cooler has asked for its stops: in this style. With a
        cooler what is not cooked is told as "about".
    """

    def about(style: str) -> bool:
        settled = cooked and style == plan.trip.food.style
        return plan.trip.cooler.kind != "none" and not settled

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
            approximate=about(name),
            words=style_words(figures, plan.supply.spare_meals, about=about(name)),
        )
        for name, figures in plan.styles.items()
    )
