"""Where the days of a prepared trip end: at camps near the nominal ends, if the rider wants that.

In: nominal day ends and the camps passed. Out: day ends, and what is known of each night.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np

from resupply.common.units import S_PER_DAY, S_PER_HOUR
from resupply.hours.state import BY_HOURS, OpenState
from resupply.hours.sun import sunset
from resupply.hours.timetable import is_limited, shut_around, states
from resupply.places.place import Supply
from resupply.places.tags import takes_no_tents
from resupply.supply.camps import Camp, NightEnd, choose_nights

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from resupply.hours.timetable import Timetable
    from resupply.places.place import Place
    from resupply.route.legs import RideTime, SetOut
    from resupply.supply.pass_table import PassTable
    from resupply.trip.settings import Trip

__all__ = ["camps_there", "nights_of"]

_THERE_M: Final = 50.0
"""A distance set by hand is told to 10 m or better (our choice)."""
_NOON: Final = dt.time(12)
"""The middle of the day of arrival, all of which is judged."""
_HALF_DAY_S: Final = S_PER_DAY / 2.0
"""Either side of noon."""
_MICROSECONDS: Final = 6
"""Digits: what arithmetic leaves beyond makes nobody late."""
_EVENING_S: Final = 6.0 * S_PER_HOUR
"""From noon: when a camp is judged (common practice, no source)."""


def nights_of(
    prepared: PassTable,
    trip: Trip,
    lay: Callable[[Mapping[int, float]], Sequence[float]],
    *,
    set_out: SetOut,
    ride_time: RideTime,
    zone_at: Callable[[float], dt.tzinfo],
    before: Sequence[NightEnd] = (),
) -> tuple[NightEnd, ...]:
    """Choose the night of every day but the last; empty if the trip does not ask for camps.

    A day whose distance the rider has set by hand ends that far from where the night before is
    spent. The days between two such ends are chosen together.

    Parameters
    ----------
    lay
        From lengths of days already settled, metres by number, to nominal ends, metres, the
        route's end last.
    before
        For a trip under way: the nights that were planned before; the first day is then the one
        after them.
    """
    first_date, start_m, first_depart = set_out.date, set_out.start_m, set_out.depart
    ends_m = lay({})
    if not trip.night.camps or len(ends_m) < 2:
        return ()
    camps = _camps(prepared, set(trip.night.own))
    first = len(before) + 1
    late_min = _lateness(
        prepared,
        trip,
        first_date,
        first,
        first_depart or trip.pace.own_depart.get(first, trip.pace.depart),
        ride_time,
        zone_at,
    )
    date_of = _dates(trip, first_date, first)
    on_night = _on_night(prepared, date_of)
    nights: list[NightEnd] = list(before)
    since, day = first - 1, first
    while day <= len(ends_m):
        by_hand = day in trip.pace.own_km
        if by_hand or day == len(ends_m):
            found = _between(
                ends_m[since:day],
                camps,
                start_m=start_m,
                first_day=since + 1,
                tolerance_m=trip.night.tolerance_km * 1000.0,
                late_min=late_min,
                on_night=on_night,
            )
            nights += found
            # The nights before one under way were settled too.
            if by_hand and nights:
                ends_m = lay(_lengths_m(nights))
            if day < len(ends_m):
                end_m = float(ends_m[day - 1])
                nights.append(_by_hand(day, end_m, camps))
                start_m, since = end_m, day
        day += 1
    return tuple(nights[len(before) :])


def _by_hand(day: int, end_m: float, camps: Sequence[Camp]) -> NightEnd:
    """Night where the rider has set it; at a place of their own if it is there."""
    for camp in camps:
        if camp.own and abs(camp.chainage_m - end_m) < _THERE_M:
            return NightEnd(day, end_m, end_m, camp.row, 0, "")
    return NightEnd(day, end_m, end_m, -1, 0, "where you set this day's end")


def _lengths_m(nights: Sequence[NightEnd]) -> dict[int, float]:
    ends_m = [0.0, *(night.end_m for night in nights)]
    return {night.day: night.end_m - ends_m[k] for k, night in enumerate(nights)}


def _between(
    ends_m: Sequence[float],
    camps: Sequence[Camp],
    *,
    start_m: float,
    first_day: int,
    tolerance_m: float,
    late_min: Callable[[int, float, float, float], int],
    on_night: Callable[[int, Camp], Camp | None],
) -> list[NightEnd]:
    """Nights of consecutive days whose last end is fixed."""
    if len(ends_m) < 2:
        return []
    shifted = [
        replace(camp, chainage_m=camp.chainage_m - start_m) if start_m else camp
        for camp in camps
        if start_m < camp.chainage_m < ends_m[-1]
    ]
    found = choose_nights(
        # A rider under way may be past the nominal end, on the way to a camp beyond it.
        [max(end_m - start_m, 0.0) for end_m in ends_m],
        shifted,
        tolerance_m=tolerance_m,
        late_min=lambda day, a_m, b_m, ways_s: late_min(
            day + first_day - 1, a_m + start_m, b_m + start_m, ways_s
        ),
        on_night=lambda day, camp: on_night(day + first_day - 1, camp),
    )
    return [
        replace(
            night,
            day=night.day + first_day - 1,
            nominal_m=night.nominal_m + start_m,
            end_m=night.end_m + start_m,
        )
        for night in found
    ]


def _camps(prepared: PassTable, own: set[str]) -> list[Camp]:
    passes, camps, leave_m = prepared.passes, [], prepared.leave_m
    rows = np.arange(len(passes)) if own else np.flatnonzero(prepared.supply[Supply.CAMP])
    is_camp = prepared.supply[Supply.CAMP]
    for row in rows.tolist():
        place = prepared.places.places[int(passes.place_ix[row])]
        if place.id not in own and (not is_camp[row] or takes_no_tents(place.tags)):
            continue
        camps.append(
            Camp(
                row=row,
                chainage_m=float(leave_m[row]),
                extra_m=float(prepared.detours.extra_m[row]),
                extra_s=float(prepared.detours.extra_s[row]),
                doubtful=place.id not in own and (bool(prepared.no_road[row]) or _doubtful(place)),
                own=place.id in own,
                place=int(passes.place_ix[row]),
            )
        )
    return camps


def _doubtful(place: Place) -> bool:
    """Perhaps no road to it; its season and hours are judged night by night."""
    return place.tags.get("backcountry") == "yes" or place.tags.get("motor_vehicle") == "no"


def camps_there(prepared: PassTable, arrive_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Camps passed that are not known to be shut all day, by season or hours (m,).

    Parameters
    ----------
    arrive_s
        (m,) UTC epoch seconds.
    """
    mask: NDArray[np.bool_] = prepared.supply[Supply.CAMP].copy()
    rows = np.flatnonzero(mask)
    if prepared.timetable is not None and rows.size:
        ix = prepared.passes.place_ix[rows]
        mask[rows] = ~shut_around(prepared.timetable, ix, arrive_s[rows], _HALF_DAY_S)
    return mask


def _dates(trip: Trip, first_date: dt.date, first: int) -> Callable[[int], dt.date]:
    """Date on which a day is ridden, by its number; the first one to be ridden is given."""

    def date_of(day: int) -> dt.date:
        rested = sum(n for after, n in trip.pace.rest_days.items() if first <= after < day)
        return first_date + dt.timedelta(days=day - first + rested)

    return date_of


def _on_night(
    prepared: PassTable, date_of: Callable[[int], dt.date]
) -> Callable[[int, Camp], Camp | None]:
    """Judge camps by season and hours on the day of arrival: none if shut all day.

    The rider's own places stay, whatever the map says; the report tells what it says.
    """
    timetable = prepared.timetable

    def on_night(day: int, camp: Camp) -> Camp | None:
        if timetable is None:
            return camp
        state = _on_date(timetable, int(prepared.passes.place_ix[camp.row]), date_of(day))
        if state is OpenState.OPEN:
            return camp
        if state is OpenState.SHUT and not camp.own:
            return None
        return replace(camp, doubtful=True)

    return on_night


# Other plans of a trip ask of the same camps on the same days.
@lru_cache(maxsize=8192)
def _on_date(timetable: Timetable, ix: int, date: dt.date) -> OpenState:
    """Tell of a camp on a day: open, shut all day, or not known."""
    if not timetable.zones[ix]:
        return OpenState.OPEN
    noon_s = dt.datetime.combine(date, _NOON, tzinfo=ZoneInfo(timetable.zones[ix])).timestamp()
    if shut_around(timetable, ix, noon_s, _HALF_DAY_S).all():
        return OpenState.SHUT
    evening_s = noon_s + _EVENING_S
    told = not timetable.problems[ix] or is_limited(timetable, ix, evening_s)
    code = int(states(timetable, ix, evening_s, 0.0, 0.0))
    return OpenState.UNKNOWN if told and code not in BY_HOURS else OpenState.OPEN


def _lateness(
    prepared: PassTable,
    trip: Trip,
    first_date: dt.date,
    first: int,
    first_depart: dt.time,
    ride_time: RideTime,
    zone_at: Callable[[float], dt.tzinfo],
) -> Callable[[int, float, float, float], int]:
    """Minutes a day arrives after sunset or the latest time in camp, whichever is earlier."""
    pace, date_of = trip.pace, _dates(trip, first_date, first)

    @cache
    def spare_s(day: int, end_m: float) -> float:
        # From departure to the latest arrival, both by the clock where the day ends.
        date, zone = date_of(day), zone_at(end_m)
        latest = dt.datetime.combine(date, pace.latest_camp, tzinfo=zone)
        down = sunset(*prepared.route.position_at(end_m), date, zone)
        latest = latest if down is None else min(latest, down)
        time = first_depart if day == first else pace.own_depart.get(day, pace.depart)
        depart = dt.datetime.combine(latest.date(), time, tzinfo=latest.tzinfo)
        return (latest - depart).total_seconds()

    @cache
    def ridden_s(at_m: float) -> float:
        return float(ride_time.at(at_m))

    def late_min(day: int, start_m: float, end_m: float, ways_s: float) -> int:
        ride_s = ridden_s(end_m) - ridden_s(start_m) + ways_s
        if day in pace.own_speed_kmh:
            ride_s = (end_m - start_m) / (pace.own_speed_kmh[day] / 3.6) + ways_s
        rests = math.floor(max(ride_s - 1e-6, 0.0) / (pace.rest_every_h * S_PER_HOUR or np.inf))
        out_s = round(ride_s + rests * pace.rest_min * 60.0, _MICROSECONDS)
        return max(math.ceil((out_s - spare_s(day, end_m)) / 60.0), 0)

    return late_min
