"""Fuel, water, a meal out and ice beside food: chosen in two steps, against the joint optimum.

Small invented trips by seed. Every choice of visits is put through the planner, and what else is
needed is planned around it; the best of all is the joint optimum. A few are part of the tests; the
table of docs/how/supply.md:

    python -m tests.joint_choice 24 --write
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from itertools import combinations, product
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from worlds import prepared_world, shop, shops_along, trip_of, winding_route

from resupply.api import cook
from resupply.api.meals_and_ice import settle, too_warm
from resupply.places.place import Confidence, Supply
from resupply.plan.pipeline import plan_trip
from resupply.supply.visit_solver import Visits, cost_of

PAGE = Path(__file__).parents[1] / "docs" / "how" / "supply.md"
ROUTE = winding_route(700)
PACE = {"daily_km": 250.0, "speed_kmh": 60.0}
ROAD_ONLY = {"evening_way_min": 0}
STATED = Confidence.STATED


class Compared(NamedTuple):
    """What comes first counts first; the last is minutes."""

    made: tuple[float, ...]
    best: tuple[float, ...]

    @property
    def same(self) -> bool:
        return self.worse_at < 0

    @property
    def worse_at(self) -> int:
        """Which figure the made one is worse in; -1 if none."""
        apart = [made - best > 1e-6 for made, best in zip(*self, strict=True)]
        return apart.index(True) if True in apart else -1


def put_at(number, km, dice, supply, *, kind, hours="24/7", off=0.03):
    lon, lat = ROUTE.position_at(km * 1000.0)
    place = shop(number, lon, lat + float(dice.uniform(0, off)), hours=hours)
    return replace(place, kind=kind, supplies={supply: STATED})


def food_shops(dice, seed, count=5):
    return shops_along(ROUTE, np.sort(dice.uniform(40, 660, count)), hours=("24/7",), seed=seed)


def every_choice(plan):
    """All visits that can be made together."""
    problem = plan.supply.options.problem
    count = len(problem.leg_ix)
    for size in range(count + 1):
        for chosen in combinations(range(count), size):
            if cost_of(problem, chosen) is not None:
                yield chosen


def with_choice(plan, chosen):
    """The plan with these visits, all else planned around them."""

    def given(problem):
        cost = cost_of(problem, chosen)
        counts = [0, *problem.meals[list(chosen)].tolist(), problem.meal_count]
        return Visits(tuple(chosen), cost, int(np.diff(counts).max()))

    with patch("resupply.supply.food_stops.solve", given):
        return plan_trip(plan.prepared, plan.trip, alone=True)


def chosen_in(plan):
    return [stop.visit for stop in plan.supply.stops]


def fuel(seed):
    """Metres of fuel missing, then minutes of both; each second shop has a station beside it."""
    dice = np.random.default_rng(seed)
    shops = food_shops(dice, seed)
    beside = [
        replace(
            shop(number, place.lon + 0.001, place.lat, hours="24/7"),
            kind="amenity=fuel",
            supplies={Supply.FUEL: STATED},
        )
        for number, place in enumerate(shops[::2], 100)
    ]
    elsewhere = [
        put_at(number, km, dice, Supply.FUEL, kind="amenity=fuel")
        for number, km in enumerate(dice.uniform(40, 660, 6), 200)
    ]
    trip = trip_of(
        pace=PACE, fuel={"range_km": float(dice.choice([300.0, 400.0]))}, choice=ROAD_ONLY
    )
    plan = plan_trip(prepared_world(ROUTE, (*shops, *beside, *elsewhere), trip), trip, alone=True)
    bare = trip.model_copy(update={"choice": trip.choice.model_copy(update={"pump_min": 0.0})})
    free = plan_trip(plan.prepared, bare, alone=True)

    def both(chosen):
        cost, tank = cost_of(free.supply.options.problem, chosen), with_choice(free, chosen).fuel
        missing_m = sum(gap.missing_m for gap in tank.shortfalls)
        minutes = cost.milli_min / 1000.0 + tank.extra_s / 60.0
        return cost.worst_excess, cost.excess, missing_m, minutes

    return Compared(both(chosen_in(plan)), min(both(chosen) for chosen in every_choice(free)))


def water(seed):
    """Metres without water, then minutes of the food; taps are turned off at night."""
    dice = np.random.default_rng(seed)
    hours = ("08:00-20:00", "10:00-16:00", "24/7")
    taps = [
        put_at(n, km, dice, Supply.WATER, kind="amenity=drinking_water", hours=hours[n % 3], off=0)
        for n, km in enumerate(dice.uniform(10, 690, 6), 100)
    ]
    trip = trip_of(pace=PACE, choice=ROAD_ONLY)
    world = prepared_world(ROUTE, (*food_shops(dice, seed), *taps), trip)
    plan = plan_trip(world, trip, alone=True)

    def both(made):
        cost = made.supply.cost
        dry_m = made.gaps[Supply.WATER].longest.length_m
        return cost.worst_excess, cost.excess, dry_m, cost.milli_min / 1000.0

    return Compared(both(plan), min(both(with_choice(plan, one)) for one in every_choice(plan)))


def meal_out(seed):
    """Minutes of the food; two dinners out, each at any place that serves one then."""
    dice = np.random.default_rng(seed)
    shops = food_shops(dice, seed)
    near = ((100, 245.0), (101, 252.0), (200, 492.0), (201, 503.0))
    inns = [
        put_at(number, km, dice, Supply.MEAL_OUT, kind="amenity=restaurant") for number, km in near
    ]
    trip = trip_of(
        pace=PACE,
        night={"camps": False},
        food={"eat_out": {1: ["dinner"], 2: ["dinner"]}},
        choice={"evening_way_min": 20},
    )

    def planned(there):
        plan = plan_trip(prepared_world(ROUTE, (*shops, *there), trip), trip, alone=True)
        cost = plan.supply.cost
        missed = sum(one.row < 0 for one in plan.out)
        return cost.worst_excess, cost.excess, missed, cost.milli_min / 1000.0

    return Compared(planned(inns), min(planned(there) for there in product(inns[:2], inns[2:])))


def ice_trip(seed):
    """A trip with a small cooler before its kitchen is planned; some shops sell no ice."""
    dice = np.random.default_rng(seed)
    shops = [
        replace(place, supplies={Supply.GROCERIES: STATED, **sold}, kind="shop=supermarket")
        for place, sold in zip(
            food_shops(dice, seed),
            dice.permutation([{Supply.ICE: STATED}] * 3 + [{}] * 2),
            strict=True,
        )
    ]
    low_c = float(dice.uniform(8, 22))
    trip = trip_of(
        pace=PACE,
        food={"plan_menu": False},
        cooler={"kind": "hard", "volume_l": float(dice.uniform(8, 14)), "bag_kg": 1.0},
        weather={"low_c": low_c, "high_c": low_c + 12.0},
        choice={**ROAD_ONLY, "no_ice_min": float(dice.choice([0.0, 10.0]))},
    )
    return plan_trip(prepared_world(ROUTE, tuple(shops), trip), trip, alone=True)


def ice(seed):
    """Share of the trip that is not cold, to a hundredth, then minutes of the food."""
    plan = ice_trip(seed)
    problem = plan.supply.options.problem

    def both(chosen, kitchen):
        cost = cost_of(problem, chosen)
        warm = round(too_warm(kitchen), 2)
        return cost.worst_excess, cost.excess, warm, cost.milli_min / 1000.0

    made, kitchen = settle(plan, Path())
    return Compared(
        both(chosen_in(made), kitchen),
        min(both(one, cook(with_choice(plan, one), Path())) for one in every_choice(plan)),
    )


KINDS = {
    "fuel and food": (fuel, "more km of fuel missing", 0.001),
    "water and food": (water, "more km without water", 0.001),
    "a meal out and food": (meal_out, "more meals out missed", 1.0),
    "ice melting, and food": (ice, "more of the trip not cold, %", 100.0),
}


def table(count):
    rows = [
        "| supplies | trips | the same | longer only | by, min, at most | worse | by, at most |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for name, (compare, what, factor) in KINDS.items():
        found = [compare(seed) for seed in range(count)]
        longer = [one.made[3] - one.best[3] for one in found if one.worse_at == 3]
        worse = [(one.made[2] - one.best[2]) * factor for one in found if one.worse_at == 2]
        over = [one for one in found if one.worse_at in (0, 1)]
        most = f"{max(worse):.0f} {what}" if worse else ""
        most = f"{len(over)} over the limit; {most}" if over else most
        rows.append(
            f"| {name} | {count} | {sum(one.same for one in found)} | {len(longer)} "
            f"| {max(longer, default=0.0):.1f} | {len(worse)} | {most} |"
        )
    return "\n".join(rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("--write", action="store_true", help="into docs/how/supply.md")
    asked = parser.parse_args()
    made = table(asked.count)
    print(made)
    if asked.write:
        text = PAGE.read_text()
        start = text.index("| supplies | trips |")
        PAGE.write_text(text[:start] + made + text[text.index("\n\n", start) :])


if __name__ == "__main__":
    main()
