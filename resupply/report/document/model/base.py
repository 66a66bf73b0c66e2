"""What every class of the plan document is made of.

The classes are plain frozen dataclasses: making one checks nothing and costs little, as the page
makes thousands while the rider drags. pydantic writes them and reads them back with every check
(`resupply.report.document.model.as_json`); `model.schema` makes the schema.
"""

import datetime as dt
from dataclasses import dataclass
from typing import (
    Annotated,
    Any,
    Final,
    TypeAlias,
    TypedDict,
    TypeVar,
    dataclass_transform,
)

from pydantic import Field, PlainSerializer, PlainValidator, SerializationInfo, WithJsonSchema

from resupply.common.quantity import Quantity, Sentence
from resupply.common.show import text

__all__ = [
    "Amount",
    "Date",
    "Ordinal",
    "QuantityRow",
    "SentenceText",
    "Time",
    "Whole",
    "iso",
    "model",
]

_Class = TypeVar("_Class")
_TIME_PATTERN: Final = r"^\d{4}-\d\d-\d\dT\d\d:\d\d[+-]\d\d:\d\d$"


@dataclass_transform(frozen_default=True, kw_only_default=True)
def model(cls: type[_Class]) -> type[_Class]:
    """Make a class of the plan document.

    A field with a default is left out of the JSON while it has it: its key may be absent. Any
    other key is always there, with null where nothing is known.
    """
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)


def iso(when: dt.datetime) -> str:
    """Instant as ISO 8601 with its offset, to the minute."""
    return when.isoformat(timespec="minutes")


class QuantityRow(TypedDict, total=False):
    """One value under the key that names its kind; docs/quantities.json shows how each is read."""

    at_m: float
    """Place on the route, chainage in metres."""
    way_m: float
    """Length that is ridden, metres."""
    walk_m: float
    """Short length, metres."""
    height_m: float
    """Height above the sea, metres."""
    speed_kmh: float
    """Speed, km/h."""
    mass_kg: float
    """Mass, kg."""
    pack_g: float
    """Amount as sold, g."""
    pack_ml: float
    """Amount as sold, ml."""
    volume_l: float
    """Volume of a liquid, litres."""
    room_l: float
    """Room in a bag or cooler, litres."""
    temp_c: float
    """Temperature, °C."""
    limit_c: float
    """Limit as published, °C."""
    time: str
    """Local time of day, ISO 8601."""
    day_time: str
    """Weekday and local time of day, ISO 8601."""
    closing: str
    """Local time at which a door shuts, ISO 8601."""
    hour: str
    """Time of day on the sign at a door; on the second day of its month midnight ends the first."""
    name: str
    """Name from the map or the rider: hostile text."""


def _read_sentence(parts: Any) -> Sentence:
    if not isinstance(parts, list) or not all(isinstance(part, str | dict) for part in parts):
        raise ValueError("a sentence is a list of words and quantities")
    return Sentence(Quantity(part) if isinstance(part, dict) else part for part in parts)


def _write_sentence(said: Sentence, info: SerializationInfo) -> Any:
    """Write words and quantities, or text where the writer says how to show quantities."""
    return list(said) if info.context is None else text(said, info.context)


SentenceText: TypeAlias = Annotated[
    Sentence,
    PlainValidator(_read_sentence),
    PlainSerializer(_write_sentence),
    WithJsonSchema({"sentence": True}),
]
"""Words and quantities; a flat list in the JSON."""
Time: TypeAlias = Annotated[
    dt.datetime,
    PlainSerializer(iso, return_type=str),
    WithJsonSchema({"type": "string", "pattern": _TIME_PATTERN}),
]
"""Instant where it is: ISO 8601 with its offset in the JSON, to the minute."""
Date: TypeAlias = dt.date
"""Day of the calendar."""
Whole: TypeAlias = Annotated[int, Field(ge=0)]
"""Whole number, 0 or more."""
Ordinal: TypeAlias = Annotated[int, Field(ge=1)]
"""Number in a row, from 1."""
Amount: TypeAlias = Annotated[float, Field(ge=0.0)]
"""0 or more."""
