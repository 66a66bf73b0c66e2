"""Read the trip file and write it; a fault names the file, the line and the key.

In: TOML text, and settings made elsewhere. Out: a checked `Trip`, or `TripFileError`.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ValidationError

from resupply.common.errors import TripFileError
from resupply.common.toml_file import inner_table, parse_toml, read_text
from resupply.trip.faults import fault_words
from resupply.trip.keys import OTHER_UNITS
from resupply.trip.settings import Trip

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

__all__ = ["dump_trip", "load_trip", "make_trip", "own_key", "parse_trip"]


def load_trip(path: Path, overrides: Mapping[str, object] | None = None) -> Trip:
    """Read a trip file.

    Parameters
    ----------
    path
        A TOML file.
    overrides
        Dotted keys (`pace.daily_km`) set on the command line; they win over the file.

    Raises
    ------
    TripFileError
        The file cannot be read, is no TOML, or has a wrong key or value.
    """
    text = read_text(
        path,
        "trip file",
        named="Check the name of the trip file",
        large="Give the trip file here and the route file with --route",
    )
    return parse_trip(text, where=str(path), overrides=overrides)


def parse_trip(
    text: str, *, where: str = "trip", overrides: Mapping[str, object] | None = None
) -> Trip:
    """Read a trip from TOML text; see `load_trip`."""
    data = parse_toml(text, where=where)
    try:
        return make_trip(data, where=where, text=text, overrides=overrides)
    except RecursionError as error:
        raise TripFileError(
            "holds tables within tables without end",
            where=where,
            mend="The keys and their values are listed in docs/trip-file.md",
        ) from error


def make_trip(
    data: Mapping[str, object],
    *,
    where: str = "trip",
    text: str = "",
    overrides: Mapping[str, object] | None = None,
) -> Trip:
    """Check a tree of settings; see `load_trip`."""
    tree = _copied(data)
    for dotted, value in (overrides or {}).items():
        _put(tree, dotted.split("."), value)
    try:
        return Trip.model_validate(tree)
    except ValidationError as error:
        faults = error.errors(include_url=False)
        keys = [str(part) for part in faults[0]["loc"]]
        key = ".".join(keys)
        words, problem = fault_words(key, faults[0], _known_keys())
        more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        raise TripFileError(
            words + more,
            where=_placed(where, text, keys),
            mend="The keys and their values are listed in docs/trip-file.md",
            key=key,
            problem=problem,
        ) from error


@cache
def _known_keys() -> tuple[str, ...]:
    """Every dotted key of the trip file, in order."""
    tables = {name: field.annotation for name, field in Trip.model_fields.items()}
    return tuple(
        f"{name}.{key}" if key else name
        for name, table in tables.items()
        for key in (
            table.model_fields
            if isinstance(table, type) and issubclass(table, BaseModel)
            else ("",)
        )
    )


def own_key(dotted: str) -> str:
    """Give a key as the tables have it: `pace.daily_km` for `pace.daily_mi`."""
    for suffix, (own_suffix, _) in OTHER_UNITS.items():
        own = dotted.removesuffix(suffix) + own_suffix
        if dotted.endswith(suffix) and dotted not in _known_keys() and own in _known_keys():
            return own
    return dotted


def dump_trip(trip: Trip) -> str:
    """Write a trip as TOML that `parse_trip` reads back to an equal trip; defaults left out."""
    import tomli_w

    tree = trip.model_dump(exclude_defaults=True, exclude_none=True, mode="python")
    return tomli_w.dumps(_textual(tree))


def _textual(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _textual(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_textual(item) for item in value]
    return value


def _copied(data: Mapping[str, object]) -> dict[str, Any]:
    return {k: _copied(v) if isinstance(v, dict) else v for k, v in data.items()}


def _put(tree: dict[str, Any], keys: list[str], value: object) -> None:
    *tables, last = keys
    table = inner_table(tree, tables)
    if table is None:
        return  # the file holds a plain value there; validation names it
    # An option in km must win over the file's same key in miles.
    for suffix, (own_suffix, _) in OTHER_UNITS.items():
        if last.endswith(own_suffix):
            table.pop(last.removesuffix(own_suffix) + suffix, None)
        if last.endswith(suffix):
            table.pop(last.removesuffix(suffix) + own_suffix, None)
    table[last] = value


def _placed(where: str, text: str, keys: list[str]) -> str:
    line = next(_lines_of(text, keys), None)
    return f"{where}, line {line}" if line else where


def _lines_of(text: str, keys: list[str]) -> Iterator[int]:
    """Yield the line of the key, else of the nearest table that holds it."""
    wanted = [key for key in keys if not key.isdigit()]
    found: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        # Plain splitting: no line of a made-up file may keep a pattern busy.
        if stripped.startswith("["):
            header, closed, _ = stripped.lstrip("[").partition("]")
            if closed and "=" not in header:
                table = _parts(header)
                found.setdefault(table, number)
            continue
        key, equals, _ = stripped.partition("=")
        if equals:
            found.setdefault(table + _parts(key), number)
    spellings = [tuple(wanted)]
    for suffix, (own_suffix, _) in OTHER_UNITS.items():
        if wanted and wanted[-1].endswith(own_suffix):
            other = wanted[-1].removesuffix(own_suffix) + suffix
            spellings.append((*wanted[:-1], other))
    for size in range(len(wanted), 0, -1):
        for spelling in spellings:
            if spelling[:size] in found:
                yield found[spelling[:size]]


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))
