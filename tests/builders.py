"""Small invented trips for tests: a straight road, shops at given kilometres, a fixed judge."""

from __future__ import annotations

import datetime as dt

import numpy as np

from resupply.hours.state import OpenState
from resupply.route.clock import MealTimes, RideClock, make_clock
from resupply.route.legs import Leg, Pace, RideTime, SetOut, leg_ends_m, make_legs
from resupply.supply.candidates import MEALS_OF_FULL, MEALS_OF_SMALL, Candidates, Judged
from resupply.supply.food_stops import SupplyInput, SupplyPlan, plan_supply
from resupply.supply.visit_options import Asked, make_options
from resupply.trip.choice import ChanceKeys, ChoiceKeys

FRIDAY = dt.date(2027, 7, 9)
SPEED_KMH = 50.0
NO_MEAL_OUT = (np.zeros(0, dtype=np.int64), np.zeros(0))


def straight_legs(
    length_km: float, daily_km: float, *, pace: Pace | None = None, **options
) -> tuple[Leg, ...]:
    pace = pace or Pace(rest_min=0.0)
    rest_days_after = options.pop("rest_days_after", None)
    zone_at = options.pop("zone_at", lambda _at_m: dt.UTC)
    return make_legs(
        leg_ends_m(length_km * 1000.0, daily_km * 1000.0, **options),
        set_out=SetOut(FRIDAY),
        pace=pace,
        ride_time=RideTime.constant(length_km * 1000.0, SPEED_KMH),
        zone_at=zone_at,
        rest_days_after=rest_days_after,
    )


def straight_clock(
    length_km: float, daily_km: float, *, pace: Pace | None = None, **options
) -> RideClock:
    pace = pace or Pace(rest_min=0.0)
    return make_clock(straight_legs(length_km, daily_km, pace=pace, **options), pace, MealTimes())


def candidates_at(
    *km: float, small: tuple[float, ...] = (), pinned: tuple[float, ...] = ()
) -> Candidates:
    full = np.array([x not in small for x in km])
    return Candidates(
        row=np.arange(len(km)),
        place_ix=np.arange(len(km)),
        chainage_m=np.array(km, dtype=float) * 1000.0,
        pass_m=np.array(km, dtype=float) * 1000.0,
        rejoin_m=np.array(km, dtype=float) * 1000.0,
        full=full,
        sells_meals=np.where(full, MEALS_OF_FULL, MEALS_OF_SMALL),
        detour_s=np.zeros(len(km)),
        out_s=np.zeros(len(km)),
        stop_min=np.where(full, 30, 15),
        special=np.zeros(len(km), dtype=bool),
        ice=np.ones(len(km), dtype=bool),
        pump=np.zeros(len(km), dtype=bool),
        pinned=np.array([x in pinned for x in km], dtype=bool),
    )


def judge_all(risk_of_row: dict[int, int]):
    """Judge with one risk for each row at any time; rows not named are open."""

    def judge(rows, arrive_s, half_width_s, stay_s):
        shape = np.broadcast_shapes(np.shape(rows), np.shape(arrive_s))
        rows = np.broadcast_to(rows, shape)
        risk = np.full(shape, OpenState.OPEN, dtype=np.int8)
        for row, code in risk_of_row.items():
            risk[rows == row] = code
        return Judged(risk, np.full(shape, 0.5))

    return judge


def ask(weights: ChoiceKeys | None = None, **wishes) -> Asked:
    """What a rider asks who has no cooler and no tank to plan."""
    values = {
        "chances": ChanceKeys(),
        "style": 1.0,
        "limit_meals": 6,
        "habit_meals": 3,
        "start_meals": None,
        "latest_camp": dt.time(20, 0),
        "cooler": False,
        "tank": False,
        "from_home": True,
    }
    return Asked(weights=weights or ChoiceKeys(), **{**values, **wishes})


def plan_at(
    candidates: Candidates,
    *,
    length_km: float,
    daily_km: float,
    risk: dict[int, int] | None = None,
    meal_out=NO_MEAL_OUT,
    pace: Pace | None = None,
    spare_meals: int = 3,
    **wishes,
) -> SupplyPlan:
    clock, judge, asked = (
        straight_clock(length_km, daily_km, pace=pace),
        judge_all(risk or {}),
        ask(**wishes),
    )
    return plan_supply(
        SupplyInput(
            candidates,
            clock,
            make_options(candidates, clock, judge, asked),
            asked,
            judge,
            spare_meals=spare_meals,
            length_m=length_km * 1000.0,
            meal_out=meal_out,
        )
    )
