"""Lists, packing, load and cautions as rows of the plan document.

In: the values of the kitchen. Out: classes of `report.document.model`. Names are the rider's and
the map's own text, unescaped.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

from resupply.common.quantity import (
    Sentence,
    as_sentence,
    joined,
    line,
    listed,
    mass,
    pack,
    room,
    volume,
)
from resupply.kitchen.food.amounts import rounded, say_amount
from resupply.kitchen.food.sources import said_by
from resupply.report.document.model.care import (
    CareDocument,
    CareNoteRow,
    CareSource,
    SafeTemperature,
)
from resupply.report.document.model.load import (
    LoadDocument,
    LoadPointRow,
    MealFuel,
    Overload,
    Peak,
    RationFigure,
    StoveFuel,
    WaterNeedRow,
)
from resupply.report.document.model.packing import (
    PackedItem,
    PackedLayer,
    PackedStop,
    PackingDocument,
    PackingRule,
)
from resupply.report.document.model.shopping import (
    DishName,
    KitList,
    PackRow,
    ReserveList,
    ShoppingDocument,
    ShoppingRow,
    ShoppingStop,
)
from resupply.say.kitchen_rules import short_line, short_list

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from resupply.common.quantity import Part, Quantity
    from resupply.kitchen.food.care import CareNote, CareTable, Situation
    from resupply.kitchen.food.dishes import Cookbook, Dish, Ingredient
    from resupply.kitchen.food.load import LoadOnBoard, LoadPoint
    from resupply.kitchen.food.meals import ShopVisit
    from resupply.kitchen.food.packing import Item, Layer, Packing
    from resupply.kitchen.food.rations import WaterNeed
    from resupply.kitchen.food.shopping import Shopping, ShoppingLine
    from resupply.kitchen.food.sources import Reference
    from resupply.kitchen.food.storage_classes import StorageClass, TableValue
    from resupply.kitchen.food.stove import FuelUse

_ENOUGH: Final = "nothing to buy: enough is left from before"
_ONE: Final = "one is enough"
_SMALL_SHOP: Final = "A small shop: what it has is a guess (common practice, no source)."
_STOVE: Final = (
    "From water, food and minutes of the dishes and the height of the camps, with a third on top "
    "for wind (our figures)."
)
_RESERVE: Final = "Kept apart and eaten only if a shop lets you down: no cooking, no cooling."

__all__ = [
    "care_document",
    "load_document",
    "packing_document",
    "shopping_document",
]


def shopping_document(
    shopping: Shopping,
    stops: Sequence[ShopVisit],
    *,
    cookbook: Cookbook,
    reserve: Sequence[Dish] = (),
    first_stop: int = 0,
) -> ShoppingDocument:
    """Write the list of every stop, in walking order, the kit and the reserve."""
    return ShoppingDocument(
        people=shopping.people,
        stops=tuple(
            ShoppingStop(
                stop=listed.stop + first_stop,
                name=stops[listed.stop].name,
                when=stops[listed.stop].when,
                full=stops[listed.stop].full,
                words=as_sentence(None if stops[listed.stop].full else _SMALL_SHOP),
                lines=tuple(_line(line, cookbook) for line in listed.lines),
            )
            for listed in shopping.stops
        ),
        kit=KitList(
            lines=tuple(_line(line, cookbook) for line in shopping.kit),
            words=joined(
                "Decanted at home and refilled, not bought for the trip: tick what you have.",
                "You should have it on board already." if first_stop else None,
            )
            if shopping.kit
            else Sentence(),
        ),
        gear=KitList(lines=(), words=Sentence()),
        reserve=ReserveList(
            dishes=tuple(DishName(id=dish.id, name=dish.name) for dish in reserve),
            lines=tuple(_line(line, cookbook) for line in shopping.reserve),
            words=joined(_RESERVE, "You should have it on board already." if first_stop else None),
        ),
    )


def packing_document(
    packings: Sequence[Packing],
    stops: Sequence[ShopVisit],
    *,
    cookbook: Cookbook,
    rules: Mapping[str, TableValue],
    sources: Mapping[str, Reference],
    first_stop: int = 0,
) -> PackingDocument:
    """Write the layers after every stop, bottom first."""
    used = {key for packing in packings for key in packing.rules}
    return PackingDocument(
        stops=tuple(
            PackedStop(
                stop=packing.stop + first_stop,
                name=stops[packing.stop].name,
                when=stops[packing.stop].when,
                cooler=tuple(_layer(layer, cookbook) for layer in packing.cooler),
                food_bag=tuple(_item(item, cookbook) for item in packing.food_bag),
                spice_bag=tuple(_item(item, cookbook) for item in packing.spice_bag),
                over_l=round(packing.over_l, 2),
                rules=packing.rules,
                words=line("{much} more than fits in the cooler.", much=room(packing.over_l))
                if packing.over_l > 0.0
                else Sentence(),
            )
            for packing in packings
        ),
        rules={
            key: PackingRule(words=rule.words, source=said_by(rule.by, sources))
            for key, rule in rules.items()
            if key in used
        },
    )


def load_document(
    load: LoadOnBoard,
    *,
    water: Mapping[int, WaterNeed],
    fuel: Sequence[FuelUse],
    rations: Mapping[str, TableValue],
    sources: Mapping[str, Reference],
    first_date: dt.date | None = None,
    first_stop: int = 0,
) -> LoadDocument:
    """Write the load after every event, its peaks, water by day and stove fuel.

    Parameters
    ----------
    water
        Day of the trip to its need.
    first_date
        Of the trip, for the dates of its days.
    """
    loads: tuple[tuple[Peak, Quantity, str, float], ...] = (
        ("peak_kg", mass(load.over_kg), "the luggage may carry", load.over_kg),
        ("peak_bag_l", room(load.over_bag_l), "the food bag holds", load.over_bag_l),
        ("peak_cooler_l", room(load.over_cooler_l), "fits in the cooler", load.over_cooler_l),
    )
    over = tuple(
        Overload(peak=peak, words=line("{much} more than {what}", much=much, what=what))
        for peak, much, what, amount in loads
        if amount > 0.0
    )
    return LoadDocument(
        points=tuple(_point(point, first_stop) for point in load.points),
        peak_kg=_point(load.peak_kg, first_stop) if load.peak_kg else None,
        peak_bag_l=_point(load.peak_bag_l, first_stop) if load.peak_bag_l else None,
        peak_cooler_l=_point(load.peak_cooler_l, first_stop) if load.peak_cooler_l else None,
        over=over,
        water=tuple(
            WaterNeedRow(
                day=day,
                date=(first_date + dt.timedelta(days=day - 1)) if first_date else None,
                drink_l=round(need.drink_l, 2),
                cook_l=round(need.cook_l, 2),
                ceiling_l=round(need.ceiling_l, 2),
                why=joined(need.why, need.most),
            )
            for day, need in sorted(water.items())
        ),
        stove_fuel=StoveFuel(
            gas_g=round(sum(use.gas_g for use in fuel), 1),
            total_l=round(sum(use.fuel_l for use in fuel), 3),
            meals=tuple(
                MealFuel(slot=use.slot, gas_g=round(use.gas_g, 1), fuel_l=round(use.fuel_l, 3))
                for use in fuel
            ),
            words=line(
                "{gas} of gas, or {liquid} of liquid fuel. {how}",
                gas=pack(round(sum(use.gas_g for use in fuel), -1), "g"),
                liquid=volume(sum(use.fuel_l for use in fuel)),
                how=_STOVE,
            ),
        ),
        rations={
            key: RationFigure(value=rule.value, words=rule.words, source=said_by(rule.by, sources))
            for key, rule in rations.items()
        },
    )


def care_document(
    notes: Sequence[CareNote],
    *,
    care: CareTable,
    sources: Mapping[str, Reference],
    situation: Situation,
    limits: Sequence[StorageClass] = (),
    figures: Mapping[str, TableValue] | None = None,
    boil_min: float | None = None,
) -> CareDocument:
    """Write the cautions that apply, short and in full, the temperatures and how long to boil.

    Parameters
    ----------
    limits
        Kinds of food whose limits the plan stands on, for the list of sources.
    figures
        Those of water and energy, for the same; None for none.
    """
    return CareDocument(
        short=short_list(situation, care, boil_min),
        short_line=short_line(situation, care, boil_min),
        notes=tuple(
            CareNoteRow(
                id=note.id,
                title=note.title,
                words=note.words,
                source=said_by(note.by, sources),
                status=note.by.status.value,
            )
            for note in notes
        ),
        temperatures=tuple(
            SafeTemperature(
                food=row.food,
                temp_f=row.temp_f,
                temp_c=None if row.temp_c is None else round(row.temp_c, 1),
                rest_min=row.rest_min,
                words=row.words,
                source=said_by(row.by, sources),
            )
            for row in care.temperature.values()
        ),
        sources=_sources(notes, care, limits, figures or {}, sources),
        boil_min=boil_min,
    )


_FIGURES: Final = {
    "water_base_l": "water to drink in a day",
    "heat_3_l_per_h": "water to drink in the heat",
    "ceiling_l_per_h": "most to drink in an hour",
    "ceiling_l_per_day": "most to drink in a day",
    "kcal_per_day": "energy a day",
}
"""What the figures of `rations.toml` are of that the plan states."""


def _sources(
    notes: Sequence[CareNote],
    care: CareTable,
    limits: Sequence[StorageClass],
    figures: Mapping[str, TableValue],
    sources: Mapping[str, Reference],
) -> tuple[CareSource, ...]:
    """List every source once, with how sure it is, and what stands on it."""
    backed: dict[str, list[str]] = {}
    told = [(note.by, note.title) for note in notes]
    told += [(row.by, "Hot enough inside") for row in care.temperature.values()]
    for row in limits:
        told += [(by, f"days of {row.name}") for by in (row.days_by, row.room_by) if by is not None]
        told.append((row.warm_by, "what is thrown out once warm"))
    told += [(figures[key].by, what) for key, what in _FIGURES.items() if key in figures]
    for by, what in told:
        backed.setdefault(said_by(by, sources), []).append(what)
    return tuple(
        CareSource(source=source, backs=tuple(dict.fromkeys(whats)))
        for source, whats in backed.items()
    )


def _line(bought: ShoppingLine, cookbook: Cookbook) -> ShoppingRow:
    part = cookbook.ingredients[bought.ingredient]
    said = listed((_say_packs(size, count, part) for size, count in bought.packs), " + ")
    if bought.weighed > 0.0:
        out = say_amount(rounded(bought.weighed, part.unit), part.unit)
        said = as_sentence(out) if part.kit else line("{amount} from home", amount=out)
    left = bought.left_over
    return ShoppingRow(
        id=part.id,
        name=part.name,
        aisle=part.aisle,
        unit=part.unit,
        need=round(bought.need, 3),
        in_hand=round(bought.in_hand, 3),
        packs=tuple(PackRow(size=size, count=count) for size, count in bought.packs),
        bought=bought.bought,
        used_later=round(bought.used_later, 3),
        left_over=round(left, 3),
        mass_kg=round(bought.bought * part.unit_kg, 3),
        meals=bought.meals,
        doubtful=bought.doubtful,
        words=said or as_sentence(_ONE if bought.weighed > 0.0 else _ENOUGH),
        left_words=Sentence()
        if left < 0.5 * (part.unit != "piece") + 0.05
        else line(
            "{much} left over{spoils}",
            much=say_amount(rounded(left, part.unit), part.unit),
            spoils=None if bought.keeps else ", eat it up or throw it out in time",
        ),
        doubt_words=as_sentence("the small shop may not have it" if bought.doubtful else None),
    )


def _say_packs(size: int, count: int, part: Ingredient) -> Part:
    unit = part.unit
    if part.loose and unit != "piece":
        return line("{amount}, loose", amount=say_amount(size * count, unit))
    if unit != "piece":
        return line("{count} × {size}", count=count, size=say_amount(size, unit))
    if size == 1:
        return str(count)
    return f"{count} {'pack' if count == 1 else 'packs'} of {size}"


def _item(item: Item, cookbook: Cookbook) -> PackedItem:
    part = cookbook.ingredients[item.ingredient]
    return PackedItem(
        id=part.id,
        name=part.name,
        words=as_sentence(say_amount(item.amount, part.unit)),
        first_use=item.first_use,
        mass_kg=round(item.mass_kg, 3),
        volume_l=round(item.volume_l, 3),
    )


def _layer(layer: Layer, cookbook: Cookbook) -> PackedLayer:
    words: dict[str, Part] = {
        "raw": "Raw meat and fish, bagged twice",
        "ice": line("Ice in its own bag, {kg}", kg=mass(layer.ice_kg)),
        "packs": line("Packs, {kg}", kg=mass(layer.packs_kg)),
        "food": "Food",
        "rests": "What is left in opened packs, or not for these meals",
        "fill": "Fill up: more ice or a towel",
    }
    return PackedLayer(
        kind=layer.kind,
        volume_l=round(layer.volume_l, 3),
        ice_kg=round(layer.ice_kg, 3),
        packs_kg=round(layer.packs_kg, 3),
        first_use=layer.first_use,
        items=tuple(_item(item, cookbook) for item in layer.items),
        words=as_sentence(words[layer.kind]),
    )


def _point(point: LoadPoint, first_stop: int) -> LoadPointRow:
    return LoadPointRow(
        when=point.change.when,
        kind=point.change.kind,
        index=point.change.index + (first_stop if point.change.kind == "stop" else 0),
        label=point.change.label,
        mass_kg=round(point.mass_kg, 3),
        bag_l=round(point.bag_l, 3),
        cooler_l=round(point.cooler_l, 3),
    )
