"""The table of riding speeds: road class and surface to km/h.

In: `data/speeds.toml` or a rider's copy of it. Out: a `Speeds`. Tag meanings are from the
OpenStreetMap wiki; the numbers are common practice, no source, and may be changed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Any

from resupply.common.errors import TripFileError
from resupply.common.toml_file import packaged_toml, read_toml

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["Speeds", "Surface", "SurfaceRule", "load_speeds"]


class Surface(IntEnum):
    """What is under the wheels; the column of the speed table."""

    PAVED = 0
    GRAVEL = 1
    TRACK = 2
    """Earth, grass, sand, mud, rock."""
    UNKNOWN = 3
    """No surface tag. The wiki gives no default, so none is assumed."""


@dataclass(frozen=True, slots=True)
class SurfaceRule:
    """A tag value's surface group and speed cap."""

    surface: Surface
    cap_kmh: float = float("inf")


@dataclass(frozen=True, slots=True)
class Speeds:
    """Riding speeds and what the surface tags mean."""

    classes: tuple[str, ...]
    """Values of `highway`, in table order; a road class is an index into it."""
    table_kmh: tuple[tuple[float, float, float, float], ...]
    """One row per class, one column per `Surface`."""
    stated_only: frozenset[str]
    """Classes open only where a motorcycle or motor vehicle tag says so."""
    surface: Mapping[str, SurfaceRule]
    tracktype: Mapping[str, SurfaceRule]
    smoothness_cap_kmh: Mapping[str, float]
    """0 where nobody should ride a loaded motorcycle."""
    factor: float = 1.0
    """The rider's own pace against the table; speed limits still hold."""

    @property
    def fastest_kmh(self) -> float:
        """Highest speed the table can give."""
        return max(max(row) for row in self.table_kmh) * self.factor

    @property
    def slowest_kmh(self) -> float:
        """Lowest speed of the table; used from the road to a shop's door."""
        return min(min(row) for row in self.table_kmh) * self.factor


def load_speeds(path: Path | None = None, *, factor: float = 1.0) -> Speeds:
    """Read the speed table.

    Parameters
    ----------
    path
        A rider's own table, same keys; None for the one that comes with the program.
    factor
        Multiplies every speed of the table (0.9: a tenth slower than the table).

    Raises
    ------
    TripFileError
        The file cannot be read or is larger than 1 MB, or a row or rule has the wrong form.
    """
    where = str(path) if path else "roads/data/speeds.toml"
    if not 0.1 <= factor <= 5.0:
        raise TripFileError(
            f"speed factor {factor:g} is out of range", mend="Use a number from 0.1 to 5"
        )
    if path is None:
        document = packaged_toml("resupply.roads", "speeds.toml")
    else:
        document = read_toml(
            path,
            "speed table",
            named="Check the name given as map.speeds",
            large="Name the speed table as map.speeds",
        )
    try:
        return _speeds(document, factor)
    except (AttributeError, KeyError, TypeError, ValueError) as fault:
        raise TripFileError(
            f"the speed table has a wrong entry: {fault}",
            where=where,
            mend="Compare it with the table in docs/how/roads.md",
        ) from fault


def _speeds(document: Mapping[str, Any], factor: float) -> Speeds:
    rows: list[tuple[float, float, float, float]] = []
    for name, row in document["classes"].items():
        paved, gravel, track, unknown = (float(speed) for speed in row)
        if not all(0.0 < speed <= 200.0 for speed in (paved, gravel, track, unknown)):
            raise ValueError(f"classes.{name}: four speeds above 0 and up to 200 km/h are needed")
        rows.append((paved, gravel, track, unknown))
    return Speeds(
        classes=tuple(document["classes"]),
        table_kmh=tuple(rows),
        stated_only=frozenset(document["stated_only"]["classes"]),
        surface=_rules(document["surface"]),
        tracktype=_rules(document["tracktype"]),
        smoothness_cap_kmh={key: float(cap) for key, cap in document["smoothness"].items()},
        factor=factor,
    )


def _rules(rows: Mapping[str, Any]) -> dict[str, SurfaceRule]:
    return {
        value: SurfaceRule(Surface[rule["group"].upper()], float(rule.get("cap_kmh", "inf")))
        for value, rule in rows.items()
    }
