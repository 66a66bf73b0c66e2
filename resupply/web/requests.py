"""What the page sends: checked in form here, in meaning by `resupply.web.settings`."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["ExportRequest", "MapsRequest", "PlanRequest", "RouteName"]

RouteName = Annotated[str, Field(max_length=64)]
"""`sample:NAME`, or the token of an uploaded route."""


class PlanRequest(BaseModel):
    """What the page asks for."""

    model_config = ConfigDict(extra="forbid")

    page: Annotated[str, Field(min_length=1, max_length=40)]
    """The page's own name for itself; one page's newer question replaces its older ones."""
    seq: Annotated[int, Field(ge=0, le=2**53)]
    """The page's counter, sent back; the page drops answers older than its newest."""
    route: RouteName
    trip: dict[str, Any]
    quick: bool = False
    have: Annotated[str, Field(max_length=40)] = ""
    """World whose geometry and places the page holds; of another one they are sent along."""
    again: bool = False
    """Read the map data again, because some could not be had."""


class ExportRequest(BaseModel):
    """A file of the present plan."""

    model_config = ConfigDict(extra="forbid")

    route: RouteName
    trip: dict[str, Any]
    name: Annotated[str, Field(max_length=40)]
    """A result of `resupply.report.write`, or `trip.toml`."""
    file: Annotated[str, Field(max_length=500)] = ""
    """Name of the file an uploaded route came from; only ever text in the trip file."""


class MapsRequest(BaseModel):
    """A route for which map data is wanted."""

    model_config = ConfigDict(extra="forbid")

    route: RouteName
    trip: dict[str, Any]
