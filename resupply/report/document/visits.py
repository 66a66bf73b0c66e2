"""Where the plan stops, in order of the route: the rows of the GPX, CSV, calendar and GeoJSON.

In: the plan document. Out: one `Visit` for each stop for food, ice or fuel, its text made safe
for any file: one line, no control characters, no halves of characters. What a format itself
gives a meaning (markup, commas, formulas) is for its writer to escape.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from resupply.common.text import one_line
from resupply.report.lines import position_at
from resupply.say.states import words_of

__all__ = ["Night", "Visit", "nights", "state_words", "visits"]


@dataclass(frozen=True, slots=True)
class Visit:
    """One planned stop. Text is clean, see `common.text`, and still hostile."""

    number: int | None
    """Of a food stop; None where no food is bought."""
    buys: str
    """Food, ice and fuel, as far as they are bought here: "food and ice"."""
    name: str
    kind: str
    """Kind of place in words."""
    place_id: str
    lon: float
    lat: float
    """Degrees, WGS84."""
    leg: int
    chainage_m: int
    detour_m: int | None
    arrive: dt.datetime
    earliest: dt.datetime
    latest: dt.datetime
    """The arrival and its doubt, local time."""
    leave: dt.datetime | None
    state: str
    """Key of its state; see `resupply.say.states`."""
    hours: str
    """The hours in words."""
    closes: dt.datetime | None
    """When the door shuts on the day of arrival, or the opening at hand ends; None where that is
    not known."""
    words: str
    """What to carry from here, how sure the ice is, how far the fuel has to last."""
    if_shut: str
    carry: tuple[int, float, float, int] | None
    """Meals a person, days, kg in all, and the chainage (m) they must last to."""


@dataclass(frozen=True, slots=True)
class Night:
    """Where a day ends. Text is clean, and still hostile."""

    leg: int
    date: str
    arrive: str
    """Local time, ISO 8601."""
    lon: float
    lat: float
    """Of the camp where one is known, else of the route's point."""
    chainage_m: int
    name: str
    words: str


def nights(document: dict[str, Any], geo: dict[str, Any]) -> tuple[Night, ...]:
    """List the days' ends of a plan document, the last one the end of the route."""
    found = []
    for leg in document["legs"]:
        night = leg["night"]
        place = document["places"].get(night["place"])
        lon, lat = (place["lon"], place["lat"]) if place else position_at(geo, leg["end_m"])
        name = one_line(night["name"] or "", None)
        found.append(
            Night(
                leg=leg["number"],
                date=leg["date"],
                arrive=leg["arrive"],
                lon=lon,
                lat=lat,
                chainage_m=leg["end_m"],
                name=f"Night {leg['number']} {name}" if name else f"End of day {leg['number']}",
                words=one_line(night["words"], None),
            )
        )
    return tuple(found)


def visits(document: dict[str, Any]) -> tuple[Visit, ...]:
    """List the stops of a plan document (`resupply-plan/2`), by chainage."""
    bought: dict[str, dict[str, dict[str, Any]]] = {}
    for what, rows in (
        ("food", document["stops"]),
        ("ice", document["ice"]["stops"]),
        ("fuel", document.get("fuel", {}).get("stops", [])),
    ):
        for row in rows:
            bought.setdefault(row["pass"], {})[what] = row
    passes = {row["id"]: row for row in document["passes"]}
    found = [_visit(document, passes[key], rows) for key, rows in bought.items()]
    return tuple(sorted(found, key=lambda visit: visit.chainage_m))


def state_words(visit: Visit) -> str:
    """Open state as the rider reads it; unknown is never "open"."""
    return words_of(visit.state).word


def _visit(
    document: dict[str, Any], passing: dict[str, Any], rows: dict[str, dict[str, Any]]
) -> Visit:
    place = document["places"][passing["place"]]
    food = rows.get("food")
    row = next(iter(rows.values()))
    *others, last = rows
    said = [rows[what]["carry_words" if what == "food" else "words"] for what in rows]
    closes, arrive = passing["next_close"], _time(food["arrive"] if food else row["eta"])
    return Visit(
        number=food["number"] if food else None,
        buys=f"{', '.join(others)} and {last}" if others else last,
        name=one_line(place["name"] or "", None) or f"unnamed {place['kind_words']}",
        kind=one_line(place["kind_words"], None),
        place_id=one_line(passing["place"], None),
        lon=place["lon"],
        lat=place["lat"],
        leg=row["leg"],
        chainage_m=row["chainage_m"],
        detour_m=passing["detour_m"],
        arrive=arrive,
        earliest=_time(passing["eta_early"]),
        latest=_time(passing["eta_late"]),
        leave=_time(food["leave"]) if food else None,
        state=row["state"],
        hours=one_line(row.get("state_words") or passing["state_words"], None),
        closes=_closing(row["state"], arrive, _time(closes)) if closes else None,
        words=one_line(" ".join(said), None),
        if_shut=one_line(food["fallback"]["words"], None) if food else "",
        carry=(food["carry_meals"], food["carry_days"], food["carry_kg"], food["to_chainage_m"])
        if food
        else None,
    )


def _closing(state: str, arrive: dt.datetime, closes: dt.datetime) -> dt.datetime | None:
    """Leave out the closing of another day: an alarm then would be too late, or for nothing."""
    at_hand = state in ("open", "open_unless_holiday", "tight")
    soon = closes - arrive < dt.timedelta(days=1)
    same_day = closes.astimezone(arrive.tzinfo).date() == arrive.date()
    return closes if same_day or (at_hand and soon) else None


def _time(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)
