"""What is not open to a passing rider whatever it is, from its OpenStreetMap tags.

In: the tags of one feature. Out: why it does not count, in words, or None. One table, read from
the top. Only what holds on every day is here; what depends on the day of the trip (an end date, a
season, access at some times) is judged with the hours (`resupply.hours.limits`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["LEFT_OUT", "SHUT_OUT", "LeftOut", "conditional_access", "left_out", "left_out_markdown"]

_MOST_TEXT: Final = 1000
"""Characters searched: four times what OpenStreetMap holds of a value."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """One row: keys, the values that shut a rider out, and why."""

    keys: tuple[str, ...]
    values: frozenset[str]
    """Empty: any value but no."""
    words: str
    page: str
    """Page of wiki.openstreetmap.org; "" where it has none, then the meaning is from memory."""
    every: bool = False
    """Only where no other value stands beside it."""


def _row(keys: str, values: str, words: str, page: str, *, every: bool = False) -> LeftOut:
    some = frozenset(values.split("|")) if values else frozenset[str]()
    return LeftOut(tuple(keys.split("|")), some, words, page, every)


_SHUT_OUT: Final = (
    "agricultural|closed|delivery|emergency|employees|forestry|members|members_only|military|no|"
    "official|permit|private|residents|restricted|staff"
)
SHUT_OUT: Final = frozenset(_SHUT_OUT.split("|"))
"""Values of `access` that let no passing rider in. Anything else (yes, permissive, customers,
public, unknown, …) does."""

LEFT_OUT: Final[tuple[LeftOut, ...]] = (
    _row("abandoned|closed|construction|demolished|destroyed|disused|dismantled|planned|proposed|"
         "razed|removed|ruins|vacant", "", "gone, or not there yet", "Lifecycle_prefix"),
    _row("operational_status|status",
         "abandoned|broken|closed|closed_permanently|construction|decommissioned|disused|inactive|"
         "non_operational|not_operational|out_of_order|out_of_service|permanently_closed|"
         "temporarily_closed|under_construction", "out of use", "Key:operational_status"),
    _row("building", "construction", "being built", "Tag:building=construction"),
    _row("access", _SHUT_OUT, "not open to the public", "Key:access", every=True),
    _row("membership|members_only|members", "only|required|yes", "members only", ""),
    _row("wholesale", "only", "sells to the trade only", "Key:wholesale"),
    _row("customers", "business|trade|trade_only", "sells to the trade only", "", every=True),
    _row("delivery", "only", "delivers only", "Key:delivery"),
)  # fmt: skip

_TOLD_IN: Final = ("description", "note")
_GONE_WORDS: Final = re.compile(
    r"permanently closed|closed permanently|closed for good|closed down|ceased trading"
    r"|dauerhaft geschlossen|endgültig geschlossen"
    r"|cerrad[oa] permanentemente|permanentemente cerrad[oa]|cerrad[oa] definitivamente"
    r"|définitivement fermée?|fermée? définitivement"
    r"|chius[oa] definitivamente|definitivamente chius[oa]|definitief gesloten",
    re.IGNORECASE,
)
_BACK_WORDS: Final = re.compile(r"re-?open|not (?:permanently )?closed", re.IGNORECASE)
_NO: Final = frozenset(("", "no", "false", "0"))
_CLAUSE: Final = re.compile(r"([\w:-]+)\s*@\s*(\([^()]*\)|[^;()]*)")


def conditional_access(tags: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Clauses of `access:conditional`: value and condition without its brackets.

    OpenStreetMap wiki, Conditional restrictions.

    Examples
    --------
    >>> conditional_access({"access:conditional": "no @ (Nov-Mar); customers @ (Sa,Su)"})
    (('no', 'Nov-Mar'), ('customers', 'Sa,Su'))
    """
    text = tags.get("access:conditional", "")[:_MOST_TEXT]
    return tuple((value.lower(), when.strip("() ")) for value, when in _CLAUSE.findall(text))


def left_out(tags: Mapping[str, str]) -> str | None:
    """Why a feature doesn't count whatever it is, or None if it does.

    Keys with a lifecycle prefix (`disused:shop=…`) make no place at all. A feature that is shut
    to the public but for some times (`access:conditional`) counts: its times are judged.

    Examples
    --------
    >>> left_out({"shop": "supermarket", "wholesale": "only"})
    'sells to the trade only'
    """
    for row in LEFT_OUT:
        for key in row.keys:
            values = _values(tags, key)
            if not values:
                continue
            if not row.values:
                fits = not _NO.issuperset(values)
            elif row.every:
                fits = row.values.issuperset(values)
            else:
                fits = not row.values.isdisjoint(values)
            if fits and not (key == "access" and _let_in_at_times(tags)):
                return row.words
    said = " ".join(tags.get(key, "")[:_MOST_TEXT] for key in _TOLD_IN)
    if _GONE_WORDS.search(said) and not _BACK_WORDS.search(said):
        return "closed for good, as described"
    return None


def left_out_markdown() -> str:
    """Write the table as Markdown, as it stands in the documentation."""
    lines = ["| tag | not counted because | described at |", "| --- | --- | --- |"]
    for row in LEFT_OUT:
        keys = ", ".join(f"`{key}`" for key in row.keys)
        values = ", ".join(f"`{value}`" for value in sorted(row.values)) or "anything but `no`"
        alone = " and no other value" if row.every else ""
        page = f"wiki {row.page}" if row.page else "no page"
        lines.append(f"| {keys}: {values}{alone} | {row.words} | {page} |")
    return "\n".join(lines) + "\n"


def _let_in_at_times(tags: Mapping[str, str]) -> bool:
    return any(value not in SHUT_OUT for value, _ in conditional_access(tags))


def _values(tags: Mapping[str, str], key: str) -> tuple[str, ...]:
    text = tags.get(key)
    return () if text is None else tuple(part.strip().lower() for part in text.split(";"))
