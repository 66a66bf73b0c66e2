"""Places near a route from local OpenStreetMap extracts, by streaming.

In: extract files and a `Route`. Out: a `PlaceSet` with what the extracts cover.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

import numpy as np

from resupply.common.errors import ExtractError
from resupply.common.text import NAME_LIMIT, one_line
from resupply.places.coverage import RoadEvidence
from resupply.places.near_route import make_reach
from resupply.places.osm_file import read_features, read_header
from resupply.places.place import Place, PlaceSet
from resupply.places.several_extracts import ExtractResult, join_sources
from resupply.places.tags import classify, kept_tags, may_supply, rule_keys

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from shapely import MultiPolygon, Polygon

    from resupply.places.near_route import Reach
    from resupply.places.osm_file import Box, Feature, TagLookup
    from resupply.route.route import Route

__all__ = ["AlsoSees", "outline_of", "place_of", "places_from_extract"]

# Roads that are not there, or that no rider takes.
_NO_ROAD = frozenset(
    ("abandoned", "construction", "corridor", "elevator", "no", "planned", "proposed", "razed")
)
# To untangle a footprint that crosses itself takes the square of its corners in time: 0.3 s here.
_MOST_TANGLED = 64
# To find which ring lies in which takes the square of their number in time: 0.3 s here.
_MOST_RINGS = 500


class AlsoSees(Protocol):
    """A second reader of the same pass: it is shown every feature within its own reach."""

    keys: tuple[str, ...]
    reach: Reach
    """Not smaller than the reach of the places."""

    def wants_relation(self, tags: Mapping[str, str]) -> bool:
        """Whether a relation with such tags is wanted."""

    def wants_from_afar(self, tags: TagLookup) -> bool:
        """Whether a node or way with such tags is wanted wherever it is."""

    def see(self, feature: Feature) -> None:
        """Take what is of use from a feature."""


@dataclass(slots=True)
class _Found:
    """What one extract gave."""

    places: list[Place] = field(default_factory=list)
    outlines: dict[str, Polygon | MultiPolygon] = field(default_factory=dict)
    newest: str | None = None
    nowhere: int = 0
    holds_places: bool = False
    """Whether the file has a place of any kind, near the route or not."""


def places_from_extract(
    paths: Sequence[Path],
    route: Route,
    *,
    reach_m: float,
    also: AlsoSees | None = None,
) -> PlaceSet:
    """Places within reach of a route, from one or more extracts.

    Parameters
    ----------
    paths
        Extracts (.osm.pbf, .osm, .osm.bz2, .osm.gz); a place in several counts once.
    reach_m
        Straight distance from the route, metres. All places within it are found, and some
        up to about three times that far.
    also
        A second reader fed by the same pass over the files.

    Raises
    ------
    ExtractError
        A file is missing, empty, broken, or of an unknown kind.
    """
    if not paths:
        raise ExtractError("no map extract was given", mend="Name at least one .osm.pbf file")
    reach = make_reach(route, reach_m)
    sources: list[ExtractResult] = []
    for path in paths:
        header, evidence = read_header(path), RoadEvidence(route)
        found = _read_one(
            path, reach, evidence, with_timestamps=header.timestamp is None, also=also
        )
        sources.append(
            ExtractResult(
                name=path.name,
                places=found.places,
                outlines=found.outlines,
                date=(header.timestamp or found.newest or "")[:10] or None,
                nowhere=found.nowhere,
                covered=evidence.covered(header.box),
                reached=evidence.reached(header.box, reach_m),
                box_believed=evidence.believable(header.box),
                extent=header.box if evidence.believable(header.box) else evidence.extent,
                holds_places=found.holds_places,
            )
        )
    names = ", ".join(source.name for source in sources)
    return join_sources(
        sources,
        (evidence.lon, evidence.lat, evidence.chainage_m),
        reach_m=reach_m,
        told_as=f"extract {names}" if len(paths) == 1 else f"extracts {names}",
    )


def _read_one(
    path: Path,
    reach: Reach,
    evidence: RoadEvidence,
    *,
    with_timestamps: bool,
    also: AlsoSees | None,
) -> _Found:
    found = _Found()
    widest = also.reach if also else reach

    def near(box: Box, tags: TagLookup) -> bool:
        evidence.see_extent(box)
        found.holds_places = found.holds_places or may_supply(tags)
        return widest.may_touch(box) or (also is not None and also.wants_from_afar(tags))

    features = read_features(
        path,
        keys=tuple(dict.fromkeys((*rule_keys(), "highway", *(also.keys if also else ())))),
        near=near,
        wants_relation=lambda tags: (
            classify(tags) is not None or (also is not None and also.wants_relation(tags))
        ),
        with_timestamps=with_timestamps,
    )
    for feature in features:
        if feature.timestamp and feature.timestamp > (found.newest or "1971"):
            found.newest = feature.timestamp
        if also is not None:
            also.see(feature)
        if feature.tags.get("highway", "no") not in _NO_ROAD and len(feature.lonlat) > 1:
            evidence.see_road(feature.lonlat)
        if (made := place_of(feature)) is None:
            continue
        found.holds_places = True
        place, outline = made
        if place is None:
            found.nowhere += 1
        elif reach.near([place.lon], [place.lat])[0]:
            found.places.append(place)
            if outline is not None:
                found.outlines[place.id] = outline
    return found


def place_of(
    feature: Feature,
) -> tuple[Place | None, Polygon | MultiPolygon | None] | None:
    """Place a feature makes, with its outline if it is an area.

    Returns
    -------
    tuple or None
        None if it supplies nothing; the place is None where the data doesn't say where it is.
    """
    sort = classify(feature.tags)
    if sort is None:
        return None
    if not len(feature.lonlat):
        return None, None
    lonlat = feature.lonlat
    if across := bool(np.ptp(lonlat[:, 0]) > 180.0):
        lonlat = np.column_stack([lonlat[:, 0] % 360.0, lonlat[:, 1]])
    outline = None if across else outline_of(feature)
    if outline is not None:
        point = outline.representative_point()
        lon, lat = float(point.x), float(point.y)
    else:
        # The known point nearest the middle: on the line, or on a member of a site.
        nearest = np.argmin(((lonlat - lonlat.mean(axis=0)) ** 2).sum(axis=1))
        lon, lat = (float(value) for value in feature.lonlat[nearest])
    kind, supplies = sort
    tags = feature.tags
    hours = tags.get("opening_hours", "")
    place = Place(
        id=feature.id,
        lon=lon,
        lat=lat,
        name=one_line(tags.get("name", "")) or one_line(tags.get("brand", "")),
        kind=kind,
        supplies=supplies,
        # Half of a text that is too long would be read as other hours.
        opening_hours=one_line(hours) or None if len(hours) <= NAME_LIMIT else None,
        tags=kept_tags(tags),
    )
    return place, outline


def outline_of(feature: Feature) -> Polygon | MultiPolygon | None:
    """Area of a closed way or a multipolygon, degrees; None if it is neither, or a tangle."""
    import shapely

    shape: shapely.Geometry
    if feature.closed and len(feature.lonlat) >= 4:
        shape = shapely.Polygon(feature.lonlat)
        if len(feature.lonlat) > _MOST_TANGLED and not shapely.is_valid(shape):
            return None
        shape = shapely.make_valid(shape)
    elif 0 < len(feature.rings) <= _MOST_RINGS:
        try:
            shape = shapely.build_area(shapely.MultiLineString(list(feature.rings)))
        except shapely.GEOSException:
            return None
    else:
        return None
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    if not parts:
        return None
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
