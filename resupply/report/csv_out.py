"""The stops as a table: CSV (RFC 4180) that opens in any spreadsheet, and runs nothing there."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from resupply.report.visits import Visit, state_words, visits

if TYPE_CHECKING:
    import datetime as dt

__all__ = ["COLUMNS", "stops_csv"]

COLUMNS = (
    "stop",
    "buys",
    "day",
    "date",
    "arrive",
    "earliest",
    "latest",
    "leave",
    "name",
    "kind",
    "state",
    "hours",
    "km",
    "detour_km",
    "lon",
    "lat",
    "carry_meals",
    "carry_days",
    "carry_kg",
    "carry_to_km",
    "words",
    "if_shut",
    "map_id",
    "map_data",
)
# A cell that starts so is run as a formula, also in full width.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")

Cell = str | int | float | None


def stops_csv(document: dict[str, Any]) -> str:
    """Write a row for what is carried from home, then one for each stop, in order of the route.

    Times are local; kilometres, kilograms and degrees whatever units the trip shows. Text that a
    spreadsheet would run as a formula gets an apostrophe before it. Starts with a byte order
    mark, without which spreadsheets misread names.
    """
    source = document["attribution"]
    said = f"{source['text']}, {source['data_date'] or 'date unknown'}"
    carry = document["start_carry"]
    start = dict.fromkeys(COLUMNS) | {
        "stop": 0,
        "name": "start",
        "day": 1,
        "date": document["trip"]["start_date"],
        "km": 0.0,
        "carry_meals": carry["meals"],
        "carry_days": round(carry["days"], 2),
        "carry_kg": carry["kg"],
        "carry_to_km": carry["to_chainage_m"] / 1000.0,
        "words": carry["words"],
        "map_data": said,
    }
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\r\n")
    table.writerow(COLUMNS)
    for row in (start, *(_row(visit, said) for visit in visits(document))):
        table.writerow([_safe(row[column]) for column in COLUMNS])
    return "\ufeff" + text.getvalue()


def _row(visit: Visit, source: str) -> dict[str, Cell]:
    meals, days, kg, to_m = visit.carry or (None, None, None, None)
    return {
        "stop": visit.number,
        "buys": visit.buys,
        "day": visit.leg,
        "date": f"{visit.arrive:%Y-%m-%d}",
        "arrive": _clock(visit.arrive),
        "earliest": _clock(visit.earliest),
        "latest": _clock(visit.latest),
        "leave": _clock(visit.leave) if visit.leave else None,
        "name": visit.name,
        "kind": visit.kind,
        "state": state_words(visit),
        "hours": visit.hours,
        "km": visit.chainage_m / 1000.0,
        "detour_km": None if visit.detour_m is None else visit.detour_m / 1000.0,
        "lon": visit.lon,
        "lat": visit.lat,
        "carry_meals": meals,
        "carry_days": None if days is None else round(days, 2),
        "carry_kg": kg,
        "carry_to_km": None if to_m is None else to_m / 1000.0,
        "words": visit.words,
        "if_shut": visit.if_shut,
        "map_id": visit.place_id,
        "map_data": source,
    }


def _clock(when: dt.datetime) -> str:
    return f"{when:%H:%M}"


def _safe(cell: Cell) -> Cell:
    """Put an apostrophe before text that a spreadsheet would run; numbers stay numbers."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell
