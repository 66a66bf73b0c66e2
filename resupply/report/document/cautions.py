"""The cautions of a plan, in order of weight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.common import quantity as q
from resupply.common.quantity import line, listed, meals, way
from resupply.hours.state import BY_HOURS, OpenState
from resupply.places.place import Confidence, Supply
from resupply.places.read import reach_m
from resupply.report.document.days import loose_m
from resupply.report.document.passes import row_of
from resupply.say.asked_shops import pin_cautions
from resupply.say.jumps import jump_cautions
from resupply.say.states import state_key
from resupply.say.under_way import on_board_cautions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.common.quantity import Part, Quantity, Sentence
    from resupply.plan.pipeline import TripPlan
    from resupply.report.document.model.cold import CoolerRow
    from resupply.report.document.model.ice import IcePlace
    from resupply.report.document.model.load import LoadDocument, LoadPointRow
    from resupply.report.document.model.plan import PlanDocument
    from resupply.report.document.model.stops import StopRow
    from resupply.report.document.model.supplies import FillingStop, WaterOnBoard
    from resupply.say.names import Words

__all__ = ["cautions", "coolers_of", "water_on_board"]

_FOOD = {Supply.GROCERIES, Supply.SMALL_GROCERIES}
_NEEDED = (Supply.GROCERIES, Supply.SMALL_GROCERIES, Supply.ICE, Supply.WATER, Supply.FUEL)
_MOST_NAMED = 4
"""Our choice: more names in one sentence are not read."""
_ROADLESS_M = 5_000.0
"""So much of a route may lie beside the roads of the map, on a ferry or a new road, unsaid."""


def coolers_of(document: PlanDocument) -> tuple[CoolerRow, ...]:
    """Coolers of a plan, food first; none where none is planned."""
    return document.cold.coolers if document.cold else ()


def water_on_board(document: PlanDocument) -> WaterOnBoard | None:
    """Water on board of a rider under way; None at home."""
    return document.water.on_board if document.water else None


def _filling_stops(document: PlanDocument) -> tuple[FillingStop, ...]:
    return document.fuel.stops if document.fuel else ()


def cautions(plan: TripPlan, document: PlanDocument, words: Words) -> Iterator[Part]:
    """Give what a rider should know before all else, the most weighty first."""
    fuel = document.fuel
    if fuel is not None and fuel.exceeded:
        yield fuel.words
    yield from (short.words for short in document.shortfalls)
    yield from jump_cautions(plan)
    yield from on_board_cautions(
        plan, water_on_board(document), words, tank=fuel.tank_words if fuel else None
    )
    if document.coverage.unknown:
        yield document.coverage.words
    yield from document.coverage.warnings
    if document.cold is not None:
        yield from document.cold.weather.problems
    for cooler in coolers_of(document):
        fails = cooler.state in ("fails", "too full")
        if cooler.safety and (fails or cooler.no_ice_from or cooler.room.over_l):
            yield cooler.verdict
    yield from pin_cautions(plan, words)
    yield from _not_sure_open(document, words)
    yield from _no_calendar(plan)
    yield from _holidays(document)
    yield from _likely_ice(document)
    yield from _likely_fuel(document)
    yield from _heat(document)
    if document.menu is not None and document.menu.unfilled:
        yield f"{meals(len(document.menu.unfilled))} without a dish: see the menu for the reason."
    yield from _overload(document.load)
    yield from _no_roads(plan, words)
    yield from document.route.warnings
    yield from _of_days(document)
    if document.naive.shut:
        yield document.naive.words
    yield from _near_edge(plan)


def _near_edge(plan: TripPlan) -> Iterator[Part]:
    """Tell, after all that matters more, where the data ends close to the route."""
    here_m = plan.legs[0].start_m
    ends = [(max(s.start_m, here_m), s.end_m) for s in plan.prepared.places.coverage.near_edge]
    length_m = sum(max(end_m - start_m, 0.0) for start_m, end_m in ends)
    if length_m:
        yield line(
            "The map extract ends within {reach} of the route on {far} of it: places beyond its "
            "edge are not known.",
            reach=way(reach_m(plan.trip)),
            far=way(length_m),
        )


def _heat(document: PlanDocument) -> Iterator[str]:
    """Tell where the water is counted without knowing the heat."""
    days = document.water.unknown_heat if document.water else ()
    if days:
        legs = len(document.legs)
        which = "any day" if len(days) == legs else f"{len(days)} of {legs} days"
        yield (
            f"No heat is known for {which}: the water there is counted for cool days. Carry more "
            "if it is hot."
        )


def _not_sure_open(document: PlanDocument, words: Words) -> Iterator[Sentence]:
    """Name every stop for food, ice or fuel that may be shut when the rider arrives.

    That it may be a public holiday is said once, of all of them; see `_no_calendar`.
    """
    by_hours = {state_key(state) for state in BY_HOURS}
    needs: dict[str, Sequence[StopRow | IcePlace | FillingStop]] = {
        "count on what is spare": document.stops,
        "buy food that keeps": [row for row in document.ice.stops if row.buy],
        "fill up earlier": _filling_stops(document),
    }
    told: set[str] = set()
    for instead, rows in needs.items():
        doubtful = {row.pass_id for row in rows if row.state not in by_hours} - told
        told |= doubtful
        where = sorted(row_of(key) for key in doubtful)
        if where:
            numbers = [words.can_ring(row) for row in where]
            ring = "Ring ahead, or " if all(numbers) else "Ring where there is a number, or "
            said = f"{ring if any(numbers) else ''}{instead}"
            yield line(
                "{places} may be shut when you arrive. {do}.",
                places=_few([words.named(row) for row in where]),
                do=f"{said[0].upper()}{said[1:]}",
            )


def _few(names: list[Quantity]) -> Sentence:
    left = len(names) - _MOST_NAMED
    more = f" and {left} more" if left > 0 else None
    return line("{names}{more}", names=listed(names[:_MOST_NAMED]), more=more)


def _first_few(names: list[str]) -> str:
    left = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {left} more" if left > 0 else "")


def _no_calendar(plan: TripPlan) -> Iterator[str]:
    """Tell that public holidays, on which many doors are shut, are not known where it matters."""
    timetable, prepared = plan.prepared.timetable, plan.prepared
    counted = np.any([prepared.supply[kind] for kind in _NEEDED], axis=0)
    ahead = prepared.passes.chainage_m >= plan.legs[0].start_m
    shown = np.isin(plan.risk, (*BY_HOURS, OpenState.TIGHT)) & counted & ahead
    places = prepared.passes.place_ix[shown]
    if timetable is not None and not timetable.has_calendar[places].all():
        yield (
            "Public holidays are not known on part of the route: what is open by its hours may be "
            "shut on one. Ask before you ride."
        )


def _of_days(document: PlanDocument) -> Iterator[Part]:
    """Cautions of the days; loose surface on many of them is one line."""
    loose = [leg for leg in document.legs if loose_m(leg.surface)]
    together = len(loose) > _MOST_NAMED
    for leg in document.legs:
        # What is said of the surface stands last.
        told = leg.cautions[:-1] if together and leg in loose else leg.cautions
        for said in told:
            yield line("Day {number}: {said}", number=leg.number, said=said)
    if together:
        most = max(loose, key=lambda leg: loose_m(leg.surface))
        yield line(
            "Gravel or track on {days}, {far} in all; most on day {number}: {most}.",
            days=q.days(len(loose)),
            far=way(sum(loose_m(leg.surface) for leg in loose)),
            number=most.number,
            most=way(loose_m(most.surface)),
        )


def _holidays(document: PlanDocument) -> Iterator[str]:
    """Name the days that are public holidays, of which most hours on the map say nothing."""
    places = document.places
    food = {key for key, place in places.items() if not _FOOD.isdisjoint(place.supplies)}
    passed: dict[int, set[str]] = {leg.number: set() for leg in document.legs}
    unsaid: dict[int, set[str]] = {number: set() for number in passed}
    # Once over the passes, not once for each day: a long trip has thousands.
    for row in document.passes:
        if row.place in food and row.leg in passed:
            passed[row.leg].add(row.place)
            if row.holiday_unsaid:
                unsaid[row.leg].add(row.place)
    for number, silent in unsaid.items():
        if silent:
            yield (
                f"Day {number} falls on a public holiday: the hours of {len(silent)} of the "
                f"{len(passed[number])} shops you pass say nothing of it, and they may be shut."
            )


def _overload(load: LoadDocument | None) -> Iterator[Part]:
    for over in load.over if load is not None else ():
        peak: LoadPointRow = getattr(load, over.peak)
        yield line(
            "{when}, {label}: {over}.",
            when=q.day_time(peak.when),
            label=peak.label,
            over=over.words,
        )


def _no_roads(plan: TripPlan, words: Words) -> Iterator[Part]:
    """Tell of places that are left out as no road is known, and of ways that are estimates."""
    prepared, here_m = plan.prepared, plan.legs[0].start_m
    counted = np.any([prepared.supply[kind] for kind in _NEEDED], axis=0)
    ahead = prepared.passes.chainage_m >= here_m
    lost = np.flatnonzero(counted & ahead & ~prepared.reachable).tolist()
    names = list({words.place(row).id: words.name(row) for row in lost}.values())
    if names:
        yield (
            f"The map shows no road to {_first_few(names)}, so the plan does not use "
            f"{'it' if len(names) == 1 else 'them'}."
        )
    if not (counted & ahead).any():
        return
    holes = prepared.roads.matched.unmatched if prepared.roads is not None else None
    if holes is None:
        where = line("on this map")
    else:
        missing_m = sum(max(s.end_m - max(s.start_m, here_m), 0.0) for s in holes)
        if missing_m < _ROADLESS_M:
            return
        where = line("under {far} of the way", far=way(missing_m))
    yield line(
        "No roads are known {where}: the ways to places there are estimates by straight line, and "
        "a river or a ridge may lie between.",
        where=where,
    )


def _likely_ice(document: PlanDocument) -> Iterator[str]:
    """Ice that the food rests on and that the map does not state."""
    doubtful = [
        buy
        for cooler in coolers_of(document)
        for buy in cooler.purchases
        if cooler.safety and buy.doubt_words
    ]
    if len(doubtful) == 1:
        yield (
            f"Ice at {doubtful[0].label} is likely, not certain: ask there, or buy food that keeps."
        )
    if len(doubtful) > 1:
        names = ", ".join(buy.label for buy in doubtful)
        yield f"Ice is likely, not certain, at {names}: ask there, or buy food that keeps."


def _likely_fuel(document: PlanDocument) -> Iterator[str]:
    """Stations of the plan whose tags name other fuels, not what the tank takes."""
    stops = _filling_stops(document)
    names = [stop.name for stop in stops if stop.confidence != Confidence.STATED.value]
    if names:
        yield (
            f"The map does not name your fuel at {_first_few(names)}: it is likely, not certain. "
            "Ask ahead, or fill up before."
        )
