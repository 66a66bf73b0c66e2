"""What to eat when."""

from typing import Literal

from resupply.report.document.model.base import Date, SentenceText, Time, model

__all__ = [
    "DishRow",
    "ExtraRow",
    "IngredientUse",
    "MealRow",
    "MenuDay",
    "MenuDocument",
    "MenuNotes",
    "MovedDishRow",
]


@model
class IngredientUse:
    """An ingredient."""

    id: str
    """Id."""
    name: str
    """Name."""
    amount: float
    """Amount for all."""
    unit: Literal["g", "ml", "piece"]
    """Its unit."""
    words: SentenceText
    """Amount in words."""
    each_words: SentenceText
    """Amount for each of those who eat it, in words."""
    storage: str
    """Class of storage."""
    stop: int
    """Stop it is bought at, 0 is home."""
    use_by: Time | None
    """Use by; null if it keeps."""
    doubtful: bool
    """True if a small shop may not have it."""


@model
class DishRow:
    """The dish; null if none fits."""

    id: str
    """Id."""
    name: str
    """Name."""
    method: str
    """How it is made."""
    heat: Literal["none", "stove", "fire", "either"]
    """Heat it takes."""
    minutes: int
    """Time to make it, minutes."""
    kcal_each: int
    """Energy a person, kcal."""
    mass_kg: float
    """Food for all, kg."""
    volume_l: float
    """Room it takes, litres."""
    water_l: float
    """Water to cook it, litres."""
    diet: Literal["vegan", "vegetarian", "fish", "meat"]
    """Strictest diet it suits."""
    allergens: tuple[str, ...]
    """Allergens of the usual products."""
    may_contain: tuple[str, ...]
    """Allergens that some makes hold: the label decides."""
    care: tuple[str, ...]
    """Ids of cautions in `care`."""
    cautions: tuple[str, ...]
    """Further cautions."""
    steps: tuple[str, ...]
    """How it is made, in order."""
    musts: tuple[SentenceText, ...]
    """What is kept apart for those who eat it, inner temperature of what must be cooked or heated
    through, and carbon monoxide."""
    tags: tuple[str, ...]
    """What it can be left out or preferred by."""
    leftover_of: str | None
    """Dish whose leftovers it uses; null if none."""
    ingredients: tuple[IngredientUse, ...]
    """For all."""


@model
class MealRow:
    """A meal."""

    slot: int
    """Number of the meal, from 0."""
    when: Time
    """Local time."""
    kind: Literal["breakfast", "lunch", "dinner"]
    """Which meal."""
    stretch: int
    """Stop whose food it is from, 0 is home."""
    late: bool
    """True after a long day."""
    fire_ban: bool
    """True if no fire may be lit."""
    no_cook: bool
    """True if nothing is cooked."""
    dish: DishRow | None
    """The dish; null if none fits."""
    use_by: Time | None
    """Earliest use-by of what it takes; null if all keeps."""
    why: SentenceText
    """Why this dish now."""


@model
class ExtraRow:
    """A snack or a drink."""

    id: str
    """Id of the ingredient."""
    name: str
    """Its name."""
    amount: float
    """Amount for all."""
    unit: Literal["g", "ml", "piece"]
    """Its unit."""
    words: SentenceText
    """Amount in words."""
    kcal_each: int
    """Energy a person, kcal."""
    stop: int
    """Stop it is bought at, 0 is home."""


@model
class MenuDay:
    """A day."""

    day: int
    """Day of the trip, from 1."""
    date: Date
    """Date."""
    meals: tuple[MealRow, ...]
    """In order."""
    extras: tuple[ExtraRow, ...]
    """Snacks and drinks of the day."""
    kcal_each: int
    """Energy of the meals and extras a person, kcal."""


@model
class MovedDishRow:
    """A dish moved or left out."""

    dish: str
    """Id."""
    name: str
    """Name."""
    from_slot: int
    """Meal it was meant for."""
    to_slot: int | None
    """Meal it is moved to; null if left out."""
    warm_from: Time | None
    """From when it would be too warm; null if that is not why."""
    why: SentenceText
    """Why."""


@model
class MenuNotes:
    """Notes."""

    energy: str
    """Plain sentence, ready to show."""
    allergens: str
    """Plain sentence, ready to show."""
    sources: str
    """Plain sentence, ready to show."""


@model
class MenuDocument:
    """What to eat when; absent if no food is planned."""

    people: int
    """How many eat."""
    days: tuple[MenuDay, ...]
    """By day."""
    moves: tuple[MovedDishRow, ...]
    """What was changed and why."""
    unfilled: tuple[int, ...]
    """Slots for which no dish fits."""
    warnings: tuple[str, ...]
    """What to know about the menu."""
    words: MenuNotes
    """Notes."""
