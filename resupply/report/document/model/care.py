"""Cautions with their sources."""

from typing import Literal

from resupply.report.document.model.base import SentenceText, model

__all__ = ["CareDocument", "CareNoteRow", "CareSource", "SafeTemperature"]


@model
class CareNoteRow:
    """A caution."""

    id: str
    """Id."""
    title: str
    """Title."""
    words: str
    """The caution."""
    source: str
    """Who says so."""
    status: Literal["confirmed", "copy", "memory", "practice", "ours"]
    """How sure the wording is."""


@model
class SafeTemperature:
    """A safe inner temperature."""

    food: str
    """Food."""
    temp_f: float | None
    """°F as published; null if it goes by looks."""
    temp_c: float | None
    """°C, rounded."""
    rest_min: float | None
    """Rest after that, minutes."""
    words: str
    """How else to tell; may be empty."""
    source: str
    """Who says so."""


@model
class CareSource:
    """A source, and what of the plan stands on it."""

    source: str
    """Who says so, and how sure the wording is."""
    backs: tuple[str, ...]
    """Cautions by title, and limits of foods."""


@model
class CareDocument:
    """Cautions that apply, with their sources."""

    short: tuple[SentenceText, ...]
    """What to have in mind at the stove, for paper."""
    short_line: SentenceText
    """The same in one line."""
    notes: tuple[CareNoteRow, ...]
    """In order of weight."""
    temperatures: tuple[SafeTemperature, ...]
    """Safe inner temperatures."""
    sources: tuple[CareSource, ...]
    """Every source once; those of cautions first."""
    boil_min: float | None
    """How long to boil untreated water, minutes; null where none is drunk."""
