"""What becomes of the shops a rider asked for: shut on arrival, or no stop at all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from resupply.pipeline import TripPlan

__all__ = ["pin_cautions"]

_MOST_NAMED = 4


def pin_cautions(plan: TripPlan, document: dict[str, Any]) -> list[str]:
    """One sentence for each pinned stop that is shut, and one for the pins that are no stops.

    Only pinned shops can be stops and shut: the plan chooses none by itself.
    """
    said = [
        f"{s['name']} is shut when you arrive, and you asked to stop there. {s['if_shut']['words']}"
        for s in document["stops"]
        if s["state"] == "shut"
    ]
    wanted, made = set(plan.trip.shops.pinned), {s["place"] for s in document["stops"]}
    missed = sorted(wanted - made)
    if missed:
        names = {p.id: p.name for p in plan.prepared.places.places if p.id in wanted}
        listed = ", ".join(names.get(key) or key for key in missed[:_MOST_NAMED])
        left = len(missed) - _MOST_NAMED
        more = f" and {left} more" if left > 0 else ""
        said.append(
            f"You asked to stop at {listed}{more}, but no food can be bought there on the way "
            "ahead: no stop is planned there."
        )
    return said
