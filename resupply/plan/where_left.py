"""Passes where their roads are: a place belongs to the kilometre from which one rides to it.

In: passes with their detours by road. Out: the same in a new order. The point of the route that is
nearest as the crow flies may be across a gorge or a river, and the road to the place kilometres
farther on. Kilometre, time, day and gaps of such a pass are then those of its road.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from resupply.passes.find import Passes
    from resupply.places.place import Supply
    from resupply.roads.detours import Detours
    from resupply.roads.match import MatchedRoute

__all__ = ["ReachedPasses", "where_left"]

_ELSEWHERE_M: Final = 2_000.0
"""Farther from its road than this a pass has another time than its road (an assumption)."""


class ReachedPasses(NamedTuple):
    """m passes in order of chainage, and what belongs to each."""

    passes: Passes
    supply: Mapping[Supply, NDArray[np.bool_]]
    detours: Detours
    by_road: NDArray[np.bool_]
    no_road: tuple[str, ...]

    def of(self, rows: NDArray[np.int64]) -> ReachedPasses:
        """Give some rows, in their order."""
        return ReachedPasses(
            self.passes.of(rows),
            {kind: mask[rows] for kind, mask in self.supply.items()},
            self.detours.of(rows),
            self.by_road[rows],
            tuple(self.no_road[row] for row in rows.tolist()),
        )


def where_left(found: ReachedPasses, matched: MatchedRoute) -> ReachedPasses:
    """Move each pass whose road leaves the route elsewhere to where that road is.

    Parameters
    ----------
    found
        Passes where they are nearest.
    matched
        The route on its roads.

    Notes
    -----
    On a way that leaves part of the route out it is the kilometre that would be ridden when the
    door is reached.
    """
    passes, ways = found.passes, found.detours
    first_m = np.minimum(ways.leave_m, ways.rejoin_m)
    last_m = np.maximum(ways.leave_m, ways.rejoin_m)
    off_m = np.maximum(first_m - passes.chainage_m, passes.chainage_m - last_m)
    moved = found.by_road & (off_m > _ELSEWHERE_M)
    if not moved.any():
        return found
    leave_s = np.interp(ways.leave_m, matched.chainage_m, matched.ride_s)
    at_door_m = np.interp(leave_s + ways.out_s, matched.ride_s, matched.chainage_m)
    reached_m = np.clip(at_door_m, ways.leave_m, np.maximum(ways.leave_m, ways.rejoin_m))
    chainage_m = np.where(moved, reached_m, passes.chainage_m)
    order = np.lexsort((passes.place_ix, chainage_m))
    passes = replace(passes, chainage_m=chainage_m)
    return ReachedPasses(passes, found.supply, ways, found.by_road, found.no_road).of(order)
