"""Where a number comes from, and how far to trust it.

Every row of a safety table carries a `Backing`: a source and a status. A value read only in a
copy, or written down from memory, is never shown as the publisher's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from resupply.common.errors import TripFileError
from resupply.kitchen.food.tables import check_table, read_data

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Backing", "Read", "Reference", "Status", "load_sources", "said_by"]


class Status(StrEnum):
    """How a value was checked."""

    CONFIRMED = "confirmed"
    """Read on the publisher's own page."""
    COPY = "copy"
    """Read in a copy or summary held elsewhere."""
    MEMORY = "memory"
    """Not looked up."""
    PRACTICE = "practice"
    """A habit of the trade; nobody publishes it."""
    OURS = "ours"
    """An assumption of this program."""

    @property
    def note(self) -> str:
        """What must stand beside the value; empty where it is confirmed."""
        return {
            "confirmed": "",
            "copy": "(published, read second-hand)",
            "memory": "(not checked)",
            "practice": "(common practice, no source)",
            "ours": "(our assumption)",
        }[self.value]


@dataclass(frozen=True, slots=True)
class Backing:
    """The source and the status of one row."""

    source: str
    """Id in `sources.toml`."""
    status: Status


class Read(StrEnum):
    """Whose page a publication was read on, the best first."""

    OWN = "own"
    """The publisher's own."""
    PUBLIC = "public"
    """Another public body's: a copy, second-hand."""
    OTHER = "other"
    """A newspaper's, a shop's, a blog's or a document host's: a copy, second-hand."""
    NONE = "none"
    """Not read."""


@dataclass(frozen=True, slots=True)
class Reference:
    """One publication."""

    id: str
    publisher: str
    document: str
    read: Read = Read.NONE
    read_at: str = ""
    """Where it was read; for a copy, the copy's address, a public body's first."""


def load_sources() -> Mapping[str, Reference]:
    """Read the publications by id."""
    raw = read_data("sources.toml")
    rows = {key: {"id": key, **row} for key, row in raw.items()}
    return check_table(dict[str, Reference], rows, where="sources.toml")


def said_by(backing: Backing, sources: Mapping[str, Reference]) -> str:
    """Name the source as shown beside a value, with its status.

    Raises
    ------
    TripFileError
        The source is not listed.
    """
    if backing.source not in sources:
        raise TripFileError(
            f"there is no source {backing.source!r}", where="sources.toml", mend="Add it there"
        )
    source = sources[backing.source]
    name = f"{source.publisher}, {source.document}" if source.document else source.publisher
    return f"{name} {backing.status.note}".strip()
