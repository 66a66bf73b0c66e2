"""How long food has been warm, from a temperature history.

In: times and temperatures, joined by straight lines; a gap in the record is unknown, and unknown
counts as the worst case. Out: the moment at which an allowance of warm time is used up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["TempHistory", "WarmClock", "WarmEnd", "make_history", "start_clock"]

# A cooler held at the limit by melting ice must not count as warm for the last bit of a float.
_TOLERANCE_C = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class TempHistory:
    """Temperature where the food is. Arrays read-only."""

    time_s: NDArray[np.float64]
    """(n,) UTC epoch, strictly increasing, n >= 1."""
    temp_c: NDArray[np.float64]
    """(n,) °C at each time, straight lines between; NaN is not known."""
    name: str = "the cooler"
    """What is measured, as said in sentences."""
    spell: str = ""
    """What a warm moment means there, e.g. "no ice is left"; empty: it passes the limit."""
    air: TempHistory | None = None
    """Of what rides beside it, uncooled; None: the same."""


@dataclass(frozen=True, slots=True)
class WarmEnd:
    """When an allowance of warm time is used up."""

    deadline_s: float
    """UTC epoch; food is still good at this very moment. inf if never."""
    warm_from_s: float
    """First warm (or unknown) moment on or after the start; inf if none."""
    unknown: bool
    """Whether unknown temperature was counted before the deadline."""
    hot: bool
    """Whether the shorter allowance applied."""


@dataclass(frozen=True, slots=True, eq=False)
class WarmClock:
    """Warm seconds added up along a history, for one pair of thresholds."""

    knots_s: NDArray[np.float64]
    """(k,) UTC epoch, increasing; each interval is wholly warm or wholly not."""
    warm: NDArray[np.bool_]
    """(k-1,) above the threshold, or unknown."""
    hot: NDArray[np.bool_]
    """(k-1,) above the hot threshold, or unknown."""
    unknown: NDArray[np.bool_]
    """(k-1,)"""
    used_s: NDArray[np.float64]
    """(k,) warm seconds up to each knot."""

    def first_warm_s(self, start_s: float) -> float:
        """First moment on or after `start_s` that is warm or unknown; inf if none."""
        return self._first(self.warm, start_s)

    def run_out(self, start_s: float, limit_s: float, hot_limit_s: float) -> WarmEnd:
        """Find when food that is cold at `start_s` has been warm too long.

        Once any moment was hot the shorter allowance holds for all warm time: published rules
        give two cases and no mixture, so the stricter one is taken.
        """
        start_used = float(np.interp(start_s, self.knots_s, self.used_s))
        usual_s = self._reach(start_used + limit_s)
        hot_from_s = self._first(self.hot, start_s)
        hot_s = max(hot_from_s, self._reach(start_used + hot_limit_s))
        deadline_s = min(usual_s, hot_s)
        unknown_from_s = self._first(self.unknown, start_s)
        return WarmEnd(
            deadline_s=deadline_s,
            warm_from_s=self.first_warm_s(start_s),
            unknown=unknown_from_s < deadline_s,
            hot=hot_s < usual_s,
        )

    def _first(self, flags: NDArray[np.bool_], start_s: float) -> float:
        later = flags & (self.knots_s[1:] > start_s)
        if not later.any():
            return np.inf
        return max(float(self.knots_s[int(np.argmax(later))]), start_s)

    def _reach(self, used_s: float) -> float:
        """Last moment at which no more than `used_s` warm seconds are used."""
        after = int(np.searchsorted(self.used_s, used_s, side="right"))
        if after == self.used_s.size:
            return np.inf
        return float(self.knots_s[after - 1] + used_s - self.used_s[after - 1])


def make_history(
    time_s: ArrayLike,
    temp_c: ArrayLike,
    *,
    name: str = "the cooler",
    spell: str = "",
    air: TempHistory | None = None,
) -> TempHistory:
    """Check and freeze a history.

    Parameters
    ----------
    time_s
        (n,) UTC epoch, strictly increasing, n >= 1.
    temp_c
        (n,) °C; NaN where it is not known.

    Raises
    ------
    ValueError
        The shapes differ, or the times do not increase.
    """
    times = np.array(time_s, float)
    temps = np.array(temp_c, float)
    if times.ndim != 1 or times.size == 0 or times.shape != temps.shape:
        raise ValueError("time_s and temp_c must be equally long, and not empty")
    if not np.isfinite(times).all() or (np.diff(times) <= 0.0).any():
        raise ValueError("time_s must be finite and strictly increasing")
    times.flags.writeable = temps.flags.writeable = False
    return TempHistory(times, temps, name, spell, air)


def start_clock(history: TempHistory | None, *, above_c: float, hot_c: float) -> WarmClock:
    """Add up warm time along a history.

    Parameters
    ----------
    history
        None where nothing is known: all time is unknown.
    above_c, hot_c
        Thresholds; a moment is warm above the first, hot above the second.
    """
    if history is None:
        knots = np.array([-1e11, 1e11])
        every = np.ones(1, bool)
        return WarmClock(knots, every, every, every, np.array([0.0, 2e11]))
    warm_c, hotter_c = above_c + _TOLERANCE_C, hot_c + _TOLERANCE_C
    time_s, temp_c = history.time_s, history.temp_c
    crossings = [_crossings(time_s, temp_c, level) for level in (warm_c, hotter_c)]
    inner = np.unique(np.concatenate([time_s, *crossings]))
    # Before and after the record nothing is known.
    knots = np.concatenate([[-1e11], inner, [1e11]])
    middle_c = np.interp((inner[:-1] + inner[1:]) / 2.0, time_s, temp_c)
    unknown = np.concatenate([[True], np.isnan(middle_c), [True]])
    warm = unknown | np.concatenate([[True], middle_c > warm_c, [True]])
    hot = unknown | np.concatenate([[True], middle_c > hotter_c, [True]])
    used = np.concatenate([[0.0], np.cumsum(np.where(warm, np.diff(knots), 0.0))])
    # Counting from the record's start keeps whole seconds exact in a float.
    used -= used[1]
    return WarmClock(knots, warm, hot, unknown, used)


def _crossings(
    time_s: NDArray[np.float64], temp_c: NDArray[np.float64], level_c: float
) -> NDArray[np.float64]:
    above = temp_c - level_c
    cut = np.flatnonzero(above[:-1] * above[1:] < 0.0)
    share = above[cut] / (above[cut] - above[cut + 1])
    return np.asarray(time_s[cut] + share * (time_s[cut + 1] - time_s[cut]))
