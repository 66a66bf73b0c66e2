"""From what the page sends to a plan: the client's settings over the server's own map data.

A client chooses pace, party, shops and the like. What is read from disk or asked of services is
the server's choice: those keys of the client's trip are ignored.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, NamedTuple

from resupply.common.errors import ResupplyError
from resupply.plan.prepared import cover_span, covers
from resupply.trip.read_file import load_trip, make_trip
from resupply.trip.samples import SAMPLES
from resupply.trip.start import started

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from resupply.plan.prepared import Prepared
    from resupply.report.document.model.plan import PlanDocument
    from resupply.trip.settings import Trip
    from resupply.web.kept_routes import LoadedRoute

__all__ = [
    "Planned",
    "ServerMap",
    "client_tree",
    "file_name",
    "make_plan",
    "own_trip",
    "sample_trip",
    "settled_trip",
    "to_bytes",
]

# Keys that name files or addresses; a client never sets them.
_SERVER_KEYS: Mapping[str, tuple[str, ...]] = {
    "map": ("extracts", "service", "service_url", "contact", "catalogue", "speeds"),
    "region": ("usual_hours",),
    "food": ("dishes",),
    "weather": ("forecast", "forecast_url"),
}
_MOST_DAYS = 400
"""A year and a rest: a slip in the daily distance, not a trip."""


@dataclass(frozen=True, slots=True)
class ServerMap:
    """Map data of the server for uploaded routes."""

    extracts: tuple[str, ...] = ()
    service: bool = False
    service_url: str = ""
    contact: str = ""
    catalogue: str = ""
    """Where map data to fetch is looked for; empty for the usual address."""


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
        if own.catalogue:
            overrides["map.catalogue"] = own.catalogue
    else:
        overrides["map.extracts"] = list(own.map.extracts)
        overrides["route"] = own.route
    trip = make_trip(cleaned, where="page", overrides=overrides)
    return started(trip)


def sample_trip(folder: Path, name: str) -> Trip:
    """Trip of a sample; `name` is one of SAMPLES, never a path."""
    return load_trip(folder / f"{SAMPLES[SAMPLES.index(name)]}.toml")


def client_tree(trip: Trip) -> dict[str, Any]:
    """Write the settings as the page holds them: no files, no addresses."""
    tree: dict[str, Any] = trip.model_dump(mode="json", exclude_defaults=True)
    tree.pop("route", None)
    for table, keys in _SERVER_KEYS.items():
        for key in keys:
            tree.get(table, {}).pop(key, None)
    return {k: v for k, v in tree.items() if v != {}}


def own_trip(trip: Trip, source: LoadedRoute, route_file: str) -> Trip:
    """Make the trip to save: with whole paths of map data, it plans from any folder.

    Parameters
    ----------
    route_file
        Path of a sample's route, or the name of the file the rider opened, to lie beside it.
    """
    extracts = tuple(str(source.folder / name) for name in trip.map.extracts)
    changed = {"map": trip.map.model_copy(update={"extracts": extracts})}
    return trip.model_copy(update={"route": route_file or None, **changed})


def file_name(path: str) -> str:
    """Last part of a path of any system; only ever text in a trip file."""
    return PurePosixPath(path.replace("\\", "/")).name[:200]


class Planned(NamedTuple):
    """A plan for the page."""

    document: PlanDocument
    columns: dict[str, Any] | None
    """Its passes, where it is quick; see `resupply.report.document.pass_columns`."""
    world: Prepared
    """What it was planned on, with the timetable it needed."""


def make_plan(
    world: Prepared,
    trip: Trip,
    folder: Path,
    *,
    quick: bool = False,
    with_places: bool = True,
    step: Callable[[], None],
) -> Planned:
    """Plan and describe.

    Parameters
    ----------
    quick
        While dragging: days, stops, gaps and carry only; no menu, no sweep, no remedies, and
        passes that the plan does not use in columns.
    with_places
        Tell the places too; else `places` is empty.
    step
        Called between the stages; what it raises ends the work.

    Raises
    ------
    ResupplyError
        The trip would take longer than anybody rides.
    """
    from resupply.api import plan_prepared

    planned = plan_prepared(_covered(world, trip), trip, folder, step=step)
    document, columns = planned.quick_document() if quick else (planned.document, None)
    if quick or not with_places:
        places = planned.place_rows() if with_places else {}
        document = replace(document, places=places)
    step()
    return Planned(document, columns, planned.prepared)


def to_bytes(answer: Mapping[str, Any], *, plan: bytes = b"") -> bytes:
    """JSON of an answer; made off the event loop, for plans are large.

    Parameters
    ----------
    plan
        JSON of its plan.
    """
    text = json.dumps(answer, separators=(",", ":"), allow_nan=False).encode()
    return text[:-1] + b',"plan":' + plan + b"}" if plan else text


def _covered(world: Prepared, trip: Trip) -> Prepared:
    """Work out opening hours for more days than this plan needs: the next may need more."""
    from resupply.plan.schedule import span_of

    first, last = span_of(world, trip)
    days = (last - first).days
    if days > _MOST_DAYS:
        raise ResupplyError("at this pace the trip takes longer than a year", mend="Ride further")
    if covers(world, first, last):
        return world
    spare = dt.timedelta(days=days // 2 + 14)
    return cover_span(world, first - dt.timedelta(days=7), last + spare)
