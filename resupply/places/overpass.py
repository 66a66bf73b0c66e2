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
from resupply.common.progress import Meter, silent
from resupply.common.web_client import WebClient, WebError, is_web_address
from resupply.places.corridor_polygons import corridor_polygons
from resupply.places.coverage import RoadEvidence, joined, stretches_where
from resupply.places.duplicates import merge_duplicates
from resupply.places.extract import place_of
from resupply.places.near_route import make_reach
from resupply.places.overpass_answers import OnDisk, age_days, features_of, roads_of
from resupply.places.overpass_client import Client, road_question
from resupply.places.place import Coverage, PlaceSet, RouteSpan
from resupply.places.tags import RULES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from shapely import MultiPolygon, Polygon

    from resupply.common.progress import Progress
    from resupply.places.near_route import Reach
    from resupply.places.overpass_answers import Answer
    from resupply.places.place import Place
    from resupply.places.sees import Sees
    from resupply.route.route import Route

__all__ = ["make_client", "places_from_service"]

STRETCH_M = 100_000.0
"""Of the route in one question, our choice: the service gives up on much larger ones. The marks are
those of the route, whatever the pace, so that another daily distance asks nothing again."""
_USUAL_S: Final = 20.0
"""For one question, until the first is answered: our guess of a public service."""
_SHORTEST_M: Final = 20_000.0
"""Halved no further, our choice: too much even then is the service's trouble."""
_LEAST_M: Final = 1_000.0
"""A shorter rest goes with the piece before it: our choice."""
# After so many failures in a row the service is left in peace.
_MOST_FAILURES: Final = 3
_FRESH_DAYS: Final = 30
_FARTHEST_LAT: Final = 85.0
# A route follows roads: they prove that the service knows the ground.
_ROADS_WITHIN_M: Final = 500.0
_MOST_BYTES: Final = 64_000_000
_NO_ROADS: Final = "the map service shows no road here, so it may know nothing of this stretch"


def places_from_service(
    route: Route,
    stretches_m: Sequence[tuple[float, float]],
    *,
    client: Client,
    cache_dir: Path,
    reach_m: float,
    progress: Progress = silent,
    also: Sees | None = None,
) -> PlaceSet:
    """Places within reach of stretches of the route, as far as the service answers.

    Parameters
    ----------
    stretches_m
        Start and end chainage of each, metres. Only these are asked for.
    client
        The service, with its deadlines. Once it is stopped, what is there is returned.
    cache_dir
        Folder in which answers are kept; made if missing. An answer not older than 30 days is
        used again without asking; an older one if nothing newer can be had.
    reach_m
        Straight distance from the route, metres.
    progress
        Told how much will be asked and how long that may take, then before each question.
    also
        Shown everything that has come, for the light map.

    Raises
    ------
    MapServiceError
        Nothing at all could be had.
    """
    survey = _Survey(route, reach_m, cache_dir, client)
    todo = [piece for stretch in stretches_m for piece in _pieces(*stretch)]
    ask = [piece for piece in todo if not survey.take_kept(*piece)]
    meter = Meter("Asking the map service", len(ask), _USUAL_S, progress)
    if ask:
        meter.announce(sum(end_m - start_m for start_m, end_m in ask))
    for start_m, end_m in ask:
        meter.step(start_m / route.length_m)
        survey.take(start_m, end_m)
    if todo and not survey.pieces:
        raise MapServiceError(
            survey.unknown[0].reason,
            where=client.endpoint,
            mend="Try again later, or plan with a local map extract",
        )
    if also is not None:
        for piece in survey.pieces:
            for feature in features_of(piece.answer):
                also.see(feature)
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
    """Make a client of a map service.

    Parameters
    ----------
    endpoint
        Address of the service, e.g. `https://overpass-api.de/api`.
    contact
        The rider's mail address or page, sent along as the service's operators ask.
    stop
        Asked between and during requests whether to stop.
    deadline_s
        Seconds after which no more is asked.
    timeout_s, pause_s, attempts
        Seconds of silence after which an attempt is given up, which may last twice as long; the
        first pause after a failed attempt, seconds; and the most attempts for one question.

    Raises
    ------
    MapServiceError
        The address is no web address.
    """
    address = endpoint.strip().rstrip("/").removesuffix("/interpreter")
    if not is_web_address(address):
        raise MapServiceError(
            "not a web address",
            where=address or "the address of the map service",
            mend="Give one that begins with https://",
        )
    web = WebClient(
        who="the map service",
        contact=contact,
        stop=stop or (lambda: False),
        deadline_s=deadline_s,
        timeout_s=timeout_s,
        pause_s=pause_s,
        attempts=attempts,
        most_bytes=_MOST_BYTES,
    )
    return Client(address, web)


def _pieces(start_m: float, end_m: float) -> list[tuple[float, float]]:
    """Cut a stretch at the marks of the route."""
    if end_m <= start_m:
        return []
    marks = [STRETCH_M * number for number in range(int(end_m // STRETCH_M) + 1)]
    # What is left over behind a mark and too short to matter goes with what is before it.
    inner = [mark for mark in marks if start_m + _LEAST_M < mark < end_m - _LEAST_M]
    return list(pairwise([start_m, *inner, end_m]))


def _query_tags() -> dict[str, bool | str | list[str]]:
    """List the table's tags as osmnx takes them."""
    found: dict[str, bool | str | list[str]] = {}
    for rule in RULES:
        values = found.setdefault(rule.key, [])
        if isinstance(values, list) and rule.value not in values:
            values.append(rule.value)
    # For the light map; towns are few.
    found["place"] = ["city", "town", "village"]
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A whole answer, and the stretch it is about."""

    start_m: float
    end_m: float
    answer: Answer
    from_disk: bool
    places: Sequence[tuple[Place, Polygon | MultiPolygon | None]]
    """With their areas, degrees; within reach or not."""
    nowhere: frozenset[str]
    """Ids of places of which the answer doesn't say where they are."""


@dataclass(slots=True)
class _Survey:
    """What has been learnt so far."""

    route: Route
    reach_m: float
    cache_dir: Path
    client: Client
    pieces: list[_Piece] = field(default_factory=list)
    unknown: list[RouteSpan] = field(default_factory=list)
    warnings: dict[str, None] = field(default_factory=dict)
    failures: int = 0
    gave_up: str = ""

    def take_kept(self, start_m: float, end_m: float) -> bool:
        """Learn about a stretch from fresh answers on disk; whether they are there."""
        known = self._kept(start_m, end_m)
        self.pieces += known or []
        return known is not None

    def take(self, start_m: float, end_m: float) -> None:
        """Learn about a stretch, in two halves if it is too much for the service."""
        try:
            # All parts, or the stretch is not known.
            self.pieces += [self._piece(start_m, end_m, q) for q in self._ground(start_m, end_m)]
        except WebError as fault:
            if fault.too_much and end_m - start_m >= 2.0 * _SHORTEST_M:
                middle_m = (start_m + end_m) / 2.0
                for half in ((start_m, middle_m), (middle_m, end_m)):
                    if not self.take_kept(*half):
                        self.take(*half)
                return
            self.unknown.append(RouteSpan(start_m, end_m, fault.reason))

    def _ground(self, start_m: float, end_m: float) -> Iterator[_Ground]:
        """Give what to ask about a stretch."""
        near = corridor_polygons(self.route, start_m, end_m, _ROADS_WITHIN_M)
        for polygon in corridor_polygons(self.route, start_m, end_m, self.reach_m):
            roads_in = tuple(one for one in near if one.intersects(polygon))
            question = {
                "at": self.client.endpoint,
                "in": polygon.wkt,
                "tags": _query_tags(),
                "roads": road_question(roads_in),
            }
            on_disk = OnDisk(self.cache_dir, json.dumps(question, sort_keys=True))
            yield _Ground(polygon, roads_in, on_disk)

    def _kept(self, start_m: float, end_m: float) -> list[_Piece] | None:
        """Fresh answers on disk for a whole stretch, or for both its halves."""
        if not self.cache_dir.is_dir():
            return None
        found = [one.on_disk.read() for one in self._ground(start_m, end_m)]
        fresh = [one for one in found if one is not None and age_days(one) <= _FRESH_DAYS]
        if len(fresh) == len(found):
            return [_piece(start_m, end_m, one, from_disk=True) for one in fresh]
        if end_m - start_m < 2.0 * _SHORTEST_M:
            return None
        middle_m = (start_m + end_m) / 2.0
        first = self._kept(start_m, middle_m)
        second = self._kept(middle_m, end_m) if first is not None else None
        return first + second if first is not None and second is not None else None

    def _piece(self, start_m: float, end_m: float, ground: _Ground) -> _Piece:
        """Ask about some ground; an old answer on disk has to do if that fails."""
        if max(abs(lat) for lat in ground.polygon.bounds[1::2]) > _FARTHEST_LAT:
            raise WebError("the map service can't be asked so close to a pole")
        try:
            body, answer = self._ask(ground)
        except WebError as fault:
            before = ground.on_disk.read()
            if before is None:
                raise
            self.warnings[f"{fault.reason}; older map data had to do"] = None
            return _piece(start_m, end_m, before, from_disk=True)
        made = _piece(start_m, end_m, answer, from_disk=False)
        # What lacks something is used, and asked for again in the next run.
        if not made.nowhere and (why := ground.on_disk.write(body, answer)):
            folder = self.cache_dir
            self.warnings[f"{folder}: answers of the map service can't be kept: {why}"] = None
        return made

    def _ask(self, ground: _Ground) -> tuple[bytes, Answer]:
        if self.gave_up:
            raise WebError(self.gave_up)
        try:
            found = self.client.ask(ground.polygon, _query_tags(), roads_in=ground.roads_in)
        except WebError as fault:
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
        for piece in self.pieces:
            _collect(piece, reach, places, outlines)
        from_disk = [piece.answer.fetched for piece in self.pieces if piece.from_disk]
        if from_disk:
            self.warnings[
                f"{len(from_disk)} of {len(self.pieces)} answers of the map service were "
                f"kept from earlier runs, the oldest from {min(from_disk)[:10]}"
            ] = None
        if not self.client.web.contact.strip() and len(from_disk) < len(self.pieces):
            self.warnings[
                "the map service asks to be told whom to write to: give your mail address as "
                "contact in the table [map] of the trip file"
            ] = None
        return PlaceSet(
            places=merge_duplicates(places, outlines),
            coverage=Coverage(
                source=f"live map service {urlsplit(self.client.endpoint).hostname}",
                data_date=min((piece.answer.data_date for piece in self.pieces), default=None),
                unknown=joined([*self.unknown, *self._incomplete(), *self._unproven()]),
            ),
            warnings=tuple(self.warnings),
        )

    def _incomplete(self) -> Iterator[RouteSpan]:
        """Stretches with places somewhere on which the answers don't say where."""
        lacking: list[tuple[float, float, frozenset[str]]] = []
        for piece in sorted(self.pieces, key=lambda one: (one.start_m, one.end_m)):
            start_m, end_m, ids = piece.start_m, piece.end_m, piece.nowhere
            if ids and lacking and lacking[-1][1] >= start_m:
                # Neighbours are told as one stretch; a place named in both counts once.
                first_m, before_m, others = lacking.pop()
                start_m, end_m, ids = first_m, max(before_m, end_m), ids | others
            if ids:
                lacking.append((start_m, end_m, ids))
        for start_m, end_m, ids in lacking:
            them = "1 place is" if len(ids) == 1 else f"{len(ids)} places are"
            yield RouteSpan(start_m, end_m, f"the map service doesn't say where {them}")

    def _unproven(self) -> Iterator[RouteSpan]:
        """Stretches that were answered without a single road, which every map of them has."""
        evidence = RoadEvidence(self.route)
        for piece in self.pieces:
            for line in roads_of(piece.answer):
                evidence.see_road(line)
        bare = ~evidence.covered(None, roads=1)
        at_m = evidence.chainage_m
        for start_m, end_m in sorted({(piece.start_m, piece.end_m) for piece in self.pieces}):
            here = bare & (at_m >= start_m) & (at_m <= end_m)
            for one in stretches_where(here, at_m, _NO_ROADS):
                yield RouteSpan(max(one.start_m, start_m), min(one.end_m, end_m), one.reason)


@dataclass(frozen=True, slots=True, eq=False)
class _Ground:
    """One question: where, and where its answer is kept."""

    polygon: Polygon
    roads_in: tuple[Polygon, ...]
    on_disk: OnDisk


def _piece(start_m: float, end_m: float, answer: Answer, *, from_disk: bool) -> _Piece:
    places, nowhere = [], set()
    for feature in features_of(answer):
        made = place_of(feature)
        if made is not None and made[0] is not None:
            places.append((made[0], made[1]))
        elif made is not None:
            nowhere.add(feature.id)
    return _Piece(start_m, end_m, answer, from_disk, places, frozenset(nowhere))


def _collect(
    piece: _Piece,
    reach: Reach,
    places: list[Place],
    outlines: dict[str, Polygon | MultiPolygon],
) -> None:
    for place, outline in piece.places:
        if reach.near([place.lon], [place.lat])[0]:
            places.append(place)
            if outline is not None:
                outlines[place.id] = outline
