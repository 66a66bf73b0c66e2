"""Where to buy ice."""

from typing import Annotated, Literal

from pydantic import Field

from resupply.report.document.model.base import SentenceText, Time, Whole, model
from resupply.say.states import StateKey

__all__ = ["IceBuy", "IceDocument", "IcePlace"]


@model
class IceBuy:
    """Ice to buy for one cooler."""

    cooler: str
    """food or drinks."""
    kg: float
    """Mass, kg."""
    bags: int
    """Bags as sold."""
    confidence: Literal["stated", "likely"]
    """stated or likely."""
    words: SentenceText
    """The same in words."""
    if_none: tuple[SentenceText, ...] = ()
    """A second menu where the ice is only likely: what to eat first, leave, buy and eat instead;
    empty where nothing changes."""


@model
class IcePlace:
    """An ice stop."""

    leg: int
    """Riding day."""
    pass_id: Annotated[str, Field(alias="pass")]
    """Id of its pass."""
    confidence: Literal["stated", "likely"]
    """On the map, or likely by the kind of place."""
    chainage_m: Whole
    """Where, metres."""
    eta: Time
    """Local time."""
    state: StateKey
    """Open state then."""
    state_words: SentenceText
    """Hours in words."""
    at_stop: int | None
    """Number of the food stop at the same spot: one visit serves both; null if none."""
    words: SentenceText
    """Plain sentence, ready to show."""
    buy: tuple[IceBuy, ...]
    """Ice to buy, per cooler."""


@model
class IceDocument:
    """Where to buy ice."""

    stops: tuple[IcePlace, ...]
    """Ice stops in order."""
    longest_gap_h: float | None
    """Longest time between them, hours; null if there are none."""
    words: SentenceText
    """Plain sentence, ready to show."""
    rule_words: SentenceText | None = None
    """A rule of thumb, marked as such."""
    spare: tuple[IcePlace, ...]
    """Places with ice that the plan does not need."""
