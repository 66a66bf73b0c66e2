"""Ways to shops that keep to the day on which the shop is passed.

In: where the route is passed, left and joined again, and the days. Out: the same ways without a
night on them. Roads know no days: the best road to a shop near a camp may leave the route on one
side of the night and come back on the other. A rider sleeps in camp, so such a way is ridden on
the day of the pass, from the camp and back to it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from resupply.route.clock import RideClock

    Floats = NDArray[np.float64]

__all__ = ["DayWays", "within_days"]

_MORNING_M = 1.0
"""A day's end belongs to that day, so the next morning begins just after it."""


class DayWays(NamedTuple):
    """n ways, each within the day of its pass."""

    leave_m: Floats
    """(n,) chainage at which the route is left."""
    more_out_s: Floats
    """(n,) riding seconds more to the door than from the place where the road leaves."""
    more_s: Floats
    """(n,) riding seconds more there and back."""
    more_m: Floats
    """(n,) metres more there and back."""


def within_days(clock: RideClock, pass_m: Floats, leave_m: Floats, rejoin_m: Floats) -> DayWays:
    """Keep each way within the day on which its place is passed.

    Parameters
    ----------
    pass_m, leave_m, rejoin_m
        (n,) chainages, metres: where the place is nearest, and where its road leaves the route
        and joins it again.

    Notes
    -----
    The way is longer by what is ridden along the route to its road and back, less what of it the
    trip rides anyway: a road past camp is ridden to in the morning too, so only coming back to
    camp and riding out again is more.
    """
    day = clock.leg_ix(pass_m)
    first_m = np.concatenate([[-np.inf], clock.ends_m[:-1] + _MORNING_M])[day]
    last_m = np.concatenate([clock.ends_m[:-1], [np.inf]])[day]
    ride = clock.legs[0].ride_time

    left_m, joined_m = np.clip(leave_m, first_m, last_m), np.clip(rejoin_m, first_m, last_m)

    def more(at: Callable[[Floats], Floats]) -> Floats:
        back_to_road = np.maximum(at(left_m) - at(leave_m), 0.0)
        return 2.0 * (back_to_road + np.maximum(at(rejoin_m) - at(joined_m), 0.0))

    out_s = np.abs(ride.at(leave_m) - ride.at(left_m))
    return DayWays(left_m, out_s, more(ride.at), more(np.asarray))
