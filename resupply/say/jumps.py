"""What the plan took the jumps of the line for, said plainly; what is not known is asked.

In: a plan. Out: cautions, and notes on jumps too short to ask about.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.units import format_hours
from resupply.route.jumps import crossings_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.plan.pipeline import TripPlan
    from resupply.route.jumps import Crossing
    from resupply.say.names import Words

__all__ = ["jump_cautions", "jump_notes", "plan_crossings"]


def plan_crossings(plan: TripPlan) -> tuple[Crossing, ...]:
    """Jumps of the way ahead that are no part of the line, as the plan counts them."""
    speed_kmh = plan.legs[0].ride_time.average_kmh
    here_m = plan.legs[0].start_m
    told = crossings_of(plan.prepared.route, plan.trip.jumps, speed_kmh)
    return tuple(one for one in told if one.chainage_m >= here_m)


def jump_cautions(plan: TripPlan, words: Words) -> Iterator[str]:
    """Ask what a jump is, and say what it was taken for."""
    crossings = plan_crossings(plan)
    asked = [one for one in crossings if one.asked]
    if asked:
        it = "it" if len(asked) == 1 else "them"
        yield (
            f"{_jumps(asked, words)}: a ferry, or do you ride {it}? The file does not say. Until "
            'you do (trip file: jumps.kind = "ferry" or "ridden"), the plan counts '
            f"{format_hours(sum(one.crossing_s for one in asked))} for {it} as for a ferry, and "
            f"fuel as if you rode {it}; what lies there is not known."
        )
    ferries = [one for one in crossings if one.kind == "ferry"]
    if ferries:
        rule = " (an hour and 30 km/h where you state no time)"
        yield (
            f"{_jumps(ferries, words)}: a ferry, as you say. The plan counts "
            f"{format_hours(sum(one.crossing_s for one in ferries))} for it"
            f"{'' if all(one.time_stated for one in ferries) else words.retold(rule)}, and no "
            "fuel. When it sails is not known."
        )
    ridden = [j for j in plan.prepared.route.ridden_jumps if j.chainage_m >= plan.legs[0].start_m]
    if ridden:
        far_m = sum(jump.length_m for jump in ridden)
        yield (
            f"The line jumps after {words.at(ridden[0].chainage_m)}, and you say that you ride "
            f"there: {words.km(far_m)} count as ridden in a straight line. The road is longer, and "
            "what lies on it is not known."
        )


def jump_notes(plan: TripPlan, words: Words) -> list[str]:
    """Say how the jumps count that are too short to ask about."""
    short = [one for one in plan_crossings(plan) if one.kind == "unknown" and not one.asked]
    if not short:
        return []
    return [
        f"{_jumps(short, words)}: no part of its length; time and fuel count it as ridden straight"
    ]


def _jumps(crossings: Sequence[Crossing], words: Words) -> str:
    longest = max(crossings, key=lambda one: one.length_m)
    where = f"{words.km(longest.length_m)} after {words.at(longest.chainage_m)}"
    if len(crossings) == 1:
        return f"The line jumps {where}"
    return f"The line jumps {len(crossings):,} times, farthest {where}"
