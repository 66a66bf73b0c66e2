"""What a rider says on the way, in terms of the map: which place is meant, where the day may end.

In: a `Prepared`, a `Trip` under way and the rider's words. Out: places and camps to choose from,
and the settings that say the choice.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.errors import TripFileError
from resupply.common.units import M_PER_KM
from resupply.places.tags import kind_words, takes_no_tents
from resupply.plan.prepared import cover_span
from resupply.plan.schedule import make_schedule, span_of
from resupply.plan.shops_ahead import ARRIVED_M, detour_seconds, now_m
from resupply.supply.nights import camps_there
from resupply.trip.settings import NowKeys

if TYPE_CHECKING:
    from resupply.plan.prepared import Prepared
    from resupply.trip.settings import Trip

__all__ = ["CampNear", "DaysSoFar", "NamedPlace", "camps_near", "days_so_far", "places_named"]

_FAR_BACK_M: Final = 30_000.0
"""Nobody rides farther back to a camp than that: our choice."""


@dataclass(frozen=True, slots=True)
class NamedPlace:
    """A place that a rider may mean."""

    id: str
    name: str
    """Or its kind, if it has none."""
    at_m: float | None
    """Chainage of its pass nearest to the rider, metres; None where it is off the route."""


@dataclass(frozen=True, slots=True)
class CampNear:
    """A camp at which the day may end."""

    place: NamedPlace
    at_m: float
    """Chainage at which the route is left for it, metres."""
    on_m: float
    """How far ahead that is, metres; below 0 behind."""
    arrive: dt.datetime
    """Local time there, without offset."""


@dataclass(frozen=True, slots=True)
class DaysSoFar:
    """The days up to the one that is being ridden."""

    number: int
    """Of the day being ridden; in camp of the next one."""
    ends_m: tuple[float, ...]
    """Chainages at which the days before it ended, metres."""
    in_camp: bool

    def ended_at(self, at_m: float) -> dict[int, float]:
        """Own distances, km by day, that end the day being ridden at a chainage in metres.

        The days behind get what they had: another end tonight must not move them.
        """
        ends_m = [0.0, *self.ends_m, at_m]
        return {
            day: round((end_m - ends_m[day - 1]) / M_PER_KM, 3)
            for day, end_m in enumerate(ends_m[1:], 1)
        }


def places_named(prepared: Prepared, words: str, *, here_m: float) -> tuple[NamedPlace, ...]:
    """Places near the route that a name or a map id may mean, those nearest to the rider first.

    A whole name wins over a part of one; upper and lower case are the same.
    """
    wanted, passes = words.strip().casefold(), prepared.passes
    nearest: dict[int, float] = {}
    for ix, at_m in zip(passes.place_ix.tolist(), passes.chainage_m.tolist(), strict=True):
        if ix not in nearest or abs(at_m - here_m) < abs(nearest[ix] - here_m):
            nearest[ix] = at_m
    whole, part = [], []
    for ix, place in enumerate(prepared.places.places):
        named = NamedPlace(place.id, place.name or kind_words(place.kind), nearest.get(ix))
        if words.strip() in (place.id, *place.merged_ids):
            return (named,)
        if wanted and place.name.casefold() == wanted:
            whole.append(named)
        elif wanted and wanted in place.name.casefold():
            part.append(named)
    found = whole or part
    # Where some are on the route, those beyond it are not meant.
    found = [one for one in found if one.at_m is not None] or found
    return tuple(
        sorted(found, key=lambda one: np.inf if one.at_m is None else abs(one.at_m - here_m))
    )


def days_so_far(prepared: Prepared, trip: Trip) -> DaysSoFar:
    """Lay out the days of a trip under way up to where the rider is."""
    covered = cover_span(prepared, *span_of(prepared, trip))
    at_home = trip.model_copy(update={"now": NowKeys()})
    ends_m = [leg.end_m for leg in make_schedule(covered, at_home).legs[:-1]]
    here_m = now_m(trip, prepared.route.length_m)
    behind = tuple(end_m for end_m in ends_m if end_m <= here_m + ARRIVED_M)
    in_camp = bool(behind) and behind[-1] >= here_m - ARRIVED_M
    return DaysSoFar(len(behind) + 1, behind, in_camp)


def camps_near(prepared: Prepared, trip: Trip, days: DaysSoFar) -> tuple[CampNear, ...]:
    """Camps at which the day being ridden may end, the shortest ride first.

    Those known to be shut that day, that take no tents or to which no road is known are left out.
    """
    if trip.now.time is None:
        raise TripFileError("now.time is missing", key="now.time", problem="is missing")
    covered = cover_span(prepared, *span_of(prepared, trip))
    leg, here_m = make_schedule(covered, trip).legs[0], now_m(trip, prepared.route.length_m)
    now_s = trip.now.time.replace(tzinfo=leg.depart.tzinfo).timestamp()
    passes, leave_m = covered.passes, covered.leave_m
    mask = camps_there(covered, np.full(len(passes), now_s)) & covered.reachable
    first_m = max(here_m - _FAR_BACK_M, (days.ends_m[-1] if days.ends_m else 0.0) + ARRIVED_M)
    last_m = prepared.route.length_m - ARRIVED_M
    out_s = detour_seconds(covered, trip)[1]
    found: dict[str, tuple[float, CampNear]] = {}
    for row in np.flatnonzero(mask & (leave_m > first_m) & (leave_m < last_m)).tolist():
        place, at_m = covered.places.places[int(passes.place_ix[row])], float(leave_m[row])
        if takes_no_tents(place.tags):
            continue
        ride_s = abs(float(leg.ride_time.at(at_m) - leg.ride_time.at(here_m))) + float(out_s[row])
        named = NamedPlace(place.id, place.name or kind_words(place.kind), at_m)
        arrive = trip.now.time + dt.timedelta(seconds=round(ride_s / 60.0) * 60)
        if place.id not in found or ride_s < found[place.id][0]:
            found[place.id] = (ride_s, CampNear(named, at_m, at_m - here_m, arrive))
    return tuple(camp for _, camp in sorted(found.values(), key=lambda one: one[0]))
