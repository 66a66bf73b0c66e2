"""What the ground along a route looks like: woods, towns' built-up ground, ice, borders, heights.

In: features of an extract. Out: areas and summits to draw under the route, large ones first and few
enough to ride along in a page. They are for finding one's way about, not for measuring.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from resupply.common.geodesy import M_PER_DEGREE, rough_area_m2
from resupply.common.text import one_line
from resupply.places.extract import outline_of
from resupply.places.near_route import make_reach

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely import Polygon

    from resupply.places.near_route import Reach
    from resupply.places.osm_file import Feature, TagLookup
    from resupply.route.route import Route

__all__ = ["Cover", "LandCover", "Summit", "cover_kind", "is_border", "is_peak", "is_summit"]

CoverKind = Literal["wood", "built", "ice"]
Ring = tuple[tuple[float, float], ...]

_KIND_OF: Final[dict[tuple[str, str], CoverKind]] = {
    ("natural", "wood"): "wood",
    ("landuse", "forest"): "wood",
    ("landuse", "residential"): "built",
    ("landuse", "commercial"): "built",
    ("landuse", "industrial"): "built",
    ("landuse", "retail"): "built",
    ("natural", "glacier"): "ice",
}
_PEAKS: Final = ("peak", "volcano")
_LEAST_M2: Final = 100_000.0
"""Our choice: smaller woods and quarters are a dot at the scale of a day."""
_TOLERANCE_M: Final = 60.0
"""Our choice: woods are background; twice what roads are drawn with."""
# Least area (m²) and tolerance (m), tried in turn until it is small enough.
_LADDER: Final = (
    (_LEAST_M2, _TOLERANCE_M), (3e5, 100.0), (1e6, 150.0), (3e6, 250.0), (1e7, 400.0), (3e7, 800.0),
    (1e8, 1_600.0),
)  # fmt: skip
_MOST_POINTS: Final = 12_000
"""Our choice: a third of what roads and water may have."""
_POINTS_PER_RING: Final = 1.5
"""Roughly what the frame of a ring takes in the page, in points: measured as for lines."""
_SUMMITS_PER_KM: Final = 0.3
"""Our choice: the page shows those that stand apart at its scale."""
_LEAST_SUMMITS, _MOST_SUMMITS = 60, 600
"""Our choice, for the same reason."""
_ON_THE_WAY_M: Final = 300.0
"""Our choice: so far the sign of a pass may stand from its highest point."""
_HEIGHT: Final = re.compile(r"\s*(-?\d{1,4}(?:\.\d+)?)\s*(?:m\.?)?\s*", re.ASCII)
_HIGHEST_M: Final = 8_849.0
"""Of the Earth: the height of Everest announced by China and Nepal in 2020, from memory."""


@dataclass(frozen=True, slots=True)
class Cover:
    """An area in degrees, lon before lat, five decimals, with the holes in it."""

    kind: CoverKind
    line: Ring
    holes: tuple[Ring, ...] = ()


@dataclass(frozen=True, slots=True)
class Summit:
    """A peak or a pass that a road or path crosses. `name` is hostile map text."""

    kind: Literal["peak", "pass"]
    name: str
    lon: float
    lat: float
    ele_m: float


def _weight(cover: Cover) -> float:
    return sum(len(ring) + _POINTS_PER_RING for ring in (cover.line, *cover.holes))


def cover_kind(tags: TagLookup) -> CoverKind | None:
    """Tell how an area is drawn; None if it is not."""
    for key in ("natural", "landuse"):
        value = tags.get(key)
        if value is not None and (kind := _KIND_OF.get((key, value))) is not None:
            return kind
    return None


def is_border(tags: TagLookup) -> bool:
    """Tell whether a way lies between two countries."""
    return tags.get("boundary") == "administrative" and tags.get("admin_level") == "2"


def is_summit(tags: TagLookup) -> bool:
    """Tell whether a node is a peak or a pass with a name and a height."""
    high = tags.get("natural") in (*_PEAKS, "saddle")
    return (high or tags.get("mountain_pass") == "yes") and bool(tags.get("name"))


def is_peak(tags: TagLookup) -> bool:
    """Tell whether a summit is a peak, and no pass."""
    return tags.get("natural") in _PEAKS


class LandCover:
    """Takes areas and summits as they come in, near a route of some length.

    Parameters
    ----------
    route
        Passes that it crosses are named, those of footpaths are not.
    reach
        Surroundings outside which nothing is taken.
    """

    def __init__(self, route: Route, reach: Reach) -> None:
        self._reach = reach
        self._on_the_way = make_reach(route, _ON_THE_WAY_M)
        self._areas: list[tuple[float, CoverKind, Polygon]] = []
        self._summits: dict[str, Summit] = {}

    def see_area(self, feature: Feature, kind: CoverKind) -> None:
        """Take an area if it is large enough to draw, and near."""
        import shapely

        low, high = feature.lonlat.min(axis=0), feature.lonlat.max(axis=0)
        if rough_area_m2(float(np.prod(high - low)), float(low[1] + high[1]) / 2.0) < _LEAST_M2:
            return
        if not self._reach.near(*feature.lonlat.T).any():
            return
        outline = outline_of(feature)
        for part in () if outline is None else shapely.get_parts(outline):
            area_m2 = rough_area_m2(part.area, part.centroid.y)
            if area_m2 >= _LEAST_M2:
                self._areas.append((area_m2, kind, _thinned(part, _TOLERANCE_M)))

    def see_summit(self, feature: Feature) -> None:
        """Take a peak or a pass whose height is stated."""
        tags, (lon, lat) = feature.tags, feature.lonlat[0].tolist()
        height = _HEIGHT.fullmatch(tags.get("ele", ""))
        if height is None or float(height[1]) > _HIGHEST_M:
            return
        kind: Literal["peak", "pass"] = "peak" if is_peak(tags) else "pass"
        if not (self._reach if kind == "peak" else self._on_the_way).near([lon], [lat])[0]:
            return
        name = one_line(tags["name"])
        ele_m = float(height[1])
        self._summits[feature.id] = Summit(kind, name, round(lon, 5), round(lat, 5), ele_m)

    def areas(self) -> tuple[Cover, ...]:
        """Choose areas, the largest first; small ones go and lines get coarser till it is light."""
        chosen: list[Cover] = []
        for least_m2, tolerance_m in _LADDER:
            large = [(m2, kind, area) for m2, kind, area in self._areas if m2 >= least_m2]
            large.sort(key=lambda one: (-one[0], one[1], one[2].bounds))
            drawn = [
                cover
                for _, kind, area in large
                if (cover := _cover(kind, _thinned(area, tolerance_m), least_m2)) is not None
            ]
            if not drawn:  # all of one size: the first ones instead of none
                break
            chosen = drawn
            if sum(_weight(cover) for cover in chosen) <= _MOST_POINTS:
                break
        weights = itertools.accumulate(_weight(cover) for cover in chosen)
        return tuple(
            cover for cover, sum_ in zip(chosen, weights, strict=True) if sum_ <= _MOST_POINTS
        )

    def summits(self, length_m: float) -> tuple[Summit, ...]:
        """Choose passes first, then peaks, the highest first, so many as suit the length."""
        most = int(max(_LEAST_SUMMITS, length_m / 1_000.0 * _SUMMITS_PER_KM))
        ranked = sorted(
            self._summits.values(), key=lambda s: (s.kind == "peak", -s.ele_m, s.name, s.lon)
        )
        return tuple(ranked[: min(most, _MOST_SUMMITS)])


def _thinned(area: Polygon, tolerance_m: float) -> Polygon:
    """Leave out points that move no edge by more than a tolerance, roughly."""
    import shapely

    simple: Polygon = shapely.simplify(area, tolerance_m / M_PER_DEGREE, preserve_topology=True)
    return simple


def _cover(kind: CoverKind, area: Polygon, least_m2: float) -> Cover | None:
    import shapely

    line = _ring(np.asarray(area.exterior.coords))
    if line is None:
        return None
    lat = float(area.centroid.y)
    holes: Sequence[Ring | None] = [
        _ring(np.asarray(hole.coords))
        for hole in area.interiors
        if rough_area_m2(shapely.Polygon(hole).area, lat) >= least_m2
    ]
    return Cover(kind, line, tuple(hole for hole in holes if hole is not None))


def _ring(ring: NDArray[np.float64]) -> Ring | None:
    """Round a ring for drawing; None if it shrinks to less than a triangle."""
    rounded = np.round(ring, 5).tolist()
    return tuple((lon, lat) for lon, lat in rounded) if len({*map(tuple, rounded)}) > 2 else None
