"""How fast food ages uncooled, by temperature.

In: a temperature history. Out: the moment at which so many days at room temperature are used up.
A day at 20 °C or below is a day; a day at 30 °C counts two, one at 40 °C three, as fresh produce
decays (USDA Agriculture Handbook 66: relative rates 7.5, 15 and 22.5 at 20, 30 and 40 °C). For
bread, cheese, butter and eggs nothing is published for such heat; that they age alike is ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.units import S_PER_DAY
from resupply.kitchen.food.warm_time import make_history

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.kitchen.food.warm_time import TempHistory

__all__ = ["RoomClock", "as_if_hot", "start_room_clock"]

_MILD_C = 20.0
"""The published rates begin here: one day's worth a day; below it we count no less."""
_TWICE_AFTER_K = 10.0
"""By the published rates: two days' worth a day at 30 °C, three at 40."""
_UNKNOWN_C = 30.0
"""Where the heat is not known it counts as a hot day (our choice): half of the days."""
_EVER_S = 1e11
"""Before and after any record."""


@dataclass(frozen=True, slots=True, eq=False)
class RoomClock:
    """Days of age along a history; the rate is a straight line between knots."""

    knots_s: NDArray[np.float64]
    """(k,) UTC epoch, increasing."""
    rate: NDArray[np.float64]
    """(k,) seconds of age a second, at least 1."""
    age_s: NDArray[np.float64]
    """(k,) age up to each knot."""

    def deadline_s(self, start_s: float, days: float) -> float:
        """When food has aged by so many days since the start, UTC epoch."""
        at = self._interval(start_s)
        since_s = start_s - float(self.knots_s[at])
        slope = self._slope(at)
        begun_s = float(self.age_s[at] + self.rate[at] * since_s + slope * since_s**2 / 2.0)
        end_s = begun_s + days * S_PER_DAY
        last = max(int(np.searchsorted(self.age_s, end_s, side="right")) - 1, at)
        last = min(last, self.knots_s.size - 2)
        left_s, slope, rate = end_s - float(self.age_s[last]), self._slope(last), self.rate[last]
        # Age grows by rate · t + slope · t² / 2 within the interval; the stable form of its root.
        root = np.sqrt(max(rate**2 + 2.0 * slope * left_s, 0.0))
        return float(self.knots_s[last] + 2.0 * left_s / (rate + root))

    def _interval(self, at_s: float) -> int:
        found = int(np.searchsorted(self.knots_s, at_s, side="right")) - 1
        return min(max(found, 0), self.knots_s.size - 2)

    def _slope(self, at: int) -> float:
        return float(
            (self.rate[at + 1] - self.rate[at]) / (self.knots_s[at + 1] - self.knots_s[at])
        )


def as_if_hot(history: TempHistory | None) -> TempHistory:
    """Fill what is not known of a history, before and after it too, with a hot day's heat."""
    if history is None:
        return make_history([-_EVER_S, _EVER_S], [_UNKNOWN_C, _UNKNOWN_C])
    temp_c = np.where(np.isnan(history.temp_c), _UNKNOWN_C, history.temp_c)
    first_s, last_s = float(history.time_s[0]), float(history.time_s[-1])
    # A second for the step: the record holds to its very ends.
    times_s = np.concatenate([[-_EVER_S, first_s - 1.0], history.time_s, [last_s + 1.0, _EVER_S]])
    hot = [_UNKNOWN_C, _UNKNOWN_C]
    return make_history(times_s, np.concatenate([hot, temp_c, hot]), name=history.name)


def start_room_clock(history: TempHistory | None) -> RoomClock:
    """Add up age along a history; None where nothing is known."""
    filled = as_if_hot(history)
    time_s, above_k = filled.time_s, filled.temp_c - _MILD_C
    cut = np.flatnonzero(above_k[:-1] * above_k[1:] < 0.0)
    share = above_k[cut] / (above_k[cut] - above_k[cut + 1])
    knots_s = np.union1d(time_s, time_s[cut] + share * (time_s[cut + 1] - time_s[cut]))
    rate = 1.0 + np.maximum(np.interp(knots_s, time_s, above_k), 0.0) / _TWICE_AFTER_K
    age_s = np.concatenate([[0.0], np.cumsum(np.diff(knots_s) * (rate[1:] + rate[:-1]) / 2.0)])
    # Counted from the record's start, so that whole seconds stay exact in a float.
    return RoomClock(knots_s, rate, age_s - age_s[1])
