"""What is wrong with a setting, in a rider's words.

In: an error of the library that checks the trip file. Out: one clause for the error line.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

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
_BOUNDS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def fault_words(key: str, first: Mapping[str, Any], count: int) -> str:
    """Say in one clause what is wrong.

    Parameters
    ----------
    key
        Dotted, as the rider writes it; "" for the file as a whole.
    first
        The first error as pydantic tells it.
    count
        How many there are.
    """
    shown = repr(first.get("input"))
    shown = shown if len(shown) <= 60 else shown[:57] + "…"
    text = {
        "extra_forbidden": f"there is no key {key}",
        "missing": f"{key} is missing",
    }.get(first["type"])
    if text is None:
        message = _plain_words(first)
        text = f"{key or 'the file'} = {shown}: {message}"
        if isinstance(first.get("input"), dict):
            text = f"{key or 'the file'}: {message}"
    return text + (f" (and {count - 1} more)" if count > 1 else "")


def _plain_words(first: Mapping[str, Any]) -> str:
    """Say what is wrong with a value without the words of the checking library."""
    sort, limits, value = first["type"], first.get("ctx", {}), first.get("input")
    if isinstance(value, float) and math.isnan(value):
        return "must be a number"
    if sort in _BOUNDS:
        words, name = _BOUNDS[sort]
        limit = limits[name]
        return f"must be {words} {f'{limit:g}' if isinstance(limit, float) else limit}"
    if sort == "literal_error":
        return f"must be {limits['expected']}"
    if sort == "string_too_long":
        return f"must be at most {limits['max_length']} characters long"
    if sort == "string_pattern_mismatch":
        return "must be two capital letters, like AT"  # the one pattern there is
    kind = _KINDS.get(sort.partition("_")[0])
    return f"must be {kind}" if kind else str(first["msg"]).removeprefix("Value error, ")
