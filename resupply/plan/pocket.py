"""The plans that a rider may need on the way: what may change, and which of it matters most.

In: a plan, and where its ice is only likely. Out: `PocketChange`s, the most needed first, each the
settings of one more plan by the same planner. Changes are taken one at a time: all pairs of them
would be a thousand plans.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal

from resupply.common.units import M_PER_KM, M_PER_MI
from resupply.trip.choice import STYLES
from resupply.trip.riding_keys import MOST_DAILY_KM

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from resupply.plan.pipeline import TripPlan

__all__ = ["MOST_PLANS", "PocketChange", "kept_changes", "pocket_changes"]

MOST_PLANS: Final = 48
"""Plans of one file (our choice: within a minute for 4,000 km and 14 days, see the benchmarks)."""
_RATIOS: Final = (0.95, 1.05, 0.9, 1.1, 0.85, 1.15, 0.8, 1.25, 0.7, 0.6)
"""Other daily distances, the nearest first (our choice: more of them shorter)."""
_NEAR: Final = 4
"""Distances that are as much needed as anything else; the farther ones go first (our choice)."""
_STEP: Final = 5
"""Distances are whole fives of the rider's kilometres or miles (our choice), on short days ones."""
_SHORT: Final = 100
"""Below that a step of the ratios is less than a five: there would be too few distances."""
_LEAST_KM: Final = 10.0
"""A shorter day is a rest day (our choice)."""

Kind = Literal["distance", "rest", "shut", "no_ice", "style"]


@dataclass(frozen=True, slots=True)
class PocketChange:
    """One thing that may be other than planned."""

    kind: Kind
    settings: Mapping[str, object]
    """Dotted keys of the trip file to their values."""
    about: Mapping[str, Any] = field(default_factory=dict)
    """What it is: `daily_m`, `night` (number of the day before it), `place` (map id) or `style`."""

    @property
    def key(self) -> str:
        """Name of the change, the same for the same change: it stands in the page's address."""
        return f"{self.kind}-{next(iter(self.about.values()))}"


def pocket_changes(plan: TripPlan, likely_ice: Iterable[str]) -> tuple[PocketChange, ...]:
    """List what may change on the way, the most needed first.

    Parameters
    ----------
    likely_ice
        Map ids of the places where the plan buys ice that is only likely.
    """
    distances = list(_distances(plan))
    first = [*_shut(plan), *_rests(plan), *_styles(plan), *distances[:_NEAR]]
    return (*first, *_without_ice(plan, likely_ice), *distances[_NEAR:])


def kept_changes(
    changes: tuple[PocketChange, ...], most: int = MOST_PLANS
) -> tuple[tuple[PocketChange, ...], tuple[PocketChange, ...]]:
    """Split changes into those that are planned and those that are too many."""
    return changes[:most], changes[most:]


def _distances(plan: TripPlan) -> Iterator[PocketChange]:
    """Other daily distances, the nearest first; each that gives as many days once."""
    pace = plan.trip.pace
    unit_km = M_PER_MI / M_PER_KM if plan.trip.show.units == "imperial" else 1.0
    left_km = (plan.legs[-1].end_m - plan.legs[0].start_m) / M_PER_KM
    seen = {round(pace.daily_km, 3)}
    step = unit_km * (_STEP if pace.daily_km >= _SHORT * unit_km else 1)
    for ratio in _RATIOS:
        km = round(round(pace.daily_km * ratio / step) * step, 3)
        whole = min(pace.daily_km, km) >= left_km
        if km in seen or whole or not _LEAST_KM <= km <= MOST_DAILY_KM:
            continue
        seen.add(km)
        yield PocketChange("distance", {"pace.daily_km": km}, {"daily_m": round(km * M_PER_KM)})


def _rests(plan: TripPlan) -> Iterator[PocketChange]:
    rests = plan.trip.pace.rest_days
    for leg in plan.legs[:-1]:
        more = {**rests, leg.number: rests.get(leg.number, 0) + 1}
        yield PocketChange("rest", {"pace.rest_days": more}, {"night": leg.number})


def _shut(plan: TripPlan) -> Iterator[PocketChange]:
    shops = plan.trip.shops
    for place in dict.fromkeys(_place(plan, stop.row) for stop in plan.supply.stops):
        keys: dict[str, object] = {"shops.gone": [*shops.gone, place]}
        if place in shops.pinned:
            keys["shops.pinned"] = [one for one in shops.pinned if one != place]
        yield PocketChange("shut", keys, {"place": place})


def _without_ice(plan: TripPlan, likely_ice: Iterable[str]) -> Iterator[PocketChange]:
    for place in dict.fromkeys(likely_ice):
        keys = {"shops.no_ice": [*plan.trip.shops.no_ice, place]}
        yield PocketChange("no_ice", keys, {"place": place})


def _styles(plan: TripPlan) -> Iterator[PocketChange]:
    for style in STYLES:
        if style != plan.trip.food.style:
            yield PocketChange("style", {"food.style": style}, {"style": style})


def _place(plan: TripPlan, row: int) -> str:
    places, place_ix = plan.prepared.places.places, plan.prepared.passes.place_ix
    return places[int(place_ix[row])].id
