"""What to buy."""

from typing import Annotated, Literal

from pydantic import Field

from resupply.report.document.model.base import SentenceText, Time, model

__all__ = [
    "DishName",
    "KitList",
    "PackRow",
    "ReserveList",
    "ShoppingDocument",
    "ShoppingRow",
    "ShoppingStop",
]


@model
class PackRow:
    """A pack."""

    size: float
    """Amount in one pack."""
    count: int
    """How many."""


@model
class ShoppingRow:
    """One line of a shopping list."""

    id: str
    """Id of the ingredient."""
    name: str
    """Name of the ingredient."""
    aisle: str
    """Where it stands in a shop."""
    unit: Literal["g", "ml", "piece", "kg"]
    """Unit of the amounts."""
    need: float
    """Amount the meals up to the next stop take."""
    in_hand: float
    """Amount left from before."""
    packs: tuple[PackRow, ...]
    """Packs to buy; none where it is weighed out at home, or enough is left from before."""
    bought: float
    """Amount bought or weighed out."""
    used_later: float
    """Amount of it for meals behind the next stop."""
    left_over: float
    """Amount that no meal takes."""
    mass_kg: float
    """Mass of what is bought, kg."""
    meals: tuple[int, ...]
    """Slots of the meals it is for."""
    doubtful: bool
    """True if a small shop may not have it."""
    words: SentenceText
    """What to buy."""
    left_words: SentenceText
    """What is left over; may be empty."""
    doubt_words: SentenceText
    """Why it is doubtful; may be empty."""
    bike: str = ""
    """Name of the bike that carries it; empty where one carries all."""


@model
class ShoppingStop:
    """A list."""

    stop: int | None
    """Number of the stop, 0 is home."""
    name: str
    """Name."""
    when: Time
    """Local time."""
    full: bool | None
    """True for a full shop."""
    words: SentenceText
    """A doubt about the shop; may be empty."""
    lines: tuple[ShoppingRow, ...]
    """In the order of the aisles."""
    if_no_ice: tuple[SentenceText, ...] = ()
    """What to eat first, leave, buy and eat instead if there is none of its ice."""
    chainage_m: float | None = None
    """Where it is on the route, metres; where only ice is bought."""
    pass_id: Annotated[str | None, Field(alias="pass")] = None
    """Its pass, where only ice is bought."""


@model
class DishName:
    """A dish."""

    id: str
    """Id."""
    name: str
    """Name."""


@model
class ReserveList:
    """Food kept for a shut shop."""

    dishes: tuple[DishName, ...]
    """Dishes."""
    lines: tuple[ShoppingRow, ...]
    """What to buy for it."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class KitList:
    """What is brought from home: the pantry kit, or the kitchen's gear."""

    lines: tuple[ShoppingRow, ...]
    """What the trip takes of it."""
    words: SentenceText
    """Plain sentence, ready to show."""


@model
class ShoppingDocument:
    """What to buy; absent if no food is planned."""

    people: int
    """For how many."""
    stops: tuple[ShoppingStop, ...]
    """By stop."""
    kit: KitList
    """The pantry kit: listed once, decanted at home."""
    gear: KitList
    """What to cook with and to eat from, once for all."""
    reserve: ReserveList
    """Food kept for a shut shop."""
