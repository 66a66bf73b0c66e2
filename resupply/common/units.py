"""Factors of units, and names of how a rider reads.

Conversions are exact by definition: international mile 1609.344 m, avoirdupois pound
0.45359237 kg, US liquid gallon 3.785411784 L (NIST SP 811, appendix B.8; from memory).
"""

from __future__ import annotations

from typing import Final, Literal

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
