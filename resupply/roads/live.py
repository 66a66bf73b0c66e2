"""The roads near a short route from the live map service, whole or not at all.

In: a `Route` and the address of a service. Out: a `RoadGraph`. A graph with a hole in it would
give long detours where there are short ones, so a stretch without an answer is an error, and
the plan falls back on straight estimates. Answers are kept on disk: the next run goes on.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final

from resupply.common.errors import MapServiceError
from resupply.common.progress import silent
from resupply.common.web_client import WebError
from resupply.places.corridor_polygons import corridor_polygons
from resupply.places.overpass_answers import OnDisk, age_days
from resupply.roads.sources import graph_from_elements
from resupply.roads.speeds import load_speeds

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path
    from typing import Any

    from shapely import Polygon

    from resupply.common.progress import Progress
    from resupply.places.overpass_client import Client
    from resupply.roads.graph import RoadGraph
    from resupply.roads.speeds import Speeds
    from resupply.route.route import Route

__all__ = ["MOST_M", "graph_from_service"]

MOST_M: Final = 500_000.0
"""Longer routes must bring an extract: all roads of a corridor are a lot to ask of a service."""
_PIECE_M: Final = 40_000.0
"""Of the route in one question: our choice, small enough for a public service."""
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
) -> RoadGraph:
    """Ask for all roads within reach of a route, piece by piece.

    Parameters
    ----------
    route
        At most `MOST_M` long.
    client
        The service, with its deadlines.
    cache_dir
        Folder in which answers are kept; made if missing.
    reach_m
        Straight distance from the route, metres.
    speeds
        Speed table; None for the standard one.
    progress
        Told before each piece.

    Raises
    ------
    MapServiceError
        The route is too long to ask for, or a piece of it got no whole answer.
    """
    if route.length_m > MOST_M:
        raise MapServiceError(
            f"the roads along {route.length_m / 1000:.0f} km are too much for the map service",
            where=client.endpoint,
            mend="Plan with a local map extract",
        )
    table = speeds or load_speeds()
    tags: dict[str, bool | str | list[str]] = {"highway": list(table.classes)}
    count = max(int(-(-route.length_m // _PIECE_M)), 1)
    elements: list[Mapping[str, Any]] = []
    for number in range(count):
        progress("Asking for the roads", number / count)
        start_m = route.length_m * number / count
        end_m = route.length_m * (number + 1) / count
        try:
            elements += _ask(client, tags, cache_dir, route, (start_m, end_m), reach_m)
        except WebError as fault:
            raise MapServiceError(
                f"the roads from km {start_m / 1000:.0f} to {end_m / 1000:.0f} are not known: "
                f"{fault.reason}",
                where=client.endpoint,
                mend=_MEND,
            ) from fault
    return graph_from_elements(elements, route, reach_m=reach_m, speeds=table)


def _ask(
    client: Client,
    tags: dict[str, bool | str | list[str]],
    cache_dir: Path,
    route: Route,
    stretch_m: tuple[float, float],
    reach_m: float,
) -> Iterator[Mapping[str, Any]]:
    """Yield the elements of a stretch; in two halves if it is too much for the service."""
    start_m, end_m = stretch_m
    try:
        for polygon in corridor_polygons(route, start_m, end_m, reach_m):
            yield from _elements(client, tags, cache_dir, polygon)
    except WebError as fault:
        if not fault.too_much or end_m - start_m < 2.0 * _SHORTEST_M:
            raise
        middle_m = (start_m + end_m) / 2.0
        yield from _ask(client, tags, cache_dir, route, (start_m, middle_m), reach_m)
        yield from _ask(client, tags, cache_dir, route, (middle_m, end_m), reach_m)


def _elements(
    client: Client,
    tags: dict[str, bool | str | list[str]],
    cache_dir: Path,
    polygon: Polygon,
) -> tuple[Mapping[str, Any], ...]:
    question = json.dumps({"at": client.endpoint, "in": polygon.wkt, "roads": tags}, sort_keys=True)
    on_disk = OnDisk(cache_dir, question)
    before = on_disk.read()
    if before is not None and age_days(before) <= _FRESH_DAYS:
        return before.elements
    body, answer = client.ask(polygon, tags)
    on_disk.write(body, answer)
    return answer.elements
