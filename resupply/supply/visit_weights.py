"""What a rider gives for what, in minutes: the weights of the choice of visits.

All are ours: estimates, fitted so that the plans of ten trips read like a rider's own. Each is a
key of the trip file's `[choice]`, each chance one of `[chances]`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.hours.state import OpenState

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["STYLES", "Chances", "VisitWeights"]

STYLES: Final = {"fresh": 1.6, "balanced": 1.0, "few": 0.1}
"""Factor on carrying, freshness and the habit's charge: the styles' only difference, so that their
order can be proved."""


@dataclass(frozen=True, slots=True)
class Chances:
    """Chance that a door is shut, by what is known of it."""

    open: float = 0.02
    """Stated hours may be old."""
    unless_holiday: float = 0.05
    """Ten to fifteen public holidays a year, and riders ride on them."""
    usually_open: float = 0.06
    unknown: float = 0.3
    usually_shut: float = 0.8

    def shut(self, state: NDArray[np.int8], open_share: NDArray[np.float64]) -> NDArray[np.float64]:
        """Chance that each door is shut.

        Parameters
        ----------
        state
            Codes of `OpenState`.
        open_share
            Same shape; the share of the visit's window in which a TIGHT door is open.
        """
        by_code = np.ones(len(OpenState))
        by_code[OpenState.OPEN] = self.open
        by_code[OpenState.UNLESS_HOLIDAY] = self.unless_holiday
        by_code[OpenState.USUALLY_OPEN] = self.usually_open
        by_code[OpenState.UNKNOWN] = self.unknown
        by_code[OpenState.USUALLY_SHUT] = self.usually_shut
        tight = np.maximum(1.0 - open_share, self.open)
        return np.asarray(np.where(state == OpenState.TIGHT, tight, by_code[state]))


@dataclass(frozen=True, slots=True)
class VisitWeights:
    """Minutes, but where said; see the trip file's `[choice]`."""

    second_min: float = 10.0
    """One more shop on a day's road on which the rider has shopped already."""
    far_min: float = 10.0
    """A way of more minutes than this, there and back, is for when it must be."""
    far_factor: float = 3.0
    """Each minute beyond that counts so many times."""
    small_min: float = 15.0
    """A small shop has less to choose from."""
    small_meals: int = 3
    """Meals a small shop is good for."""
    small_over_min: float = 10.0
    """The first meal more; the second counts twice as much, and so on."""
    special_min: float = 30.0
    """A bakery, a kiosk or a filling station is a treat or an emergency."""
    special_meals: int = 1
    special_over_min: float = 20.0
    no_ice_min: float = 10.0
    """With a cooler on board: food where no ice is sold."""
    pump_min: float = 3.0
    """Taken off where fuel is sold at the same spot, if the tank is planned."""
    door_min: float = 20.0
    """Finding a door shut."""
    no_fallback_min: float = 90.0
    """A shut door with no other shop that day: the reserve is eaten."""
    doubt_min: float = 60.0
    """On top, for a door more likely shut than open."""
    late_min_per_min: float = 2.0
    """Each minute in camp after the latest time."""
    carry_min: float = 1.0
    """A meal on board for an hour of riding day."""
    camp_share: float = 0.2
    """An hour in camp is so much of one on the road: food ages there, nobody carries it."""
    convex_meals: int = 6
    """Meals above so many weigh more with each one."""
    habit_min: float = 15.0
    """Each meal of the largest load over the habit."""
    fresh_min: float = 25.0
    """A dinner cooked from food bought late, near camp."""
    fresh_road_h: tuple[float, float] = (1.0, 3.0)
    """Bought within so many riding hours before camp it is worth all of that; from so many on,
    nothing."""
    fresh_h: tuple[float, float] = (7.0, 10.0)
    """The same by hours before dinner."""
    evening_way_min: float = 10.0
    """Riders go back to the saddle in camp for a shop so near, one way."""
