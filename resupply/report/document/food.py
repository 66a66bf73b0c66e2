"""Menu, lists, packing, load and cautions as plain dicts for the JSON document.

In: the values of this package. Out: dicts and lists of text and numbers, times in ISO 8601, units
in the keys, plain sentences under `why` and `words`. Names are the rider's and the map's own text,
unescaped.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from resupply.common.quantity import line, mass, room
from resupply.kitchen.food.care import boil_minutes
from resupply.kitchen.food.sources import said_by
from resupply.kitchen.food.tell import METRIC

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.kitchen.food.care import CareNote, CareTable
    from resupply.kitchen.food.dishes import Cookbook, Dish
    from resupply.kitchen.food.load import LoadOnBoard, LoadPoint
    from resupply.kitchen.food.meals import Menu, MenuMeal, MovedDish, ShopVisit
    from resupply.kitchen.food.packing import Item, Layer, Packing
    from resupply.kitchen.food.rations import FuelUse, WaterNeed
    from resupply.kitchen.food.shopping import Shopping, ShoppingLine
    from resupply.kitchen.food.sources import Reference
    from resupply.kitchen.food.storage_classes import StorageTable, TableValue
    from resupply.kitchen.food.tell import Tell

__all__ = [
    "care_document",
    "load_document",
    "menu_document",
    "packing_document",
    "shopping_document",
]

Document = dict[str, Any]


def menu_document(
    menu: Menu,
    *,
    cookbook: Cookbook,
    table: StorageTable,
    people: int,
    care: CareTable,
    shopping: Shopping | None = None,
    tell: Tell = METRIC,
    first_stop: int = 0,
) -> Document:
    """Write the menu by day.

    Parameters
    ----------
    shopping
        The lists, to tell where what is left of earlier packs was bought.
    first_stop
        Number of the plan's stop that the first of the kitchen's stops is; 0 is home.
    """
    days: dict[int, list[Document]] = {}
    for meal in menu.meals:
        row = _meal(meal, cookbook, table, people, care, shopping, tell, first_stop)
        days.setdefault(meal.slot.day, []).append(row)
    return {
        "people": people,
        "days": [
            {"day": day, "date": meals[0]["when"][:10], "meals": meals}
            for day, meals in sorted(days.items())
        ],
        "moves": [_move(move, cookbook) for move in menu.moves],
        "unfilled": [meal.slot.index for meal in menu.unfilled],
        "warnings": list(menu.warnings),
        "words": {
            "energy": "Energy and mass are estimates from round figures (from memory).",
            "allergens": "Sorted by the usual product; the label of the pack decides.",
        },
    }


def shopping_document(
    shopping: Shopping,
    stops: Sequence[ShopVisit],
    *,
    cookbook: Cookbook,
    reserve: Sequence[Dish] = (),
    tell: Tell = METRIC,
    first_stop: int = 0,
) -> Document:
    """Write the list of every stop, in walking order, and the reserve."""
    return {
        "people": shopping.people,
        "stops": [
            {
                "stop": listed.stop + first_stop,
                "name": stops[listed.stop].name,
                "when": stops[listed.stop].when.isoformat(),
                "full": stops[listed.stop].full,
                "words": ""
                if stops[listed.stop].full
                else "A small shop: what it has is a guess (common practice, no source).",
                "lines": [_line(line, cookbook, tell) for line in listed.lines],
            }
            for listed in shopping.stops
        ],
        "reserve": {
            "dishes": [{"id": dish.id, "name": dish.name} for dish in reserve],
            "lines": [_line(line, cookbook, tell) for line in shopping.reserve],
            "words": "Kept apart and eaten only if a shop lets you down: no cooking, no cooling.",
        },
    }


def packing_document(
    packings: Sequence[Packing],
    stops: Sequence[ShopVisit],
    *,
    cookbook: Cookbook,
    rules: Mapping[str, TableValue],
    sources: Mapping[str, Reference],
    tell: Tell = METRIC,
    first_stop: int = 0,
) -> Document:
    """Write the layers after every stop, bottom first."""
    used = {key for packing in packings for key in packing.rules}
    return {
        "stops": [
            {
                "stop": packing.stop + first_stop,
                "name": stops[packing.stop].name,
                "when": stops[packing.stop].when.isoformat(),
                "cooler": [_layer(layer, cookbook, tell) for layer in packing.cooler],
                "food_bag": [_item(item, cookbook, tell) for item in packing.food_bag],
                "spice_bag": [_item(item, cookbook, tell) for item in packing.spice_bag],
                "over_l": round(packing.over_l, 2),
                "rules": list(packing.rules),
                "words": f"{tell.room(packing.over_l)} more than fits in the cooler."
                if packing.over_l > 0.0
                else "",
            }
            for packing in packings
        ],
        "rules": {
            key: {"words": rule.words, "source": said_by(rule.by, sources)}
            for key, rule in rules.items()
            if key in used
        },
    }


def load_document(
    load: LoadOnBoard,
    *,
    water: Mapping[int, WaterNeed],
    fuel: Sequence[FuelUse],
    rations: Mapping[str, TableValue],
    sources: Mapping[str, Reference],
    first_date: dt.date | None = None,
    first_stop: int = 0,
) -> Document:
    """Write the load after every event, its peaks, water by day and stove fuel.

    Parameters
    ----------
    water
        Day of the trip to its need.
    first_date
        Of the trip, for the dates of its days.
    """
    over = [
        {"peak": peak, "words": line("{much} more than {what}", much=much, what=what)}
        for peak, much, what, amount in (
            ("peak_kg", mass(load.over_kg), "the luggage may carry", load.over_kg),
            ("peak_bag_l", room(load.over_bag_l), "the food bag holds", load.over_bag_l),
            ("peak_cooler_l", room(load.over_cooler_l), "fits in the cooler", load.over_cooler_l),
        )
        if amount > 0.0
    ]
    return {
        "points": [_point(point, first_stop) for point in load.points],
        "peak_kg": _point(load.peak_kg, first_stop) if load.peak_kg else None,
        "peak_bag_l": _point(load.peak_bag_l, first_stop) if load.peak_bag_l else None,
        "peak_cooler_l": _point(load.peak_cooler_l, first_stop) if load.peak_cooler_l else None,
        "over": over,
        "water": [
            {
                "day": day,
                "date": (first_date + dt.timedelta(days=day - 1)).isoformat()
                if first_date
                else None,
                "drink_l": round(need.drink_l, 2),
                "cook_l": round(need.cook_l, 2),
                "ceiling_l": round(need.ceiling_l, 2),
                "why": need.why,
            }
            for day, need in sorted(water.items())
        ],
        "stove_fuel": {
            "total_l": round(sum(use.fuel_l for use in fuel), 3),
            "meals": [{"slot": use.slot, "fuel_l": round(use.fuel_l, 3)} for use in fuel],
            "words": f"A weak figure: {said_by(rations['fuel_l_per_day'].by, sources)}.",
        },
        "rations": {
            key: {"value": rule.value, "words": rule.words, "source": said_by(rule.by, sources)}
            for key, rule in rations.items()
        },
    }


def care_document(
    notes: Sequence[CareNote],
    *,
    care: CareTable,
    sources: Mapping[str, Reference],
    highest_m: float | None = None,
) -> Document:
    """Write the cautions that apply, the temperature table and how long to boil."""
    return {
        "notes": [
            {
                "id": note.id,
                "title": note.title,
                "words": note.words,
                "source": said_by(note.by, sources),
                "status": note.by.status.value,
            }
            for note in notes
        ],
        "temperatures": [
            {
                "food": row.food,
                "temp_f": row.temp_f,
                "temp_c": None if row.temp_c is None else round(row.temp_c, 1),
                "rest_min": row.rest_min,
                "words": row.words,
                "source": said_by(row.by, sources),
            }
            for row in care.temperature.values()
        ],
        "boil_min": boil_minutes(care, highest_m),
    }


def _meal(
    meal: MenuMeal,
    cookbook: Cookbook,
    table: StorageTable,
    people: int,
    care: CareTable,
    shopping: Shopping | None,
    tell: Tell,
    first_stop: int,
) -> Document:
    slot, dish = meal.slot, meal.dish
    use_by = meal.use_by.when if meal.use_by is not None else None
    document: Document = {
        "slot": slot.index,
        "when": slot.when.isoformat(),
        "kind": slot.kind.value,
        "stretch": slot.stretch,
        "late": slot.late,
        "fire_ban": slot.fire_ban,
        "no_cook": slot.no_cook,
        "dish": None,
        "use_by": use_by.isoformat() if use_by else None,
        "why": meal.why,
    }
    if dish is None:
        return document
    known = [caution for caution in dish.cautions if caution in care.note]
    document["dish"] = {
        "id": dish.id,
        "name": dish.name,
        "method": dish.method,
        "heat": dish.heat.value,
        "minutes": dish.minutes,
        "kcal_each": round(cookbook.kcal(dish)),
        "mass_kg": round(cookbook.mass_kg(dish) * people, 3),
        "volume_l": round(cookbook.volume_l(dish) * people, 3),
        "water_l": round(dish.water_l * people, 3),
        "diet": cookbook.diet(dish),
        "allergens": [allergen.value for allergen in cookbook.allergens(dish)],
        "care": known,
        "cautions": [caution for caution in dish.cautions if caution not in known],
        "leftover_of": dish.leftover_of,
        "ingredients": [
            {
                "id": portion.use,
                "name": cookbook.ingredients[portion.use].name,
                "amount": round(portion.amount * people, 3),
                "unit": portion.unit,
                "words": tell.amount(portion.amount * people, portion.unit),
                "storage": table.classes[cookbook.ingredients[portion.use].storage].name,
                "stop": first_stop
                + (shopping.bought_at(portion.use, bought.stop) if shopping else bought.stop),
                "use_by": bought.use_by.when.isoformat() if bought.use_by.when else None,
                "doubtful": bought.doubtful,
            }
            for portion, bought in zip(dish.portions, meal.bought, strict=True)
        ],
    }
    return document


def _move(move: MovedDish, cookbook: Cookbook) -> Document:
    return {
        "dish": move.dish,
        "name": cookbook.dishes[move.dish].name,
        "from_slot": move.from_slot,
        "to_slot": move.to_slot,
        "warm_from": move.warm_from.isoformat() if move.warm_from else None,
        "why": move.why,
    }


def _line(line: ShoppingLine, cookbook: Cookbook, tell: Tell) -> Document:
    part = cookbook.ingredients[line.ingredient]
    packs = [{"size": size, "count": count} for size, count in line.packs]
    said = " + ".join(_say_packs(size, count, part.unit, tell) for size, count in line.packs)
    left = line.left_over
    return {
        "id": part.id,
        "name": part.name,
        "aisle": part.aisle,
        "unit": part.unit,
        "need": round(line.need, 3),
        "in_hand": round(line.in_hand, 3),
        "packs": packs,
        "bought": line.bought,
        "used_later": round(line.used_later, 3),
        "left_over": round(left, 3),
        "mass_kg": round(line.bought * part.unit_kg, 3),
        "meals": list(line.meals),
        "doubtful": line.doubtful,
        "words": said or "nothing: enough is left from before",
        "left_words": ""
        if left < 0.5 * (part.unit != "piece") + 0.05
        else f"{tell.amount(left, part.unit)} left over"
        + ("" if line.keeps else ", eat it up or throw it out in time"),
        "doubt_words": "the small shop may not have it" if line.doubtful else "",
    }


def _say_packs(size: int, count: int, unit: str, tell: Tell) -> str:
    if unit != "piece":
        return f"{count} × {tell.amount(size, unit)}"
    if size == 1:
        return str(count)
    return f"{count} {'pack' if count == 1 else 'packs'} of {size}"


def _item(item: Item, cookbook: Cookbook, tell: Tell) -> Document:
    part = cookbook.ingredients[item.ingredient]
    return {
        "id": part.id,
        "name": part.name,
        "words": tell.amount(item.amount, part.unit),
        "first_use": item.first_use.isoformat(),
        "mass_kg": round(item.mass_kg, 3),
        "volume_l": round(item.volume_l, 3),
    }


def _layer(layer: Layer, cookbook: Cookbook, tell: Tell) -> Document:
    words = {
        "raw": "Raw meat and fish, bagged twice",
        "ice": f"Ice in its own bag, {tell.mass(layer.ice_kg)}",
        "packs": f"Packs, {tell.mass(layer.packs_kg)}",
        "food": "Food",
        "rests": "What is left in opened packs, or not for these meals",
        "fill": "Fill up: more ice or a towel",
    }
    return {
        "kind": layer.kind,
        "volume_l": round(layer.volume_l, 3),
        "ice_kg": round(layer.ice_kg, 3),
        "packs_kg": round(layer.packs_kg, 3),
        "first_use": layer.first_use.isoformat() if layer.first_use else None,
        "items": [_item(item, cookbook, tell) for item in layer.items],
        "words": words[layer.kind],
    }


def _point(point: LoadPoint, first_stop: int) -> Document:
    return {
        "when": point.change.when.isoformat(),
        "kind": point.change.kind,
        "index": point.change.index + (first_stop if point.change.kind == "stop" else 0),
        "label": point.change.label,
        "mass_kg": round(point.mass_kg, 3),
        "bag_l": round(point.bag_l, 3),
        "cooler_l": round(point.cooler_l, 3),
    }
