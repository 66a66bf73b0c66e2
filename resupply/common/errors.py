"""Every error a rider can meet, as one tree.

ResupplyError                 base: one line of what, where and how to mend it
├── RouteError                the file cannot be used as a route
├── TripFileError             a setting has a wrong key or value
├── MapDataError              map data cannot be used
│   ├── ExtractError          a local extract is broken or empty
│   └── MapServiceError       the live map service did not give a whole answer
└── OutputError               a result cannot be written

A route on which a limit cannot be kept is a *result* (shortfalls), never an error.
Only the command line and the page turn these into a line of text and an exit code.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

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
        stop = "" if head.endswith(("?", ".")) else "."
        text = f"{head}{stop} {self.mend}" if self.mend else head
        return " ".join(text.split())


class RouteError(ResupplyError):
    """The file cannot be used as a route."""


class TripFileError(ResupplyError):
    """A setting has a wrong key or value.

    Parameters
    ----------
    what, where, mend
        As for every error.
    key
        Dotted key of the setting at fault, `pace.daily_km`; empty where it is no single one.
    problem
        What is wrong with it, without its name: `must be at least 5`.
    """

    def __init__(
        self, what: str, *, where: str = "", mend: str = "", key: str = "", problem: str = ""
    ) -> None:
        self.key = key
        self.problem = problem or what
        super().__init__(what, where=where, mend=mend)

    def named(self, spelled: Mapping[str, str]) -> TripFileError:
        """Give the same error in the words of a caller that has set the key itself.

        Parameters
        ----------
        spelled
            Dotted key to what the caller wrote: `--daily-km -3`, `daily_km=-3`. An error about
            another key stays as it is.
        """
        parts = self.key.split(".")
        starts = (".".join(parts[:size]) for size in range(len(parts), 0, -1))
        own = next((start for start in starts if start in spelled), None)
        if own is None:
            return self
        return TripFileError(f"{spelled[own]}: {self.problem}", key=self.key, problem=self.problem)


class MapDataError(ResupplyError):
    """Map data cannot be used."""


class ExtractError(MapDataError):
    """A local extract is broken, empty or of an unknown kind."""


class MapServiceError(MapDataError):
    """The live map service did not give a whole answer."""


class OutputError(ResupplyError):
    """A result cannot be written; earlier results are untouched."""
