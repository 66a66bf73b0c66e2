"""Where food can be bought along the route, and what a shop is good for.

Solvers, fallbacks and comparisons all ask of these passes; the judge tells what stopping at one
rests on.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Final, NamedTuple, Protocol

import numpy as np

from resupply.supply.within_days import within_days

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.clock import RideClock

__all__ = [
    "MEALS_OF_FULL",
    "MEALS_OF_SMALL",
    "MEALS_OF_SPECIALIST",
    "Candidates",
    "Judge",
    "Judged",
    "sells_meals",
]

MEALS_OF_FULL: Final = 1_000
"""A full shop has food for as long as anybody carries it."""
MEALS_OF_SMALL: Final = 3
"""A small shop (filling station, farm shop, …) has food for a day (common practice, no source)."""
MEALS_OF_SPECIALIST: Final = 1
"""A shop of one kind of food, as a bakery, makes a meal (common practice, no source)."""


class Judged(NamedTuple):
    """What visits rest on; both in the broadcast shape of what was asked."""

    state: NDArray[np.int8]
    """Codes of `OpenState`."""
    open_share: NDArray[np.float64]
    """Share of each window in which the door is open; worked out for TIGHT visits, else 1."""


class Judge(Protocol):
    """What a stop rests on at given arrivals."""

    def __call__(
        self,
        rows: NDArray[np.int64],
        arrive_s: NDArray[np.float64],
        half_width_s: NDArray[np.float64],
        stay_s: NDArray[np.float64],
    ) -> Judged:
        """States; all arguments broadcast to one shape, rows are pass rows."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """n passes at which food can be bought, in order of chainage."""

    row: NDArray[np.int64]
    """(n,) row of the pass."""
    place_ix: NDArray[np.int64]
    """(n,) which place it is; a place may be passed more than once."""
    chainage_m: NDArray[np.float64]
    """(n,) where the route is left for it, non-decreasing."""
    pass_m: NDArray[np.float64]
    """(n,) chainage at which it is nearest."""
    rejoin_m: NDArray[np.float64]
    """(n,) where the route is joined again."""
    full: NDArray[np.bool_]
    """(n,) a full shop."""
    sells_meals: NDArray[np.int64]
    """(n,) for how many meals a person it has food: `MEALS_OF_FULL`, or what a small one has."""
    detour_s: NDArray[np.float64]
    """(n,) riding time more than by the route alone."""
    out_s: NDArray[np.float64]
    """(n,) riding time from where the route is left to the door."""
    stop_min: NDArray[np.int64]
    """(n,) time in the shop, minutes."""
    special: NDArray[np.bool_]
    """(n,) a bakery, a kiosk, a filling station: a treat or an emergency, no shop for two days."""
    ice: NDArray[np.bool_]
    """(n,) ice is sold within a short walk; see `resupply.supply.spots`."""
    pump: NDArray[np.bool_]
    """(n,) the tank can be filled within a short walk."""
    pinned: NDArray[np.bool_]
    """(n,) the rider wants to stop there, unless it is shut whenever it can be reached."""

    def nominal_s(self, clock: RideClock) -> NDArray[np.float64]:
        """(n,) UTC epoch at each shop's door, if no other stop is made."""
        return clock.nominal_s(self.chainage_m) + self.out_s

    def within_days(self, clock: RideClock) -> Candidates:
        """Candidates whose ways keep to the day of the pass; see `resupply.supply.within_days`."""
        ways = within_days(clock, self.pass_m, self.chainage_m, self.rejoin_m)
        if not (ways.more_s.any() or ways.more_out_s.any()):
            return self
        own = replace(
            self,
            chainage_m=ways.leave_m,
            rejoin_m=ways.leave_m,
            detour_s=self.detour_s + ways.more_s,
            out_s=self.out_s + ways.more_out_s,
        )
        order = np.argsort(ways.leave_m, kind="stable")
        columns = {field.name: getattr(own, field.name)[order] for field in fields(own)}
        return Candidates(**columns)


def sells_meals(full: NDArray[np.bool_], special: NDArray[np.bool_]) -> NDArray[np.int64]:
    """For how many meals a person each shop has food, full, of one kind of food, or small."""
    small = np.where(special, MEALS_OF_SPECIALIST, MEALS_OF_SMALL)
    return np.where(full, MEALS_OF_FULL, small).astype(np.int64)
