"""The sample trips, planned once for all tests of a run: treat them as read-only.

The first process that needs a plan makes it, with all that is made when it is first asked for.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from conftest import ROOT
from made_once import made_once

from resupply.api import plan_files
from resupply.api.again import prepared_for
from resupply.api.calls import plan_trip_at
from resupply.api.plan_object import plan_prepared
from resupply.common.errors import TripFileError
from resupply.report.document.in_words import in_words
from resupply.report.document.model.as_json import to_dict
from resupply.trip.read_file import load_trip

if TYPE_CHECKING:
    from resupply.api import Plan
    from resupply.report.document.model.plan import PlanDocument

SAMPLES = ROOT / "sample_routes"
NAMES = ("coast_loop", "there_and_back", "long_moor")


@cache
@made_once
def demo_read(name: str = "coast_loop") -> Plan:
    """Plan of a sample trip as it stands in its file; map and route are read here, once."""
    plan = plan_trip_at(load_trip(SAMPLES / f"{name}.toml"), SAMPLES)
    assert plan.document
    assert plan.geometry
    return plan


@cache
@made_once
def demo_document(
    name: str = "coast_loop", **overrides: Any
) -> tuple[PlanDocument, dict[str, Any]]:
    """Plan document and geometry of a sample trip; dots in keys are written as `__`.

    Map and route are not read again where the settings allow it: that this gives the same plan
    is a test of its own (test_api).
    """
    read = demo_read(name)
    if not overrides:
        return read.document, read.geometry
    keys = {key.replace("__", "."): value for key, value in overrides.items()}
    trip = load_trip(SAMPLES / f"{name}.toml", keys)
    try:
        prepared = prepared_for(read.prepared, read.trip, trip)
    except TripFileError:
        return plan_files(trip, SAMPLES)
    plan = plan_prepared(prepared, trip, SAMPLES, read=read.trip)
    return plan.document, plan.geometry


@cache
def demo_plan(name: str = "coast_loop", **overrides: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """Plan document as dicts, and geometry, of a sample trip."""
    document, geometry = demo_document(name, **overrides)
    return to_dict(document), geometry


@cache
def demo_told(name: str = "coast_loop", **overrides: Any) -> dict[str, Any]:
    """Plan document of a sample trip as a rider reads it: sentences are text."""
    return in_words(demo_document(name, **overrides)[0])
