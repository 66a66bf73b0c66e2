"""How the rider rides: one pair of defaults for the trip file and the legs."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

__all__ = ["Pace"]


@dataclass(frozen=True, slots=True)
class Pace:
    """How the rider rides."""

    depart: dt.time = dt.time(8, 30)
    """Local time of departure each morning."""
    rest_every_h: float = 2.0
    """A rest after each so many hours of riding; 0 for none."""
    rest_min: float = 15.0
    drift_min: float = 10.0
    """How far off an ETA may be just after departure, minutes either way."""
    drift_min_per_h: float = 6.0
    """How much the uncertainty grows per hour since departure."""
    latest_camp: dt.time = dt.time(20, 0)
    """Latest time the rider wants to be in camp, local."""
