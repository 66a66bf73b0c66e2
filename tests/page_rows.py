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
    (3, 120, "left", "Ness Provisions", "shop=supermarket", "groceries ice", "Mo-Sa 08:00-20:00", "open", None),
    (46, 900, "right", "Withy Village Shop", "shop=convenience", "small_groceries", None, "unknown", True),
    (118, 240, "left", "Tollan Market Hall", "shop=supermarket", "groceries ice water", "Mo-Fr 08:00-19:00; Sa 08:00-17:00", "open", None),
    (121, 60, "right", "Tollan Fuel", "amenity=fuel", "fuel ice small_groceries", "24/7", "open", None),
    (186, 310, "left", "The Drying Shed", "shop=farm", "small_groceries", '"by appointment"', "unknown", False),
    (214, 80, "right", "Aldersey Foods", "shop=supermarket", "groceries ice", "Mo-Sa 08:00-18:30", "tight", None),
    (262, 1900, "left", "Crook of Ellan Camp", "tourism=camp_site", "camp water", None, "unknown", None),
    (318, 150, "left", "Brack Co-operative Stores", "shop=supermarket", "groceries ice", "Mo-Sa 07:30-19:00; Su,PH off", "open", None),
    (322, 40, "on", "Brack Harbour Fuel", "amenity=fuel", "fuel", "Mo-Su 07:00-21:00", "open", None),
    (331, 700, "right", "Harbour Bakery", "shop=bakery", "small_groceries", "Tu-Sa 06:00-13:00", "shut", None),
    (404, 90, "left", "Kirrin General", "shop=general", "groceries", "Mo-Sa 09:00-17:00", "shut", None),
    (431, 500, "left", "Lantern Inn", "amenity=restaurant", "meal_out", "We-Su 12:00-21:00", "open", None),
    (472, 2600, "right", "Hale Cross Kiosk", "shop=kiosk", "small_groceries", None, "unknown", False),
    (566, 130, "left", "Merrow Supermarket", "shop=supermarket", "groceries ice water", "Mo-Sa 08:00-19:00", "shut", None),
    (570, 30, "on", "Merrow Pumps", "amenity=fuel", "fuel", None, "unknown", True),
    (655, 400, "left", "Stonehythe Camp", "tourism=camp_site", "camp water", None, "unknown", None),
    (716, 200, "right", "Sandwick Grocer", "shop=supermarket", "groceries ice", "Mo-Fr 08:30-18:00", "open", None),
    (719, 1400, "left", "Quay Ice Works", "shop=ice", "ice", "Mo-Fr 06:00-14:00", "tight", None),
    (803, 60, "left", "Spring at Dunmoor", "amenity=drinking_water", "water", None, "unknown", None),
    (862, 350, "right", "Orlo Stores", "shop=convenience", "groceries", None, "unknown", True),
    (958, 3100, "left", "Little Fenn Farm Shop", "shop=farm", "small_groceries", "Sa 09:00-12:00", "shut", None),
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
CARE = [
    {"id": "hands", "title": "Wash hands", "text": "Soap and clean water before cooking and eating, or sanitiser where there is none.", "source": "USDA FSIS, Food Safety While Hiking, Camping & Boating", "source_status": "S"},
    {"id": "two-hours", "title": "Two-hour rule", "text": "Throw out perishable food that was above 4 °C for more than 2 hours, or 1 hour when it is hotter than 32 °C. Heating it again does not make it safe.", "source": "USDA FSIS", "source_status": "S"},
    {"id": "water", "title": "Boil untreated water", "text": "A rolling boil for 1 minute, 3 minutes above 1,500 m.", "source": "CDC, Emerging Infectious Diseases 31(8)", "source_status": "C"},
]  # fmt: skip


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
    def items(stop: int, rows: str) -> list[Json]:
        out = []
        for n, row in enumerate(rows.strip().split("\n")):
            aisle, name, amount, packs, note = [*(c.strip() for c in row.split("|")), "", ""][:5]
            out.append({"id": f"s{stop}-{n}", "aisle": aisle, "name": name, "amount_words": amount, "packs_words": packs, "note": note or None, "maybe_missing": "maybe" in note})  # fmt: skip
        return out

    home = "Dry|Rolled oats|400 g|1 pack\nTins|White beans|480 g|2 tins\nDry|Olive oil|120 mL|1 small bottle"
    tollan = "Fruit and vegetables|Peppers|2|2 pieces\nFruit and vegetables|Apples|6|1 bag\nBread|Flatbread|8|1 pack\nMeat and fish|Chicken thighs|360 g|1 tray|double-bag; buy last\nDairy|Cheddar in the block|250 g|1 block\nDairy|Yogurt|300 g|2 pots|maybe missing in a small shop"
    brack = "Fruit and vegetables|Tomatoes|8|1 bag\nFruit and vegetables|Onions|4|1 net\nBread|Crispbread|500 g|2 packs\nTins|Chickpeas|800 g|2 tins\nTins|Tuna in oil|480 g|3 tins\nTins|Chopped tomatoes|1.2 kg|3 tins\nDry|Red lentils|500 g|1 pack\nDry|Pasta|500 g|1 pack\nDry|Rice|400 g|1 pack\nDairy|Hard cheese|300 g|1 block"
    sandwick = "Fruit and vegetables|Bananas|4|1 hand\nBread|Bread|1 loaf|1 loaf\nTins|Mackerel|250 g|2 tins\nDry|Couscous|300 g|1 pack"
    orlo = "Dairy|Yogurt|300 g|2 pots|maybe missing in a small shop\nDry|Nuts|200 g|1 pack"
    lists = [
        (0, "Before you leave", home), (1, "Tollan Market Hall", tollan), (2, "Brack Co-operative Stores", brack),
        (3, "Sandwick Grocer", sandwick), (4, "Orlo Stores", orlo),
    ]  # fmt: skip
    return {"lists": [{"stop": n, "title": t, "items": items(n, rows)} for n, t, rows in lists]}


def packing() -> Json:
    return {
        "layers": [
            {"order": 1, "title": "Block ice", "items": ["1 block in its own bag"], "note": "Drain tap open."},
            {"order": 2, "title": "Raw meat", "items": ["Chicken thighs, double-bagged"], "note": "Lowest, so that it cannot drip on anything."},
            {"order": 3, "title": "Eaten last", "items": ["Hard cheese", "Yogurt"], "note": ""},
            {"order": 4, "title": "Ice cubes", "items": ["1 bag, filling the gaps"], "note": ""},
            {"order": 5, "title": "Eaten first", "items": ["Cheddar", "Tomatoes"], "note": "On top: the lid is open for seconds only."},
        ],
        "bags": [
            {"title": "Food bag", "items": ["Oats", "Pasta", "Tins", "Crispbread"], "note": "Left pannier, heaviest at the bottom."},
            {"title": "Spice and gear bag", "items": ["Salt, pepper, paprika", "Foil", "Lighter"], "note": "Apart from the food."},
        ],
        "words": "Drawn from the bottom up. Fill empty space: a full box stays cold longer.",
    }  # fmt: skip
