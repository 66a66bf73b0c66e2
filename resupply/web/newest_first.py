"""Whose turn it is: a page that drags asks faster than plans are made.

Each page has two lanes, one for the quick plans while it drags and one for whole ones. In each
lane one plan is being made and at most one is waited for: whatever is older than the page's
newest question stops at its next step. So a whole plan never holds up a drag, and nothing
piles up.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

import anyio

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

__all__ = ["NewestFirst", "Stale", "Turn"]

_PAGES_KEPT = 64
"""Our choice: more pages than one rider opens; each is a few bytes."""


class Stale(Exception):  # noqa: N818 (no fault: somebody changed their mind)
    """A newer question came, or nobody waits for the answer."""


class Turn:
    """The making of one answer; may be told to stop from any thread."""

    def __init__(self) -> None:
        self._stopped = threading.Event()

    def stop(self) -> None:
        """Give up at the next step."""
        self._stopped.set()

    def is_stopped(self) -> bool:
        """Whether nobody wants the answer any more."""
        return self._stopped.is_set()

    def step(self) -> None:
        """Mark a step of the work; raises `Stale` if it is in vain."""
        if self.is_stopped():
            raise Stale


class _Page:
    def __init__(self) -> None:
        self.newest = -1
        self.lanes = (anyio.Lock(), anyio.Lock())
        self.running: set[Turn] = set()


class NewestFirst:
    """The pages that asked lately. Used on the event loop only."""

    def __init__(self) -> None:
        self._pages: OrderedDict[str, _Page] = OrderedDict()

    @asynccontextmanager
    async def take(self, page: str, seq: int, *, quick: bool) -> AsyncIterator[Turn]:
        """Wait for this question's turn.

        Parameters
        ----------
        page
            The page's own name for itself.
        seq
            Its counter; grows with every change.

        Raises
        ------
        Stale
            Something newer was asked meanwhile.
        """
        own = self._pages.setdefault(page, _Page())
        self._pages.move_to_end(page)
        while len(self._pages) > _PAGES_KEPT:
            self._pages.popitem(last=False)
        if seq < own.newest:
            raise Stale
        own.newest = seq
        for other in own.running:
            other.stop()
        async with own.lanes[quick]:
            if seq < own.newest:
                raise Stale
            turn = Turn()
            own.running.add(turn)
            try:
                yield turn
            finally:
                own.running.discard(turn)
