"""Turn a TOML table into frozen dataclasses; a fault names the file and the key.

In: parsed TOML and a type. Out: a checked value of that type, or `TripFileError`.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar, cast

from pydantic import TypeAdapter, ValidationError

from resupply.common.errors import TripFileError
from resupply.common.toml_file import packaged_toml

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["check_table", "read_data"]

T = TypeVar("T")


def read_data(name: str) -> Mapping[str, Any]:
    """Give one of the tables that ship with the package, e.g. `storage.toml`."""
    return packaged_toml("resupply.kitchen.food", name)


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
