"""The plans for the way, each made by the same planner from what was read once.

In: a `Plan`. Out: a `Pocket` for its page. Bounded by a number of plans, never by the clock: the
same trip has the same plans on board on every machine.
"""

from __future__ import annotations

import signal
import sys
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any

from resupply.common.errors import ResupplyError
from resupply.plan.pocket import kept_changes, pocket_changes
from resupply.report.document.model.as_json import to_dict
from resupply.report.pocket import Packed, Pocket, PocketPacker

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.api.plan_object import Plan
    from resupply.common.progress import Progress
    from resupply.plan.pocket import PocketChange
    from resupply.report.document.model.plan import PlanDocument

__all__ = ["changed", "changes_of", "pocket_of"]


def pocket_of(plan: Plan, progress: Progress, *, processes: int = 1) -> Pocket:
    """Plan and pack what may be needed on the way, as far as there is room for it.

    Parameters
    ----------
    processes
        How many plan at once; where processes cannot be forked safely one does it all. The
        result is the same.
    """
    kept, over = kept_changes(changes_of(plan))
    packer = PocketPacker(to_dict(plan.document))
    failed: list[PocketChange] = []
    made = _made(plan, packer, kept, processes)
    for number, change in enumerate(kept, 1):
        progress(f"Plans for the way, {number} of {len(kept)}", (number - 1) / len(kept))
        told = next(made)
        if told is None:
            failed.append(change)
        else:
            packer.add(change, *told)
    return packer.packed((*over, *failed))


def _made(
    plan: Plan, packer: PocketPacker, kept: Sequence[PocketChange], processes: int
) -> Iterator[tuple[dict[str, Any], Packed] | None]:
    """Give each plan packed, in order; None for one that cannot be made."""
    done = 0
    # Elsewhere a fork may stop in a library of the system.
    if processes > 1 and sys.platform == "linux":
        with (
            suppress(BrokenProcessPool),  # killed, for want of memory: the rest is made here
            ProcessPoolExecutor(
                processes,
                mp_context=get_context("fork"),
                initializer=_begin,
                initargs=(plan, packer),
            ) as pool,
        ):
            for told in pool.map(_packed_there, kept):
                yield told
                done += 1
    for change in kept[done:]:
        yield _packed(plan, packer, change)


def _packed(
    plan: Plan, packer: PocketPacker, change: PocketChange
) -> tuple[dict[str, Any], Packed] | None:
    try:
        return packer.pack(to_dict(changed(plan, change).pocket_document()))
    except ResupplyError:
        # Such a trip cannot be planned: the page says that this plan is not on board.
        return None


_here: list[tuple[Plan, PocketPacker]] = []
"""What a forked process works on: inherited, never sent."""


def _begin(plan: Plan, packer: PocketPacker) -> None:
    # Who stops the command stops its first process, and that one the others.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _here[:] = [(plan, packer)]


def _packed_there(change: PocketChange) -> tuple[dict[str, Any], Packed] | None:
    ((plan, packer),) = _here
    return _packed(plan, packer, change)


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
