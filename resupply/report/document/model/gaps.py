"""Stretches without a supply."""

from resupply.report.document.model.base import Amount, SentenceText, Whole, model

__all__ = ["GapRow", "SupplyGaps"]


@model
class GapRow:
    """A stretch without a supply."""

    start_m: Whole
    """Chainage where it begins, metres."""
    end_m: Whole
    """Chainage where it ends, metres."""
    length_m: Whole
    """Length, metres."""
    ride_s: Whole
    """Riding time, seconds."""
    wall_s: Whole
    """Time from one end to the other with nights and rests, seconds."""
    meals: Whole
    """Meals a person that fall into it."""
    days: Amount
    """The same in days of food."""
    from_words: str
    """Place at its beginning, or the start."""
    to_words: str
    """Place at its end, or the end."""
    crosses_unknown: bool
    """True if map data is missing on part of it: there may be more than is known."""
    has_shut: bool
    """True if places on it that have the supply are shut (for food also usually shut) when passed.
    """
    jump_m: Whole
    """Straight length of the line's jumps on it, which its own length leaves out, metres."""
    words: SentenceText | None = None
    """Plain sentence, ready to show."""


@model
class SupplyGaps:
    """Gaps of one supply."""

    longest: GapRow
    """The longest by distance, of equals the one with most meals; for food the estimate of usual
    hours counts.
    """
    stated: GapRow | None = None
    """The longest without that estimate: only what is open by stated hours ends it (groceries
    only).
    """
    all: tuple[GapRow, ...]
    """Every gap, from the start to the end."""
    count_passes: Whole
    """Passes that supply it and end a gap."""
