"""What a rider gives for what, in minutes: the weights of the choice of visits, and its chances.

All are ours: estimates, fitted so that the plans of ten trips read like a rider's own.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from resupply.trip.keys import Keys

__all__ = ["STYLES", "ChanceKeys", "ChoiceKeys", "Style", "refuse_old_keys"]

Style = Literal["fresh", "balanced", "few"]
"""How often to shop."""
STYLES: Final[dict[Style, float]] = {"fresh": 1.6, "balanced": 1.0, "few": 0.1}
"""Factor on carrying, freshness and the habit's charge: the styles' only difference, so that their
order can be proved."""

# Limits that only refuse slips (our choice).
_Minutes = Annotated[float, Field(ge=0, le=600)]
_Chance = Annotated[float, Field(ge=0, le=1)]
_Meals = Annotated[int, Field(ge=0, le=90)]
_Hours = Annotated[float, Field(ge=0, le=48)]


class ChanceKeys(Keys):
    """Table `[chances]`."""

    open: _Chance = 0.02
    """Chance that a door is shut though its stated hours say open: hours on a map may be old."""
    unless_holiday: _Chance = 0.05
    """The same where it is not known whether the day is a public holiday: ten to fifteen of them
    a year, and riders ride on them."""
    usually_open: _Chance = 0.06
    """The same without stated hours, where such shops are usually open then."""
    unknown: _Chance = 0.3
    """The same where neither hours nor an estimate speak."""
    usually_shut: _Chance = 0.8
    """The same where such shops are usually shut then."""


class ChoiceKeys(Keys):
    """Table `[choice]`."""

    second_min: _Minutes = 10.0
    """One more shop on a day's road on which you have shopped already, in minutes."""
    far_min: _Minutes = 10.0
    """A way to a shop of more minutes than this, there and back, is for when it must be."""
    far_factor: Annotated[float, Field(ge=1, le=20)] = 3.0
    """Each minute of the way beyond that counts so many times."""
    small_min: _Minutes = 15.0
    """A small shop has less to choose from: it counts as so many minutes more."""
    small_meals: _Meals = 3
    """Meals a small shop is good for."""
    small_over_min: _Minutes = 10.0
    """The first meal beyond that; the second counts twice as much, and so on."""
    special_min: _Minutes = 30.0
    """A bakery, a kiosk or a filling station is a treat or an emergency: so many minutes more."""
    special_meals: _Meals = 1
    """Meals such a shop is good for."""
    special_over_min: _Minutes = 20.0
    """The first meal beyond that; the second counts twice as much, and so on."""
    no_ice_min: _Minutes = 10.0
    """With a cooler on board: food where no ice is sold within a short walk."""
    pump_min: _Minutes = 3.0
    """Taken off where fuel is sold at the same spot, if the tank is planned: a small credit, as
    one of 12 minutes cost more on long trips than it saved."""
    door_min: _Minutes = 20.0
    """Finding a door shut, times the chance of it."""
    no_fallback_min: _Minutes = 90.0
    """A shut door with no other shop that day, times the chance of it: the spare meals are
    eaten."""
    doubt_min: _Minutes = 60.0
    """On top for a door more likely shut than open: no rider plans on it."""
    late_factor: Annotated[float, Field(ge=0, le=60)] = 2.0
    """Each minute in camp after `pace.latest_camp` counts so many times."""
    carry_min: _Minutes = 1.0
    """A meal on board for an hour of riding day."""
    camp_share: Annotated[float, Field(ge=0, le=1)] = 0.2
    """An hour in camp counts so much of one on the road: food ages there, nobody carries it."""
    convex_meals: _Meals = 6
    """Meals to eat above so many weigh more with each one: bags are full."""
    habit_min: _Minutes = 15.0
    """Each meal of the trip's largest load over `food.carry_habit_days`: room is a matter of the
    peak."""
    fresh_min: _Minutes = 25.0
    """A dinner cooked from food bought late, near camp, is worth so many minutes."""
    fresh_road_h: _Hours = 1.0
    """Bought within so many riding hours before camp it is worth all of that."""
    stale_road_h: _Hours = 3.0
    """Bought so many riding hours before camp it is worth nothing."""
    fresh_h: _Hours = 7.0
    """The same by hours before dinner: up to so many, all of it."""
    stale_h: _Hours = 10.0
    """From so many hours before dinner on, nothing."""
    evening_way_min: _Minutes = 10.0
    """From camp you go back to the saddle for a shop so near, one way, in minutes."""


_GONE: Final = {
    "small_weight_min": "choice.small_min",
    "special_weight_min": "choice.special_min",
    "habit_weight_min": "choice.habit_min",
    "tight_weight_min": "choice.door_min and the share of the visit for which the door is open",
    "usual_weight_min": "chances.usually_open",
    "unknown_weight_min": "chances.unknown",
}
"""Keys of `[food]` up to version 0.1, and what says it now."""


def refuse_old_keys(data: object) -> object:
    """Pass a table `[food]` on; name what replaced a key that is gone.

    Raises
    ------
    ValueError
        The table holds such a key.
    """
    if isinstance(data, dict):
        for key, now in _GONE.items():
            if key in data:
                raise ValueError(f"{key} is gone: use {now} instead")
    return data
