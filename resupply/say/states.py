"""The words and signs of every open state: the one table that all outputs read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from resupply.hours.state import OpenState

__all__ = ["STATES", "StateKey", "StateWords", "state_key", "words_of"]

StateKey = Literal[
    "open", "open_unless_holiday", "tight", "usually_open", "unknown", "usually_shut", "shut"
]
"""Name of an open state in the plan document."""


@dataclass(frozen=True, slots=True)
class StateWords:
    """How one state is told."""

    key: StateKey
    """Its name in the plan document."""
    word: str
    """Beside its sign, in tables and files."""
    meaning: str
    """In the key of the map."""
    mark: str
    """Its sign where only characters can be drawn."""
    doubt: str
    """What makes a shop in this state the worse choice; empty where nothing does."""


STATES: Final[dict[OpenState, StateWords]] = {
    OpenState.OPEN: StateWords("open", "open", "Open when you pass", "●", ""),
    OpenState.UNLESS_HOLIDAY: StateWords(
        "open_unless_holiday",
        "open unless a public holiday",
        "Open unless it is a public holiday: which days are is not known there",
        "◕",
        "it may be a public holiday, on which it may be shut",
    ),
    OpenState.TIGHT: StateWords(
        "tight",
        "tight",
        "Tight: open as planned, but you may be too early or late",
        "◐",
        "you may arrive just as it shuts or opens",
    ),
    OpenState.USUALLY_OPEN: StateWords(
        "usually_open",
        "not known, usually open then",
        "Hours not known, usually open then (estimate)",
        "○",
        "its hours are not known, only usual ones",
    ),
    OpenState.UNKNOWN: StateWords(
        "unknown", "not known", "Hours not known", "?", "its hours are not known"
    ),
    OpenState.USUALLY_SHUT: StateWords(
        "usually_shut",
        "not known, usually shut then",
        "Hours not known, usually shut then (estimate)",
        "□",
        "its hours are not known and such shops are usually shut then",
    ),
    OpenState.SHUT: StateWords("shut", "shut", "Shut when you pass", "✕", "it is shut"),
}
"""Words and signs of every state, the surest first."""

_BY_KEY: Final[dict[str, StateWords]] = {told.key: told for told in STATES.values()}


def state_key(code: int) -> StateKey:
    """Name of a state in the plan document, by its code."""
    return STATES[OpenState(code)].key


def words_of(key: str) -> StateWords:
    """Words of a state by its name in the plan document."""
    return _BY_KEY[key]
