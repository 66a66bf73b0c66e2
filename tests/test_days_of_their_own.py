"""Single days: departure, speed, no shop, meals out, what is set out with; and facts of the day."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from told import plan_document
from worlds import prepared_world, shop, shops_along, trip_of, winding_route

from resupply.api.meals_and_ice import ice_chances
from resupply.places.place import Confidence, Supply
from resupply.plan.pipeline import plan_trip
from resupply.report.document import document as made
from resupply.report.document.visits import visits
from resupply.route.route import make_route

ROUTE = winding_route(1000)
KM = (40, 150, 260, 380, 470, 620, 700, 790, 930)
ICE = {Supply.ICE: Confidence.STATED}
FUEL = {Supply.FUEL: Confidence.STATED}
MEAL = {Supply.MEAL_OUT: Confidence.STATED}
PACE = {"daily_km": 200.0, "speed_kmh": 50.0}


def planned(*, km=KM, more=(), pace=None, **tables):
    trip = trip_of(pace={**PACE, **(pace or {})}, **tables)
    places = (*shops_along(ROUTE, km, hours=("Mo-Su 08:00-19:00",)), *more)
    return plan_trip(prepared_world(ROUTE, places, trip), trip)


def near(number, km, **options):
    lon, lat = ROUTE.position_at(km * 1000.0)
    return shop(number, lon, lat + 0.001, **options)


def cafe(number, km, hours="Mo-Su 06:00-22:00"):
    return near(number, km, hours=hours, kind="amenity=cafe", supplies=MEAL)


def test_one_day_departs_at_its_own_time():
    legs = planned(pace={"own_depart": {2: dt.time(6)}}).legs
    assert [leg.depart.time() for leg in legs[:3]] == [dt.time(8, 30), dt.time(6), dt.time(8, 30)]


def test_one_day_is_ridden_at_its_own_speed_and_the_others_as_before():
    usual, own = planned().legs, planned(pace={"own_speed_kmh": {2: 25.0}}).legs
    assert own[1].ride_s == pytest.approx(2 * usual[1].ride_s)
    assert own[1].arrive > usual[1].arrive + dt.timedelta(hours=4)
    assert [leg.ride_s for leg in own[2:]] == pytest.approx([leg.ride_s for leg in usual[2:]])
    assert own[0].arrive == usual[0].arrive


def test_on_a_day_kept_free_of_shops_nothing_is_bought_on_the_road_or_in_the_evening():
    days = {stop.leg_ix for stop in planned().supply.stops}
    assert 1 in days
    plan = planned(shops={"none_on_days": [2]})
    assert 1 not in {stop.leg_ix for stop in plan.supply.stops}
    assert plan.supply.stops


def test_a_pinned_shop_is_visited_on_a_day_kept_free_of_shops():
    plan = planned(shops={"none_on_days": [2], "pinned": ["node/3"]})
    (stop,) = [stop for stop in plan.supply.stops if stop.leg_ix == 1]
    assert (
        plan.prepared.places.places[plan.supply.candidates.place_ix[stop.candidate]].id == "node/3"
    )


def test_a_rider_who_sets_out_with_nothing_shops_before_the_first_meal():
    plan = planned(km=(20, *KM), start={"date": "2027-07-09", "food_meals": 0})
    assert plan.supply.start_carry_meals == 0
    assert not plan.supply.shortfalls
    assert plan.supply.stops[0].chainage_m < 200e3
    words = plan_document(plan)["start_carry"]["words"]
    assert words.startswith("You set out with nothing a person") or "0 meals" in words


def test_a_rider_with_nothing_and_no_shop_in_time_is_told_to_shop_before_leaving():
    plan = planned(km=(260, *KM[3:]), start={"date": "2027-07-09", "food_meals": 0})
    cautions = " ".join(plan_document(plan)["summary"]["cautions"])
    assert plan.supply.shortfalls[0].excess_meals == plan.supply.start_carry_meals > 0
    assert "before you leave" in cautions


def test_what_is_in_the_larder_is_eaten_before_the_first_stop():
    plan = planned(start={"date": "2027-07-09", "food_meals": 2})
    assert plan.supply.start_carry_meals <= 2


def test_a_dinner_out_is_not_carried_and_its_place_is_named():
    plan, at_home = planned(food={"eat_out": {1: ["dinner"]}}, more=(cafe(90, 199),)), planned()
    assert len(plan.clock.meals) == len(at_home.clock.meals) - 1
    (out,) = plan.out
    assert (out.meal.kind, out.meal.leg_ix) == ("dinner", 0)
    (row,) = plan_document(plan)["eat_out"]
    assert row["name"] == "Shop 90"
    assert row["day"] == 1
    assert row["meal"] == "dinner"
    assert row["state"] == "open"


def test_a_dinner_out_is_a_visit_at_its_own_time_with_its_doubt():
    """The café is passed at four and visited after six: told is the door at dinner."""
    plan = planned(food={"eat_out": {1: ["dinner"]}}, more=(cafe(90, 199),))
    document = made.plan_document(plan)
    (dinner,) = [visit for visit in visits(document) if visit.buys == "dinner out"]
    (leg,) = [leg for leg in document.legs if leg.number == 1]
    assert leg.arrive < dinner.arrive
    assert dinner.earliest < dinner.arrive < dinner.latest
    assert dinner.leg == 1
    assert dinner.state == "open"
    assert "22:00" in dinner.hours


def test_where_no_place_is_known_or_all_are_shut_the_meal_is_carried_and_that_is_said():
    for more in ((), (cafe(90, 199, hours="Mo-Su 07:00-09:00"),)):
        plan = planned(food={"eat_out": {1: ["dinner"]}}, more=more)
        assert len(plan.clock.meals) == len(planned().clock.meals)
        document = plan_document(plan)
        assert document["eat_out"][0]["pass"] is None
        assert any("no place that serves meals" in said for said in document["summary"]["cautions"])


def test_lunch_out_every_day_takes_it_off_what_is_carried():
    cafes = tuple(cafe(100 + n, km) for n, km in enumerate(range(150, 1000, 20)))
    plan, at_home = planned(food={"eat_out_daily": ["lunch"]}, more=cafes), planned()
    lunches = [meal for meal in plan.clock.meals if meal.kind == "lunch"]
    assert len(lunches) < len([meal for meal in at_home.clock.meals if meal.kind == "lunch"])
    assert plan.clock.end_meals == at_home.clock.end_meals - sum(one.row >= 0 for one in plan.out)
    # Eaten before each kilometre: never more than with lunch in the bags.
    assert plan.clock.meals_before([400e3])[0] < at_home.clock.meals_before([400e3])[0]


def test_breakfast_out_is_at_a_bakery_in_the_first_hour():
    bakery = near(
        91, 210, hours="Mo-Su 06:00-12:00", kind="shop=bakery",
        supplies={Supply.SMALL_GROCERIES: Confidence.STATED},
    )  # fmt: skip
    plan = planned(food={"eat_out": {2: ["breakfast"]}}, more=(bakery,))
    (out,) = plan.out
    assert plan.prepared.places.places[plan.prepared.passes.place_ix[out.row]].id == "node/91"


def test_a_place_whose_hours_are_not_known_is_called_so():
    plan = planned(food={"eat_out": {1: ["dinner"]}}, more=(cafe(90, 199, hours=None),))
    (row,) = plan_document(plan)["eat_out"]
    assert row["pass"] is None or row["state"] != "open"


def across_the_border(date, **tables):
    """From Elvas in Portugal to beyond Badajoz in Spain, an hour ahead; a supermarket in each."""
    route = make_route([(np.linspace(-7.5, -6.5, 101), np.full(101, 38.88), None)], name="to Spain")
    places = (shop(1, -7.2, 38.881, hours="24/7"), shop(2, -6.8, 38.881, hours="24/7"))
    trip = trip_of(start={"date": date}, pace={"daily_km": 60.0, "speed_kmh": 50.0}, **tables)
    world = replace(prepared_world(route, places, trip), zone=None, country=None)
    return plan_document(plan_trip(world, trip))


def facts(leg, kind):
    return [fact["words"] for fact in leg["facts"] if fact["kind"] == kind]


def test_border_and_time_zone_are_facts_of_the_day_and_times_never_run_backwards():
    first, second = across_the_border("2027-07-09")["legs"]
    (border,) = facts(first, "border")
    assert border.startswith("from PT into ES at about km ")
    (zone,) = facts(first, "time_zone")
    assert "put the clock forward 1 h" in zone
    assert facts(second, "border") == facts(second, "time_zone") == []
    # 60 km at 50 km/h from 08:30 in Portugal are ridden at 10:42 in Spain.
    assert first["arrive"].startswith("2027-07-09T10:4")
    assert first["arrive"].endswith("+02:00")
    assert first["sunset"].endswith("+02:00")


def test_public_holidays_are_facts_of_the_day_also_where_no_shop_states_hours():
    legs = across_the_border("2027-06-10")["legs"]
    (said,) = facts(legs[0], "holiday")
    assert said.startswith("public holiday (PT) on Thu 10 Jun")
    assert facts(legs[1], "holiday") == []


def test_changed_clocks_are_a_fact_of_the_day():
    legs = across_the_border("2027-03-27")["legs"]
    assert facts(legs[0], "clocks") == []
    (said,) = facts(legs[1], "clocks")
    assert said.startswith("clocks go forward 1 h on Sun 28 Mar")


def test_sunset_is_told_against_the_arrival_in_camp():
    (said,) = facts(across_the_border("2027-07-09")["legs"][0], "sunset")
    assert said.startswith("sets 21:")
    assert "after you are there" in said


def test_a_country_without_a_calendar_is_told_as_not_known():
    route = make_route([([-28.0, -27.0], [46.0, 46.0], None)], name="nowhere")
    trip = trip_of(pace={"daily_km": 60.0})
    world = replace(prepared_world(route, (), trip), country="ZZ")
    told = facts(plan_document(plan_trip(world, trip))["legs"][0], "holiday")
    assert told == ["whether it is a public holiday is not known (ZZ)"]


def test_a_shop_beyond_camp_that_is_visited_from_there_belongs_to_the_day_that_ends_there():
    plan = planned(km=(404, 560, 700, 790, 930), food={"spare_meals": 0})
    (stop,) = [stop for stop in plan.supply.stops if stop.from_camp]
    assert stop.chainage_m > plan.legs[stop.leg_ix].end_m
    document = plan_document(plan)
    (told,) = [told for told in document["stops"] if told["from_camp"]]
    (row,) = [row for row in document["passes"] if row["id"] == told["pass"]]
    assert row["leg"] == told["leg"] == stop.leg_ix + 1


def supplied_on_the_way(**tables):
    """Ice at a machine and a pump at km 300, on day 2; shops on every day."""
    more = (
        near(80, 300, hours="24/7", kind="amenity=vending_machine", supplies=ICE),
        near(81, 302, hours="24/7", kind="amenity=fuel", supplies=FUEL),
    )
    return planned(more=more, fuel={"range_km": 400.0, "reserve_km": 50.0}, **tables)


def test_on_a_day_kept_free_of_shops_no_ice_is_bought_and_fuel_is_told_to_be_all():
    usual, free = supplied_on_the_way(), supplied_on_the_way(shops={"none_on_days": [2]})
    assert [stop.leg_ix for stop in usual.ice if stop.leg_ix == 1] == [1]
    assert [stop.leg_ix for stop in free.ice if stop.leg_ix == 1] == []
    assert not [chance for chance in ice_chances(free) if "80" in chance.label]
    assert [chance for chance in ice_chances(usual) if "80" in chance.label]
    said = [stop["words"] for stop in plan_document(free)["fuel"]["stops"]]
    assert said[0].endswith("fuel only: day 2 is kept free of shops.")
    assert not any("kept free" in stop["words"] for stop in plan_document(usual)["fuel"]["stops"])
