"""The cautions of a plan, in order of weight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from resupply.common import quantity as q
from resupply.common.quantity import line, meals, way
from resupply.hours.state import BY_HOURS
from resupply.places.place import Confidence, Supply
from resupply.places.read import reach_m
from resupply.plan.cautions import holidays_unknown, near_edge_m, rows_without_road, without_roads_m
from resupply.report.document.days import loose_m
from resupply.report.document.passes import row_of
from resupply.say import cautions as say
from resupply.say.asked_shops import pin_cautions
from resupply.say.day_facts import meals_out_cautions
from resupply.say.jumps import jump_cautions
from resupply.say.states import state_key
from resupply.say.under_way import on_board_cautions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.common.quantity import Part, Sentence
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
    yield from meals_out_cautions(plan, words)
    yield from _not_sure_open(document, words)
    if holidays_unknown(plan):
        yield say.holidays_not_known()
    yield from _holidays(document)
    yield from _likely_ice(document)
    yield from _likely_fuel(document)
    yield from _heat(document)
    if document.menu is not None and document.menu.unfilled:
        yield f"{meals(len(document.menu.unfilled))} without a dish: see the menu for the reason."
    yield from _overload(document.load)
    yield from _bikes_over(document)
    yield from _no_roads(plan, words)
    yield from document.route.warnings
    yield from _of_days(document)
    # After all that matters more.
    if length_m := near_edge_m(plan):
        yield say.map_ends(reach_m(plan.trip), length_m)


def _heat(document: PlanDocument) -> Iterator[Sentence]:
    """Tell where the water is counted without knowing the heat."""
    days = document.water.unknown_heat if document.water else ()
    if days:
        yield say.unknown_heat(len(days), len(document.legs))


def _not_sure_open(document: PlanDocument, words: Words) -> Iterator[Sentence]:
    """Name every stop for food, ice or fuel that may be shut when the rider arrives.

    That it may be a public holiday is said once, of all of them.
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
            names = [words.named(row) for row in where]
            yield say.may_be_shut(names, [words.can_ring(row) for row in where], instead)


def _of_days(document: PlanDocument) -> Iterator[Part]:
    """Cautions of the days; loose surface on many of them is one line."""
    loose = [leg for leg in document.legs if loose_m(leg.surface)]
    together = len(loose) > say.MOST_NAMED
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


def _holidays(document: PlanDocument) -> Iterator[Sentence]:
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
            yield say.holiday_unsaid(number, len(silent), len(passed[number]))


def _overload(load: LoadDocument | None) -> Iterator[Part]:
    for over in load.over if load is not None else ():
        peak: LoadPointRow = getattr(load, over.peak)
        yield line(
            "{when}, {label}: {over}.",
            when=q.day_time(peak.when),
            label=peak.label,
            over=over.words,
        )


def _bikes_over(document: PlanDocument) -> Iterator[Sentence]:
    """Tell of each bike over its load or room: where it is most, and at how many stops."""
    stops = document.packing.stops if document.packing else ()
    over: dict[str, list[tuple[float, Sentence]]] = {}
    for stop in stops:
        for bike in stop.bikes:
            if bike.over_words:
                said = line("{when}, {over}", when=q.day_time(stop.when), over=bike.over_words)
                full = max(bike.mass_kg / bike.load_kg, bike.room_l / bike.has_l)
                over.setdefault(bike.name, []).append((full, said))
    for told in over.values():
        worst = max(told, key=lambda one: one[0])[1]
        more = f" (so leaving {len(told)} of {len(stops)} stops)" if len(told) > 1 else None
        yield line("{worst}{more}.", worst=worst, more=more)


def _no_roads(plan: TripPlan, words: Words) -> Iterator[Sentence]:
    """Tell of places that are left out as no road is known, and of ways that are estimates."""
    names = {words.place(row).id: q.name(words.name(row)) for row in rows_without_road(plan)}
    if names:
        yield say.no_road_to(list(names.values()))
    missing_m = without_roads_m(plan)
    if missing_m is not None:
        yield say.roads_not_known(missing_m)


def _likely_ice(document: PlanDocument) -> Iterator[Sentence]:
    """Ice that the food rests on and that the map does not state."""
    doubtful = [
        q.name(buy.label)
        for cooler in coolers_of(document)
        for buy in cooler.purchases
        if cooler.safety and buy.doubt_words
    ]
    if doubtful:
        yield say.ice_likely(doubtful)


def _likely_fuel(document: PlanDocument) -> Iterator[Sentence]:
    """Stations of the plan whose tags name other fuels, not what the tank takes."""
    stops = _filling_stops(document)
    names = [q.name(stop.name) for stop in stops if stop.confidence != Confidence.STATED.value]
    if names:
        yield say.fuel_likely(names)
