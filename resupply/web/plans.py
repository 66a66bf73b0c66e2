"""From what the page sends to a plan: the client's settings over the server's own map data.

A client chooses pace, party, shops and the like. What is read from disk or asked of services is
the server's choice: those keys of the client's trip are ignored.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from resupply.trip import load_trip, make_trip

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from resupply.prepare import Prepared
    from resupply.trip import Trip

__all__ = ["SAMPLES", "ServerMap", "plan_answer", "settled_trip"]

SAMPLES = ("coast_loop", "there_and_back", "long_moor")

# Keys that name files or addresses; a client never sets them.
_SERVER_KEYS: Mapping[str, tuple[str, ...]] = {
    "map": ("extracts", "service", "service_url", "contact"),
    "region": ("usual_hours",),
    "food": ("dishes",),
    "weather": ("forecast", "forecast_url"),
}


@dataclass(frozen=True, slots=True)
class ServerMap:
    """Map data of the server for uploaded routes."""

    extracts: tuple[str, ...] = ()
    service: bool = False
    service_url: str = ""
    contact: str = ""


def settled_trip(tree: Mapping[str, Any], own: Trip | ServerMap) -> Trip:
    """Check a client's trip, with the server's files and addresses in it.

    Parameters
    ----------
    tree
        Settings as the client sends them, JSON values.
    own
        The sample trip, or the server's map data for an uploaded route.

    Raises
    ------
    TripFileError
        A wrong key or value.
    """
    cleaned: dict[str, Any] = {k: v for k, v in tree.items() if k != "route"}
    for table, keys in _SERVER_KEYS.items():
        if isinstance(cleaned.get(table), dict):
            cleaned[table] = {k: v for k, v in cleaned[table].items() if k not in keys}
    overrides: dict[str, object] = {}
    if isinstance(own, ServerMap):
        overrides["map.extracts"] = list(own.extracts)
        overrides["map.service"] = own.service
        if own.service_url:
            overrides["map.service_url"] = own.service_url
        overrides["map.contact"] = own.contact
    else:
        overrides["map.extracts"] = list(own.map.extracts)
    trip = make_trip(cleaned, where="page", overrides=overrides)
    if trip.start.date is None:
        tomorrow = dt.datetime.now().astimezone().date() + dt.timedelta(days=1)
        trip = make_trip(trip.model_dump(), overrides={"start.date": tomorrow})
    return trip


def sample_trip(folder: Path, name: str) -> Trip:
    """Trip of a sample; `name` is one of SAMPLES, never a path."""
    return load_trip(folder / f"{SAMPLES[SAMPLES.index(name)]}.toml")


def plan_answer(
    world: Prepared, trip: Trip, folder: Path, *, quick: bool, with_geo: bool
) -> tuple[dict[str, Any], Prepared]:
    """Plan and describe; the world comes back with the timetable it needed.

    Parameters
    ----------
    quick
        While dragging: days, stops, gaps and carry only; no menu, no sweep, no remedies.
    with_geo
        Send the route's geometry too.
    """
    from resupply.pipeline import plan_trip
    from resupply.report.document import plan_document
    from resupply.report.geo import geo_document
    from resupply.run import cook

    if quick:
        trip = make_trip(trip.model_dump(), overrides={"show.sweep": False, "show.remedies": False})
    plan = plan_trip(world, trip)
    document = plan_document(plan, None if quick else cook(plan, folder))
    answer: dict[str, Any] = {"plan": document}
    if with_geo:
        answer["geo"] = geo_document(plan.prepared)
    return answer, plan.prepared
