"""Plain signs for what an output cannot write.

Output that is redirected may be cp1252 or ASCII. A sign it lacks becomes a plain one, a letter
loses its accent, the rest becomes "?": a run never ends because of a letter.
"""

from __future__ import annotations

import codecs
import sys
import unicodedata

__all__ = ["fitted", "use_plain_signs"]

_ERRORS = "resupply-plain-signs"
_PLAIN = {
    "●": "o",
    "◕": "o",
    "◐": "~",
    "○": "?",
    "□": "?",
    "✕": "x",
    "⅓": "1/3",
    "⅔": "2/3",
    "–": "-",
    "—": "-",
    "−": "-",
    "…": "...",
    "’": "'",
    "“": '"',
    "”": '"',
    "°": "",
    "©": "(c)",
    "×": "x",
    "·": "-",
    "ß": "ss",
    "ø": "o",
    "Ø": "O",
    "æ": "ae",
    "đ": "d",
    "ł": "l",
    "Ł": "L",
}


def use_plain_signs() -> None:
    """Let the standard output and error stream replace what they cannot write."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=_ERRORS)


def fitted(text: str, encoding: str) -> str:
    """Text as an output of this encoding shows it.

    >>> fitted("2⅔ days, Três Ondas – 4 °C", "ascii")
    '2 2/3 days, Tres Ondas - 4 C'
    """
    return text.encode(encoding, _ERRORS).decode(encoding)


def _replaced(fault: UnicodeError) -> tuple[str, int]:
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    text = fault.object
    said = [_plain(text[at - 1 : at], text[at]) for at in range(fault.start, fault.end)]
    return "".join(said), fault.end


def _plain(before: str, sign: str) -> str:
    plain = _PLAIN.get(sign)
    if plain is None:
        plain = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode()
        return plain or "?"
    # Two and a third, not 21 thirds.
    return f" {plain}" if "/" in plain and before.isdigit() else plain


codecs.register_error(_ERRORS, _replaced)
