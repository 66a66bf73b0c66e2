"""Dishes and their ingredients as data: the starter collection and the rider's own.

In: TOML tables. Out: a `Cookbook`, every amount turned into the unit its ingredient is sold in.
What a dish contains (meat, allergens, mass, energy) is worked out from its ingredients, so that
it cannot be forgotten. Names are the rider's text: whoever shows them escapes them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from resupply.common.errors import TripFileError
from resupply.common.toml_file import read_toml
from resupply.kitchen.food.amounts import convert
from resupply.kitchen.food.tables import check_table, read_data

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from resupply.kitchen.food.storage_classes import StorageTable

__all__ = [
    "AISLES",
    "Allergen",
    "Cookbook",
    "DietKind",
    "Dish",
    "Heat",
    "Ingredient",
    "MealKind",
    "Portion",
    "load_cookbook",
    "sold_in",
]

# The order in which a shop is walked: dry goods first, what must stay cold last.
AISLES = (
    "household",
    "dry",
    "breakfast",
    "tins",
    "spreads",
    "spices",
    "snacks",
    "drinks",
    "bakery",
    "produce",
    "eggs",
    "dairy",
    "deli",
    "meat",
    "fish",
)

DietKind = Literal["vegan", "vegetarian", "fish", "meat"]
"""What of animals a dish holds, at most."""
# Limits that only refuse slips: far outside what a dish has (our choice).
_Text = Annotated[str, Field(min_length=1, max_length=300)]
_Id = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,59}$")]
_Positive = Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
_Pack = Annotated[int, Field(gt=0, le=100_000)]
_NotNegative = Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)]


class Allergen(StrEnum):
    """The 14 allergens of Regulation (EU) No 1169/2011, annex II."""

    GLUTEN = "gluten"
    CRUSTACEANS = "crustaceans"
    EGGS = "eggs"
    FISH = "fish"
    PEANUTS = "peanuts"
    SOYBEANS = "soybeans"
    MILK = "milk"
    NUTS = "nuts"
    CELERY = "celery"
    MUSTARD = "mustard"
    SESAME = "sesame"
    SULPHITES = "sulphites"
    LUPIN = "lupin"
    MOLLUSCS = "molluscs"


class Heat(StrEnum):
    """What a dish is cooked on."""

    NONE = "none"
    STOVE = "stove"
    FIRE = "fire"
    EITHER = "either"


class MealKind(StrEnum):
    """Meals of a day, in order."""

    BREAKFAST = "breakfast"
    LUNCH = "lunch"
    DINNER = "dinner"


@dataclass(frozen=True, slots=True)
class Ingredient:
    """Something bought."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    id: _Id
    name: _Text
    storage: str
    """Key of the storage table."""
    aisle: Literal[AISLES]  # type: ignore[valid-type]
    unit: Literal["g", "ml", "piece"]
    """The unit in which packs and needs are counted."""
    packs: Annotated[tuple[_Pack, ...], Field(min_length=1, max_length=6)]
    """Sizes sold, whole numbers of `unit`."""
    l_per_kg: _Positive
    """Room in the bag per kilogram, packaging included."""
    kcal_per_unit: _NotNegative
    diet: DietKind
    allergens: tuple[Allergen, ...]
    """Must be given, `[]` for none: a missing list is not "free from"."""
    may_contain: tuple[Allergen, ...] = ()
    """Allergens that some makes of it hold: the label decides."""
    station: Literal["usually", "maybe", "rarely"] = "rarely"
    """Whether the shop of a filling station has it (common practice, no source)."""
    kg_per_unit: _Positive | None = None
    """Mass of a piece; grams and millilitres know theirs (1 ml is taken as 1 g)."""
    kit: bool = False
    """Part of the pantry kit: decanted at home and refilled, never bought for a trip."""
    loose: _Pack | None = None
    """Picked or weighed in the shop in steps of so much; None: in packs only."""
    snack: _NotNegative = 0.0
    """Most that one person nibbles or drinks of it in a day, in `unit`; 0: no snack."""
    frozen: Annotated[float, Field(ge=0, le=1)] = 0.0
    """Made at home and frozen, so only from there: the share of it that is water, which keeps the
    rest cold while it thaws; 0 for other food."""
    packs_us: Annotated[tuple[_Pack, ...], Field(max_length=6)] = ()
    """Sizes sold in the United States; empty where they do not differ."""

    @property
    def sold(self) -> tuple[int, ...]:
        """Sizes sold: packs, or the step in which it is picked or weighed."""
        return self.packs if self.loose is None else (self.loose,)

    @property
    def unit_kg(self) -> float:
        """Mass of one unit."""
        return 0.001 if self.kg_per_unit is None else self.kg_per_unit


@dataclass(frozen=True, slots=True)
class Portion:
    """One ingredient of a serving."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    use: str
    """Ingredient id."""
    amount: _Positive
    """Per person, in `unit`; in the ingredient's own unit once loaded."""
    unit: str


@dataclass(frozen=True, slots=True)
class Dish:
    """One dish, per serving."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    id: _Id
    name: _Text
    kinds: Annotated[tuple[MealKind, ...], Field(min_length=1)]
    method: Literal["foil", "pot", "pan", "no-cook"]
    heat: Heat
    minutes: Annotated[int, Field(ge=0, le=600)]
    """Work and cooking together."""
    portions: Annotated[tuple[Portion, ...], Field(min_length=1, max_length=40)]
    steps: Annotated[tuple[_Text, ...], Field(max_length=8)] = ()
    """How it is made, in order."""
    tags: Annotated[tuple[_Id, ...], Field(max_length=12)] = ()
    """What a rider may leave out or prefer it by."""
    cautions: tuple[_Text, ...] = ()
    """Ids of care notes, or the rider's own sentences."""
    water_l: Annotated[float, Field(ge=0, le=10)] = 0.0
    """Water for cooking a serving."""
    reserve: bool = False
    """Kept for emergencies: never planned, shelf-stable, no cooking."""
    together: bool = False
    """What some of a party do not eat cannot be kept apart."""
    leftover: str | None = None
    """Storage class of what remains for the next meal; None if nothing may be kept."""
    leftover_of: str | None = None
    """Id of the dish whose leftovers this is; only right after it."""

    @property
    def labels(self) -> frozenset[str]:
        """What it can be named by to leave it out or prefer it: id, tags, method."""
        return frozenset((self.id, self.method, *self.tags))


@dataclass(frozen=True, slots=True)
class Cookbook:
    """All dishes and ingredients by id."""

    ingredients: Mapping[str, Ingredient]
    dishes: Mapping[str, Dish]

    def parts(self, dish: Dish) -> tuple[Ingredient, ...]:
        """Ingredients of a dish, in its order."""
        return tuple(self.ingredients[portion.use] for portion in dish.portions)

    def allergens(self, dish: Dish) -> tuple[Allergen, ...]:
        """Allergens of a dish, also those carried over in leftovers, in the order of the law."""
        found = {allergen for part in self.parts(dish) for allergen in part.allergens}
        if dish.leftover_of is not None:
            found.update(self.allergens(self.dishes[dish.leftover_of]))
        return tuple(allergen for allergen in Allergen if allergen in found)

    def label_decides(self, dish: Dish) -> tuple[Allergen, ...]:
        """Allergens that a dish holds or not, by the make of what is bought."""
        found = {allergen for part in self.parts(dish) for allergen in part.may_contain}
        if dish.leftover_of is not None:
            found.update(self.label_decides(self.dishes[dish.leftover_of]))
        sure = self.allergens(dish)
        return tuple(a for a in Allergen if a in found and a not in sure)

    def diet(self, dish: Dish) -> DietKind:
        """Strictest diet that a dish fits: vegan, vegetarian, fish or meat."""
        order: tuple[DietKind, ...] = ("vegan", "vegetarian", "fish", "meat")
        found = [order.index(part.diet) for part in self.parts(dish)]
        if dish.leftover_of is not None:
            found.append(order.index(self.diet(self.dishes[dish.leftover_of])))
        return order[max(found)]

    def mass_kg(self, dish: Dish) -> float:
        """Mass of a serving as carried, without water."""
        return sum(self.ingredients[p.use].unit_kg * p.amount for p in dish.portions)

    def volume_l(self, dish: Dish) -> float:
        """Room of a serving in the bag."""
        parts = ((self.ingredients[p.use], p.amount) for p in dish.portions)
        return sum(part.unit_kg * amount * part.l_per_kg for part, amount in parts)

    def kcal(self, dish: Dish) -> float:
        """Energy of a serving: an estimate (from memory)."""
        return sum(self.ingredients[p.use].kcal_per_unit * p.amount for p in dish.portions)


def sold_in(cookbook: Cookbook, country: str | None) -> Cookbook:
    """Take the sizes in which packs are sold in a country; the usual ones where not known."""
    if country != "US":
        return cookbook
    parts = {
        key: replace(part, packs=part.packs_us or part.packs)
        for key, part in cookbook.ingredients.items()
    }
    return replace(cookbook, ingredients=parts)


def load_cookbook(storage: StorageTable, own: Path | None = None) -> Cookbook:
    """Read the starter collection and, if given, the rider's own file.

    Parameters
    ----------
    storage
        Every ingredient names a class of it.
    own
        TOML with `[ingredient.…]` and `[dish.…]` tables; an id of the starter collection used
        again replaces it.

    Raises
    ------
    TripFileError
        Naming the file and the key.
    """
    starter = parse_cookbook(
        {**read_data("ingredients.toml"), **read_data("dishes.toml")},
        storage,
        where="dishes.toml",
    )
    if own is None:
        return starter
    raw = read_dishes(own)
    return parse_cookbook(raw, storage, where=str(own), base=starter)


def read_dishes(path: Path) -> dict[str, Any]:
    """Read a rider's own dish file; see `read_toml`."""
    return read_toml(
        path,
        "dish file",
        named="Check the name given as food.dishes",
        large="Keep only dishes and ingredients in it",
    )


def parse_cookbook(
    raw: Mapping[str, Any],
    storage: StorageTable,
    *,
    where: str,
    base: Cookbook | None = None,
) -> Cookbook:
    """Check parsed tables and join them with `base`; see `load_cookbook`."""
    for key in raw:
        if key not in ("ingredient", "dish"):
            raise TripFileError(
                f"there is no table {key}", where=where, mend="Use [ingredient.…] and [dish.…]"
            )
    ingredients = dict(base.ingredients) if base else {}
    for key, row in _rows(raw, "ingredient", where):
        ingredient = check_table(Ingredient, row, where=f"{where}: ingredient.{key}")
        _check_ingredient(ingredient, storage, where=f"{where}: ingredient.{key}")
        ingredients[key] = ingredient
    rows = _rows(raw, "dish", where)
    read = [check_table(Dish, row, where=f"{where}: dish.{key}") for key, row in rows]
    # The rider's own come first: the menu prefers them among equals.
    own = {dish.id: dish for dish in read}
    dishes = {**own, **(base.dishes if base else {}), **own}
    for dish in read:
        dishes[dish.id] = _checked(
            dish, ingredients, dishes, storage, where=f"{where}: dish.{dish.id}"
        )
    return Cookbook(ingredients, dishes)


def _rows(raw: Mapping[str, Any], table: str, where: str) -> list[tuple[str, dict[str, Any]]]:
    rows = raw.get(table, {})
    if not isinstance(rows, dict) or not all(isinstance(row, dict) for row in rows.values()):
        raise TripFileError(
            f"{table} is not a table of tables", where=where, mend=f"Write [{table}.some-name]"
        )
    return [(key, {"id": key, **row}) for key, row in rows.items()]


def _check_ingredient(ingredient: Ingredient, storage: StorageTable, *, where: str) -> None:
    if ingredient.storage not in storage.classes:
        raise TripFileError(
            f"storage = {ingredient.storage[:60]!r}: there is no such storage class",
            where=where,
            mend="The classes are listed in docs/safety-sources.md",
        )
    if ingredient.unit == "piece" and ingredient.kg_per_unit is None:
        raise TripFileError("kg_per_unit is missing for something sold by the piece", where=where)


def _checked(
    dish: Dish,
    ingredients: Mapping[str, Ingredient],
    dishes: Mapping[str, Dish],
    storage: StorageTable,
    *,
    where: str,
) -> Dish:
    """Check what a dish refers to, and turn its amounts into the units sold."""
    portions = []
    for number, portion in enumerate(dish.portions):
        at = f"{where}.portions.{number}"
        if portion.use not in ingredients:
            raise TripFileError(
                f"use = {portion.use[:60]!r}: there is no such ingredient",
                where=at,
                mend="Add an [ingredient.…] table for it",
            )
        unit = ingredients[portion.use].unit
        amount = convert(portion.amount, portion.unit, unit, where=at)
        portions.append(replace(portion, amount=amount, unit=unit))
    if (dish.heat is Heat.NONE) != (dish.method == "no-cook"):
        raise TripFileError("heat = none goes with method = no-cook, and only with it", where=where)
    if dish.leftover is not None and dish.leftover not in storage.classes:
        raise TripFileError(
            f"leftover = {dish.leftover[:60]!r}: there is no such storage class", where=where
        )
    if dish.leftover_of is not None:
        maker = dishes.get(dish.leftover_of)
        if maker is None or maker.leftover is None or maker.leftover_of is not None:
            raise TripFileError(
                f"leftover_of = {dish.leftover_of[:60]!r}: there is no such dish with leftovers",
                where=where,
                mend="Give that dish a leftover = storage class",
            )
    if dish.reserve and not _is_reserve(dish, ingredients, storage):
        raise TripFileError(
            "a reserve dish needs no cooking and shelf-stable ingredients only", where=where
        )
    return replace(dish, portions=tuple(portions))


def _is_reserve(dish: Dish, ingredients: Mapping[str, Ingredient], storage: StorageTable) -> bool:
    classes = (storage.classes[ingredients[p.use].storage] for p in dish.portions)
    return (
        dish.heat is Heat.NONE
        and dish.leftover_of is None
        and all(row.keeping == "stable" for row in classes)
    )
