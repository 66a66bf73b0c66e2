"""Where the plan stops, in order of the route: the rows of the GPX, CSV, calendar and GeoJSON.

In: the plan document. Out: one `Visit` for each food stop and each ice stop, its text made safe
for any file: one line, no control characters, no halves of characters. What a format itself
gives a meaning (markup, commas, formulas) is for its writer to escape.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

__all__ = ["Visit", "clean_line", "state_words", "visits"]

# No characters, a mark that shows nothing, and those that turn round the text after them.
_NONE = "\ufffe\uffff\ufeff\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
_STATES = {"open": "open", "tight": "tight", "shut": "shut", "unknown": "not known"}


@dataclass(frozen=True, slots=True)
class Visit:
    """One planned stop. Text is clean, see `clean_line`, and still hostile."""

    number: int | None
    """Of a food stop; None where only ice is bought."""
    buys: str
    """"food", "food and ice" or "ice"."""
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
    """open, tight, shut or unknown."""
    usual: bool | None
    """Whether such shops are usually open then, where hours are not known; an estimate."""
    hours: str
    """The hours in words."""
    closes: dt.datetime | None
    """End of the opening at hand; None where none is known."""
    words: str
    """What to carry from here, or how sure the ice is."""
    if_shut: str
    carry: tuple[int, float, float, int] | None
    """Meals a person, days, kg in all, and the chainage (m) they must last to."""


def visits(document: dict[str, Any]) -> tuple[Visit, ...]:
    """List the stops of a plan document (`resupply-plan/1`), by chainage."""
    passes = {row["id"]: row for row in document["passes"]}
    with_ice = {row["pass"] for row in document["ice"]["stops"]}
    at_stops = {row["pass"] for row in document["stops"]}
    found = []
    for row in document["stops"]:
        buys = "food and ice" if row["pass"] in with_ice else "food"
        found.append(_visit(document, passes[row["pass"]], row, buys))
    found += [
        _visit(document, passes[row["pass"]], row, "ice")
        for row in document["ice"]["stops"]
        if row["pass"] not in at_stops
    ]
    return tuple(sorted(found, key=lambda visit: visit.chainage_m))


def clean_line(text: str) -> str:
    r"""Text on one line that XML, CSV, calendars and JSON can all hold.

    >>> clean_line("Spar\n\x00 <b>&\ud800")
    'Spar <b>&?'
    """
    spaced = "".join(" " if c.isspace() else c for c in text)
    kept = "".join(c for c in spaced if c >= " " and not "\x7f" <= c < "\xa0" and c not in _NONE)
    return " ".join(kept.encode("utf-8", "replace").decode("utf-8").split())


def state_words(visit: Visit) -> str:
    """Open state as the rider reads it; unknown is never "open"."""
    usual = {True: ", usually open then", False: ", usually shut then", None: ""}[visit.usual]
    return _STATES[visit.state] + usual


def _visit(
    document: dict[str, Any], passing: dict[str, Any], row: dict[str, Any], buys: str
) -> Visit:
    place = document["places"][passing["place"]]
    food = buys != "ice"
    closes = passing["next_close"]
    return Visit(
        number=row["number"] if food else None,
        buys=buys,
        name=clean_line(place["name"] or "") or f"unnamed {place['kind_words']}",
        kind=clean_line(place["kind_words"]),
        place_id=clean_line(passing["place"]),
        lon=place["lon"],
        lat=place["lat"],
        leg=row["leg"],
        chainage_m=row["chainage_m"],
        detour_m=passing["detour_m"],
        arrive=_time(row["arrive"] if food else row["eta"]),
        earliest=_time(passing["eta_early"]),
        latest=_time(passing["eta_late"]),
        leave=_time(row["leave"]) if food else None,
        state=row["state"],
        usual=passing["usual"],
        hours=clean_line(row["state_words"]),
        closes=_time(closes) if closes else None,
        words=clean_line(row["carry_words"] if food else row["words"]),
        if_shut=clean_line(row["fallback"]["words"]) if food else "",
        carry=(row["carry_meals"], row["carry_days"], row["carry_kg"], row["to_chainage_m"])
        if food
        else None,
    )


def _time(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)
