"""Chosen stops of a plan, their fallbacks, the reserve and the shortfalls, as document blocks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.geodesy import geod
from resupply.common.quantity import MEALS_PER_DAY
from resupply.report.document.model.stops import (
    CarryStep,
    FallbackRow,
    HoursIgnored,
    IfShutRow,
    RemedyRow,
    ReserveDocument,
    ShortfallRow,
    ShutDoor,
    StopRow,
)
from resupply.report.document.passes import pass_id
from resupply.say.carry import (
    carry_words,
    fallback_words,
    if_shut_words,
    mass_on_board,
    naive_words,
    remedy_words,
    reserve_words,
    shortfall_words,
)
from resupply.say.states import state_key
from resupply.say.stops import explain_stops

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.common.quantity import Sentence
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan
    from resupply.report.document.model.ice import IceBuy
    from resupply.say.names import Words
    from resupply.supply.if_shut import Fallback

__all__ = [
    "Carried",
    "carried",
    "carry_profile",
    "naive_block",
    "reserve_block",
    "shortfall_rows",
    "stop_rows",
]

_SAME_SPOT_M = 100.0
"""Two shops for which the route is left so close together are told apart by their distance."""


@dataclass(frozen=True, slots=True)
class Carried:
    """Food on board for the whole party, kg."""

    start_kg: float
    stops_kg: tuple[float, ...]
    """Leaving each stop."""
    reserve_kg: float
    by_menu: bool
    """Added up over the menu's packs, the reserve included; else so much a meal."""
    kg_per_meal: float
    start_by_menu: bool = False
    """What is on board under way is no part of the menu."""

    def start_words(self) -> Sentence:
        """Say the mass at the start and what it rests on."""
        return mass_on_board(self.start_kg, self.kg_per_meal, by_menu=self.start_by_menu)

    def words(self, kg: float) -> Sentence:
        """Say the mass leaving a stop and what it rests on."""
        return mass_on_board(kg, self.kg_per_meal, by_menu=self.by_menu)


def carried(plan: TripPlan, kitchen: KitchenPlan | None = None) -> Carried:
    """Weigh the food: by the menu where one is planned, else by the trip's mass of a meal."""
    each_kg = plan.trip.food.kg_per_meal

    def guess_kg(meals: int) -> float:
        return round(meals * plan.trip.party.people * each_kg, 2)

    stops_kg = tuple(guess_kg(stop.carry_meals) for stop in plan.supply.stops)
    start_kg = guess_kg(plan.supply.start_carry_meals)
    reserve_kg = guess_kg(plan.supply.reserve_meals)
    if kitchen is None or kitchen.shopping is None:
        return Carried(start_kg, stops_kg, reserve_kg, by_menu=False, kg_per_meal=each_kg)
    parts = kitchen.table.cookbook.ingredients
    told = tuple(round(kg, 2) for kg in kitchen.carried_kg)
    if kitchen.shopping.reserve:
        lines = kitchen.shopping.reserve
        reserve_kg = round(sum(ln.bought * parts[ln.ingredient].unit_kg for ln in lines), 2)
    if not kitchen.first_stop:
        start_kg, told = told[0], told[1:]
    return Carried(
        start_kg,
        told,
        reserve_kg,
        by_menu=True,
        kg_per_meal=each_kg,
        start_by_menu=not kitchen.first_stop,
    )


def stop_rows(
    plan: TripPlan, words: Words, weights: Carried, ice: Mapping[str, Sequence[IceBuy]]
) -> tuple[StopRow, ...]:
    """Rows of the chosen stops, in order.

    Parameters
    ----------
    ice
        Ice to buy by pass id; see `resupply.report.document.ice.ice_buys`.
    """
    reasons = explain_stops(plan.supply, words)
    out = []
    masses = weights.stops_kg
    for stop, reason, kg in zip(plan.supply.stops, reasons, masses, strict=True):
        out.append(
            StopRow(
                number=stop.number,
                pass_id=pass_id(stop.row),
                place=words.place(stop.row).id,
                name=words.name(stop.row),
                leg=plan.legs[stop.leg_ix].number,
                chainage_m=words.chainage_m(stop.row),
                arrive=words.local(stop.row, stop.arrive_s),
                leave=words.local(stop.row, stop.leave_s),
                minutes=round((stop.leave_s - stop.arrive_s) / 60.0),
                detour_m=round(float(plan.detour_m[stop.row])),
                state=state_key(stop.risk),
                state_words=words.state(stop.row, stop.arrive_s, stop.risk),
                kind="full" if stop.full else "small",
                why=reason.why,
                why_not_previous=reason.why_not_previous,
                carry_meals=stop.carry_meals,
                carry_days=stop.carry_days,
                carry_kg=kg,
                carry_kg_words=weights.words(kg),
                ice=tuple(ice.get(pass_id(stop.row), ())),
                carry_words=carry_words(stop, words),
                to_chainage_m=words.next_stop_m(stop.number),
                fallback=_fallback(plan, stop.fallback, words, stop.row),
                meal_out=_fallback(plan, stop.meal_out, words, stop.row)
                if stop.meal_out.kind == "meal_out"
                else None,
                if_shut=IfShutRow(
                    gap_meals=stop.if_shut_meals,
                    gap_days=stop.if_shut_meals / MEALS_PER_DAY,
                    words=if_shut_words(stop.if_shut_meals),
                ),
            )
        )
    return tuple(out)


def _fallback(plan: TripPlan, fallback: Fallback, words: Words, row: int) -> FallbackRow:
    """Row of what to do if the stop at a pass row is shut."""
    none = fallback.kind == "none"
    apart_m = None
    if not none and fallback.distance_m <= _SAME_SPOT_M:
        one, other = words.place(row), words.place(fallback.row)
        apart_m = float(geod().inv(one.lon, one.lat, other.lon, other.lat)[2])
    return FallbackRow(
        kind=fallback.kind,
        pass_id=None if none else pass_id(fallback.row),
        chainage_m=round(fallback.chainage_m) if none else words.chainage_m(fallback.row),
        distance_m=round(fallback.distance_m),
        eta=None if none else words.local(fallback.row, fallback.arrive_s),
        state="unknown" if none else state_key(fallback.risk),
        words=fallback_words(plan, fallback, words, row, apart_m=apart_m),
    )


def shortfall_rows(plan: TripPlan, words: Words) -> tuple[ShortfallRow, ...]:
    """Rows of the stretches over the limit, each with the remedies."""
    limit = plan.supply.weights.limit_meals
    remedies = tuple(
        RemedyRow(
            words=remedy_words(plan, r),
            minutes=r.minutes,
            excess_meals=r.excess_meals,
        )
        for r in plan.remedies
    )
    return tuple(
        ShortfallRow(
            start_m=round(s.start_m),
            end_m=round(s.end_m),
            days=s.meals / MEALS_PER_DAY,
            meals=s.meals,
            limit_days=limit / MEALS_PER_DAY,
            excess_meals=s.excess_meals,
            last_shop_m=round(s.last_shop_m),
            words=shortfall_words(plan, s, words),
            remedies=remedies,
        )
        for s in plan.supply.shortfalls
    )


def reserve_block(plan: TripPlan, words: Words, weights: Carried) -> ReserveDocument:
    """Say what to hold in reserve."""
    supply = plan.supply
    kg = weights.reserve_kg
    return ReserveDocument(
        meals=supply.reserve_meals,
        kg=kg,
        worst_stop=supply.reserve_stop or None,
        longest_gap_meals=supply.longest_if_shut_meals,
        longest_gap_days=supply.longest_if_shut_meals / MEALS_PER_DAY,
        words=reserve_words(plan, words, kg),
    )


def naive_block(plan: TripPlan, words: Words) -> HoursIgnored:
    """Say what a plan that ignores opening hours would meet."""
    naive = plan.naive
    shut = tuple(
        ShutDoor(
            pass_id=pass_id(row),
            name=words.name(row),
            chainage_m=words.chainage_m(row),
            arrive=words.local(row, at_s),
            state_words=words.hours(row, at_s).text,
        )
        for row, at_s in zip(naive.shut_rows, naive.shut_arrive_s, strict=True)
    )
    return HoursIgnored(
        stops=tuple(pass_id(row) for row in naive.rows),
        shut=shut,
        longest_meals=naive.longest_meals,
        words=naive_words(plan, words),
    )


def carry_profile(plan: TripPlan) -> tuple[CarryStep, ...]:
    """Food on board as a step line: falls at each meal, jumps at each stop."""
    clock, supply, now = plan.clock, plan.supply, plan.trip.now
    # Under way the rider has what is stated, not what is needed.
    first = supply.start_carry_meals if now.at_km is None else now.food_meals
    knots = [(clock.legs[0].start_m, clock.start_s, first, True)]
    knots += [(s.chainage_m, s.arrive_s, s.carry_meals, True) for s in supply.stops]
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
