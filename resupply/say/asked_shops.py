"""What becomes of the shops a rider asked for or crossed out: none may be lost in silence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.quantity import line

if TYPE_CHECKING:
    from resupply.common.quantity import Part
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words

__all__ = ["pin_cautions"]

_MOST_NAMED = 4
"""Our choice: more cautions of one kind hide the others."""


def pin_cautions(plan: TripPlan, words: Words) -> list[Part]:
    """One sentence for each pinned shop that is shut, and one for those that are not ahead.

    And one for places that are called gone and that the map does not have.
    """
    asked = plan.supply.candidates
    made = {words.place(stop.row).id for stop in plan.supply.stops}
    # The solver leaves out a wish only where its door is shut.
    shut = [row for row in asked.row[asked.pinned].tolist() if words.place(row).id not in made]
    said: list[Part] = [
        line(
            "You asked to stop at {shop} ({there}), which is shut when you pass ({hours}): no stop "
            "is planned there, and the food is planned without it.",
            shop=words.named(row),
            there=words.at_pass(row),
            hours=words.hours(row, float(plan.arrive_s[row])).words,
        )
        for row in shut[:_MOST_NAMED]
    ]
    if len(shut) > _MOST_NAMED:
        said.append(f"{len(shut) - _MOST_NAMED} more shops you asked for are shut when you pass.")
    wanted = set(plan.trip.shops.pinned)
    missed = sorted(wanted - made - {words.place(row).id for row in shut})
    if missed:
        names = {p.id: p.name for p in plan.prepared.places.places if p.id in wanted}
        listed = ", ".join(names.get(key) or key for key in missed[:_MOST_NAMED])
        left = len(missed) - _MOST_NAMED
        more = f" and {left} more" if left > 0 else ""
        said.append(
            f"You asked to stop at {listed}{more}, but no food can be bought there on the way "
            "ahead, or no road there is known: no stop is planned there."
        )
    strange = sorted(set(plan.trip.shops.gone) - {p.id for p in plan.prepared.places.places})
    if strange:
        left = len(strange) - _MOST_NAMED
        more = f" and {left} more" if left > 0 else ""
        said.append(
            f"You said that {', '.join(strange[:_MOST_NAMED])}{more} is gone, but no place near "
            "the route has that map id: nothing is left out for it."
        )
    return said
