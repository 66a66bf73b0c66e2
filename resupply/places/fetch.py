"""Which map extracts a route needs, and getting them.

In: a trip with its route. Out: an `Offer` (names, sizes, dates, addresses), then the files in a
folder. Nothing is fetched but the catalogue before somebody has agreed to the offer.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from http import HTTPStatus
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

from resupply.common.download import Remote, download, look_up
from resupply.common.errors import MapDataError, MapServiceError
from resupply.common.kept_answers import age_s, keep, kept, kept_path
from resupply.common.units import S_PER_DAY
from resupply.common.web_client import Question, WebClient, WebError, is_web_address
from resupply.places.catalogue import MOST_CATALOGUE_BYTES, read_catalogue
from resupply.places.read import reach_m
from resupply.places.smallest_set import smallest_set

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from resupply.common.progress import Progress
    from resupply.places.catalogue import Region
    from resupply.route.route import Route
    from resupply.trip.settings import Trip

__all__ = ["FOLDER", "Offer", "OfferedMap", "fetch_maps", "find_maps"]

FOLDER: Final = "maps"
"""Beside the trip, or where the command runs."""
_FRESH_S: Final = 30.0 * S_PER_DAY
"""How long a catalogue serves, our choice: regions change a few times a year."""
_DEADLINE_S: Final = 120.0
"""For a catalogue of some megabytes: our choice."""
_SILENCE_S: Final = 20.0
"""Our choice, as for the other services."""
_PAUSE_S = 1.0
"""After the first fault: our choice."""
_ATTEMPTS: Final = 3
"""Our choice, as for the other services."""


@dataclass(frozen=True, slots=True, eq=False)
class OfferedMap:
    """One extract, and what it is for."""

    name: str
    remote: Remote
    file_name: str
    on_route_m: float
    """Length of route in it, metres; 0 if it is for ground beside the route only."""


@dataclass(frozen=True, slots=True, eq=False)
class Offer:
    """What would be fetched for a route."""

    server: str
    """Host or file the catalogue is from."""
    maps: tuple[OfferedMap, ...]
    beside_lacks: bool
    """Whether ground beside the route is left out, for the size of the extracts that hold it."""
    lacking_m: float
    """Length of route in none of them, metres."""
    problem: str = ""
    """Why sizes and dates are not the server's own; empty if they are."""

    @property
    def size_bytes(self) -> int | None:
        """Of all together; None if one is not known."""
        sizes = [one.remote.size_bytes for one in self.maps]
        return sum(size or 0 for size in sizes) if None not in sizes else None


def find_maps(
    trip: Trip,
    folder: Path,
    route: Route,
    tell: Progress,
    *,
    all_around: bool = False,
    stop: Callable[[], bool] = lambda: False,
) -> Offer:
    """Look for the smallest set of extracts that covers a route and the ground around it.

    Parameters
    ----------
    folder
        The catalogue is kept in its `cache`.
    all_around
        Leave out no ground beside the route, whatever its size.

    Raises
    ------
    MapDataError
        There is no catalogue, or it has nothing for the route.
    """
    where = trip.map.catalogue
    server = urlsplit(where).hostname or where
    tell(f"Looking for map data at {server}", None)
    regions, problem = _regions(where, folder, stop)
    chosen = smallest_set(route, regions, reach_m(trip), all_around=all_around)
    if not chosen.regions:
        raise MapDataError(
            "the catalogue has no map extract for this route",
            where=where,
            mend="Set map.catalogue to another one, or ask the live map service with --service",
        )
    maps = []
    for region, on_route_m in zip(chosen.regions, chosen.on_route_m, strict=True):
        remote = Remote(region.url, region.size_bytes, date=region.date)
        if not problem:
            try:
                remote = look_up(region.url, _who(region.url), stop=stop)
            except WebError as error:
                problem = str(error)
        maps.append(OfferedMap(region.name, remote, region.file_name, on_route_m))
    return Offer(server, tuple(maps), chosen.beside_lacks, chosen.lacking_m, problem)


def fetch_maps(
    offer: Offer,
    folder: Path,
    tell: Progress,
    *,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Fetch all extracts of an offer.

    Parameters
    ----------
    folder
        Of the extracts; made where it is missing.

    Returns
    -------
    tuple
        The files, and what a rider should know of them.

    Raises
    ------
    MapServiceError, OutputError
        One of them could not be had; those that came are there, and what came of it is kept.
    """
    if offer.problem:
        raise MapServiceError(offer.problem, mend="Try again where there is a network")
    paths, told = [], []
    for one in offer.maps:
        paths.append(folder / one.file_name)
        told.append(download(one.remote, paths[-1], _who(one.remote.url), tell=tell, stop=stop))
    return tuple(paths), tuple(line for line in told if line)


def _who(url: str) -> str:
    return urlsplit(url).hostname or url


def _regions(where: str, folder: Path, stop: Callable[[], bool]) -> tuple[tuple[Region, ...], str]:
    """Regions of the catalogue, and why it is only a kept one; empty if it is new enough.

    Raises
    ------
    MapDataError
        There is none, or it is none.
    """
    if not is_web_address(where):
        path = folder / where
        try:
            return read_catalogue(path.read_bytes(), str(path)), ""
        except OSError as error:
            raise MapDataError(
                f"the catalogue cannot be read ({error.strerror or error})",
                where=str(path),
                mend="Set map.catalogue to a file or an address that is there",
            ) from error
    path = kept_path(folder / "cache", "catalogue", where)
    earlier = kept(path, where)
    now = dt.datetime.now(dt.UTC)
    if earlier is not None and age_s(earlier.fetched, now) < _FRESH_S:
        return read_catalogue(earlier.body, where), ""
    try:
        body = _asked(where, stop)
        regions = read_catalogue(body, where)
    except (WebError, MapDataError) as error:
        if earlier is not None:
            return read_catalogue(earlier.body, where), str(error)
        if isinstance(error, MapDataError):
            raise
        raise MapServiceError(
            f"{error}, and no earlier catalogue of map extracts is kept",
            where=where,
            mend="Try again where there is a network, or fetch an extract (.osm.pbf) of the region "
            "by hand and give it with --extract",
        ) from error
    keep(path, where, body, now.isoformat(timespec="seconds"))
    return regions, ""


def _asked(where: str, stop: Callable[[], bool]) -> bytes:
    """Catalogue as the server sends it.

    Raises
    ------
    WebError
        It could not be had.
    """
    web = WebClient(
        _who(where),
        deadline_s=_DEADLINE_S,
        timeout_s=_SILENCE_S,
        most_bytes=MOST_CATALOGUE_BYTES,
        pause_s=_PAUSE_S,
        attempts=_ATTEMPTS,
        stop=stop,
    )

    def once() -> bytes:
        reply = web.ask(Question(where, headers={"User-Agent": web.agent}), within_s=_DEADLINE_S)
        if reply.status != HTTPStatus.OK:
            raise WebError(f"{web.who} has no catalogue there (status {reply.status})", final=True)
        return reply.body

    return web.patiently(once)
