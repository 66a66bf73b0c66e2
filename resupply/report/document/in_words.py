"""The plan document with its sentences as text, in the trip's units and on its clock."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from resupply.common.show import Show
from resupply.report.document.model.as_json import to_dict

if TYPE_CHECKING:
    from resupply.report.document.model.plan import PlanDocument

__all__ = ["in_words", "shown_in"]


def shown_in(document: PlanDocument) -> Show:
    """Units and clock that a document's trip is told in."""
    return Show(document.trip.units, document.trip.clock)


def in_words(document: PlanDocument) -> dict[str, Any]:
    """Dicts and lists of a plan document for a medium that is text."""
    return to_dict(document, shown_in(document))
