"""What an `opening_hours` text may mean where it leaves something open.

In: raw map text. Out: rewritten texts for the evaluator, each a possible reading, and the
reason why there is more than one. Only what the evaluator gets wrong or cannot know is
looked at; everything else of the grammar is the evaluator's.
"""

from __future__ import annotations

import datetime as dt
import itertools
import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = [
    "NO_END",
    "SCHOOL",
    "dates_exist",
    "doubts",
    "fallbacks",
    "has_holidays",
    "has_sun",
    "has_sun_open_end",
    "has_twilight",
    "holiday_every_day",
    "latest_spill",
    "readings",
    "tidied",
]

# Why a text has more than one reading, in words for the rider.
NO_END: Final = "closing time not given"
"""`10:00+`."""
SCHOOL: Final = "depends on school holidays, for which there is no calendar"
"""`SH`."""
HOLIDAY_ON_DAYS: Final = "depends on the weekday on which a holiday falls"

_DAYS_IN_MONTH: Final = {
    "jan": 31, "feb": 29, "mar": 31, "apr": 30, "may": 31, "jun": 30,
    "jul": 31, "aug": 31, "sep": 30, "oct": 31, "nov": 30, "dec": 31,
}  # fmt: skip
"""Gregorian; 29 February is a date in some years."""
_WEEKDAYS: Final = "Mo|Tu|We|Th|Fr|Sa|Su"
_QUOTED: Final = re.compile(r'("[^"]*")')
_MONTH_DAY: Final = re.compile(
    rf"\b({'|'.join(_DAYS_IN_MONTH)})\s+(\d{{1,2}})\b(?!:)", re.IGNORECASE
)
# "15 Jun-15 Sep" is written for "Jun 15-Sep 15".
_DAY_MONTH: Final = re.compile(
    rf"\b(\d{{1,2}})(?:st|nd|rd|th)?\.?\s+({'|'.join(_DAYS_IN_MONTH)})\b", re.IGNORECASE
)
_DAY_LIST: Final = re.compile(
    rf"\b({_WEEKDAYS}|PH|SH)\s*,\s+(?=(?:{_WEEKDAYS}|PH|SH)\b)", re.IGNORECASE
)
_TIME_LIST: Final = re.compile(r"(:\d\d\+?)\s*,\s+(?=\d{1,2}:\d\d)")
_RULE_END: Final = re.compile(r"(?=;)|(?=,\s)")
_SPAN: Final = re.compile(r"(\d{1,2}):(\d\d)\s*-\s*(\d{1,2}):(\d\d)")
_OPEN_END: Final = re.compile(r"(?:(\d{1,2}:\d\d)\s*-\s*)?(\d{1,2}):(\d\d)\+(?!\d)")
_SUN_OPEN_END: Final = re.compile(r"(?:sunrise|sunset|dawn|dusk|\))\+(?!\d)", re.IGNORECASE)
_SUN: Final = re.compile(r"\b(?:sunrise|sunset|dawn|dusk)\b", re.IGNORECASE)
_TWILIGHT: Final = re.compile(r"\b(?:dawn|dusk)\b", re.IGNORECASE)
_PUBLIC: Final = re.compile(r"\bPH\b", re.IGNORECASE)
# "PH Mo-Fr" means holidays on weekdays; the evaluator reads it as "PH,Mo-Fr".
_ON_DAYS: Final = re.compile(rf"\b(PH|SH)\s+((?:{_WEEKDAYS})\b\S*)", re.IGNORECASE)
_DAYS_ON: Final = re.compile(rf"\b((?:{_WEEKDAYS})\b\S*)\s+(PH|SH)\b(?!,)", re.IGNORECASE)
_PLAIN_SCHOOL: Final = re.compile(rf"\bSH\b(?!\s+(?:{_WEEKDAYS})\b)", re.IGNORECASE)


def tidied(text: str) -> str:
    """Close up lists: by the letter, `Sa, Su 10:00-12:00` is open all Saturday.

    The reference evaluator reads such lists the same way, and a typeset dash as a hyphen. A day
    before its month (`15 Jun-15 Sep`) is put after it.
    """

    def close_up(part: str) -> str:
        if not _MONTH_DAY.search(part):
            part = _DAY_MONTH.sub(r"\2 \1", part)
        # Lists first: in `Su, PH off` the holiday is one more day, not a kind of Sunday.
        part = _DAY_LIST.sub(r"\1,", part.replace("–", "-"))
        return _TIME_LIST.sub(r"\1,", _DAYS_ON.sub(r"\2 \1", part))

    return _outside_quotes(text, close_up)


def dates_exist(text: str) -> bool:
    """Check the days of months, as the evaluator takes `Feb 30` for every day of the year."""
    found = _MONTH_DAY.findall(_bare(text))
    return all(1 <= int(day) <= _DAYS_IN_MONTH[month.lower()] for month, day in found)


def has_sun(text: str) -> bool:
    """Tell whether sunrise, sunset, dawn or dusk occurs."""
    return bool(_SUN.search(_bare(text)))


def has_twilight(text: str) -> bool:
    """Tell whether dawn or dusk occurs."""
    return bool(_TWILIGHT.search(_bare(text)))


def has_sun_open_end(text: str) -> bool:
    """Tell whether an opening at a time of the sun has no end, as in `sunrise+`."""
    return bool(_SUN_OPEN_END.search(_bare(text)))


def has_holidays(text: str) -> bool:
    """Tell whether public holidays are mentioned."""
    return bool(_PUBLIC.search(_bare(text)))


def doubts(text: str) -> tuple[str, ...]:
    """Reasons why the text has several readings; none if it has one."""
    bare = _bare(text)
    reasons = (
        HOLIDAY_ON_DAYS if _ON_DAYS.search(bare) else "",
        NO_END if _OPEN_END.search(bare) else "",
        SCHOOL if _PLAIN_SCHOOL.search(bare) else "",
    )
    return tuple(reason for reason in reasons if reason)


def readings(text: str) -> Iterator[str]:
    """Every text the given one may stand for."""
    bare = _bare(text)
    choices: list[tuple[Callable[[str], str], ...]] = []
    if _OPEN_END.search(bare):
        choices.append((_end_at_once, _end_late))
    if _PLAIN_SCHOOL.search(bare):
        choices.append((_same, _school_every_day))
    if _ON_DAYS.search(bare):
        choices.append((_never_on_days, _always_on_days))
    for chosen in itertools.product(*choices):
        reading = text
        for rewrite in chosen:
            reading = rewrite(reading)
        yield reading


def holiday_every_day(text: str) -> str:
    """Rewrite as if every day were a public holiday."""
    return _outside_quotes(_always_on_days(text), lambda part: _PUBLIC.sub("Mo-Su", part))


def fallbacks(text: str) -> list[str]:
    """Texts to be laid one under the other: `A || B; C` is `A; C` with `B; C` below.

    Rules after a fallback change what is above it too, as in `Mo-Fr || "call"; PH off`.
    """
    marked = _outside_quotes(
        text, lambda part: _RULE_END.sub("\1", part.replace("||", "\0")), quoted=_same
    )
    layers: list[str] = []
    for part in marked.split("\0"):
        own, *after = part.split("\1")
        tail = "".join(after)
        layers = [(layer + tail).strip() for layer in layers]
        layers.append((own.strip() + tail).strip())
    return layers


def latest_spill(text: str) -> dt.timedelta:
    """How far past midnight the latest opening of any day runs.

    Zero if none does, and also if another one ends at midnight: then a closing at midnight
    is most likely meant.
    """
    latest = 0
    for since_h, since_min, until_h, until_min in _SPAN.findall(_bare(_end_late(text))):
        since, until = int(since_h) * 60 + int(since_min), int(until_h) * 60 + int(until_min)
        if until in (0, 24 * 60):
            return dt.timedelta(0)
        past = until if until <= since else until - 24 * 60
        latest = max(latest, past)
    return dt.timedelta(minutes=latest)


def _same(text: str) -> str:
    return text


def _school_every_day(text: str) -> str:
    return _outside_quotes(text, lambda part: _PLAIN_SCHOOL.sub("Mo-Su", part))


def _never_on_days(text: str) -> str:
    # The evaluator has no school holidays: for it, SH is never.
    return _outside_quotes(text, lambda part: _ON_DAYS.sub("SH", part))


def _always_on_days(text: str) -> str:
    return _outside_quotes(text, lambda part: _ON_DAYS.sub(r"\2", part))


def _end_at_once(text: str) -> str:
    """Shortest reading: `10:00+` shuts a minute later, `10:00-12:00+` at 12:00."""

    def shortest(match: re.Match[str]) -> str:
        since, hour, minute = match.groups()
        if since:
            return f"{since}-{hour}:{minute}"
        total = int(hour) * 60 + int(minute) + 1
        return f"{hour}:{minute}-{total // 60:02d}:{total % 60:02d}"

    return _outside_quotes(text, lambda part: _OPEN_END.sub(shortest, part))


def _end_late(text: str) -> str:
    """Latest end worth reckoning with: midnight, ten hours after 17:00, eight after 22:00.

    The same guess as the reference evaluator makes.
    """

    def longest(match: re.Match[str]) -> str:
        since, hour, minute = match.groups()
        last = int(hour) % 24
        end = "24:00" if last < 17 else f"{last + (10 if last < 22 else 8)}:{minute}"
        return f"{since or f'{hour}:{minute}'}-{end}"

    return _outside_quotes(text, lambda part: _OPEN_END.sub(longest, part))


def _bare(text: str) -> str:
    return _outside_quotes(text, _same, quoted=lambda _: '""')


def _outside_quotes(
    text: str, rewrite: Callable[[str], str], quoted: Callable[[str], str] = _same
) -> str:
    parts = _QUOTED.split(text)
    return "".join(quoted(part) if i % 2 else rewrite(part) for i, part in enumerate(parts))
