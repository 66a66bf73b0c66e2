"""Plain sentences for the menu: why this dish, why none, what the heat moved.

In: the values the menu was planned from. Out: sentences.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from resupply.common.quantity import joined, line, listed, moment, name, weekday
from resupply.kitchen.food.fits import minutes_limit
from resupply.kitchen.food.meals import Cause, Fit
from resupply.kitchen.food.storage import Limit

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.common.quantity import Part, Said, Sentence
    from resupply.kitchen.food.dishes import Dish
    from resupply.kitchen.food.meals import Bought, MealSlot, MenuInput, Misfit

__all__ = [
    "say_choice",
    "say_empty",
    "say_meal",
    "say_move",
    "say_moved_from",
    "say_moved_to",
    "told_first",
]

# How each cause is told when nothing fits; the order in which they are told.
_EMPTY = {
    Cause.COOKING: "need cooking",
    Cause.FIRE: "need a fire",
    Cause.TIME: "take too long",
    Cause.WARM: "would have been warm too long",
    Cause.UNKNOWN: "may have been warm too long: the temperature is not known",
    Cause.ICE: "would need more ice than they are worth",
    Cause.DAYS: "would be past their days",
    Cause.SHOP: "have an ingredient that no shop before it sells",
    Cause.DIET: "do not suit the diet",
    Cause.ALLERGEN: "contain an allergen to avoid",
    Cause.LEFT_OUT: "are left out",
    Cause.LEFTOVER: "need leftovers that there are not",
}


def say_meal(slot: MealSlot) -> str:
    """Name a meal, e.g. `Sunday dinner`."""
    return f"{weekday(slot.when)} {slot.kind}"


def told_first(fit: Fit) -> Bought | None:
    """Pick the ingredient whose time is told: what must be kept cold before bread and fruit."""
    cold = Fit(tuple(b for b in fit.bought if b.use_by.limit is not Limit.ROOM))
    return cold.first or fit.first


def say_choice(
    dish: Dish,
    slot: MealSlot,
    fit: Fit,
    *,
    given: MenuInput,
    misfits: Mapping[str, Misfit],
    eaten_before: MealSlot | None,
) -> Sentence:
    """Say why a dish was given to a meal."""
    cookbook = given.cookbook
    said: list[Part] = []
    first = told_first(fit)
    if dish.leftover_of is not None:
        maker = cookbook.dishes[dish.leftover_of]
        made = name(maker.name)
        said.append(line("Uses up what was made with {dish} the meal before.", dish=made))
    if first is not None and first.use_by.when is not None:
        said.append(
            line(
                "{food}: eat by {when}; {why}.",
                food=name(cookbook.ingredients[first.ingredient].name),
                when=moment(first.use_by.when, slot.when),
                why=first.use_by.why,
            )
        )
    else:
        said.append("Dry and tinned food, which keeps: it comes after the fresh food.")
    unknown = next((m for m in misfits.values() if m.cause is Cause.UNKNOWN), None)
    lasting = all(b.use_by.limit in (Limit.NONE, Limit.ROOM) for b in fit.bought)
    if unknown is not None and lasting:
        said.append(line("Nothing that needs cold, because {spell}.", spell=unknown.spell))
    limit = minutes_limit(slot, given.cooking)
    if slot.no_cook:
        said.append("No cooking that day.")
    elif slot.late and limit is not None:
        said.append(f"Late arrival: {dish.minutes} of at most {limit} minutes.")
    if slot.at_once and any(b.use_by.limit is Limit.WARM for b in fit.bought):
        said.append("Without a cooler it is cooked on arrival, soon after the shop.")
    labels = [a for a in cookbook.label_decides(dish) if a in given.diet.avoid]
    if labels:
        foods = [p.name for p in cookbook.parts(dish) if set(labels) & set(p.may_contain)]
        said.append(
            line(
                "Read the labels of {foods}: some makes contain {allergens}.",
                foods=listed(map(name, dict.fromkeys(foods)), "; "),
                allergens=", ".join(labels),
            )
        )
    if fit.doubtful:
        names = [cookbook.ingredients[b.ingredient].name for b in fit.bought if b.doubtful]
        said.append(
            line("The small shop may not have: {foods}.", foods=listed(map(name, names), "; "))
        )
    if eaten_before is not None:
        said.append(f"Again after {say_meal(eaten_before)}: no other dish fits as well.")
    return joined(*said)


def say_empty(slot: MealSlot, misfits: Mapping[str, Misfit], *, n_fits: int) -> Sentence:
    """Say why a meal has no dish."""
    if n_fits:
        return line(
            "No dish for {meal}: what would fit is tied to leftovers of another meal. Plan a meal "
            "out or eat one that is spare.",
            meal=say_meal(slot),
        )
    counts = Counter(misfit.cause for misfit in misfits.values())
    told = [f"{counts[cause]} {words}" for cause, words in _EMPTY.items() if counts[cause]]
    return line(
        "No dish fits {meal}: {why}. Plan a meal out or eat one that is spare.",
        meal=say_meal(slot),
        why="; ".join(told) or f"there is no dish for {slot.kind}",
    )


def say_move(dish: Dish, slot: MealSlot, to: MealSlot | None, misfit: Misfit) -> Sentence:
    """Say where the heat moved a dish."""
    where = f"left out on {say_meal(slot)}"
    if to is not None:
        where = f"moved from {say_meal(slot)} to {say_meal(to)}"
    return line("{dish} {where}: {why}.", dish=name(dish.name), where=where, why=misfit.why)


def say_moved_from(dish: Dish, because: Said) -> Sentence:
    """Say at a meal what would have been eaten there without the heat."""
    return line("Not {dish}: {because}.", dish=name(dish.name), because=because)


def say_moved_to(slot: MealSlot) -> str:
    """Say at a meal where its dish comes from."""
    return f"Moved here from {say_meal(slot)}."
