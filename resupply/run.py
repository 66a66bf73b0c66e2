"""What the command line and the page both call: a trip in, its document and geometry out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from resupply.pipeline import plan_trip
from resupply.prepare import Progress, prepare
from resupply.report.document import plan_document
from resupply.report.geo import geo_document

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.trip import Trip

__all__ = ["plan_files"]


def plan_files(
    trip: Trip,
    folder: Path,
    *,
    notes: Sequence[str] = (),
    progress: Progress | None = None,
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Read everything a trip names, plan it, and describe the result.

    Parameters
    ----------
    trip
        With a start date.
    folder
        File names of the trip are relative to it.
    notes
        Sentences to put before the plan's own cautions.

    Returns
    -------
    The plan document (`resupply.report.document`) and the geometry to draw it on
    (`resupply.report.geo`).

    Raises
    ------
    ResupplyError
        Something the trip names cannot be used.
    """
    tell = progress or (lambda _what, _share: None)
    prepared = prepare(trip, folder, progress=progress)
    tell("Planning the stops", None)
    usual = folder / trip.region.usual_hours if trip.region.usual_hours else None
    plan = plan_trip(prepared, trip, usual_path=usual)
    document = plan_document(plan)
    document["summary"]["cautions"][:0] = list(notes)
    return document, geo_document(plan.prepared)
