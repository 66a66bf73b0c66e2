"""What the server remembers: routes by their content, and map data being read.

Nothing comes from or goes to a path that a client names; a route is known by the hash of its
bytes.
"""

from __future__ import annotations

import hashlib
import threading
import time
from collections import OrderedDict
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar

from resupply.common.errors import ResupplyError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from resupply.route.route import Route

__all__ = ["LoadedRoute", "MapReading", "RecentlyUsed", "route_token"]

T = TypeVar("T")

# A page that was told of a load has so long to listen to it, or to ask again.
_UNWANTED_S = 5.0


class RecentlyUsed(Generic[T]):
    """A few values by key; the one used longest ago goes first. Safe for threads."""

    def __init__(self, size: int) -> None:
        self._size, self._lock = size, threading.Lock()
        self._kept: OrderedDict[str, T] = OrderedDict()

    def get(self, key: str) -> T | None:
        """Value of a key, None if it is not (or no longer) kept."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def put(self, key: str, value: T) -> None:
        """Keep a value."""
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            while len(self._kept) > self._size:
                self._kept.popitem(last=False)

    def drop(self, key: str) -> None:
        """Forget a value, if it is there."""
        with self._lock:
            self._kept.pop(key, None)


@dataclass(frozen=True, slots=True, eq=False)
class LoadedRoute:
    """A route, the name the page knows it by, and where its map data's file names start."""

    token: str
    route: Route
    folder: Path


@dataclass(eq=False)
class MapReading:
    """Map data being read in a thread of its own; guarded by its condition."""

    key: str
    what: str = "Waiting for another load to end"
    share: float | None = None
    steps: int = 0
    """Grows with each change, so that a listener sees what is new."""
    done: bool = False
    error: str | None = None
    cancelled: bool = False
    listeners: int = 0
    wanted_s: float = field(default_factory=time.monotonic)
    """When somebody last asked for it, or stopped listening; on the monotonic clock."""
    changed: threading.Condition = field(default_factory=threading.Condition)

    @contextmanager
    def listened_to(self) -> Iterator[None]:
        """Count as one who waits for the load."""
        with self.changed:
            self.listeners += 1
        try:
            yield
        finally:
            with self.changed:
                self.listeners -= 1
                self.wanted_s = time.monotonic()

    def is_in_vain(self) -> bool:
        """Whether it was cancelled, or nobody waits for it any more."""
        alone = not self.listeners and time.monotonic() - self.wanted_s > _UNWANTED_S
        return self.cancelled or alone

    def tell(self, what: str, share: float | None) -> None:
        """Note progress; stops the load if it is in vain."""
        with self.changed:
            if self.is_in_vain():
                raise ResupplyError("loading was stopped; what was fetched is kept")
            self.what, self.share, self.steps = what, share, self.steps + 1
            self.changed.notify_all()

    def cancel(self) -> None:
        """Stop at the next step."""
        with self.changed:
            self.cancelled = True

    def go_on(self) -> bool:
        """Take back a cancellation that has not taken effect; whether the load still runs."""
        with self.changed:
            if not self.done:
                self.cancelled, self.wanted_s = False, time.monotonic()
            return not self.done

    def run(self, read: Callable[[MapReading], None]) -> None:
        """Read, here and now; whatever happens, those who wait are told."""
        error: str | None = "the map data could not be read; the server's own window says more"
        try:
            read(self)
            error = None
        except ResupplyError as fault:
            error = str(fault)
        except MemoryError:
            error = "out of memory: use a smaller map extract, cut to the region you ride"
        finally:
            with self.changed:
                self.done, self.error, self.steps = True, error, self.steps + 1
                self.changed.notify_all()


def route_token(data: bytes) -> str:
    """Name of an uploaded route: the hash of its bytes."""
    return hashlib.sha256(data).hexdigest()[:24]
