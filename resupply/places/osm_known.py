"""Nodes of ways, and places of nodes, as arrays: a country has hundreds of millions.

In: numbers as the scanner reads them. Out: bits of nearness and places, looked up for many at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.places.near_ground import STEPS
from resupply.places.osm_blobs import NODE_ROW

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["KnownNodes", "WayNodes"]


class WayNodes:
    """Numbers of the nodes of many ways."""

    def __init__(self) -> None:
        self.ways: list[int] = []
        self._count, self._refs = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]

    def add(self, ways: Sequence[int], count: NDArray[np.int64], refs: NDArray[np.int64]) -> None:
        """Take ways: numbers, how many nodes each has, and these one after the other."""
        self.ways += ways
        self._count.append(count)
        self._refs.append(refs)

    def flat(self) -> NDArray[np.int64]:
        """Give all numbers, one way after the other."""
        return np.concatenate(self._refs)

    def count(self) -> NDArray[np.int64]:
        """How many nodes each way has."""
        return np.concatenate(self._count)

    def owner(self) -> NDArray[np.int64]:
        """Row of the way each number belongs to."""
        return np.repeat(np.arange(len(self.ways)), self.count())


class KnownNodes:
    """Nodes whose place is known, by number, and their bits of nearness."""

    def __init__(self) -> None:
        self.rows, self.bits = np.zeros(0, NODE_ROW), np.zeros(0, np.uint8)

    def add(self, rows: Sequence[NDArray[Any]], bits: Sequence[NDArray[np.uint8]]) -> None:
        """Take in more, in any order."""
        every = np.concatenate([self.rows, *rows])
        _, at = np.unique(every["id"], return_index=True)
        self.rows, self.bits = every[at], np.concatenate([self.bits, *bits])[at]

    def at(self, refs: NDArray[np.int64]) -> NDArray[np.int64]:
        """Row of each number, -1 where it is not known."""
        if not len(self.rows):
            return np.full(len(refs), -1)
        wanted = np.maximum(refs, 0).astype(np.uint64)
        at = np.minimum(np.searchsorted(self.rows["id"], wanted), len(self.rows) - 1)
        return np.where(self.rows["id"][at] == wanted, at, -1)

    def bits_of(self, refs: NDArray[np.int64]) -> NDArray[np.uint8]:
        """Bits of each number, 0 where it is not known."""
        at = self.at(refs)
        return (
            np.where(at >= 0, self.bits[at], 0) if len(self.bits) else np.zeros(len(at), np.uint8)
        )

    def spots(self, refs: NDArray[np.int64]) -> NDArray[np.float64]:
        """Place of each number, (n, 2) degrees; NaN where it is not known."""
        at = self.at(refs)
        spots = np.full((len(refs), 2), np.nan)
        rows = self.rows[at[at >= 0]]
        spots[at >= 0] = np.stack([rows["x"] / STEPS, rows["y"] / STEPS], axis=-1)
        return spots

    def known_spots(self, refs: NDArray[np.int64]) -> NDArray[np.float64]:
        """Places of those numbers that are known, (k, 2) degrees."""
        spots = self.spots(refs)
        return spots[np.isfinite(spots[:, 0])]
