"""Where the plan stops, in order of the route: the rows of the GPX, CSV, calendar and GeoJSON.

In: the plan document. Out: one `Visit` for each stop for food, ice, fuel, water or a meal out, its
text made safe for any file: one line, no control characters, no halves of characters. What a
format itself gives a meaning (markup, commas, formulas) is for its writer to escape.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from resupply.common.show import text
from resupply.common.text import one_line
from resupply.report.document.in_words import shown_in
from resupply.report.document.model.ice import IcePlace
from resupply.report.lines import position_at
from resupply.say.states import words_of

if TYPE_CHECKING:
    from resupply.report.document.model.base import SentenceText
    from resupply.report.document.model.days import MealOutRow
    from resupply.report.document.model.places import PassRow
    from resupply.report.document.model.plan import PlanDocument
    from resupply.report.document.model.stops import StopRow
    from resupply.report.document.model.supplies import FillingStop, WaterGapRow
    from resupply.say.states import StateKey

__all__ = ["Night", "Visit", "nights", "state_words", "visits"]


@dataclass(frozen=True, slots=True)
class Visit:
    """One planned stop. Text is clean, see `common.text`, and still hostile."""

    number: int | None
    """Of a food stop; None where no food is bought."""
    buys: str
    """What is done here: "food and ice", "fuel", "water", "lunch out"."""
    stop: str
    """The same as a title: "Food and ice stop", "Lunch out"."""
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
    state: StateKey
    """Key of its state; see `resupply.say.states`."""
    hours: str
    """The hours in words."""
    closes: dt.datetime | None
    """When the door shuts on the day of arrival, or the opening at hand ends; None where that is
    not known."""
    words: str
    """What to carry from here, how sure the ice is, how far fuel and water have to last."""
    if_shut: str
    carry: tuple[int, float, float | None, int] | None
    """Meals a person, days, kg in all, and the chainage (m) they must last to."""


@dataclass(frozen=True, slots=True)
class Night:
    """Where a day ends. Text is clean, and still hostile."""

    leg: int
    date: dt.date
    arrive: dt.datetime
    """Local time."""
    lon: float
    lat: float
    """Of the camp where one is known, else of the route's point."""
    chainage_m: int
    name: str
    words: str


def nights(plan: PlanDocument, geo: dict[str, Any]) -> tuple[Night, ...]:
    """List the days' ends of a plan document, the last one the end of the route."""
    show, found = shown_in(plan), []
    for leg in plan.legs:
        night = leg.night
        place = plan.places.get(night.place) if night.place else None
        lon, lat = (place.lon, place.lat) if place else position_at(geo, leg.end_m)
        name = one_line(night.name or "", None)
        found.append(
            Night(
                leg=leg.number,
                date=leg.date,
                arrive=leg.arrive,
                lon=lon,
                lat=lat,
                chainage_m=leg.end_m,
                name=f"Night {leg.number} {name}" if name else f"End of day {leg.number}",
                words=one_line(text(night.words, show), None),
            )
        )
    return tuple(found)


def visits(plan: PlanDocument) -> tuple[Visit, ...]:
    """List the stops of a plan document, in order of time."""
    bought: dict[str, _Bought] = {}
    # What stands beside a food shop is served by the same visit.
    pass_of = {stop.number: stop.pass_id for stop in plan.stops}
    for stop in plan.stops:
        bought.setdefault(stop.pass_id, _Bought()).food = stop
    # Without a cooler nobody stops for ice, and no alarm rings for it.
    for place in plan.ice.stops if _has_cooler(plan) else ():
        bought.setdefault(pass_of.get(place.at_stop or 0, place.pass_id), _Bought()).ice = place
    for filling in plan.fuel.stops if plan.fuel else ():
        at = pass_of.get(filling.at_stop or 0, filling.pass_id)
        bought.setdefault(at, _Bought()).fuel = filling
    for water in plan.water.gaps if plan.water else ():
        if water.pass_id is not None:
            bought.setdefault(water.pass_id, _Bought()).water = water
    passes = {row.id: row for row in plan.passes}
    found = [_visit(plan, passes[key], rows) for key, rows in bought.items()]
    # A meal takes its own time, also where something else is bought on the way.
    found += [
        _visit(plan, passes[meal.pass_id], _Bought(meal=meal))
        for meal in plan.eat_out
        if meal.pass_id is not None
    ]
    return tuple(sorted(found, key=lambda visit: (visit.arrive, visit.chainage_m)))


def _has_cooler(plan: PlanDocument) -> bool:
    """Whether there is a cooler on board; the settings hold what is not the default, none."""
    return not {"cooler.kind", "drinks_cooler.kind"}.isdisjoint(plan.trip.settings)


def state_words(visit: Visit) -> str:
    """Open state as the rider reads it; unknown is never "open"."""
    return words_of(visit.state).word


@dataclass(slots=True)
class _Bought:
    """What is done on one occasion."""

    food: StopRow | None = None
    ice: IcePlace | None = None
    fuel: FillingStop | None = None
    water: WaterGapRow | None = None
    meal: MealOutRow | None = None

    def words(self) -> tuple[str, str]:
        """Say what is done, and the same as a title."""
        rows = {"food": self.food, "ice": self.ice, "fuel": self.fuel, "water": self.water}
        names = [what for what, row in rows.items() if row is not None]
        if self.meal is not None:
            return (said := f"{self.meal.meal} out"), said.capitalize()
        *others, last = names
        said = f"{', '.join(others)} and {last}" if others else last
        return said, f"{said.capitalize()} stop"


def _visit(plan: PlanDocument, passing: PassRow, bought: _Bought) -> Visit:
    show, food = shown_in(plan), bought.food
    at = _occasion(passing, bought)
    if at.earliest is None or at.latest is None:
        raise ValueError("a document made while the rider drags has no rows to write")
    said = [text(food.carry_words, show)] if food else []
    told = (bought.ice, bought.fuel, bought.water, bought.meal)
    said += [text(one.words, show) for one in told if one is not None]
    place, closes = plan.places[passing.place], passing.next_close
    buys, title = bought.words()
    return Visit(
        number=food.number if food else None,
        buys=buys,
        stop=title,
        name=one_line(place.name or "", None) or f"unnamed {place.kind_words}",
        kind=one_line(place.kind_words, None),
        place_id=one_line(passing.place, None),
        lon=place.lon,
        lat=place.lat,
        leg=at.leg,
        chainage_m=at.chainage_m,
        detour_m=passing.detour_m,
        arrive=_minute(at.arrive),
        earliest=_minute(at.earliest),
        latest=_minute(at.latest),
        leave=_minute(food.leave) if food else None,
        state=at.state,
        hours=one_line(text(at.hours or (), show), None),
        closes=_closing(at.state, _minute(at.arrive), _minute(closes)) if closes else None,
        words=one_line(" ".join(said), None),
        if_shut=one_line(text(food.fallback.words, show), None) if food else "",
        carry=(food.carry_meals, food.carry_days, food.carry_kg, food.to_chainage_m)
        if food
        else None,
    )


class _Occasion(NamedTuple):
    """When and where something is done, and the door then."""

    leg: int
    chainage_m: int
    arrive: dt.datetime
    earliest: dt.datetime | None
    latest: dt.datetime | None
    state: StateKey
    hours: SentenceText | None


def _occasion(passing: PassRow, bought: _Bought) -> _Occasion:
    early, late = passing.eta_early, passing.eta_late
    if (stop := bought.food) is not None:
        return _Occasion(
            stop.leg, stop.chainage_m, stop.arrive, early, late, stop.state, stop.state_words
        )
    if (row := bought.ice or bought.fuel) is not None:
        hours = row.state_words if isinstance(row, IcePlace) else passing.state_words
        return _Occasion(row.leg, row.chainage_m, row.eta, early, late, row.state, hours)
    where = passing.chainage_m
    if (meal := bought.meal) is not None and meal.at is not None:
        early, late = meal.earliest, meal.latest
        return _Occasion(meal.day, where, meal.at, early, late, meal.state, meal.state_words)
    eta, state, hours = passing.eta, passing.state, passing.state_words
    return _Occasion(passing.leg, where, eta, early, late, state, hours)


def _minute(when: dt.datetime) -> dt.datetime:
    """Cut off seconds, as plan.json does: every file tells the same time."""
    return when.replace(second=0, microsecond=0)


def _closing(state: str, arrive: dt.datetime, closes: dt.datetime) -> dt.datetime | None:
    """Leave out the closing of another day: an alarm then would be too late, or for nothing."""
    at_hand = state in ("open", "open_unless_holiday", "tight")
    soon = closes - arrive < dt.timedelta(days=1)
    same_day = arrive < closes and closes.astimezone(arrive.tzinfo).date() == arrive.date()
    return closes if same_day or (at_hand and soon) else None
