"""A table of the trip file: keys in SI, read in the rider's units too, and never changed."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from resupply.common.units import KG_PER_LB, L_PER_GAL, M_PER_MI, f_to_c

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = [
    "OTHER_UNITS",
    "Celsius",
    "DayNumber",
    "Keys",
    "Kilograms",
    "LocalTime",
    "MealName",
    "NotNegative",
    "Positive",
    "Text",
]

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
"""A number above 0."""
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
"""A number from 0 on."""
Kilograms = Annotated[float, Field(ge=0, le=500)]
"""A mass; the limit only refuses slips, far outside what a trip has."""
Celsius = Annotated[float, Field(ge=-60, le=60, allow_inf_nan=False)]
"""A temperature; the limits only refuse slips."""


def _local(time: dt.time) -> dt.time:
    if time.tzinfo is not None:
        raise ValueError("must be local, like 08:30:00: write it without an offset")
    return time


LocalTime = Annotated[dt.time, AfterValidator(_local)]
"""A time of day without an offset."""
Text = Annotated[str, Field(max_length=500)]
"""Our choice: a line of a report, with room to spare."""

DayNumber = Annotated[int, Field(ge=1, le=1000)]
"""Number of a riding day, from 1."""
MealName = Literal["breakfast", "lunch", "dinner"]
"""Which of the day's meals."""

OTHER_UNITS: dict[str, tuple[str, Callable[[float], float]]] = {
    "_mi": ("_km", lambda x: x * M_PER_MI / 1000.0),
    "_mph": ("_kmh", lambda x: x * M_PER_MI / 1000.0),
    "_f": ("_c", f_to_c),
    "_lb": ("_kg", lambda x: x * KG_PER_LB),
    "_gal": ("_l", lambda x: x * L_PER_GAL),
}
"""Suffix a rider may write to suffix of the key, and the conversion."""


class Keys(BaseModel):
    """A table of the trip file: unknown keys are refused, values never change."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @model_validator(mode="before")
    @classmethod
    def _accept_other_units(cls, data: object) -> object:
        if not isinstance(data, dict):
            return data
        converted: dict[str, Any] = {}
        for key, value in data.items():
            name, number = key, value
            for suffix, (own_suffix, convert) in OTHER_UNITS.items():
                own = key.removesuffix(suffix) + own_suffix
                if key.endswith(suffix) and key not in cls.model_fields and own in cls.model_fields:
                    name = own
                    if isinstance(value, int | float) and not isinstance(value, bool):
                        number = _in_si(key, value, convert)
                    elif isinstance(value, dict):
                        number = {
                            k: _in_si(key, v, convert) if isinstance(v, int | float) else v
                            for k, v in value.items()
                        }
            if name in converted:
                raise ValueError(f"{name} is given twice, in two units")
            converted[name] = number
        return converted


def _in_si(key: str, value: float, convert: Callable[[float], float]) -> float:
    try:
        return convert(float(value))
    except OverflowError as error:
        raise ValueError(f"{key} is too large a number") from error
