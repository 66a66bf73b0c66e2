"""Places near a route from the live map service (Overpass), stretch by stretch.

In: a `Route`, its legs and an address. Out: a `PlaceSet`. A stretch without a whole answer is
*not known*, never "no shops". Answers are kept on disk, so that an interrupted run goes on
where it stopped.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

from resupply.common.errors import MapServiceError
from resupply.places.corridor_polygons import corridor_polygons
from resupply.places.duplicates import merge_duplicates
from resupply.places.extract import place_of
from resupply.places.near_route import make_reach
from resupply.places.overpass_answers import age_days, cache_path, features_of, keep, kept
from resupply.places.overpass_client import Client, ServiceError
from resupply.places.place import Coverage, PlaceSet, RouteSpan
from resupply.places.tags import RULES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from shapely import MultiPolygon, Polygon

    from resupply.places.near_route import Reach
    from resupply.places.overpass_answers import Answer
    from resupply.places.place import Place
    from resupply.route.route import Route

__all__ = ["make_client", "places_from_service"]

# One question covers at most this much of the route; the service gives up on larger ones.
_LONGEST_M: Final = 150_000.0
_SHORTEST_M: Final = 20_000.0
# After so many failures in a row the service is left in peace.
_MOST_FAILURES: Final = 3
_FRESH_DAYS: Final = 30
_FARTHEST_LAT: Final = 85.0


def places_from_service(
    route: Route,
    legs_m: Sequence[tuple[float, float]],
    *,
    reach_m: float,
    cache_dir: Path,
    endpoint: str,
    contact: str = "",
    on_progress: Callable[[int, int], None] | None = None,
    stop: Callable[[], bool] | None = None,
    deadline_s: float = 1_800.0,
    timeout_s: float = 120.0,
    pause_s: float = 5.0,
    attempts: int = 4,
) -> PlaceSet:
    """Places within reach of the legs, as far as the service answers.

    Parameters
    ----------
    legs_m
        Start and end chainage of each leg, metres. Only these are asked for.
    reach_m
        Straight distance from the route, metres.
    cache_dir
        Folder in which answers are kept; made if missing. An answer not older than 30 days is
        used again without asking; an older one if nothing newer can be had.
    endpoint
        Address of the service, e.g. `https://overpass-api.de/api`.
    contact
        The rider's mail address or page, sent along as the service's operators ask.
    on_progress
        Told how many stretches of how many are done.
    stop
        Asked between and during requests whether to stop; what is there is then returned.
    deadline_s
        Seconds after which no more is asked.
    timeout_s, pause_s, attempts
        Seconds without an answer after which an attempt is given up; the first pause after a
        failed attempt, seconds; and the most attempts for one stretch.

    Raises
    ------
    MapServiceError
        The address is no web address, or nothing at all could be had.
    """
    client = make_client(
        endpoint,
        contact,
        stop=stop,
        deadline_s=deadline_s,
        timeout_s=timeout_s,
        pause_s=pause_s,
        attempts=attempts,
    )
    survey = _Survey(route, reach_m, cache_dir, client)
    todo = [piece for leg in legs_m for piece in _pieces(*leg)]
    for number, (start_m, end_m) in enumerate(todo):
        if on_progress is not None:
            on_progress(number, len(todo))
        survey.take(start_m, end_m)
    if on_progress is not None:
        on_progress(len(todo), len(todo))
    if todo and not survey.answers:
        raise MapServiceError(
            survey.unknown[0].reason,
            where=client.endpoint,
            mend="Try again later, or plan with a local map extract",
        )
    return survey.place_set()


def make_client(
    endpoint: str,
    contact: str = "",
    *,
    stop: Callable[[], bool] | None = None,
    deadline_s: float = 1800.0,
    timeout_s: float = 120.0,
    pause_s: float = 5.0,
    attempts: int = 4,
) -> Client:
    """Make a client of a map service; see `places_from_service` for what the figures mean.

    Raises
    ------
    MapServiceError
        The address is no web address.
    """
    address = endpoint.strip().rstrip("/").removesuffix("/interpreter")
    _check_address(address)
    return Client(
        endpoint=address,
        contact=contact,
        stop=stop or (lambda: False),
        deadline_s=deadline_s,
        timeout_s=timeout_s,
        pause_s=pause_s,
        attempts=attempts,
    )


def _check_address(address: str) -> None:
    try:
        parts = urlsplit(address)
        usable = parts.scheme in ("http", "https") and bool(parts.hostname)
    except ValueError:
        usable = False
    if not usable:
        raise MapServiceError(
            "not a web address",
            where=address or "the address of the map service",
            mend="Give one that begins with https://",
        )


def _pieces(start_m: float, end_m: float) -> list[tuple[float, float]]:
    """Cut a leg into equal pieces of which none is too long."""
    if end_m <= start_m:
        return []
    count = int(-(-(end_m - start_m) // _LONGEST_M))
    ends = [start_m + (end_m - start_m) * number / count for number in range(count + 1)]
    return list(pairwise(ends))


def _query_tags() -> dict[str, bool | str | list[str]]:
    """List the table's tags as osmnx takes them."""
    found: dict[str, bool | str | list[str]] = {}
    for rule in RULES:
        values = found.setdefault(rule.key, [])
        if isinstance(values, list) and rule.value not in values:
            values.append(rule.value)
    return found


@dataclass(slots=True)
class _Survey:
    """What has been learnt so far."""

    route: Route
    reach_m: float
    cache_dir: Path
    client: Client
    answers: list[Answer] = field(default_factory=list)
    unknown: list[RouteSpan] = field(default_factory=list)
    warnings: dict[str, None] = field(default_factory=dict)
    from_disk: list[Answer] = field(default_factory=list)
    failures: int = 0
    gave_up: str = ""

    def take(self, start_m: float, end_m: float) -> None:
        """Learn about a stretch, in two halves if it is too much for the service."""
        if (known := self._kept(start_m, end_m)) is not None:
            self.answers += known
            self.from_disk += known
            return
        try:
            # All parts, or the stretch is not known.
            self.answers += [self._answer(polygon) for polygon in self._ground(start_m, end_m)]
        except ServiceError as fault:
            if fault.too_much and end_m - start_m >= 2.0 * _SHORTEST_M:
                middle_m = (start_m + end_m) / 2.0
                self.take(start_m, middle_m)
                self.take(middle_m, end_m)
                return
            self.unknown.append(RouteSpan(start_m, end_m, fault.reason))

    def _ground(self, start_m: float, end_m: float) -> tuple[Polygon, ...]:
        return corridor_polygons(self.route, start_m, end_m, self.reach_m)

    def _kept(self, start_m: float, end_m: float) -> list[Answer] | None:
        """Fresh answers on disk for a whole stretch, or for both its halves."""
        if not self.cache_dir.is_dir():
            return None
        found = [kept(*self._place_on_disk(part)) for part in self._ground(start_m, end_m)]
        fresh = [one for one in found if one is not None and age_days(one) <= _FRESH_DAYS]
        if len(fresh) == len(found):
            return fresh
        if end_m - start_m < 2.0 * _SHORTEST_M:
            return None
        middle_m = (start_m + end_m) / 2.0
        first = self._kept(start_m, middle_m)
        second = self._kept(middle_m, end_m) if first is not None else None
        return first + second if first is not None and second is not None else None

    def _place_on_disk(self, polygon: Polygon) -> tuple[Path, str]:
        question = json.dumps(
            {"at": self.client.endpoint, "in": polygon.wkt, "tags": _query_tags()}, sort_keys=True
        )
        return cache_path(self.cache_dir, question), question

    def _answer(self, polygon: Polygon) -> Answer:
        """Ask about a polygon; an old answer on disk has to do if that fails."""
        if max(abs(lat) for lat in polygon.bounds[1::2]) > _FARTHEST_LAT:
            raise ServiceError("the map service can't be asked so close to a pole")
        path, question = self._place_on_disk(polygon)
        try:
            body, answer = self._ask(polygon)
        except ServiceError as fault:
            before = kept(path, question)
            if before is None:
                raise
            self.warnings[f"{fault.reason}; older map data had to do"] = None
            self.from_disk.append(before)
            return before
        if why := keep(path, question, body, answer.fetched):
            self.warnings[f"{path.parent}: answers of the map service can't be kept: {why}"] = None
        return answer

    def _ask(self, polygon: Polygon) -> tuple[bytes, Answer]:
        if self.gave_up:
            raise ServiceError(self.gave_up)
        try:
            found = self.client.ask(polygon, _query_tags())
        except ServiceError as fault:
            self.failures += not fault.too_much
            if fault.final or self.failures >= _MOST_FAILURES:
                self.gave_up = fault.reason
            raise
        self.failures = 0
        return found

    def place_set(self) -> PlaceSet:
        """All places found, and what is not known."""
        reach = make_reach(self.route, self.reach_m)
        places: list[Place] = []
        outlines: dict[str, Polygon | MultiPolygon] = {}
        for answer in self.answers:
            _collect(answer, reach, places, outlines)
        dates = [answer.data_date for answer in self.answers]
        if self.from_disk:
            oldest = min(answer.fetched for answer in self.from_disk)[:10]
            self.warnings[
                f"{len(self.from_disk)} of {len(self.answers)} answers of the map service were "
                f"kept from earlier runs, the oldest from {oldest}"
            ] = None
        if not self.client.contact.strip() and len(self.from_disk) < len(self.answers):
            self.warnings[
                "the map service asks to be told whom to write to: give your mail address as "
                "contact in the table [map] of the trip file"
            ] = None
        return PlaceSet(
            places=merge_duplicates(places, outlines),
            coverage=Coverage(
                source=f"live map service {urlsplit(self.client.endpoint).hostname}",
                data_date=None if None in dates else min((d for d in dates if d), default=None),
                unknown=_joined(self.unknown),
            ),
            warnings=tuple(self.warnings),
        )


def _collect(
    answer: Answer,
    reach: Reach,
    places: list[Place],
    outlines: dict[str, Polygon | MultiPolygon],
) -> None:
    for feature in features_of(answer):
        made = place_of(feature)
        if made is None or made[0] is None:
            continue
        place, outline = made
        if place is not None and reach.near([place.lon], [place.lat])[0]:
            places.append(place)
            if outline is not None:
                outlines[place.id] = outline


def _joined(stretches: Sequence[RouteSpan]) -> tuple[RouteSpan, ...]:
    """Sorted; neighbours with the same reason as one."""
    found: list[RouteSpan] = []
    for stretch in sorted(stretches, key=lambda one: (one.start_m, one.end_m)):
        if found and stretch.start_m <= found[-1].end_m and stretch.reason == found[-1].reason:
            before = found.pop()
            stretch = RouteSpan(before.start_m, max(before.end_m, stretch.end_m), before.reason)
        found.append(stretch)
    return tuple(found)
