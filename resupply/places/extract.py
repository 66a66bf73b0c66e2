"""Places near a route from local OpenStreetMap extracts, by streaming.

In: extract files and a `Route`. Out: a `PlaceSet` with what the extracts cover.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from resupply.errors import ExtractError
from resupply.geodesy import to_ecef_m
from resupply.places.covered import RoadEvidence, stretches_where
from resupply.places.duplicates import merge_duplicates
from resupply.places.model import Coverage, Place, PlaceSet
from resupply.places.osmfile import read_features, read_header
from resupply.places.reach import make_reach
from resupply.places.tags import classify, clean_text, kept_tags, rule_keys

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from numpy.typing import NDArray
    from shapely import MultiPolygon, Polygon

    from resupply.places.osmfile import Feature
    from resupply.places.reach import Reach
    from resupply.route import Route

__all__ = ["place_of", "places_from_extract"]

# Roads that are not there, or that no rider takes.
_NO_ROAD = frozenset(
    ("abandoned", "construction", "corridor", "elevator", "no", "planned", "proposed", "razed")
)


@dataclass(slots=True)
class _Found:
    """What one extract gave."""

    places: list[Place] = field(default_factory=list)
    outlines: dict[str, Polygon | MultiPolygon] = field(default_factory=dict)
    newest: str | None = None
    features: int = 0
    nowhere: int = 0


def places_from_extract(
    paths: Sequence[Path],
    route: Route,
    *,
    reach_m: float,
    see: Callable[[Feature], None] | None = None,
    see_keys: Sequence[str] = (),
) -> PlaceSet:
    """Places within reach of a route, from one or more extracts.

    Parameters
    ----------
    paths
        Extracts (.osm.pbf, .osm, .osm.bz2, .osm.gz); a place in several counts once.
    reach_m
        Straight distance from the route, metres. All places within it are found, and some
        up to about three times that far.
    see, see_keys
        A second reader of the same pass, shown each node and way with one of its keys.

    Raises
    ------
    ExtractError
        A file is missing, empty, broken, or of an unknown kind.
    """
    if not paths:
        raise ExtractError("no map extract was given", mend="Name at least one .osm.pbf file")
    reach = make_reach(route, reach_m)
    places: list[Place] = []
    outlines: dict[str, Polygon | MultiPolygon] = {}
    dates: list[str | None] = []
    warnings: list[str] = []
    covered = at_edge = np.zeros(0, dtype=bool)
    chainage_m = np.zeros(0)
    for path in paths:
        header, evidence = read_header(path), RoadEvidence(route)
        found = _read_one(path, reach, evidence, header.timestamp is None, see, see_keys)
        if found.features == 0:
            raise ExtractError(
                "the map extract is empty", where=str(path), mend="Download it again"
            )
        places += found.places
        outlines.update(found.outlines)
        dates.append((header.timestamp or found.newest or "")[:10] or None)
        if found.nowhere:
            warnings.append(
                f"{path.name}: {found.nowhere} places left out because the extract doesn't say "
                "where they are"
            )
        here = evidence.covered(header.box)
        whole = here & evidence.reached(header.box, reach_m)
        chainage_m = evidence.chainage_m
        covered = here | covered if covered.size else here
        at_edge = whole | at_edge if at_edge.size else whole
    names = ", ".join(path.name for path in paths)
    unknown = stretches_where(
        ~covered, chainage_m, f"the map extract ({names}) doesn't cover this stretch"
    )
    warnings += [
        f"km {piece.start_m / 1000:.0f} to {piece.end_m / 1000:.0f}: the map extract ends within "
        f"{reach_m / 1000:g} km of the route, places beyond its edge are not known"
        for piece in stretches_where(covered & ~at_edge, chainage_m, "")
    ]
    return PlaceSet(
        places=merge_duplicates(places, outlines),
        coverage=Coverage(
            source=f"extract {names}" if len(paths) == 1 else f"extracts {names}",
            data_date=None if None in dates else min(date for date in dates if date),
            unknown=unknown,
        ),
        warnings=tuple(warnings),
    )


def _read_one(
    path: Path,
    reach: Reach,
    evidence: RoadEvidence,
    with_timestamps: bool,  # noqa: FBT001
    see: Callable[[Feature], None] | None,
    see_keys: Sequence[str],
) -> _Found:
    found = _Found()
    keys = tuple(dict.fromkeys((*rule_keys(), "highway", *see_keys)))
    for feature in read_features(
        path, keys=keys, relation_keys=rule_keys(), with_timestamps=with_timestamps
    ):
        found.features += 1
        if feature.timestamp and feature.timestamp > (found.newest or "1971"):
            found.newest = feature.timestamp
        if see is not None:
            see(feature)
        if "highway" in feature.tags and len(feature.lonlat) > 1:
            _see_road(feature, reach, evidence)
        if (made := place_of(feature)) is None:
            continue
        place, outline = made
        if place is None:
            found.nowhere += 1
        elif reach.near([place.lon], [place.lat])[0]:
            found.places.append(place)
            if outline is not None:
                found.outlines[place.id] = outline
    return found


def _see_road(feature: Feature, reach: Reach, evidence: RoadEvidence) -> None:
    west, south = feature.lonlat.min(axis=0)
    east, north = feature.lonlat.max(axis=0)
    evidence.see_extent((west, south, east, north))
    if feature.tags["highway"] not in _NO_ROAD and reach.may_touch(west, south, east, north):
        evidence.see_road(dense_ecef(feature.lonlat))


def dense_ecef(lonlat: NDArray[np.float64], step_m: float = 1_000.0) -> NDArray[np.float64]:
    """Points along a line no farther apart than a step, earth-centred, (k, 3) metres."""
    corners = to_ecef_m(lonlat[:, 0], lonlat[:, 1])
    piece_m = np.linalg.norm(np.diff(corners, axis=0), axis=1)
    if not np.any(piece_m > step_m):
        return corners
    counts = np.maximum(np.ceil(piece_m / step_m), 1).astype(int)
    start = np.repeat(np.arange(len(counts)), counts)
    share = np.concatenate([np.arange(count) / count for count in counts])[:, None]
    between = corners[start] * (1.0 - share) + corners[start + 1] * share
    return np.concatenate([between, corners[-1:]])


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
    outline = _outline(feature)
    if outline is not None:
        point = outline.representative_point()
        lon, lat = float(point.x), float(point.y)
    else:
        # The known point nearest the middle: on the line, or on a member of a site.
        middle = feature.lonlat.mean(axis=0)
        nearest = np.argmin(((feature.lonlat - middle) ** 2).sum(axis=1))
        lon, lat = (float(value) for value in feature.lonlat[nearest])
    kind, supplies = sort
    tags = feature.tags
    hours = tags.get("opening_hours", "").strip()
    place = Place(
        id=feature.id,
        lon=lon,
        lat=lat,
        name=clean_text(tags.get("name", "")) or clean_text(tags.get("brand", "")),
        kind=kind,
        supplies=supplies,
        opening_hours=hours or None,
        tags=kept_tags(tags),
    )
    return place, outline


def _outline(feature: Feature) -> Polygon | MultiPolygon | None:
    import shapely

    if feature.closed and len(feature.lonlat) >= 4:
        shape = shapely.make_valid(shapely.Polygon(feature.lonlat))
    elif feature.rings:
        lines = shapely.line_merge(shapely.multilinestrings(list(feature.rings)))
        shape = shapely.union_all(shapely.polygonize([lines]))
    else:
        return None
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    if not parts:
        return None
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
