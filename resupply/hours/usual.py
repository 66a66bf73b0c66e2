"""Usual hours by kind of place and country: an editable table, always an estimate.

In: the packaged TOML table, before it a rider's own one. Out: `UsualHours`, which gives the
usual `opening_hours` text of a kind of place in a country, or None.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from resupply.common.errors import TripFileError
from resupply.common.toml_file import packaged_toml, read_toml
from resupply.hours.stated import is_readable
from resupply.places.tags import RULES

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["UsualHours", "UsualRow", "read_usual_hours"]

PACKAGED: Final = "usual_hours.toml"
ANYWHERE: Final = ""
_EXAMPLE: Final = (
    'Write [[row]] with kinds = ["shop=bakery"], hours = "Tu-Sa 08:00-12:00", '
    'source = "own experience" and, if you like, countries = ["FR"]'
)


@dataclass(frozen=True, slots=True)
class UsualRow:
    """Usual hours and where they come from."""

    hours: str
    """In the `opening_hours` grammar."""
    source: str


@dataclass(frozen=True, slots=True)
class UsualHours:
    """Tables by country ("" for anywhere else) and kind of place; earlier ones go first."""

    tables: tuple[Mapping[tuple[str, str], UsualRow], ...]

    def row(self, kind: str, country: str | None) -> UsualRow | None:
        """Row of a kind in a country, else of that kind anywhere else, else None.

        Examples
        --------
        >>> read_usual_hours().row("shop=supermarket", "AT").hours
        'Mo-Fr 08:00-18:30; Sa 08:00-17:00; Su,PH off'
        """
        for table in self.tables:
            found = table.get((country or ANYWHERE, kind)) or table.get((ANYWHERE, kind))
            if found:
                return found
        return None

    def text(self, kind: str, country: str | None) -> str | None:
        """Usual hours, in the `opening_hours` grammar."""
        found = self.row(kind, country)
        return found.hours if found else None


def read_usual_hours(path: Path | None = None) -> UsualHours:
    """Read the packaged table and, if given, a rider's own one that goes before it.

    Parameters
    ----------
    path
        A TOML file of the same form with the rider's rows only.

    Raises
    ------
    TripFileError
        If the file cannot be read or a row is not of that form; it names the row.
    """
    tables = [_packaged()]
    if path is not None:
        own = read_toml(
            path,
            "table of usual hours",
            named="Check the path given as usual_hours in the trip file",
            large="Keep only your own rows in it",
        )
        tables.insert(0, _table(own, str(path)))
    return UsualHours(tuple(tables))


@cache
def _packaged() -> Mapping[tuple[str, str], UsualRow]:
    return _table(packaged_toml("resupply.hours", PACKAGED), PACKAGED)


def _table(content: Mapping[str, Any], where: str) -> Mapping[tuple[str, str], UsualRow]:
    rows = content.get("row", [])
    stray = [key for key in content if key != "row"]
    if stray or not isinstance(rows, list):
        raise TripFileError(
            f"holds something but rows: {', '.join(stray) or 'row'}", where=where, mend=_EXAMPLE
        )
    table: dict[tuple[str, str], UsualRow] = {}
    for number, row in enumerate(rows, start=1):
        at = f"{where}, row {number}"
        kinds, countries, usual = _row(row, at)
        for kind in kinds:
            for country in countries:
                if (country, kind) in table:
                    named = f"{kind} in {country}" if country else f"{kind} anywhere else"
                    raise TripFileError(f"{named} is there twice", where=at, mend="Keep one")
                table[country, kind] = usual
    return table


def _row(row: object, where: str) -> tuple[list[str], list[str], UsualRow]:
    match row:
        case {"kinds": list(kinds), "hours": str(hours), "source": str(source), **rest}:
            countries = rest.pop("countries", [ANYWHERE])
        case _:
            raise TripFileError("needs kinds, hours and source", where=where, mend=_EXAMPLE)
    if rest:
        raise TripFileError(
            f"has unknown keys: {', '.join(map(str, rest))}", where=where, mend=_EXAMPLE
        )
    known = {f"{rule.key}={rule.value}" for rule in RULES}
    for kind in kinds:
        if not isinstance(kind, str) or kind not in known:
            raise TripFileError(f"{kind!r} is no kind of place", where=where, mend=_EXAMPLE)
    if not isinstance(countries, list):
        raise TripFileError("countries is no list", where=where, mend=_EXAMPLE)
    for country in countries:
        code = isinstance(country, str) and re.fullmatch(r"[A-Z]{2}", country)
        if country != ANYWHERE and not code:
            raise TripFileError(f"{country!r} is no country code", where=where, mend=_EXAMPLE)
    if not source.strip():
        raise TripFileError("source is empty", where=where, mend='E.g. source = "own experience"')
    if not is_readable(hours):
        raise TripFileError(
            f"the hours {hours!r} cannot be read",
            where=where,
            mend='Write them like "Mo-Sa 08:00-20:00; PH off"',
        )
    return kinds, countries, UsualRow(hours, source)
