"""What an experienced rider does in single cases, and that the plan does it.

docs/expert-cases.md tells each case by its number. What riders do is common practice (no source).
Most are invented: a straight road at 50 km/h from 08:30, days of 300 km (in camp about 14:30) from
Friday 2027-07-09, meals at 07:30, 12:30 and 19:00.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from baseline.expert import measure
from baseline.loops import missed_goals
from builders import SPEED_KMH, ask, candidates_at, plan_at, straight_clock
from conftest import ROOT
from demo_plans import NAMES, demo_plan
from worlds import FULL, prepared_world, shop, trip_of

from resupply.hours.state import OpenState
from resupply.places.place import Confidence, Supply
from resupply.plan.pipeline import plan_trip
from resupply.report.document.document import plan_document
from resupply.report.document.visits import visits
from resupply.route.route import make_route
from resupply.supply.candidates import Judged
from resupply.supply.food_stops import SupplyInput, plan_supply
from resupply.supply.visit_options import make_options

three_days = partial(plan_at, length_km=850, daily_km=300)
four_days = partial(plan_at, length_km=1100, daily_km=300)


def kms(plan):
    return [round(stop.chainage_m / 1000) for stop in plan.stops]


def hour(stop):
    return dt.datetime.fromtimestamp(stop.arrive_s, dt.UTC)


def with_columns(candidates, **columns):
    return replace(candidates, **{name: np.array(values) for name, values in columns.items()})


def plan_by(judge, candidates, *, length_km=850.0, daily_km=300.0, **wishes):
    """Plan with a judge of its own."""
    clock, asked = straight_clock(length_km, daily_km), ask(**wishes)
    return plan_supply(SupplyInput(
        candidates, clock, make_options(candidates, clock, judge, asked), asked, judge,
        spare_meals=3, length_m=length_km * 1000.0,
        meal_out=(np.zeros(0, dtype=np.int64), np.zeros(0)),
    ))  # fmt: skip


def judge_by(is_open):
    """Judge by a function of (row, local hour, day of July)."""

    def judge(rows, arrive_s, half_width_s, stay_s):
        rows, arrive_s = np.broadcast_arrays(rows, arrive_s)
        codes = np.full(arrive_s.shape, OpenState.SHUT, dtype=np.int8)
        for at in np.ndindex(arrive_s.shape):
            when = dt.datetime.fromtimestamp(float(arrive_s[at]), dt.UTC)
            if is_open(int(rows[at]), when.hour + when.minute / 60, when.day):
                codes[at] = OpenState.OPEN
        return Judged(codes, np.ones(arrive_s.shape))

    return judge


def test_01_dinner_is_bought_late_near_camp():
    assert kms(three_days(candidates_at(60, 150, 285))) == [285]


def test_02_a_shop_just_beyond_camp_is_visited_from_camp():
    # The second night: the first is fed from home.
    (stop,) = four_days(candidates_at(604)).stops
    assert stop.from_camp
    assert (stop.leg_ix, stop.on_board_m) == (1, 600e3)
    assert hour(stop).time() <= dt.time(18, 15)


def test_03_a_shop_shut_at_noon_is_visited_when_it_opens_again():
    def siesta(_row, clock, _day):
        return 8 <= clock < 13 or 17 <= clock < 20

    (stop,) = plan_by(judge_by(siesta), candidates_at(298)).stops
    assert stop.from_camp
    assert 17 <= hour(stop).hour < 20


def test_04_what_is_needed_on_sunday_is_bought_on_saturday():
    plan = plan_by(
        judge_by(lambda _row, clock, day: day != 11 and 8 <= clock < 20),
        candidates_at(*range(25, 1100, 25)), length_km=1100,
    )  # fmt: skip
    saturday = [stop for stop in plan.stops if hour(stop).day == 10]
    assert saturday[-1].carry_meals >= 4
    assert not [stop for stop in plan.stops if hour(stop).day == 11]
    assert not plan.shortfalls


def test_05_half_an_hour_of_detour_is_left_for_when_it_must_be():
    far = candidates_at(210, 290)
    far = with_columns(far, detour_s=[0.0, 1800.0], out_s=[0.0, 900.0])
    assert kms(three_days(far)) == [210]


def test_06_a_full_shop_an_hour_earlier_goes_before_a_bakery_near_camp():
    bakery = candidates_at(230, 290, small=(290,))
    bakery = with_columns(bakery, special=[False, True], sells_meals=[1000, 1])
    assert kms(three_days(bakery)) == [230]


def test_07_a_filling_station_is_for_emergencies():
    station = with_columns(
        candidates_at(210, 290, small=(290,)), special=[False, True], sells_meals=[1000, 3]
    )
    assert kms(three_days(station)) == [210]
    # Where it is the only shop of a long way, it is used.
    only = with_columns(candidates_at(500, small=(500,)), special=[True], sells_meals=[3])
    assert kms(four_days(only)) == [500]


def test_08_a_door_that_is_usually_shut_is_no_plan():
    shops = candidates_at(210, 285)
    assert kms(three_days(shops, risk={1: OpenState.USUALLY_SHUT})) == [210]


def test_09_a_door_open_by_its_hours_goes_before_one_not_known_a_little_later():
    shops = candidates_at(265, 290)
    assert kms(three_days(shops, risk={1: OpenState.UNKNOWN})) == [265]


def test_10_a_shop_usually_open_in_the_afternoon_is_a_good_bet():
    shops = candidates_at(60, 285)
    assert kms(three_days(shops, risk={1: OpenState.USUALLY_OPEN})) == [285]


def test_11_food_for_an_empty_stretch_is_bought_at_the_last_shop_before_it():
    plan = four_days(candidates_at(60, 120, 295, 1000))
    # Three more days: more than the habit, and nothing to be done about it.
    assert 295 in kms(plan)
    assert plan.stops[kms(plan).index(295)].carry_meals == plan.most_meals


def test_12_where_shops_are_dense_one_tops_up_once_a_day():
    plan = four_days(candidates_at(*range(20, 1100, 20)))
    assert plan.most_meals <= 3
    assert len({stop.leg_ix for stop in plan.stops}) == len(plan.stops) == 3
    assert all(hour(stop).time() >= dt.time(12) for stop in plan.stops)


def test_13_nobody_shops_twice_on_a_day_for_lunch_and_dinner():
    plan = three_days(candidates_at(150, 200, 285))
    assert len(plan.stops) == 1


def test_14_a_wish_is_kept_and_makes_no_food_where_the_door_is_shut():
    assert 150 in kms(three_days(candidates_at(150, 285, pinned=(150,))))
    shut = three_days(candidates_at(150, 285, pinned=(150,)), risk={0: OpenState.SHUT})
    assert kms(shut) == [285]


def test_15_few_stops_mean_as_rarely_as_the_limit_allows():
    shops = candidates_at(*range(20, 1100, 20))
    few, fresh = (four_days(shops, style=style) for style in (0.1, 1.6))
    assert len(few.stops) == 1 < len(fresh.stops)
    assert few.most_meals <= 6


def test_16_late_in_camp_is_worth_no_long_stop():
    # 600 km a day: in camp at 20:30, after the latest time; each minute more counts twice.
    late = plan_at(candidates_at(100, 560), length_km=1200, daily_km=600)
    in_time = plan_at(candidates_at(100, 260), length_km=600, daily_km=300)
    assert 560 not in kms(late) or late.stops[-1].from_camp
    assert kms(in_time) == [260]
    assert 600 / SPEED_KMH == 12


def test_17_where_the_limit_cannot_be_kept_the_worst_stretch_is_as_short_as_can_be():
    plan = plan_at(candidates_at(350, 1100), length_km=2000, daily_km=300)
    longest = max(short.meals for short in plan.shortfalls)
    assert kms(plan) == [350, 1100]
    assert longest == plan.most_meals


ROUTE = make_route([(np.linspace(-28.0, -21.5, 300), np.full(300, 46.0), None)], name="straight")
ICE = {**FULL, Supply.ICE: Confidence.STATED}


def at(km, north=0.002):
    lon, lat = ROUTE.position_at(km * 1000.0)
    return lon, lat + north


def planned(*places, **tables):
    trip = trip_of(pace={"daily_km": 120.0, "speed_kmh": 50.0}, **tables)
    return plan_trip(prepared_world(ROUTE, places, trip), trip)


def test_18_ice_is_bought_with_the_food_or_where_no_food_is_sold():
    plan = planned(
        shop(1, *at(180), hours="24/7", supplies=ICE),
        shop(2, *at(235), hours="24/7", supplies=ICE),
        cooler={"kind": "soft"}, night={"camps": False},
    )  # fmt: skip
    food = {stop.row for stop in plan.supply.stops}
    assert plan.ice
    assert all(one.row in food for one in plan.ice)


def test_19_what_stands_beside_a_shop_is_the_same_stop():
    plan = planned(
        shop(1, *at(115), hours="24/7", supplies={Supply.GROCERIES: Confidence.STATED}),
        shop(2, *at(115, 0.003), hours="24/7", kind="amenity=fuel",
             tags={"fuel:octane_95": "yes"}, supplies={Supply.FUEL: Confidence.STATED}),
        fuel={"range_km": 250.0, "reserve_km": 30.0}, night={"camps": False},
    )  # fmt: skip
    document = plan_document(plan)
    assert [row.at_stop for row in document.fuel.stops] == [1]
    (visit,) = visits(document)
    assert visit.buys == "food and fuel"


@pytest.mark.parametrize("name", NAMES)
def test_20_the_sample_trips_meet_every_goal(name):
    found = measure(demo_plan(name)[0])
    assert (found.missed, found.ice_alone, found.shut, found.off_season) == ((), (), (), ())


def a_plan(**changes):
    """Two nights at a camp: a supermarket at km 280 of each day, food bought there at 14:00."""

    def crossing(name, leg, hour, state="open"):
        when = f"2027-07-{8 + leg:02d}T{hour}:00+00:00"
        return {"id": name, "place": name, "leg": leg, "eta": when, "state": state, "detour_s": 200}

    def stop(number, name, leg, hour):
        when = f"2027-07-{8 + leg:02d}T{hour}:00+00:00"
        return {"number": number, "pass": name, "leg": leg, "arrive": when, "carry_meals": 3}

    def leg(number):
        day = f"2027-07-{8 + number:02d}"
        times = {"depart": f"{day}T08:30:00+00:00", "arrive": f"{day}T14:30:00+00:00"}
        return {"number": number, "rest_days_before": 0, "night": {"place": "camp"}, **times}

    shop_ = {"name": "Shop", "supplies": {"groceries": "stated", "ice": "stated"}}
    plan = {
        "legs": [leg(n) for n in (1, 2, 3, 4)],
        "start_carry": {"meals": 1},
        "spare": {"meals": 3},
        "places": {"a": shop_, "b": shop_, "c": shop_, "d": shop_, "camp": {"supplies": {}}},
        "passes": [
            *(crossing("a", 1, "14:00"), crossing("b", 2, "14:00")),
            *(crossing("c", 3, "09:30"), crossing("d", 4, "10:00")),
        ],
        "stops": [stop(1, "a", 1, "14:00"), stop(2, "b", 2, "14:00")],
        "ice": {"stops": []},
    }
    for key, change in changes.items():
        plan[key] = change(plan[key], stop, crossing)
    return measure(plan)


def test_the_measure_sees_an_evening_passed_and_a_morning_that_serves_a_shut_day():
    good = a_plan()
    assert (good.missed, good.most_meals, good.early) == ((), 6, 0)

    def next_morning(_old, stop, _crossing):
        return [stop(1, "a", 1, "14:00"), stop(2, "c", 3, "09:30")]

    late = a_plan(stops=next_morning)
    assert (late.missed, late.early, late.days_shopped) == ((2,), 1, 2)

    def last_day_shut(passes, _stop, crossing):
        return [*passes[:3], crossing("d", 4, "10:00", "shut")]

    assert a_plan(stops=next_morning, passes=last_day_shut).missed == ()


def test_the_measure_sees_ice_alone_a_shut_door_and_a_camp_out_of_season():
    def ice(_old, _stop, _crossing):
        return {"stops": [{"pass": "c", "buy": [{"kg": 2}]}]}

    assert a_plan(ice=ice).ice_alone == ("Shop",)

    def shut(passes, _stop, crossing):
        return [passes[0], crossing("b", 2, "14:00", "shut"), *passes[2:]]

    assert a_plan(passes=shut).shut == (2,)

    def off_season(passes, _stop, crossing):
        return [*passes, crossing("camp", 2, "14:30", "shut")]

    assert a_plan(passes=off_season).off_season == (2,)


def test_a_loop_names_the_goals_it_misses_and_asks_no_evening_of_few():
    missed = replace(a_plan(), missed=(2,), shut=(1,))
    assert missed_goals(missed, "balanced") == ["MISSED: evening", "MISSED: shut door"]
    assert missed_goals(missed, "few") == ["MISSED: shut door"]
    assert missed_goals(a_plan(), "fresh") == []


def test_every_case_stands_in_the_docs():
    page = (ROOT / "docs" / "expert-cases.md").read_text("utf-8")
    told = set(re.findall(r"^\| (\d+) \|", page, re.MULTILINE))
    tests = {str(int(name[5:7])) for name in globals() if re.match(r"test_\d\d_", name)}
    assert told == tests
    assert len(told) >= 15
