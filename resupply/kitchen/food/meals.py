"""What the menu is planned from, and what it is: plain values, no map and no cooler code."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from resupply.common.progress import go_on

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Mapping

    from resupply.common.quantity import Said, Sentence
    from resupply.kitchen.food.dishes import Allergen, Cookbook, DietKind, Dish, MealKind
    from resupply.kitchen.food.storage import UseBy
    from resupply.kitchen.food.storage_classes import StorageTable

__all__ = [
    "USUAL_KCAL",
    "Bought",
    "Cause",
    "Diet",
    "Extra",
    "Fire",
    "Fit",
    "Helpings",
    "Kitchen",
    "MealSlot",
    "Menu",
    "MenuInput",
    "MenuMeal",
    "Misfit",
    "MovedDish",
    "ShopVisit",
    "Use",
]


USUAL_KCAL: Final = 2500.0
"""What the dishes' portions are made for, a person and day; see docs/how/food.md."""


@dataclass(frozen=True, slots=True)
class ShopVisit:
    """One shop stop, or the kitchen at home."""

    name: str
    """Hostile map text."""
    when: dt.datetime
    """Aware arrival."""
    full: bool
    """A full shop; a small one sells only some classes."""
    trade: str = ""
    """Its kind as the map has it, e.g. `shop=bakery`, where it is not full: what it sells."""
    weighed: bool = False
    """What can be weighed out is had in any amount: the cupboard at home."""
    freezer: bool = False
    """Food made at home comes out of the freezer there."""


class Fire(StrEnum):
    """Whether a meal may be cooked over an open fire, and if not, why not."""

    YES = "yes"
    UNKNOWN = "unknown"
    BANNED = "banned"
    NOT_HERE = "not here"
    TOO_HOT = "too hot"
    NO_TIME = "no time"

    @property
    def words(self) -> str:
        """Why there is none, as a clause; empty where there is one."""
        return {
            "yes": "",
            "unknown": "nobody says that one may be lit",
            "banned": "fires are banned",
            "not here": "the camp allows none, says the map",
            "too hot": "none is lit in such heat",
            "no time": "there is no time for one before a ride",
        }[self.value]


@dataclass(frozen=True, slots=True)
class MealSlot:
    """One meal to be filled."""

    index: int
    """From 0, in order of time."""
    when: dt.datetime
    """Aware."""
    kind: MealKind
    stretch: int
    """Index of the stop at whose shop it is bought; -1 before the first."""
    day: int
    """Day of the trip, from 1."""
    late: bool = False
    """Arrival is late that day."""
    fire: Fire = Fire.UNKNOWN
    no_cook: bool = False
    at_once: bool = False
    """Eaten on arrival, earlier than usual: what was bought on the way is cooked at once."""
    cook_minutes_limit: int | None = None
    """Longest cooking; None for no limit of its own."""


@dataclass(frozen=True, slots=True)
class Diet:
    """What the party eats."""

    vegetarian: bool = False
    """All of them eat no meat and no fish."""
    vegan: bool = False
    vegetarians: int = 0
    """So many of them eat no meat and no fish, where the others do."""
    vegans: int = 0
    avoid: frozenset[Allergen] = frozenset()
    leave_out: frozenset[str] = frozenset()
    """Labels of dishes: ids, tags, methods."""
    prefer: frozenset[str] = frozenset()
    """The same; such dishes come before others that fit as well."""

    def suits(self, kind: DietKind) -> bool:
        """Whether anybody of the party eats food of a kind."""
        if self.vegan:
            return kind == "vegan"
        return kind in ("vegan", "vegetarian") if self.vegetarian else True

    def suits_all(self, kind: DietKind) -> bool:
        """Whether all of the party eat food of a kind."""
        return self.suits(kind) and self.eaters(kind, 1) == 1

    def eaters(self, kind: DietKind, people: int) -> int:
        """How many of so many people eat food of a kind that suits anybody."""
        if kind == "vegan":
            return people
        return people - self.vegans - (0 if kind == "vegetarian" else self.vegetarians)


@dataclass(frozen=True, slots=True)
class Kitchen:
    """What there is to cook on."""

    stove: bool = True
    late_minutes: int = 20
    """Longest cooking on a late arrival."""


@dataclass(frozen=True, slots=True)
class Helpings:
    """How much is eaten, and how long to look for a thrifty menu."""

    appetite: float
    """Of all of them together: 2 for two who eat what is usual."""
    kcal_per_day: float = USUAL_KCAL
    """A person of usual appetite, snacks and drinks included."""
    trials: int = 600
    """Dishes tried in place of others, at most, in each search."""
    searches: int = 1
    """Each after the first begins with the best menu so far, some of its dishes changed."""

    @property
    def scale(self) -> float:
        """Of a portion as stated, for the whole party."""
        return self.appetite * self.kcal_per_day / USUAL_KCAL

    @property
    def day_kcal(self) -> float:
        """What all of them eat in a day."""
        return self.appetite * self.kcal_per_day


@dataclass(frozen=True, slots=True, eq=False)
class MenuInput:
    """Everything a menu is planned from but the temperature."""

    slots: tuple[MealSlot, ...]
    """In order of time, `index` counting up by one."""
    stops: tuple[ShopVisit, ...]
    """In order of time: home first, then the plan's food stops; without home under way."""
    cookbook: Cookbook
    storage: StorageTable
    diet: Diet
    cooking: Kitchen
    people: int
    helpings: Helpings | None = None
    """None: dishes as they stand, without a thought for packs or energy."""
    uncooled: frozenset[int] = frozenset()
    """Stops from which nothing that needs cold is carried in the cooler: its ice would weigh too
    much for what it keeps."""
    kept: Mapping[int, str] = field(default_factory=dict)
    """By position of the slot, the dish of another plan of the trip: it stays if it may."""
    step: Callable[[], None] = go_on
    """Called between the trials of a menu; what it raises ends the work."""


class Cause(StrEnum):
    """Why a dish does not fit a meal."""

    KIND = "kind"
    LEFT_OUT = "left out"
    DIET = "diet"
    ALLERGEN = "allergen"
    COOKING = "cooking"
    FIRE = "fire"
    TIME = "time"
    SHOP = "shop"
    DAYS = "days"
    WARM = "warm"
    UNKNOWN = "unknown"
    ICE = "ice"
    LEFTOVER = "leftover"


@dataclass(frozen=True, slots=True)
class Misfit:
    """A dish that cannot be eaten at a meal."""

    cause: Cause
    why: Said
    warm_from: dt.datetime | None = None
    """First warm or unknown moment, where that is the cause."""
    spell: Sentence | None = None
    """What is said of that moment, in a clause."""


@dataclass(frozen=True, slots=True)
class Bought:
    """Where one ingredient of a meal comes from, and how long it lasts."""

    ingredient: str
    stop: int
    use_by: UseBy
    doubtful: bool
    """A small shop may not have it."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A dish that can be eaten at a meal."""

    bought: tuple[Bought, ...]

    @property
    def first(self) -> Bought | None:
        """The ingredient that spoils first; None if none does within the trip."""
        limited = [item for item in self.bought if item.use_by.when is not None]
        return min(limited, key=_deadline_s, default=None)

    @property
    def doubtful(self) -> bool:
        """Whether a small shop may lack one of its ingredients."""
        return any(item.doubtful for item in self.bought)


@dataclass(frozen=True, slots=True)
class MenuMeal:
    """One slot with its dish."""

    slot: MealSlot
    dish: Dish | None
    """None: no dish fits."""
    bought: tuple[Bought, ...]
    use_by: UseBy | None
    """Of the ingredient that spoils first; None if none does."""
    why: Sentence
    shares: tuple[float, ...] = ()
    """By portion of the dish: how much of what it states is taken; empty for all of it."""

    def uses(self, people: int) -> tuple[Use, ...]:
        """Tell what it takes of each ingredient for a party of so many; empty without a dish."""
        if self.dish is None:
            return ()
        shares = self.shares or (1.0,) * len(self.dish.portions)
        return tuple(
            Use(number, portion.use, bought, portion.amount * people * share)
            for number, (portion, bought, share) in enumerate(
                zip(self.dish.portions, self.bought, shares, strict=True)
            )
        )


@dataclass(frozen=True, slots=True)
class Use:
    """What one meal takes of one ingredient."""

    portion: int
    """Number of the dish's portion, from 0."""
    ingredient: str
    bought: Bought
    amount: float
    """Whole party, in the ingredient's unit."""


@dataclass(frozen=True, slots=True)
class Extra:
    """A snack or a drink of a day."""

    day: int
    """Of the trip, from 1."""
    when: dt.datetime
    """By when it is eaten, aware."""
    ingredient: str
    stop: int
    """Where it is bought."""
    amount: float
    """Whole party, in the ingredient's unit."""


@dataclass(frozen=True, slots=True)
class MovedDish:
    """A perishable dish that a warm spell drove out of a meal."""

    dish: str
    from_slot: int
    to_slot: int | None
    """None: it is left out altogether."""
    warm_from: dt.datetime | None
    because: Said
    """One clause: what the heat would have done to it."""
    why: Sentence


@dataclass(frozen=True, slots=True)
class Menu:
    """Every meal of the trip."""

    meals: tuple[MenuMeal, ...]
    extras: tuple[Extra, ...] = ()
    """Snacks and drinks, in order of time."""
    moves: tuple[MovedDish, ...] = ()
    cost: float = 0.0
    """Value of the objective, lower is better."""
    warnings: tuple[str, ...] = field(default=())

    @property
    def unfilled(self) -> tuple[MenuMeal, ...]:
        """Meals for which no dish fits."""
        return tuple(meal for meal in self.meals if meal.dish is None)


def _deadline_s(item: Bought) -> float:
    return item.use_by.when.timestamp() if item.use_by.when is not None else float("inf")
