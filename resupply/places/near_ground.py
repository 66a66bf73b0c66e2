"""Ground near a route as a bitmap: where each of millions of nodes lies.

In: who wants to see what lies where. Out: for each node, given in whole steps of 1e-7 degrees as
map files hold it, one bit for everyone who may want it. Never wrongly without a bit, but for a
sliver at the rim.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.common.geodesy import to_ecef_m

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from resupply.places.sees import Sees

__all__ = ["CELL_DEG", "STEPS", "WANTED", "NearGround"]

STEPS: Final = 10_000_000
"""Steps of a degree."""
OUTER: Final = 128
"""Bit of the ground some 6 km around: the next node of a line is likely to lie there."""
WANTED: Final = 127
"""All bits but that."""
_CELLS: Final = 50
"""Of a degree: 2.2 km; our choice, smaller ones take longer to make than they save."""
CELL_DEG: Final = 1.0 / _CELLS
"""Width of a cell, degrees."""
_OUTER_CELLS: Final = 3
"""Some 6 km: farther apart two nodes of a road seldom are; our choice."""
_NO_BLOCK: Final = -1
"""Where no degree is kept."""


class NearGround:
    """Cells near a route with the bits of those who want them.

    Parameters
    ----------
    wanting
        At most seven; the first has bit 1, the next bit 2, and so on.
    """

    def __init__(self, wanting: Sequence[Sees]) -> None:
        degrees = sorted(frozenset().union(*(one.reach.degree_cells for one in wanting)))
        around = sorted(
            {(x + i, y + j) for x, y in degrees for i in (-1, 0, 1) for j in (-1, 0, 1)}
        )
        kept = [(x, y) for x, y in around if -180 <= x <= 180 and -90 <= y <= 90]
        self._block = np.full((362, 182), _NO_BLOCK, np.int32)
        self._bits = np.zeros((len(kept), _CELLS, _CELLS), np.uint8)
        inside = set(degrees)
        for number, (x, y) in enumerate(kept):
            self._block[x + 180, y + 90] = number
            if (x, y) in inside:
                self._bits[number] = _block_bits(x, y, wanting)
        self._add_outer(kept)
        west, south = np.min(kept, axis=0)
        east, north = np.max(kept, axis=0) + 1
        self._box = tuple(int(side) * STEPS for side in (west, south, east, north))

    def _add_outer(self, kept: Sequence[tuple[int, int]]) -> None:
        """Widen what has a bit by a few cells, over the edges of blocks too."""
        from scipy.ndimage import maximum_filter

        rim, near = _OUTER_CELLS, self._bits > 0
        padded = np.zeros((len(kept), _CELLS + 2 * rim, _CELLS + 2 * rim), bool)
        # What a block takes from the one before, from itself and from the one behind it.
        into = {-1: slice(rim), 0: slice(rim, -rim), 1: slice(-rim, None)}
        of = {-1: slice(-rim, None), 0: slice(None), 1: slice(rim)}
        for number, (x, y) in enumerate(kept):
            for i in (-1, 0, 1):
                for j in (-1, 0, 1):
                    beside = self._block[(x + i + 180) % 360, min(max(y + j, -90), 90) + 90]
                    if beside != _NO_BLOCK:
                        padded[number, into[i], into[j]] = near[beside, of[i], of[j]]
        grown = maximum_filter(padded, size=(1, 2 * rim + 1, 2 * rim + 1))
        self._bits[grown[:, rim:-rim, rim:-rim]] |= OUTER

    def bits(self, x: NDArray[Any], y: NDArray[Any]) -> NDArray[np.uint8]:
        """Bits of each point; x and y in steps, whole numbers, (n,)."""
        west, south, east, north = self._box
        found = np.zeros(len(x), np.uint8)
        # The quick look at the box comes first: most nodes of a country lie outside.
        inside = np.flatnonzero((x >= west) & (x < east) & (y >= south) & (y < north))
        if inside.size:
            at_x = x[inside].astype(np.int64) + 180 * STEPS
            at_y = y[inside].astype(np.int64) + 90 * STEPS
            block = self._block[at_x // STEPS, at_y // STEPS]
            cell = STEPS // _CELLS
            bits = self._bits[block, at_x % STEPS // cell, at_y % STEPS // cell]
            found[inside] = np.where(block == _NO_BLOCK, 0, bits)
        return found

    def bits_at(self, x: int, y: int) -> int:
        """Bits of one point, in steps."""
        west, south, east, north = self._box
        if not (west <= x < east and south <= y < north):
            return 0
        return int(self.bits(np.array([x]), np.array([y]))[0])

    def bits_of(self, lonlat: NDArray[np.float64]) -> NDArray[np.uint8]:
        """Bits of each point; (n, 2) degrees."""
        x, y = np.round(lonlat * STEPS).astype(np.int64).T
        return self.bits(x, y)


def _block_bits(x: int, y: int, wanting: Sequence[Sees]) -> NDArray[np.uint8]:
    """Bits of the cells of one whole degree; a cell counts if it or a neighbour is wanted."""
    from scipy.ndimage import maximum_filter

    middle = (np.arange(-1, _CELLS + 1) + 0.5) / _CELLS
    lon, lat = np.meshgrid(x + middle, np.clip(y + middle, -90.0, 90.0), indexing="ij")
    points_m = to_ecef_m(lon.ravel(), lat.ravel())
    found = np.zeros((_CELLS, _CELLS), np.uint8)
    for number, one in enumerate(wanting):
        if (x, y) in one.reach.degree_cells:
            near = one.near(points_m).reshape(lon.shape)
            found[maximum_filter(near, size=3)[1:-1, 1:-1]] |= 1 << number
    return found
