"""The three answers a rider asks for first, and what could go wrong most."""

from typing import Annotated

from pydantic import Field

from resupply.report.document.model.base import SentenceText, Time, Whole, model
from resupply.say.states import StateKey
from resupply.say.under_way import Tone

__all__ = ["FirstAnswer", "FirstAnswers", "WorstCase"]


@model
class FirstAnswer:
    """One answer: a large figure, the question, the answer, a detail."""

    figure: SentenceText
    """One quantity to be read from afar."""
    question: SentenceText
    """What it answers."""
    answer: SentenceText
    """The answer."""
    detail: SentenceText
    """What follows from it."""
    tone: Tone
    """Caution where it costs meals or is not sure."""
    state: StateKey | None = None
    """Open state of the door; absent where there is none."""
    state_words: SentenceText | None = None
    """The same in few words: till when it is open."""
    pass_id: Annotated[str | None, Field(alias="pass")] = None
    """Pass that it is about; absent where there is none."""
    start_m: Whole | None = None
    """Chainage that it is about, or where its stretch begins, metres; absent where there is none.
    """
    end_m: Whole | None = None
    """Chainage where its stretch ends, metres."""
    until: Time | None = None
    """From then on it is behind the rider."""


@model
class WorstCase:
    """What costs the rider most if it goes wrong, with its cure."""

    words: SentenceText
    """One or two sentences."""
    start_m: Whole | None = None
    """Chainage that it is about, or where its stretch begins, metres."""
    end_m: Whole | None = None
    """Chainage where its stretch ends, metres."""


@model
class FirstAnswers:
    """What is asked first: the next shop, the longest stretch, ice."""

    shops: tuple[FirstAnswer, ...]
    """Each food stop as the next one, in order; the last says that none follows."""
    stretch: FirstAnswer
    """The longest stretch without a shop."""
    ice: FirstAnswer
    """Where to buy ice and how much."""
    worst: WorstCase | None = None
    """What could go wrong most; absent where nothing costs a meal, the cold or a tank."""
