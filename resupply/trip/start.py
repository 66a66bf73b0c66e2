"""When a trip starts that does not say so."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from resupply.trip.settings import Trip

__all__ = ["started", "tomorrow"]


def tomorrow() -> dt.date:
    """Tomorrow by this machine's clock and zone: the rider packs today."""
    return dt.datetime.now().astimezone().date() + dt.timedelta(days=1)


def started(trip: Trip, day: dt.date | None = None) -> Trip:
    """Give a trip without a date this one, or tomorrow's; any other stays as it is."""
    if trip.start.date is not None:
        return trip
    start = trip.start.model_copy(update={"date": day or tomorrow()})
    return trip.model_copy(update={"start": start})
