"""The first thing to read."""

from resupply.report.document.model.base import SentenceText, model
from resupply.say.under_way import Tone

__all__ = ["Fact", "Summary", "Tone"]


@model
class Fact:
    """A fact."""

    label: str
    """What it is about."""
    value_words: SentenceText
    """The fact."""
    tone: Tone
    """How it is meant."""


@model
class Summary:
    """The first thing to read."""

    headline: SentenceText
    """One or two sentences."""
    facts: tuple[Fact, ...]
    """A few facts."""
    cautions: tuple[SentenceText, ...]
    """What to beware of, in order of weight."""
