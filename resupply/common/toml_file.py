"""Read a TOML file: a rider's own, with one clear line for a fault, or one of the package's.

In: a path. Out: its text or its tree, or `TripFileError`.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from resupply.common.errors import TripFileError
from resupply.common.files import is_endless

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

__all__ = ["dotted", "inner_table", "packaged_toml", "parse_toml", "read_text", "read_toml"]

_MAX_BYTES = 1_000_000
"""Our choice: the largest packaged table has a thirtieth of it."""


def read_text(path: Path, kind: str, *, named: str, large: str) -> str:
    """Read a rider's own text file.

    Parameters
    ----------
    kind
        What the file is: "trip file".
    named
        How to mend it where the file is not there.
    large
        How to mend it where the file is too large to be one of its kind.

    Raises
    ------
    TripFileError
        The file is missing, a pipe or a device, larger than 1 MB, or not UTF-8.
    """
    where = str(path)
    try:
        if is_endless(path):
            raise TripFileError(
                "is no file but a pipe or a device", where=where, mend="Save it as a file first"
            )
        if path.stat().st_size > _MAX_BYTES:
            raise TripFileError(f"is larger than 1 MB, which no {kind} is", where=where, mend=large)
        return path.read_text("utf-8")
    except OSError as error:
        raise TripFileError(
            f"cannot be read ({error.strerror or error})", where=where, mend=named
        ) from error
    except UnicodeDecodeError as error:
        raise TripFileError(
            "is not text in UTF-8", where=where, mend="Save it again as UTF-8"
        ) from error


def parse_toml(text: str, *, where: str) -> dict[str, Any]:
    """Parse TOML text.

    Raises
    ------
    TripFileError
        It is none; `where` and the line are named.
    """
    try:
        return tomllib.loads(text)
    except (RecursionError, ValueError) as error:
        raise TripFileError(
            f"is no valid TOML: {error}", where=where, mend="Look at that line for a missing quote"
        ) from error


def read_toml(path: Path, kind: str, *, named: str, large: str) -> dict[str, Any]:
    """Read a rider's own TOML file; see `read_text` and `parse_toml`."""
    return parse_toml(read_text(path, kind, named=named, large=large), where=str(path))


@cache
def packaged_toml(package: str, name: str) -> Mapping[str, Any]:
    """Read a table that ships with the package, from its folder `data`.

    Each is read once, for parsing them is half of planning anew; nobody may change what is given.
    """
    text = resources.files(package).joinpath("data", name).read_text("utf-8")
    return parse_toml(text, where=name)


def dotted(tree: Mapping[str, Any], head: str = "") -> dict[str, Any]:
    """Give the values of a tree of tables by dotted key, as `pace.daily_km`."""
    flat: dict[str, Any] = {}
    for key, value in tree.items():
        if isinstance(value, dict):
            flat |= dotted(value, f"{head}{key}.")
        else:
            flat[f"{head}{key}"] = value
    return flat


def inner_table(tree: dict[str, Any], names: Iterable[str]) -> dict[str, Any] | None:
    """Find the table of these names in a tree, or make it; None where a plain value stands."""
    for name in names:
        tree = tree.setdefault(name, {})
        if not isinstance(tree, dict):
            return None
    return tree
