"""The storage table: published limits by class, read from `data/storage.toml`.

In: the table that ships with the package. Out: frozen rows; every number has its source and the
status of that source beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field

from resupply.common.errors import TripFileError
from resupply.kitchen.food.sources import Backing  # noqa: TC001  (read by pydantic)
from resupply.kitchen.food.tables import check_table, read_data

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "Keeping",
    "StorageClass",
    "StorageTable",
    "TableValue",
    "class_of",
    "load_storage",
    "parse_storage",
]

_Days = Annotated[float, Field(gt=0, le=3650, allow_inf_nan=False)]
"""Above nothing and at most ten years: anything else is a slip."""


class Keeping(StrEnum):
    """Where a class may be kept."""

    COLD = "cold"
    ROOM = "room"
    STABLE = "stable"


@dataclass(frozen=True, slots=True)
class TableValue:
    """One general limit."""

    value: float
    words: str
    by: Backing


@dataclass(frozen=True, slots=True)
class StorageClass:
    """One row of the storage table."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    id: str
    name: str
    kind: Literal["raw", "chilled", "fresh", "bread", "dry", "tinned"]
    keeping: Keeping
    after_warm: Literal["keep", "discard"]
    warm_by: Backing
    small_shop: Literal["usually", "maybe", "rarely"]
    cook_to: str | None = None
    """Row of the temperature table that it is cooked or reheated to; None where there is none."""
    unopened: tuple[_Days, _Days] | None = None
    """Days at or below 4 °C, low and high."""
    opened: tuple[_Days, _Days] | None = None
    """The same once opened; None where opening changes nothing."""
    days_by: Backing | None = None
    room_days: _Days | None = None
    room_by: Backing | None = None
    room_max_c: float | None = None
    """Uncooled it may be warmer than this for two hours in all at the most; None for no limit."""
    warm_above_c: float | None = None
    """Own threshold of the warm rule; None for 4 °C."""
    warm_h: _Days | None = None
    """Own allowance of the warm rule, hours; None for 2 h."""

    @property
    def in_cooler(self) -> bool:
        """Whether it rides in the cooler: what needs cold, and what keeps longer in it."""
        return self.needs_cold or (self.keeping is Keeping.ROOM and self.unopened is not None)

    @property
    def needs_cold(self) -> bool:
        """Whether it must be bought into a cooler."""
        return self.keeping is Keeping.COLD

    @property
    def keeps_opened(self) -> bool:
        """Whether an opened pack keeps like a sealed one."""
        return self.keeping is Keeping.STABLE and self.after_warm == "keep" and self.opened is None


@dataclass(frozen=True, slots=True)
class StorageTable:
    """The whole file."""

    rule: dict[str, TableValue]
    classes: dict[str, StorageClass]


def load_storage() -> StorageTable:
    """Read the storage table that ships with the package."""
    return parse_storage(read_data("storage.toml"), where="storage.toml")


def parse_storage(raw: Mapping[str, object], *, where: str) -> StorageTable:
    """Check a parsed storage table.

    Raises
    ------
    TripFileError
        A row is wrong, or lacks the source of one of its numbers.
    """
    rows = raw.get("class")
    if not isinstance(rows, dict):
        raise TripFileError("has no [class] table", where=where)
    table = check_table(
        StorageTable,
        {
            "rule": raw.get("rule"),
            "classes": {
                key: {"id": key, **row} if isinstance(row, dict) else row
                for key, row in rows.items()
            },
        },
        where=where,
    )
    for row in table.classes.values():
        named = ((row.unopened or row.opened, row.days_by), (row.room_days, row.room_by))
        if any((value is None) != (by is None) for value, by in named):
            raise TripFileError(
                f"class.{row.id} has a number without a source, or a source without a number",
                where=where,
                mend="Give days_by and room_by exactly where there are days",
            )
    return table


def class_of(table: StorageTable, class_id: str) -> StorageClass:
    """Look up one class.

    Raises
    ------
    TripFileError
        There is no such class.
    """
    try:
        return table.classes[class_id]
    except KeyError:
        raise TripFileError(
            f"there is no storage class {class_id!r}",
            where="storage",
            mend="The classes are listed in docs/safety-sources.md",
        ) from None
