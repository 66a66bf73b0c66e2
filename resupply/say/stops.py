"""One plain sentence on why a stop was chosen, and one on why the shop before it was not.

Both are worked out, not guessed: the plan is costed again without the stop, and again with the
earlier shop in its place, and the first part of the objective that differs is what is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.common.quantity import MEALS_PER_DAY
from resupply.hours.state import OpenState
from resupply.say.states import STATES
from resupply.supply.stop_solver import STEP_MIN, path_cost

if TYPE_CHECKING:
    from collections.abc import Callable

    from resupply.supply.food_stops import SupplyPlan

__all__ = ["Reason", "explain_stops", "food_words", "meal_words"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Sentences about one stop; they hold map text, so escape them where they are shown."""

    why: str
    why_not_previous: str | None


def food_words(meals: int) -> str:
    """Meals as a rider says it.

    >>> food_words(6), food_words(7), food_words(1)
    ('2 days of food (6 meals)', '2⅓ days of food (7 meals)', '1 meal')
    """
    if meals < MEALS_PER_DAY:
        return meal_words(meals)
    whole, rest = divmod(meals, MEALS_PER_DAY)
    days = f"{whole}{('', '⅓', '⅔')[rest]}"
    return f"{days} day{'' if meals == MEALS_PER_DAY else 's'} of food ({meals} meals)"


def meal_words(count: int) -> str:
    """Count meals.

    >>> meal_words(1), meal_words(4)
    ('1 meal', '4 meals')
    """
    return f"{count} meal{'' if count == 1 else 's'}"


def explain_stops(
    plan: SupplyPlan,
    *,
    name_of: Callable[[int], str],
    state_of: Callable[[int, float], str],
    distance: Callable[[float], str],
) -> tuple[Reason, ...]:
    """Sentences for every stop of the plan, in order.

    Parameters
    ----------
    name_of
        Pass row to the name of its place.
    state_of
        Pass row and arrival (UTC epoch) to its hours in words.
    distance
        Metres to text in the rider's units.
    """
    chosen = [stop.candidate for stop in plan.stops]
    return tuple(
        Reason(
            _why(plan, chosen, k, name_of, distance),
            _why_not_previous(plan, chosen, k, name_of, state_of, distance),
        )
        for k in range(len(chosen))
    )


def _why(
    plan: SupplyPlan,
    chosen: list[int],
    k: int,
    name_of: Callable[[int], str],
    distance: Callable[[float], str],
) -> str:
    problem, w = plan.problem, plan.weights
    stop = plan.stops[k]
    kind = "full shop" if stop.full else "small shop"
    if problem.pinned[chosen[k]]:
        return f"You asked to stop at this {kind}."
    before = plan.start_carry_meals if k == 0 else plan.stops[k - 1].carry_meals
    joined = before + stop.carry_meals
    source = "the start" if k == 0 else name_of(plan.stops[k - 1].row)
    rest = chosen[:k] + chosen[k + 1 :]
    other = path_cost(problem, rest)
    carried = f"you would carry {food_words(joined)} from {source}"
    if other.excess > plan.cost.excess:
        over = other.excess - plan.cost.excess
        if joined > w.limit_meals:
            return (
                f"Without this {kind} {carried}, {meal_words(joined - w.limit_meals)} over your "
                f"limit of {food_words(w.limit_meals)}."
            )
        return f"Without this {kind} the stops after it fail by {meal_words(over)}."
    if joined > w.habit_meals and other.minutes > plan.cost.minutes:
        return (
            f"Without this {kind} {carried}, more than your habit of {food_words(w.habit_meals)}; "
            f"the stop costs {int(problem.stop_steps[chosen[k]]) * STEP_MIN} min."
        )
    if other.minutes > plan.cost.minutes:
        return f"This {kind} makes the rest of the trip quicker or surer than doing without it."
    return (
        f"This {kind} costs no more time than doing without it and keeps the food fresher: "
        f"the next is {distance(stop.to_m - stop.chainage_m)} on."
    )


def _why_not_previous(
    plan: SupplyPlan,
    chosen: list[int],
    k: int,
    name_of: Callable[[int], str],
    state_of: Callable[[int, float], str],
    distance: Callable[[float], str],
) -> str | None:
    problem, candidates = plan.problem, plan.candidates
    here = chosen[k]
    first = chosen[k - 1] + 1 if k else 0
    own_row = candidates.row[here]
    earlier = [j for j in range(first, here) if candidates.row[j] != own_row]
    if not earlier:
        return None
    other = earlier[-1]
    row = int(candidates.row[other])
    back = distance(float(candidates.chainage_m[here] - candidates.chainage_m[other]))
    head = f"Not {name_of(row)}, {back} before it:"
    lost = _lost_before(plan, chosen, k, other)
    risk = int(problem.risk[other, min(lost, problem.steps - 1)])
    arrive_s = float(candidates.nominal_s(plan.clock)[other]) + lost * STEP_MIN * 60.0
    if risk == OpenState.SHUT:
        return f"{head} {state_of(row, arrive_s)} when you pass."
    swapped = path_cost(problem, [*chosen[:k], other, *chosen[k + 1 :]])
    if swapped.excess > plan.cost.excess:
        return (
            f"{head} stopping there instead means "
            f"{meal_words(swapped.excess - plan.cost.excess)} over the limit."
        )
    more_min = swapped.minutes - plan.cost.minutes
    if more_min > 0:
        return f"{head} {_doubt(plan, other, here, risk, more_min)}."
    if swapped.burden > plan.cost.burden:
        return f"{head} the food would be on board longer."
    return f"{head} it serves as well; this one was found first."


def _lost_before(plan: SupplyPlan, chosen: list[int], k: int, other: int) -> int:
    leg = plan.problem.leg_ix[other]
    return sum(int(plan.problem.stop_steps[j]) for j in chosen[:k] if plan.problem.leg_ix[j] == leg)


def _doubt(plan: SupplyPlan, other: int, here: int, risk: int, more_min: int) -> str:
    problem, candidates = plan.problem, plan.candidates
    said = []
    if candidates.full[here] and not candidates.full[other]:
        said.append("it is a small shop")
    doubt = STATES[OpenState(risk)].doubt
    if doubt:
        said.append(doubt)
    longer = int(problem.stop_steps[other] - problem.stop_steps[here]) * STEP_MIN
    if longer > 0:
        said.append(f"the stop takes {longer} min more")
    if not said:
        said.append(f"it comes out {more_min} min worse over the trip")
    return ", ".join(said)
