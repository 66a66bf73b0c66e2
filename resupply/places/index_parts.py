"""How a regional index lies on disk, and its table of contents.

A folder `region.places` with `index.json` and one folder for each extract, which holds
`places.parquet`, `map.parquet`, `cover.parquet`, `roads.parquet` and `barriers.parquet`. Only what
`index.json` names counts.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from resupply.common.errors import MapDataError
from resupply.places.left_out import left_out_markdown
from resupply.places.tags import KEPT_TAGS, table_markdown

if TYPE_CHECKING:
    from pathlib import Path

    from resupply.places.osm_file import Box

__all__ = [
    "BARRIERS", "CONTENTS", "COVER", "LIGHT_MAP", "PLACES", "ROADS", "SCHEMA", "SUFFIX", "Part",
    "contents_text", "read_contents", "rules_mark",
]  # fmt: skip

SUFFIX: Final = ".places"
"""Ending of the folder's name."""
SCHEMA: Final = "resupply-places/2"
"""Version of the layout; another one is made anew."""
CONTENTS: Final = "index.json"
"""Table of contents, written last."""
PLACES, LIGHT_MAP, COVER = "places.parquet", "map.parquet", "cover.parquet"
"""Files of each part."""
ROADS, BARRIERS = "roads.parquet", "barriers.parquet"
"""Files of each part with its roads."""
_CREDIT: Final = "© OpenStreetMap contributors, ODbL"
_MEND: Final = "Make it again with: resupply gather"


@dataclass(frozen=True, slots=True)
class Part:
    """What one extract gave."""

    folder: str
    source: str
    """File name of the extract."""
    source_bytes: int
    source_changed_ns: int
    """When the extract was last written, nanoseconds since 1970."""
    rules: str
    """Which table of tags was used: see `rules_mark`."""
    data_date: str | None
    box: Box | None
    """What the extract's header says, west, south, east, north, degrees."""
    extent: Box | None
    """How far its roads and places reach."""
    believable: bool
    """Whether the box fits the extent."""
    places: int
    nowhere: int
    """Places left out because the extract doesn't say where they are."""
    coast_points: int
    """Points of all its coastlines."""


@cache
def rules_mark() -> str:
    """Give a short mark that changes when the table of tags does."""
    text = table_markdown() + left_out_markdown() + ",".join(KEPT_TAGS)
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def contents_text(parts: tuple[Part, ...]) -> str:
    """Write the table of contents."""
    found = {"schema": SCHEMA, "credit": _CREDIT, "parts": [asdict(part) for part in parts]}
    return json.dumps(found, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def read_contents(path: Path) -> tuple[Part, ...]:
    """Read the table of contents of an index.

    Raises
    ------
    MapDataError
        There is no such index, it is broken, or another version of the program made it.
    """
    if not path.is_dir():
        raise MapDataError("there is no such regional index", where=str(path), mend=_MEND)
    try:
        found: Any = json.loads((path / CONTENTS).read_text("utf-8"))
        schema, rows = found["schema"], found["parts"]
        if schema == SCHEMA:
            return tuple(_part(row) for row in rows)
    except FileNotFoundError as error:
        raise MapDataError(
            "the regional index was never finished", where=str(path), mend=_MEND
        ) from error
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise MapDataError(
            "the regional index is broken", where=str(path / CONTENTS), mend=_MEND
        ) from error
    raise MapDataError(
        f"the regional index is of another version ({str(schema)[:40]}, not {SCHEMA})",
        where=str(path),
        mend=_MEND,
    )


_TYPES: Final[dict[str, tuple[type, ...]]] = {
    "folder": (str,), "source": (str,), "rules": (str,), "data_date": (str, type(None)),
    "source_bytes": (int,), "source_changed_ns": (int,), "believable": (bool,), "places": (int,),
    "nowhere": (int,), "coast_points": (int,),
}  # fmt: skip


def _part(row: dict[str, Any]) -> Part:
    boxes = {key: _box(row[key]) if row[key] else None for key in ("box", "extent")}
    if not all(type(row[key]) in types for key, types in _TYPES.items()):
        raise TypeError(row)
    if "/" in row["folder"] or "\\" in row["folder"] or row["folder"].startswith("."):
        raise ValueError(row["folder"])
    return Part(**{**row, **boxes})


def _box(sides: Any) -> Box:
    west, south, east, north = (float(side) for side in sides)
    return west, south, east, north
