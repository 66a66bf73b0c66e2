"""Fuel and water of a plan as document blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from resupply.hours.state import OpenState
from resupply.kitchen.on_board import trip_day, water_days
from resupply.report.document.model.supplies import (
    BeyondRange,
    FillingStop,
    FuelDocument,
    WaterDayRow,
    WaterDocument,
    WaterFillRow,
    WaterGapRow,
    WaterOnBoard,
)
from resupply.report.document.passes import pass_id
from resupply.say.fuel import beyond_range, fill_up, fuel_words, sold, tank_words
from resupply.say.states import state_key
from resupply.say.water import most_water, water_on_board, water_to_take
from resupply.supply.spots import apart_m
from resupply.supply.water import water_mask, water_shut

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from resupply.kitchen.food.rations import WaterNeed
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.fuel_range import FuelPlan
    from resupply.supply.water import WaterGap

__all__ = ["fuel_block", "water_block", "water_shops", "with_water"]


def fuel_block(plan: TripPlan, fuel: FuelPlan, words: Words) -> FuelDocument:
    """Say where to fill up; stretches beyond the range come first."""
    start_m = plan.legs[0].start_m
    rows = np.array([stop.row for stop in fuel.stops], dtype=np.int64)
    legs = plan.clock.leg_ix(plan.prepared.passes.chainage_m[rows])
    stops = tuple(
        FillingStop(
            pass_id=pass_id(stop.row),
            name=words.name(stop.row),
            leg=plan.legs[int(leg)].number,
            chainage_m=words.chainage_m(stop.row),
            since_m=round(stop.since_m),
            eta=words.local(stop.row, float(plan.arrive_s[stop.row])),
            state=state_key(int(plan.risk[stop.row])),
            joined=stop.joined,
            at_stop=_at_stop(plan, stop.row, words) if stop.joined else None,
            confidence=sold(words.place(stop.row), plan.trip.fuel.takes).value,
            words=fill_up(plan, stop, words, first=stop is fuel.stops[0]),
        )
        for stop, leg in zip(fuel.stops, legs.tolist(), strict=True)
    )
    longest = max(fuel.gaps, key=lambda gap: gap.road_m)
    keys = plan.trip.fuel
    return FuelDocument(
        range_m=round((keys.range_km or 0.0) * 1000.0),
        reserve_m=round(keys.reserve_km * 1000.0),
        tank_m=None if fuel.tank_m is None else round(fuel.tank_m),
        tank_words=tank_words(plan, fuel, words),
        stops=stops,
        longest_gap_m=round(longest.road_m),
        exceeded=tuple(
            BeyondRange(
                start_m=round(gap.start_m + start_m),
                end_m=round(gap.end_m + start_m),
                words=beyond_range(plan, fuel, gap, words),
            )
            for gap in fuel.shortfalls
        ),
        words=fuel_words(plan, fuel, words),
    )


def _at_stop(plan: TripPlan, row: int, words: Words) -> int | None:
    """Give the number of the food stop beside which a station stands: one visit serves both."""
    here = words.place(row)
    near = min(plan.supply.stops, key=lambda s: apart_m(here, words.place(s.row)), default=None)
    return near.number if near is not None else None


def with_water(plan: TripPlan) -> NDArray[np.bool_]:
    """Tell which passes have water that counts when the rider is there."""
    untreated = plan.trip.food.untreated_water
    return water_mask(plan.prepared, untreated=untreated, arrive_s=plan.arrive_s, risk=plan.risk)


def water_shops(plan: TripPlan) -> list[tuple[float, int]]:
    """List the food stops at which water is bought too: where along the route, and their rows.

    Full shops whose stated hours say that they are open; of others nobody can be sure.
    """
    return [
        (stop.on_board_m, stop.row)
        for stop in plan.supply.stops
        if stop.full and stop.risk == OpenState.OPEN
    ]


def water_block(
    plan: TripPlan, needs: Mapping[int, WaterNeed], gaps: Sequence[WaterGap], words: Words
) -> WaterDocument:
    """Litres by day, and what to take on from each place with water to the next."""
    rows, unknown_heat = [], []
    stays = [1 + leg.rest_days_before for leg in plan.legs[1:]]
    days = water_days(plan.trip, plan.clock, needs)
    for leg, day, nights in zip(plan.legs, days, [*stays, 0], strict=True):
        need = needs[trip_day(plan.trip, plan.clock, leg.date)]
        if not need.heat_known:
            unknown_heat.append(leg.number)
        litres = need.drink_l + need.cook_l
        rows.append(
            WaterDayRow(
                leg=leg.number,
                litres=round(litres, 1),
                road_l=round(day.road_l, 2),
                camp_l=round(day.camp_l * nights, 2),
                words=need.why,
            )
        )
    most = max(gaps, key=lambda gap: gap.litres)
    shut = water_shut(plan.prepared, with_water(plan), untreated=plan.trip.food.untreated_water)
    on_board = None
    if plan.trip.now.at_km is not None:
        until = plan.legs[int(plan.clock.leg_ix([gaps[0].end_m])[0])].number
        hot = any(number <= until for number in unknown_heat)
        on_board = _water_on_board(plan, gaps[0], words, maybe_hot=hot)
    return WaterDocument(
        litres_by_day=tuple(rows),
        every_day=next(iter(needs.values())).most,
        unknown_heat=tuple(unknown_heat),
        gaps=tuple(_gap_row(gap, words) for gap in gaps if gap.litres >= 1.0),
        fills=tuple(_fill_row(gap) for gap in gaps),
        longest=_gap_row(most, words),
        words=most_water(most, words, n_shut=shut),
        on_board=on_board,
    )


def _water_on_board(
    plan: TripPlan, first: WaterGap, words: Words, *, maybe_hot: bool
) -> WaterOnBoard:
    """Whether what is on board lasts to the first place with water; None where not known."""
    have_l, lasts = plan.trip.now.water_l, None
    if have_l is not None:
        lasts = have_l >= first.litres
        if lasts and maybe_hot:
            lasts = None
    return WaterOnBoard(
        litres=have_l,
        needed_l=round(first.litres, 1),
        lasts=lasts,
        words=water_on_board(first, have_l, words, maybe_hot=maybe_hot),
    )


def _fill_row(gap: WaterGap) -> WaterFillRow:
    return WaterFillRow(
        pass_id=pass_id(gap.start_row) if gap.start_row >= 0 else None,
        start_m=round(gap.start_m),
        litres=round(gap.litres, 1),
    )


def _gap_row(gap: WaterGap, words: Words) -> WaterGapRow:
    return WaterGapRow(
        pass_id=pass_id(gap.start_row) if gap.start_row >= 0 else None,
        buy=gap.buy,
        start_m=round(gap.start_m),
        end_m=round(gap.end_m),
        litres=round(gap.litres, 1),
        dry_camps=gap.dry_camps,
        treat=gap.treat,
        crosses_unknown=gap.crosses_unknown,
        words=water_to_take(gap, words),
    )
