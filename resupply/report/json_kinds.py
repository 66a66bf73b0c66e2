"""Kinds of JSON values, and numbers in text: what telling two documents apart rests on."""

from __future__ import annotations

import datetime as dt
import re
from enum import IntEnum
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

from resupply.common.units import S_PER_DAY

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "ABSENT",
    "Kind",
    "kind_of",
    "kinds_of",
    "numbered_of",
    "same",
    "step_of",
    "time_of",
    "whole_of",
]


class _Absent:
    """A key that an object does not have, or a row without a counterpart."""

    def __repr__(self) -> str:
        return "ABSENT"


ABSENT: Final = _Absent()
"""Stands for what is not there."""


class Kind(IntEnum):
    """Kinds of values; the first four are of one value each."""

    ABSENT = 0
    NULL = 1
    FALSE = 2
    TRUE = 3
    WHOLE = 4
    DECIMAL = 5
    TEXT = 6
    LIST = 7
    OBJECT = 8
    ELSEWHERE = 9
    """Told by where the same thing stands."""


_OF_TYPE: Final = {
    str: Kind.TEXT,
    list: Kind.LIST,
    dict: Kind.OBJECT,
    _Absent: Kind.ABSENT,
    type(None): Kind.NULL,
}
# Looked up a million times.
_FALSE, _TRUE, _WHOLE, _DECIMAL = Kind.FALSE, Kind.TRUE, Kind.WHOLE, Kind.DECIMAL
_SAFE: Final = 2**53
"""Whole numbers below this are exact in a script."""
_TIME: Final = re.compile(
    r"([12]\d{3}-\d\d-\d\d)(?:T(\d\d:\d\d)(:\d\d)?([+-]\d\d:\d\d))?", re.ASCII
)
_NUMBERED: Final = re.compile(r"([^0-9]*)(0|[1-9][0-9]{0,9})")
"""Numbers of up to ten digits are exact in a script."""
_EPOCH: Final = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
"""From which seconds are counted (POSIX)."""


def kind_of(value: Any) -> Kind:
    """Kind of a JSON value, or of `ABSENT`."""
    kind = _OF_TYPE.get(type(value))
    if kind is not None:
        return kind
    if isinstance(value, bool):
        return _TRUE if value else _FALSE
    # A script knows one kind of number: 2.0 is 2.
    return _WHOLE if -_SAFE < value < _SAFE and value == int(value) else _DECIMAL


def kinds_of(values: Iterable[Any]) -> list[Kind]:
    """Kind of each of many values."""
    # Small whole numbers and text are most of a plan: told apart without a call.
    return [
        _WHOLE if type(value) is int and -_SAFE < value < _SAFE else kind_of(value)
        for value in values
    ]


def same(one: Any, other: Any) -> bool:
    """As `==`, but true is not 1."""
    return one is other or (one == other and _same_inside(one, other))


def _same_inside(one: Any, other: Any) -> bool:
    """Tell what is equal and the same from what is equal and is true in one place, 1 in another."""
    if isinstance(one, dict):
        pairs: Iterable[tuple[Any, Any]] = ((value, other[key]) for key, value in one.items())
    elif isinstance(one, list):
        pairs = zip(one, other, strict=True)
    else:
        return isinstance(one, bool) is isinstance(other, bool)
    return all(
        value is there or type(value) is str or _same_inside(value, there) for value, there in pairs
    )


def numbered_of(text: str) -> tuple[str, int] | None:
    """Split `p123` into its text and its number; None where that is not all of it."""
    match = _NUMBERED.fullmatch(text)
    return (match[1], int(match[2])) if match else None


def whole_of(value: float, digits: int) -> int | None:
    """Whole number that gives a decimal back, divided by 10 to the digits; None if none does.

    Parameters
    ----------
    value
        Any number, without a unit.
    digits
        After the point.
    """
    scaled = float(value) * 10**digits
    if not abs(scaled) < _SAFE:
        return None
    whole = round(scaled)
    return whole if whole / 10**digits == value else None


@lru_cache(maxsize=50_000)
def time_of(text: str) -> tuple[int, str] | None:
    """Seconds by the clock on the wall since 1970 began there, and what stands behind the clock.

    The tail is `d` for a date, the offset for a time in minutes, `s` and the offset for one in
    seconds. None where the text is no time that is told so.
    """
    match = _TIME.fullmatch(text)
    if match is None:
        return None
    date, minutes, seconds, offset = match.groups()
    try:
        wall = dt.datetime.fromisoformat(f"{date}T{minutes or '00:00'}{seconds or ''}+00:00")
    except ValueError:
        return None
    tail = "d" if minutes is None else f"{'s' if seconds else ''}{offset}"
    return round((wall - _EPOCH).total_seconds()), tail


def step_of(tail: str) -> int:
    """Seconds of the steps in which a time with this tail is told."""
    return int(S_PER_DAY) if tail == "d" else 1 if tail.startswith("s") else 60
