"""Readers of one pass over an extract: what they want of it, and what the pass tells of the file.

`resupply.places.osm_scan` shows every reader what any of them wants.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from resupply.common.errors import MapDataError
from resupply.places.tags import rule_keys

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from resupply.places.index_roads import RoadRows
    from resupply.places.near_route import Reach
    from resupply.places.osm_file import Box, Feature, TagLookup

__all__ = [
    "FileFacts",
    "Sees",
    "SeesRoads",
    "keys_of",
    "relation_keys",
    "relation_wanted",
    "stopped",
    "way_wanted",
]


# A file without times has this one.
_NEVER: Final = dt.datetime(1971, 1, 1, tzinfo=dt.UTC)


class Sees:
    """A reader of the pass. It is shown what any reader wants, and makes its own choice."""

    node_keys: tuple[str, ...] = ()
    """A node needs one of these keys."""
    way_keys: tuple[str, ...] = ()
    """A way needs one of these keys."""
    needs_nodes = False
    """Whether it looks at the numbers of a way's nodes; they come out of the library one by one."""
    reach: Reach
    """Surroundings outside which nothing is wanted."""

    def near(self, points_m: NDArray[np.float64], /) -> NDArray[np.bool_]:
        """Whether what has a node there may be wanted; (n, 3) earth-centred metres."""
        return self.reach.holds(points_m)

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether a node or way with such tags is wanted, where it is near."""
        raise NotImplementedError

    def wants_relation(self, _tags: Mapping[str, str], /) -> bool:
        """Whether a relation with such tags is wanted."""
        return False

    def wants_from_afar(self, _tags: TagLookup, /) -> bool:
        """Whether a way with such tags is wanted wherever it is: a shore."""
        return False

    def see(self, feature: Feature, /) -> None:
        """Take what is of use from a feature."""
        raise NotImplementedError

    def file_ends(self) -> None:
        """Take note that what comes next is from another file."""


class SeesRoads(Sees):
    """A reader of roads: way by way from an extract, many rows at once from an index."""

    needs_nodes = True

    def see_rows(self, rows: RoadRows, /) -> None:
        """Take the roads of one extract of an index."""
        raise NotImplementedError


@dataclass(slots=True)
class FileFacts:
    """What the pass learned of the file as a whole."""

    extent: Box | None = None
    """How far its data reaches, west, south, east, north, degrees."""
    newest: dt.datetime | None = None
    """Newest edit of what was looked at, where it was asked for."""
    holds_places: bool = False
    """Whether it has a place of any kind, near the route or not."""

    def see_box(self, west: float, south: float, east: float, north: float) -> None:
        """Widen the extent."""
        if self.extent is not None:
            west, south = min(west, self.extent[0]), min(south, self.extent[1])
            east, north = max(east, self.extent[2]), max(north, self.extent[3])
        self.extent = west, south, east, north

    def see_time(self, item: Any) -> None:
        """Note when an object was edited."""
        self._see(item.timestamp)

    def see_newest(self, text: bytes) -> None:
        """Note when the newest of many objects was edited: ISO date and time, or nothing."""
        if text:
            self._see(dt.datetime.fromisoformat(text.decode()))

    def _see(self, when: dt.datetime) -> None:
        if when > (self.newest or _NEVER):
            self.newest = when


def stopped() -> MapDataError:
    """Give the error of a pass that nobody waits for any more."""
    return MapDataError("reading the map data was stopped")


def relation_wanted(sees: Sequence[Sees], tags: Mapping[str, str]) -> bool:
    """Whether any reader wants a relation."""
    return any(one.wants_relation(tags) for one in sees)


def way_wanted(sees: Sequence[Sees], bits: int, tags: TagLookup) -> bool:
    """Whether any reader wants a node or way with such bits of nearness."""
    return any(bits >> k & 1 and one.wants(tags) for k, one in enumerate(sees))


def keys_of(sees: Sequence[Sees], name: str) -> tuple[str, ...]:
    """All keys of the readers, each once."""
    return tuple(dict.fromkeys(key for one in sees for key in getattr(one, name)))


def relation_keys(sees: Sequence[Sees]) -> tuple[str, ...]:
    """Keys one of which a relation needs."""
    return tuple(dict.fromkeys((*rule_keys(), *keys_of(sees, "way_keys"))))
