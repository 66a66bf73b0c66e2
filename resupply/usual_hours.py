"""Usual shop hours by kind of place and country: an editable table, always an estimate.

In: a TOML file. Out: `UsualHours`, which gives the usual `opening_hours` text of a kind in a
country, or None. The packaged table is common practice, no source, unless a row names one.
"""

from __future__ import annotations

import importlib.resources
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.errors import TripFileError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["UsualHours", "UsualRow", "read_usual_hours"]


@dataclass(frozen=True, slots=True)
class UsualRow:
    """One row of the table."""

    hours: str
    """In the `opening_hours` grammar."""
    source: str


@dataclass(frozen=True, slots=True)
class UsualHours:
    """Rows by country code ("default" for all others) and kind of place."""

    rows: Mapping[tuple[str, str], UsualRow]

    def row(self, kind: str, country: str | None) -> UsualRow | None:
        """Row of a kind in a country, else the default row of that kind, else None."""
        own = self.rows.get((country or "default", kind))
        return own or self.rows.get(("default", kind))

    def text(self, kind: str, country: str | None) -> str | None:
        """Usual hours, in the `opening_hours` grammar."""
        found = self.row(kind, country)
        return found.hours if found else None


def read_usual_hours(path: Path | None = None) -> UsualHours:
    """Read the packaged table, or a rider's own one in its place.

    Raises
    ------
    TripFileError
        If the file cannot be read, or a row is not of the stated form; it names the row.
    """
    if path is None:
        where = "usual_hours.toml"
        data = importlib.resources.files("resupply").joinpath("data", where).read_bytes()
    else:
        where = str(path)
        try:
            data = path.read_bytes()
        except OSError as error:
            raise TripFileError(
                f"cannot be read ({error.strerror or error})",
                where=where,
                mend="Check the path given as usual_hours",
            ) from error
    try:
        table = tomllib.loads(data.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise TripFileError(
            f"is no TOML file ({error})", where=where, mend="Start from the packaged table"
        ) from error
    rows: dict[tuple[str, str], UsualRow] = {}
    for country, kinds in table.items():
        if not isinstance(kinds, dict):
            raise TripFileError(
                f'"{country}" is no table',
                where=where,
                mend="Write rows under [default] or a country, e.g. [AT]",
            )
        for kind, row in kinds.items():
            rows[country, kind] = _row(row, where=f"{where}, [{country}] {kind}")
    return UsualHours(rows)


def _row(row: object, *, where: str) -> UsualRow:
    from resupply.stated_hours import is_readable

    match row:
        case {"hours": str(hours), "source": str(source), **rest} if not rest and source.strip():
            if is_readable(hours):
                return UsualRow(hours, source)
            raise TripFileError(
                f'the hours "{hours}" cannot be read',
                where=where,
                mend='Write them like "Mo-Sa 08:00-20:00; PH off"',
            )
    raise TripFileError(
        "a row needs hours and source, both text, and nothing else",
        where=where,
        mend='E.g. { hours = "Mo-Sa 08:00-20:00; PH off", source = "own experience" }',
    )
