"""How quantities are shown: the one place where units, clock and rounding are applied.

In: sentences (`resupply.common.quantity`) and how the rider wants to read them. Out: text. The
page has a twin of this module, `quantity.js`; both pass docs/quantities.json.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from resupply.common.quantity import Quantity, Sentence, decimal, weekday
from resupply.common.units import (
    G_PER_KG,
    G_PER_OZ,
    KG_PER_LB,
    KM_PER_MI,
    L_PER_GAL,
    M_PER_FT,
    M_PER_KM,
    M_PER_MI,
    M_PER_YD,
    ML_PER_FL_OZ,
    QT_PER_GAL,
    c_to_f,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from resupply.common.units import Clock, Units

__all__ = ["KINDS", "METRIC", "Show", "shown", "text", "with_text"]

_PUBLISHED_F: Final = {4: 40, 32: 90}
"""Limits that guidance prints as a pair, °C to °F, which is no exact conversion."""
_WALK_M: Final = 945.0
"""From here on a short way is told as a long one."""
_THOUSAND: Final = 999.5
"""From here on a pack is told in kilograms or litres."""
_QUARTS_TO_GAL: Final = 0.9875
"""Below that a volume is told in quarts; above, its gallons round to 1 or more."""


@dataclass(frozen=True, slots=True)
class Show:
    """How a rider reads quantities."""

    units: Units = "metric"
    clock: Clock = 24


METRIC: Final = Show()
"""Kilometres, kilograms, litres, °C and the 24 hour clock."""


def text(sentence: Sequence[str | Mapping[str, Any]], show: Show = METRIC) -> str:
    """Sentence as it is read.

    >>> text(["Ice in ", {"way_m": 6_200}, " at ", {"time": "2027-07-09T16:01:00+00:00"}])
    'Ice in 6.2 km at 16:01'
    """
    return "".join(part if isinstance(part, str) else shown(part, show) for part in sentence)


def shown(quantity: Mapping[str, Any], show: Show = METRIC) -> str:
    """One quantity as it is read; the first key is its kind."""
    kind, value = next(iter(quantity.items()))
    return KINDS[kind](value, show)


def with_text(tree: Any, show: Show) -> Any:
    """Copy of a tree of dicts and lists with text in place of every sentence."""
    if isinstance(tree, Sentence):
        return text(tree, show)
    if isinstance(tree, Quantity):
        return shown(tree, show)
    if isinstance(tree, dict):
        return {key: with_text(value, show) for key, value in tree.items()}
    if isinstance(tree, list | tuple):
        return [with_text(value, show) for value in tree]
    return tree


def _at(chainage_m: float, show: Show) -> str:
    if show.units == "imperial":
        return f"mile {decimal(chainage_m / M_PER_MI)}"
    return f"km {decimal(chainage_m / M_PER_KM)}"


def _way(length_m: float, show: Show) -> str:
    value, unit = length_m / M_PER_KM, "km"
    if show.units == "imperial":
        value, unit = length_m / M_PER_MI, "mi"
    return f"less than 0.1 {unit}" if 0.0 < value < 0.05 else f"{_size(value)} {unit}"


def _walk(length_m: float, show: Show) -> str:
    if length_m >= _WALK_M:
        return _way(length_m, show)
    step_m, unit = (10.0 * M_PER_YD, "yd") if show.units == "imperial" else (10.0, "m")
    tens = math.floor(length_m / step_m + 0.5)
    return f"{decimal(tens * 10)} {unit}" if tens or not length_m else f"less than 10 {unit}"


def _height(height_m: float, show: Show) -> str:
    if show.units == "imperial":
        return f"{decimal(height_m / M_PER_FT)} ft"
    return f"{decimal(height_m)} m"


def _speed(speed_kmh: float, show: Show) -> str:
    if show.units == "imperial":
        return f"{decimal(speed_kmh / KM_PER_MI)} mph"
    return f"{decimal(speed_kmh)} km/h"


def _mass(mass_kg: float, show: Show) -> str:
    value, unit = mass_kg, "kg"
    if show.units == "imperial":
        value, unit = mass_kg / KG_PER_LB, "lb"
    return f"less than 0.1 {unit}" if 0.0 < value < 0.05 else f"{decimal(value, 1)} {unit}"


def _pack_g(mass_g: float, show: Show) -> str:
    said = _sold(mass_g, "g", "kg")
    if show.units == "metric" or said.startswith("less"):
        return said
    pounds = mass_g / G_PER_KG / KG_PER_LB
    if pounds >= 1.0:
        return f"{said} ({decimal(pounds, 1)} lb)"
    ounces = _size(mass_g / G_PER_OZ)
    # A gram of salt is no ounce at all.
    return said if ounces == "0" else f"{said} ({ounces} oz)"


def _pack_ml(volume_ml: float, show: Show) -> str:
    said = _sold(volume_ml, "ml", "L")
    if show.units == "metric" or said.startswith("less"):
        return said
    return f"{said} ({_size(volume_ml / ML_PER_FL_OZ)} fl oz)"


def _sold(amount: float, unit: str, thousand: str) -> str:
    if amount >= _THOUSAND:
        return f"{decimal(amount / 1000.0, 2 if amount < 9_995.0 else 1)} {thousand}"
    return f"less than 0.1 {unit}" if 0.0 < amount < 0.05 else f"{_size(amount)} {unit}"


def _volume(volume_l: float, show: Show) -> str:
    value, unit = volume_l, "L"
    if show.units == "imperial":
        value, unit = volume_l / L_PER_GAL, "gal"
        if value < _QUARTS_TO_GAL:
            value, unit = value * QT_PER_GAL, "qt"
    return f"less than 0.1 {unit}" if 0.0 < value < 0.05 else f"{decimal(value, 1)} {unit}"


def _room(room_l: float, show: Show) -> str:
    value, unit = room_l, "L"
    if show.units == "imperial":
        value, unit = room_l / L_PER_GAL * QT_PER_GAL, "qt"
    return f"less than 0.1 {unit}" if 0.0 < value < 0.05 else f"{decimal(value, 1)} {unit}"


def _temp(temp_c: float, show: Show) -> str:
    if show.units == "imperial":
        return f"{decimal(c_to_f(temp_c))} °F"
    return f"{decimal(temp_c)} °C"


def _limit(temp_c: float, show: Show) -> str:
    if show.units == "imperial" and temp_c in _PUBLISHED_F:
        return f"{_PUBLISHED_F[int(temp_c)]} °F"
    return _temp(temp_c, show)


def _time(when: str, show: Show) -> str:
    hour, minute = int(when[11:13]), when[14:16]
    if show.clock == 24:
        return f"{hour:02d}:{minute}"
    return f"{hour % 12 or 12}:{minute} {'am' if hour < 12 else 'pm'}"


def _day_time(when: str, show: Show) -> str:
    return f"{weekday(dt.date.fromisoformat(when[:10]))[:3]} {_time(when, show)}"


def _closing(when: str, show: Show) -> str:
    if when[11:16] != "00:00":
        return _time(when, show)
    return "24:00" if show.clock == 24 else "midnight"


def _hour(when: str, show: Show) -> str:
    """As a sign says it: no minutes where there are none, and midnight ends a day."""
    hour, minute = int(when[11:13]), when[14:16]
    if when[8:16] == "02T00:00":
        return "24" if show.clock == 24 else "midnight"
    minutes = "" if minute == "00" else f":{minute}"
    if show.clock == 24:
        return f"{hour}{minutes}"
    return f"{hour % 12 or 12}{minutes} {'am' if hour < 12 else 'pm'}"


def _as_mapped(name: str, _show: Show) -> str:
    return name


def _size(value: float) -> str:
    """One decimal below ten, none above."""
    return decimal(value, 1 if value < 9.95 else 0)


KINDS: Final[dict[str, Callable[[Any, Show], str]]] = {
    "at_m": _at,
    "way_m": _way,
    "walk_m": _walk,
    "height_m": _height,
    "speed_kmh": _speed,
    "mass_kg": _mass,
    "pack_g": _pack_g,
    "pack_ml": _pack_ml,
    "volume_l": _volume,
    "room_l": _room,
    "temp_c": _temp,
    "limit_c": _limit,
    "time": _time,
    "day_time": _day_time,
    "closing": _closing,
    "hour": _hour,
    "name": _as_mapped,
}
"""How each kind of quantity is shown; `quantity.js` has the same table."""
