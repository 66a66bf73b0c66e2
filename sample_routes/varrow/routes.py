"""The three demo routes: which settlements they visit, and the lines that result."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from pyproj import Geod
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from varrow.land import Point
    from varrow.roads import Network

__all__ = ["MARKS", "ROUTES", "Line", "Router", "without_spur"]

GEOD = Geod(ellps="WGS84")
LONGEST_SPUR_KM = 8.0
"""Shorter side roads to a settlement are not ridden in and out; it is passed at a distance."""

ROUTES: dict[str, tuple[str, tuple[tuple[str, ...], ...]]] = {
    "coast_loop": (
        "Round Varrow",
        (
            (
                "Hestnavik", "Inverkaal", "Stennamouro", "Ardhavn", "Fontesay", "Lagarskail",
                "Brannoch", "Vilaskog", "Ferrolness", "Skarrobh", "Ilhavoe", "Morrinholm",
                "São Torvald", "Kaldpena", "Torrevoe", "Quernalva", "Duibhporto", "Cairnlagoa",
                "Valquente", "Helmsgarvo", "Pontebreck", "Ostramar", "Sarnhamna", "Gorvenda",
                "Strathpena", "Velhamoss", "Beirholm", "Lundarede", "Praia Sund", "Porto Hallen",
                "Sandvigo", "Kilmarra", "Ribeira Dunn", "Vale Torsk", "Hestnavik",
            ),
        ),
    ),
    "there_and_back": (
        "To Hvitapraia and back",
        (
            (
                "Beirholm", "Serradun", "Pontebreck", "Helmsgarvo", "Valquente", "Cairnlagoa",
                "Noskerra", "Faroval", "Hvitapraia",
            ),
        ),
    ),
    "long_moor": (
        "The long moor and Sundra",
        (
            (
                "Stennamouro", "Inverkaal", "Hestnavik", "Kvernpasso", "Ulvapedra", "Gramasett",
                "Breidalva", "Lomvassa", "Trivadh", "Tjornabal", "Altaskar", "Teixomoss",
                "Lagamor", "Hoyserra", "Dalbrava", "Valquente", "Helmsgarvo", "Mirkolinho",
                "Serradun", "Fossarinha", "Teixomoss", "Sandvigo", "Porto Hallen", "Praia Sund",
                "Lundarede", "Beirholm", "Velhamoss", "Strathpena", "Gorvenda", "Sarnhamna",
                "Ostramar", "Tangoness", "Hvitapraia", "Faroval", "Noskerra",
            ),
            (
                "Sundraporto", "Vestafoz", "Nordanvila", "Eyradouro", "Kelpamar", "Skailavento",
                "Sundraporto", "Tarnalto", "Nordanvila",
            ),
        ),
    ),
}  # fmt: skip
"""Settlements in riding order; a second part begins across the water."""

MARKS: dict[str, tuple[tuple[float, str], ...]] = {
    "coast_loop": (
        (0.0, "Hestnavik quay"),
        (96.0, "Cabo Grimsa light"),
        (290.0, "Skarrobh, end of the road"),
        (424.0, '<i>Torre</i> & "Farol"'),
        (520.0, "The hot valley"),
        (700.0, "Gorge view"),
        (815.0, "Areia Branca 🏖"),
    ),
    "there_and_back": ((0.0, "Beirholm bridge"), (309.0, "Praia Branca, turn here")),
    "long_moor": (
        (0.0, "Stennamouro"),
        (330.0, "Pass of the sheep"),
        (590.0, "The long water"),
        (1358.0, "Noskerra ferry"),
    ),
}
"""Named waypoints: km along the first part of the route, name."""


@dataclass(frozen=True, eq=False)
class Line:
    """A route as segments of points (degrees); segments are parted by ferries."""

    name: str
    segments: tuple[tuple[Point, ...], ...]

    def at(self, km: float, offset_m: float = 0.0) -> Point:
        """Find the point so far along, moved `offset_m` to the right (negative: left)."""
        left_m = km * 1000.0
        for points, (along_m, azimuth) in zip(self.segments, self.measured, strict=True):
            if left_m > along_m[-1]:
                left_m -= float(along_m[-1])
                continue
            i = min(int(np.searchsorted(along_m, left_m, side="right")) - 1, len(azimuth) - 1)
            x, y, _ = GEOD.fwd(*points[i], azimuth[i], left_m - along_m[i])
            if offset_m:
                x, y, _ = GEOD.fwd(x, y, azimuth[i] + 90.0, offset_m)
            return round(x, 6), round(y, 6)
        raise ValueError(f"{self.name} is shorter than {km} km")

    def vertex(self, km: float) -> Point:
        """Find the route's own point nearest to a chainage, so that a new road shares it."""
        x, y = self.at(km)
        points = [point for points in self.segments for point in points]
        return min(points, key=lambda p: (p[0] - x) ** 2 + (p[1] - y) ** 2)

    @cached_property
    def measured(self) -> tuple[tuple[NDArray[np.float64], NDArray[np.float64]], ...]:
        """Metres along at each point, and the direction of each piece, by segment."""
        found = []
        for points in self.segments:
            lon, lat = np.array(points).T
            azimuth, _, length_m = GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
            found.append((np.concatenate([[0.0], np.cumsum(length_m)]), azimuth))
        return tuple(found)

    def length_km(self) -> float:
        """Ridden length."""
        return sum(_length_km(points) for points in self.segments)

    def km_of(self, place: Point) -> float:
        """How far along the first segment is nearest to a place."""
        points = self.segments[0]
        nearest = min(
            range(len(points)),
            key=lambda i: (points[i][0] - place[0]) ** 2 + (points[i][1] - place[1]) ** 2,
        )
        return _length_km(points[: nearest + 1])


class Router:
    """Shortest ways over a network, by length."""

    def __init__(self, network: Network) -> None:
        self.points = sorted({p for way, _ in network.ways for p in way})
        self.index = {p: i for i, p in enumerate(self.points)}
        pairs = [
            (self.index[a], self.index[b], road.kind)
            for way, road in network.ways
            for a, b in pairwise(way)
        ]
        lon, lat = np.array(self.points).T
        i, j = np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs])
        _, _, length = GEOD.inv(lon[i], lat[i], lon[j], lat[j])
        # Whole decimetres, so that ties break alike everywhere.
        dm = np.maximum(np.round(length * 10.0), 1.0)
        dm = np.where([p[2] == "residential" for p in pairs], dm * 3.0, dm)
        size = len(self.points)
        self.graph = coo_matrix((dm, (i, j)), shape=(size, size)).tocsr()

    def shortest(self, start: Point, end: Point) -> list[Point]:
        """Points of the shortest way."""
        first, at = self.index[start], self.index[end]
        _, previous = dijkstra(
            self.graph, directed=False, indices=first, return_predecessors=True, limit=4e6
        )
        found = [at]
        while at != first:
            at = int(previous[at])
            if at < 0:
                raise ValueError(f"no road from {start} to {end}")
            found.append(at)
        return [self.points[k] for k in reversed(found)]

    def line(
        self,
        name: str,
        parts: Sequence[Sequence[str]],
        home: Mapping[str, Point],
        *,
        turn_back: bool = False,
    ) -> Line:
        """Ride through settlements; in and out of a side road again is left out.

        With `turn_back` the whole way is ridden back too.
        """
        segments = []
        for part in parts:
            points: list[Point] = [home[part[0]]]
            for a, b in pairwise(part):
                points = without_spur(points, self.shortest(home[a], home[b]))
            if turn_back:
                points += points[-2::-1]
            segments.append(tuple(points))
        return Line(name, tuple(segments))


def without_spur(before: Sequence[Point], after: Sequence[Point]) -> list[Point]:
    """Join two ways that meet at a settlement; a short way in and back out is left out."""
    most = min(len(before), len(after))
    shared = next((k for k in range(1, most) if before[-1 - k] != after[k]), most)
    spur = after[:shared]
    if shared > 1 and _length_km(spur) < LONGEST_SPUR_KM:
        return [*before[: len(before) - shared + 1], *after[shared:]]
    return [*before, *after[1:]]


def _length_km(points: Sequence[Point]) -> float:
    return GEOD.line_length([p[0] for p in points], [p[1] for p in points]) / 1000.0
