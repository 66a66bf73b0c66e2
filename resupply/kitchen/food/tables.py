"""Read a TOML table into frozen dataclasses; a fault names the file and the key.

In: TOML text and a type. Out: a checked value of that type, or `TripFileError`.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any, TypeVar, cast

from pydantic import TypeAdapter, ValidationError

from resupply.common.errors import TripFileError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["check_table", "parse_toml", "read_data", "read_toml_file"]

MAX_BYTES = 1_000_000
"""Of a table of one's own; the largest packaged one has a thirtieth of it."""

T = TypeVar("T")


@cache
def read_data(name: str) -> Mapping[str, Any]:
    """Read one of the tables that ship with the package, e.g. `storage.toml`.

    Each is read once, for parsing them is half of planning anew; nobody may change what is given.
    """
    text = resources.files("resupply.kitchen.food").joinpath("data", name).read_text("utf-8")
    return parse_toml(text, where=name)


def read_toml_file(path: Path) -> dict[str, Any]:
    """Read a rider's own TOML file.

    Raises
    ------
    TripFileError
        The file is missing, larger than 1 MB, not UTF-8 or not TOML.
    """
    try:
        if path.stat().st_size > MAX_BYTES:
            raise TripFileError(
                "is larger than 1 MB, which no dish file is",
                where=str(path),
                mend="Keep only dishes and ingredients in it",
            )
        text = path.read_text("utf-8")
    except OSError as error:
        raise TripFileError(
            f"cannot be read ({error.strerror or error})",
            where=str(path),
            mend="Check the name given as food.dishes",
        ) from error
    except UnicodeDecodeError as error:
        raise TripFileError(
            "is not text in UTF-8", where=str(path), mend="Save it again as UTF-8"
        ) from error
    return parse_toml(text, where=str(path))


def parse_toml(text: str, *, where: str) -> dict[str, Any]:
    """Parse TOML text; see `read_toml_file`."""
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise TripFileError(
            f"is no valid TOML: {error}", where=where, mend="Look at that line for a missing quote"
        ) from error


def check_table(kind: type[T], data: object, *, where: str) -> T:
    """Turn parsed TOML into `kind`.

    Raises
    ------
    TripFileError
        Naming the file and the first wrong key.
    """
    try:
        return cast("T", _adapter(cast("Any", kind)).validate_python(data))
    except ValidationError as error:
        faults = error.errors(include_url=False)
        first = faults[0]
        key = ".".join(str(part) for part in first["loc"])
        more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        message = str(first["msg"]).removeprefix("Value error, ")
        said = {
            "missing": f"{key} is missing",
            "unexpected_keyword_argument": f"there is no key {key}",
        }.get(first["type"], f"{key} = {_shown(first['input'])}: {message}")
        raise TripFileError(
            said + more, where=where, mend="The keys are listed in docs/how/food.md"
        ) from error


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"


@cache
def _adapter(kind: type[Any]) -> TypeAdapter[Any]:
    # Building a validator costs milliseconds; the types are a handful and never change.
    return TypeAdapter(kind)
