"""Where road graphs come from: local extracts, or answers of the live map service.

In: `.osm.pbf`/`.osm` files or elements of answers, and the route. Out: a `RoadGraph` of the roads
within reach of the route. `RoadCollector` takes them from the pass that reads the places too.
"""

from __future__ import annotations

import re
from array import array
from math import nan
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.places.near_route import make_reach
from resupply.places.sees import SeesRoads
from resupply.roads.graph import make_graph
from resupply.roads.pieces import (
    Pieces,
    distance_to_route_m,
    join_pieces,
    route_ends,
    route_points_m,
    split_at_barriers,
    split_at_points,
    split_pieces,
)
from resupply.roads.speeds import Surface, load_speeds
from resupply.roads.ways import Road, barrier_closed, road_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from resupply.places.index_roads import RoadRows
    from resupply.places.osm_file import Feature, TagLookup
    from resupply.roads.graph import RoadGraph
    from resupply.roads.speeds import Speeds
    from resupply.route.route import Route

__all__ = ["REACH_M", "RoadCollector", "graph_from_answers"]

REACH_M = 20_000.0
"""How far from the route roads are kept."""
Vertices = tuple["NDArray[np.int64]", "NDArray[np.float64]", "NDArray[np.float64]"]
"""Numbers of nodes, longitudes, latitudes (degrees), each (k,)."""
# Stands where a set of tags makes no road; no way has it.
_NO_ROAD = Road(0, Surface.UNKNOWN, 0.0, 0.0)
# Keys that `road_of` looks at.
_MATTERS = re.compile(
    "(access|area|bridge|highway|junction|maxspeed|motor|oneway|service|smoothness|surface|track"
    "|tunnel|vehicle)"
)
# Vertices gathered before those far from the route are thrown away: 24 bytes each.
_BATCH_VERTICES = 2_000_000


class RoadCollector(SeesRoads):
    """Takes the roads near a route from a pass over extracts.

    Parameters
    ----------
    route
        The planned route.
    reach_m
        How far from the route roads are kept, metres. Roads are cut there, so a detour that
        would need to go farther is not found.
    speeds
        Speed table; None for the standard one.
    """

    node_keys = ("barrier",)
    way_keys = ("highway",)

    def __init__(
        self, route: Route, *, reach_m: float = REACH_M, speeds: Speeds | None = None
    ) -> None:
        from scipy.spatial import cKDTree

        # Wider by a cell of the ground: a narrow reach could slip between their middles.
        self.reach = make_reach(route, reach_m + 3_000.0)
        self._line = cKDTree(route_points_m(route, 250.0))
        self._speeds = speeds or load_speeds()
        self._gathered = _Gathered(route, reach_m)
        self._judged: dict[tuple[tuple[str, str], ...], Road | None] = {}

    def near(self, points_m: NDArray[np.float64], /) -> NDArray[np.bool_]:
        """Whether a road there is kept."""
        found = self.reach.holds(points_m)
        away_m, _ = self._line.query(points_m[found], distance_upper_bound=self.reach.reach_m)
        found[found] = np.isfinite(away_m)
        return found

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it is a road that may be ridden, or may shut one."""
        return tags.get("highway") in self._speeds.classes or tags.get("barrier") is not None

    def see(self, feature: Feature, /) -> None:
        """Take a road, or a barrier that shuts one."""
        kind, _, number = feature.id.partition("/")
        if kind == "node" and barrier_closed(feature.tags):
            self._gathered.closed.add(int(number))
        if kind != "way" or feature.refs is None or feature.spots is None or len(feature.refs) < 2:
            return
        if "highway" in feature.tags and (road := self._road(feature.tags)) is not None:
            lon, lat = feature.spots.T.tolist()
            self._gathered.add(int(number), road, feature.refs.tolist(), lon, lat)

    def see_rows(self, rows: RoadRows, /) -> None:
        """Take the roads and barriers of one extract of an index."""
        # Thousands of barriers share a few sets of tags.
        sets = {id(tags): tags for _, tags in rows.barriers}
        shuts = {key for key, tags in sets.items() if barrier_closed(tags)}
        self._gathered.closed.update(ref for ref, tags in rows.barriers if id(tags) in shuts)
        roads = [self._road(tags) for tags in rows.tags]
        is_road = np.array([road is not None for road in roads], bool)
        keep = is_road[rows.tags_ix] & (rows.count > 1)
        kept = np.repeat(keep, rows.count)
        judged = [road or _NO_ROAD for road in roads]
        self._gathered.add_rows(
            rows.way_id[keep],
            judged,
            rows.tags_ix[keep],
            rows.count[keep],
            (rows.ref[kept], rows.lon[kept], rows.lat[kept]),
        )

    def _road(self, tags: Mapping[str, str]) -> Road | None:
        """Judge a road; a country knows a few hundred sets of the tags that matter."""
        own = tuple(sorted(item for item in tags.items() if _MATTERS.match(item[0])))
        if own not in self._judged:
            self._judged[own] = road_of(tags, self._speeds)
        return self._judged[own]

    def file_ends(self) -> None:
        """Close the set of ways of a file: another may hold the same ones."""
        self._gathered.prune()

    def graph(self, source: str) -> RoadGraph:
        """Join what was seen; `source` in words."""
        return self._gathered.graph(self._speeds, source)


def graph_from_answers(
    answers: Iterable[Sequence[Mapping[str, Any]]],
    route: Route,
    *,
    reach_m: float,
    speeds: Speeds | None = None,
) -> RoadGraph:
    """Make a graph of what the live map service has sent, one answer after the other.

    Parameters
    ----------
    answers
        Elements (nodes and ways) of checked answers of the service; several may hold a way.
    route, reach_m, speeds
        As for `RoadCollector`.
    """
    table = speeds or load_speeds()
    gathered = _Gathered(route, reach_m)
    for elements in answers:
        _gather(gathered, elements, table)
        gathered.prune()
    return gathered.graph(table, "live map service")


def _gather(gathered: _Gathered, elements: Sequence[Mapping[str, Any]], table: Speeds) -> None:
    by_id = {(element["type"], element["id"]): element for element in elements}
    # The order of ways decides that of the edges; in an extract it is by number.
    for (kind, number), element in sorted(by_id.items(), key=lambda item: item[0]):
        tags = element.get("tags", {})
        if kind == "node" and barrier_closed(tags):
            gathered.closed.add(number)
        road = road_of(tags, table) if kind == "way" else None
        if road is not None and len(element["nodes"]) > 1:
            refs = element["nodes"]
            spots = [by_id.get(("node", ref)) for ref in refs]
            lon = [nan if spot is None else float(spot["lon"]) for spot in spots]
            lat = [nan if spot is None else float(spot["lat"]) for spot in spots]
            gathered.add(number, road, refs, lon, lat)


class _Gathered:
    """Ways as they are read, in flat arrays; those far from the route are dropped in batches."""

    def __init__(self, route: Route, reach_m: float) -> None:
        self.route, self.reach_m = route, reach_m
        self.kept: list[Pieces] = []
        self.open_source: list[Pieces] = []
        self.closed: set[int] = set()
        self._start_batch()

    def _start_batch(self) -> None:
        self.ref, self.lon, self.lat = array("q"), array("d"), array("d")
        self.count, self.way_id = array("q"), array("q")
        self.roads: list[Road] = []

    def add(
        self,
        way_id: int,
        road: Road,
        ref: Sequence[int],
        lon: Sequence[float],
        lat: Sequence[float],
    ) -> None:
        self.ref.extend(ref)
        self.lon.extend(lon)
        self.lat.extend(lat)
        self.count.append(len(ref))
        self.way_id.append(way_id)
        self.roads.append(road)
        if len(self.ref) >= _BATCH_VERTICES:
            self.prune(end_of_source=False)

    def prune(self, *, end_of_source: bool = True) -> None:
        """Keep what is near the route; at the end of a source, close its set of ways."""
        vertices = (np.array(self.ref, np.int64), np.array(self.lon), np.array(self.lat))
        every = np.arange(len(self.roads))
        count = np.array(self.count, np.int64)
        self._take(_pieces(np.array(self.way_id, np.int64), self.roads, every, count, vertices))
        self._start_batch()
        if end_of_source:
            self._close_source()

    def add_rows(
        self,
        way_id: NDArray[np.int64],
        roads: Sequence[Road],
        road_ix: NDArray[np.int64],
        count: NDArray[np.int64],
        vertices: Vertices,
    ) -> None:
        """Take all ways of a source at once.

        Parameters
        ----------
        roads, road_ix
            Each kind of road once, and the kind of each way, (n,).
        count, vertices
            How many nodes each way has, (n,), and all of them.
        """
        self._take(_pieces(way_id, roads, road_ix, count, vertices))
        self._close_source()

    def _take(self, pieces: Pieces) -> None:
        # Nodes the extract lacks have no position: the road is cut there, not bridged.
        pieces = split_pieces(pieces, np.isfinite(pieces.lon))
        inside = distance_to_route_m(pieces.lon, pieces.lat, self.route) <= self.reach_m
        self.open_source.append(split_pieces(pieces, _with_neighbours(inside, pieces.piece)))

    def _close_source(self) -> None:
        self.kept.append(join_pieces(self.open_source))
        self.open_source = []

    def graph(self, speeds: Speeds, source: str) -> RoadGraph:
        pieces = _fullest(self.kept) if self.kept else join_pieces([])
        closed = np.fromiter(self.closed, np.int64, len(self.closed))
        pieces = split_at_barriers(pieces, closed)
        pieces = split_at_points(pieces, *route_ends(self.route))
        return make_graph(pieces, speeds=speeds, reach_m=self.reach_m, source=source)


def _pieces(
    way_id: NDArray[np.int64],
    roads: Sequence[Road],
    road_ix: NDArray[np.int64],
    count: NDArray[np.int64],
    vertices: Vertices,
) -> Pieces:
    ref, lon, lat = vertices
    return Pieces(
        ref=ref,
        lon=lon.astype(float),
        lat=lat.astype(float),
        piece=np.repeat(np.arange(len(count)), count),
        way_id=way_id,
        road_class=np.array([road.road_class for road in roads], np.uint8)[road_ix],
        surface=np.array([road.surface for road in roads], np.uint8)[road_ix],
        forward_kmh=np.array([road.forward_kmh for road in roads], float)[road_ix],
        backward_kmh=np.array([road.backward_kmh for road in roads], float)[road_ix],
        frontage=np.array([road.frontage for road in roads], bool)[road_ix],
    )


def _fullest(sources: Sequence[Pieces]) -> Pieces:
    """Join sources; a way that several hold comes from the one with most of its vertices."""
    if len(sources) == 1:
        return sources[0]
    pieces = join_pieces(sources)
    vertex_source = np.repeat(np.arange(len(sources)), [source.ref.size for source in sources])
    key = pieces.way_id[pieces.piece] * len(sources) + vertex_source
    keys, same, count = np.unique(key, return_inverse=True, return_counts=True)
    # Fullest first within a way; the earlier source where they are equal.
    order = np.lexsort((keys, -count, keys // len(sources)))
    _, first = np.unique(keys[order] // len(sources), return_index=True)
    best = np.zeros(keys.size, bool)
    best[order[first]] = True
    return split_pieces(pieces, best[same])


def _with_neighbours(inside: NDArray[np.bool_], piece: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Keep the next vertex outside too, so that long straight roads are not cut short."""
    keep = inside.copy()
    together = piece[1:] == piece[:-1]
    keep[1:] |= inside[:-1] & together
    keep[:-1] |= inside[1:] & together
    return keep
