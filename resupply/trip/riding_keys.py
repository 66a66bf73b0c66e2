"""Tables of the trip file: start, pace, jumps, fuel and nights."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from resupply.trip.fuels import ANY_PETROL, is_fuel
from resupply.trip.keys import DayNumber, Keys, LocalTime, NotNegative, Text
from resupply.trip.pace import Pace

__all__ = [
    "MOST_DAILY_KM",
    "MOST_REST_DAYS",
    "FuelKeys",
    "JumpKeys",
    "NightKeys",
    "PaceKeys",
    "StartKeys",
]

MOST_DAILY_KM = 2000
"""Our choice: nobody rides farther in a day."""
MOST_REST_DAYS = 60
"""In one camp, planned from home or said on the way: our choice."""

_FIRST_DATE, _LAST_DATE = dt.date(1970, 1, 1), dt.date(2199, 12, 31)
"""Our choice: a date outside of these is a slip."""


def _not_tiny(hours: float) -> float:
    if 0.0 < hours < 0.1:
        raise ValueError("must be 0 for no rests, or at least 0.1")
    return hours


def _a_fuel(name: str) -> str:
    if not is_fuel(name.lower()):
        raise ValueError(f"{name!r} is no fuel: use petrol, diesel, octane_95, e10 or the like")
    return name.lower()


class StartKeys(Keys):
    """Table `[start]`."""

    date: Annotated[dt.date, Field(ge=_FIRST_DATE, le=_LAST_DATE)] | None = None
    """First riding day, e.g. `2027-07-09`. Without it tomorrow is taken, and the report says so."""
    food_meals: Annotated[int, Field(ge=0, le=300)] | None = None
    """Meals a person that you set out with, from the larder: 0 for none, then the first shop comes
    before the first meal if the route allows it. Not given: what is needed is bought at home."""


_PACE = Pace()


class PaceKeys(Keys):
    """Table `[pace]`."""

    daily_km: Annotated[float, Field(ge=5, le=MOST_DAILY_KM)] = 250.0
    """Wanted distance a day; a rest of under 1 km is added to the last day."""
    even_days: bool | None = None
    """Spread the days evenly. `false`: ride full days, however short the last one gets. Without it
    full days are ridden, and a last one under a fifth of a day is spread over the others."""
    speed_kmh: Annotated[float, Field(ge=3, le=150)] | None = None
    """Your average moving speed. Without it the roads' own, and 60 km/h where none are known."""
    depart: LocalTime = _PACE.depart
    """Departure each morning, local time."""
    rest_every_h: Annotated[float, Field(ge=0, le=24), AfterValidator(_not_tiny)] = (
        _PACE.rest_every_h
    )
    """A rest after each so many hours of riding; 0 for none."""
    rest_min: Annotated[float, Field(ge=0, le=240)] = _PACE.rest_min
    """Length of a rest, minutes."""
    drift_min: Annotated[float, Field(ge=0, le=240)] = _PACE.drift_min
    """How far off an ETA may be just after departure, minutes either way."""
    drift_min_per_h: Annotated[float, Field(ge=0, le=60)] = _PACE.drift_min_per_h
    """How much that grows per hour since departure."""
    latest_camp: LocalTime = _PACE.latest_camp
    """Latest time in camp, local; later arrivals cost extra and are cautioned."""
    own_km: dict[DayNumber, Annotated[float, Field(ge=1, le=3000)]] = {}
    """Own distance of single days: day number to km."""
    rest_days: dict[DayNumber, Annotated[int, Field(ge=0, le=MOST_REST_DAYS)]] = {}
    """Rest days in camp: day number to how many follow it."""
    own_depart: dict[DayNumber, LocalTime] = {}
    """Own departure of single days: day number to local time."""
    own_speed_kmh: dict[DayNumber, Annotated[float, Field(ge=3, le=150)]] = {}
    """Own average moving speed of single days: day number to km/h."""

    def pace(self) -> Pace:
        """Pick the part that the clock needs."""
        return Pace(
            depart=self.depart,
            rest_every_h=self.rest_every_h,
            rest_min=self.rest_min,
            drift_min=self.drift_min,
            drift_min_per_h=self.drift_min_per_h,
            latest_camp=self.latest_camp,
        )


_JumpNumber = Annotated[int, Field(ge=1, le=100_000)]
"""Our choice: far more jumps than a route has."""


class JumpKeys(Keys):
    """Table `[jumps]`: what the jumps of the line are."""

    kind: Literal["unknown", "ferry", "ridden"] = "unknown"
    """A ferry, or ridden (in a straight line, as no road is known). Where not said, the plan asks,
    and counts time as for a ferry and fuel as if ridden."""
    each: dict[_JumpNumber, Literal["ferry", "ridden"]] = {}
    """What single jumps are: number of the jump, from 1 in the order of the route, to `"ferry"` or
    `"ridden"`."""
    hours: dict[_JumpNumber, Annotated[float, Field(ge=0, le=72)]] = {}
    """Hours that single crossings take, waiting included: number of the jump to hours."""


class FuelKeys(Keys):
    """Table `[fuel]`."""

    range_km: Annotated[float, Field(gt=0, le=3000)] | None = None
    """Distance on a full tank; without it only gaps are shown."""
    reserve_km: NotNegative = 40.0
    """Distance kept in reserve."""
    takes: Annotated[
        tuple[Annotated[Text, AfterValidator(_a_fuel)], ...], Field(min_length=1, max_length=20)
    ] = (ANY_PETROL,)
    """What the tank takes: `petrol`, `diesel`, or grades by the map's keys, e.g.
    `["octane_95", "octane_98"]`. Stations that name only other fuels are likely at best."""


class NightKeys(Keys):
    """Table `[night]`."""

    camps: bool = True
    """Let days end at a camp near the nominal end, where the map has one."""
    tolerance_km: Annotated[float, Field(ge=0, le=500)] = 30.0
    """How far a day's end may move along the route."""
    own: tuple[Text, ...] = ()
    """Places to sleep at, by map id, besides the camps found."""
