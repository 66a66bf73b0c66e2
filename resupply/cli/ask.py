"""A question on the terminal; where nobody can answer, one line that says what to write instead."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from resupply.cli.signs import fitted
from resupply.common.errors import ResupplyError
from resupply.common.text import clean

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["asks", "choose", "tell"]


def tell(text: str) -> None:
    """Print a line that may hold text of a map: no control codes, only signs the output knows."""
    print(fitted(clean(text), sys.stdout.encoding or "utf-8"))


def asks() -> bool:
    """Whether somebody sits at a terminal."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def choose(question: str, answers: Sequence[str], *, usual: int | None = None) -> int:
    """Ask which of some answers is meant; its index.

    Parameters
    ----------
    usual
        Index that Enter alone means; None where there is none.

    Raises
    ------
    ResupplyError
        Nobody answers, or three times with none of them.
    """
    tell(question)
    for number, answer in enumerate(answers, 1):
        tell(f"  {number}  {answer}")
    hint = "" if usual is None else f" [{usual + 1}]"
    for _ in range(3):
        try:
            said = input(f"Number{hint}: ").strip()
        except EOFError:
            break
        if not said and usual is not None:
            return usual
        if said.isdecimal() and 1 <= int(said) <= len(answers):
            return int(said) - 1
    raise ResupplyError("no answer was given", mend="Nothing was planned; start again")
