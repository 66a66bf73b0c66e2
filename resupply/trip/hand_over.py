"""What a phone hands back: where the rider is, what is left, and what was ticked off on the way.

In: a file or a link of the offline page (`report/assets/hand_over.js`). Out: a `HandOver`. All of
it is hostile: names are cleaned, ids and numbers have limits.
"""

from __future__ import annotations

import base64
import binascii
import datetime as dt
import re
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from resupply.common.errors import TripFileError
from resupply.common.text import one_line

__all__ = ["HandOver", "Tick", "is_link", "read_hand_over"]

_IN_LINK: Final = re.compile(r"[#&?]phone=([A-Za-z0-9_-]+)")
# Bounds of what a link or a code from elsewhere may bring, far above any trip: our choice.
_Id = Annotated[str, Field(max_length=80)]
_Ids = Annotated[tuple[_Id, ...], Field(max_length=500)]
_Amount = Annotated[float, Field(ge=0, le=3000, allow_inf_nan=False)]
_Metre = Annotated[int, Field(ge=0, le=100_000_000)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Tick(_Part):
    """One thing ticked off."""

    time: dt.datetime
    """Local time there."""
    kind: Literal["bought", "shut", "had_ice", "no_ice", "eaten", "filled"]
    place: _Id | None = None
    """Map id; None for a meal."""
    name: str = ""
    """Of the place, or of the meal."""
    at_m: _Metre | None = None
    """Where on the route, metres."""

    @field_validator("name")
    @classmethod
    def _clean(cls, name: str) -> str:
        return one_line(name)


class HandOver(_Part):
    """Position, stock and ticks at one moment; None where the phone does not know."""

    format: Literal["resupply-phone/1"] = Field(alias="schema")
    trip: str = ""
    """Title of the trip."""
    time: dt.datetime
    """Local time there."""
    at_m: _Metre | None = None
    """Where on the route, metres."""
    route_m: _Metre | None = None
    """Length of that route, metres: another length is another route."""
    lat: Annotated[float, Field(ge=-90, le=90)] | None = None
    lon: Annotated[float, Field(ge=-180, le=180)] | None = None
    food_meals: Annotated[int, Field(ge=0, le=300)] | None = None
    """Meals a person on board."""
    ice_kg: _Amount | None = None
    fuel_km: _Amount | None = None
    water_l: _Amount | None = None
    shut: _Ids = ()
    """Places found shut or gone, by map id."""
    no_ice: _Ids = ()
    has_ice: _Ids = ()
    ticks: Annotated[tuple[Tick, ...], Field(max_length=2000)] = ()

    @field_validator("trip")
    @classmethod
    def _clean(cls, trip: str) -> str:
        return one_line(trip)

    @field_validator("time")
    @classmethod
    def _local(cls, time: dt.datetime) -> dt.datetime:
        return time.replace(tzinfo=None, second=0, microsecond=0)


def is_link(text: str) -> bool:
    """Whether a text holds the code of a link, and is not the file itself."""
    # A name in a file may look like a link.
    return not text.lstrip().startswith("{") and _IN_LINK.search(text) is not None


def read_hand_over(text: str, *, where: str) -> HandOver:
    """Read what a phone has handed over.

    Parameters
    ----------
    text
        The file, or a link (or its end) that holds the same after `#phone=`.
    where
        Name of the file, for errors.

    Raises
    ------
    TripFileError
        It is none.
    """
    link = _IN_LINK.search(text) if is_link(text) else None
    plain = text.encode("utf-8", "replace")
    try:
        if link is not None:
            code = link.group(1)
            plain = base64.urlsafe_b64decode(code + "=" * (-len(code) % 4))
        return HandOver.model_validate_json(plain)
    except (ValidationError, ValueError, binascii.Error) as error:
        what = ""
        if isinstance(error, ValidationError):
            first = error.errors(include_url=False)[0]
            key = ".".join(str(part) for part in first["loc"])
            said = ": ".join(part for part in (key, first["msg"]) if part)
            what = f" ({one_line(said)})"
        raise TripFileError(
            f"is not what a phone hands over{what}",
            where=where,
            mend="Hand over again on the phone: Where am I?, Hand over",
        ) from error
