"""The plan document with its sentences as text, in the trip's units and on its clock."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from resupply.common.show import Show, with_text

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["in_words"]


def in_words(document: Mapping[str, Any]) -> dict[str, Any]:
    """Copy of a plan document, or of a part of it, for a medium that is text.

    Parameters
    ----------
    document
        Sentences are lists of words and quantities; text stays as it is.
    """
    trip = document["trip"]
    told: dict[str, Any] = with_text(dict(document), Show(trip["units"], trip["clock"]))
    return told
