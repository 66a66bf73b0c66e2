"""The plans for the way, each made by the same planner from what was read once.

In: a `Plan`. Out: a `Pocket` for its page. Bounded by a number of plans, never by the clock: the
same trip has the same plans on board on every machine.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common.errors import ResupplyError
from resupply.plan.pocket import kept_changes, pocket_changes
from resupply.report.document.model.as_json import to_dict
from resupply.report.pocket import Pocket, PocketPacker

if TYPE_CHECKING:
    from collections.abc import Iterator

    from resupply.api.plan_object import Plan
    from resupply.common.progress import Progress
    from resupply.plan.pocket import PocketChange
    from resupply.report.document.model.plan import PlanDocument

__all__ = ["changed", "changes_of", "pocket_of"]


def pocket_of(plan: Plan, progress: Progress) -> Pocket:
    """Plan and pack what may be needed on the way, as far as there is room for it."""
    kept, over = kept_changes(changes_of(plan))
    packer = PocketPacker(to_dict(plan.document))
    failed: list[PocketChange] = []
    for number, change in enumerate(kept, 1):
        progress(f"Plans for the way, {number} of {len(kept)}", (number - 1) / len(kept))
        try:
            other = changed(plan, change).pocket_document()
        except ResupplyError:
            # Such a trip cannot be planned: the page says that this plan is not on board.
            failed.append(change)
            continue
        packer.add(change, to_dict(other))
    return packer.packed((*over, *failed))


def changes_of(plan: Plan) -> tuple[PocketChange, ...]:
    """Everything that may change on the way, the most needed first."""
    return pocket_changes(plan.trip_plan, _likely_ice(plan.document))


def changed(plan: Plan, change: PocketChange) -> Plan:
    """Make the plan for a change; dishes stay where they may."""
    return plan.replan(settings=change.settings, keep_dishes=True)


def _likely_ice(document: PlanDocument) -> Iterator[str]:
    place_of = {row.id: row.place for row in document.passes}
    for stop in document.ice.stops:
        if stop.buy and stop.confidence != "stated":
            yield place_of[stop.pass_id]
