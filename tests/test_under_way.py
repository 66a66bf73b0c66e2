"""Planning again from where the rider is."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from test_cli import SAMPLES, fails, run
from worlds import prepared_world, shop, shops_along, trip_of, winding_route

from resupply.coolers import span_s, trip_dates
from resupply.errors import TripFileError
from resupply.pipeline import plan_trip
from resupply.places.model import Confidence, Supply
from resupply.report.document import plan_document
from resupply.run import ice_chances, plan_files
from resupply.supply.solve import Risk
from resupply.trip import load_trip

ROUTE = winding_route(1000)
KM = (40, 150, 260, 380, 470, 620, 700, 790, 930)


def planned(**now):
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0}, now=now)
    places = shops_along(ROUTE, KM, hours=("24/7",))
    return plan_trip(prepared_world(ROUTE, places, trip), trip)


def test_the_plan_goes_on_from_here_and_leaves_out_what_is_behind():
    plan = planned(at_km=430, time="2027-07-11T14:10:00", food_meals=3)
    assert plan.legs[0].start_m == 430e3
    assert plan.legs[0].number == 3
    assert plan.legs[0].end_m == 600e3
    assert plan.legs[0].depart.hour == 14
    assert plan.legs[1].depart.hour == 8
    assert all(stop.chainage_m > 430e3 for stop in plan.supply.stops)
    document = plan_document(plan)
    assert document["legs"][0]["number"] == 3
    assert all(gap["start_m"] >= 430_000 for gap in document["gaps"]["groceries"]["all"])


def test_food_on_board_decides_how_far_the_first_stop_may_be():
    hungry = planned(at_km=430, time="2027-07-11T14:10:00", food_meals=0)
    # The next shops are at km 470 and 620; dinner and breakfast come before the second.
    assert hungry.supply.start_carry_meals == 0
    fed = planned(at_km=430, time="2027-07-11T14:10:00", food_meals=6)
    assert fed.supply.start_carry_meals <= 6
    assert fed.supply.stops[0].chainage_m > hungry.supply.stops[0].chainage_m


def test_too_little_on_board_is_said():
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        now={"at_km": 430, "time": "2027-07-11T14:10:00", "food_meals": 1},
    )
    places = shops_along(ROUTE, (900,), hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    short = plan.supply.shortfalls[0]
    assert short.start_m == 430e3
    assert short.excess_meals == short.meals - 1


def test_a_place_past_the_end_and_half_a_statement_are_refused():
    with pytest.raises(TripFileError, match="past the end"):
        planned(at_km=5000, time="2027-07-11T14:10:00")
    with pytest.raises(TripFileError, match="belong together"):
        planned(at_km=430)
    with pytest.raises(TripFileError, match="without an offset"):
        planned(at_km=430, time="2027-07-11T14:10:00+02:00")


def test_the_command_plans_from_here_and_keeps_a_log(tmp_path):
    trip = SAMPLES / "coast_loop.toml"
    for km, meals in ((500, 3), (640, 1)):
        done = run(
            "here", trip, "--at-km", km, "--time", "2027-07-11T11:00",
            "--food-meals", meals, "--ice-kg", 2, "--out", tmp_path,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    log = (tmp_path / "log.csv").read_text().splitlines()
    assert log == [
        "time,at_km,food_meals,ice_kg",
        "2027-07-11T11:00,500,3,2",
        "2027-07-11T11:00,640,1,2",
    ]
    plan = json.loads((tmp_path / "plan.json").read_text())
    assert plan["legs"][0]["start_m"] == 640_000
    assert dt.date.fromisoformat(plan["legs"][0]["date"]) == dt.date(2027, 7, 11)
    assert plan["menu"]["days"]
    assert plan["shopping"]["stops"][0]["name"] != "home"


def test_a_wrong_time_is_one_line():
    fails(
        "here", SAMPLES / "coast_loop.toml", "--at-km", 500, "--time", "noon", says="noon"
    )  # fmt: skip


STATED = {Supply.GROCERIES: Confidence.STATED, Supply.ICE: Confidence.STATED}
LIKELY = {Supply.GROCERIES: Confidence.STATED, Supply.ICE: Confidence.LIKELY}


def _with_ice_behind():
    """Stated ice at km 100 and likely ice at km 500; the rider is at km 430."""
    places = tuple(
        shop(number, *_beside(km), hours="24/7", supplies=supplies)
        for number, (km, supplies) in enumerate(((100, STATED), (500, LIKELY), (700, STATED)), 1)
    )
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        cooler={"kind": "hard"},
        now={"at_km": 430, "time": "2027-07-11T14:10:00", "food_meals": 3},
    )
    return plan_trip(prepared_world(ROUTE, places, trip), trip)


def _beside(km):
    lon, lat = ROUTE.position_at(km * 1000.0)
    return lon, lat + 0.005


def test_ice_behind_does_not_hide_the_ice_ahead_on_the_same_day():
    plan = _with_ice_behind()
    assert [(stop.leg_ix, stop.row) for stop in plan.ice] == [(0, 1), (1, 2)]


def test_ice_is_never_bought_behind():
    assert [chance.label for chance in ice_chances(_with_ice_behind())] == ["Shop 2", "Shop 3"]


def test_the_document_holds_only_what_is_ahead():
    document = plan_document(_with_ice_behind())
    assert [row["place"] for row in document["passes"]] == ["node/2", "node/3"]
    assert document["carry_profile"][0]["chainage_m"] == 430_000
    left_km = round((ROUTE.length_m - 430e3) / 1000.0)
    assert document["summary"]["headline"].startswith(f"{left_km} km ")


def test_a_rider_weeks_late_still_learns_the_opening_hours():
    plan = planned(at_km=430, time="2027-09-11T14:10:00", food_meals=3)
    assert plan.supply.stops
    assert all(stop.risk == Risk.OPEN for stop in plan.supply.stops)


def test_nobody_under_way_is_told_to_start_on_another_day():
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        now={"at_km": 430, "time": "2027-07-11T14:10:00", "food_meals": 1},
        show={"sweep": True, "sweep_weekdays": True},
    )
    places = shops_along(ROUTE, (900,), hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    assert {row.outcome.start_date for row in plan.sweep} == {dt.date(2027, 7, 11)}
    assert sum(row["chosen"] for row in plan_document(plan)["sweep"]["rows"]) == 1
    assert not any("start on" in remedy.change.words for remedy in plan.remedies)


def _meals(plan):
    return [(meal.kind, meal.when.day) for meal in plan.clock.meals]


def test_in_camp_in_the_evening_the_ride_goes_on_next_morning():
    plan = planned(at_km=400, time="2027-07-10T18:30:00", food_meals=4)
    first = plan.legs[0]
    assert (first.number, first.start_m) == (3, 400e3)
    assert (first.depart.day, first.depart.hour) == (11, 8)
    # Dinner tonight and breakfast are eaten from what is on board.
    assert _meals(plan)[:3] == [("dinner", 10), ("breakfast", 11), ("lunch", 11)]
    assert plan.clock.base_meals[0] == 2
    assert plan.gaps[Supply.GROCERIES][0].meals >= 2


def test_in_camp_after_dinner_only_breakfast_is_to_come():
    plan = planned(at_km=400, time="2027-07-10T21:00:00", food_meals=4)
    assert _meals(plan)[:2] == [("breakfast", 11), ("lunch", 11)]


def test_before_the_usual_departure_breakfast_is_still_to_come():
    in_camp = planned(at_km=400, time="2027-07-11T06:00:00", food_meals=4)
    assert (in_camp.legs[0].depart.day, in_camp.legs[0].depart.hour) == (11, 8)
    assert _meals(in_camp)[0] == ("breakfast", 11)
    on_the_road = planned(at_km=430, time="2027-07-11T06:00:00", food_meals=4)
    assert on_the_road.legs[0].depart.hour == 6
    assert _meals(on_the_road)[0] == ("breakfast", 11)


def test_ice_on_board_melts_through_the_night_before_the_ride():
    plan = planned(at_km=400, time="2027-07-10T18:30:00", food_meals=4)
    assert span_s(plan.clock)[0] == plan.legs[0].depart.timestamp() - 14 * 3600
    assert trip_dates(plan.clock)[0] == dt.date(2027, 7, 10)
    profile = plan_document(plan)["carry_profile"]
    assert [point["chainage_m"] for point in profile[:3]] == [400_000] * 3


def test_a_plan_from_camp_has_all_its_blocks():
    trip = load_trip(SAMPLES / "coast_loop.toml")
    at_km = plan_files(trip, SAMPLES)[0]["legs"][1]["end_m"] / 1000.0
    evening = {"now.at_km": at_km, "now.time": "2027-07-10T18:00:00", "now.ice_kg": 2.0}
    document, _ = plan_files(load_trip(SAMPLES / "coast_loop.toml", evening), SAMPLES)
    assert document["legs"][0]["date"] == "2027-07-11"
    assert {"menu", "cold", "water", "load"} <= set(document)
