"""Menu, packs and ice of small trips as one mixed-integer programme: a bound for the plan.

Everything a plan may do the programme may do too, at the same prices, and more: what goes in is as
cold as ice, the last of the ice may melt, between their bounds portions of piece goods are not
rounded, a pack may be bought at any stop before. So its optimum is at most what the plan costs, and
the difference is at most what better planning could win. Solved by HiGHS.

    python -m tests.one_programme          the table of docs/how/food.md
"""

from __future__ import annotations

import datetime as dt
import math
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

sys.path.insert(0, str(Path(__file__).parent))

from kitchen_world import cookbook, given, home, make_slots, moment, table

from resupply.kitchen.agree import Agreed, agree
from resupply.kitchen.cold.cooler import make_cooler, stowage_l_per_kg
from resupply.kitchen.cold.heat import LATENT_KJ_PER_KG
from resupply.kitchen.cold.ice_search import IceChance
from resupply.kitchen.cold.steps import make_timeline
from resupply.kitchen.cold.weather import DayWeather, Surroundings, make_ambient
from resupply.kitchen.coolers import FoodCooler
from resupply.kitchen.food.dishes import Cookbook, Heat, MealKind
from resupply.kitchen.food.load import goes_in_cooler
from resupply.kitchen.food.meals import Helpings, MenuInput, ShopVisit
from resupply.kitchen.food.storage import make_storage
from resupply.kitchen.food.storage_classes import Keeping
from resupply.kitchen.food.warm_time import make_history
from resupply.places.place import Confidence

WASTE, ICE, STOP, EMPTY, NEAR, TRIP = 30.0, 0.05, 1.0, 1000.0, 30.0, 3.0
"""Prices: a kilogram left over, a kilogram of ice, a stop for it, a meal without a dish, a dish
again within six meals, a dish again on the trip. The prices of ice are the programme's own: the
plan takes the fewest stops, then the least ice."""
WINDOW, HOUR, DAY = 6, 3600.0, 86_400.0
DISHES = (
    *("scrambled-eggs", "yogurt-fruit", "porridge", "bread-cheese-breakfast"),
    *("salami-rolls", "cream-cheese-wraps", "bean-tomato-salad", "bread-cheese-tomato"),
    *("mince-chilli", "bacon-pasta", "white-bean-soup", "couscous-vegetables"),
)


@dataclass(frozen=True, slots=True)
class Case:
    """A small trip."""

    name: str
    days: int
    riders: int
    kind: str
    litres: float
    low_c: float
    high_c: float
    shops: tuple[tuple[int, float], ...] = ()
    """Day and hour of each; the meals after it are bought there, and it has ice."""


CASES = (
    Case("two days, two riders, hard 20 L, 12–25 °C", 2, 2, "hard", 20.0, 12.0, 25.0),
    Case("two days, one rider, bag 8 L, 18–32 °C", 2, 1, "bag", 8.0, 18.0, 32.0),
    Case("three days, two riders, soft 9 L, 16–30 °C", 3, 2, "soft", 9.0, 16.0, 30.0, ((1, 15.0),)),
    Case(
        "three days, one rider, soft 12 L, 20–36 °C", 3, 1, "soft", 12.0, 20.0, 36.0, ((1, 16.0),)
    ),
)


def world(case: Case, searches: int = 1) -> tuple[MenuInput, FoodCooler]:
    """What is eaten and cooled on it. No snacks, and nothing is weighed out: packs decide."""
    whole = cookbook()
    dishes = {key: whole.dishes[key] for key in DISHES}
    used = {portion.use for dish in dishes.values() for portion in dish.portions}
    parts = {key: replace(whole.ingredients[key], snack=0.0) for key in sorted(used)}
    stops = [home()]
    begins: dict[tuple[int, MealKind], int] = {}
    for day, hour in case.shops:
        stops.append(ShopVisit(f"shop {len(stops)}", moment(day, hour), full=True))
        begins[day, MealKind.DINNER] = len(stops) - 1
    asked = given(
        make_slots(case.days, begins),
        stops,
        cookbook=Cookbook(parts, dishes),
        people=case.riders,
        helpings=Helpings(float(case.riders), searches=searches),
    )
    first = stops[0].when
    weather = tuple(
        DayWeather(first.date() + dt.timedelta(days=n - 1), case.low_c, case.high_c, "test")
        for n in range(case.days + 3)
    )
    around = Surroundings(
        make_ambient(weather, lambda _: first.tzinfo),
        first.timestamp(),
        moment(case.days).timestamp(),
    )
    chances = [
        IceChance(
            stop.when.timestamp(), stop.name, Confidence.STATED, counts=number > 0, anyway=True
        )
        for number, stop in enumerate(stops)
    ]
    return asked, FoodCooler(make_cooler(case.kind, case.litres), around, (), tuple(chances))


def planned(case: Case, searches: int = 1) -> Agreed:
    """Plan it as the rider gets it; 25 searches are `--menu best`."""
    asked, box = world(case, searches)
    return agree(asked, box, (), ())


class _Costs:
    """The prices of docs/how/food.md, written down again, for food that stays cold."""

    def __init__(self, asked: MenuInput, box: FoodCooler) -> None:
        self.asked = asked
        times_s = np.arange(box.around.start_s, box.around.end_s, HOUR)
        air = make_history(times_s, box.around.ambient.at(times_s))
        cold = make_history([times_s[0] - DAY, times_s[-1] + 30 * DAY], [3.0, 3.0], air=air)
        self.storage = make_storage(table(), cold, strict=True)
        self.warm = make_storage(table(), air, strict=True)
        """Without ice all is as warm as the air."""
        self.order = {key: n for n, key in enumerate(asked.cookbook.dishes)}

    def dish(self, n: int, key: str) -> float:
        book, slot = self.asked.cookbook, self.asked.slots[n]
        dish, stop = book.dishes[key], self.asked.stops[slot.stretch]
        days = (slot.when - stop.when).total_seconds() / DAY
        cost = 1e-4 * self.order[key]
        if slot.kind is MealKind.LUNCH and dish.heat is not Heat.NONE:
            cost += 0.15
        limits = [
            self.storage.use_by(
                part.storage, self.asked.stops[0 if part.kit else slot.stretch].when
            )
            for part in book.parts(dish)
        ]
        ends = [limit.when.timestamp() for limit in limits if limit.when is not None]
        if not ends:
            return cost + 0.001 * book.mass_kg(dish) * days
        u = 1.0 / (1.0 + max(min(ends) - stop.when.timestamp(), 0.0) / DAY)
        return cost - 1.0 - 2.0 * u + u * days

    def menu(self, picked: dict[int, str]) -> float:
        slots = range(len(self.asked.slots))
        cost = EMPTY * (len(slots) - len(picked))
        cost += sum(self.dish(n, key) for n, key in picked.items())
        for key in set(picked.values()):
            uses = [n for n in slots if picked.get(n) == key]
            cost += TRIP * (len(uses) - 1)
            for start in range(max(len(slots) - WINDOW, 0) + 1):
                inside = sum(start <= n < start + WINDOW for n in uses)
                cost += NEAR * max(inside - 1, 0)
        return cost


@dataclass(frozen=True, slots=True)
class Told:
    """What a choice comes to."""

    cost: float
    left_kg: float
    ice_kg: float
    twice: int
    """Dishes eaten again."""


def cost_of_plan(case: Case, agreed: Agreed) -> Told:
    """Price the plan as the programme is priced."""
    asked, box = world(case)
    picked = {n: meal.dish.id for n, meal in enumerate(agreed.menu.meals) if meal.dish}
    parts = asked.cookbook.ingredients
    left_kg = sum(
        (line.bought - line.need) * parts[line.ingredient].unit_kg
        for listed in agreed.shopping.stops
        for line in listed.lines
        if not parts[line.ingredient].kit and parts[line.ingredient].aisle != "household"
    )
    ice_kg = agreed.ice.bought_kg
    cost = (
        _Costs(asked, box).menu(picked) + WASTE * left_kg + ICE * ice_kg + STOP * agreed.ice.stops
    )
    return Told(cost, left_kg, ice_kg, len(picked) - len(set(picked.values())))


class _Programme:
    """Variables and rows, gathered by name."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.high: list[float] = []
        self.whole: list[int] = []
        self.rows: list[tuple[list[tuple[int, float]], float, float]] = []

    def new(self, cost: float = 0.0, high: float = math.inf, *, whole: bool = False) -> int:
        self.cost.append(cost)
        self.high.append(high)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def row(self, terms: list[tuple[int, float]], low: float, high: float) -> None:
        self.rows.append((terms, low, high))

    def solve(self) -> tuple[float, np.ndarray]:
        flat = [(r, c, v) for r, (terms, _, _) in enumerate(self.rows) for c, v in terms]
        row, col, value = zip(*flat, strict=True)
        matrix = coo_array((value, (row, col)), shape=(len(self.rows), len(self.cost))).tocsr()
        found = milp(
            np.array(self.cost),
            constraints=LinearConstraint(
                matrix, [low for _, low, _ in self.rows], [high for _, _, high in self.rows]
            ),
            integrality=np.array(self.whole),
            bounds=Bounds(0.0, np.array(self.high)),
            options={"mip_rel_gap": 1e-6},
        )
        assert found.x is not None, found.message
        return float(found.fun), found.x


def best(case: Case, only: dict[int, str] | None = None) -> Told:
    """Solve the programme; `only` for given dishes, by position of the meal."""
    asked, box = world(case)
    costs, lp, inf = _Costs(asked, box), _Programme(), math.inf
    book, slots, stops = asked.cookbook, asked.slots, asked.stops
    eaten_s = [slot.when.timestamp() for slot in slots]
    shop_s = [stop.when.timestamp() for stop in stops]
    x = {
        (n, key): lp.new(costs.dish(n, key), 1.0, whole=True)
        for n, slot in enumerate(slots)
        for key, dish in book.dishes.items()
        if slot.kind in dish.kinds and (only is None or only.get(n) == key)
    }
    for n in range(len(slots)):
        here = [(x[key], 1.0) for key in x if key[0] == n]
        lp.row([*here, (lp.new(EMPTY, 1.0, whole=True), 1.0)], 1.0, 1.0)
    for key in book.dishes:
        uses = {n: x[n, key] for n in range(len(slots)) if (n, key) in x}
        spans = [(TRIP, 0, len(slots))]
        spans += [(NEAR, a, a + WINDOW) for a in range(max(len(slots) - WINDOW, 0) + 1)]
        for price, a, b in spans:
            inside = [(uses[n], 1.0) for n in uses if a <= n < b]
            if len(inside) > 1:
                lp.row([*inside, (lp.new(price), -1.0)], -inf, 1.0)

    # The cooler: a grid of hours, shops and meals; what melts with the inside at 0 °C.
    line = make_timeline(box.cooler, box.around, marks_s=[*eaten_s, *shop_s])
    steps = range(line.steps)
    melt_kg = [line.leak_kj_per_k[t] * line.outside_c[t] / LATENT_KJ_PER_KG for t in steps]
    cold = [lp.new(0.0, 1.0, whole=True) for _ in steps]
    room: list[list[tuple[int, float]]] = [[] for _ in steps]
    ice = [lp.new() for _ in range(line.steps + 1)]
    loads = {line.index(chance.at_s): chance for chance in box.chances}
    most_kg = box.cooler.usable_l / stowage_l_per_kg("cube")
    bags: list[tuple[int, float]] = []
    for t in steps:
        after = [(ice[t], 1.0)]
        if t in loads:
            chance = loads[t]
            bag, put = lp.new(ICE * chance.bag_kg, 30, whole=True), lp.new()
            going = lp.new(STOP * chance.counts, 1.0, whole=True)
            lp.row([(put, 1.0), (bag, -chance.bag_kg)], -inf, 0.0)
            lp.row([(bag, 1.0), (going, -30.0)], -inf, 0.0)
            after.append((put, 1.0))
            bags.append((bag, chance.bag_kg))
        elif t == 0:
            after = []
        # What is left: at most what the melt leaves while it is to last, never more than before.
        lp.row([(ice[t + 1], 1.0), *((v, -c) for v, c in after)], -inf, 0.0)
        lasting = [(ice[t + 1], 1.0), *((v, -c) for v, c in after), (cold[t], most_kg)]
        lp.row(lasting, -inf, most_kg - melt_kg[t])
        room[t] += [(v, c * stowage_l_per_kg("cube")) for v, c in after]
    lp.row([(ice[0], 1.0)], 0.0, 0.0)

    def inside(flow: int, part, from_s: float, to_s: float, *, ice_until_s: float) -> None:
        """A flow of food lies in the cooler between two times, with ice for the first of it."""
        opened = asked.storage.classes[part.storage].keeping is Keeping.STABLE
        if to_s - from_s <= HOUR or not (opened or goes_in_cooler(asked.storage, part.storage)):
            return
        most = 1e4 if part.unit != "piece" else 100.0
        for t in range(line.index(from_s), line.index(to_s)):
            room[t].append((flow, part.unit_kg * part.l_per_kg))
            if line.times_s[t] < ice_until_s:
                lp.row([(flow, 1.0), (cold[t], -most)], -inf, 0.0)

    def needs_ice_until(part, from_s: float, opened_s: float, to_s: float) -> float:
        """From when on a food may lie in the warm and still be good when it is eaten."""
        for t in range(line.index(from_s), line.index(to_s)):
            since, opened = when(line.times_s[t]), when(max(line.times_s[t], opened_s))
            if costs.warm.use_by(part.storage, since, opened=opened).allows(when(to_s)):
                return line.times_s[t]
        return to_s

    def when(at_s: float) -> dt.datetime:
        return dt.datetime.fromtimestamp(at_s, slots[0].when.tzinfo)

    left: list[tuple[int, float]] = []
    for key, part in book.ingredients.items():
        if part.kit or part.aisle == "household":
            continue
        takes = {
            n: [
                (x[n, d], portion.amount * case.riders)
                for d in book.dishes
                if (n, d) in x
                for portion in book.dishes[d].portions
                if portion.use == key
            ]
            for n in range(len(slots))
        }
        takes = {n: terms for n, terms in takes.items() if terms}
        come: dict[int, list[tuple[int, float]]] = {n: [] for n in takes}
        sealed = asked.storage.classes[part.storage].keeping is Keeping.STABLE
        for b in range(len(stops)):
            for s0 in takes:
                if eaten_s[s0] < shop_s[b]:
                    continue
                flows = {
                    s: lp.new()
                    for s in takes
                    if s >= s0
                    and costs.storage.use_by(
                        part.storage, stops[b].when, opened=slots[s0].when
                    ).allows(slots[s].when)
                }
                if not flows:
                    continue
                packs = [(lp.new(0.0, 20, whole=True), float(size)) for size in part.sold]
                rest = lp.new(WASTE * part.unit_kg)
                left.append((rest, part.unit_kg))
                out = [(flow, 1.0) for flow in flows.values()]
                lp.row([*out, (rest, 1.0), *((v, -size) for v, size in packs)], 0.0, 0.0)
                for s, flow in flows.items():
                    come[s].append((flow, 1.0))
                    from_s = eaten_s[s0] if sealed else shop_s[b]
                    until_s = needs_ice_until(part, from_s, eaten_s[s0], eaten_s[s])
                    inside(flow, part, from_s, eaten_s[s], ice_until_s=until_s)
                later = shop_s[b + 1] if b + 1 < len(stops) else eaten_s[-1]
                if not sealed:
                    inside(rest, part, shop_s[b], later, ice_until_s=0.0)
        for n, terms in takes.items():
            # As the plan has it: a piece more or less where that is a third at most, whatever is
            # spooned or weighed by 15 % each way.
            low = [(v, _least(part, amount)) for v, amount in terms]
            high = [(v, _most(part, amount)) for v, amount in terms]
            lp.row([*come[n], *((v, -c) for v, c in low)], 0.0, inf)
            lp.row([*come[n], *((v, -c) for v, c in high)], -inf, 0.0)
    for terms in room:
        lp.row(terms, -inf, box.cooler.usable_l)
    cost, found = lp.solve()
    picked = {n: key for (n, key), var in x.items() if found[var] > 0.5}
    return Told(
        cost,
        sum(found[v] * kg for v, kg in left),
        sum(found[v] * kg for v, kg in bags),
        len(picked) - len(set(picked.values())),
    )


def _least(part, amount: float) -> float:
    less = math.floor(0.85 * amount)
    if part.unit != "piece" or part.aisle == "tins":
        return 0.85 * amount
    return less if less >= amount * 2 / 3 else amount


def _most(part, amount: float) -> float:
    more = math.ceil(1.15 * amount)
    if part.unit != "piece" or part.aisle == "tins":
        return 1.15 * amount
    return more if more <= amount * 4 / 3 else amount


def main() -> None:
    print("| small trip | plan | `--menu best` | one programme | gap | gap, best |")
    print("| --- | --- | --- | --- | --- | --- |")
    for case in CASES:
        plans = [cost_of_plan(case, planned(case, searches)) for searches in (1, 25)]
        bound = best(case)
        cells = [_told(one) for one in (*plans, bound)]
        gaps = [f"{one.cost - bound.cost:.1f}" for one in plans]
        print(f"| {case.name} | {' | '.join((*cells, *gaps))} |", flush=True)


def _told(one: Told) -> str:
    again = f", {one.twice} twice" if one.twice else ""
    return f"{1000 * one.left_kg:.0f} g left, {one.ice_kg:.0f} kg ice{again}"


if __name__ == "__main__":
    main()
