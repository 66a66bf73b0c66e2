"""The geometry a plan is drawn on: the route simplified, and the backdrop under it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.route.simplify import simplify

if TYPE_CHECKING:
    from resupply.plan.prepared import Prepared

__all__ = ["geo_document"]

_MOST_POINTS = 8000
"""Our choice: a phone draws so many at once, and the file stays small."""


def geo_document(prepared: Prepared) -> dict[str, Any]:
    """Route line for drawing, and the backdrop.

    The tolerance starts at 10 m and grows until the line has no more than 8,000 points.
    """
    route = prepared.route
    tolerance_m = 10.0
    line = simplify(route, tolerance_m)
    while line.lon.size > _MOST_POINTS:
        tolerance_m *= 2.0
        line = simplify(route, tolerance_m)
    ele = None
    if np.isfinite(route.ele_m).any():
        known = np.isfinite(route.ele_m)
        at = np.interp(line.chainage_m, route.chainage_m[known], route.ele_m[known])
        ele = [round(x) for x in at.tolist()]
    starts = np.flatnonzero(np.diff(line.part, prepend=-1) != 0)
    return {
        "lon": np.round(line.lon, 5).tolist(),
        "lat": np.round(line.lat, 5).tolist(),
        "chainage_m": np.round(line.chainage_m).astype(int).tolist(),
        "part_start": starts.tolist(),
        "ele_m": ele,
        "backdrop": dict(prepared.backdrop),
    }
