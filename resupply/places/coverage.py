"""Which stretches of a route an extract really covers. No data is not "no shop".

In: a `Route`, what an extract says about its extent, and the roads found in it. Out: the
stretches it does not cover, and those where it ends within reach of the route.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.distinct import distinct, distinct_pairs
from resupply.common.geodesy import margins_deg, to_ecef_m
from resupply.places.near_route import (
    cube_keys,
    dense_ecef,
    make_reach,
    neighbour_keys,
    samples_along,
)
from resupply.places.place import RouteSpan
from resupply.places.sees import Sees

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from resupply.places.osm_file import Box, Feature, TagLookup
    from resupply.route.route import Route

__all__ = [
    "NO_ROAD", "ROADS_WITHOUT_BOX", "SIDE_M", "SPACING_M", "RoadEvidence", "believable",
    "box_reaches", "in_box", "joined", "stretches_where",
]  # fmt: skip

SIDE_M: Final = 2_500.0
"""Of the cubes in which roads are counted; the rule's 2.5 km, our choice."""
SPACING_M: Final = 500.0
"""Between the points of the route that are judged: a fifth of a cube, our choice."""
_BATCH_POINTS: Final = 200_000
"""Sorted at once: our choice; bounds the memory."""
# A way of a neighbouring region that a clipped file completes is one road, at most two.
ROADS_WITHOUT_BOX: Final = 3
"""How many roads it takes where a file doesn't say how far it reaches."""
NO_ROAD: Final = frozenset(
    ("abandoned", "construction", "corridor", "elevator", "no", "planned", "proposed", "razed")
)
"""Roads that are not there, or that no rider takes."""
# Roads with a node so near are seen: between two nodes a road may cross the route.
_SEEN_M: Final = 10_000.0
_BOX_SHARE: Final = 0.5


class RoadEvidence(Sees):
    """Roads seen near a route while one extract is streamed.

    The rule: a point of the route is covered if the extract's box (where it gives a
    believable one) holds it and the extract has a road within 2.5 km of it; without such a box
    it needs three different roads, because a clipped file keeps the whole of any road that
    leaves it. A box is believable if the data spans at least half of it, one way or the other.
    """

    way_keys = ("highway",)

    def __init__(self, route: Route) -> None:
        self.reach = make_reach(route, _SEEN_M)
        self.extent: Box | None = None
        """How far the data reaches, near the route or not; None if there is none."""
        self.lon, self.lat, self.chainage_m = samples_along(route, SPACING_M)
        self._cubes = cube_keys(to_ecef_m(self.lon, self.lat), SIDE_M)
        self.near_cubes = distinct(neighbour_keys(distinct(self._cubes)))
        """Cubes around the route, sorted: a route that is changed a little stays in them."""
        self._wanted = distinct(neighbour_keys(self.near_cubes))
        self._roads: dict[int, set[int]] = {}
        self._count = 0
        self._waiting: list[NDArray[np.float64]] = []
        self._waiting_points = 0

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it is a road."""
        return (tags.get("highway") or "no") not in NO_ROAD

    def see(self, feature: Feature, /) -> None:
        """Note a road among all that is seen."""
        if len(feature.lonlat) > 1 and self.wants(feature.tags):
            self.see_road(feature.lonlat)

    def see_road(self, lonlat: NDArray[np.float64]) -> None:
        """Note a road: its points, (k, 2) degrees."""
        self._waiting.append(lonlat)
        self._waiting_points += len(lonlat)
        if self._waiting_points > _BATCH_POINTS:
            self._take_in()

    def _take_in(self) -> None:
        """Sort the roads seen since the last time into cubes, all at once for speed."""
        if not self._waiting:
            return
        lonlat = np.concatenate(self._waiting)
        road = self._count + np.repeat(
            np.arange(len(self._waiting)), [len(line) for line in self._waiting]
        )
        self._count += len(self._waiting)
        self._waiting, self._waiting_points = [], 0
        ecef_m = to_ecef_m(lonlat[:, 0], lonlat[:, 1])
        points_m, source = dense_ecef(ecef_m, road, SIDE_M / 2.0)
        keys = cube_keys(points_m, SIDE_M)
        at = np.minimum(np.searchsorted(self._wanted, keys), self._wanted.size - 1)
        found = self._wanted[at] == keys
        pairs = distinct_pairs(np.stack([keys[found], road[source[found]]], axis=-1))
        for key, number in pairs.tolist():
            self._roads.setdefault(key, set()).add(number)

    def believable(self, box: Box | None) -> bool:
        """Whether a header's box fits how far the data reaches."""
        return believable(box, self.extent)

    def covered(self, box: Box | None, *, roads: int = ROADS_WITHOUT_BOX) -> NDArray[np.bool_]:
        """Whether each sample (`lon`, `lat`, `chainage_m`) is covered.

        Parameters
        ----------
        roads
            How many it takes without a believable box. A service that has cut nothing out
            needs one.
        """
        cubes, which = np.unique(self._cubes, return_inverse=True)
        usable = self.believable(box)
        enough = self._with_roads(cubes, 1 if usable else roads)[which.ravel()]
        return enough & in_box(self.lon, self.lat, box if usable else None)

    def covered_cubes(self, box: Box | None) -> NDArray[np.int64]:
        """Cubes of `near_cubes` in which a route is covered, but for the sides of the box."""
        least = 1 if self.believable(box) else ROADS_WITHOUT_BOX
        return self.near_cubes[self._with_roads(self.near_cubes, least)]

    def _with_roads(self, cubes: NDArray[np.int64], least: int) -> NDArray[np.bool_]:
        """Whether there are so many different roads in each cube and around it."""
        self._take_in()
        return np.array([self._has(keys, least) for keys in neighbour_keys(cubes).tolist()], bool)

    def _has(self, keys: list[int], least: int) -> bool:
        seen: set[int] = set()
        for key in keys:
            seen |= self._roads.get(key, set())
            if len(seen) >= least:
                return True
        return False

    def reached(self, box: Box | None, reach_m: float) -> NDArray[np.bool_]:
        """Whether all the ground within reach of each sample lies in the box."""
        return box_reaches(self.lon, self.lat, box if self.believable(box) else None, reach_m)


def in_box(
    lon: NDArray[np.float64], lat: NDArray[np.float64], box: Box | None
) -> NDArray[np.bool_]:
    """Whether each point lies in a box; in none at all everything does."""
    west, south, east, north = box or (-np.inf, -np.inf, np.inf, np.inf)
    return np.asarray((lon >= west) & (lon <= east) & (lat >= south) & (lat <= north))


def box_reaches(
    lon: NDArray[np.float64], lat: NDArray[np.float64], box: Box | None, reach_m: float
) -> NDArray[np.bool_]:
    """Whether all the ground within reach of each point lies in a box; True without one."""
    if box is None:
        return np.ones(lon.size, dtype=bool)
    west, south, east, north = box
    margin_lat, margin_lon = margins_deg(lat, reach_m)
    inside = (lat - margin_lat >= south) & (lat + margin_lat <= north)
    return np.asarray(inside & (lon - margin_lon >= west) & (lon + margin_lon <= east))


def believable(box: Box | None, extent: Box | None) -> bool:
    """Whether a header's box fits how far the data reaches."""
    if box is None or extent is None:
        return False
    west, south, east, north = box
    width = min(east, extent[2]) - max(west, extent[0])
    height = min(north, extent[3]) - max(south, extent[1])
    return width >= _BOX_SHARE * (east - west) or height >= _BOX_SHARE * (north - south)


def stretches_where(
    flags: NDArray[np.bool_], chainage_m: NDArray[np.float64], reason: str
) -> tuple[RouteSpan, ...]:
    """Turn runs of true samples into stretches; each reaches to its neighbours' samples.

    Parameters
    ----------
    flags, chainage_m
        (n,) samples in order, metres.
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    last = chainage_m.size - 1
    found: list[RouteSpan] = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        start_m = float(chainage_m[max(int(start) - 1, 0)])
        end_m = float(chainage_m[min(int(end), last)])
        if found and start_m <= found[-1].end_m:
            start_m = found.pop().start_m
        if end_m > start_m:
            found.append(RouteSpan(start_m, end_m, reason))
    return tuple(found)


def joined(stretches: Iterable[RouteSpan]) -> tuple[RouteSpan, ...]:
    """Sorted and without overlaps; neighbours with the same reason as one."""
    found: list[RouteSpan] = []
    for stretch in sorted(stretches, key=lambda one: (one.start_m, one.end_m)):
        before = found[-1] if found else None
        if before is None or stretch.start_m > before.end_m:
            found.append(stretch)
        elif stretch.reason == before.reason:
            end_m = max(before.end_m, stretch.end_m)
            found[-1] = RouteSpan(before.start_m, end_m, before.reason)
        elif stretch.end_m > before.end_m:
            found.append(RouteSpan(before.end_m, stretch.end_m, stretch.reason))
    return tuple(found)
