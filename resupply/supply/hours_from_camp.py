"""When a rider in camp may leave it to shop: evenings, days of rest, and where one waits now.

In: the clock. Out: UTC epochs to try, for each camp and turn.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from numpy.typing import NDArray

    from resupply.route.clock import RideClock

    Floats = NDArray[np.float64]

__all__ = ["SETTLE_S", "camps_of"]

_LATEST_OUT: Final = dt.time(18, 15)
"""Food for dinner is back in camp before the pot is on (ours)."""
SETTLE_S: Final = 900.0
"""Nobody rides off again at once (ours)."""
_STILL_OUT_S: Final = 2400.0
"""After a late arrival one more ride is begun within so long (ours)."""
_REST_DAY: Final = (dt.time(10, 0), dt.time(18, 30))
"""When a rider who rests goes shopping (ours)."""
_LATEST_NOW: Final = dt.time(20, 0)
"""A rider in camp who asks before then still rides out this evening (ours)."""
_OUT_STEP_S: Final = 900.0
"""Hours to leave camp are tried so far apart (our choice)."""


def camps_of(
    clock: RideClock, shop_free_days: Collection[int]
) -> Iterator[tuple[int, float, Sequence[tuple[int, Floats]]]]:
    """Each camp: the leg that it belongs to, its chainage, and when a rider may leave it to shop.

    A turn below 0 is before the leg's ride, in the camp where the rider is; above 0 after it.
    """
    waiting = _hours_waiting(clock, shop_free_days)
    yield 0, clock.legs[0].start_m, [(k - len(waiting), span) for k, span in enumerate(waiting)]
    for leg_ix, leg in enumerate(clock.legs[:-1]):
        turns = list(enumerate(_hours_out(clock, leg_ix), 1))
        # Rest days after a day without a shop are days of their own.
        yield leg_ix, leg.end_m, turns[1:] if leg.number in shop_free_days else turns


def _hours_waiting(clock: RideClock, shop_free_days: Collection[int]) -> list[Floats]:
    """UTC epochs for shops near the camp in which a rider under way waits, a day each.

    Nobody waits who rides on today, or before the trip has begun.
    """
    first = clock.legs[0]
    zone = first.depart.tzinfo
    now = dt.datetime.fromtimestamp(clock.start_s, zone)
    days = (first.date - now.date()).days

    hours = []
    for waited in range(days, 0, -1):
        if waited == days == 1 and first.number - 1 in shop_free_days:
            continue  # this evening still belongs to the day just ridden
        date = first.date - dt.timedelta(days=waited)
        begin_s, end_s = (_epoch_s(date, time, zone) for time in _REST_DAY)
        if waited == days:
            begin_s = max(begin_s, clock.start_s)
            if now.time() < _LATEST_NOW:
                end_s = max(end_s, clock.start_s + _STILL_OUT_S)
        if begin_s <= end_s:
            hours.append(_steps(begin_s, end_s))
    return hours


def _hours_out(clock: RideClock, leg_ix: int) -> list[Floats]:
    """UTC epochs at which the rider may stand before a shop from camp: the evening, rest days."""
    leg, following = clock.legs[leg_ix], clock.legs[leg_ix + 1]
    zone = clock.zone_after(leg_ix)

    begin_s = leg.arrive.timestamp() + SETTLE_S
    today = leg.arrive.astimezone(zone).date()
    end_s = max(_epoch_s(today, _LATEST_OUT, zone), leg.arrive.timestamp() + _STILL_OUT_S)
    hours = [np.append(np.arange(begin_s, end_s, _OUT_STEP_S), end_s)]
    for waited in range(following.rest_days_before, 0, -1):
        day = following.date - dt.timedelta(days=waited)
        hours.append(_steps(*(_epoch_s(day, time, zone) for time in _REST_DAY)))
    return hours


def _epoch_s(date: dt.date, time: dt.time, zone: dt.tzinfo | None) -> float:
    return dt.datetime.combine(date, time, tzinfo=zone).timestamp()


def _steps(begin_s: float, end_s: float) -> Floats:
    """From a time to another, the last step too."""
    return np.arange(begin_s, end_s + 1.0, _OUT_STEP_S)
