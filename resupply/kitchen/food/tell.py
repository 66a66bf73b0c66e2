"""How amounts and times are told: in the rider's units, on the rider's clock.

In: SI numbers and aware times. Out: short text for sentences. Packs keep the size they are sold
in, with ounces beside it for those who think in them.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.common.units import (
    G_PER_KG,
    G_PER_OZ,
    KG_PER_LB,
    L_PER_GAL,
    ML_PER_FL_OZ,
    QT_PER_GAL,
    c_to_f,
    format_clock,
    format_mass,
)
from resupply.kitchen.food.amounts import say_amount

if TYPE_CHECKING:
    from resupply.common.units import Clock, Units

__all__ = ["METRIC", "Tell"]

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, slots=True)
class Tell:
    """Units and clock of the sentences."""

    units: Units = "metric"
    clock: Clock = 24

    def time(self, when: dt.datetime, near: dt.datetime | None = None) -> str:
        """Weekday and time, floored to the minute: never later than it is.

        Parameters
        ----------
        near
            With a moment six days away or more the date is told too.

        Examples
        --------
        >>> Tell().time(dt.datetime(2027, 7, 11, 14, 0, 59))
        'Sunday 14:00'
        >>> Tell(clock=12).time(dt.datetime(2027, 7, 11, 14, 0, 59))
        'Sunday 2:00 pm'
        """
        far = near is not None and abs(when - near) >= dt.timedelta(days=6)
        date = f"{when.day} {when:%B} " if far else ""
        return f"{_DAYS[when.weekday()]} {date}{format_clock(when, self.clock)}"

    def temp(self, temp_c: float) -> str:
        """Temperature; the published limit is printed as 4 °C and as 40 °F."""
        if self.units == "metric":
            return f"{temp_c:g} °C"
        return f"{40.0 if temp_c == 4.0 else c_to_f(temp_c):.0f} °F"

    def mass(self, mass_kg: float) -> str:
        """Mass with one decimal."""
        return format_mass(mass_kg, self.units)

    def water(self, litres: float) -> str:
        """Litres, or quarts, as published guidance on drinking counts them."""
        if self.units == "metric":
            return f"{litres:g} L"
        return f"{litres / L_PER_GAL * QT_PER_GAL:.1f}".removesuffix(".0") + " qt"

    def room(self, litres: float) -> str:
        """Room in a bag, to a tenth of a litre."""
        if self.units == "metric":
            return f"{litres:.1f} L"
        return f"{litres / L_PER_GAL * QT_PER_GAL:.1f} qt"

    def amount(self, amount: float, unit: str) -> str:
        """Amount as on a shopping list.

        >>> Tell().amount(400, "g"), Tell("imperial").amount(400, "g")
        ('400 g', '400 g (14 oz)')
        """
        said = say_amount(amount, unit)
        if self.units == "metric" or unit == "piece":
            return said
        if unit == "ml":
            return f"{said} ({amount / ML_PER_FL_OZ:.2g} fl oz)"
        pounds = amount / G_PER_KG / KG_PER_LB
        if pounds >= 1.0:
            return f"{said} ({pounds:.1f} lb)"
        return f"{said} ({amount / G_PER_OZ:.2g} oz)"


METRIC = Tell()
"""Grams, litres and °C, as the tables have them."""
