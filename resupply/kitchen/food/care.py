"""Cautions where they matter, and once.

In: what the trip is like (a `Situation`). Out: the notes that apply, with their sources, the
temperature table and how long to boil water. Local rules come first; the notes say so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from resupply.common.units import f_to_c
from resupply.kitchen.food.dishes import Heat
from resupply.kitchen.food.sources import Backing  # noqa: TC001  (read by pydantic)
from resupply.kitchen.food.storage_classes import class_of
from resupply.kitchen.food.tables import check_table, read_data

if TYPE_CHECKING:
    from collections.abc import Iterable

    from resupply.kitchen.food.dishes import Cookbook, Dish, Ingredient
    from resupply.kitchen.food.meals import Menu, MenuInput
    from resupply.kitchen.food.storage_classes import StorageTable

__all__ = [
    "Boiling",
    "CareNote",
    "CareTable",
    "Situation",
    "Temperature",
    "boil_minutes",
    "care_for",
    "cooked_to",
    "load_care",
    "situation_of",
]

_FACTS = (
    "cooler",
    "perishable",
    "under_way",
    "raw_meat",
    "eggs",
    "dairy",
    "flour",
    "stove",
    "fire",
    "late",
    "allergens",
)
"""Fields of a situation that are flags of the same name."""

HOT_C = 26.0
"""From this high on the heat note is shown: the first step of the published table, rounded."""


@dataclass(frozen=True, slots=True)
class Situation:
    """What matters for cautions."""

    has_menu: bool
    dishes: tuple[Dish, ...] = ()
    cooler: bool = False
    perishable: bool = False
    raw_meat: bool = False
    eggs: bool = False
    dairy: bool = False
    """Milk, cream or cheese; without a menu nobody can tell, and it counts as if."""
    flour: bool = False
    """To bake with; without a menu as above."""
    under_way: bool = False
    """Food was on board before the plan begins."""
    stove: bool = False
    fire: bool = False
    late: bool = False
    allergens: bool = False
    untreated_water: bool = True
    """Water may come from springs or streams; unless known otherwise it may."""
    highest_m: float | None = None
    """Highest camp or water; None where the height is not known: the note is then shown."""
    hottest_c: float | None = None
    """None where not known: the heat note is then shown."""
    bears: Literal["yes", "no", "unknown"] = "unknown"


@dataclass(frozen=True, slots=True)
class CareNote:
    """One caution."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    id: str
    title: str
    words: str
    when: tuple[str, ...]
    by: Backing


@dataclass(frozen=True, slots=True)
class Temperature:
    """One row of the temperature table."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    id: str
    food: str
    by: Backing
    temp_f: float | None = None
    """As published; None where the sign is something to see."""
    rest_min: float | None = None
    words: str = ""

    @property
    def temp_c(self) -> float | None:
        """Converted, not rounded."""
        return None if self.temp_f is None else f_to_c(self.temp_f)


@dataclass(frozen=True, slots=True)
class Boiling:
    """One agency's advice on boiling untreated water."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    id: str
    agency: str
    minutes: float
    """Of a rolling boil; 0 where reaching it is enough."""
    by: Backing
    high_minutes: float | None = None
    high_from_m: float | None = None


@dataclass(frozen=True, slots=True)
class CareTable:
    """The whole file, in its order."""

    note: dict[str, CareNote]
    temperature: dict[str, Temperature]
    boiling: dict[str, Boiling]


def load_care() -> CareTable:
    """Read the cautions."""
    raw = {
        table: {key: {"id": key, **row} for key, row in rows.items()}
        for table, rows in read_data("care.toml").items()
    }
    return check_table(CareTable, raw, where="care.toml")


def boil_minutes(table: CareTable, height_m: float | None) -> float:
    """Minutes of rolling boil that satisfy every agency.

    Parameters
    ----------
    height_m
        Above sea level; None where not known: then as if high up.
    """
    rows = table.boiling.values()
    # Between two agencies' heights the longest time already holds from the lowest height on.
    high_from_m = min(row.high_from_m for row in rows if row.high_from_m is not None)
    if height_m is None or height_m >= high_from_m:
        return max(row.high_minutes or row.minutes for row in rows)
    return max(row.minutes for row in rows)


def cooked_to(
    dish: Dish, cookbook: Cookbook, table: StorageTable, care: CareTable
) -> tuple[tuple[Ingredient, Temperature], ...]:
    """List what of a dish is cooked or reheated to a safe temperature, and to which."""
    if dish.heat is Heat.NONE:
        return ()
    rows = ((part, class_of(table, part.storage).cook_to) for part in cookbook.parts(dish))
    return tuple((part, care.temperature[row]) for part, row in rows if row is not None)


def situation_of(
    given: MenuInput,
    menu: Menu | None,
    *,
    cooler: bool,
    under_way: bool = False,
    untreated_water: bool = True,
    highest_m: float | None = None,
    hottest_c: float | None = None,
    bears: Literal["yes", "no", "unknown"] = "unknown",
) -> Situation:
    """Read off a menu what matters for cautions; without one only what is told."""
    meals = menu.meals if menu is not None else ()
    dishes = tuple({m.dish.id: m.dish for m in meals if m.dish is not None}.values())
    parts = [part for dish in dishes for part in given.cookbook.parts(dish)]
    rows = [class_of(given.storage, part.storage) for part in parts]
    raw = [p for p, row in zip(parts, rows, strict=True) if row.kind == "raw"]
    return Situation(
        has_menu=menu is not None,
        dishes=dishes,
        cooler=cooler,
        perishable=cooler or any(row.needs_cold for row in rows),
        raw_meat=any(part.aisle != "eggs" for part in raw),
        eggs=any(part.aisle == "eggs" for part in parts),
        dairy=menu is None or any(part.aisle == "dairy" and part.diet != "vegan" for part in parts),
        flour=menu is None or any("flour" in part.name.lower() for part in parts),
        under_way=under_way,
        stove=given.cooking.stove and any(d.heat in (Heat.STOVE, Heat.EITHER) for d in dishes),
        fire=any(d.heat is Heat.FIRE for d in dishes),
        late=any(meal.slot.late for meal in meals),
        allergens=bool(given.diet.avoid),
        untreated_water=untreated_water,
        highest_m=highest_m,
        hottest_c=hottest_c,
        bears=bears,
    )


def care_for(situation: Situation, table: CareTable) -> tuple[CareNote, ...]:
    """Choose the notes that apply, each once, in the order of the file."""
    flags = set(_flags(situation, table))
    asked = {caution for dish in situation.dishes for caution in dish.cautions}
    return tuple(
        note for note in table.note.values() if note.id in asked or flags.intersection(note.when)
    )


def _flags(situation: Situation, table: CareTable) -> Iterable[str]:
    yield "always"
    for name in _FACTS:
        if getattr(situation, name):
            yield name
    if situation.stove or situation.fire:
        yield "cooking"
    if any(dish.method == "foil" for dish in situation.dishes):
        yield "foil"
    if situation.untreated_water:
        yield "untreated_water"
        if boil_minutes(table, situation.highest_m) > boil_minutes(table, 0.0):
            yield "untreated_water_high"
    if situation.hottest_c is None or situation.hottest_c >= HOT_C:
        yield "hot"
    if situation.bears != "no":
        yield "bears" if situation.bears == "yes" else "bears_unknown"
