"""The one way in which text from maps, files and services is cleaned.

In: text from anywhere. Out: one line that XML, CSV, calendars, JSON and a terminal can hold. It is
still hostile: markup is left for the place that shows it, and escaped there.
"""

from __future__ import annotations

from typing import Final

__all__ = ["NAME_LIMIT", "clean", "one_line"]

NAME_LIMIT: Final = 255
"""Characters of a name or a tag: what OpenStreetMap holds of a value."""

_READ: Final = 4
"""How many times the limit is looked at: blanks and control characters are left out of it."""

# No characters, a mark that shows nothing, and those that turn round the text after them.
_NONE: Final = frozenset("\ufffe\uffff\ufeff\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def one_line(text: str, limit: int | None = NAME_LIMIT) -> str:
    r"""Text without control characters, line breaks, half characters, cut to a limit.

    >>> one_line("A\x1b[31m\n<b>\ud800"), one_line("Harbour  shop", 7)
    ('A[31m <b>?', 'Harbour')
    """
    read = text if limit is None else text[: _READ * limit]
    return " ".join(clean(read).split())[:limit].rstrip()


def clean(text: str) -> str:
    r"""Text without control and half characters; blanks stay, as a path may hold several.

    >>> clean("a  b\n\x1b[31m")
    'a  b [31m'
    """
    if text.isascii() and text.isprintable():
        return text
    spaced = (" " if char.isspace() else char for char in text)
    kept = "".join(
        char for char in spaced if char >= " " and not "\x7f" <= char < "\xa0" and char not in _NONE
    )
    # Half a character, as JSON may hold it, cannot be written to any file.
    return kept.encode("utf-8", "replace").decode("utf-8")
