"""One plain sentence on why a stop was chosen, and one on why the shop before it was not.

Both are worked out, not guessed: the plan is costed again without the stop, and again with the
earlier shop in its place, and what differs is what is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.common.quantity import food, line, meals, way
from resupply.hours.state import OpenState
from resupply.say.states import STATES
from resupply.supply.visit_solver import NEVER, STEP_MIN, cost_of

if TYPE_CHECKING:
    from resupply.common.quantity import Part, Sentence
    from resupply.say.names import Words
    from resupply.supply.food_stops import FoodStop, SupplyPlan

__all__ = ["Reason", "explain_stops"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Sentences about one stop; they hold map text, so escape them where they are shown."""

    why: Sentence
    why_not_previous: Sentence | None


def explain_stops(plan: SupplyPlan, words: Words) -> tuple[Reason, ...]:
    """Sentences for every stop of the plan, in order."""
    return tuple(
        Reason(_why(plan, k, words), _why_not_previous(plan, k, words))
        for k in range(len(plan.stops))
    )


def _why(plan: SupplyPlan, k: int, words: Words) -> Sentence:
    stop, asked = plan.stops[k], plan.asked
    kind = "full shop" if stop.full else "small shop"
    if plan.candidates.pinned[stop.candidate]:
        return line("You asked to stop at this {kind}.", kind=kind)
    if stop.row in asked.ice_rows:
        return line("The cooler needs ice here, so food is bought with it: one stop for both.")
    before = plan.start_carry_meals if k == 0 else plan.stops[k - 1].carry_meals
    joined = before + stop.carry_meals
    source = "the start" if k == 0 else words.named(plan.stops[k - 1].row)
    other = cost_of(plan.options.problem, [s.visit for s in plan.stops if s is not stop])
    carried = line("you would carry {food} from {source}", food=food(joined), source=source)
    if other is None or other.excess > plan.cost.excess:
        if joined > asked.limit_meals:
            return line(
                "Without this {kind} {carried}; your limit leaves room for {limit}.",
                kind=kind,
                carried=carried,
                limit=meals(asked.limit_meals),
            )
        return line("Without this {kind} a shop after it fails.", kind=kind)
    takes = line("It takes {min} min", min=round(_minutes(stop)))
    if _fresh_share(plan, stop) >= _MOSTLY:
        return line(
            "{where}: dinner is cooked from food bought that day. {takes}; without it {carried}.",
            where="From camp" if stop.from_camp else "Late, near camp",
            takes=takes,
            carried=carried,
        )
    if joined > asked.habit_meals:
        return line(
            "Without this {kind} {carried}. {takes}.", kind=kind, carried=carried, takes=takes
        )
    return line(
        "This {kind} keeps the load small: the next is {far} on. {takes}.",
        kind=kind,
        far=way(abs(stop.to_m - stop.on_board_m)),
        takes=takes,
    )


_MOSTLY = 0.5
"""A dinner at least half as fresh as can be is called so (our choice)."""


def _minutes(stop: FoodStop) -> float:
    return float(stop.leave_s - stop.arrive_s + stop.way_s) / 60.0


def _fresh_share(plan: SupplyPlan, stop: FoodStop) -> float:
    """How fresh the dinner cooked from this stop is, 0 to 1; 0 where it feeds none."""
    problem, at = plan.options.problem, stop.visit
    first = int(problem.meals[at])
    if not first <= problem.dinner[at] < first + stop.carry_meals:
        return 0.0
    return float(problem.fresh_min[at]) / max(plan.asked.weights.fresh_min, 1e-9)


def _why_not_previous(plan: SupplyPlan, k: int, words: Words) -> Sentence | None:
    problem, candidates, here = plan.options.problem, plan.candidates, plan.stops[k]
    first_m = plan.stops[k - 1].on_board_m if k else plan.clock.legs[0].start_m - 1.0
    between = (candidates.chainage_m > first_m) & (candidates.chainage_m <= here.on_board_m)
    between &= candidates.place_ix != candidates.place_ix[here.candidate]
    between[here.candidate :] &= here.from_camp
    if k:
        between &= candidates.place_ix != candidates.place_ix[plan.stops[k - 1].candidate]
    if not between.any():
        return None
    other = int(between.nonzero()[0][-1])
    door = int(plan.options.on_road()[other])
    row = int(candidates.row[other])
    back_m = max(here.on_board_m - float(candidates.chainage_m[other]), 0.0)

    def because(reason: Part) -> Sentence:
        return line(
            "Why not {shop} ({back} earlier)? {reason}",
            shop=words.named(row),
            back=way(back_m),
            reason=reason,
        )

    if problem.cost[door].min() >= NEVER and plan.options.state[door, 0] != OpenState.SHUT:
        return because("You do not want to shop on that day.")
    lost = _lost_before(plan, k, door)
    risk = int(plan.options.state[door, min(lost, problem.steps - 1)])
    if risk == OpenState.SHUT:
        arrive_s = float(plan.options.at_s[door]) + lost * STEP_MIN * 60.0
        hours = words.hours(row, arrive_s).words
        return because(line("When you pass, it is {hours}.", hours=hours))
    chosen = [stop.visit for stop in plan.stops]
    swapped = cost_of(problem, [*chosen[:k], door, *chosen[k + 1 :]])
    if k and problem.meals[door] == problem.meals[chosen[k - 1]]:
        return because("Nothing is eaten between the stop before and it.")
    if swapped is None:
        return because("A shop after it would be shut.")
    if swapped.excess > plan.cost.excess:
        over = meals(swapped.excess - plan.cost.excess)
        return because(f"Stopping there instead means {over} over the limit.")
    more_min = round((swapped.milli_min - plan.cost.milli_min) / 1000.0)
    if more_min > 0:
        return because(_doubt(plan, other, here, risk, more_min))
    return because("It serves as well; this one was found first.")


def _lost_before(plan: SupplyPlan, k: int, door: int) -> int:
    problem = plan.options.problem
    return sum(
        int(problem.own_steps[stop.visit])
        for stop in plan.stops[:k]
        if stop.leg_ix == problem.leg_ix[door]
    )


def _doubt(plan: SupplyPlan, other: int, here: FoodStop, risk: int, more_min: int) -> str:
    candidates = plan.candidates
    doubt = STATES[OpenState(risk)].doubt
    small = "it is a small shop" if here.full and not candidates.full[other] else None
    takes = float(candidates.detour_s[other]) / 60.0 + float(candidates.stop_min[other])
    longer = round(takes - _minutes(here))
    said = [small, doubt, f"the stop takes {longer} min more" if longer > 0 else None]
    told = ", ".join(part for part in said if part)
    told = told or f"in time, load and freshness it comes out {more_min} min worse"
    return f"{told[0].upper()}{told[1:]}."
