"""Make the results of a plan, and write them into a folder: all of them, or none."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from resupply.common.files import write_together

if TYPE_CHECKING:
    from pathlib import Path

    from resupply.report.document.model.plan import PlanDocument
    from resupply.report.pocket import Pocket

__all__ = ["MEDIA_TYPES", "make_result", "write_results"]

MEDIA_TYPES: Final = {
    "plan.html": "text/html; charset=utf-8",
    "plan.json": "application/json",
    "plan.geojson": "application/geo+json",
    "stops.gpx": "application/gpx+xml",
    "stops.csv": "text/csv; charset=utf-8",
    "stops.ics": "text/calendar; charset=utf-8",
    "shopping.txt": "text/plain; charset=utf-8",
}
"""Every result by file name."""


def make_result(
    name: str, document: PlanDocument, geo: dict[str, Any], *, pocket: Pocket | None = None
) -> str | bytes:
    """Make the content of one result; the same document gives the same content.

    Parameters
    ----------
    name
        One of `MEDIA_TYPES`.
    document, geo
        The plan document and the geometry it is drawn on.
    pocket
        Plans for the way, for the map.
    """
    # Each maker is imported when it is wanted: some bring a heavy library.
    if name == "plan.html":
        from resupply.report.document.model.as_json import to_dict
        from resupply.report.page import render_page

        return render_page(to_dict(document), geo, pocket=pocket)
    if name == "plan.json":
        from resupply.report.document.model.as_json import to_json

        return to_json(document)
    if name == "plan.geojson":
        from resupply.report.geojson import plan_geojson

        return plan_geojson(document, geo)
    if name == "stops.gpx":
        from resupply.report.gpx import stops_gpx

        return stops_gpx(document, geo)
    if name == "stops.csv":
        from resupply.report.csv_file import stops_csv

        return stops_csv(document)
    if name == "shopping.txt":
        from resupply.report.lists import shopping_lists

        return shopping_lists(document)
    from resupply.report.calendar import stops_calendar

    return stops_calendar(document)


def write_results(
    document: PlanDocument, geo: dict[str, Any], out: Path, *, pocket: Pocket | None = None
) -> dict[str, Path]:
    """Write every result into a folder; returns what is where.

    Everything is made, and on the disk, before the first file takes its name, so a fault in one
    leaves earlier results as they were.

    Raises
    ------
    OutputError
        The folder or a file cannot be written.
    """
    paths = {name: out / name for name in MEDIA_TYPES}
    made = {path: make_result(name, document, geo, pocket=pocket) for name, path in paths.items()}
    write_together(made)
    return paths
