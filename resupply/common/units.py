"""Turn SI values into what a rider reads, and back. The only module that knows miles.

Conversions are exact by definition: international mile 1609.344 m, avoirdupois pound
0.45359237 kg, US liquid gallon 3.785411784 L (NIST SP 811, appendix B.8; from memory).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    import datetime as dt

__all__ = [
    "G_PER_KG",
    "G_PER_OZ",
    "KG_PER_LB",
    "KM_PER_MI",
    "L_PER_GAL",
    "ML_PER_FL_OZ",
    "ML_PER_L",
    "M_PER_FT",
    "M_PER_KM",
    "M_PER_MI",
    "M_PER_YD",
    "QT_PER_GAL",
    "S_PER_DAY",
    "S_PER_HOUR",
    "Clock",
    "Units",
    "c_to_f",
    "f_to_c",
    "format_amount",
    "format_at",
    "format_clock",
    "format_distance",
    "format_hours",
    "format_mass",
    "format_temp",
    "format_volume",
    "in_miles",
]

Units = Literal["metric", "imperial"]
"""What a report is written in."""

Clock = Literal[12, 24]
"""The clock a report is written in."""

M_PER_KM: Final = 1000.0
"""Metres in a kilometre."""
M_PER_MI: Final = 1609.344
"""Metres in an international mile (exact, by definition)."""
KM_PER_MI: Final = M_PER_MI / M_PER_KM
"""Kilometres in an international mile."""
M_PER_FT: Final = 0.3048
"""Metres in an international foot (exact, by definition)."""
M_PER_YD: Final = 0.9144
"""Metres in an international yard (exact, by definition)."""
G_PER_KG: Final = 1000.0
"""Grams in a kilogram."""
KG_PER_LB: Final = 0.45359237
"""Kilograms in an avoirdupois pound (exact, by definition)."""
G_PER_OZ: Final = KG_PER_LB * G_PER_KG / 16.0
"""Grams in an avoirdupois ounce: a sixteenth of a pound."""
ML_PER_L: Final = 1000.0
"""Millilitres in a litre."""
L_PER_GAL: Final = 3.785411784
"""Litres in a US gallon (exact: 231 cubic inches)."""
QT_PER_GAL: Final = 4.0
"""US quarts in a US gallon."""
ML_PER_FL_OZ: Final = L_PER_GAL * ML_PER_L / 128.0
"""Millilitres in a US fluid ounce: a 128th of a gallon."""
S_PER_HOUR: Final = 3600.0
"""Seconds in an hour."""
S_PER_DAY: Final = 24.0 * S_PER_HOUR
"""Seconds in a day without a change of the clock."""

_KM: Final = re.compile(r"\bkm (\d+(?:,\d{3})*(?:\.\d+)?)|(\d+(?:,\d{3})*(?:\.\d+)?) km\b(?!/)")


def c_to_f(temp_c: float) -> float:
    """Celsius to Fahrenheit.

    >>> c_to_f(4.0)
    39.2
    """
    return temp_c * 9.0 / 5.0 + 32.0


def f_to_c(temp_f: float) -> float:
    """Fahrenheit to Celsius.

    >>> f_to_c(212.0)
    100.0
    """
    return (temp_f - 32.0) * 5.0 / 9.0


def format_distance(distance_m: float, units: Units = "metric", digits: int = 0) -> str:
    """Distance as a rider reads it.

    >>> format_distance(160934.4, "imperial"), format_distance(1500, digits=1)
    ('100 mi', '1.5 km')
    """
    value = distance_m / (M_PER_MI if units == "imperial" else M_PER_KM)
    return f"{value:,.{digits}f} {'mi' if units == 'imperial' else 'km'}"


def format_at(chainage_m: float, units: Units = "metric") -> str:
    """Place on the route as a rider says it.

    >>> format_at(412_300.0), format_at(412_300.0, "imperial")
    ('km 412', 'mile 256')
    """
    value, _ = format_distance(chainage_m, units).split(" ")
    return f"{'mile' if units == 'imperial' else 'km'} {value}"


def format_mass(mass_kg: float, units: Units = "metric") -> str:
    """Mass with one decimal.

    >>> format_mass(1.0, "imperial")
    '2.2 lb'
    """
    return f"{mass_kg / KG_PER_LB:.1f} lb" if units == "imperial" else f"{mass_kg:.1f} kg"


def format_amount(mass_kg: float, units: Units = "metric") -> str:
    """Mass as one buys it: a decimal only where there is one.

    >>> format_amount(2.0), format_amount(7.12), format_amount(2.0, "imperial")
    ('2 kg', '7.1 kg', '4.4 lb')
    """
    value, unit = format_mass(mass_kg, units).split(" ")
    return f"{value.removesuffix('.0')} {unit}"


def format_volume(volume_l: float, units: Units = "metric") -> str:
    """Volume of a liquid with one decimal; less than a gallon in quarts.

    >>> format_volume(3.785411784, "imperial"), format_volume(0.5, "imperial")
    ('1.0 gal', '0.5 qt')
    """
    if units == "metric":
        return f"{volume_l:.1f} L"
    if volume_l < 0.95 * L_PER_GAL:
        return f"{volume_l / L_PER_GAL * QT_PER_GAL:.1f} qt"
    return f"{volume_l / L_PER_GAL:.1f} gal"


def format_temp(temp_c: float, units: Units = "metric") -> str:
    """Temperature to the whole degree.

    >>> format_temp(4.0), format_temp(4.0, "imperial")
    ('4 °C', '39 °F')
    """
    return f"{c_to_f(temp_c):.0f} °F" if units == "imperial" else f"{temp_c:.0f} °C"


def format_clock(when: dt.datetime | dt.time, clock: Clock = 24) -> str:
    """Time of day, rounded down to the minute: what shuts then is never shown too late.

    >>> import datetime as dt
    >>> format_clock(dt.time(14, 5, 59)), format_clock(dt.time(0, 30), 12)
    ('14:05', '12:30 am')
    """
    if clock == 24:
        return f"{when:%H:%M}"
    return f"{when.hour % 12 or 12}:{when:%M} {'am' if when.hour < 12 else 'pm'}"


def format_hours(seconds: float) -> str:
    """Duration in hours and minutes.

    >>> format_hours(5400.0), format_hours(600.0)
    ('1 h 30 min', '10 min')
    """
    minutes = round(seconds / 60.0)
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h {rest:02d} min" if rest else f"{hours} h"


def in_miles(text: str) -> str:
    """Turn the kilometres of a sentence into miles; names with a number before "km" too.

    >>> in_miles("km 0 to km 103: the map extract ends within 10 km of the route")
    'mile 0 to mile 64: the map extract ends within 6.2 mi of the route'
    """

    def told(found: re.Match[str]) -> str:
        at, away = found.groups()
        number = at or away
        miles = float(number.replace(",", "")) * M_PER_KM / M_PER_MI
        exact = "." in number or (away is not None and miles < 9.95)
        value = f"{miles:,.{1 if exact else 0}f}"
        return f"mile {value}" if at else f"{value} mi"

    return _KM.sub(told, text)
