"""Every error a rider can meet, as one tree.

ResupplyError                 base: one line of what, where and how to mend it
├── RouteError                the file cannot be used as a route
├── TripFileError             the trip file has a wrong key or value
├── MapDataError              map data cannot be used
│   ├── ExtractError          a local extract is broken or empty
│   └── MapServiceError       the live map service did not give a whole answer
└── OutputError               a result cannot be written

A route on which a limit cannot be kept is a *result* (shortfalls), never an error.
Only the command line and the page turn these into a line of text and an exit code.
"""

from __future__ import annotations

__all__ = [
    "ExtractError",
    "MapDataError",
    "MapServiceError",
    "OutputError",
    "ResupplyError",
    "RouteError",
    "TripFileError",
]


class ResupplyError(Exception):
    """What went wrong, where, and how to mend it, in one line.

    Parameters
    ----------
    what
        The fault, as a short clause.
    where
        The file, line, key or address at fault; may be empty.
    mend
        What the rider can do about it; may be empty.
    """

    def __init__(self, what: str, *, where: str = "", mend: str = "") -> None:
        self.what = what
        self.where = where
        self.mend = mend
        super().__init__(str(self))

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        text = f"{head}. {self.mend}" if self.mend else head
        return " ".join(text.split())


class RouteError(ResupplyError):
    """The file cannot be used as a route."""


class TripFileError(ResupplyError):
    """The trip file has a wrong key or value."""


class MapDataError(ResupplyError):
    """Map data cannot be used."""


class ExtractError(MapDataError):
    """A local extract is broken, empty or of an unknown kind."""


class MapServiceError(MapDataError):
    """The live map service did not give a whole answer."""


class OutputError(ResupplyError):
    """A result cannot be written; earlier results are untouched."""
