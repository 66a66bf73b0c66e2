"""What the plan took the jumps of the line for, said plainly; what is not known is asked.

In: a plan. Out: cautions, and notes on jumps too short to ask about.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import at, count, duration, line, speed, walk, way
from resupply.route.jumps import crossings_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.common.quantity import Sentence
    from resupply.plan.pipeline import TripPlan
    from resupply.route.jumps import Crossing

__all__ = ["jump_cautions", "jump_notes", "plan_crossings"]


def plan_crossings(plan: TripPlan) -> tuple[Crossing, ...]:
    """Jumps of the way ahead that are no part of the line, as the plan counts them."""
    speed_kmh = plan.legs[0].ride_time.average_kmh
    here_m = plan.legs[0].start_m
    told = crossings_of(plan.prepared.route, plan.trip.jumps, speed_kmh)
    return tuple(one for one in told if one.chainage_m >= here_m)


def jump_cautions(plan: TripPlan) -> Iterator[Sentence]:
    """Ask what a jump is, and say what it was taken for."""
    crossings = plan_crossings(plan)
    asked = [one for one in crossings if one.asked]
    if asked:
        it = "it" if len(asked) == 1 else "them"
        yield line(
            "{jumps}: a ferry, or do you ride {it}? The file does not say. Until you do (trip "
            'file: jumps.kind = "ferry" or "ridden"; live page: a setting under How you ride), '
            "the plan counts {long} for {it} as for a ferry, and fuel as if you rode {it}; what "
            "lies there is not known.",
            jumps=_jumps(asked),
            it=it,
            long=duration(sum(one.crossing_s for one in asked)),
        )
    ferries = [one for one in crossings if one.kind == "ferry"]
    if ferries:
        rule = line(" (an hour and {speed} where you state no time)", speed=speed(30.0))
        yield line(
            "{jumps}: a ferry, as you say. The plan counts {long} for it{rule}, and no fuel. When "
            "it sails is not known.",
            jumps=_jumps(ferries),
            long=duration(sum(one.crossing_s for one in ferries)),
            rule=None if all(one.time_stated for one in ferries) else rule,
        )
    ridden = [j for j in plan.prepared.route.ridden_jumps if j.chainage_m >= plan.legs[0].start_m]
    if ridden:
        far_m = sum(jump.length_m for jump in ridden)
        yield line(
            "The line jumps after {there}, and you say that you ride there: {far} count as ridden "
            "in a straight line. The road is longer, and what lies on it is not known.",
            there=at(ridden[0].chainage_m),
            far=way(far_m),
        )


def jump_notes(plan: TripPlan) -> list[Sentence]:
    """Say how the jumps count that are too short to ask about."""
    short = [one for one in plan_crossings(plan) if one.kind == "unknown" and not one.asked]
    if not short:
        return []
    return [
        line(
            "{jumps}: no part of its length; time and fuel count it as ridden straight",
            jumps=_jumps(short),
        )
    ]


def _jumps(crossings: Sequence[Crossing]) -> Sentence:
    longest = max(crossings, key=lambda one: one.length_m)
    often = len(crossings)
    return line(
        "The line jumps {times}{far} after {there}",
        times=f"{count(often, 'time')}, farthest " if often > 1 else None,
        far=walk(longest.length_m),
        there=at(longest.chainage_m),
    )
