"""Who carries what, as rows of the plan document: loaded bikes, and a bike for each line of a list.

In: the bikes loaded at each stop. Out: classes of `report.document.model`. Names of bikes are the
rider's own text, unescaped.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from resupply.common.quantity import Sentence, joined, line, listed, mass, name, room
from resupply.report.document.model.packing import BikeLoad, BikeParcel

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from resupply.common.quantity import Part
    from resupply.kitchen.food.bikes import Carried, Parcel
    from resupply.kitchen.food.dishes import Cookbook
    from resupply.report.document.model.packing import PackingDocument
    from resupply.report.document.model.shopping import (
        KitList,
        ShoppingDocument,
        ShoppingRow,
        ShoppingStop,
    )

__all__ = ["lists_by_bike", "packing_by_bike"]

_TOGETHER: Final = {
    "cooler": "the cooler with all that is in it",
    "drinks": "the drinks cooler",
    "raw": "raw meat and fish, bagged twice",
    "kitchen": "stove, pots and all of the kitchen, spices; fuel apart from food",
}

_Loads = tuple["Carried", ...]


def packing_by_bike(
    packing: PackingDocument, loads: Sequence[_Loads], cookbook: Cookbook
) -> PackingDocument:
    """Add to each stop who carries what; `loads` by stop, empty where one bike carries all."""
    if not loads:
        return packing
    stops = tuple(
        replace(stop, bikes=tuple(_bike(one, cookbook) for one in loaded))
        for stop, loaded in zip(packing.stops, loads, strict=True)
    )
    return replace(packing, stops=stops)


def lists_by_bike(
    lists: ShoppingDocument, loads: Sequence[_Loads], first_stop: int
) -> ShoppingDocument:
    """Name on each line the bike that carries it away; nothing where one bike carries all."""
    if not loads:
        return lists
    carriers = [_carriers(loaded) for loaded in loads]
    done: list[ShoppingStop] = []
    latest = 0
    for stop in lists.stops:
        if stop.stop is not None and 0 <= stop.stop - first_stop < len(carriers):
            latest = stop.stop - first_stop
        done.append(replace(stop, lines=_named(stop.lines, carriers[latest])))
    at_start = carriers[0]
    spare = {row.id: at_start.get(f"spare:{row.id}", "") for row in lists.reserve.lines}
    kitchen = dict.fromkeys((row.id for row in lists.gear.lines), at_start["kitchen"])
    return replace(
        lists,
        stops=tuple(done),
        kit=_on(lists.kit, at_start),
        gear=_on(lists.gear, kitchen),
        reserve=replace(lists.reserve, lines=_named(lists.reserve.lines, spare)),
    )


def _on(kit: KitList, carriers: Mapping[str, str]) -> KitList:
    return replace(kit, lines=_named(kit.lines, carriers))


def _named(rows: Iterable[ShoppingRow], carriers: Mapping[str, str]) -> tuple[ShoppingRow, ...]:
    return tuple(replace(row, bike=carriers.get(row.id, "")) for row in rows)


def _carriers(loaded: _Loads) -> dict[str, str]:
    """Name of the bike by id of a list's line, and by key of the parcels of gear and spare."""
    found: dict[str, str] = {}
    for one in loaded:
        for parcel in one.parcels:
            found[parcel.key] = one.bike.name
            if parcel.kind in ("cooler", "drinks"):
                box = parcel.key.removeprefix("cooler:")
                found |= {f"ice-{box}": one.bike.name, f"packs-{box}": one.bike.name}
            if parcel.kind != "spare":
                found |= dict.fromkeys(parcel.foods, one.bike.name)
    return found


def _bike(one: Carried, cookbook: Cookbook) -> BikeLoad:
    bike = one.bike
    over: list[Part] = []
    if one.over_kg:
        over.append(line("{much} more than it may carry", much=mass(one.over_kg)))
    if one.over_l:
        over.append(line("{much} more than it has room for", much=room(one.over_l)))
    parcels = tuple(_parcel(parcel, cookbook) for parcel in one.parcels)
    return BikeLoad(
        name=bike.name,
        mass_kg=round(one.mass_kg, 2),
        load_kg=bike.load_kg,
        water_kg=round(one.water_kg, 2),
        room_l=round(one.room_l, 2),
        has_l=bike.room_l,
        parcels=parcels,
        words=_words(one, parcels, cookbook),
        over_words=line("{bike}: {over}", bike=name(bike.name), over=listed(over, ", "))
        if over
        else Sentence(),
    )


def _words(one: Carried, parcels: Sequence[BikeParcel], cookbook: Cookbook) -> Sentence:
    """Say what is together, then the foods, then the spare meals and the water."""
    parts = cookbook.ingredients
    foods = [name(parts[p.foods[0]].name) for p in one.parcels if p.kind == "food"]
    spare = [name(parts[p.foods[0]].name) for p in one.parcels if p.kind == "spare"]
    return joined(
        line("{kg} of {load}:", kg=mass(one.mass_kg), load=mass(one.bike.load_kg)),
        listed(
            [
                *(row.words for row in parcels if row.kind in _TOGETHER),
                *foods,
                line("spare: {foods}", foods=listed(spare)) if spare else None,
                line("{kg} of water", kg=mass(one.water_kg)) if one.water_kg >= 0.05 else None,
            ],
            "; ",
        ),
    )


def _parcel(parcel: Parcel, cookbook: Cookbook) -> BikeParcel:
    foods = listed(name(cookbook.ingredients[key].name) for key in parcel.foods)
    said = _TOGETHER.get(parcel.kind)
    words = line("{what}", what=said or foods)
    if parcel.kind in ("cooler", "drinks", "kitchen"):
        words = line("{what} ({kg})", what=said, kg=mass(parcel.mass_kg))
    elif parcel.kind == "raw":
        words = line("{what}: {foods}", what=said, foods=foods)
    elif parcel.kind == "spare":
        words = line("spare: {foods}", foods=foods)
    return BikeParcel(
        kind=parcel.kind,
        foods=parcel.foods,
        mass_kg=round(parcel.mass_kg, 3),
        words=words,
    )
