"""A realistic plan document of the invented island of Varrow, for the page and its tests.

Everything here is made up. `varrow()` is five riding days with a Sunday, a rest day, a
stretch without map data, a carry limit that cannot be kept, a cooler and a menu;
`long_trip()` is a large document for measuring size; `hostile()` puts markup into every
string that comes from map data or files.
"""

# ruff: noqa: E501 (rows of made-up data read best as rows)

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

import numpy as np
from page_ground import island_geo
from page_rows import (
    CARE,
    KIND_WORDS,
    PLACES,
    ROUTE,
    STOPS_KM,
    load,
    menu,
    packing,
    shopping,
    sweep,
)

Json = dict[str, Any]
ZONE = dt.timezone(dt.timedelta(hours=-1))
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def varrow() -> Json:
    """Return `{"plan": …, "geo": …}` of the five-day demo."""
    geo = island_geo(ROUTE)
    length_m = geo["chainage_m"][-1]
    legs = _legs(length_m)
    places, passes = _places(geo, legs)
    by_km = {round(p["chainage_m"] / 1000): p for p in passes}
    meals = _meal_points(legs)
    stops = [
        _stop(n, by_km[km], STOPS_KM, length_m, meals, passes)
        for n, km in enumerate(STOPS_KM, start=1)
    ]
    stops[1]["why_not_previous"] = (
        "Aldersey Foods at km 214 was passed over: it closes 18:30 and you may be 20 min late."
    )
    start_meals = sum(1 for m in meals if m[0] < STOPS_KM[0] * 1000)
    gap = {
        "start_m": 318_000.0, "end_m": 716_000.0, "length_m": 398_000.0, "ride_s": 398 / 60 * 3600,
        "meals": 9, "days": 3.0, "from_words": "Brack Co-operative Stores, Sat 10:02",
        "to_words": "Sandwick Grocer, Tue 12:41", "crosses_unknown": True,
        "words": "398 km, 6 h 38 min of riding and 9 meals (3.0 days) from Brack to Sandwick, with a Sunday and a rest day in it.",
    }  # fmt: skip
    plan: Json = {
        "schema": "resupply-plan/2",
        "made_with": "resupply 0.1.0",
        "trip": {
            "id": "varrow-demo", "name": "Round Varrow with Mirren and Oskar", "units": "metric",
            "clock": 24, "people": 2, "start_date": "2027-07-09", "days": 6, "daily_m": 212_000.0,
            "speed_kmh": 60.0, "carry_limit_days": 2, "carry_habit_days": 2, "corridor_m": 5000.0,
            "country": "AT", "time_zone": "Atlantic/Azores",
            "settings": {"pace.daily_km": 212, "pace.speed_kmh": 60, "party.people": 2, "start.date": "2027-07-09", "supplies.corridor_km": 5, "luggage.food_kg": 24},
        },
        "summary": {
            "headline": "Four shops feed you round the island. Buy for three days in Brack on Saturday: nothing on the way is open again before Sandwick on Tuesday.",
            "facts": [
                {"label": "Longest gap between shops", "value_words": "398 km, 3.0 days", "tone": "alarm"},
                {"label": "Most food carried", "value_words": "9 meals each, 11.2 kg", "tone": "caution"},
                {"label": "Stops for groceries", "value_words": "4, in all 1 h 52 min", "tone": "plain"},
                {"label": "Stops resting on stated hours", "value_words": "3 of 4", "tone": "plain"},
            ],
            "cautions": [
                "No map data between km 470 and km 545: there may be shops there, or none.",
                "Day 4 ends at 20:24, after your latest time in camp (20:00).",
            ],
        },
        "answers": {
            "shops": [*(_next_shop(stop, places) for stop in stops), {"figure": [{"way_m": length_m}], "question": "Next shop after the last stop", "answer": "None planned before the end", "detail": "2 meals each on board", "tone": "plain"}],
            "stretch": {"figure": [{"way_m": 398_000.0}], "question": "Longest stretch, no full shop open", "answer": "Sat 10:30 to Tue 12:41", "detail": "km 318 to km 716 · 9 meals · days 2–4", "tone": "caution", "start_m": 318_000.0, "end_m": 716_000.0},
            "ice": {"figure": [{"mass_kg": 6}], "question": "Ice, 3 places", "answer": "Fri: 2 kg, Tollan Fuel", "detail": "km 121, ask · Sat 2 kg, km 318, ask · 1 more", "tone": "caution", "pass": by_km[121]["id"], "start_m": 121_000.0},
            "worst": {"words": "9 meals each without a shop, 3 over your limit.", "start_m": 318_000.0, "end_m": 716_000.0},
        },
        "route": {"name": "Varrow round.gpx", "length_m": length_m, "warnings": [], "breaks": [], "marks": [{"name": "Aunt Elspeth's gate", "lon": -26.5, "lat": 47.9}]},
        "coverage": {
            "source": "extract varrow.osm", "data_date": "2027-06-30",
            "unknown": [{"start_m": 470_000.0, "end_m": 545_000.0, "reason": "the extract ends here"}],
            "words": "Map data covers 93 % of the route. Nothing is known about km 470 to km 545.",
        },
        "legs": legs,
        "places": places,
        "passes": passes,
        "stops": stops,
        "start_carry": {"meals": start_meals, "days": round(start_meals / 3, 1), "kg": 1.4, "to_chainage_m": 118_000.0, "words": "Leave Port Ness with 1 meal each: the Market Hall in Tollan is reached at 10:50."},
        "gaps": {
            "groceries": {"longest": gap, "all": _gaps(STOPS_KM, length_m, meals), "count_passes": 11},
            "ice": {"longest": {**gap, "words": "398 km from Brack to Sandwick"}, "all": [], "count_passes": 7},
            "water": {"longest": {**gap, "start_m": 803_000.0, "end_m": length_m, "length_m": length_m - 803_000.0, "days": 1.6, "meals": 5, "words": "From the spring at Dunmoor to the end."}, "all": [], "count_passes": 5},
            "fuel": {"longest": None, "all": [], "count_passes": 3},
        },
        "shortfalls": [{
            "start_m": 318_000.0, "end_m": 716_000.0, "days": 3.0, "meals": 9, "limit_days": 2,
            "excess_meals": 3, "words": "Brack to Sandwick takes 3.0 days of food, one more than your limit of 2.",
            "remedies": [
                {"words": "Take the rest day before Brack instead of after it: 2.0 days.", "what": "rest day after day 1", "minutes": 0, "excess_meals": 0},
                {"words": "Start on Sunday 11 July: Merrow is open when you pass, 1.7 days.", "what": "start Sunday", "minutes": 12, "excess_meals": 0},
                {"words": "Ride 240 km a day: 2.7 days, still 2 meals over.", "what": "240 km a day", "minutes": 0, "excess_meals": 2},
            ],
        }],
        "spare": {"meals": 3, "kg": 2.6, "worst_stop": 3, "worst_more_meals": 4, "longest_gap_days": 4.3, "words": "Carry 4 more meals each (2.6 kg) from Brack and no single shut shop leaves you without food."},
        "ice": {
            "stops": [
                {"leg": 1, "pass": by_km[121]["id"], "confidence": "likely", "chainage_m": 121_000.0, "eta": by_km[121]["eta"], "state": "open", "state_words": "open", "words": "Tollan Fuel: ice likely, the map does not say so."},
                {"leg": 2, "pass": by_km[318]["id"], "confidence": "likely", "chainage_m": 318_000.0, "eta": by_km[318]["eta"], "state": "open", "state_words": "open", "words": "Brack Co-operative Stores: ice likely."},
                {"leg": 4, "pass": by_km[719]["id"], "confidence": "stated", "chainage_m": 719_000.0, "eta": by_km[719]["eta"], "state": "tight", "state_words": "tight: closes 14:00, you may be late", "words": "Quay Ice Works sells ice."},
            ],
            "longest_gap_h": 74.5, "words": "Ice on days 1, 2 and 4. None on Sunday or the rest day.",
            "rule_words": "Buy at the last ice before camp (common practice, no source).",
        },
        "sweep": sweep(),
        "fuel": {"range_m": 280_000.0, "reserve_m": 40_000.0, "stops": [{"pass": by_km[k]["id"]} for k in (121, 322, 570)], "longest_gap_m": 248_000.0, "words": "Fill up in Tollan, Brack and Merrow. The longest stretch between pumps is 248 km; your range is 280 km.", "exceeded": []},
        "water": {"litres_by_day": [{"leg": n, "litres": v, "words": f"{v:.1f} L for two"} for n, v in enumerate((6.0, 6.4, 7.5, 7.0, 6.0), 1)], "every_day": "No more than 1.4 L an hour.", "words": "Hot from day 2: plan 3.2 to 3.8 L each to drink and cook."},
        "cold": _cold(legs),
        "menu": menu(legs),
        "shopping": shopping(),
        "packing": packing(),
        "load": load(),
        "carry_profile": _carry_profile(stops, meals, start_meals),
        "care": CARE,
        "explain": {"rules": [
            "Open means the hours on the map say so for the whole time you might arrive.",
            "Tight means you may arrive within your own uncertainty of closing or opening.",
            "Usually open is an estimate from the kind of shop and the country; the map has no hours for it.",
            "Not known means just that. It is never counted as open.",
        ]},
        "attribution": {"text": "© OpenStreetMap contributors, ODbL", "url": "https://www.openstreetmap.org/copyright", "data_date": "2027-06-30"},
    }  # fmt: skip
    return {"plan": plan, "geo": geo}


def _next_shop(stop: Json, places: Json) -> Json:
    return {
        "figure": [{"way_m": stop["chainage_m"]}], "question": "Next shop", "answer": [{"name": places[stop["place"]]["name"]}],
        "detail": f"buy {stop['carry_meals']} meals each", "tone": "plain", "state": stop["state"], "state_words": stop["state"],
        "pass": stop["pass"], "start_m": stop["chainage_m"], "until": stop["leave"],
    }  # fmt: skip


def long_trip(*, km: int = 4000, shops: int = 2000) -> Json:
    """Return a document of about `km` kilometres with `shops` shops, for size and speed."""
    base = varrow()
    plan, geo = base["plan"], base["geo"]
    times = max(1, round(km / (geo["chainage_m"][-1] / 1000)))
    lon, lat, chain = geo["lon"], geo["lat"], geo["chainage_m"]
    length = chain[-1]
    geo["lon"] = [round(x + 0.8 * k, 5) for k in range(times) for x in lon]
    geo["lat"] = [round(y - 0.5 * k, 5) for k in range(times) for y in lat]
    geo["chainage_m"] = [c + k * length for k in range(times) for c in chain]
    geo["ele_m"] = geo["ele_m"] * times
    plan["route"]["length_m"] = float(geo["chainage_m"][-1])
    plan["legs"] = [
        {**leg, "number": leg["number"] + 5 * k, "start_m": leg["start_m"] + k * length, "end_m": leg["end_m"] + k * length}
        for k in range(times) for leg in plan["legs"]
    ]  # fmt: skip
    template, place = plan["passes"][0], plan["places"]["node/1000"]
    total = geo["chainage_m"][-1]
    for n in range(shops):
        at = (n * len(geo["lon"])) // shops
        key = f"way/{500_000 + n}"
        plan["places"][key] = {
            **place,
            "name": f"Village shop {n}",
            "lon": geo["lon"][at],
            "lat": geo["lat"][at],
        }
        plan["passes"].append(
            {**template, "id": f"q{n}", "place": key, "chainage_m": geo["chainage_m"][at], "leg": 1 + int(geo["chainage_m"][at] / total * (len(plan["legs"]) - 0.01)), "role": "other", "state": ("open", "shut", "unknown", "tight")[n % 4]}
        )  # fmt: skip
    plan["carry_profile"] = [
        {"chainage_m": p["chainage_m"] + k * length, "meals": p["meals"]}
        for k in range(times)
        for p in plan["carry_profile"]
    ]
    return base


def hostile() -> Json:
    """Return the demo with markup, quotes, right-to-left text and emoji as names."""
    base = varrow()
    plan = base["plan"]
    names = [
        "</script><script>window.broken=1</script>", "<img src=x onerror='window.broken=2'>",
        "\"quoted\" 'shop' & <b>bold</b>", "مخبز الميناء \u202e txet", "🧊🛒 Eiswürfel <!-- -->",
        "{{ 7*7 }} ${window.broken=3} \u2028 line", "lone \ud83d surrogate", "\x1b[31mred\x07",
    ]  # fmt: skip
    for n, place in enumerate(plan["places"].values()):
        place["name"] = names[n % len(names)]
        place["opening_hours"] = names[(n + 1) % len(names)]
        place["tags"] = {"website": 'javascript:alert("x")', "phone": names[(n + 2) % len(names)]}
    plan["trip"]["name"] = names[0]
    plan["trip"]["id"] = "a\"b'<c>"
    plan["route"]["name"] = names[1]
    plan["route"]["marks"] = [{"name": names[0], "lon": -26.5, "lat": 47.9}]
    plan["summary"]["headline"] = names[2]
    plan["legs"][0]["night"]["name"] = names[0]
    plan["answers"]["shops"][0]["answer"] = [{"name": names[0]}]
    plan["shopping"]["stops"][0]["lines"][0]["name"] = names[1]
    plan["shopping"]["stops"][1]["name"] = names[0]
    plan["packing"]["stops"][1]["name"] = names[0]
    plan["menu"]["days"][0]["meals"][0]["dish"]["name"] = names[0]
    base["geo"]["backdrop"]["towns"][0]["name"] = names[1]
    return base


def _iso(when: dt.datetime) -> str:
    return when.isoformat()


def _legs(length_m: float) -> list[Json]:
    ends = [0.0, 225e3, 440e3, 655e3, 870e3, length_m]
    dates = [9, 10, 11, 13, 14]
    nights = ("Aldersey links", "Lantern Inn meadow", "Stonehythe Camp", None, None)
    legs = []
    for n in range(5):
        depart = dt.datetime(2027, 7, dates[n], 8, 30, tzinfo=ZONE)
        ride_s = (ends[n + 1] - ends[n]) / 60e3 * 3600
        length = ends[n + 1] - ends[n]
        kind = "end" if n == 4 else ("camp" if nights[n] else "nominal")
        words = {
            "camp": f"Camp at {nights[n]}.",
            "nominal": "No camp site on the map near here: find one yourself.",
            "end": "Home.",
        }[kind]
        arrive = depart + dt.timedelta(seconds=ride_s + 3600 + (7 * 3600 if n == 3 else 0))
        legs.append({
            "arrivals": {
                "chainage_m": [round(ends[n]), round(ends[n + 1])],
                "arrive_s": [round(depart.timestamp()), round(arrive.timestamp())],
                "half_width_s": [600, 600 + round(ride_s / 10)],
            },
            "number": n + 1, "date": depart.date().isoformat(), "weekday": WEEKDAYS[depart.weekday()],
            "start_m": ends[n], "end_m": ends[n + 1], "length_m": length, "depart": _iso(depart),
            "arrive": _iso(arrive),
            "ride_s": ride_s, "rest_days_before": 1 if n == 3 else 0, "crossing_days_before": 0,
            "night": {"kind": kind, "name": nights[n], "place": "node/1015" if n == 2 else None, "words": words},
            "sunrise": _iso(depart.replace(hour=6, minute=21)), "sunset": _iso(depart.replace(hour=21, minute=52)),
            "low_c": (12, 14, 17, 16, 12)[n], "high_c": (22, 27, 33, 29, 21)[n],
            "cautions": (["Sunday: most shops are shut."] if n == 2 else ["Arrival 20:24 is after your latest time in camp (20:00)."] if n == 3 else []),
            "surface": {"paved_m": length * 0.82, "gravel_m": length * 0.13, "track_m": 0.0, "unknown_m": length * 0.05} if n != 2 else None,
        })  # fmt: skip
    return legs


def _state_words(state: str, hours: str | None) -> str:
    tail = {"usually_open": "usually open then (estimate)", "usually_shut": "usually shut then (estimate)", "unknown": "no estimate"}.get(state)  # fmt: skip
    if tail:
        return f"hours not known: the map has none; {tail}"
    return {
        "open": "open for the whole time you might arrive",
        "tight": "tight: you may arrive after closing",
        "shut": "shut when you pass",
    }[state]


def _places(geo: Json, legs: list[Json]) -> tuple[Json, list[Json]]:
    places: Json = {}
    passes: list[Json] = []
    chain = np.asarray(geo["chainage_m"], float)
    for n, (km, offset, side, name, kind, supplies, hours, state) in enumerate(PLACES):
        at = int(np.searchsorted(chain, km * 1000))
        shift = offset / 111e3 * (1 if side == "left" else -1)
        key = f"{'way' if n % 3 == 0 and n else 'node'}/{1000 + n}"
        places[key] = {
            "name": name, "kind": kind, "kind_words": KIND_WORDS[kind],
            "lon": round(geo["lon"][at] + shift, 5), "lat": round(geo["lat"][at] + shift * 0.6, 5),
            "supplies": {s: ("stated" if s != "ice" or kind == "shop=ice" else "likely") for s in supplies.split()},
            "opening_hours": hours, "tags": {"phone": f"+000 555 01{n:02d}"} if n % 4 == 0 else {},
        }  # fmt: skip
        leg = next(leg for leg in legs if leg["end_m"] >= km * 1000)
        eta = dt.datetime.fromisoformat(leg["depart"]) + dt.timedelta(
            hours=(km - leg["start_m"] / 1000) / 60 * 1.1
        )
        eta = eta.replace(microsecond=0)
        spread = dt.timedelta(minutes=round(10 + (eta.hour - 8) * 6))
        detour = 2.8 * offset
        role = "stop" if km in STOPS_KM else {121: "fuel", 322: "fuel", 570: "fuel", 719: "ice", 431: "fallback", 655: "camp"}.get(km, "other")  # fmt: skip
        passes.append({
            "id": f"p{n}", "place": key, "chainage_m": km * 1000.0, "offset_m": float(offset), "side": side,
            "leg": leg["number"], "eta": _iso(eta), "eta_early": _iso(eta - spread), "eta_late": _iso(eta + spread),
            "state": state, "state_words": _state_words(state, hours),
            "detour_m": detour, "detour_s": detour / 40e3 * 3600, "detour_source": "straight line × 1.4, estimate",
            "role": role,
        })  # fmt: skip
    return places, passes


def _meal_points(legs: list[Json]) -> list[tuple[float, str]]:
    """Chainage and kind of every meal, in order; rest days eat three more at the night."""
    points: list[tuple[float, str]] = []
    for leg in legs:
        for _ in range(leg["rest_days_before"]):
            points += [(leg["start_m"], kind) for kind in ("breakfast", "lunch", "dinner")]
        points.append((leg["start_m"], "breakfast"))
        points.append((leg["start_m"] + 0.8 * leg["length_m"], "lunch"))
        points.append((leg["end_m"], "dinner"))
    return points


def _stop(
    number: int,
    crossing: Json,
    stops_km: tuple[int, ...],
    length_m: float,
    meals: list[tuple[float, str]],
    passes: list[Json],
) -> Json:
    here = crossing["chainage_m"]
    onward = [*(km * 1000.0 for km in stops_km if km * 1000.0 > here), length_m][0]
    count = sum(1 for at, _ in meals if here <= at < onward or (at == onward == length_m))
    leave = dt.datetime.fromisoformat(crossing["eta"]) + dt.timedelta(minutes=28)
    fallback = next((p for p in passes if p["chainage_m"] > here and p["state"] == "open"), None)
    return {
        "number": number, "pass": crossing["id"], "place": crossing["place"], "leg": crossing["leg"],
        "chainage_m": here, "arrive": crossing["eta"], "leave": _iso(leave), "minutes": 28,
        "detour_m": crossing["detour_m"], "state": crossing["state"], "state_words": crossing["state_words"],
        "kind": "small" if number == 4 else "full",
        "why": "Last full shop before Sunday; the two after it are shut when you pass." if number == 2 else "Full shop on the way with the fewest extra minutes that keeps the next stretch within reach.",
        "why_not_previous": None, "carry_meals": count, "carry_days": round(count / 3, 1), "carry_kg": round(count * 1.24, 1),
        "carry_words": f"Leave with {count} meal{'' if count == 1 else 's'} each ({count / 3:.1f} days).", "to_chainage_m": onward,
        "fallback": {
            "pass": fallback["id"] if fallback else None, "chainage_m": fallback["chainage_m"] if fallback else None,
            "distance_m": fallback["chainage_m"] - here if fallback else None, "eta": fallback["eta"] if fallback else None,
            "state": "shut" if number == 1 else "unknown", "kind": ("meal_out" if number == 3 else "shop") if fallback else "none",
            "words": "Next that should be open is further on; eat the reserve until then." if fallback else "Nothing open after this one: ask in the village, or turn back to Sandwick.",
        },
        "if_shut": {"gap_days": round(count / 3 + 1.3, 1), "gap_meals": count + 4, "words": f"The gap grows to {count / 3 + 1.3:.1f} days."},
    }  # fmt: skip


def _gaps(stops_km: tuple[int, ...], length_m: float, meals: list[tuple[float, str]]) -> list[Json]:
    edges = [0.0, *(km * 1000.0 for km in stops_km), length_m]
    out = []
    for a, b in itertools.pairwise(edges):
        count = sum(1 for at, _ in meals if a <= at < b)
        out.append({"start_m": a, "end_m": b, "length_m": b - a, "ride_s": (b - a) / 60e3 * 3600, "meals": count, "days": round(count / 3, 1), "from_words": f"km {a / 1000:.0f}", "to_words": f"km {b / 1000:.0f}", "words": f"{(b - a) / 1000:.0f} km and {count} meals", "crosses_unknown": a < 500e3 < b})  # fmt: skip
    return out


def _carry_profile(stops: list[Json], meals: list[tuple[float, str]], start: int) -> list[Json]:
    events = sorted(
        [(at, 1, 0, 0) for at, _ in meals]
        + [(s["chainage_m"], 0, s["carry_meals"], s["number"]) for s in stops]
    )
    first = round(dt.datetime(2027, 7, 9, 8, 30, tzinfo=ZONE).timestamp())
    on_board, points = start, [{"chainage_m": 0.0, "at_s": first, "meals": start}]
    for at, eats, filled, number in events:
        on_board = max(0, on_board - 1) if eats else filled
        # Two hundred kilometres a day, day and night.
        step = {"chainage_m": at, "at_s": first + round(at / 200e3 * 86_400), "meals": on_board}
        points.append(step if eats else {**step, "stop": number})
    return points


def _cold(legs: list[Json]) -> Json:
    start = dt.datetime.fromisoformat(legs[0]["depart"])
    trace, ice, temp = [], 4.0, 2.0
    buys = {2: 3.0, 25: 6.0, 99: 5.0}
    for hour in range(132):
        when = start + dt.timedelta(hours=hour)
        ambient = 22 + 7 * np.sin((when.hour - 9) / 24 * 2 * np.pi)
        ice += buys.get(hour, 0.0)
        ice = max(0.0, ice - 0.0042 * max(0.0, ambient - 1) * 1.6)
        temp += (1.6 - temp) * 0.35 if ice > 0 else (ambient - temp) * 0.035
        trace.append({"t": _iso(when), "temp_c": round(float(temp), 2), "ice_kg": round(float(ice), 2), "ambient_c": round(float(ambient), 1)})  # fmt: skip
    gone = next((row["t"] for row in trace if row["ice_kg"] == 0), None)
    warm = next((row["t"] for row in trace if row["temp_c"] > 4), None)
    return {
        "coolers": [{
            "name": "food", "kind": "hard-sided", "ua_w_per_k": 0.55, "ua_source": "default for a hard-sided cooler, not measured",
            "trace": trace, "limit_c": 4.0, "needs": [{"from": trace[0]["t"], "to": trace[70]["t"]}, {"from": trace[99]["t"], "to": trace[-1]["t"]}], "ice_gone": gone, "hours_above": sum(1 for row in trace if row["temp_c"] > 4),
            "purchases": [
                {"at": trace[2]["t"], "label": "Tollan Fuel", "bags": 1, "kg": 3.0, "kind": "cubes", "confidence": "likely", "chainage_m": 121_000.0},
                {"at": trace[25]["t"], "label": "Brack Co-operative Stores", "bags": 2, "kg": 6.0, "kind": "block", "confidence": "likely", "chainage_m": 318_000.0},
                {"at": trace[99]["t"], "label": "Quay Ice Works", "bags": 1, "kg": 5.0, "kind": "block", "confidence": "stated", "chainage_m": 719_000.0},
            ],
            "fails_at": warm, "words": "The box stays at or below 4 °C until Monday evening, then it warms. Nothing perishable is planned after that until Sandwick.",
        }],
        "assumptions": ["Box in the shade in camp, in the sun while riding.", "Lid opened 6 times a day (estimate)."],
        "sources": ["Latent heat of ice 333.55 kJ/kg: CRC Handbook (from memory, not checked)."],
    }  # fmt: skip
