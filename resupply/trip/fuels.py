"""Names of fuels: the kinds a tank may take, and the map's keys for each.

In: a name from a trip file or a map key without `fuel:`. Out: its kind.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["ANY_PETROL", "FUELS", "is_fuel", "kind_of_fuel"]

ANY_PETROL: Final = "petrol"
"""Any grade of petrol."""

# Kinds of fuel and their keys without `fuel:`, OpenStreetMap wiki, Key:fuel:*; 100 % match.
FUELS: Final[Mapping[str, re.Pattern[str]]] = {
    ANY_PETROL: re.compile(
        r"octane_(?:[89]\d|10\d)|e(?:5|10|15|20|25|27|30)|petrol|gasoline|ethanol_free|"
        r"unleaded|leaded"
    ),
    "diesel": re.compile(r"(?:gtl_)?diesel(?:_\w+)?|biodiesel|hvo\w*"),
    "ethanol": re.compile(r"e85|e100|ethanol|alcohol"),
    "lpg": re.compile(r"lpg|autogas"),
    # From here on pumps that may stand alone, where there is no petrol.
    "gas": re.compile(r"cng|lng|biogas|propane"),
    "hydrogen": re.compile(r"h2|h35|h70|lh2|hydrogen"),
    "lorry diesel": re.compile(r"hgv_diesel"),
    "aircraft fuel": re.compile(r"avgas|100ll|91ul|ul91|jet_?a1?|jeta1?|mogas"),
    "heating fuel": re.compile(r"heating_oil|wood|charcoal|coal|pellets?|kerosene|firewood"),
    "other": re.compile(r"electricity|methanol|adblue|untaxed_\w+|1_\d+"),
}


def is_fuel(name: str) -> bool:
    """Tell whether a name may stand in the trip file: a kind of fuel, or one of the map's keys."""
    return name in FUELS or kind_of_fuel(name) in FUELS


def kind_of_fuel(name: str) -> str:
    """Kind of a fuel by its key, in small letters; empty where nobody knows it.

    >>> kind_of_fuel("octane_95"), kind_of_fuel("h70"), kind_of_fuel("soup")
    ('petrol', 'hydrogen', '')
    """
    return next((kind for kind, keys in FUELS.items() if keys.fullmatch(name)), "")
