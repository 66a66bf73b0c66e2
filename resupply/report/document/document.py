"""The plan as one JSON document, schema `resupply-plan/2`: docs/results.md describes it.

In: a `TripPlan`. Out: a `PlanDocument`, SI units in the names, sentences as lists of words and
quantities; `resupply.report.document.model.as_json` writes it.
Every report (map, terminal, GPX, page) is made from this document alone.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from resupply.common.quantity import as_sentence, line, listed, way
from resupply.common.toml_file import dotted
from resupply.common.version import __version__
from resupply.kitchen.cold.ice_plan import IceState
from resupply.kitchen.on_board import food_weight
from resupply.places.place import Supply
from resupply.report.document.answers import answers
from resupply.report.document.days import day_rows, meal_out_rows
from resupply.report.document.gaps import gap_block, ice_block
from resupply.report.document.ice import ice_buys
from resupply.report.document.kitchen import kitchen_blocks
from resupply.report.document.loads import carry_profile, spare_block, start_mass_words, style_rows
from resupply.report.document.model.answers import FirstAnswer, FirstAnswers
from resupply.report.document.model.plan import (
    Attribution,
    CoverageDocument,
    DailyDistances,
    PaceRow,
    PlanDocument,
    ReadingRules,
    RouteDocument,
    RouteJump,
    RouteMark,
    TripDocument,
    UnknownSpan,
)
from resupply.report.document.model.stops import StartCarry
from resupply.report.document.model.summary import Summary
from resupply.report.document.passes import pass_rows, place_rows
from resupply.report.document.stops import (
    naive_block,
    shortfall_rows,
    stop_rows,
)
from resupply.report.document.summary import summary
from resupply.report.document.supplies import fuel_block
from resupply.route.jumps import crossings_of
from resupply.say.jumps import jump_notes
from resupply.say.names import Words
from resupply.say.under_way import start_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan

__all__ = ["SCHEMA", "plan_document"]

SCHEMA: Final = "resupply-plan/2"
"""Name and version of the plan document; described in docs/results.md."""
_COPYRIGHT = "https://www.openstreetmap.org/copyright"


def plan_document(
    plan: TripPlan,
    kitchen: KitchenPlan | None = None,
    *,
    quick: bool = False,
    gap_lists: bool = True,
    notes: Iterable[str] = (),
) -> PlanDocument:
    """Make the document of a plan, and of its kitchen where that is planned.

    Parameters
    ----------
    quick
        While the rider drags: without places (they stay), the words of passes that are no stops,
        and those of short gaps.
    gap_lists
        Whether to list all gaps, or the longest only.
    notes
        Sentences to put before the plan's own cautions.
    """
    words = Words(plan)
    weights = food_weight(plan.trip, plan.supply, kitchen)
    buys = ice_buys(kitchen, plan.clock) if kitchen is not None else None
    cooked = kitchen_blocks(plan, kitchen, words) if kitchen is not None else None
    document = PlanDocument(
        schema=SCHEMA,
        made_with=f"resupply {__version__}",
        trip=_trip(plan),
        summary=Summary(headline=line(""), facts=(), cautions=()),
        answers=_UNANSWERED,
        route=_route(plan),
        coverage=_coverage(plan),
        legs=day_rows(plan, words, kitchen.weather if kitchen else ()),
        places={} if quick else place_rows(plan),
        passes=pass_rows(plan, words, quick=quick),
        start_carry=StartCarry(
            meals=plan.supply.start_carry_meals,
            on_board_meals=plan.supply.asked.start_meals,
            days=plan.supply.days_with(plan.supply.start_carry_meals),
            kg=weights.start_kg,
            kg_words=start_mass_words(weights),
            words=start_words(plan, words),
            to_chainage_m=round(plan.supply.start_to_m),
        ),
        stops=stop_rows(plan, words, weights, buys or {}),
        carry_profile=carry_profile(plan),
        gaps={
            str(kind): gap_block(plan, words, kind, quick=quick, lists=gap_lists)
            for kind in plan.gaps
        },
        shortfalls=shortfall_rows(plan, words),
        spare=spare_block(plan, words, weights),
        eat_out=meal_out_rows(plan, words),
        styles=style_rows(plan, cooked=kitchen is not None),
        naive=None if quick else naive_block(plan, words),
        ice=ice_block(plan, words, buys, short=_cooler_fails(kitchen)),
        explain=ReadingRules(rules=tuple(as_sentence(rule) for rule in _RULES)),
        attribution=Attribution(
            text="© OpenStreetMap contributors, ODbL",
            url=_COPYRIGHT,
            data_date=plan.prepared.places.coverage.data_date,
        ),
        sweep=_sweep(plan) if plan.sweep else None,
        fuel=fuel_block(plan, plan.fuel, words) if plan.fuel is not None else None,
        water=cooked.water if cooked else None,
        cold=cooked.cold if cooked else None,
        care=cooked.care if cooked else None,
        menu=cooked.menu if cooked else None,
        shopping=cooked.shopping if cooked else None,
        packing=cooked.packing if cooked else None,
        load=cooked.load if cooked else None,
    )
    told = summary(plan, document, words)
    cautions = (*map(as_sentence, notes), *told.cautions)
    return replace(
        document,
        summary=replace(told, cautions=cautions),
        answers=answers(plan, document, words),
    )


_NOTHING: Final = FirstAnswer(
    figure=line(""), question=line(""), answer=line(""), detail=line(""), tone="plain"
)
_UNANSWERED: Final = FirstAnswers(shops=(), stretch=_NOTHING, ice=_NOTHING)
"""Until the rows are there from which the answers are read."""


def _cooler_fails(kitchen: KitchenPlan | None) -> bool:
    return kitchen is not None and kitchen.food_ice.state is IceState.FAILS


_RULES = (
    "Open means open by the stated hours however early or late you are within the arrival window.",
    "Tight means the door may be shut or about to shut: minutes decide.",
    "Not known means the map has no hours that can be read. It is never taken for open.",
    "Usually open or shut is an estimate from a table of usual hours, never a statement.",
    "A food shop that is shut when you pass, or usually shut then, shortens no gap.",
    "The longest stretch counts full shops; a bakery or a farm shop does not end it.",
    "If the map shows roads but none to a place, the plan does not rely on that place.",
)


def _trip(plan: TripPlan) -> TripDocument:
    trip, route = plan.trip, plan.prepared.route
    settings = trip.model_dump(mode="json", exclude_defaults=True)
    identity = json.dumps([settings, route.name, round(route.length_m)], sort_keys=True)
    return TripDocument(
        id=hashlib.sha256(identity.encode("utf-8", "replace")).hexdigest()[:12],
        name=trip.name or route.name,
        units=trip.show.units,
        clock=trip.show.clock,
        people=trip.party.people,
        start_date=plan.legs[0].date,
        days=(plan.legs[-1].date - plan.legs[0].date).days + 1,
        daily_m=round(trip.pace.daily_km * 1000.0),
        speed_kmh=round(plan.legs[0].ride_time.average_kmh, 1),
        speed_source=plan.legs[0].ride_time.source,
        style=trip.food.style,
        carry_limit_days=trip.food.carry_limit_days,
        carry_habit_days=trip.food.carry_habit_days,
        corridor_m=round(trip.map.corridor_km * 1000.0),
        country=trip.region.country,
        time_zone=trip.region.time_zone,
        # Miles and °F of the trip file leave long decimals.
        settings={
            key: float(f"{value:.6g}") if isinstance(value, float) else value
            for key, value in dotted(settings).items()
        },
    )


def _route(plan: TripPlan) -> RouteDocument:
    route = plan.prepared.route
    return RouteDocument(
        name=route.name,
        length_m=round(route.length_m),
        warnings=(*map(as_sentence, route.warnings), *jump_notes(plan)),
        breaks=tuple(
            RouteJump(
                chainage_m=round(one.chainage_m),
                length_m=round(one.length_m),
                kind=one.kind,
                crossing_s=round(one.crossing_s),
            )
            for one in crossings_of(route, plan.trip.jumps, plan.legs[0].ride_time.average_kmh)
        ),
        marks=tuple(
            RouteMark(name=m.name, lon=round(m.lon, 5), lat=round(m.lat, 5)) for m in route.marks
        ),
    )


def _coverage(plan: TripPlan) -> CoverageDocument:
    coverage, here_m = plan.prepared.places.coverage, plan.legs[0].start_m
    ahead = [s for s in coverage.unknown if s.end_m > here_m]
    missing_m = sum(s.end_m - max(s.start_m, here_m) for s in ahead)
    which = "route" if plan.trip.now.at_km is None else "way ahead"
    if missing_m:
        said = line(
            "Map data is missing on {far} of the {which}. Whether there are shops is not known "
            "there.",
            far=way(missing_m),
            which=which,
        )
    else:
        said = line(
            "Map data covers the whole {which} ({source}).", which=which, source=coverage.source
        )
    return CoverageDocument(
        source=coverage.source,
        data_date=coverage.data_date,
        unknown=tuple(
            UnknownSpan(
                start_m=round(max(s.start_m, here_m)),
                end_m=round(s.end_m),
                reason=as_sentence(s.reason),
            )
            for s in ahead
        ),
        warnings=tuple(as_sentence(said) for said in plan.prepared.places.warnings),
        words=said,
    )


def _sweep(plan: TripPlan) -> DailyDistances:
    rows: list[PaceRow] = []
    chosen_m = plan.trip.pace.daily_km * 1000.0
    first = plan.legs[0].date
    # Where no shop can be known, no distance is better for shops than another.
    known = any(gap.end_row >= 0 for gap in plan.gaps[Supply.SMALL_GROCERIES])
    for row in plan.sweep:
        o = row.outcome
        rows.append(
            PaceRow(
                daily_m=round(o.daily_m),
                start_date=o.start_date,
                weekday=f"{o.start_date:%A}",
                days=o.days,
                stops=o.stops,
                max_carry_meals=o.max_carry_meals,
                max_carry_days=plan.supply.days_with(o.max_carry_meals),
                excess_meals=o.excess_meals,
                extra_s=o.extra_min * 60,
                shut_on_arrival=o.shut_on_arrival,
                doubtful_stops=o.doubtful_stops,
                best=tuple(row.best) if known else (),
                chosen=abs(o.daily_m - chosen_m) < 1.0 and o.start_date == first,
            )
        )
    named = [
        line(
            "{best}: {far} a day ({weekday} start)",
            best=best,
            far=way(r.daily_m),
            weekday=r.weekday,
        )
        for r in rows
        for best in r.best
    ]
    none = "No shop is known on the way: the distances cannot be compared by shops"
    told = listed(named, "; ") if known else none
    # To know them, ice and meals of every distance would have to be planned.
    ice = " Stops that only the cooler asks for are left out of this comparison."
    asked = plan.supply.asked.ice_rows
    said = line("{told}.{ice}", told=told, ice=ice if asked else None)
    return DailyDistances(rows=tuple(rows), words=said)
