"""The temperature of a cooler as the menu reads it.

In: an `IcePlan`. Out: a `TempHistory`, on the careful side of what was simulated.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.common.units import S_PER_DAY
from resupply.kitchen.food.warm_time import make_history

if TYPE_CHECKING:
    from resupply.kitchen.cold.ice_plan import IcePlan
    from resupply.kitchen.food.warm_time import TempHistory

__all__ = ["AFTER_S", "history_of", "warmest"]

_WARM_C = 4.5
"""A cooler without ice counts as this warm at least: published guidance discards then."""
AFTER_S = 400 * S_PER_DAY
"""For so long past the trip the last temperature holds on: our choice."""


def history_of(plan: IcePlan, *, planning: bool = False) -> TempHistory:
    """Temperature inside a cooler as the menu reads it.

    A cooler without ice, pack or frozen food counts as warm (not in frost), and so does one that
    is too full: what does not fit lies outside. What rides beside it is as warm as the air. After
    the trip it stays as it was at its end: what is not eaten by then is no longer this plan's
    business.

    Parameters
    ----------
    planning
        The reasons then speak of all the ice that could be had, not of the ice in the plan.
    """
    trace = plan.trace
    times_s, temp_c = trace.times_s.copy(), trace.temp_c.copy()
    if plan.cooler.kind != "none":
        # In frost the air itself keeps the food; not known is no frost.
        mild = ~(trace.ambient_c <= 0.0)
        bare = (trace.store_kg <= 0.0) & mild
        bare |= trace.room_l > plan.cooler.usable_l + 1e-6
        # The very moment the last ice melts is a sample of its own: a jump, not a slope to it.
        melted = np.flatnonzero(bare[1:] & ~bare[:-1]) + 1
        times_s = np.insert(times_s, melted, times_s[melted])
        temp_c = np.insert(np.where(bare, np.maximum(temp_c, _WARM_C), temp_c), melted, 0.0)
    # Of two samples at one time the later one holds: what was put in is in.
    twins = np.flatnonzero(np.diff(times_s) <= 0.0)
    times_s[twins] -= 1e-4
    keep = np.append(np.diff(times_s) > 0.0, True)
    times_s = np.append(times_s[keep], times_s[-1] + AFTER_S)
    temp_c = np.append(temp_c[keep], temp_c[-1])
    spell = "the ice in the cooler is gone"
    if planning:
        spell = "with that food in the cooler, all the ice that fits is gone"
    if plan.cooler.kind == "none":
        return make_history(times_s, temp_c, name="the food bag")
    beside = np.append(np.diff(trace.times_s) > 0.0, True)
    air = make_history(trace.times_s[beside], trace.ambient_c[beside])
    return make_history(times_s, temp_c, spell=spell, air=air)


def warmest(one: TempHistory, other: TempHistory) -> TempHistory:
    """At each moment the warmer of two histories; not known where either is not."""
    times_s = np.union1d(one.time_s, other.time_s)
    temps = [np.interp(times_s, h.time_s, h.temp_c) for h in (one, other)]
    return make_history(times_s, np.maximum(*temps), name=one.name, spell=one.spell, air=one.air)
