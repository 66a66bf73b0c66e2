"""How to pack the cooler and the bags after a stop, bottom to top.

In: the menu, a stop, what else is in the cooler. Out: layers as data; a page draws them. Rules:
reverse order of use, raw meat and fish double-bagged at the very bottom, ice in its own bag between
and on top, packs on top of all, filled full; spices and gear apart from the food bag. Sources are
in `data/packing.toml`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from resupply.kitchen.food.load import ROUNDING, goes_in_cooler
from resupply.kitchen.food.storage_classes import TableValue, class_of
from resupply.kitchen.food.tables import check_table, read_data

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from resupply.kitchen.food.dishes import Cookbook, Ingredient
    from resupply.kitchen.food.meals import Menu, MenuInput
    from resupply.kitchen.food.storage_classes import StorageTable

__all__ = [
    "CoolerNow",
    "Item",
    "Layer",
    "Packing",
    "drips",
    "load_packing_rules",
    "pack",
    "place_of",
]

_SPICE_AISLES = ("spices", "household")


@dataclass(frozen=True, slots=True)
class CoolerNow:
    """The cooler when leaving a stop, and what is in it beside the food of the meals."""

    volume_l: float
    """Inner volume."""
    usable_l: float
    """What food, packs and ice may fill of it."""
    ice_kg: float = 0.0
    """In its own bags."""
    ice_l: float = 0.0
    packs_kg: float = 0.0
    """Reusable packs, frozen or thawed."""
    packs_l: float = 0.0
    rests_l: float = 0.0
    """Packs' contents that belong to no meal yet, or to none."""


@dataclass(frozen=True, slots=True)
class Item:
    """One food in a layer."""

    ingredient: str
    amount: float
    """Of the ingredient's unit, whole party, for the meals until it is used up."""
    first_use: dt.datetime
    mass_kg: float
    volume_l: float


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer; the first of a list lies at the bottom."""

    kind: Literal["raw", "ice", "packs", "food", "rests", "fill"]
    volume_l: float
    items: tuple[Item, ...] = ()
    first_use: dt.datetime | None = None
    """When the first of its items is eaten; None for ice and filling."""
    ice_kg: float = 0.0
    packs_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Packing:
    """What goes where after one stop."""

    stop: int
    cooler: tuple[Layer, ...]
    """Bottom first; empty without a cooler."""
    food_bag: tuple[Item, ...]
    """Bottom first: heavy food eaten late below, light food eaten soon on top."""
    spice_bag: tuple[Item, ...]
    over_l: float
    """How much more than food, packs and ice may fill; 0 if it fits."""
    rules: tuple[str, ...]
    """Ids in `packing.toml` that apply."""


def load_packing_rules() -> Mapping[str, TableValue]:
    """Read the rules and their sources."""
    return check_table(dict[str, TableValue], read_data("packing.toml"), where="packing.toml")


def place_of(
    part: Ingredient, table: StorageTable, *, cooled: bool
) -> Literal["spices", "cooler", "food"]:
    """Tell which bag a food lies in; `cooled` with a cooler on board."""
    if part.aisle in _SPICE_AISLES:
        return "spices"
    return "cooler" if cooled and goes_in_cooler(table, part.storage) else "food"


def drips(part: Ingredient, table: StorageTable) -> bool:
    """Whether a food is raw meat or fish, whose juice must not reach other food.

    Eggs are raw too, but break under weight and do not drip: they lie with the rest.
    """
    return class_of(table, part.storage).kind == "raw" and part.aisle in ("meat", "fish")


def pack(
    given: MenuInput,
    menu: Menu,
    stop: int,
    rules: Mapping[str, TableValue],
    cooler: CoolerNow | None,
) -> Packing:
    """Pack for the meals after one stop.

    Parameters
    ----------
    stop
        Index of the stop just left.
    cooler
        None without one: then everything is in the bags.
    """
    cookbook, table = given.cookbook, given.storage
    items = _on_board(given, menu, stop)
    cool: list[Item] = []
    food: list[Item] = []
    spice: list[Item] = []
    for item in items:
        part = cookbook.ingredients[item.ingredient]
        bags = {"spices": spice, "cooler": cool, "food": food}
        bags[place_of(part, table, cooled=cooler is not None)].append(item)
    applying = ["apart", "wash_hands_first"]
    layers: tuple[Layer, ...] = ()
    if cooler is not None:
        layers = _layers(cool, cookbook, table, cooler)
        applying += ["reverse", "cold_in", "shade", "thermometer", "full"]
        applying += ["raw_bottom", "double_bag"] if layers and layers[0].kind == "raw" else []
        perishable_kg = sum(item.mass_kg for item in cool)
        if cooler.ice_kg > 0.0:
            applying += ["ice_bag", "block"]
        if cooler.ice_kg < rules["ice_ratio"].value * perishable_kg:
            applying.append("ice_ratio")
    used_l = sum(layer.volume_l for layer in layers if layer.kind != "fill")
    over_l = used_l - cooler.usable_l if cooler is not None else 0.0
    return Packing(
        stop=stop,
        cooler=layers,
        food_bag=tuple(sorted(food, key=lambda i: (-i.first_use.timestamp(), -i.mass_kg))),
        spice_bag=tuple(spice),
        over_l=over_l if over_l > ROUNDING else 0.0,
        rules=tuple(applying),
    )


def _on_board(given: MenuInput, menu: Menu, stop: int) -> list[Item]:
    """Add up what is bought by now for meals still to come, in order of first use."""
    left = given.stops[stop].when.timestamp()
    amounts: dict[str, float] = {}
    first: dict[str, dt.datetime] = {}
    for meal in menu.meals:
        if meal.slot.when.timestamp() < left:
            continue
        for use in meal.uses(given.people):
            if use.bought.stop <= stop:
                amounts[use.ingredient] = amounts.get(use.ingredient, 0.0) + use.amount
                first.setdefault(use.ingredient, meal.slot.when)
    for extra in menu.extras:
        if extra.stop <= stop and extra.when.timestamp() >= left:
            key = extra.ingredient
            amounts[key] = amounts.get(key, 0.0) + extra.amount
            first[key] = min(first.get(key, extra.when), extra.when)
    items = []
    for key, amount in amounts.items():
        part = given.cookbook.ingredients[key]
        kg = amount * part.unit_kg
        items.append(Item(key, amount, first[key], kg, kg * part.l_per_kg))
    return items


def _layers(
    cool: Sequence[Item],
    cookbook: Cookbook,
    table: StorageTable,
    cooler: CoolerNow,
) -> tuple[Layer, ...]:
    raw: list[Item] = []
    ready: list[Item] = []
    for item in cool:
        part = cookbook.ingredients[item.ingredient]
        (raw if drips(part, table) else ready).append(item)
    # Half the ice over the raw meat, half on top: cold air sinks.
    half = Layer("ice", cooler.ice_l / 2, ice_kg=cooler.ice_kg / 2)
    ice = [half] if cooler.ice_kg > 0.0 else []
    packs = [Layer("packs", cooler.packs_l, packs_kg=cooler.packs_kg)] if cooler.packs_kg else []
    rests = [Layer("rests", cooler.rests_l)] if cooler.rests_l > 0.05 else []
    bottom = [_layer("raw", raw)] if raw else []
    days = sorted({item.first_use.date() for item in ready}, reverse=True)
    middle = [_layer("food", [i for i in ready if i.first_use.date() == day]) for day in days]
    stacked = [*bottom, *ice, *rests, *middle, *ice, *packs]
    room_l = cooler.volume_l - sum(layer.volume_l for layer in stacked)
    # A hand's breadth needs no filling.
    return tuple([*stacked, Layer("fill", room_l)] if room_l > 0.03 * cooler.volume_l else stacked)


def _layer(kind: Literal["raw", "food"], items: Sequence[Item]) -> Layer:
    ordered = tuple(sorted(items, key=lambda i: (-i.first_use.timestamp(), i.ingredient)))
    return Layer(kind, sum(i.volume_l for i in ordered), ordered, min(i.first_use for i in ordered))
