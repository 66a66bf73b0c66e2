"""Write the results of a plan into a folder: all of them, or none."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from resupply.files import write_atomic
from resupply.report.document import to_json
from resupply.report.gpx_out import stops_gpx
from resupply.report.page import render_page

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["write_results"]


def write_results(document: dict[str, Any], geo: dict[str, Any], out: Path) -> dict[str, Path]:
    """Write plan.html, plan.json and stops.gpx; returns what is where.

    Everything is made before the first file is written, so a fault in one leaves earlier
    results as they were.

    Raises
    ------
    OutputError
        The folder or a file cannot be written.
    """
    contents = {
        "plan.html": render_page(document, geo),
        "plan.json": to_json(document),
        "stops.gpx": stops_gpx(document, geo),
    }
    for name, content in contents.items():
        write_atomic(out / name, content)
    return {name: out / name for name in contents}
