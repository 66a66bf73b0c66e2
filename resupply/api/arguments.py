"""Arguments of a Python caller as settings of the trip, and errors in the caller's words."""

from __future__ import annotations

import datetime as dt
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.common.errors import TripFileError
from resupply.trip.read_file import make_trip, own_key

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from resupply.trip.settings import Trip

__all__ = ["Arguments"]


@dataclass(frozen=True, slots=True)
class Arguments:
    """Settings given as arguments."""

    keys: Mapping[str, object]
    """Dotted key to value."""
    spelled: Mapping[str, str]
    """Key as the trip's tables have it to the argument as it was written."""

    @classmethod
    def of(
        cls,
        *,
        daily_km: float | None,
        start: dt.date | str | None,
        people: int | None,
        settings: Mapping[str, object] | None,
        extracts: tuple[str, ...] = (),
    ) -> Arguments:
        """Collect what is given; None leaves a setting as it is.

        Parameters
        ----------
        daily_km
            Kilometres a day.
        extracts
            Whole paths.
        """
        first = start.date() if isinstance(start, dt.datetime) else start
        named: dict[str, tuple[str, object]] = {
            "pace.daily_km": ("daily_km", daily_km),
            "start.date": ("start", first),
            "party.people": ("people", people),
            "map.extracts": ("extracts", list(extracts) or None),
        }
        keys: dict[str, object] = {
            key: value for key, (_, value) in named.items() if value is not None
        }
        spelled = {key: f"{named[key][0]}={_shown(value)}" for key, value in keys.items()}
        names = {key: f"{named[key][0]}=" for key in keys}
        for key, value in (settings or {}).items():
            own, name = own_key(key), f"settings[{key!r}]"
            if own in names:
                raise TripFileError(f"{names[own]} and {name} say the same; give one of them")
            keys[key], names[own] = value, name
            spelled[own] = f"{name} = {_shown(value)}"
        return cls(keys, spelled)

    def put_into(self, trip: Trip) -> Trip:
        """Give a trip with these settings; the rest stays as it is.

        Raises
        ------
        TripFileError
            One of them is wrong.
        """
        return make_trip(trip.model_dump(exclude_unset=True), where="trip", overrides=self.keys)

    @contextmanager
    def blamed(self) -> Iterator[None]:
        """Let errors about a setting given here name the argument."""
        try:
            yield
        except TripFileError as error:
            raise error.named(self.spelled) from error


def _shown(value: object) -> str:
    shown = repr(value)
    return shown if len(shown) <= 60 else f"{shown[:57]}…"
