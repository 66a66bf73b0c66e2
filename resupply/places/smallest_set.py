"""The smallest set of extracts that covers the ground along a route.

In: a route, how far around it ground matters, and the regions of a catalogue. Out: the regions to
fetch, each with the part of the route it is for. Exact: an integer programme over the points of
the ground, solved by HiGHS (scipy).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.geodesy import geod
from resupply.common.units import M_PER_KM
from resupply.places.coverage import SPACING_M
from resupply.places.near_route import samples_along

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from resupply.places.catalogue import Region
    from resupply.route.route import Route

__all__ = ["Chosen", "smallest_set"]

_AROUND: Final = 8
"""Directions in which the ground beside the route is looked at: our choice."""
_MOST_POINTS: Final = 60_000
"""Of the ground: our choice; a route around the Earth is looked at every 5 km."""
_OWN_BYTES: Final = 1_000_000.0
"""What one file more has to save: our choice, so that a country is not put together of towns."""
_BYTES_PER_KM: Final = 20_000_000.0
"""What a kilometre that only a continent covers (at sea, mostly) may cost: our choice."""
_BYTES_PER_POINT: Final = 2_000_000.0
"""What a point of the ground beside the route may cost: our choice. A country in the mountains of
3 MB has its neighbours, of 900 MB, within 5 km."""
_BYTES_PER_M2: Final = 0.002
"""Of extracts of Europe, a country of 100,000 km2 has some 200 MB; where no size is told."""


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """Extracts to fetch for a route."""

    regions: tuple[Region, ...]
    on_route_m: tuple[float, ...]
    """For each region, the length of route in it, metres; 0 if it is for ground beside only."""
    beside_lacks: bool
    """Whether ground beside the route is left out for the size of what holds it."""
    lacking_m: float
    """Length of route in none of them, metres: at sea, or where the catalogue has nothing."""


def smallest_set(
    route: Route, regions: Sequence[Region], around_m: float, *, all_around: bool = False
) -> Chosen:
    """Choose the extracts with the fewest bytes that cover a route and the ground around it.

    Left out where it would cost too much: what only a collection of other regions covers, such as
    a ferry's way (`lacking_m`), and ground beside the route (`beside_lacks`).

    Parameters
    ----------
    around_m
        How far from the route ground is wanted, metres.
    all_around
        Leave out no ground beside the route.
    """
    spacing_m = max(SPACING_M, route.length_m / _MOST_POINTS * (1 + _AROUND))
    lon, lat, chainage_m = samples_along(route, spacing_m)
    line = np.column_stack([lon, lat])
    ground = np.concatenate([line, _ring(lon, lat, chainage_m, around_m)])
    near = [one for one in regions if _may_hold(one, ground)]
    if not near:
        return Chosen((), (), False, route.length_m)
    inside = np.stack([_holds(one, ground) for one in near], axis=-1)
    own_m = np.zeros(len(ground))
    own_m[: len(line)] = np.gradient(chainage_m) if len(chainage_m) > 1 else 0.0
    parents = {one.parent for one in regions}
    is_leaf = np.array([one.id not in parents for one in near])
    must = (inside & is_leaf).any(axis=1)
    worth = own_m / M_PER_KM * _BYTES_PER_KM
    if not all_around:
        must[len(line) :] = False
        worth[len(line) :] = _BYTES_PER_POINT
    chosen = _cheapest(inside, must, worth, _costs(near))
    on_m = inside * own_m[:, None]
    lacking = ~inside[:, chosen].any(axis=1)
    return Chosen(
        tuple(near[k] for k in chosen),
        tuple(float(on_m[:, k].sum()) for k in chosen),
        bool((lacking & (inside & is_leaf).any(axis=1))[len(line) :].any()),
        float(own_m[lacking].sum()),
    )


def _ring(
    lon: NDArray[np.float64],
    lat: NDArray[np.float64],
    chainage_m: NDArray[np.float64],
    around_m: float,
) -> NDArray[np.float64]:
    """Points at a distance all around the line, every half of that distance along it."""
    if around_m <= 0.0:
        return np.zeros((0, 2))
    step = np.floor(chainage_m / (around_m / 2.0))
    first = np.flatnonzero(np.diff(step, prepend=-1.0) > 0)
    directions = np.tile(np.arange(_AROUND) * (360.0 / _AROUND), len(first))
    start_lon, start_lat = np.repeat(lon[first], _AROUND), np.repeat(lat[first], _AROUND)
    end_lon, end_lat, _ = geod().fwd(
        start_lon, start_lat, directions, np.full(len(directions), around_m)
    )
    return np.column_stack([end_lon, end_lat])


def _turned(lon: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Longitudes in each way in which a catalogue may tell them across the antimeridian."""
    return lon, lon - 360.0, lon + 360.0


def _may_hold(region: Region, ground: NDArray[np.float64]) -> bool:
    west, south, east, north = region.shape.bounds
    lon, lat = ground.T
    high = (lat >= south) & (lat <= north)
    return any(bool((high & (x >= west) & (x <= east)).any()) for x in _turned(lon))


def _holds(region: Region, ground: NDArray[np.float64]) -> NDArray[np.bool_]:
    import shapely

    lon, lat = ground.T
    shapely.prepare(region.shape)
    found = np.zeros(len(ground), bool)
    for x in _turned(lon):
        found |= shapely.intersects_xy(region.shape, x, lat)
    return found


def _costs(regions: Sequence[Region]) -> NDArray[np.float64]:
    """Bytes of each, reckoned from its area where the catalogue doesn't tell."""
    known = [one for one in regions if one.size_bytes]
    area = sum(_area_m2(one) for one in known)
    density = sum(one.size_bytes or 0 for one in known) / area if area else _BYTES_PER_M2
    told = [one.size_bytes or density * _area_m2(one) for one in regions]
    return np.array(told, float) + _OWN_BYTES


def _area_m2(region: Region) -> float:
    return abs(float(geod().geometry_area_perimeter(region.shape)[0]))


def _cheapest(
    inside: NDArray[np.bool_],
    must: NDArray[np.bool_],
    worth: NDArray[np.float64],
    costs: NDArray[np.float64],
) -> list[int]:
    """Columns with the least cost of which every row has one.

    Parameters
    ----------
    inside
        (n, k) which column holds which row; rows that none holds don't count.
    must
        (n,) whether a row has to be held; any other may be left out for its worth.
    worth, costs
        (n,) and (k,) bytes.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    wanted, which = np.unique(inside, axis=0, return_inverse=True)
    price = np.bincount(which.ravel(), worth, len(wanted))
    needed = np.bincount(which.ravel(), must, len(wanted)) > 0
    held = wanted.any(axis=1)
    wanted, price, needed = wanted[held], price[held], needed[held]
    every = np.concatenate([costs, price]) / costs.max()
    found = milp(
        every,
        constraints=LinearConstraint(np.hstack([wanted, np.eye(len(wanted))]), lb=1.0),
        integrality=np.ones(len(every)),
        bounds=Bounds(0.0, np.concatenate([np.ones(len(costs)), ~needed])),
    )
    # There is a solution: all columns together.
    return [int(k) for k in np.flatnonzero(found.x[: len(costs)] > 0.5)]
