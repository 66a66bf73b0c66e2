"""The sample trips, planned once for all tests of a run: treat them as read-only."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from conftest import ROOT

from resupply.api import plan_files
from resupply.report.document.in_words import in_words
from resupply.report.document.model.as_json import to_dict
from resupply.trip.read_file import load_trip

if TYPE_CHECKING:
    from resupply.report.document.model.plan import PlanDocument

SAMPLES = ROOT / "sample_routes"
NAMES = ("coast_loop", "there_and_back", "long_moor")


@cache
def demo_document(
    name: str = "coast_loop", **overrides: Any
) -> tuple[PlanDocument, dict[str, Any]]:
    """Plan document and geometry of a sample trip; dots in keys are written as `__`."""
    keys = {key.replace("__", "."): value for key, value in overrides.items()}
    return plan_files(load_trip(SAMPLES / f"{name}.toml", keys), SAMPLES)


@cache
def demo_plan(name: str = "coast_loop", **overrides: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """Plan document as dicts, and geometry, of a sample trip."""
    document, geometry = demo_document(name, **overrides)
    return to_dict(document), geometry


@cache
def demo_told(name: str = "coast_loop", **overrides: Any) -> dict[str, Any]:
    """Plan document of a sample trip as a rider reads it: sentences are text."""
    return in_words(demo_document(name, **overrides)[0])
