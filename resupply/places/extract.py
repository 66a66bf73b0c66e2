"""Places near a route from local OpenStreetMap extracts, by streaming.

In: extract files and a `Route`. Out: a `PlaceSet` with what the extracts cover.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.common.errors import ExtractError
from resupply.common.text import NAME_LIMIT, one_line
from resupply.places.coverage import RoadEvidence
from resupply.places.kept_ground import Ground
from resupply.places.near_route import make_reach
from resupply.places.osm_file import read_header
from resupply.places.osm_scan import scan_extract
from resupply.places.place import Place, PlaceSet
from resupply.places.sees import Sees
from resupply.places.several_extracts import ExtractResult, join_sources
from resupply.places.tags import classify, kept_tags, rule_keys

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from shapely import MultiPolygon, Polygon

    from resupply.places.kept_ground import GroundKeeper
    from resupply.places.near_route import Reach
    from resupply.places.osm_file import Feature, OsmHeader, TagLookup
    from resupply.places.sees import FileFacts
    from resupply.route.route import Route

__all__ = ["outline_of", "place_of", "places_from_extract"]

# To untangle a footprint that crosses itself takes the square of its corners in time: 0.3 s here.
_MOST_TANGLED = 64
# To find which ring lies in which takes the square of their number in time: 0.3 s here.
_MOST_RINGS = 500


class _Places(Sees):
    """Takes the places of one extract."""

    node_keys = rule_keys()
    way_keys = rule_keys()

    def __init__(self, reach: Reach, seen: Reach) -> None:
        self._taken, self.reach = reach, seen
        self.places: list[Place] = []
        self.outlines: dict[str, Polygon | MultiPolygon] = {}
        self.nowhere = 0

    def wants(self, tags: TagLookup, /) -> bool:
        """Whether it may be a place."""
        return any(tags.get(key) is not None for key in self.way_keys)

    def wants_relation(self, tags: Mapping[str, str], /) -> bool:
        """Whether it is a place."""
        return classify(tags) is not None

    def see(self, feature: Feature, /) -> None:
        """Take a place."""
        if (made := place_of(feature)) is None:
            return
        place, outline = made
        if place is None:
            self.nowhere += 1
        elif self._taken.near([place.lon], [place.lat])[0]:
            self.places.append(place)
            if outline is not None:
                self.outlines[place.id] = outline


def places_from_extract(
    paths: Sequence[Path],
    route: Route,
    *,
    reach_m: float,
    also: Sequence[Sees] = (),
    stop: Callable[[], bool] | None = None,
    keeper: GroundKeeper | None = None,
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
        More readers fed by the same pass over the files.
    stop
        Asked between parts of a file whether nobody waits any more.
    keeper
        Given what each extract covers; reads so much farther.

    Raises
    ------
    ExtractError
        A file is missing, empty, broken, or of an unknown kind.
    MapDataError
        It was stopped.
    """
    if not paths:
        raise ExtractError("no map extract was given", mend="Name at least one .osm.pbf file")
    far_m = reach_m + (keeper.margin_m if keeper is not None else 0.0)
    # The ground is looked at in cells of 2 km, so that a narrower corridor could slip between.
    reach, seen = make_reach(route, far_m), make_reach(route, max(far_m, 5_000.0))
    sources: list[ExtractResult] = []
    for path in paths:
        header, evidence, found = read_header(path), RoadEvidence(route), _Places(reach, seen)
        facts = scan_extract(path, header, [found, evidence, *also], stop=stop)
        evidence.extent = facts.extent
        believed = evidence.believable(header.box)
        sources.append(
            ExtractResult(
                name=path.name,
                places=found.places,
                outlines=found.outlines,
                date=_date(header, facts),
                nowhere=found.nowhere,
                covered=evidence.covered(header.box),
                reached=evidence.reached(header.box, reach_m),
                box_believed=believed,
                extent=header.box if believed else evidence.extent,
                holds_places=facts.holds_places or bool(found.places) or found.nowhere > 0,
            )
        )
        if keeper is not None:
            keeper.grounds.append(_ground(sources[-1], evidence, header))
    names = ", ".join(source.name for source in sources)
    return join_sources(
        sources,
        (evidence.lon, evidence.lat, evidence.chainage_m),
        reach_m=reach_m,
        told_as=f"extract {names}" if len(paths) == 1 else f"extracts {names}",
    )


def _ground(source: ExtractResult, evidence: RoadEvidence, header: OsmHeader) -> Ground:
    return Ground(
        name=source.name,
        date=source.date,
        nowhere=source.nowhere,
        holds_places=source.holds_places,
        box=header.box if source.box_believed else None,
        extent=source.extent,
        near=evidence.near_cubes,
        covered=evidence.covered_cubes(header.box),
    )


def _date(header: OsmHeader, facts: FileFacts) -> str | None:
    """Day of the data: as the file says, or else of the newest edit in it."""
    if header.timestamp is not None:
        return header.timestamp[:10]
    return None if facts.newest is None else facts.newest.date().isoformat()


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
    # A node has one point: nothing is to be looked for.
    if across := len(lonlat) > 1 and bool(np.ptp(lonlat[:, 0]) > 180.0):
        lonlat = np.column_stack([lonlat[:, 0] % 360.0, lonlat[:, 1]])
    outline = None if across or len(lonlat) == 1 else outline_of(feature)
    if len(lonlat) == 1:
        lon, lat = lonlat[0].tolist()
    elif outline is not None:
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
