"""How long food keeps: published limits by storage class, and the verdict for one purchase.

In: a class, when it was bought (or opened) and the temperature it was kept at. Out: the time by
which it must be eaten, with the reason. Ranges are read at their low end; warm time adds up; an
unknown temperature counts as the worst. Food past a limit is thrown out: reheating does not make
it safe.

A menu is planned stricter than it is judged: without the two hours that published rules allow
above 4 °C, except for the first hour from the shop, which holds in any heat.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.quantity import day_time, decimal, limit, line
from resupply.common.units import S_PER_DAY, S_PER_HOUR
from resupply.kitchen.food.room_time import as_if_hot, start_room_clock
from resupply.kitchen.food.storage_classes import Keeping, class_of
from resupply.kitchen.food.warm_time import start_clock

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.common.quantity import Part, Said, Sentence
    from resupply.kitchen.food.room_time import RoomClock
    from resupply.kitchen.food.storage_classes import StorageClass, StorageTable
    from resupply.kitchen.food.warm_time import TempHistory, WarmClock

__all__ = ["Limit", "Storage", "UseBy", "make_storage", "say_days"]

# Year 2500: later than any trip, and within what a datetime holds.
_FAR_S = 1.67e10
# Food bought at the moment the ice goes in is not warm for the rounding of a clock.
_BLINK_S = 1.0


class Limit(StrEnum):
    """What ends a food's time."""

    NONE = "none"
    """Nothing within the trip: the date on the label."""
    DAYS = "days"
    """The published number of days, kept cold."""
    WARM = "warm"
    """Too long above 4 °C."""
    UNKNOWN = "unknown"
    """Too long at a temperature nobody knows."""
    ROOM = "room"
    """Days uncooled."""
    ICE = "ice"
    """No ice is bought for it."""


@dataclass(frozen=True, slots=True)
class UseBy:
    """By when a food must be eaten."""

    when: dt.datetime | None
    """None: no limit within the trip."""
    limit: Limit
    why: Said
    """One clause, e.g. "1 day kept cold from purchase"; sources stand in the list of cautions."""
    warm_from: dt.datetime | None = None
    """First moment above 4 °C (or unknown) that counted, if that is what ends it."""
    spell: Sentence | None = None
    """What is said of that moment, in a clause."""

    @property
    def until_s(self) -> float:
        """Last moment at which it may be eaten, UTC epoch seconds; infinite without a limit."""
        return math.inf if self.when is None else self.when.timestamp()

    def allows(self, when: dt.datetime) -> bool:
        """Whether it may still be eaten at `when`."""
        return when.timestamp() <= self.until_s


_BY_LABEL = UseBy(None, Limit.NONE, "keeps until the date on its label")


@dataclass(frozen=True, slots=True, eq=False)
class _Uncooled:
    """What passes for food that keeps uncooled, along one history."""

    clock: RoomClock
    above: Mapping[float, WarmClock]
    """Time above a class's own highest temperature, by that."""


@dataclass(frozen=True, slots=True, eq=False)
class Storage:
    """The storage table together with one temperature history; made by `make_storage`."""

    table: StorageTable
    clocks: Mapping[float, WarmClock]
    """Warm time by threshold, °C."""
    inside: _Uncooled
    """Age at the temperature of the history."""
    beside: _Uncooled
    """Age of what rides beside it, in the air."""
    name: str
    """Where the food is kept, as said in sentences."""
    spell: str = ""
    """What a warm moment means there; empty: it passes the limit."""
    strict: bool = False
    """No warm time is allowed, but for the first hour from the shop."""

    def use_by(
        self, class_id: str, bought: dt.datetime, *, opened: dt.datetime | None = None
    ) -> UseBy:
        """Find by when a food must be eaten.

        Parameters
        ----------
        class_id
            Key of the storage table.
        bought
            Aware time of purchase, the food then cold; times are told in its zone.
        opened
            Aware time at which the pack was opened; None while it is sealed.

        Raises
        ------
        TripFileError
            There is no such class.
        """
        row = class_of(self.table, class_id)
        sealed = self._sealed(row, bought)
        if opened is None:
            return sealed
        return _earlier(sealed, self._opened(row, bought, opened))

    def warm_from(self, start: dt.datetime) -> dt.datetime | None:
        """First moment on or after `start` above 4 °C, or unknown; None if never."""
        clock = self.clocks[self.table.rule["cold_c"].value]
        return _instant(clock.first_warm_s(start.timestamp()), start)

    def _sealed(self, row: StorageClass, bought: dt.datetime) -> UseBy:
        if row.keeping is Keeping.STABLE:
            return _BY_LABEL
        if row.keeping is Keeping.ROOM:
            return self._uncooled(row, bought)
        return _earlier(_cold(row.unopened, row, bought, "from purchase"), self._warm(row, bought))

    def _opened(self, row: StorageClass, bought: dt.datetime, opened: dt.datetime) -> UseBy:
        if row.keeping is Keeping.ROOM:
            return self._uncooled(row, bought)
        if row.after_warm == "keep":
            return self._room(row, opened, "once opened")
        cold = _cold(row.opened or row.unopened, row, opened, "once opened")
        return _earlier(cold, self._warm(row, opened))

    def _uncooled(self, row: StorageClass, bought: dt.datetime) -> UseBy:
        if row.unopened is None:
            return self._room(row, bought, "from purchase")
        cold = _cold(row.unopened, row, bought, "from purchase")
        warm_from = self.warm_from(bought)
        if warm_from is None:
            return cold
        since = line("from {when}", when=day_time(warm_from))
        return _earlier(cold, self._room(row, warm_from, since))

    def _room(self, row: StorageClass, start: dt.datetime, since: Part) -> UseBy:
        """Days uncooled, fewer in the heat; see `room_time`."""
        if row.room_days is None or row.room_by is None:
            return _BY_LABEL
        where = self.inside if row.in_cooler else self.beside
        start_s = start.timestamp()
        until_s = where.clock.deadline_s(start_s, row.room_days)
        fewer = until_s < start_s + row.room_days * S_PER_DAY - S_PER_HOUR
        aged = UseBy(
            _instant(until_s, start),
            Limit.ROOM,
            line(
                "{days} uncooled{fewer} {since}",
                days=say_days(row.room_days),
                fewer=", fewer in such heat," if fewer else None,
                since=since,
            ),
        )
        if row.room_max_c is None:
            return aged
        allowed_s = self.table.rule["warm_h"].value * S_PER_HOUR
        end = where.above[row.room_max_c].run_out(start_s, allowed_s, allowed_s)
        melts = UseBy(
            _instant(end.deadline_s, start),
            Limit.ROOM,
            line("it does not last above {limit}", limit=limit(row.room_max_c)),
        )
        return _earlier(aged, melts)

    def _warm(self, row: StorageClass, start: dt.datetime) -> UseBy:
        above_c, warm_h, hot_h = _warm_rule(self.table, row)
        if self.strict and row.warm_above_c is None:
            return self._strict(start, above_c, hot_h)
        usual_s, hot_s = warm_h * S_PER_HOUR, hot_h * S_PER_HOUR
        end = self.clocks[above_c].run_out(start.timestamp(), usual_s, hot_s)
        hours = hot_h if end.hot else warm_h
        warm_from = _instant(end.warm_from_s, start)
        spell = self._said(warm_from, above_c, unknown=end.unknown)
        return UseBy(
            _instant(end.deadline_s, start),
            Limit.UNKNOWN if end.unknown else Limit.WARM,
            line("{spell}; at most {hours} h warm in all", spell=spell, hours=decimal(hours, 1)),
            warm_from,
            spell,
        )

    def _strict(self, start: dt.datetime, above_c: float, first_h: float) -> UseBy:
        start_s = start.timestamp()
        end = self.clocks[above_c].run_out(start_s, _BLINK_S, _BLINK_S)
        warm_from_s = end.deadline_s - _BLINK_S
        warm_from = _instant(warm_from_s, start)
        spell = self._said(warm_from, above_c, unknown=end.unknown)
        return UseBy(
            _instant(max(warm_from_s, start_s + first_h * S_PER_HOUR), start),
            Limit.UNKNOWN if end.unknown else Limit.WARM,
            spell,
            warm_from,
            spell,
        )

    def _said(self, warm_from: dt.datetime | None, above_c: float, *, unknown: bool) -> Sentence:
        at = day_time(warm_from) if warm_from else None
        if unknown:
            return line("nobody can tell how warm {bag} is from {at} on", bag=self.name, at=at)
        if self.spell and above_c == self.table.rule["cold_c"].value:
            return line("{spell} from {at} on", spell=self.spell, at=at)
        return line("{bag} passes {limit} {at}", bag=self.name, limit=limit(above_c), at=at)


def make_storage(
    table: StorageTable,
    history: TempHistory | None,
    *,
    strict: bool = False,
) -> Storage:
    """Join the limits with the temperature at which the food is kept.

    Parameters
    ----------
    table
        Limits by class.
    history
        None where nothing is known about the temperature.
    strict
        Plan without the warm time that published rules allow.
    """
    hot_c = table.rule["hot_c"].value
    levels = {_warm_rule(table, row)[0] for row in table.classes.values()}
    levels.add(table.rule["cold_c"].value)
    clocks = {
        level: start_clock(history, above_c=level, hot_c=max(hot_c, level)) for level in levels
    }
    inside = _uncooled(table, history)
    air = history.air if history is not None else None
    return Storage(
        table,
        clocks,
        inside=inside,
        beside=inside if air is None else _uncooled(table, air),
        name=history.name if history is not None else "the food bag",
        spell=history.spell if history is not None else "",
        strict=strict,
    )


def say_days(days: float) -> str:
    """Say a number of days.

    >>> say_days(1), say_days(2.5)
    ('1 day', '2.5 days')
    """
    return f"{days:g} day" if days == 1 else f"{days:g} days"


def _uncooled(table: StorageTable, history: TempHistory | None) -> _Uncooled:
    tops = {row.room_max_c for row in table.classes.values() if row.room_max_c is not None}
    filled = as_if_hot(history)
    return _Uncooled(
        start_room_clock(history),
        {top: start_clock(filled, above_c=top, hot_c=top) for top in tops},
    )


def _warm_rule(table: StorageTable, row: StorageClass) -> tuple[float, float, float]:
    """Threshold in °C, allowance and allowance in the heat, hours."""
    if row.warm_above_c is not None and row.warm_h is not None:
        # A class with its own allowance has no published shorter one in the heat.
        return row.warm_above_c, row.warm_h, row.warm_h
    rule = table.rule
    return rule["cold_c"].value, rule["warm_h"].value, rule["hot_h"].value


def _cold(
    days: tuple[float, float] | None, row: StorageClass, start: dt.datetime, since: Part
) -> UseBy:
    if days is None or row.days_by is None:
        return _BY_LABEL
    return UseBy(
        _later(start, days[0]),
        Limit.DAYS,
        line("{days} kept cold {since}", days=say_days(days[0]), since=since),
    )


def _later(start: dt.datetime, days: float) -> dt.datetime:
    # Through UTC: a day of storage is 24 hours, also when the clocks change.
    return (start.astimezone(dt.UTC) + dt.timedelta(days=days)).astimezone(start.tzinfo)


def _instant(epoch_s: float, like: dt.datetime) -> dt.datetime | None:
    if not np.isfinite(epoch_s) or epoch_s >= _FAR_S:
        return None
    return dt.datetime.fromtimestamp(epoch_s, dt.UTC).astimezone(like.tzinfo)


def _earlier(one: UseBy, other: UseBy) -> UseBy:
    if one.when is None:
        return other if other.when is not None else one
    if other.when is None:
        return one
    return other if other.when.timestamp() < one.when.timestamp() else one
