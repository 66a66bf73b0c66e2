"""What the server remembers: routes by their content, prepared worlds, and loads under way.

Nothing comes from or goes to a path that a client names; a route is known by the hash of its
bytes, a world by the route and the settings it was read with.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar

from resupply.errors import ResupplyError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from resupply.prepare import Prepared
    from resupply.route import Route
    from resupply.trip import Trip

__all__ = ["Load", "Shelf", "Source", "route_token", "world_key"]

T = TypeVar("T")


class Shelf(Generic[T]):
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


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A route and the folder its trip's file names are relative to."""

    route: Route
    folder: Path


@dataclass(eq=False)
class Load:
    """Map data being read for one world. The one mutable value here, guarded by its condition."""

    key: str
    what: str = "Waiting"
    share: float | None = None
    steps: int = 0
    """Grows with each change, so that a listener sees what is new."""
    world: Prepared | None = None
    error: str | None = None
    cancelled: bool = False
    changed: threading.Condition = field(default_factory=threading.Condition)

    @property
    def done(self) -> bool:
        """Whether nothing more will change."""
        return self.world is not None or self.error is not None

    def tell(self, what: str, share: float | None) -> None:
        """Note progress; stops the load if it was cancelled."""
        with self.changed:
            if self.cancelled:
                raise ResupplyError("loading was stopped; what was fetched is kept")
            self.what, self.share, self.steps = what, share, self.steps + 1
            self.changed.notify_all()

    def run(self, read: Callable[[Load], Prepared]) -> None:
        """Read the world, here and now."""
        try:
            world, error = read(self), None
        except ResupplyError as fault:
            world, error = None, str(fault)
        with self.changed:
            self.world, self.error, self.steps = world, error, self.steps + 1
            self.changed.notify_all()


def route_token(data: bytes) -> str:
    """Name of an uploaded route: the hash of its bytes."""
    return hashlib.sha256(data).hexdigest()[:24]


def world_key(token: str, trip: Trip) -> str:
    """Name of a prepared world: whatever the reading of map data depends on."""
    read = {
        "map": trip.map.model_dump(mode="json"),
        "region": trip.region.model_dump(mode="json"),
        "gone": sorted(trip.shops.gone),
    }
    return hashlib.sha256((token + json.dumps(read, sort_keys=True)).encode()).hexdigest()[:24]
