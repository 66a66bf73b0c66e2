"""Every pass of every place within reach of the route.

In: a `Route` and a `PlaceSet`. Out: `Passes`, arrays sorted by chainage. Passes are the local
minima of distance inside the corridor, separated where the route leaves it (with hysteresis,
so that wiggles along the edge make no new pass).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Passes"]


@dataclass(frozen=True, slots=True, eq=False)
class Passes:
    """m passes, sorted by chainage, then place index. Arrays are read-only."""

    place_ix: NDArray[np.int64]
    """(m,) index into `PlaceSet.places`."""
    chainage_m: NDArray[np.float64]
    """(m,) metres: where on the route the place is nearest."""
    offset_m: NDArray[np.float64]
    """(m,) metres, straight (geodesic) from the route."""
    side: NDArray[np.int8]
    """(m,) -1 left, +1 right of the riding direction, 0 on the line."""

    def __len__(self) -> int:
        return len(self.place_ix)
