"""Litres of water by heat, and what each rider eats.

In: the day's high, hours of riding, the menu. Out: litres, with the ceiling above which drinking
harms. The figures and their sources are in `data/rations.toml`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.common.quantity import MEALS_PER_DAY, line, temp, volume
from resupply.kitchen.food.snacks import meal_kcal
from resupply.kitchen.food.storage_classes import TableValue
from resupply.kitchen.food.tables import check_table, read_data

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resupply.common.quantity import Sentence
    from resupply.kitchen.food.meals import Menu, MenuInput

__all__ = [
    "WaterNeed",
    "cooking_water_l",
    "energy_words",
    "load_rations",
    "water_need",
]


@dataclass(frozen=True, slots=True)
class WaterNeed:
    """Water of one day for the whole party, litres."""

    drink_l: float
    cook_l: float
    ceiling_l: float
    """Most that all of them together should drink in the day."""
    why: Sentence
    most: Sentence
    """How much is too much; the same every day."""
    heat_known: bool
    """Where it is not, a cool day is counted."""

    @property
    def total_l(self) -> float:
        """Drinking and cooking."""
        return self.drink_l + self.cook_l


def load_rations() -> Mapping[str, TableValue]:
    """Read the figures."""
    return check_table(dict[str, TableValue], read_data("rations.toml"), where="rations.toml")


def water_need(
    rations: Mapping[str, TableValue],
    *,
    high_c: float | None,
    riding_h: float,
    people: int,
    cook_l: float = 0.0,
) -> WaterNeed:
    """Estimate the water of one day.

    Parameters
    ----------
    high_c
        The day's highest air temperature; None where not known.
    riding_h
        Hours on the road in it.
    people
        How many drink.
    cook_l
        Water for cooking, whole party; see `cooking_water_l`.

    Returns
    -------
    WaterNeed
        A base for the day, plus an hourly rate while riding in heat, never above the ceiling.
    """
    base_l = rations["water_base_l"].value
    rate_l, step = 0.0, 0
    for number in (1, 2, 3):
        if high_c is not None and high_c >= rations[f"heat_{number}_c"].value:
            rate_l, step = rations[f"heat_{number}_l_per_h"].value, number
    ceiling_l = rations["ceiling_l_per_day"].value
    each_l = min(base_l + rate_l * riding_h, ceiling_l)
    hot = None
    if high_c is None:
        hot = line("; the day's heat is not known, so plan more if it is hot")
    elif step:
        hot = line(
            ", and {rate} an hour while riding at {high}; we used air temperature for the "
            "published heat index",
            rate=volume(rate_l),
            high=temp(high_c),
        )
    per_hour = rations["ceiling_l_per_h"]
    return WaterNeed(
        each_l * people,
        cook_l,
        ceiling_l * people,
        why=line(
            "{base} each to drink and in food{hot}.",
            base=volume(base_l),
            hot=hot,
        ),
        most=line(
            "No more than {hour} an hour {note} or {day} a day each: too much is dangerous too. "
            "Where these figures come from, and how sure they are: see Food care.",
            hour=volume(per_hour.value),
            note=per_hour.by.status.note,
            day=volume(ceiling_l),
        ),
        heat_known=high_c is not None,
    )


def cooking_water_l(menu: Menu, people: int) -> dict[int, float]:
    """Water to cook each meal, litres for the whole party, by slot index."""
    return {
        meal.slot.index: meal.dish.water_l * people
        for meal in menu.meals
        if meal.dish is not None and meal.dish.water_l > 0.0
    }


def energy_words(menu: Menu, given: MenuInput, rations: Mapping[str, TableValue]) -> str:
    """Say what each rider eats on days with all meals, snacks and drinks included.

    Empty where no day has all its meals, or where nobody says how much is eaten.
    """
    if given.helpings is None:
        return ""
    days: dict[int, list[float]] = {}
    for meal in menu.meals:
        if meal.dish is not None:
            days.setdefault(meal.slot.day, []).append(meal_kcal(meal, given) / given.people)
    parts = given.cookbook.ingredients
    nibbled: dict[int, float] = {}
    for extra in menu.extras:
        kcal = extra.amount * parts[extra.ingredient].kcal_per_unit / given.people
        nibbled[extra.day] = nibbled.get(extra.day, 0.0) + kcal
    whole = [
        round(sum(kcal) + nibbled.get(day, 0.0), -1)
        for day, kcal in days.items()
        if len(kcal) == MEALS_PER_DAY
    ]
    if not whole:
        return ""
    least, most = min(whole), max(whole)
    span = f"{least:,.0f}" if least == most else f"{least:,.0f} to {most:,.0f}"
    wanted, usual = given.helpings.day_kcal / given.people, rations["kcal_per_day"]
    said = (
        f"On days with all three meals each of you eats about {span} kcal, snacks and drinks "
        f"included; planned are {wanted:,.0f}"
    )
    if wanted == usual.value:
        return f"{said}, what an active adult needs {usual.by.status.note}".rstrip() + "."
    return f"{said}."
