"""A small kitchen for tests: meals from a start, stops, and coolers that stay cold or warm up."""

from __future__ import annotations

import datetime as dt
from functools import cache

from resupply.kitchen.food.care import situation_of
from resupply.kitchen.food.dishes import Cookbook, MealKind, load_cookbook, parse_cookbook
from resupply.kitchen.food.load import LoadLimits, make_load
from resupply.kitchen.food.meals import Diet, Kitchen, MealSlot, Menu, MenuInput, ShopVisit
from resupply.kitchen.food.menu import plan_menu
from resupply.kitchen.food.packing import CoolerNow, load_packing_rules, pack
from resupply.kitchen.food.shopping import make_shopping
from resupply.kitchen.food.storage import make_storage
from resupply.kitchen.food.storage_classes import StorageTable, load_storage
from resupply.kitchen.food.warm_time import TempHistory, make_history

ZONE = dt.timezone(dt.timedelta(hours=-1))
FRIDAY = dt.datetime(2027, 7, 9, 8, 0, tzinfo=ZONE)
HOURS = {MealKind.BREAKFAST: 7.5, MealKind.LUNCH: 12.5, MealKind.DINNER: 19.0}


@cache
def table() -> StorageTable:
    return load_storage()


@cache
def cookbook() -> Cookbook:
    return load_cookbook(table())


_starter = cookbook


def moment(days: float, hours: float = 0.0) -> dt.datetime:
    """Days and hours after midnight of the first Friday."""
    return FRIDAY.replace(hour=0) + dt.timedelta(days=days, hours=hours)


def history(*points: tuple[float, float], name: str = "the cooler") -> TempHistory:
    """(hours after midnight of the first Friday, °C) joined by lines."""
    start_s = moment(0).timestamp()
    return make_history(
        [start_s + h * 3600.0 for h, _ in points], [t for _, t in points], name=name
    )


def cold() -> TempHistory:
    return history((-240.0, 2.0), (1000.0, 2.0))


def warm_from(hour: float) -> TempHistory:
    """Cold, then 12 °C from an hour after midnight of the first Friday on."""
    return history((-240.0, 2.0), (hour, 2.0), (hour + 0.001, 12.0), (1000.0, 12.0))


def make_slots(days: int, stop_at: dict[tuple[int, MealKind], int] | None = None, **flags: object):
    """Meals of some days; `stop_at` names the meals from which a new stretch counts."""
    slots, stretch = [], 0
    for day in range(days):
        for kind, hour in HOURS.items():
            if day == 0 and kind is MealKind.BREAKFAST:
                continue
            stretch = (stop_at or {}).get((day, kind), stretch)
            slots.append(
                MealSlot(len(slots), moment(day, hour), kind, stretch, day + 1, **flags)  # type: ignore[arg-type]
            )
    return tuple(slots)


def home() -> ShopVisit:
    return ShopVisit("Kitchen at home", FRIDAY, full=True)


def given(
    slots, stops, *, cookbook=None, diet=None, kitchen=None, people=2, helpings=None
) -> MenuInput:
    return MenuInput(
        tuple(slots),
        tuple(stops),
        cookbook or _starter(),
        table(),
        diet or Diet(),
        kitchen or Kitchen(),
        people,
        helpings,
    )


def plan(
    slots, stops, *, cookbook=None, diet=None, kitchen=None, people=2, helpings=None, **more
) -> Menu:
    asked = given(
        slots,
        stops,
        cookbook=cookbook,
        diet=diet,
        kitchen=kitchen,
        people=people,
        helpings=helpings,
    )
    return plan_menu(asked, **{"history": cold(), **more})


def tiny_cookbook(**dishes: tuple[str, ...]) -> Cookbook:
    """Own dishes from ingredients of the starter collection: name = (kind, ingredient, …)."""
    raw = {
        "dish": {
            name.replace("_", "-"): {
                "name": name,
                "kinds": [kind],
                "method": "no-cook",
                "heat": "none",
                "minutes": 5,
                "portions": [{"use": part, "amount": 1.0, "unit": _unit(part)} for part in parts],
            }
            for name, (kind, *parts) in dishes.items()
        }
    }
    base = Cookbook(cookbook().ingredients, {})
    return parse_cookbook(raw, table(), where="test", base=base)


def _unit(part: str) -> str:
    return cookbook().ingredients[part].unit


def slot(index, day, kind, **more):
    hour = {"breakfast": 7.5, "lunch": 12.5, "dinner": 19.0}[kind]
    args = {"stretch": 0, "day": day + 1, **more}
    return MealSlot(index, moment(day, hour), MealKind(kind), **args)


def shop(menu, stops, *, people=2, book=None, kept=None, reserve=()):
    asked = given((), stops, cookbook=book, people=people)
    return make_shopping(asked, menu, make_storage(table(), kept or cold()), reserve)


def load_of(menu, shopping, stops, *, book=None, cooler_l=20.0, **more):
    limits = LoadLimits(cooler_l, more.pop("luggage_kg", None), more.pop("bag_l", None))
    return make_load(given((), stops, cookbook=book), menu, shopping, limits, **more)


def packed(menu, stops, stop=0, *, book=None, cooler_l=20.0, ice_kg=4.0, **inside):
    cooler = None
    if cooler_l is not None:
        cooler = CoolerNow(cooler_l, 0.95 * cooler_l, ice_kg, 1.5 * ice_kg, **inside)
    return pack(given((), stops, cookbook=book), menu, stop, load_packing_rules(), cooler)


def situation(menu, *, kitchen=None, diet=None, cooler=True, **more):
    return situation_of(given((), (), diet=diet, kitchen=kitchen), menu, cooler=cooler, **more)
