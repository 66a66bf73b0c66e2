"""One plain sentence on why a stop was chosen, and one on why the shop before it was not.

Both are worked out, not guessed: the plan is costed again without the stop, and again with the
earlier shop in its place, and the first part of the objective that differs is what is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.common.quantity import food, line, meals, way
from resupply.hours.state import OpenState
from resupply.say.states import STATES
from resupply.supply.stop_solver import STEP_MIN, path_cost

if TYPE_CHECKING:
    from resupply.common.quantity import Part, Sentence
    from resupply.say.names import Words
    from resupply.supply.food_stops import SupplyPlan

__all__ = ["Reason", "explain_stops"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Sentences about one stop; they hold map text, so escape them where they are shown."""

    why: Sentence
    why_not_previous: Sentence | None


def explain_stops(plan: SupplyPlan, words: Words) -> tuple[Reason, ...]:
    """Sentences for every stop of the plan, in order."""
    chosen = [stop.candidate for stop in plan.stops]
    return tuple(
        Reason(
            _why(plan, chosen, k, words),
            _why_not_previous(plan, chosen, k, words),
        )
        for k in range(len(chosen))
    )


def _why(plan: SupplyPlan, chosen: list[int], k: int, words: Words) -> Sentence:
    problem, w = plan.problem, plan.weights
    stop = plan.stops[k]
    kind = "full shop" if stop.full else "small shop"
    if problem.pinned[chosen[k]]:
        return line("You asked to stop at this {kind}.", kind=kind)
    before = plan.start_carry_meals if k == 0 else plan.stops[k - 1].carry_meals
    joined = before + stop.carry_meals
    source = "the start" if k == 0 else words.named(plan.stops[k - 1].row)
    rest = chosen[:k] + chosen[k + 1 :]
    other = path_cost(problem, rest)
    carried = line("you would carry {food} from {source}", food=food(joined), source=source)
    if other.excess > plan.cost.excess:
        if joined > w.limit_meals:
            return line(
                "Without this {kind} {carried}, {over} over your limit of {limit}.",
                kind=kind,
                carried=carried,
                over=meals(joined - w.limit_meals),
                limit=food(w.limit_meals),
            )
        return line(
            "Without this {kind} the stops after it fail by {over}.",
            kind=kind,
            over=meals(other.excess - plan.cost.excess),
        )
    if joined > w.habit_meals and other.minutes > plan.cost.minutes:
        return line(
            "Without this {kind} {carried}, more than your habit of {habit}; the stop costs {min} "
            "min.",
            kind=kind,
            carried=carried,
            habit=food(w.habit_meals),
            min=int(problem.stop_steps[chosen[k]]) * STEP_MIN,
        )
    if other.minutes > plan.cost.minutes:
        return line(
            "This {kind} makes the rest of the trip quicker or surer than doing without it.",
            kind=kind,
        )
    return line(
        "This {kind} costs no more time than doing without it and keeps the food fresher: the next "
        "is {far} on.",
        kind=kind,
        far=way(stop.to_m - stop.chainage_m),
    )


def _why_not_previous(plan: SupplyPlan, chosen: list[int], k: int, words: Words) -> Sentence | None:
    problem, candidates = plan.problem, plan.candidates
    here = chosen[k]
    first = chosen[k - 1] + 1 if k else 0
    own_row = candidates.row[here]
    earlier = [j for j in range(first, here) if candidates.row[j] != own_row]
    if not earlier:
        return None
    other = earlier[-1]
    row = int(candidates.row[other])
    back = way(float(candidates.chainage_m[here] - candidates.chainage_m[other]))

    def because(reason: Part) -> Sentence:
        return line(
            "Why not {shop} ({back} earlier)? {reason}",
            shop=words.named(row),
            back=back,
            reason=reason,
        )

    lost = _lost_before(plan, chosen, k, other)
    risk = int(problem.risk[other, min(lost, problem.steps - 1)])
    arrive_s = float(candidates.nominal_s(plan.clock)[other]) + lost * STEP_MIN * 60.0
    if risk == OpenState.SHUT:
        hours = words.hours(row, arrive_s).text
        return because(line("When you pass it is {hours}.", hours=hours))
    swapped = path_cost(problem, [*chosen[:k], other, *chosen[k + 1 :]])
    if swapped.excess > plan.cost.excess:
        over = meals(swapped.excess - plan.cost.excess)
        return because(f"Stopping there instead means {over} over the limit.")
    more_min = swapped.minutes - plan.cost.minutes
    if more_min > 0:
        return because(_doubt(plan, other, here, risk, more_min))
    if swapped.burden > plan.cost.burden:
        return because("The food would be on board longer.")
    return because("It serves as well; this one was found first.")


def _lost_before(plan: SupplyPlan, chosen: list[int], k: int, other: int) -> int:
    leg = plan.problem.leg_ix[other]
    return sum(int(plan.problem.stop_steps[j]) for j in chosen[:k] if plan.problem.leg_ix[j] == leg)


def _doubt(plan: SupplyPlan, other: int, here: int, risk: int, more_min: int) -> str:
    problem, candidates = plan.problem, plan.candidates
    doubt = STATES[OpenState(risk)].doubt
    small = "it is a small shop" if candidates.full[here] and not candidates.full[other] else None
    longer = int(problem.stop_steps[other] - problem.stop_steps[here]) * STEP_MIN
    said = [small, doubt, f"the stop takes {longer} min more" if longer > 0 else None]
    told = ", ".join(part for part in said if part)
    told = told or f"it comes out {more_min} min worse over the trip"
    return f"{told[0].upper()}{told[1:]}."
