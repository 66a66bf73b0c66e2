"""The figures of a plan: numbers, times, states and ids, apart from every sentence.

One reader per format of `plan.json`, so that a measurement of today's plans and of those of
version 0.1.0 is the same measurement.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

Figures = dict[str, Any]
Document = dict[str, Any]


def read_figures(path: Path) -> Figures:
    """Read the figures of a `plan.json` of any format."""
    return figures_of(json.loads(path.read_text("utf-8")))


def figures_of(document: Document) -> Figures:
    """Give the figures of a plan document of any format, by a name that says what they are."""
    schema = document.get("schema")
    if schema not in READERS:
        raise SystemExit(f"no reader of {schema!r} in tests/baseline/figures.py: add one there")
    return READERS[schema](document)


def _first(document: Document) -> Figures:
    """Read `resupply-plan/1`, the format of version 0.1.0; the figures of /2 stand as there."""
    found: Figures = {
        "length_km": _km(document["route"]["length_m"]),
        "days": document["trip"]["days"],
        "stops": len(document["stops"]),
        "carry_start_meals": document["start_carry"]["meals"],
        "carry_most_meals": max(
            [document["start_carry"]["meals"], *(one["carry_meals"] for one in document["stops"])]
        ),
        "shortfalls": len(document["shortfalls"]),
        "reserve_meals": (document.get("reserve") or {}).get("meals"),
        "unknown_km": _km(sum(s["end_m"] - s["start_m"] for s in document["coverage"]["unknown"])),
        "passes": len(document["passes"]),
        "places": len(document["places"]),
        "cautions": len(document["summary"]["cautions"]),
    }
    for leg in document["legs"]:
        night = leg.get("night") or {}
        found[f"leg {leg['number']}"] = (_km(leg["end_m"]), leg["arrive"], night.get("place"))
    by_id = {one["id"]: one for one in document["passes"]}
    for stop in document["stops"]:
        found[f"stop {stop['number']}"] = {
            "km": _km(stop["chainage_m"]),
            "arrive": stop["arrive"],
            "place": stop["place"],
            "state": stop["state"],
            "kind": stop["kind"],
            "meals": stop["carry_meals"],
            "kg": stop["carry_kg"],
            "detour_min": round(by_id[stop["pass"]]["detour_s"] / 60.0, 1),
            "fallback_km": _km((stop.get("fallback") or {}).get("chainage_m")),
        }
    for kind, gaps in document["gaps"].items():
        longest = gaps["longest"]
        found[f"gap {kind}"] = longest and {
            "from_km": _km(longest["start_m"]),
            "to_km": _km(longest["end_m"]),
            "meals": longest["meals"],
            "passes": gaps["count_passes"],
            "crosses_unknown": longest["crosses_unknown"],
        }
    found |= _first_ice_and_cold(document)
    fuel, water = document.get("fuel") or {}, document.get("water") or {}
    found["fuel"] = [(_km(stop["chainage_m"]), stop["state"]) for stop in fuel.get("stops", ())]
    found["fuel_gap_km"] = _km(fuel.get("longest_gap_m"))
    found["fuel_exceeded"] = len(fuel.get("exceeded", ()))
    found["water_l_by_day"] = [day["litres"] for day in water.get("litres_by_day", ())]
    found["water_longest_l"] = (water.get("longest") or {}).get("litres")
    rows = document.get("sweep", {}).get("rows", ()) if document.get("sweep") else ()
    found["sweep"] = [
        (_km(row["daily_m"]), row["days"], row["stops"], row["max_carry_meals"]) for row in rows
    ]
    found |= _first_kitchen(document)
    return found


def _first_ice_and_cold(document: Document) -> Figures:
    ice = document.get("ice") or {}
    found: Figures = {
        "ice": [
            (_km(stop["chainage_m"]), stop["confidence"], sum(one["kg"] for one in stop["buy"]))
            for stop in ice.get("stops", ())
        ],
        "ice_gap_h": ice.get("longest_gap_h"),
    }
    for cooler in (document.get("cold") or {}).get("coolers", ()):
        found[f"cooler {cooler['name']}"] = {
            "state": cooler["state"],
            "fails_at": cooler["fails_at"],
            "hours_above": cooler["hours_above"],
            "warmest_c": cooler["warmest_c"],
            "ice_kg": cooler["ice_kg"],
            "ice_gone": cooler["ice_gone"],
        }
    return found


def _first_kitchen(document: Document) -> Figures:
    menu, shopping = document.get("menu") or {}, document.get("shopping") or {}
    packing, load = document.get("packing") or {}, document.get("load") or {}
    found: Figures = {
        "dishes": [
            (day["day"], meal["slot"], (meal.get("dish") or {}).get("id"))
            for day in menu.get("days", ())
            for meal in day["meals"]
        ],
        "unfilled": len(menu.get("unfilled", ())),
        "bought": {
            stop["stop"]: {
                line["id"]: (line["unit"], line["need"], line["bought"]) for line in stop["lines"]
            }
            for stop in shopping.get("stops", ())
        },
        "cooler_over_l": [stop["over_l"] for stop in packing.get("stops", ())],
    }
    for peak, unit in (
        ("peak_kg", "mass_kg"),
        ("peak_bag_l", "bag_l"),
        ("peak_cooler_l", "cooler_l"),
    ):
        found[f"load {peak}"] = (load.get(peak) or {}).get(unit)
    return found


def _km(metres: float | None) -> float | None:
    return None if metres is None else round(metres / 1000.0, 1)


READERS = {"resupply-plan/1": _first, "resupply-plan/2": _first}
