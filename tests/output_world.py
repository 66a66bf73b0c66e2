"""A small plan document and its geometry, by hand, for the writers of result files."""

from __future__ import annotations

from typing import Any

# A ride along the equator from 179.5° E over the antimeridian, with a ferry on the way;
# chainages are rounded geodesic lengths (one degree: 111,319 m).
GEO: dict[str, Any] = {
    "lon": [179.5, 179.9, -179.9, -179.85, -179.6, -179.5],
    "lat": [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    "chainage_m": [0, 44528, 66792, 72358, 72358, 83490],
    "part_start": [0, 4],
    "ele_m": None,
    "backdrop": {},
}


def document(name: str = "Corner Shop", **changes: Any) -> dict[str, Any]:
    """Two food stops, one with unknown hours; ice at the first and on the way; two pumps."""
    made: dict[str, Any] = {
        "schema": "resupply-plan/2",
        "made_with": "resupply 0.1.0",
        "trip": {"name": name, "units": "metric", "clock": 24, "start_date": "2027-07-09"},
        "route": {"name": name, "length_m": 83490},
        "coverage": {"unknown": [{"start_m": 50000, "end_m": 60000, "reason": name}]},
        "legs": [
            _leg(1, "2027-07-09", "Friday", 0, 60000),
            _leg(2, "2027-07-10", "Saturday", 60000, 83490),
        ],
        "places": {
            "node/1": _place(name, 179.6, -0.01),
            "node/2": _place(name, 180.0, -0.01),
            "node/4": _place("Pump", -179.9, 0.01),
            "node/3": _place("", -179.7, -0.01),
        },
        "passes": [
            _pass("p1", "node/1", 11000, "2027-07-09T09:30+12:00", close="2027-07-09T18:00+12:00"),
            _pass("p2", "node/2", 55000, "2027-07-09T11:00+12:00"),
            _pass("p4", "node/4", 66000, "2027-07-09T11:30+12:00", close="2027-07-09T22:00+12:00"),
            _pass("p3", "node/3", 77000, "2027-07-10T09:00-12:00"),
        ],
        "stops": [
            _stop(1, "p1", 11000, "2027-07-09T09:30+12:00", "open", "open 08:00–18:00", name),
            _stop(
                2, "p3", 77000, "2027-07-10T09:00-12:00", "usually_open", "hours not known", name
            ),
        ],
        "ice": {"stops": [_ice("p1", 1, 11000, name), _ice("p2", 1, 55000, name)]},
        "fuel": {"stops": [_fuel("p2", 1, 55000, name), _fuel("p4", 1, 66000, name)]},
        "gaps": {
            "groceries": {"longest": _gap(11000, 77000, name)},
        },
        "start_carry": {
            "meals": 1,
            "days": 1 / 3,
            "kg": 1.2,
            "words": "Leave home with 1 meal a person.",
            "to_chainage_m": 11000,
        },
        "attribution": {
            "text": "© OpenStreetMap contributors, ODbL",
            "url": "https://www.openstreetmap.org/copyright",
            "data_date": "2027-06-01",
        },
    }
    return made | changes


def _leg(number: int, date: str, weekday: str, start_m: int, end_m: int) -> dict[str, Any]:
    return {
        "number": number,
        "date": date,
        "weekday": weekday,
        "start_m": start_m,
        "end_m": end_m,
        "depart": f"{date}T08:30+12:00",
        "arrive": f"{date}T17:00+12:00",
        "night": {"kind": "nominal", "name": None, "place": None, "words": "look for a camp near"},
    }


def _place(name: str, lon: float, lat: float) -> dict[str, Any]:
    return {"name": name, "kind_words": "supermarket", "lon": lon, "lat": lat}


def _pass(
    key: str,
    place: str,
    at_m: int,
    eta: str,
    *,
    close: str | None = None,
) -> dict[str, Any]:
    return {
        "id": key,
        "place": place,
        "chainage_m": at_m,
        "eta": eta,
        "eta_early": eta.replace("T09", "T08").replace("T11", "T10"),
        "eta_late": eta.replace("T09", "T10").replace("T11", "T12"),
        "next_close": close,
        "state_words": "open 06:00–22:00",
        "detour_m": 120,
    }


def _stop(
    number: int, key: str, at_m: int, arrive: str, state: str, words: str, name: str
) -> dict[str, Any]:
    return {
        "number": number,
        "pass": key,
        "name": name,
        "leg": number,
        "chainage_m": at_m,
        "arrive": arrive,
        "leave": arrive.replace("T09", "T10"),
        "state": state,
        "state_words": words,
        "carry_meals": 3,
        "carry_days": 1.0,
        "carry_kg": 3.6,
        "carry_words": "Carry 1 day of food (3 meals) a person to km 77.",
        "to_chainage_m": 77000,
        "fallback": {"words": f"Go on to {name}, 66 km further."},
    }


def _ice(key: str, leg: int, at_m: int, name: str) -> dict[str, Any]:
    return {
        "leg": leg,
        "pass": key,
        "chainage_m": at_m,
        "eta": "2027-07-09T11:00+12:00",
        "state": "open",
        "state_words": "open around the clock",
        "words": f"Day {leg}: {name}, km {at_m // 1000} (ice is on the map).",
    }


def _fuel(key: str, leg: int, at_m: int, name: str) -> dict[str, Any]:
    return {
        "pass": key,
        "name": name,
        "leg": leg,
        "chainage_m": at_m,
        "since_m": at_m,
        "eta": "2027-07-09T11:30+12:00",
        "state": "open",
        "joined": False,
        "words": f"{name}, km {at_m // 1000}, after {at_m // 1000} km.",
    }


def _gap(start_m: int, end_m: int, name: str) -> dict[str, Any]:
    return {
        "start_m": start_m,
        "end_m": end_m,
        "meals": 3,
        "crosses_unknown": True,
        "words": f"66 km without a food shop after {name}.",
    }
