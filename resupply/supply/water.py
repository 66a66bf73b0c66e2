"""Water: how many litres to carry from each place to fill up to the next.

In: the water points passed, and litres used on the road and in camp day by day (the rate by
heat is `resupply.kitchen.food.rations.water_need`). Out: `WaterGap`s. A spring or a well is a
source to treat; a tap is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import OpenState
from resupply.hours.timetable import is_limited
from resupply.places.place import Confidence, Supply

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from resupply.places.place import Place, RouteSpan
    from resupply.route.legs import Leg
    from resupply.supply.pass_table import PassTable

__all__ = [
    "WaterDay",
    "WaterGap",
    "needs_treating",
    "split_day",
    "water_along",
    "water_gaps",
    "water_mask",
    "water_shut",
]

_WAKING_H = 16.0
"""Hours of the day over which drinking is spread. Common practice, no source."""
_AT_CAMP_M = 500.0
"""Our choice: water so near to the night's place is fetched there."""
_TREATED = frozenset({"yes", "treated"})
_RAW_KINDS = frozenset({"natural=spring", "man_made=water_well"})


@dataclass(frozen=True, slots=True)
class WaterDay:
    """Litres of one day, whole party."""

    road_l: float
    """Drunk between camps."""
    camp_l: float
    """Drunk and cooked with in the camp that ends the day, till the next departure."""


@dataclass(frozen=True, slots=True)
class WaterGap:
    """A stretch between two places to fill up."""

    start_m: float
    end_m: float
    start_row: int
    """Row of the pass before it; -1 at the start of the route."""
    end_row: int
    litres: float
    """To be on board when it begins."""
    dry_camps: int
    """Nights within it in a camp without water known near."""
    treat: bool
    """The water taken on board must be treated: a spring, a well, or not stated as drinkable."""
    buy: bool
    """It is bought, at a shop where the plan stops for food."""
    crosses_unknown: bool
    """Map data is missing on part of it."""


def split_day(*, drink_l: float, cook_l: float, riding_h: float) -> WaterDay:
    """Divide a day's water between road and camp.

    Drinking is spread evenly over the waking hours; what is cooked, is cooked in camp.

    Examples
    --------
    >>> split_day(drink_l=8.0, cook_l=2.0, riding_h=6.0)
    WaterDay(road_l=3.0, camp_l=7.0)
    """
    road_l = drink_l * min(max(riding_h, 0.0) / _WAKING_H, 1.0)
    return WaterDay(road_l, drink_l - road_l + cook_l)


def needs_treating(place: Place) -> bool:
    """Whether water from there must be treated, as far as the map tells.

    OpenStreetMap wiki: Key:drinking_water ("yes" and "treated" are drinkable; with
    `drinking_water:legal=no` nobody has tested it), Tag:natural=spring.
    """
    if place.tags.get("drinking_water:legal") == "no":
        return True
    if place.tags.get("drinking_water") in _TREATED:
        return False
    return place.kind in _RAW_KINDS or place.supplies.get(Supply.WATER) != Confidence.STATED


def water_mask(
    prepared: PassTable,
    *,
    untreated: bool,
    arrive_s: NDArray[np.float64],
    risk: NDArray[np.int8],
) -> NDArray[np.bool_]:
    """Which passes have water that can be reached (m,); untreated too if that is wanted.

    Taps that are shut on arrival and sources that may be dry or turned off then are none.

    Parameters
    ----------
    arrive_s, risk
        (m,) UTC epoch seconds, and what each pass rests on then.
    """
    mask: NDArray[np.bool_] = _with_water(prepared, untreated=untreated) & (risk != OpenState.SHUT)
    if prepared.timetable is not None:
        for row in np.flatnonzero(mask).tolist():
            ix = int(prepared.passes.place_ix[row])
            mask[row] = not is_limited(prepared.timetable, ix, float(arrive_s[row]))
    return mask


def water_shut(prepared: PassTable, water: NDArray[np.bool_], *, untreated: bool) -> int:
    """How many places with water do not count on any pass, as they are shut or may be dry."""
    has, ix = _with_water(prepared, untreated=untreated), prepared.passes.place_ix
    return len(set(ix[has].tolist()) - set(ix[water].tolist()))


def _with_water(prepared: PassTable, *, untreated: bool) -> NDArray[np.bool_]:
    mask: NDArray[np.bool_] = prepared.supply[Supply.WATER] & prepared.reachable
    if untreated:
        return mask
    raw = np.array([needs_treating(place) for place in prepared.places.places], dtype=bool)
    treated: NDArray[np.bool_] = mask & ~raw[prepared.passes.place_ix]
    return treated


def water_along(
    prepared: PassTable,
    water: NDArray[np.bool_],
    legs: Sequence[Leg],
    days: Sequence[WaterDay],
    shops: Iterable[tuple[float, int]] = (),
) -> tuple[WaterGap, ...]:
    """Find the stretches between places to fill up.

    Parameters
    ----------
    water
        (m,) passes with water; see `water_mask`.
    legs, days
        As for `water_gaps`.
    shops
        Where water is bought with the food: metres along the route, and the row of the pass.
    """
    at = np.flatnonzero(water & (prepared.passes.chainage_m >= legs[0].start_m))
    points = []
    for row in at.tolist():
        place = prepared.places.places[int(prepared.passes.place_ix[row])]
        points.append((float(prepared.passes.chainage_m[row]), row, needs_treating(place), False))
    points = sorted([*points, *((at_m, row, False, True) for at_m, row in shops)])
    return water_gaps(
        [point[0] for point in points],
        [point[1] for point in points],
        [point[2] for point in points],
        [point[3] for point in points],
        legs=legs,
        days=days,
        unknown=prepared.places.coverage.unknown,
    )


def water_gaps(
    chainage_m: Sequence[float],
    rows: Sequence[int],
    treat: Sequence[bool],
    buy: Sequence[bool] = (),
    *,
    legs: Sequence[Leg],
    days: Sequence[WaterDay],
    unknown: Iterable[RouteSpan] = (),
) -> tuple[WaterGap, ...]:
    """Find all gaps, in order; one more than there are water points.

    Parameters
    ----------
    chainage_m
        (k,) metres, non-decreasing: where there is water.
    rows
        (k,) rows of the passes.
    treat
        (k,) whether the water there must be treated.
    buy
        (k,) whether it is bought; not given: nowhere.
    legs, days
        The trip, and its water day by day; as many of one as of the other. Rest days count as
        another `camp_l` of the leg before them.
    unknown
        Stretches on which map data is missing.

    Notes
    -----
    The party leaves with drinkable water. A camp with water within half a kilometre along
    the route needs none carried for the night.
    """
    start_m, end_m = legs[0].start_m, legs[-1].end_m
    points_m = np.array([start_m, *chainage_m, end_m])
    ends = [-1, *rows, -1]
    raw, bought = [False, *treat], [False, *(buy or [False] * len(treat))]
    holes = tuple(unknown)
    edges_m = np.array([start_m, *(leg.end_m for leg in legs)])
    drunk_l = np.concatenate([[0.0], np.cumsum([day.road_l for day in days])])
    gaps: list[WaterGap] = []
    for i in range(len(points_m) - 1):
        start_m, end_m = float(points_m[i]), float(points_m[i + 1])
        road_l = np.interp(end_m, edges_m, drunk_l) - np.interp(start_m, edges_m, drunk_l)
        dry = [
            k
            for k, leg in enumerate(legs[:-1])
            if start_m + _AT_CAMP_M < leg.end_m < end_m - _AT_CAMP_M
        ]
        camp_l = sum(days[k].camp_l * (1 + legs[k + 1].rest_days_before) for k in dry)
        gaps.append(
            WaterGap(
                start_m=start_m,
                end_m=end_m,
                start_row=ends[i],
                end_row=ends[i + 1],
                litres=float(road_l) + camp_l,
                dry_camps=len(dry),
                treat=raw[i],
                buy=bought[i],
                crosses_unknown=any(h.start_m < end_m and h.end_m > start_m for h in holes),
            )
        )
    return tuple(gaps)
