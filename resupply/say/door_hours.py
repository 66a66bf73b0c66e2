"""Opening hours as a person writes them: "Mon–Fri 8–20, Sat 8–18, shut on holidays".

In: the raw text of the map. Out: a sentence, or None for whatever is not a plain list of days and
times: then the raw text stands alone. Nothing here judges whether a door is open.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from resupply.common.quantity import hour, line, listed

if TYPE_CHECKING:
    from resupply.common.quantity import Sentence

__all__ = ["door_hours"]

_DAYS: Final = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
_SAID: Final = dict(zip(_DAYS, ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), strict=True))
_DAY: Final = rf"(?:{'|'.join(_DAYS)}|PH)"
_DAY_SPANS: Final = rf"{_DAY}(?:-{_DAY})?(?:,{_DAY}(?:-{_DAY})?)*"
_TIME: Final = r"\d{1,2}:\d\d-\d{1,2}:\d\d"
_RULE: Final = re.compile(rf"(?P<days>{_DAY_SPANS})?\s*(?P<times>{_TIME}(?:,{_TIME})*|off|closed)?")
_MOST_RULES: Final = 6
"""Our choice: a longer list is read as it is on the map."""
_DAY_MIN: Final = 24 * 60
"""Minutes of a day: a time at or after it belongs to the next."""


@lru_cache(maxsize=4096)
def door_hours(raw: str | None) -> Sentence | None:
    """Hours of a door in words; None where the text is more than days and times.

    >>> from resupply.common.show import text
    >>> text(door_hours("Mo-Fr 08:00-12:30,15:00-19:00; Sa 08:00-13:00; PH off"))
    'Mon–Fri 8–12:30 and 15–19, Sat 8–13, shut on holidays'
    """
    if raw is None:
        return None
    # A list is closed up, as the evaluator reads it: "Sa, Su 10:00-12:00".
    tidy = re.sub(r",\s+", ",", raw.strip())
    if tidy == "24/7":
        return line("day and night")
    rules = [rule.strip() for rule in tidy.split(";") if rule.strip()]
    told = [_rule(rule) for rule in rules]
    if not told or len(told) > _MOST_RULES:
        return None
    return listed([one for one in told if one is not None], ", ") if None not in told else None


def _rule(rule: str) -> Sentence | None:
    found = _RULE.fullmatch(rule)
    if found is None or not found["times"]:
        return None
    days = _days(found["days"]) if found["days"] else "every day"
    if found["times"] in ("off", "closed"):
        if not found["days"]:
            return None
        return line("shut {days}", days=days if found["days"] == "PH" else f"on {days}")
    spans = [_span(one) for one in found["times"].split(",")]
    if None in spans:
        return None
    return line("{days} {times}", days=days, times=listed([one for one in spans if one], " and "))


def _days(text: str) -> str:
    if text == "PH":
        return "on holidays"
    said = []
    for part in text.split(","):
        ends = part.split("-")
        if "PH" in ends:
            said.append("holidays")
        elif ends == ["Mo", "Su"]:
            said.append("every day")
        else:
            said.append("–".join(_SAID[end] for end in ends))
    return " and ".join(filter(None, [", ".join(said[:-1]), said[-1]]))


def _span(text: str) -> Sentence | None:
    start, end = (_minutes(one) for one in text.split("-"))
    if start >= _DAY_MIN or end > 2 * _DAY_MIN or start == end:
        return None
    return line("{start}–{end}", start=hour(start), end=hour(end))


def _minutes(text: str) -> int:
    hours, minutes = text.split(":")
    return int(hours) * 60 + int(minutes)
