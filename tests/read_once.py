"""The map near a route is read once by each process of a test run, and followed once.

What is kept goes by the contents of the files, so a file that was changed is read anew.
"""

from __future__ import annotations

import contextlib
from hashlib import sha256
from typing import TYPE_CHECKING
from unittest import mock

from resupply.plan import kept_corridor, prepare

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator, Sequence
    from pathlib import Path

    from resupply.roads.graph import RoadGraph
    from resupply.roads.speeds import Speeds
    from resupply.route.route import Route
    from resupply.trip.settings import Trip

LARGEST_BYTES = 2_000_000
"""Of a file: the samples are smaller. What is larger is what some test is about."""
KEPT = 16


@contextlib.contextmanager
def read_once() -> Iterator[None]:
    """Make the planner's reading of extracts look up what this process has read."""
    read, follow = kept_corridor._read, prepare._roads_under
    maps: dict[Hashable, kept_corridor.Corridor] = {}
    roads: dict[Hashable, tuple[RoadGraph, object]] = {}

    def reading(trip: Trip, paths: Sequence[Path], route: Route, speeds: Speeds, stop: object):
        if not all(path.is_file() and path.stat().st_size < LARGEST_BYTES for path in paths):
            return read(trip, paths, route, speeds, stop)
        contents = (sha256(path.read_bytes()).hexdigest() for path in paths)
        key = (kept_corridor._question(trip, route, speeds), *contents)
        if key not in maps:
            _room(maps)
            maps[key] = read(trip, paths, route, speeds, stop)
        return maps[key]

    def following(graph: RoadGraph, route: Route, cache: Path):
        if cache.is_dir():
            # What is kept there is what a test looks at.
            return follow(graph, route, cache)
        key = (id(graph), route.lon.tobytes(), route.lat.tobytes(), repr(route.breaks))
        if key not in roads:
            _room(roads)
            # With its graph, so that no other can have the same id.
            roads[key] = (graph, follow(graph, route, cache))
        return roads[key][1]

    with (
        mock.patch.object(kept_corridor, "_read", reading),
        mock.patch.object(prepare, "_roads_under", following),
    ):
        yield


def _room(kept: dict[Hashable, object]) -> None:
    if len(kept) >= KEPT:
        del kept[next(iter(kept))]
