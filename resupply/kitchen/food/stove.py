"""Stove fuel by meal: the heat that water, food and minutes on the flame take, by height.

In: the menu and the height at which each meal is cooked. Out: grams of gas and litres of liquid
fuel. Higher up water boils sooner, but simmering takes longer. The figures are in
`data/rations.toml`; most are ours, so a spare stands on top.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from resupply.common.units import G_PER_KG
from resupply.kitchen.food.dishes import Heat

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from resupply.kitchen.food.meals import MenuInput, MenuMeal
    from resupply.kitchen.food.storage_classes import TableValue

__all__ = ["FuelUse", "meal_fuel", "pots_for", "stove_fuel"]

_WATER_KJ: Final = 4.19
"""Heat of a kilogram of water for one degree, kJ."""
_FOOD_KJ: Final = 3.5
"""The same of food, most of which is water (our choice)."""
_POT_PORTIONS: Final = 4
"""Portions that one pot or pan is cooked in (our choice)."""
_KJ_PER_MJ: Final = 1000.0
"""By definition."""
_S_PER_MIN: Final = 60.0
"""By definition."""


@dataclass(frozen=True, slots=True)
class FuelUse:
    """Stove fuel of one meal, the spare included."""

    slot: int
    gas_g: float
    """Grams of gas …"""
    fuel_l: float
    """… or litres of liquid fuel."""


def stove_fuel(
    given: MenuInput,
    meals: tuple[MenuMeal, ...],
    rations: Mapping[str, TableValue],
    height_m: Callable[[MenuMeal], float],
) -> tuple[FuelUse, ...]:
    """Stove fuel of every meal cooked on the stove; none without one.

    Parameters
    ----------
    height_m
        Above the sea, where a meal is cooked.
    """
    if not given.cooking.stove:
        return ()
    uses = []
    for meal in meals:
        if meal.dish is not None and meal.dish.heat in (Heat.STOVE, Heat.EITHER):
            gas_kg, fuel_l = meal_fuel(given, meal, rations, height_m(meal))
            uses.append(FuelUse(meal.slot.index, gas_kg * G_PER_KG, fuel_l))
    return tuple(uses)


def meal_fuel(
    given: MenuInput, meal: MenuMeal, rations: Mapping[str, TableValue], height_m: float
) -> tuple[float, float]:
    """Gas, kg, and liquid fuel, litres, either of which cooks one meal for the party."""
    dish, parts = meal.dish, given.cookbook.ingredients
    if dish is None:
        return 0.0, 0.0

    def figure(key: str) -> float:
        return rations[key].value

    warmed_c = 100.0 - height_m / figure("boil_m_per_c") - figure("water_c")
    food_kg = sum(use.amount * parts[use.ingredient].unit_kg for use in meal.uses(given.people))
    heated_kj = (dish.water_l * given.people * _WATER_KJ + food_kg * _FOOD_KJ) * warmed_c
    # Food from the freezer may still be hard: it begins at 0 °C, and its ice is melted first.
    for use in meal.uses(given.people):
        part = parts[use.ingredient]
        if part.frozen:
            thaw_kj = part.frozen * figure("thaw_kj_per_kg") + _FOOD_KJ * figure("water_c")
            heated_kj += use.amount * part.unit_kg * thaw_kj
    longer = 1.0 + figure("longer_share") * max(height_m, 0.0) / figure("longer_at_m")
    held_s = dish.minutes * figure("simmer_share") * _S_PER_MIN * longer
    held_kw = figure("fry_kw" if dish.method == "pan" else "simmer_kw")
    # What the flame gives while it simmers is told before losses, the heat of the pot after them.
    mj = (heated_kj / figure("stove_efficiency") + held_kw * pots_for(given.people) * held_s) / (
        _KJ_PER_MJ
    )
    mj *= figure("fuel_spare")
    return mj / figure("gas_mj_per_kg"), mj / figure("liquid_mj_per_l")


def pots_for(people: int) -> int:
    """Pots, or pans, that a dish for so many is cooked in."""
    return -(-people // _POT_PORTIONS)
