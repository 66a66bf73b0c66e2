"""Latent and specific heats against printed tables.

* Latent heat of ice: 334 kJ/kg (a copied table that cannot be traced), 333.7 (Çengel,
  copy), 80 kcal/kg (FAO).
* Specific heat of food: NZIFST, Unit Operations in Food Processing, appendix 7, whose estimate
  from the water share is the one used; water shares here are round textbook figures.
* Stowage of ice: FAO T0713E, chapter 12.
"""

from __future__ import annotations

import pytest

from resupply.kitchen.cold.cooler import stowage_l_per_kg
from resupply.kitchen.cold.heat import (
    CP_WATER_KJ_PER_KG_K,
    LATENT_KJ_PER_KG,
    food_latent_kj_per_kg,
)


@pytest.mark.parametrize("printed", [334.0, 333.7, 80.0 * 4.1868])
def test_latent_heat_is_within_half_a_percent_of_every_printed_value(printed):
    assert pytest.approx(printed, rel=0.005) == LATENT_KJ_PER_KG


def test_specific_heat_of_water_lies_between_the_printed_values():
    assert 4.18 <= CP_WATER_KJ_PER_KG_K <= 4.218


def test_water_alone_is_water():
    assert food_latent_kj_per_kg(1.0) == pytest.approx(LATENT_KJ_PER_KG, rel=0.005)


def test_stowage_lies_in_the_printed_ranges():
    assert stowage_l_per_kg("block") == 1.4
    # Bagged cubes: the roomy end of crushed (1.4 to 1.5) and tube (1.6 to 2.0) ice.
    assert stowage_l_per_kg("cube") == 2.0
