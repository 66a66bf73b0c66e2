"""What the page shows of a plan document."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["drawn"]


def drawn(plan: Mapping[str, Any]) -> dict[str, Any]:
    """Leave out what the page never shows: in a country full of shops a quarter of the file."""
    gaps = {
        kind: {
            **block,
            "all": [
                {name: value for name, value in gap.items() if name != "words"}
                for gap in block["all"]
                if kind == "groceries"
            ],
        }
        for kind, block in plan["gaps"].items()
    }
    return {**plan, "gaps": gaps}
