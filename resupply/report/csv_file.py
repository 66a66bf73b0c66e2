"""The stops as a table: CSV (RFC 4180) that opens in any spreadsheet, and runs nothing there."""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING, Final

from resupply.common.show import text
from resupply.report.document.in_words import shown_in
from resupply.report.document.visits import Visit, state_words, visits

if TYPE_CHECKING:
    import datetime as dt

    from resupply.report.document.model.plan import PlanDocument

__all__ = ["COLUMNS", "stops_csv"]

COLUMNS: Final = {
    "stop": "Number of the food stop; 0 is the start, empty where no food is bought",
    "buys": "Food, ice, fuel and water, as far as they are taken on there; or a meal out",
    "day": "Riding day",
    "date": "Date",
    "arrive": "Local time of arrival",
    "earliest": "Earliest likely arrival",
    "latest": "Latest likely arrival",
    "leave": "Local time of leaving, for food stops",
    "name": "Name on the map, or kind where it has none",
    "kind": "Kind of place",
    "state": "Open state on arrival in words, and what is usual where it is not known",
    "hours": "Hours in words",
    "km": "Chainage, kilometres",
    "detour_km": "Way there and back, kilometres",
    "lon": "Longitude, degrees (WGS84)",
    "lat": "Latitude, degrees (WGS84)",
    "carry_meals": "Meals to eat for each rider, carried from there; spare ones not counted",
    "spare_meals": "Spare meals for each rider, on top of them",
    "carry_days": "Days of food on board from there, the spare meals with it",
    "carry_kg": "Food for all, the spare meals with it, kilograms",
    "carry_to_km": "Chainage it must last to, kilometres",
    "words": "What to carry, how sure the ice is, how far fuel and water have to last",
    "if_shut": "What to do if a food stop is shut",
    "map_id": "Id of the place on the map",
    "map_data": "Source and date of the map data",
}
"""Every column and its meaning."""

# A cell that starts so is run as a formula, also in full width.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")

# The same behind a mark at which some spreadsheets split.
_INNER = re.compile(r"([;\t|]\s*)(?=[=+\-@＝＋－＠])")

Cell = str | int | float | None


def stops_csv(plan: PlanDocument) -> str:
    """Write a row for what is carried from home, then one for each stop, in order of the route.

    Times are local; kilometres, kilograms and degrees whatever units the trip shows. Text that a
    spreadsheet would run as a formula gets an apostrophe before it. Starts with a byte order
    mark, without which spreadsheets misread names.
    """
    source = plan.attribution
    said = f"{source.text}, {source.data_date or 'date unknown'}"
    carry = plan.start_carry
    start = dict.fromkeys(COLUMNS) | {
        "stop": 0,
        "name": "start",
        "day": plan.legs[0].number,
        "date": plan.legs[0].date.isoformat(),
        "km": plan.legs[0].start_m / 1000.0,
        "carry_meals": carry.meals,
        "spare_meals": plan.spare.meals,
        "carry_days": round(carry.days, 2),
        "carry_kg": carry.kg,
        "carry_to_km": carry.to_chainage_m / 1000.0,
        "words": text(carry.words, shown_in(plan)),
        "map_data": said,
    }
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\r\n")
    table.writerow(COLUMNS)
    spare = plan.spare.meals
    for row in (start, *(_row(visit, spare, said) for visit in visits(plan))):
        table.writerow([_safe(row[column]) for column in COLUMNS])
    return "\ufeff" + out.getvalue()


def _row(visit: Visit, spare: int, source: str) -> dict[str, Cell]:
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
        "spare_meals": None if meals is None else spare,
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
    """Put an apostrophe before text that a spreadsheet would run; numbers stay numbers.

    Some spreadsheets split cells at other marks than the comma, so what follows one is a cell too.
    """
    if not isinstance(cell, str):
        return cell
    cell = _INNER.sub(r"\1'", cell)
    return f"'{cell}" if cell.startswith(_FORMULA) else cell
