"""Count a place once: a node inside its own building, two nodes for one shop, two extracts.

In: places with their outlines. Out: places sorted by id, each duplicate folded into the one
that stays, its id in `merged_ids`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.geodesy import to_ecef_m
from resupply.places.place import Confidence

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from shapely import MultiPolygon, Polygon

    from resupply.places.place import Place

__all__ = ["merge_duplicates"]

_SAME_SPOT_M: Final = 30.0
"""Our choice: a building's size; a node and an outline of one shop lie nearer."""
_OWN_DATES: Final = frozenset(("access:conditional", "end_date", "opening_date", "start_date"))
_CAMP_KINDS: Final = frozenset(("tourism=camp_site", "tourism=camp_pitch"))


def merge_duplicates(
    places: Sequence[Place], outlines: Mapping[str, Polygon | MultiPolygon]
) -> tuple[Place, ...]:
    """Fold duplicates together.

    Two features are one place if they are of the same kind and either one lies inside the
    other's outline and their names don't differ (one may have none), or they are within
    30 m and both have the same name. Pitches inside a camp site are part of it.

    Parameters
    ----------
    places
        In any order; of the same id given twice, the first one stays.
    outlines
        Place id to its area, degrees.
    """
    unique = {place.id: place for place in reversed(places)}
    # Areas before points, so that the result doesn't depend on the order of reading.
    ordered = sorted(unique.values(), key=lambda place: (place.id not in outlines, place.id))
    goes_into: dict[str, str] = {}
    for first, second in sorted({*_inside_pairs(ordered, outlines), *_near_pairs(ordered)}):
        keep, drop = ordered[first], ordered[second]
        if keep.id not in goes_into and drop.id not in goes_into:
            goes_into[drop.id] = keep.id
    for drop_id, keep_id in goes_into.items():
        unique[keep_id] = _folded(unique[keep_id], unique[drop_id])
    return tuple(unique[place_id] for place_id in sorted(unique) if place_id not in goes_into)


def _inside_pairs(
    ordered: Sequence[Place], outlines: Mapping[str, Polygon | MultiPolygon]
) -> Iterator[tuple[int, int]]:
    """Index pairs (area, place inside it) that are one place."""
    import shapely

    areas = [index for index, place in enumerate(ordered) if place.id in outlines]
    if not areas:
        return
    points = shapely.points(np.array([(place.lon, place.lat) for place in ordered]))
    tree = shapely.STRtree(np.asarray(points))
    shapes = [outlines[ordered[index].id] for index in areas]
    found = tree.query(shapes, predicate="intersects")
    pairs = np.stack([np.array(areas)[found[0]], found[1]], axis=-1)
    # Nearly all pairs are an area and its own point.
    for outer, inner in pairs[pairs[:, 0] != pairs[:, 1]].tolist():
        pitch = ordered[outer].kind == "tourism=camp_site" and ordered[inner].kind in _CAMP_KINDS
        same_kind = ordered[outer].kind == ordered[inner].kind
        if pitch or (same_kind and _names_agree(ordered[outer].name, ordered[inner].name)):
            yield outer, inner


def _near_pairs(ordered: Sequence[Place]) -> Iterator[tuple[int, int]]:
    """Index pairs of the same kind and name on the same spot."""
    numbers: dict[tuple[str, str], int] = {}
    named = [index for index, place in enumerate(ordered) if place.name]
    some = [ordered[index] for index in named]
    group = np.array(
        [numbers.setdefault((p.kind, p.name.casefold()), len(numbers)) for p in some], dtype=int
    )
    spot_m = to_ecef_m(np.array([p.lon for p in some]), np.array([p.lat for p in some]))
    order = np.lexsort((spot_m[:, 0], group))
    group, spot_m = group[order], spot_m[order]
    # Each with the next of its group, the next but one, and so on, while any are so near in x.
    for step in range(1, len(order)):
        within = (group[step:] == group[:-step]) & (
            spot_m[step:, 0] - spot_m[:-step, 0] <= _SAME_SPOT_M
        )
        if not within.any():
            return
        first = np.flatnonzero(within)
        away_m = np.linalg.norm(spot_m[first + step] - spot_m[first], axis=1)
        for one in first[away_m <= _SAME_SPOT_M].tolist():
            low, high = sorted((named[order[one]], named[order[one + step]]))
            yield low, high


def _names_agree(one: str, other: str) -> bool:
    first, second = one.casefold(), other.casefold()
    return first in second or second in first


def _folded(keep: Place, drop: Place) -> Place:
    supplies = dict(keep.supplies)
    for supply, confidence in drop.supplies.items():
        if supplies.get(supply) is not Confidence.STATED:
            supplies[supply] = confidence
    return replace(
        keep,
        name=keep.name or drop.name,
        opening_hours=keep.opening_hours or drop.opening_hours,
        supplies=supplies,
        # What ends the one does not end the other.
        tags={**{k: v for k, v in drop.tags.items() if k not in _OWN_DATES}, **keep.tags},
        merged_ids=tuple(sorted({*keep.merged_ids, drop.id, *drop.merged_ids})),
    )
