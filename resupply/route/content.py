"""What counts of a GPX document: points, parts, waypoints, names; and how much of it is read."""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.route import Mark

    Column = NDArray[np.float64]

__all__ = [
    "MAX_BYTES",
    "MAX_MARKS",
    "MAX_PARTS",
    "MAX_POINTS",
    "GpxContent",
    "TrackPart",
]

MAX_BYTES: Final = 200_000_000
"""A larger file is refused: some 1.5 million recorded points, 400 hours at one a second."""
MAX_POINTS: Final = 2_000_000
"""Points of a file's tracks, and of its routes."""
MAX_PARTS: Final = 20_000
"""Separate pieces of line."""
MAX_MARKS: Final = 10_000
"""Further waypoints are left out, and counted."""


@dataclass(slots=True)
class TrackPart:
    """Points of all tracks, or of all routes, with the index at which each part starts."""

    lon: array[float] = field(default_factory=lambda: array("d"))
    lat: array[float] = field(default_factory=lambda: array("d"))
    ele_m: array[float] = field(default_factory=lambda: array("d"))
    starts: list[int] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    """Of the first two lines that have one."""
    count: int = 0
    """Tracks or routes in the file, also empty ones."""

    def parts(self) -> list[tuple[Column, Column, Column]]:
        """Longitude, latitude and elevation of each part, in order."""
        lon, lat, ele_m = (np.frombuffer(c) for c in (self.lon, self.lat, self.ele_m))
        spans = pairwise([*self.starts, len(self.lon)])
        return [(lon[a:b], lat[a:b], ele_m[a:b]) for a, b in spans]


@dataclass(slots=True)
class GpxContent:
    """What counts of a GPX file. All text in it is hostile."""

    title: str = ""
    tracks: TrackPart = field(default_factory=TrackPart)
    routes: TrackPart = field(default_factory=TrackPart)
    marks: list[Mark] = field(default_factory=list)
    marks_left_out: int = 0
    shape_points: int = 0
    """How many of the routes' points come from an extension."""
    notes: list[str] = field(default_factory=list)
    """What its reader tells the rider about the file."""
