"""From files and settings to a `Plan`: what is called first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from resupply.api.again import prepared_for
from resupply.api.arguments import Arguments
from resupply.api.plan_object import Plan, plan_prepared
from resupply.common.progress import silent
from resupply.common.quantity import way
from resupply.common.show import Show, shown
from resupply.common.units import M_PER_KM
from resupply.plan.prepare import prepare
from resupply.route.route import Route
from resupply.trip import read_file as trips
from resupply.trip.settings import Trip
from resupply.trip.start import started

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from resupply.common.progress import Progress
    from resupply.plan.prepared import Prepared
    from resupply.report.document.model.plan import PlanDocument

__all__ = [
    "MapRead",
    "load_trip",
    "plan",
    "plan_files",
    "plan_trip_at",
    "read_map_of",
    "read_route",
]


def plan(
    route: str | Path | Route | Trip,
    *,
    extracts: str | Path | Sequence[str | Path] = (),
    daily_km: float | None = None,
    start: dt.date | str | None = None,
    people: int | None = None,
    settings: Mapping[str, object] | None = None,
    folder: str | Path = ".",
    progress: Progress | None = None,
) -> Plan:
    """Plan a trip along a route.

    Parameters
    ----------
    route
        Path of a route file or of a trip file (.toml), a route already read, or a whole trip.
    extracts
        OpenStreetMap extracts (.osm.pbf, .osm) or an index; together they should cover the route.
    daily_km
        Distance a day, kilometres along the route. A setting left at None is the trip's, else the
        default, and the plan says so.
    start
        First riding day; tomorrow where the trip has none.
    people
        How many eat.
    settings
        Any other setting of the trip file by dotted key: `{"food.carry_limit_days": 3}`.
    folder
        File names of a `Trip`, and in `settings`, are relative to it; for a trip file it is the
        file's own.
    progress
        Told what is being done, and the share that is done.

    Returns
    -------
    Plan
        With its tables and files; see docs/python-api.md.

    Raises
    ------
    RouteError, MapDataError
        A file cannot be used.
    TripFileError
        A setting is wrong: `error.key` is "pace.daily_km", the message speaks of `daily_km=`.

    Examples
    --------
    >>> import resupply
    >>> from resupply.trip.samples import samples_folder
    >>> resupply.plan(samples_folder() / "coast_loop.toml")
    <resupply.Plan 'Round Varrow': 960 km, 5 days from 2027-07-09, 2 food stops>
    """
    files = [extracts] if isinstance(extracts, str | Path) else extracts
    arguments = Arguments.of(
        daily_km=daily_km,
        start=start,
        people=people,
        settings=settings,
        extracts=tuple(str(Path(file).resolve()) for file in files),
    )
    base, read, at = Trip(), None, Path(folder)
    if isinstance(route, Trip):
        base = route
    elif isinstance(route, Route):
        read = route
    elif Path(route).suffix.lower() == ".toml":
        base, at = load_trip(route), Path(route).parent
    else:
        base = Trip(route=str(Path(route).resolve()))
    with arguments.blamed():
        trip = arguments.put_into(base)
        return plan_trip_at(trip, at, route=read, spelled=arguments.spelled, progress=progress)


def plan_trip_at(
    trip: Trip,
    folder: Path,
    *,
    route: Route | None = None,
    notes: Mapping[str, str] | None = None,
    spelled: Mapping[str, str] | None = None,
    progress: Progress | None = None,
    read: MapRead | None = None,
) -> Plan:
    """Read everything a trip names, and plan it.

    Parameters
    ----------
    trip
        Without a date it starts tomorrow, and the plan says so, as it does of a daily distance
        that nobody has given.
    folder
        File names of the trip are relative to it.
    route
        A route already read; then the trip's own is not.
    notes
        Sentences to put before the plan's own cautions, by key.
    spelled
        Key to what the caller wrote, for errors of what is made later.
    read
        Map and route already read, for a trip that names the same files; see `read_map_of`.

    Raises
    ------
    ResupplyError
        Something the trip names cannot be used.
    """
    dated = started(trip)
    assumed = _assumed(trip, dated)
    read = read or read_map_of(dated, folder, route=route, progress=progress)
    prepared = prepared_for(read.prepared, read.trip, dated)
    (progress or silent)("Planning the stops", None)
    told = {**(notes or {}), **assumed}
    return plan_prepared(prepared, dated, folder, notes=told, spelled=spelled, read=read.trip)


class MapRead(NamedTuple):
    """What was read for a trip."""

    prepared: Prepared
    trip: Trip


def read_map_of(
    trip: Trip, folder: Path, *, route: Route | None = None, progress: Progress | None = None
) -> MapRead:
    """Read everything a trip names, and plan nothing yet; see `plan_trip_at`."""
    dated = started(trip)
    return MapRead(prepare(dated, folder, route=route, progress=progress), dated)


def _assumed(trip: Trip, dated: Trip) -> dict[str, str]:
    assumed = {}
    if trip.start.date is None:
        assumed["start.date"] = (
            f"No start date was given: planned from tomorrow, {dated.start.date}."
        )
    if "daily_km" not in trip.pace.model_fields_set:
        daily = shown(way(trip.pace.daily_km * M_PER_KM), Show(trip.show.units))
        assumed["pace.daily_km"] = f"No daily distance was given: planned with {daily} a day."
    return assumed


def plan_files(
    trip: Trip, folder: Path, *, notes: Mapping[str, str] | None = None
) -> tuple[PlanDocument, dict[str, Any]]:
    """Plan document and geometry of a trip; see `plan_trip_at`."""
    planned = plan_trip_at(trip, folder, notes=notes)
    return planned.document, planned.geometry


def read_route(path: str | Path) -> Route:
    """Read a route file: GPX, KML, KMZ, GeoJSON or FIT, whatever its name ends with.

    Raises
    ------
    RouteError
        It cannot be read, or is no route.
    """
    from resupply.route.read import read_route as read

    return read(Path(path))


def load_trip(path: str | Path) -> Trip:
    """Read a trip file; its keys are listed in docs/trip-file.md.

    Raises
    ------
    TripFileError
        It cannot be read, or has a wrong key or value.
    """
    return trips.load_trip(Path(path))
