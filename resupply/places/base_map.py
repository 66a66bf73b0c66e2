"""A light map to draw under the route with no network: main roads, water, towns, woods, heights.

In: extracts and a `Route`. Out: a `Backdrop` along the route, small enough to ride along in a
page. It comes from the same pass over the files as the places.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from resupply.common.geodesy import M_PER_DEGREE, rough_area_m2, to_ecef_m
from resupply.common.text import one_line
from resupply.places.extract import outline_of, places_from_extract
from resupply.places.land_cover import LandCover, cover_kind, is_border, is_summit
from resupply.places.near_route import dense_ecef, make_reach
from resupply.places.sees import Sees

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray
    from shapely import Polygon

    from resupply.places.kept_ground import GroundKeeper
    from resupply.places.land_cover import Cover, Summit
    from resupply.places.near_route import Reach
    from resupply.places.osm_file import Feature, TagLookup
    from resupply.places.place import PlaceSet
    from resupply.route.route import Route

__all__ = [
    "LIVE_REACH_M", "Backdrop", "BackdropCollector", "Town", "backdrop_document", "read_extract",
    "thinned",
]  # fmt: skip

LIVE_REACH_M: Final = 10_000.0
"""How far from the route the light map goes where the live map service is asked: our choice."""

# From the most to the least important; the last ones go first when the map gets too heavy.
_ROADS: Final = ("motorway", "trunk", "primary", "secondary", "tertiary")
_MAJOR: Final = frozenset(("motorway", "trunk", "primary"))
_RIVER, _BORDER = "river", "border"
_TOWN_RANK: Final = {"city": 1, "town": 2, "village": 3, "hamlet": 3}
_TOWN_PEOPLE: Final = 2_000
"""Our choice: a village of more is named as a town."""
_TOWN_ORDER: Final = tuple(_TOWN_RANK)

_READ_TOLERANCE_M: Final = 20.0
"""Our choice: finer than the map's first view shows, and less is kept in memory."""
# Drawing tolerance (m) and how many road classes, tried in turn until it is small enough.
_LADDER: Final = (
    (30.0, 5), (50.0, 5), (100.0, 5), (100.0, 4), (200.0, 4), (200.0, 3), (400.0, 3), (800.0, 2),
    (1600.0, 2), (5000.0, 1),
)  # fmt: skip
# A point takes about 22 bytes in the document, a line about 33 more: together below 1 MB.
_MOST_POINTS: Final = 36_000
_POINTS_PER_LINE: Final = 1.5
_TOWNS_PER_KM: Final = 0.5
_MOST_TOWNS: Final = 2_000
_LEAST_LAKE_M2: Final = 200_000.0
_ON_LAND_SHARE: Final = 0.95
_BATCH_POINTS: Final = 100_000

RoadClass = Literal["major", "minor"]
WaterKind = Literal["area", "line"]
Line = tuple[tuple[float, float], ...]


def town_kind(tags: Mapping[str, str]) -> str:
    """Tell what a settlement counts as: a capital as a city, a large village as a town."""
    kind = tags["place"]
    if tags.get("capital") == "yes":
        return "city"
    return "town" if kind == "village" and _people(tags) > _TOWN_PEOPLE else kind


def _people(tags: Mapping[str, str]) -> int:
    digits = "".join(char for char in tags.get("population", "") if char.isdecimal())
    return int(digits[:9] or "0")


@dataclass(frozen=True, slots=True)
class Town:
    """A named settlement. `name` is hostile map text."""

    name: str
    lon: float
    lat: float
    rank: int
    """1 city or capital, 2 town, 3 village or hamlet."""


@dataclass(frozen=True, slots=True)
class Backdrop:
    """Lines in degrees, lon before lat, five decimals."""

    roads: tuple[tuple[RoadClass, Line], ...] = ()
    waters: tuple[tuple[WaterKind, Line], ...] = ()
    towns: tuple[Town, ...] = ()
    land: tuple[Line, ...] = ()
    """Closed shores, only if the whole route lies inside them: then all else is sea."""
    cover: tuple[Cover, ...] = ()
    borders: tuple[Line, ...] = ()
    summits: tuple[Summit, ...] = ()


def read_extract(
    paths: Sequence[Path],
    route: Route,
    *,
    reach_m: float,
    backdrop_reach_m: float = 15_000.0,
    also: Sequence[Sees] = (),
    stop: Callable[[], bool] | None = None,
    keeper: GroundKeeper | None = None,
) -> tuple[PlaceSet, Backdrop]:
    """Places and backdrop from extracts, in one pass over each.

    Parameters
    ----------
    reach_m
        For places, metres; as in `places_from_extract`.
    backdrop_reach_m
        How far from the route the backdrop goes, metres, roughly.
    also, stop, keeper
        As in `places_from_extract`.

    Raises
    ------
    ExtractError
        A file is missing, empty, broken, or of an unknown kind.
    MapDataError
        It was stopped.
    """
    collector = BackdropCollector(route, max(backdrop_reach_m, reach_m))
    places = places_from_extract(
        paths, route, reach_m=reach_m, also=[collector, *also], stop=stop, keeper=keeper
    )
    return places, collector.backdrop()


def backdrop_document(backdrop: Backdrop) -> dict[str, Any]:
    """Put a backdrop into plain dicts and lists for JSON."""
    return {
        "roads": [{"class": kind, "line": line} for kind, line in backdrop.roads],
        "waters": [{"kind": kind, "line": line} for kind, line in backdrop.waters],
        "towns": [
            {"name": town.name, "lon": town.lon, "lat": town.lat, "rank": town.rank}
            for town in backdrop.towns
        ],
        "land": [{"line": line} for line in backdrop.land],
        "cover": [asdict(area) for area in backdrop.cover],
        "borders": [{"line": line} for line in backdrop.borders],
        "peaks": [asdict(summit) for summit in backdrop.summits],
    }


class BackdropCollector(Sees):
    """Takes roads, water, towns, woods and heights from a stream of features.

    Parameters
    ----------
    route
        What is drawn lies along it.
    reach_m
        How far from it, metres, roughly.
    """

    # A summit without a height is not drawn; trees, of which maps are full, state none.
    node_keys = ("place", "ele")
    way_keys = ("highway", "waterway", "natural", "landuse", "boundary")

    def __init__(self, route: Route, reach_m: float) -> None:
        self.route = route
        self.reach = make_reach(route, reach_m)
        self._roads = {kind: _Lines(self.reach) for kind in (*_ROADS, _RIVER, _BORDER)}
        self._cover = LandCover(route, self.reach)
        self._coast: list[NDArray[np.float64]] = []
        self._lakes: list[Polygon] = []
        self._towns: dict[str, tuple[int, int, Town]] = {}

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it is drawn."""
        if tags.get("natural") == "water" or tags.get("place") in _TOWN_RANK:
            return True
        if cover_kind(tags) is not None or is_border(tags) or is_summit(tags):
            return True
        return (tags.get("highway") or tags.get("waterway") or "") in self._roads

    def wants_relation(self, tags: Mapping[str, str], /) -> bool:
        """Tell whether a relation is drawn: a lake or a wood of several pieces."""
        if tags.get("type") != "multipolygon":
            return False
        return tags.get("natural") == "water" or cover_kind(tags) is not None

    def wants_from_afar(self, tags: TagLookup, /) -> bool:
        """Tell whether a feature is wanted however far off it lies: a shore."""
        # A shore is known to close around land only if all of it is there.
        return tags.get("natural") == "coastline"

    def see(self, feature: Feature, /) -> None:
        """Take what is drawn of a feature; the rest is passed over."""
        tags = feature.tags
        if not len(feature.lonlat):
            return
        if feature.id.startswith("node/"):
            if tags.get("place") in _TOWN_RANK and tags.get("name"):
                self._see_town(feature)
            elif is_summit(tags):
                self._cover.see_summit(feature)
        elif tags.get("natural") == "water":
            self._see_lake(feature)
        elif tags.get("natural") == "coastline":
            if len(feature.lonlat) > 1:  # a clipped extract may know one node only
                self._coast += thinned([feature.lonlat], _READ_TOLERANCE_M)
        elif (kind := tags.get("highway", tags.get("waterway", ""))) in self._roads:
            self._roads[kind].add(feature.lonlat)
        elif (ground := cover_kind(tags)) is not None:
            self._cover.see_area(feature, ground)
        elif is_border(tags):
            self._roads[_BORDER].add(feature.lonlat)

    def _see_town(self, feature: Feature) -> None:
        lon, lat = (round(value, 5) for value in feature.lonlat[0].tolist())
        if not self.reach.near([lon], [lat])[0]:
            return
        kind, size = town_kind(feature.tags), _people(feature.tags)
        town = Town(one_line(feature.tags["name"]), lon, lat, _TOWN_RANK[kind])
        self._towns[feature.id] = (_TOWN_ORDER.index(kind), -size, town)

    def _see_lake(self, feature: Feature) -> None:
        if not self.reach.near(*feature.lonlat.T).any():
            return
        outline = outline_of(feature)
        if outline is None:
            return
        import shapely

        for part in shapely.get_parts(outline):
            if rough_area_m2(part.area, part.centroid.y) >= _LEAST_LAKE_M2:
                self._lakes.append(part)

    def backdrop(self) -> Backdrop:
        """All that was seen, simplified until it is small enough to send along."""
        lines = {kind: found.merged() for kind, found in self._roads.items()}
        shores, land = self._shores()
        areas = [np.asarray(lake.exterior.coords) for lake in self._lakes]
        for tolerance_m, classes in _LADDER:
            roads: list[tuple[RoadClass, Line]] = [
                ("major" if kind in _MAJOR else "minor", line)
                for kind in _ROADS[:classes]
                for line in _simplified(lines[kind], tolerance_m)
            ]
            ground = [line for line in _simplified(land, tolerance_m) if len(line) > 3]
            lakes = [line for line in _simplified(areas, tolerance_m) if len(line) > 3]
            streams = _simplified([*shores, *lines[_RIVER]], tolerance_m)
            water: list[tuple[WaterKind, Line]] = [
                *(("area", line) for line in lakes),
                *(("line", line) for line in streams),
            ]
            if _weight([*ground, *(line for _, line in (*roads, *water))]) <= _MOST_POINTS:
                break
        return Backdrop(
            tuple(roads), tuple(water), self._chosen_towns(), tuple(ground),
            cover=self._cover.areas(),
            borders=tuple(_simplified(lines[_BORDER], tolerance_m)),
            summits=self._cover.summits(self.route.length_m),
        )  # fmt: skip

    def _chosen_towns(self) -> tuple[Town, ...]:
        most = min(max(100, int(self.route.length_m / 1000.0 * _TOWNS_PER_KM)), _MOST_TOWNS)
        ranked = sorted(self._towns.items(), key=lambda item: (item[1][:2], item[0]))
        return tuple(town for _, (_, _, town) in ranked[:most])

    def _shores(self) -> tuple[list[NDArray[np.float64]], list[NDArray[np.float64]]]:
        """Coastline as open lines, or as land if it closes around the whole route."""
        import shapely

        if not self._coast:
            return [], []
        whole = shapely.line_merge(shapely.MultiLineString(self._coast))
        parts = [np.asarray(part.coords) for part in shapely.get_parts(whole)]
        rings = [line for line in parts if len(line) > 3 and np.array_equal(line[0], line[-1])]
        if len(rings) == len(parts) and sum(map(len, rings)) <= _MOST_POINTS // 2:
            areas = [shapely.Polygon(one) for one in rings]
            ground = shapely.union_all([one for one in areas if shapely.is_valid(one)])
            step = max(1, self.route.lon.size // 500)
            on_land = shapely.contains_xy(ground, self.route.lon[::step], self.route.lat[::step])
            if on_land.mean() > _ON_LAND_SHARE:
                return [], rings
        clipped = _Lines(self.reach)
        for line in parts:
            clipped.add(line)
        return clipped.merged(), []


class _Lines:
    """Lines of one kind, cut to the surroundings of the route as they come in."""

    def __init__(self, reach: Reach) -> None:
        self._reach = reach
        self._waiting: list[NDArray[np.float64]] = []
        self._waiting_points = 0
        self._kept: list[NDArray[np.float64]] = []

    def add(self, lonlat: NDArray[np.float64]) -> None:
        if len(lonlat) > 1:
            self._waiting.append(lonlat)
            self._waiting_points += len(lonlat)
        if self._waiting_points > _BATCH_POINTS:
            self._take_in()

    def merged(self) -> list[NDArray[np.float64]]:
        """All lines, (k, 2) degrees, pieces that continue each other joined."""
        import shapely

        self._take_in()
        whole = shapely.line_merge(shapely.MultiLineString(self._kept))
        return [np.asarray(part.coords) for part in shapely.get_parts(whole)]

    def _take_in(self) -> None:
        """Cut what has come in since the last time, all at once for speed."""
        if not self._waiting:
            return
        lonlat = np.concatenate(self._waiting)
        line = np.repeat(np.arange(len(self._waiting)), [len(one) for one in self._waiting])
        self._waiting, self._waiting_points = [], 0
        points_m, source = dense_ecef(to_ecef_m(*lonlat.T), line, self._reach.side_m)
        near = np.zeros(len(lonlat), dtype=bool)
        near[source[self._reach.holds(points_m)]] = True
        # A piece is kept if anything between its two ends is near, both ends with it.
        piece = np.append(line[1:] == line[:-1], False)
        piece[:-1] &= near[:-1] | near[1:]
        edges = np.flatnonzero(np.diff(np.concatenate([[False], piece, [False]]).astype(np.int8)))
        runs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
        self._kept += thinned([lonlat[one : end + 1] for one, end in runs], _READ_TOLERANCE_M)


def thinned(lines: Sequence[NDArray[np.float64]], tolerance_m: float) -> list[NDArray[np.float64]]:
    """Leave out points that move no line by more than a tolerance; both ends stay.

    Parameters
    ----------
    lines
        Each (k, 2) degrees, of two points or more.
    """
    import shapely

    if not lines:
        return []
    # All at once: a call of the library for each line takes ten times longer.
    shrink = np.ones((len(lines), 2))
    shrink[:, 0] = np.cos(np.radians([line[0, 1] for line in lines]))
    number = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    level = shapely.linestrings(np.concatenate(lines) * shrink[number], indices=number)
    thin = shapely.simplify(level, tolerance_m / M_PER_DEGREE, preserve_topology=False)
    lonlat, number = shapely.get_coordinates(thin, return_index=True)
    lonlat = np.round(lonlat / shrink[number], 7)
    return np.split(lonlat, np.searchsorted(number, np.arange(1, len(lines))))


def _simplified(lines: Sequence[NDArray[np.float64]], tolerance_m: float) -> list[Line]:
    """Lines for drawing, five decimals, without those that shrink to a point."""
    rounded = [np.round(line, 5).tolist() for line in thinned(lines, tolerance_m) if len(line)]
    drawn = [tuple((lon, lat) for lon, lat in line) for line in rounded]
    return sorted(line for line in drawn if len(set(line)) > 1)


def _weight(lines: Sequence[Line]) -> float:
    return sum(len(line) + _POINTS_PER_LINE for line in lines)
