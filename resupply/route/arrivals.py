"""When a rider is where on a day, as a table that can be read without planning.

In: a clock. Out: for each leg, chainages and times between which a straight line will do. The
page reads it on the road, where nothing can be planned.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.route.legs import Leg

__all__ = ["Arrivals", "arrivals_of"]

_EVERY_M: Final = 5_000.0
"""Between rows: our choice; over 5 km no road is so uneven that a minute matters."""
_BESIDE_M: Final = 0.5
"""Just before a halt and just after it: less than the whole metres that are told."""


@dataclass(frozen=True, slots=True, eq=False)
class Arrivals:
    """Times along one leg; k rows. A halt stands twice: when it begins and when it ends."""

    chainage_m: NDArray[np.float64]
    """(k,) never falling, from the leg's start to its end."""
    arrive_s: NDArray[np.float64]
    """(k,) UTC epoch seconds."""
    half_width_s: NDArray[np.float64]
    """(k,) how far off each may be, seconds either way."""


def arrivals_of(clock: RideClock, leg: Leg) -> Arrivals:
    """Make the table of a leg, with its stops, rests and crossings."""
    halts_m = [*clock.stop_m.tolist(), *(at_m for at_m, _ in leg.ride_time.crossings)]
    halts_m += _rests_m(leg)
    halts = np.array([at_m for at_m in halts_m if leg.start_m < at_m < leg.end_m])
    count = max(int(np.ceil(leg.length_m / _EVERY_M)), 1)
    even = np.linspace(leg.start_m, leg.end_m, count + 1)
    at_m = np.concatenate([even, halts - _BESIDE_M, halts + _BESIDE_M])
    told_m = np.concatenate([even, halts, halts])
    # At a day's start the day before ends, so that the first row is the departure itself.
    at_m[0] = np.nextafter(leg.start_m, leg.end_m)
    order = np.argsort(at_m, kind="stable")
    at_m = at_m[order]
    arrive_s = np.maximum.accumulate(clock.arrive_s(at_m))
    return Arrivals(np.sort(told_m), arrive_s, clock.half_width_s(at_m, arrive_s))


def _rests_m(leg: Leg) -> list[float]:
    """Chainages of the rests of a leg."""
    if leg.rest_every_s <= 0.0 or leg.rest_s <= 0.0:
        return []
    ridden_s = leg.ride_time.at(leg.start_m)
    at_s = np.arange(leg.rest_every_s, leg.ride_s, leg.rest_every_s) + ridden_s
    at_m = np.interp(at_s, leg.ride_time.ride_s, leg.ride_time.chainage_m)
    return [float(one) for one in at_m]
