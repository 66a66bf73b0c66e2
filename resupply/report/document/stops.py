"""Chosen stops, their fallbacks and the shortfalls, as document blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import MEALS_PER_DAY
from resupply.report.document.loads import stop_mass_words
from resupply.report.document.model.stops import (
    FallbackRow,
    HoursIgnored,
    IfShutRow,
    RemedyRow,
    ShortfallRow,
    ShutDoor,
    StopRow,
)
from resupply.report.document.passes import pass_id
from resupply.say.carry import (
    carry_words,
    fallback_words,
    if_shut_words,
    naive_words,
    remedy_words,
    shortfall_words,
)
from resupply.say.states import state_key
from resupply.say.stops import explain_stops
from resupply.supply.ignoring_hours import naive_plan
from resupply.supply.spots import apart_m

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.kitchen.on_board import FoodWeight
    from resupply.plan.pipeline import TripPlan
    from resupply.report.document.model.ice import IceBuy
    from resupply.say.names import Words
    from resupply.supply.food_stops import FoodStop
    from resupply.supply.if_shut import Fallback

__all__ = [
    "naive_block",
    "shortfall_rows",
    "stop_rows",
]

_SAME_SPOT_M = 100.0
"""Two shops for which the route is left so close together are told apart by their distance."""


def stop_rows(
    plan: TripPlan, words: Words, weights: FoodWeight, ice: Mapping[str, Sequence[IceBuy]]
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
                from_camp=stop.from_camp,
                on_board_m=round(stop.on_board_m),
                shut_chance=round(stop.shut_chance, 3),
                detour_m=round(float(plan.detour_m[stop.row])),
                state=state_key(stop.risk),
                state_words=words.state(stop.row, stop.arrive_s, stop.risk),
                kind="full" if stop.full else "small",
                why=reason.why,
                why_not_previous=reason.why_not_previous,
                carry_meals=stop.carry_meals,
                carry_days=plan.supply.days_with(stop.carry_meals),
                carry_kg=kg,
                carry_kg_words=stop_mass_words(weights, kg),
                ice=tuple(ice.get(pass_id(stop.row), ())),
                carry_words=carry_words(stop, words),
                to_chainage_m=words.next_stop_m(stop.number),
                fallback=_fallback(plan, stop.fallback, words, stop),
                meal_out=_fallback(plan, stop.meal_out, words, stop)
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


def _fallback(plan: TripPlan, fallback: Fallback, words: Words, stop: FoodStop) -> FallbackRow:
    """Row of what to do if a stop is shut."""
    none = fallback.kind == "none"
    between_m = None
    if not none and fallback.distance_m <= _SAME_SPOT_M:
        between_m = apart_m(words.place(stop.row), words.place(fallback.row))
    return FallbackRow(
        kind=fallback.kind,
        pass_id=None if none else pass_id(fallback.row),
        chainage_m=round(fallback.chainage_m) if none else words.chainage_m(fallback.row),
        distance_m=round(fallback.distance_m),
        eta=None if none else words.local(fallback.row, fallback.arrive_s),
        state="unknown" if none else state_key(fallback.risk),
        words=fallback_words(plan, fallback, words, stop, apart_m=between_m),
    )


def shortfall_rows(plan: TripPlan, words: Words) -> tuple[ShortfallRow, ...]:
    """Rows of the stretches over the limit, each with the remedies."""
    limit = plan.supply.asked.limit_meals
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


def naive_block(plan: TripPlan, words: Words) -> HoursIgnored:
    """Say what a plan that ignores opening hours would meet."""
    naive = naive_plan(plan.supply)
    shut = tuple(
        ShutDoor(
            pass_id=pass_id(row),
            name=words.name(row),
            chainage_m=words.chainage_m(row),
            arrive=words.local(row, at_s),
            state_words=words.hours(row, at_s).words,
        )
        for row, at_s in zip(naive.shut_rows, naive.shut_arrive_s, strict=True)
    )
    return HoursIgnored(
        stops=tuple(pass_id(row) for row in naive.rows),
        shut=shut,
        longest_meals=naive.longest_meals,
        words=naive_words(naive, words),
    )
