"""The roads near a route from the live map service, whole or not at all.

In: a `Route` and the address of a service. Out: a `RoadGraph`. A graph with a hole in it would
give long detours where there are short ones, so a stretch without an answer is an error, and
the plan falls back on straight estimates. Answers are kept on disk: the next run goes on.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from resupply.common.errors import MapServiceError
from resupply.common.progress import Meter, silent
from resupply.common.web_client import WebError
from resupply.places.corridor_polygons import corridor_polygons
from resupply.places.overpass_answers import OnDisk, age_days, features_of
from resupply.roads.sources import graph_from_answers
from resupply.roads.speeds import load_speeds

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path
    from typing import Any

    from shapely import Polygon

    from resupply.common.progress import Progress
    from resupply.places.overpass_answers import Answer
    from resupply.places.overpass_client import Client
    from resupply.places.sees import Sees
    from resupply.roads.graph import RoadGraph
    from resupply.roads.speeds import Speeds
    from resupply.route.route import Route

__all__ = ["MOST_BYTES", "graph_from_service"]

MOST_BYTES: Final = 400_000_000
"""Of all answers for one route, our choice: some 4,000 km at 4 MB for each 40 km. What is more is
not asked of a service that many share."""
_USUAL_S: Final = 15.0
"""For one question, until the first is answered: our guess of a public service."""
_PIECE_M: Final = 40_000.0
"""Of the route in one question: our choice, small enough for a public service."""
_LEAST_M: Final = 1_000.0
"""A shorter rest goes with the piece before it: our choice."""
_SHORTEST_M: Final = 5_000.0
"""Halved no further: too much even then is the service's trouble."""
_FRESH_DAYS: Final = 30
"""Our choice: roads change slowly, and the service is shared."""
_MEND: Final = "Try again later, or plan with a local map extract"


def graph_from_service(
    route: Route,
    *,
    client: Client,
    cache_dir: Path,
    reach_m: float = 6_000.0,
    speeds: Speeds | None = None,
    progress: Progress = silent,
    also: Sees | None = None,
) -> RoadGraph:
    """Ask for all roads within reach of a route, piece by piece, however long it is.

    Parameters
    ----------
    client
        The service, with its deadlines.
    cache_dir
        Folder in which answers are kept; made if missing.
    reach_m
        Straight distance from the route, metres.
    speeds
        Speed table; None for the standard one.
    progress
        Told how much will be asked and how long that may take, then before each piece.
    also
        Shown the roads, for the light map.

    Raises
    ------
    MapServiceError
        A piece got no whole answer, or all together are more than `MOST_BYTES`; what has come is
        kept.
    """
    table = speeds or load_speeds()
    asking = _Asking(client, {"highway": list(table.classes)}, cache_dir, route, reach_m)
    marks = [*(_PIECE_M * number for number in range(int(route.length_m // _PIECE_M) + 1))]
    inner = [mark for mark in marks if 0.0 < mark < route.length_m - _LEAST_M]
    pieces = list(pairwise([0.0, *inner, route.length_m]))
    missing = [piece for piece in pieces if not asking.is_kept(*piece)]
    meter = Meter("Asking for the roads", len(missing), _USUAL_S, progress)
    if missing:
        meter.announce(sum(end_m - start_m for start_m, end_m in missing))
    answers = _each(asking, pieces, frozenset(missing), meter, also)
    return graph_from_answers(answers, route, reach_m=reach_m, speeds=table)


def _each(
    asking: _Asking,
    pieces: Sequence[tuple[float, float]],
    missing: frozenset[tuple[float, float]],
    meter: Meter,
    also: Sees | None,
) -> Iterator[Sequence[Mapping[str, Any]]]:
    """Yield the elements of one piece after the other, so that only one is in memory."""
    for start_m, end_m in pieces:
        if (start_m, end_m) in missing:
            meter.step(start_m / asking.route.length_m)
        try:
            for answer in asking.answers(start_m, end_m):
                if also is not None:
                    for feature in features_of(answer):
                        also.see(feature)
                yield answer.elements
        except WebError as fault:
            raise MapServiceError(
                f"the roads from km {start_m / 1000:.0f} to {end_m / 1000:.0f} are not known: "
                f"{fault.reason}",
                where=asking.client.endpoint,
                mend=_MEND,
            ) from fault


@dataclass(slots=True)
class _Asking:
    """Questions for the roads of one route, and the bytes that have come."""

    client: Client
    tags: dict[str, bool | str | list[str]]
    cache_dir: Path
    route: Route
    reach_m: float
    come_bytes: int = 0

    def answers(self, start_m: float, end_m: float) -> Iterator[Answer]:
        """Yield the answers for a stretch; in two halves if it is too much for the service."""
        try:
            for polygon in corridor_polygons(self.route, start_m, end_m, self.reach_m):
                yield self._answer(polygon)
        except WebError as fault:
            if not fault.too_much or end_m - start_m < 2.0 * _SHORTEST_M:
                raise
            middle_m = (start_m + end_m) / 2.0
            yield from self.answers(start_m, middle_m)
            yield from self.answers(middle_m, end_m)

    def is_kept(self, start_m: float, end_m: float) -> bool:
        """Whether there are answers on disk for a stretch, fresh or not."""
        grounds = corridor_polygons(self.route, start_m, end_m, self.reach_m)
        return all(self._on_disk(polygon).exists() for polygon in grounds)

    def _on_disk(self, polygon: Polygon) -> OnDisk:
        question = {"at": self.client.endpoint, "in": polygon.wkt, "roads": self.tags}
        return OnDisk(self.cache_dir, json.dumps(question, sort_keys=True))

    def _answer(self, polygon: Polygon) -> Answer:
        on_disk = self._on_disk(polygon)
        before = on_disk.read()
        if before is not None and age_days(before) <= _FRESH_DAYS:
            return before
        if self.come_bytes > MOST_BYTES:
            raise WebError(f"more than {MOST_BYTES / 1e6:.0f} MB of roads came", final=True)
        body, answer = self.client.ask(polygon, self.tags)
        self.come_bytes += len(body)
        on_disk.write(body, answer)
        return answer
