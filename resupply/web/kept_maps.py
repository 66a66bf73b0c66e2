"""Maps to plan on, kept between questions: each is read once, for all settings.

In: a trip and its route. Out: a `Prepared`, or the `MapReading` that has to end first. What was
read serves every corridor of the same reach and every choice of shops that are gone.
"""

from __future__ import annotations

import hashlib
import json
import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from resupply.common.errors import ResupplyError
from resupply.places.read import reach_m, reaches_m
from resupply.plan.prepare import prepare, rejoin
from resupply.web.kept_routes import MapReading, RecentlyUsed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from resupply.plan.prepared import Prepared
    from resupply.trip.settings import Trip
    from resupply.web.kept_routes import LoadedRoute

__all__ = ["KeptMap", "KeptMaps"]

# The roads of a long route take hundreds of megabytes, so that only a few are kept.
_MAPS_KEPT = 3
_JOINS_KEPT = 4
_ENDED_LOADS_KEPT = 4
_SHORT_LOAD_S = 1.0
_LISTEN_S = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class KeptMap:
    """A map to plan on, and what it is known by."""

    key: str
    """The page holds geometry and places by it."""
    reading: str
    """What was read, for every corridor and every choice of shops."""
    prepared: Prepared


class KeptMaps:
    """Every world in memory, and the loads under way."""

    def __init__(self) -> None:
        self._maps: RecentlyUsed[Prepared] = RecentlyUsed(_MAPS_KEPT)
        self._joins: RecentlyUsed[Prepared] = RecentlyUsed(_JOINS_KEPT)
        self._loads: dict[str, MapReading] = {}
        self._lock, self._turns = threading.Lock(), _Turns()

    def find(
        self,
        trip: Trip,
        source: LoadedRoute,
        *,
        again: bool = False,
        stopped: Callable[[], bool] = lambda: False,
    ) -> KeptMap | MapReading:
        """Find the world of a trip; short loads are waited for.

        Parameters
        ----------
        again
            Read the map data again, because some of it could not be had before.
        stopped
            Whether nobody waits for the answer any more.

        Raises
        ------
        ResupplyError
            The map data cannot be used.
        """
        map_key = _map_key(trip, source)
        key = _key(map_key, trip)
        if again:
            self._maps.drop(map_key)
            self._joins.drop(key)
        found = self._joins.get(key)
        if found is not None:
            return KeptMap(key, map_key, found)
        read = self._maps.get(map_key)
        if read is None:
            load = self._start(map_key, trip, source)
            with load.listened_to(), load.changed:
                until = time.monotonic() + _SHORT_LOAD_S
                while not (load.done or stopped()) and time.monotonic() < until:
                    load.changed.wait(_LISTEN_S)
            if not load.done:
                return load
            if load.error is not None:
                raise ResupplyError(load.error)
            read = self._maps.get(map_key)
        if read is None:
            raise ResupplyError("too much is asked of this page at once", mend="Try again")
        found = rejoin(read, trip)
        self._joins.put(key, found)
        return KeptMap(key, map_key, found)

    def keep(self, found: KeptMap, world: Prepared) -> None:
        """Take back a world that has got a timetable; other joins of its map share it."""
        self._joins.put(found.key, world)
        read = self._maps.get(found.reading)
        if read is not None and read.places is world.places:
            self._maps.put(found.reading, replace(read, timetable=world.timetable))

    def load(self, key: str) -> MapReading | None:
        """Load of that key, running or ended a while ago."""
        return self._loads.get(key)

    def _start(self, key: str, trip: Trip, source: LoadedRoute) -> MapReading:
        """Begin to read a map, or go on with the load that is doing so."""
        with self._lock:
            running = self._loads.get(key)
            if running is not None and running.go_on():
                return running
            load = self._loads[key] = MapReading(key)
            for old in [k for k, v in self._loads.items() if v.done][:-_ENDED_LOADS_KEPT]:
                del self._loads[old]
        as_mapped = trip.shops.model_copy(update={"gone": (), "no_ice": (), "has_ice": ()})
        plain = trip.model_copy(update={"shops": as_mapped})

        def read(load: MapReading) -> None:
            with self._turns.take(load):
                world = prepare(
                    plain,
                    source.folder,
                    route=source.route,
                    progress=load.tell,
                    stop=load.is_in_vain,
                )
                load.tell("Planning", None)
                self._maps.put(key, world)

        threading.Thread(target=load.run, args=(read,), daemon=True).start()
        return load


class _Turns:
    """Loads run one at a time: next is the one that somebody asked for last."""

    def __init__(self) -> None:
        self._free = threading.Condition()
        self._waiting: list[MapReading] = []
        self._running = False

    @contextmanager
    def take(self, load: MapReading) -> Iterator[None]:
        """Wait for a load's turn; given up as soon as the load is in vain."""
        with self._free:
            self._waiting.append(load)
            try:
                while self._running or self._next() is not load:
                    self._free.wait(_LISTEN_S)
                    load.tell(load.what, None)
                self._running = True
            finally:
                self._waiting.remove(load)
                self._free.notify_all()
        try:
            yield
        finally:
            with self._free:
                self._running = False
                self._free.notify_all()

    def _next(self) -> MapReading:
        return max(self._waiting, key=lambda load: (load.listeners > 0, load.wanted_s))


def _map_key(trip: Trip, source: LoadedRoute) -> str:
    """Name of what is read: everything the reading depends on, and nothing else."""
    keys = trip.map
    read = [keys.extracts, keys.service, keys.service_url, keys.contact, keys.roads]
    # A jump that is ridden is part of the line along which the map is read.
    jumps = trip.jumps.model_dump(mode="json", include={"kind", "each"})
    region = trip.region.model_dump(mode="json")
    return _hashed([source.token, *read, reach_m(trip), region, jumps])


def _key(map_key: str, trip: Trip) -> str:
    """Name of what was read with the corridors, shops and fuel of a trip."""
    near = {str(kind): far for kind, far in reaches_m(trip.map).items()}
    found = [sorted(ids) for ids in (trip.shops.gone, trip.shops.no_ice, trip.shops.has_ice)]
    return _hashed([map_key, near, *found, sorted(trip.fuel.takes)])


def _hashed(value: object) -> str:
    return hashlib.sha256(json.dumps(value).encode()).hexdigest()[:24]
