"""How long work tells what it is doing."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["Progress", "silent"]

Progress = Callable[[str, float | None], None]
"""Called with what is being done and the share of it that is done, None where that is not known."""


def silent(what: str, share: float | None) -> None:
    """Tell nobody."""
