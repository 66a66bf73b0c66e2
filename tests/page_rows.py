# ruff: noqa: E501 (rows of made-up data read best as rows)

"""Rows of the invented island of Varrow that `page_fixture` makes a plan document of."""

from __future__ import annotations

from typing import Any

Json = dict[str, Any]
OUTLINE = [
    (-28.35, 46.7), (-28.1, 47.25), (-27.75, 47.5), (-27.6, 47.95), (-27.0, 48.2), (-26.5, 48.05),
    (-26.1, 48.25), (-25.5, 48.1), (-25.1, 47.7), (-25.15, 47.35), (-24.8, 47.0), (-24.95, 46.55),
    (-25.4, 46.3), (-25.6, 45.95), (-26.2, 45.85), (-26.7, 46.1), (-27.1, 46.0), (-27.6, 46.2),
    (-28.1, 46.3),
]  # fmt: skip
ROUTE = [
    (-27.95, 46.72), (-27.8, 47.1), (-27.45, 47.42), (-27.4, 47.8), (-26.95, 48.02), (-26.5, 47.86),
    (-26.05, 48.04), (-25.55, 47.9), (-25.33, 47.55), (-25.4, 47.25), (-25.85, 47.2),
    (-26.3, 47.42), (-26.75, 47.3), (-26.8, 46.95), (-26.35, 46.8), (-25.9, 46.95), (-25.45, 46.9),
    (-25.12, 46.75), (-25.5, 46.5), (-25.85, 46.15), (-26.2, 46.1), (-26.6, 46.35), (-27.05, 46.3),
    (-27.5, 46.45), (-27.85, 46.55),
]  # fmt: skip
TOWNS = [
    ("Tollan", -27.42, 47.46, 2), ("Port Ness", -27.96, 46.74, 1), ("Aldersey", -26.95, 48.05, 1),
    ("Brack", -25.56, 47.93, 2), ("Kirrin", -25.34, 47.22, 2), ("Hale Cross", -26.3, 47.46, 3),
    ("Merrow", -26.82, 46.93, 2), ("Sandwick", -25.1, 46.77, 1), ("Orlo", -26.2, 46.07, 2),
    ("Little Fenn", -27.08, 46.27, 3), ("Withy", -27.86, 47.12, 3), ("Stonehythe", -25.9, 47.0, 3),
]  # fmt: skip
# km, offset m, side, name, kind, supplies, hours as tagged, state, usual
PLACES = [
    (3, 120, "left", "Ness Provisions", "shop=supermarket", "groceries ice", "Mo-Sa 08:00-20:00", "open"),
    (46, 900, "right", "Withy Village Shop", "shop=convenience", "small_groceries", None, "usually_open"),
    (118, 240, "left", "Tollan Market Hall", "shop=supermarket", "groceries ice water", "Mo-Fr 08:00-19:00; Sa 08:00-17:00", "open"),
    (121, 60, "right", "Tollan Fuel", "amenity=fuel", "fuel ice small_groceries", "24/7", "open"),
    (186, 310, "left", "The Drying Shed", "shop=farm", "small_groceries", '"by appointment"', "usually_shut"),
    (214, 80, "right", "Aldersey Foods", "shop=supermarket", "groceries ice", "Mo-Sa 08:00-18:30", "tight"),
    (262, 1900, "left", "Crook of Ellan Camp", "tourism=camp_site", "camp water", None, "unknown"),
    (318, 150, "left", "Brack Co-operative Stores", "shop=supermarket", "groceries ice", "Mo-Sa 07:30-19:00; Su,PH off", "open"),
    (322, 40, "on", "Brack Harbour Fuel", "amenity=fuel", "fuel", "Mo-Su 07:00-21:00", "open"),
    (331, 700, "right", "Harbour Bakery", "shop=bakery", "small_groceries", "Tu-Sa 06:00-13:00", "shut"),
    (404, 90, "left", "Kirrin General", "shop=general", "groceries", "Mo-Sa 09:00-17:00", "shut"),
    (431, 500, "left", "Lantern Inn", "amenity=restaurant", "meal_out", "We-Su 12:00-21:00", "open"),
    (472, 2600, "right", "Hale Cross Kiosk", "shop=kiosk", "small_groceries", None, "usually_shut"),
    (566, 130, "left", "Merrow Supermarket", "shop=supermarket", "groceries ice water", "Mo-Sa 08:00-19:00", "shut"),
    (570, 30, "on", "Merrow Pumps", "amenity=fuel", "fuel", None, "usually_open"),
    (655, 400, "left", "Stonehythe Camp", "tourism=camp_site", "camp water", None, "unknown"),
    (716, 200, "right", "Sandwick Grocer", "shop=supermarket", "groceries ice", "Mo-Fr 08:30-18:00", "open"),
    (719, 1400, "left", "Quay Ice Works", "shop=ice", "ice", "Mo-Fr 06:00-14:00", "tight"),
    (803, 60, "left", "Spring at Dunmoor", "amenity=drinking_water", "water", None, "unknown"),
    (862, 350, "right", "Orlo Stores", "shop=convenience", "groceries", None, "usually_open"),
    (958, 3100, "left", "Little Fenn Farm Shop", "shop=farm", "small_groceries", "Sa 09:00-12:00", "shut"),
]  # fmt: skip
KIND_WORDS = {
    "shop=supermarket": "Supermarket", "shop=convenience": "Convenience shop", "shop=farm": "Farm shop",
    "amenity=fuel": "Filling station", "tourism=camp_site": "Camp site", "shop=bakery": "Bakery",
    "shop=general": "General store", "amenity=restaurant": "Restaurant", "shop=kiosk": "Kiosk",
    "shop=ice": "Ice seller", "amenity=drinking_water": "Drinking water",
}  # fmt: skip
STOPS_KM = (118, 318, 716, 862)
LIMIT_MEALS = 6
DISHES = {
    "breakfast": ("Oats with apple", "Eggs and flatbread", "Yogurt, nuts, honey"),
    "lunch": ("Bread, cheddar, tomato", "Tuna and white-bean salad", "Peanut butter wraps"),
    "dinner": (
        "Foil-pack chicken and peppers", "Lentil and tomato stew", "Pasta, olives, hard cheese",
        "Chickpea curry with rice", "Couscous with tinned mackerel",
    ),
}  # fmt: skip
CARE = {
    "short": ["Local rules first: on fires, stoves, food, washing and water.", "No ice left, or packs thawed: throw out what needs cold."],
    "short_line": "above 4 °C at most 2 h in all, 1 h in heat; never cook in a tent.",
    "notes": [
        {"id": "hands", "title": "Hands", "words": "Soap and clean water before cooking and eating, or sanitiser where there is none.", "source": "USDA FSIS, Food Safety While Hiking, Camping & Boating (from a copy)", "status": "copy"},
        {"id": "two-hours", "title": "Two-hour rule", "words": "Throw out perishable food that was above 4 °C for more than 2 hours, or 1 hour when it is hotter than 32 °C. Heating it again does not make it safe.", "source": "USDA FSIS (from a copy)", "status": "copy"},
    ],
    "temperatures": [
        {"food": "all poultry", "temp_f": 165.0, "temp_c": 73.9, "rest_min": None, "words": "", "source": "USDA and FoodSafety.gov (from a copy)"},
        {"food": "steaks, chops, roasts", "temp_f": 145.0, "temp_c": 62.8, "rest_min": 3.0, "words": "", "source": "USDA and FoodSafety.gov (from a copy)"},
        {"food": "shrimp, crab", "temp_f": None, "temp_c": None, "rest_min": None, "words": "pearly and opaque", "source": "USDA and FoodSafety.gov (from a copy)"},
    ],
    "sources": [{"source": "USDA FSIS, Food Safety While Hiking, Camping & Boating (from a copy)", "backs": ["Hands", "Two-hour rule"]}],
    "boil_min": 1.0,
}  # fmt: skip


def sweep() -> Json:
    rows = []
    for n, daily in enumerate(range(120, 341, 10)):
        meals = 6 + abs(((daily // 10) * 7) % 11 - 5) + (3 if daily < 150 else 0)
        rows.append({"daily_m": daily * 1000.0, "days": -(-1060 // daily), "max_carry_meals": meals, "max_carry_days": round(meals / 3, 1), "excess_meals": max(0, meals - LIMIT_MEALS), "extra_s": (40 + (n * 37) % 90) * 60.0, "shut_on_arrival": (n * 5) % 4, "stops": 4 + n % 3, "best": {6: ["least carried"], 12: ["fewest extra minutes", "no shut shops"]}.get(n, []), "chosen": daily == 210})  # fmt: skip
    return {
        "rows": rows,
        "words": "180 km a day carries least: 2.0 days at most. 240 km a day costs the fewest extra minutes.",
    }


def shopping() -> Json:
    return {
        "people": 2,
        "stops": [
            {"stop": n, "name": name, "when": f"2027-07-{day:02d}T10:30:00-01:00", "full": n != 4, "words": "A small shop: what it has is a guess (common practice, no source)." if n == 4 else "", "lines": _lines(rows)}
            for n, name, day, rows in LISTS
        ],
        "kit": {
            "lines": _lines("spices|Olive oil|70 ml|\nspices|Salt with herbs|6 g|\ndrinks|Instant coffee|24 g|"),
            "words": "Decanted at home and refilled, not bought for the trip: tick what you have.",
        },
        "reserve": {
            "dishes": [{"id": "bars", "name": "Oat bars and nuts"}],
            "lines": _lines("dry|Oat bars|1 pack of 6|\ndry|Nuts|1 × 200 g|"),
            "words": "Kept apart and eaten only if a shop lets you down: no cooking, no cooling.",
        },
    }  # fmt: skip


LISTS = (
    (0, "home", 9, "dry|Rolled oats|1 × 500 g|100 g left over\ndry|Olive oil|1 × 250 ml|\ntins|White beans|2 × 240 g|"),
    (1, "Tollan Market Hall", 9, "produce|Peppers|2|\nproduce|Apples|6|\nbread|Flatbread|1 pack of 8|\nmeat|Chicken thighs|1 × 400 g|40 g left over, eat it up or throw it out in time\ndairy|Cheddar in the block|1 × 250 g|\ndairy|Yogurt|2 × 150 g|"),
    (2, "Brack Co-operative Stores", 10, "produce|Tomatoes|8|\nproduce|Onions|4|\nbread|Crispbread|2 × 250 g|\ntins|Chickpeas|2 × 400 g|\ntins|Tuna in oil|3 × 160 g|\ntins|Chopped tomatoes|3 × 400 g|\ndry|Red lentils|1 × 500 g|\ndry|Pasta|1 × 500 g|120 g left over\ndry|Rice|1 × 500 g|\ndairy|Hard cheese|1 × 300 g|"),
    (3, "Sandwick Grocer", 13, "produce|Bananas|4|\nbread|Bread|1 × 500 g|\ntins|Mackerel|2 × 125 g|\ndry|Couscous|1 × 500 g|200 g left over"),
    (4, "Orlo Stores", 13, "dairy|Yogurt|2 × 150 g||may\ndry|Nuts|1 × 200 g|"),
)  # fmt: skip


def _lines(rows: str) -> list[Json]:
    lines = []
    for row in rows.split("\n"):
        aisle, name, words, left, doubt = [*row.split("|"), ""][:5]
        lines.append({"id": name.lower().replace(" ", "-"), "name": name, "aisle": aisle, "words": words, "left_words": left, "doubtful": bool(doubt), "doubt_words": "the small shop may not have it" if doubt else ""})  # fmt: skip
    return lines


def packing() -> Json:
    def item(name: str, words: str) -> Json:
        return {"id": name.lower(), "name": name, "words": words, "first_use": "2027-07-10T12:30:00-01:00"}  # fmt: skip

    def layer(kind: str, words: str, *items: Json) -> Json:
        return {"kind": kind, "words": words, "items": list(items), "first_use": "2027-07-10T12:30:00-01:00" if items else None}  # fmt: skip

    cooler = [
        layer("raw", "Raw meat and fish, bagged twice", item("Chicken thighs", "400 g")),
        layer("ice", "Ice in its own bag, 3.0 kg"),
        layer("food", "Food", item("Hard cheese", "300 g"), item("Yogurt", "300 g")),
        layer("ice", "Ice in its own bag, 3.0 kg"),
        layer("fill", "Fill up: more ice or a towel"),
    ]
    bags = {
        "food_bag": [item("Oats", "500 g"), item("Pasta", "500 g"), item("Crispbread", "500 g")],
        "spice_bag": [item("Salt", "1"), item("Foil", "1")],
    }
    return {
        "stops": [
            {"stop": n, "name": name, "cooler": cooler[n > 1 :], "over_l": 0.0, "words": "", **bags}
            for n, name, _, _ in LISTS
        ],
        "rules": {
            "raw_bottom": {"words": "Raw meat and fish at the very bottom, below all that is eaten as it is", "source": "Colorado State University Extension, How to pack a cooler"},
            "apart": {"words": "Spices, foil and cooking gear in a bag apart from the food bag", "source": "riders and campers (common practice, no source)"},
        },
    }  # fmt: skip


def menu(legs: list[Json]) -> Json:
    days = []
    for n, leg in enumerate(legs):
        meals = []
        for kind, hour in (("breakfast", 7), ("lunch", 12), ("dinner", 19)):
            name = DISHES[kind][n % len(DISHES[kind])]
            fresh = "chicken" in name or "Yogurt" in name
            dish = {
                "id": name.lower().replace(" ", "-"), "name": name, "method": "foil" if "Foil" in name else "pot",
                "heat": "coals" if "Foil" in name else ("none" if kind == "lunch" else "stove"), "minutes": 25 if kind == "dinner" else 10,
                "diet": "any", "allergens": ["milk"] if fresh else [], "cautions": ["Cook to 74 °C inside."] if "chicken" in name else [], "leftover_of": None,
                "steps": ["Boil the water.", "Stir it in.", "Lid on, five minutes."], "musts": ["Chicken: 74 °C in the middle."] if "chicken" in name else [], "tags": [], "water_l": 0.7 if "Couscous" in name else 0.0,
                "ingredients": [{"id": "x", "name": name.split(" ")[-1].capitalize(), "words": "360 g", "stop": min(n, 4), "doubtful": n == 4}],
            }  # fmt: skip
            unfilled = n == 3 and kind == "lunch"
            meals.append({
                "slot": 3 * n + len(meals), "when": f"{leg['date']}T{hour:02d}:30:00-01:00", "kind": kind, "stretch": n, "late": n == 3 and kind == "dinner",
                "fire_ban": False, "no_cook": False, "dish": None if unfilled else dish, "use_by": f"{leg['date']}T23:00:00-01:00" if fresh else None,
                "why": "Nothing left that keeps this long." if unfilled else "Raw chicken keeps two days at most: eaten the evening it is bought." if fresh else "Dry and tinned food waits for the end of the stretch.",
            })  # fmt: skip
        days.append({"day": n + 1, "date": leg["date"], "meals": meals, "extras": [{"id": "nuts", "name": "Mixed nuts", "words": "100 g"}, {"id": "apples", "name": "Apples", "words": "2"}], "kcal_each": 2460})  # fmt: skip
    return {
        "people": 2,
        "days": days,
        "moves": [
            {"dish": "foil", "name": "Foil-pack chicken and peppers", "from_slot": 8, "to_slot": 2, "why": "Foil-pack chicken moved from Sunday to Friday: the cooler passes 4 °C Sunday 16:00."}
        ],
        "unfilled": [10],
        "warnings": [],
        "words": {"energy": "Energy and mass are estimates from round figures (from memory)."},
    }  # fmt: skip


def load() -> Json:
    rows = ((9, 8, 0, 10.4), (9, 11, 1, 14.9), (9, 20, None, 11.0), (10, 10, 2, 26.4), (11, 20, None, 15.2), (13, 12, 3, 12.5), (13, 15, 4, 10.1), (14, 12, None, 4.0))  # fmt: skip
    points = [
        {"when": f"2027-07-{day:02d}T{hour:02d}:30:00-01:00", "kind": "meal" if stop is None else "stop", "index": stop or 0, "label": "dinner" if stop is None else LISTS[stop][1], "mass_kg": kg, "bag_l": kg * 1.4, "cooler_l": 2.0}
        for day, hour, stop, kg in rows
    ]  # fmt: skip
    return {
        "points": points, "peak_kg": points[3], "peak_bag_l": points[3], "peak_cooler_l": points[3], "over": ["2.4 kg more than the luggage may carry"],
        "water": [{"day": n, "drink_l": 6.0 + 0.7 * n, "cook_l": 0.5, "ceiling_l": 22.8, "why": "3 L each to drink and in food (from a copy)."} for n in range(1, 6)],
        "stove_fuel": {"total_l": 0.68, "meals": [], "words": "A weak figure: outdoor-leadership handbooks (from memory)."},
    }  # fmt: skip
