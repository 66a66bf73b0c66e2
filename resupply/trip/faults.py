"""What is wrong with a setting, in a rider's words.

In: an error of the library that checks the trip file. Out: one clause for the error line.
"""

from __future__ import annotations

import math
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

__all__ = ["fault_words"]

_KINDS = {
    "float": "a number",
    "int": "a whole number",
    "bool": "true or false",
    "string": "a text in quotes",
    "date": "a date like 2027-07-09",
    "datetime": "a date and time like 2027-07-09T14:10:00",
    "time": "a time like 08:30:00",
    "tuple": "a list in square brackets",
    "dict": "a table",
    "model": "a table",
    "finite": "a number",
}
_UNITS = {
    "_km": " km",
    "_kmh": " km/h",
    "_kg": " kg",
    "_l": " L",
    "_c": " °C",
    "_h": " h",
    "_min": " min",
}
"""By the end of a key: a value given in other units is held against a limit in these."""
_BOUNDS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def fault_words(key: str, first: Mapping[str, Any], known: Collection[str]) -> tuple[str, str]:
    """Say in one clause what is wrong, with the name of the key and without it.

    Parameters
    ----------
    key
        Dotted, as the rider writes it; "" for the file as a whole.
    first
        The error as pydantic tells it.
    known
        All dotted keys there are.
    """
    if first["type"] == "missing":
        return f"{key} is missing", "is missing"
    if first["type"] == "extra_forbidden":
        meant = _meant(key, known)
        hint = f"; did you mean {meant}?" if meant else ""
        return f"there is no key {key}{hint}", f"there is no such key{hint}"
    shown = repr(first.get("input"))
    shown = shown if len(shown) <= 60 else shown[:57] + "…"
    problem = _plain_words(first, _unit(key))
    if isinstance(first.get("input"), dict):
        return f"{key or 'the file'}: {problem}", problem
    return f"{key or 'the file'} = {shown}: {problem}", problem


def _meant(key: str, known: Collection[str]) -> str | None:
    """Find the key a rider may have meant: in another table, or spelled a little otherwise."""
    tables = sorted({one.partition(".")[0] for one in known})
    if "." not in key and (near := get_close_matches(key, tables, n=1, cutoff=0.75)):
        return near[0]
    last = key.rpartition(".")[2]
    elsewhere = [one for one in known if one.rpartition(".")[2] == last]
    if elsewhere:
        return elsewhere[0]
    near = get_close_matches(key, known, n=1, cutoff=0.75)
    if not near:
        names = {one.rpartition(".")[2]: one for one in known}
        near = [names[one] for one in get_close_matches(last, names, n=1, cutoff=0.75)]
    return near[0] if near else None


def _unit(key: str) -> str:
    return next((unit for end, unit in _UNITS.items() if key.endswith(end)), "")


def _plain_words(first: Mapping[str, Any], unit: str) -> str:
    """Say what is wrong with a value without the words of the checking library."""
    sort, limits, value = first["type"], first.get("ctx", {}), first.get("input")
    if isinstance(value, float) and math.isnan(value):
        return "must be a number"
    if sort in _BOUNDS:
        words, name = _BOUNDS[sort]
        limit = limits[name]
        return f"must be {words} {f'{limit:g}' if isinstance(limit, float) else limit}{unit}"
    if sort == "literal_error":
        return f"must be {limits['expected']}"
    if sort == "string_too_long":
        return f"must be at most {limits['max_length']} characters long"
    if sort == "string_pattern_mismatch":
        return "must be two capital letters, like AT"  # the one pattern there is
    kind = _KINDS.get(sort.partition("_")[0])
    return f"must be {kind}" if kind else str(first["msg"]).removeprefix("Value error, ")
