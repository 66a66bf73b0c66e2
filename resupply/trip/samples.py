"""The sample trips: an invented island, planned without a network."""

from __future__ import annotations

from pathlib import Path
from typing import Final

__all__ = ["SAMPLES", "samples_folder"]

SAMPLES: Final = ("coast_loop", "there_and_back", "long_moor")
"""Names of the sample trips, in the order shown."""


def samples_folder() -> Path:
    """Folder of the sample trips: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).parent.parent
    inside = package / "sample_routes"
    return inside if inside.is_dir() else package.parent / "sample_routes"
