"""Random trips whose cooler must be told truly: said to stay cold only if it fits and stays so.

A few are part of the tests. Many, by seed, with a count of what was said:

    python -m tests.cooler_trips 500
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from told import plan_document
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.api import cook
from resupply.kitchen.food.dishes import load_cookbook
from resupply.kitchen.food.storage_classes import load_storage
from resupply.places.place import Confidence, Supply
from resupply.plan.pipeline import plan_trip

SHARE, PACK_L_PER_KG, ICE_L_PER_KG = 0.95, 1.1, {"cube": 2.0, "block": 1.4}
ROUNDING_L = 0.05
"""The document gives ice to 0.01 kg and amounts to a thousandth."""
DAYS = 7
STORAGE = load_storage()
BOOK = load_cookbook(STORAGE)


@cache
def route(length_km: int):
    return winding_route(length_km, points=length_km)


def random_trip(seed: int):
    """A trip and its shops, some of which state ice."""
    rng = np.random.default_rng(seed)
    length_km = int(rng.choice([300, 600, 900]))
    count = int(rng.integers(2, 9))
    km = sorted(rng.uniform(2, length_km - 2, count).tolist())
    places = tuple(
        replace(p, supplies={**p.supplies, Supply.ICE: Confidence.STATED}) if n % 3 == 0 else p
        for n, p in enumerate(shops_along(route(length_km), km, hours=("24/7",), seed=seed))
    )
    low_c = float(rng.uniform(4, 22))
    cooler = {
        "kind": str(rng.choice(["hard", "hard", "soft", "bag"])),
        "volume_l": round(float(rng.uniform(5, 32)), 1),
        "packs_kg": float(rng.choice([0.0, 0.0, 0.5, 2.0])),
        "form": str(rng.choice(["cube", "block"])),
        "bag_kg": float(rng.choice([1.0, 2.0, 3.0])),
    }
    if rng.random() < 0.3:
        cooler["ice_start_kg"] = float(rng.choice([0.0, 3.0, 12.0]))
    tables = {
        "pace": {"daily_km": float(rng.choice([150, 220, 300])), "speed_kmh": 50.0},
        "party": {
            "people": int(rng.choice([1, 2, 2, 4, 8])),
            "diet": str(rng.choice(["any", "any", "vegetarian"])),
        },
        "cooler": cooler,
        "weather": {"low_c": low_c, "high_c": low_c + float(rng.uniform(4, 16))},
        "food": {"plan_menu": bool(rng.random() < 0.9)},
    }
    if rng.random() < 0.2:
        tables["now"] = {
            "at_km": 0.3 * length_km,
            "time": "2027-07-10T11:00:00",
            "food_meals": 2,
            "ice_kg": float(rng.choice([0.0, 2.0, 6.0])),
        }
    trip = trip_of(**tables)
    return trip, plan_trip(prepared_world(route(length_km), places, trip), trip)


def planned(seed: int):
    """A random trip and its plan document."""
    trip, plan = random_trip(seed)
    return trip, plan_document(plan, cook(plan, Path()))


def seconds(text: str) -> float:
    return dt.datetime.fromisoformat(text).timestamp()


def stock_changes(document):
    """(time, litres) of all food of the cooler by the lists: packs bought, meals, rests thrown."""
    if "menu" not in document:
        return []
    lists = [row for row in document["shopping"]["stops"] if row["full"] is not None]
    times = {row["stop"]: seconds(row["when"]) for row in lists}
    ordered = sorted(times.values())
    changes = []
    # As the plan keeps it: eggs stay out of the cooler where they are sold unchilled.
    served = [meal["dish"] for day in document["menu"]["days"] for meal in day["meals"]]
    kept = {part["id"]: part["storage"] for dish in served if dish for part in dish["ingredients"]}
    cooled = {row.name for row in STORAGE.classes.values() if row.in_cooler}

    def add(at_s, key, amount):
        part = BOOK.ingredients.get(key)
        if part is not None and kept.get(key, STORAGE.classes[part.storage].name) in cooled:
            changes.append((at_s, amount * part.unit_kg * part.l_per_kg))

    for row in lists:
        later = [at_s for at_s in ordered if at_s > times[row["stop"]]]
        for line in row["lines"]:
            add(times[row["stop"]], line["id"], line["bought"])
            if later:
                add(later[0], line["id"], -line["left_over"])
    for day in document["menu"]["days"]:
        for meal in day["meals"]:
            eaten_s = seconds(meal["when"])
            for part in meal["dish"]["ingredients"] if meal["dish"] else ():
                bought_s = times[part["stop"]]
                # Within the hour it needs no cooler.
                at_s = bought_s if eaten_s - bought_s <= 3600.0 else eaten_s
                add(at_s, part["id"], -part["amount"])
        # A snack is eaten by the last meal of its day.
        done_s = max((seconds(meal["when"]) for meal in day["meals"]), default=0.0)
        for extra in day["extras"]:
            bought_s = times[extra["stop"]]
            add(bought_s if done_s - bought_s <= 3600.0 else done_s, extra["id"], -extra["amount"])
    return changes


def faults(document, trip) -> list[str]:
    """What is wrong with what is said of the food cooler; empty if it is true."""
    cooler = next(c for c in document["cold"]["coolers"] if c["name"] == "food")
    room, said = cooler["room"], cooler["words"]
    facts = {fact["label"]: fact for fact in document["summary"]["facts"]}
    found = []
    if trip.now.at_km is not None and "Eat what spoils" in said:
        # It may have been warm before now.
        found.append("food on board that gets warm is to be eaten")
    if room["over_l"]:
        if cooler["state"] in ("holds", "not known") or "It stays" in said:
            found.append("over-full and said to stay cold")
        if "does not all fit" not in said or facts["Food cooler at its fullest"]["tone"] != "alarm":
            found.append("over-full and not said")
        return found
    if cooler["state"] != "holds":
        return ["said to stay cold in another state"] if "It stays" in said else []
    usable_l = SHARE * trip.cooler.volume_l
    packs_l = PACK_L_PER_KG * trip.cooler.packs_kg
    changes = stock_changes(document)
    rows = cooler["trace"]
    for row, after in zip(rows, [*rows[1:], None], strict=True):
        if after is not None and after["t"] == row["t"]:
            continue  # the later of two samples holds
        # Times are told to the minute, rounded down.
        at_s = seconds(row["t"]) + 60.0
        food_l = sum(litres for when_s, litres in changes if when_s <= at_s)
        used_l = food_l + packs_l + row["ice_kg"] * ICE_L_PER_KG[trip.cooler.form]
        if used_l > usable_l + ROUNDING_L:
            found.append(f"{row['t']}: {used_l:.2f} L of {usable_l:.2f} L")
    for need in cooler["needs"]:
        start_s, end_s = seconds(need["from"]), seconds(need["to"])
        found += [
            f"{row['t']}: {row['temp_c']} °C"
            for row in rows
            if start_s < seconds(row["t"]) <= end_s and not row["temp_c"] <= cooler["limit_c"]
        ]
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("trips", type=int)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    args = parser.parse_args()
    states: Counter[str] = Counter()
    wrong = 0
    for seed in range(args.first, args.first + args.trips):
        trip, document = planned(seed)
        cooler = document["cold"]["coolers"][0]
        states[cooler["state"]] += 1
        for fault in faults(document, trip):
            wrong += 1
            print(f"seed {seed}: {fault}")
    print(
        f"{args.trips} trips, {wrong} faults; " + ", ".join(f"{n} {s}" for s, n in states.items())
    )
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
