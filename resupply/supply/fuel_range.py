"""Fuel: gaps between stations by road, and the fewest stops that keep the reserve.

In: the stations passed, the range of a full tank, what is in it and a reserve. Out: a
`FuelPlan`. An exact dynamic programme over stations. A range that is exceeded is a result,
listed first; it is never an error and never hidden.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from resupply.common.geodesy import geod

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike, NDArray

    from resupply.places.place import RouteSpan

__all__ = ["FuelGap", "FuelPlan", "FuelStop", "Station", "beside_shops", "plan_fuel"]

_FILL_S = 600.0
"""Time at a station. Common practice, no source."""
_JOINED_FILL_S = 300.0
"""Time at a station next to a shop where the rider stops anyway. Common practice, no source."""

_BESIDE_M = 300.0
"""Our choice: across the car park, without riding on."""
_SAME_PASS_M = 5_000.0
"""Our choice: the same visit, not another pass of a route that comes back."""


@dataclass(frozen=True, slots=True)
class Station:
    """A pass of a filling station that can be reached."""

    row: int
    """Row of the pass."""
    chainage_m: float
    extra_m: float
    """Metres there and back."""
    extra_s: float
    joined: bool = False
    """Beside a grocery stop made anyway: that way is ridden already, and `extra_m` and
    `extra_s` are what comes on top of it."""
    doubtful: bool = False
    """The map names other fuels there, not what the tank takes."""


@dataclass(frozen=True, slots=True)
class FuelGap:
    """A stretch between fillings."""

    start_m: float
    end_m: float
    """Chainages."""
    start_row: int
    """-1 at the start of the route."""
    end_row: int
    """-1 at the end of the route."""
    road_m: float
    """To be ridden: the route between, half of each way to a station."""
    missing_m: float
    """How much more than the tank less the reserve that is; 0 where it fits."""
    beyond_range: bool
    """Not even the reserve is enough: fuel must be carried, or the way changed."""
    crosses_unknown: bool
    """Map data is missing on part of it: there may be stations, nothing shows that there are."""


@dataclass(frozen=True, slots=True)
class FuelStop:
    """Fill up here."""

    row: int
    chainage_m: float
    since_m: float
    """Ridden since the last filling."""
    joined: bool
    extra_s: float
    """Riding and standing time it costs."""


@dataclass(frozen=True, slots=True)
class FuelPlan:
    """Stops to make. `shortfalls` comes first in any report."""

    shortfalls: tuple[FuelGap, ...]
    """Stretches longer than the range less the reserve, even when filled at both ends."""
    stops: tuple[FuelStop, ...]
    gaps: tuple[FuelGap, ...]
    """Between the stops made, start and end included."""
    usable_m: float
    """Range less reserve."""
    extra_s: float
    tank_m: float | None
    """What the fuel at the start reaches; None where not known. Then the plan fills up at the
    nearest station ahead, and the first gap tells what is missing even with a full tank."""


def beside_shops(
    lon: ArrayLike,
    lat: ArrayLike,
    chainage_m: ArrayLike,
    *,
    shop_lon: ArrayLike,
    shop_lat: ArrayLike,
    shop_chainage_m: ArrayLike,
) -> NDArray[np.bool_]:
    """Which stations stand beside a shop where the rider stops on the same pass.

    Parameters
    ----------
    lon, lat, chainage_m
        (m,) of the station passes, degrees and metres.
    shop_lon, shop_lat, shop_chainage_m
        (k,) of the chosen grocery stops.

    Returns
    -------
    NDArray
        (m,) True within 300 m of such a shop.
    """
    at = [np.atleast_1d(np.asarray(a, float)) for a in (lon, lat, chainage_m)]
    shop = [np.atleast_1d(np.asarray(a, float)) for a in (shop_lon, shop_lat, shop_chainage_m)]
    if at[0].size == 0 or shop[0].size == 0:
        return np.zeros(at[0].size, bool)
    x, y, here_m = (a[:, None] + 0.0 * shop[0] for a in at)
    u, v, there_m = (a[None, :] + 0.0 * at[0][:, None] for a in shop)
    _, _, apart_m = geod().inv(x, y, u, v)
    beside = (np.asarray(apart_m) <= _BESIDE_M) & (np.abs(here_m - there_m) <= _SAME_PASS_M)
    return np.asarray(beside.any(axis=1), dtype=bool)


def plan_fuel(
    stations: Sequence[Station],
    *,
    length_m: float,
    range_m: float,
    reserve_m: float,
    tank_m: float | Literal["full", "unknown"] = "full",
    also_m: Sequence[tuple[float, float]] = (),
    unknown: Iterable[RouteSpan] = (),
) -> FuelPlan:
    """Choose where to fill up.

    Parameters
    ----------
    stations
        Sorted by chainage; only those with a known way and not known to be shut.
    length_m
        Route length; the ride ends with the reserve still in the tank.
    range_m, reserve_m
        Full tank and what stays in it, metres.
    tank_m
        What the fuel at the start reaches, metres. One not known counts as empty: the nearest
        station comes first.
    also_m
        Detours made anyway, for shops and camps: chainage and metres there and back.
    unknown
        Stretches on which map data is missing.

    Returns
    -------
    FuelPlan
        The best in this order: least distance beyond the usable range, fewest stops where the
        fuel is doubtful, fewest halts made for fuel alone, least time, fewest stops.

    Raises
    ------
    ValueError
        The reserve is not less than the range.
    """
    usable_m = range_m - reserve_m
    if usable_m <= 0.0:
        raise ValueError("the fuel reserve must be less than the range")
    first_m = {"full": range_m, "unknown": 0.0}[tank_m] if isinstance(tank_m, str) else tank_m
    points, holes = _points(stations, length_m, also_m), tuple(unknown)
    came = _came_from(points, first_m - reserve_m, usable_m)
    chain = [len(points) - 1]
    while chain[-1] > 0:
        chain.append(came[chain[-1]])
    made = [points[i] for i in chain[::-1]]
    gaps = [
        _gap(made[i], made[i + 1], first_m if i == 0 else range_m, reserve_m, holes)
        for i in range(len(made) - 1)
    ]
    if tank_m == "unknown":
        gaps[0] = _gap(made[0], made[1], range_m, reserve_m, holes)
    stops = tuple(
        FuelStop(
            row=here.station.row,
            chainage_m=here.station.chainage_m,
            since_m=gap.road_m,
            joined=here.station.joined,
            extra_s=_stop_s(here.station),
        )
        for here, gap in zip(made[1:-1], gaps, strict=False)
    )
    return FuelPlan(
        shortfalls=tuple(gap for gap in gaps if gap.missing_m > 0.0),
        stops=stops,
        gaps=tuple(gaps),
        usable_m=usable_m,
        extra_s=sum(stop.extra_s for stop in stops),
        tank_m=None if tank_m == "unknown" else first_m,
    )


@dataclass(frozen=True, slots=True)
class _Point:
    station: Station
    at_m: float
    """Metres ridden since the start, other detours included."""
    is_end: bool = False

    @property
    def half_m(self) -> float:
        """One way between the route and the station."""
        return self.station.extra_m / 2.0


def _points(
    stations: Sequence[Station], length_m: float, also_m: Sequence[tuple[float, float]]
) -> list[_Point]:
    rows = [*stations, Station(-1, length_m, 0.0, 0.0)]
    at_m = [s.chainage_m + sum(m for at, m in also_m if at <= s.chainage_m) for s in rows]
    points = [_Point(s, at) for s, at in zip(rows[:-1], at_m, strict=False)]
    return [_Point(Station(-1, 0.0, 0.0, 0.0), 0.0), *points, _Point(rows[-1], at_m[-1], True)]


def _road_m(start: _Point, end: _Point) -> float:
    return end.at_m - start.at_m + start.half_m + end.half_m


def _stop_s(station: Station) -> float:
    return _JOINED_FILL_S if station.joined else _FILL_S + station.extra_s


def _came_from(points: Sequence[_Point], first_m: float, usable_m: float) -> list[int]:
    """Give the filling before each point on the best way to it; -1 at the start.

    Parameters
    ----------
    first_m, usable_m
        Metres that may be ridden from the start, and from each filling.
    """
    at_m, half_m = (np.array([getattr(p, name) for p in points]) for name in ("at_m", "half_m"))
    reach_m = np.full(len(points), usable_m)
    reach_m[0] = first_m
    best = np.zeros((len(points), 5), dtype=np.int64)
    came = [-1]
    for j, here in enumerate(points[1:], 1):
        over_m = at_m[j] + half_m[j] + half_m[:j] - at_m[:j] - reach_m[:j]
        missing = best[:j, 0] + np.rint(np.maximum(over_m, 0.0)).astype(np.int64)
        # What it costs to fill here is the same from everywhere.
        ways = np.flatnonzero(missing == missing.min())
        for column in range(1, 5):
            cost = best[ways, column]
            ways = ways[cost == cost.min()]
        i = int(ways[0])
        best[j] = [missing[i], *(best[i, 1:] + _filling(here))]
        came.append(i)
    return came


def _filling(here: _Point) -> tuple[int, int, int, int]:
    """Say what filling there costs, in the order that counts, beside what is missing before it."""
    if here.is_end:
        return 0, 0, 0, 0
    at = here.station
    return int(at.doubtful), int(not at.joined), round(_stop_s(at)), 1


def _gap(
    start: _Point,
    end: _Point,
    range_m: float,
    reserve_m: float,
    holes: tuple[RouteSpan, ...],
) -> FuelGap:
    road_m = _road_m(start, end)
    return FuelGap(
        start_m=start.station.chainage_m,
        end_m=end.station.chainage_m,
        start_row=start.station.row,
        end_row=end.station.row,
        road_m=road_m,
        missing_m=max(road_m - (range_m - reserve_m), 0.0),
        beyond_range=road_m > range_m,
        crosses_unknown=any(
            hole.start_m < end.station.chainage_m and hole.end_m > start.station.chainage_m
            for hole in holes
        ),
    )
