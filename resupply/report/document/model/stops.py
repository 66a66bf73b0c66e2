"""Food stops: what to carry, and what if a door is shut."""

from typing import Annotated, Literal

from pydantic import Field

from resupply.report.document.model.base import Ordinal, SentenceText, Time, Whole, model
from resupply.report.document.model.ice import IceBuy
from resupply.say.states import StateKey

__all__ = [
    "CarryStep",
    "FallbackRow",
    "HoursIgnored",
    "IfShutRow",
    "RemedyRow",
    "ShortfallRow",
    "ShutDoor",
    "SpareDocument",
    "StartCarry",
    "StopRow",
    "StyleRow",
]


@model
class StartCarry:
    """What to carry from home."""

    meals: Whole
    """Meals a person."""
    on_board_meals: int | None
    """Meals a person on board under way, or that the rider sets out with (`start.food_meals`); null
    where what is needed is bought at home."""
    days: float
    """The same in days."""
    kg: float | None
    """Food for all, kg; null while a menu is wanted and not planned yet."""
    words: SentenceText
    """Plain sentence, ready to show."""
    to_chainage_m: Whole
    """Chainage it must last to, metres."""
    kg_words: SentenceText
    """What the mass is of, in words."""


@model
class FallbackRow:
    """Where to go if a stop is shut."""

    kind: Literal["shop", "meal_out", "none"]
    """A shop, a meal out, or nothing before the end of the route."""
    pass_id: Annotated[str | None, Field(alias="pass")]
    """Id of its pass; null if there is none."""
    chainage_m: Whole
    """Chainage, metres."""
    distance_m: Whole
    """Distance from the stop along the route, metres."""
    eta: Time | None
    """Local time of arrival there; null if there is none."""
    state: StateKey
    """Open state then."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class IfShutRow:
    """What must last if it is shut."""

    gap_meals: int
    """Meals a person, from the stop before."""
    gap_days: float
    """The same in days."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class StopRow:
    """A food stop."""

    number: Ordinal
    """Number, from 1."""
    pass_id: Annotated[str, Field(alias="pass")]
    """Id of its pass."""
    place: str
    """Its place, a key of `places`."""
    name: str
    """Name, or kind where it has none."""
    leg: int
    """Riding day."""
    chainage_m: Whole
    """Where on the route, metres."""
    arrive: Time
    """Local time of arrival."""
    leave: Time
    """Local time of leaving."""
    minutes: int
    """Time spent, minutes."""
    from_camp: bool
    """Visited from camp, in the evening or on a rest day; there and back."""
    on_board_m: Whole
    """Chainage at which the food comes on board: the stop's own, or the camp's, metres."""
    shut_chance: float
    """Chance that the door is found shut, 0 to 1."""
    detour_m: Whole
    """Way there and back, metres."""
    state: StateKey
    """Open state on arrival."""
    state_words: SentenceText
    """Hours in words."""
    kind: Literal["full", "small"]
    """A full shop or a small one."""
    why: SentenceText
    """Why this stop."""
    why_not_previous: SentenceText | None
    """Why not the shop before it; null if there is none."""
    carry_meals: Whole
    """Meals a person to eat, carried from here; spare ones not counted."""
    carry_days: float
    """Days of food on board from here, the spare with it."""
    carry_kg: float | None
    """Food for all, kg; null while a menu is wanted and not planned yet."""
    carry_words: SentenceText
    """Plain sentence, ready to show."""
    to_chainage_m: Whole
    """Chainage it must last to, metres."""
    fallback: FallbackRow
    """Where to go if it is shut."""
    meal_out: FallbackRow | None
    """A meal out if it is shut; null if there is none."""
    if_shut: IfShutRow
    """What must last if it is shut."""
    carry_kg_words: SentenceText
    """What the mass is of, in words."""
    ice: tuple[IceBuy, ...]
    """Ice to buy, per cooler."""


@model
class CarryStep:
    """A step."""

    chainage_m: Whole
    """Where, metres."""
    at_s: int
    """When, UTC seconds since 1970."""
    meals: Whole
    """Meals a person on board after it."""
    stop: int | None = None
    """Number of the stop at which they are bought; absent for a meal and for the start."""


@model
class RemedyRow:
    """A change that helps."""

    words: SentenceText
    """Plain sentence, ready to show."""
    minutes: int | None
    """Extra time for shopping, minutes; negative if it saves time."""
    excess_meals: int
    """Meals a person still above the limit."""


@model
class ShortfallRow:
    """A stretch on which the carry limit cannot be kept, whatever the stops."""

    start_m: Whole
    """Chainage of the last stop before it, metres."""
    end_m: Whole
    """Chainage of the next stop, metres."""
    days: float
    """Days of food it takes."""
    meals: int
    """Meals a person it takes."""
    limit_days: float
    """The limit."""
    excess_meals: int
    """Meals a person above it."""
    last_shop_m: Whole
    """Chainage of the last shop at all, metres."""
    words: SentenceText
    """Plain sentence, ready to show."""
    remedies: tuple[RemedyRow, ...]
    """The cheapest first."""


@model
class SpareDocument:
    """What is kept spare, and what a shut door would ask for."""

    meals: int
    """Spare meals a person, on top of those to eat (food.spare_meals)."""
    kg: float | None
    """Food for all, kg; null while a menu is wanted and not planned yet."""
    worst_stop: int | None
    """Number of the stop whose shut door asks for most food; null without stops."""
    worst_more_meals: int
    """Meals a person more than planned that it needs; may be more than the spare."""
    longest_gap_meals: int
    """Longest time without a shop if one stop is shut, meals."""
    longest_gap_days: float
    """The same in days."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class StyleRow:
    """One way to shop."""

    style: Literal["fresh", "balanced", "few"]
    """Value of food.style."""
    chosen: bool
    """True for the one that this plan follows."""
    stops: int
    """Food stops."""
    minutes: int
    """Riding to the shops and back, and in them."""
    most_meals: int
    """Largest load to eat, meals a person; spare ones not counted."""
    fresh_dinners: int
    """Dinners cooked from food bought late that day, near camp."""
    dinners: int
    """All dinners of the trip."""
    fail_chance: float
    """Chance that at least one of the stops is found shut, 0 to 1."""
    approximate: bool
    """True where a cooler may still ask for other stops: in another style than the plan's."""
    words: SentenceText
    """The same in words."""


@model
class ShutDoor:
    """A shut door."""

    pass_id: Annotated[str, Field(alias="pass")]
    """Id of the pass."""
    name: str
    """Name of the shop."""
    chainage_m: Whole
    """Where, metres."""
    arrive: Time
    """Local time."""
    state_words: SentenceText
    """Hours in words."""


@model
class HoursIgnored:
    """What a plan that ignores opening hours would meet."""

    stops: tuple[str, ...]
    """Ids of the passes it would stop at."""
    shut: tuple[ShutDoor, ...]
    """Doors it would find shut."""
    longest_meals: int
    """Longest time without a shop then, meals."""
    words: SentenceText
    """Plain sentence, ready to show."""
