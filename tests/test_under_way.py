"""Planning again from where the rider is."""

from __future__ import annotations

import datetime as dt
import io
import json
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from command_line import fails, run
from demo_plans import SAMPLES, demo_plan, demo_read, demo_told
from plan_classes import as_plan
from rich.console import Console
from told import plan_document
from worlds import prepared_world, shop, shops_along, trip_of, winding_route

from resupply.api import cook, ice_chances
from resupply.api.again import prepared_for
from resupply.cli.terminal import print_summary
from resupply.common.errors import ResupplyError, TripFileError
from resupply.common.show import text as shown_as
from resupply.common.units import KG_PER_LB, L_PER_GAL, M_PER_MI
from resupply.hours.state import OpenState
from resupply.kitchen.coolers import span_s, trip_dates
from resupply.passes.position import at_km_of, local_now, ridden_route
from resupply.places.place import Confidence, RouteSpan, Supply
from resupply.plan.pipeline import plan_trip
from resupply.plan.prepare import rejoin
from resupply.report.log import add_to_log
from resupply.route.read import read_route
from resupply.route.route import make_route
from resupply.trip.read_file import load_trip, make_trip

ROUTE = winding_route(1000)
KM = (40, 150, 260, 380, 470, 620, 700, 790, 930)


def sample_file(folder):
    """Write the first sample trip without the roads of its map, which take longest to read."""
    text = (SAMPLES / "coast_loop.toml").read_text("utf-8")
    for name in ("coast_loop.gpx", "varrow.osm.pbf"):
        text = text.replace(f'"{name}"', f'"{(SAMPLES / name).as_posix()}"')
    text = text.replace("[map]", "[show]\nsweep = false\n\n[map]\nroads = false")
    (folder / "coast_loop.toml").write_text(text, "utf-8")
    return folder / "coast_loop.toml"


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
    trip = sample_file(tmp_path)
    for km, meals in ((500, 3), (640, 1)):
        done = run(
            "here", trip, "--at-km", km, "--time", "2027-07-11T11:00",
            "--food-meals", meals, "--ice-kg", 2, "--fuel-km", 180, "--out", tmp_path,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    log = (tmp_path / "log.csv").read_text().splitlines()
    assert log == [
        "time,at_km,food_meals,ice_kg,fuel_km,water_l",
        "2027-07-11T11:00,500,3,2,180,",
        "2027-07-11T11:00,640,1,2,180,",
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


STATED = {Supply.ICE: Confidence.STATED}
LIKELY = {Supply.ICE: Confidence.LIKELY}


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
    assert all(stop.risk == OpenState.OPEN for stop in plan.supply.stops)


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
    assert not any(key == "start.date" for r in plan.remedies for key, _ in r.change.keys)


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


@pytest.mark.parametrize(
    ("time", "leaves_on", "says"),
    [
        ("2027-07-10T18:30:00", 12, "You rest in this camp until Sun 11 Jul (1 rest day"),
        ("2027-07-11T07:00:00", 12, "leave on Mon 12 Jul"),
        ("2027-07-11T18:30:00", 12, "leave on Mon 12 Jul"),
        ("2027-07-12T07:00:00", 12, "1 rest day after day 2 ended on Sun 11 Jul by the plan"),
    ],
)
def test_a_storm_day_entered_in_camp_is_kept_and_told(time, leaves_on, says):
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0, "rest_days": {2: 1}},
        now={"at_km": 400, "time": time, "food_meals": 4},
    )
    places = shops_along(ROUTE, KM, hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    assert (plan.legs[0].number, plan.legs[0].depart.day) == (3, leaves_on)
    assert any(says in said for said in plan_document(plan)["summary"]["cautions"])


def test_the_meals_of_a_storm_day_are_counted():
    def needed(**pace):
        trip = trip_of(
            pace={"daily_km": 200.0, "speed_kmh": 50.0, **pace},
            now={"at_km": 400, "time": "2027-07-10T18:30:00", "food_meals": 9},
        )
        places = shops_along(ROUTE, KM, hours=("24/7",))
        return int(plan_trip(prepared_world(ROUTE, places, trip), trip).clock.base_meals[0])

    assert needed(rest_days={2: 1}) == needed() + 3
    # Days of rest elsewhere change nothing here.
    assert needed(rest_days={1: 1, 3: 1}) == needed()


def test_too_little_food_names_the_way_from_here():
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        now={"at_km": 430, "time": "2027-07-11T14:10:00", "food_meals": 1},
    )
    places = shops_along(ROUTE, (900, 902), hours=("24/7",))
    (short,) = plan_document(plan_trip(prepared_world(ROUTE, places, trip), trip))["shortfalls"]
    assert "from here (km 430) to km 90" in short["words"]
    assert short["start_m"] == 430_000


def test_ice_on_board_melts_through_the_night_before_the_ride():
    plan = planned(at_km=400, time="2027-07-10T18:30:00", food_meals=4)
    assert span_s(plan.clock)[0] == plan.legs[0].depart.timestamp() - 14 * 3600
    assert trip_dates(plan.clock)[0] == dt.date(2027, 7, 10)
    profile = plan_document(plan)["carry_profile"]
    assert [point["chainage_m"] for point in profile[:3]] == [400_000] * 3


def test_a_plan_from_camp_has_all_its_blocks():
    at_km = demo_plan()[0]["legs"][1]["end_m"] / 1000.0
    evening = {"now__at_km": at_km, "now__time": "2027-07-10T18:00:00", "now__ice_kg": 2.0}
    document, _ = demo_plan(**evening)
    assert document["legs"][0]["date"] == "2027-07-11"
    assert {"menu", "cold", "water", "load"} <= set(document)


FUEL = {Supply.FUEL: Confidence.STATED}
WATER = {Supply.WATER: Confidence.STATED}


def with_stations(*km, at_km=430, trip=None, **now):
    stations = [
        shop(n, *_beside(at), hours="24/7", kind="amenity=fuel", supplies=FUEL)
        for n, at in enumerate(km, 1)
    ]
    if at_km is not None:
        now = {"at_km": at_km, "time": "2027-07-11T14:10:00", "food_meals": 9, **now}
    tables = {"fuel": {"range_km": 300, "reserve_km": 40}} if trip is None else trip
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0}, now=now, **tables)
    return plan_trip(prepared_world(ROUTE, tuple(stations), trip), trip)


def test_fuel_that_is_not_stated_is_said_and_filled_up_at_the_next_station():
    plan = with_stations(460, 600, 680, 850, 1040)
    assert plan.fuel.tank_m is None
    assert round(plan.fuel.stops[0].chainage_m / 1000) == 460 - 430
    document = plan_document(plan)
    assert document["fuel"]["tank_m"] is None
    (said,) = [c for c in document["summary"]["cautions"] if "your fuel" in c]
    assert "not stated" in said
    assert "Shop 1 (km 460)" in said
    assert "Fill up there" in said
    assert not document["fuel"]["exceeded"]


def test_the_fuel_on_board_decides_where_the_first_stop_is():
    plan = with_stations(460, 600, 680, 850, 1040, fuel_km=250)
    assert round(plan.fuel.stops[0].chainage_m / 1000) == 600 - 430
    assert not plan.fuel.shortfalls
    document = plan_document(plan)
    assert document["fuel"]["tank_m"] == 250_000
    assert not any("fuel" in caution for caution in document["summary"]["cautions"])
    little = with_stations(460, 600, 680, 850, 1040, fuel_km=80)
    assert round(little.fuel.stops[0].chainage_m / 1000) == 460 - 430
    assert not little.fuel.shortfalls


def test_fuel_that_does_not_reach_the_next_station_is_the_first_caution():
    document = plan_document(with_stations(540, 680, 850, 1040, fuel_km=70))
    first = document["summary"]["cautions"][0]
    assert first.startswith("Your fuel does not last")
    assert "Shop 1 (km 540)" in first
    assert "None is nearer behind you" not in first  # none is known behind at all
    assert document["fuel"]["exceeded"][0]["words"] == first
    reserve = plan_document(with_stations(490, 680, 850, 1040, fuel_km=80))["summary"]["cautions"][
        0
    ]
    assert reserve.startswith("You ride on your reserve")


def test_without_any_station_ahead_fuel_not_stated_is_not_called_enough():
    document = plan_document(with_stations(100, at_km=900))
    assert document["fuel"]["stops"] == []
    said = document["fuel"]["tank_words"]
    assert "no station is known ahead" in said
    assert said in document["summary"]["cautions"]


def test_a_trip_from_home_leaves_with_a_full_tank_and_says_so():
    plan = with_stations(200, 400, 600, 800, 1000, at_km=None)
    assert plan.fuel.tank_m == 300e3
    assert "full tank" in plan_document(plan)["fuel"]["tank_words"]


def test_without_a_range_the_next_station_is_named():
    document = plan_document(with_stations(540, trip={}, fuel_km=70))
    (said,) = [c for c in document["summary"]["cautions"] if "no range" in c]
    # 110 km by the route and half the way off it and back.
    assert "Shop 1, 111 km from here" in said
    assert "your fuel goes 70 km" in said
    assert facts_of(document)["Fuel in the tank"] == (
        "goes 70 km; next station after 111 km",
        "alarm",
    )


def with_tap(**now):
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        weather={"low_c": 15, "high_c": 25},
        now={"at_km": 430, "time": "2027-07-11T14:10:00", "food_meals": 3, **now},
    )
    tap = shop(99, *_beside(640), kind="amenity=drinking_water", supplies=WATER)
    food = shops_along(ROUTE, KM, hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, (*food, tap), trip), trip)
    return plan_document(plan, cook(plan, Path()))


def test_water_on_board_is_held_against_the_way_to_the_next_water():
    unknown, little, enough = (with_tap(**now) for now in ({}, {"water_l": 0.5}, {"water_l": 40}))
    assert unknown["water"]["on_board"]["lasts"] is None
    assert little["water"]["on_board"]["lasts"] is False
    assert enough["water"]["on_board"]["lasts"] is True
    for document in (unknown, little):
        assert document["water"]["on_board"]["words"] in document["summary"]["cautions"]
    assert "not stated" in unknown["water"]["on_board"]["words"]
    assert not any("water" in c for c in enough["summary"]["cautions"])


def test_the_log_keeps_what_a_rider_wrote_into_it(tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("time,at_km,note\n2027-07-11T11:00,500,rain\n", "utf-8")
    add_to_log(log, {"time": "2027-07-11T14:00", "at_km": 640.0, "fuel_km": None})
    assert log.read_text("utf-8").splitlines() == [
        "time,at_km,note,fuel_km",
        "2027-07-11T11:00,500,rain,",
        "2027-07-11T14:00,640,,",
    ]


@pytest.mark.parametrize(
    ("time", "camp_km"),
    [("2027-07-11T12:00:00", 602), ("2027-07-11T18:00:00", 575), ("2027-12-05T14:30:00", 575)],
)
def test_tonight_is_chosen_by_todays_sunset_and_the_time_it_is(time, camp_km):
    camps = [
        shop(
            n, *_beside(km), kind="tourism=camp_site", supplies={Supply.CAMP: Confidence.STATED},
            tags={"tents": "yes"},
        )
        for n, km in enumerate((575, 602), 1)
    ]  # fmt: skip
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        night={"camps": True, "tolerance_km": 30},
        now={"at_km": 430, "time": time, "food_meals": 9},
    )
    plan = plan_trip(prepared_world(ROUTE, tuple(camps), trip), trip)
    assert round(plan.legs[0].end_m / 1000) == camp_km
    assert plan.nights[0].day == plan.legs[0].number == 3


def test_a_day_set_by_hand_is_measured_from_the_camp_before_it():
    camp = shop(
        1, *_beside(185), kind="tourism=camp_site", supplies={Supply.CAMP: Confidence.STATED},
        tags={"tents": "yes"},
    )  # fmt: skip
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0, "own_km": {2: 120.0}},
        night={"camps": True, "tolerance_km": 30},
        now={"at_km": 250, "time": "2027-07-10T12:00:00", "food_meals": 9},
    )
    plan = plan_trip(prepared_world(ROUTE, (camp,), trip), trip)
    first = plan.legs[0]
    assert (first.number, round((first.began_m or 0.0) / 1000)) == (2, 185)
    assert first.end_m == first.began_m + 120e3
    rows = plan_document(plan)["legs"]
    assert rows[0]["began_m"] == round(first.began_m)
    assert all("began_m" not in row for row in rows[1:])


def test_what_is_eaten_on_the_way_is_what_the_rider_has():
    profile = plan_document(planned(at_km=430, time="2027-07-11T14:10:00", food_meals=9))[
        "carry_profile"
    ]
    assert (profile[0]["chainage_m"], profile[0]["meals"]) == (430_000, 9)
    assert [row["at_s"] for row in profile] == sorted(row["at_s"] for row in profile)
    assert [row["stop"] for row in profile if "stop" in row][0] == 1
    assert min(row["meals"] for row in profile) >= 0
    assert [row["meals"] for row in profile[:3]] == [9, 8, 7]


def test_map_data_missing_behind_is_no_matter_any_more():
    def coverage(*holes_km):
        trip = trip_of(
            pace={"daily_km": 200.0, "speed_kmh": 50.0},
            now={"at_km": 430, "time": "2027-07-11T14:10:00", "food_meals": 3},
        )
        holes = tuple(RouteSpan(a * 1000.0, b * 1000.0, "lost") for a, b in holes_km)
        places = shops_along(ROUTE, KM, hours=("24/7",))
        document = plan_document(
            plan_trip(prepared_world(ROUTE, places, trip, unknown=holes), trip)
        )
        facts = {fact["label"]: fact["value_words"] for fact in document["summary"]["facts"]}
        return document["coverage"], facts["Map data"]

    behind, fact = coverage((100, 200))
    assert behind["unknown"] == []
    assert "covers the whole way ahead" in behind["words"]
    assert fact == "on the whole route"
    here, fact = coverage((400, 450), (500, 510))
    assert [s["start_m"] for s in here["unknown"]] == [430_000, 500_000]
    assert here["words"].startswith("Map data is missing on 30 km of the way ahead")
    assert fact.startswith("missing")


def facts_of(document):
    return {f["label"]: (f["value_words"], f["tone"]) for f in document["summary"]["facts"]}


def test_the_first_facts_are_where_what_is_on_board_and_the_next_shop():
    document = plan_document(planned(at_km=430, time="2027-07-11T14:10:00", food_meals=3))
    facts = facts_of(document)
    assert list(facts)[:4] == ["You are at", "Food on board", "Next shop", "Fuel in the tank"]
    assert facts["You are at"][0] == "km 430, Sun 14:10"
    assert facts["Food on board"][0].startswith("3 meals each, ")
    assert facts["Next shop"] == ("Shop 5, 40 km on, Sun 14:59, open", "plain")
    assert document["summary"]["headline"].startswith("737 km from km 430 in")
    assert document["start_carry"]["on_board_meals"] == 3
    at_home = plan_document(planned())
    assert "You are at" not in facts_of(at_home)
    assert at_home["start_carry"]["on_board_meals"] is None


def test_a_next_shop_that_is_not_sure_names_the_next_that_is():
    places = (
        shop(1, *_beside(470), hours=None),
        shop(2, *_beside(480), hours="off"),
        shop(3, *_beside(520), hours="24/7"),
    )
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        now={"at_km": 430, "time": "2027-07-12T11:00:00", "food_meals": 6},
    )
    facts = facts_of(plan_document(plan_trip(prepared_world(ROUTE, places, trip), trip)))
    assert facts["Next shop"] == (
        "Shop 1, 40 km on, Mon 11:48, not known, usually open then",
        "caution",
    )
    assert facts["Next shop open for sure"][0].startswith("Shop 3, 90 km on")


def short_of_food(*behind_km):
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        now={"at_km": 430, "time": "2027-07-11T14:10:00", "food_meals": 1},
    )
    places = shops_along(ROUTE, (*behind_km, 900), hours=("Mo-Su 08:00-20:00",))
    document = plan_document(plan_trip(prepared_world(ROUTE, places, trip), trip))
    return document["shortfalls"][0]["words"], facts_of(document)["Food on board"]


def test_too_little_food_on_board_is_no_matter_of_the_limit_and_looks_back():
    said, fact = short_of_food(400)
    assert "over your limit" not in said
    assert "and have 1: " in said
    assert "too few" in said
    assert "behind you is Shop 1 (km 399), 31 km back (now: open 08:00–20:00)." in said
    assert fact[1] == "alarm"
    assert "behind" not in short_of_food()[0]


def test_a_station_behind_that_is_nearer_than_the_next_is_named():
    first = plan_document(with_stations(400, 540, 680, 850, 1040, fuel_km=70))
    said = first["summary"]["cautions"][0]
    assert "The nearest behind you is Shop 1 (km 400), 30 km back" in said
    far = plan_document(with_stations(200, 540, 680, 850, 1040, fuel_km=70))
    assert "None is nearer behind you" in far["summary"]["cautions"][0]


def test_a_late_arrival_says_how_far_the_rider_gets_in_time():
    document = plan_document(planned(at_km=430, time="2027-07-11T18:00:00", food_meals=9))
    (said,) = [c for c in document["legs"][0]["cautions"] if "latest time in camp" in c]
    # Two hours at 50 km/h, a rest after them.
    assert "by then you are at about km 5" in said
    gone = plan_document(planned(at_km=430, time="2027-07-11T20:30:00", food_meals=9))
    assert any("you set out after it" in c for c in gone["legs"][0]["cautions"])


def test_a_time_before_the_trip_is_questioned():
    early = plan_document(planned(at_km=430, time="2027-07-01T14:10:00", food_meals=3))
    assert any("is before the trip's start date" in c for c in early["summary"]["cautions"])
    late = plan_document(planned(at_km=430, time="2027-07-21T14:10:00", food_meals=3))
    assert not any("before the trip's start" in c for c in late["summary"]["cautions"])


def test_ice_that_comes_too_late_is_not_called_none_needed():
    document = demo_told(
        "coast_loop", now__at_km=812, now__time="2027-07-12T14:10:00", now__food_meals=3,
        now__ice_kg=2.0, show__sweep=False,
    )  # fmt: skip
    assert document["cold"]["coolers"][0]["state"] == "fails"
    assert facts_of(document)["Ice"] == ("none that could be bought in time", "alarm")
    assert document["ice"]["words"].startswith("No ice can be bought in time")


def test_food_that_stays_cold_by_doubtful_ice_is_a_caution():
    document = demo_told(
        "there_and_back", now__at_km=212, now__time="2027-07-11T19:10:00", now__food_meals=3,
        now__ice_kg=2.0, show__sweep=False, food__eggs="chilled",
    )  # fmt: skip
    (ice,) = document["ice"]["stops"]
    assert ice["state"] == "usually_open"
    said, tone = facts_of(document)["Cold food"]
    assert said.endswith("if all that ice is there")
    assert tone == facts_of(document)["Ice"][1] == "caution"


def test_the_time_left_out_is_the_time_where_the_trip_is():
    # 25 hours apart.
    times = [local_now(zone) for zone in ("Pacific/Kiritimati", "Pacific/Niue")]
    assert round((times[0] - times[1]).total_seconds() / 3600.0) == 25
    assert local_now("Europe").tzinfo is local_now(None).tzinfo is None


def test_the_terminal_sets_what_is_needed_beside_what_is_on_board():
    document = plan_document(planned(at_km=430, time="2027-07-11T14:10:00", food_meals=3))
    console = Console(file=io.StringIO(), width=140)
    print_summary(as_plan(document), console, {})
    assert "where you are" in console.file.getvalue()
    assert "needed, 3 on board" in console.file.getvalue()


def test_a_position_beside_the_route_is_its_kilometre():
    lon, lat = ROUTE.position_at(430e3)
    assert at_km_of(ROUTE, f"{lat + 0.004:.5f}, {lon:.5f}") == pytest.approx(430.0, abs=0.3)


def test_a_position_off_the_route_or_none_at_all_is_refused():
    lon, lat = ROUTE.position_at(430e3)
    with pytest.raises(ResupplyError, match="more than 2 km"):
        at_km_of(ROUTE, f"{lat + 0.1:.5f},{lon:.5f}")
    # Longitude first is somewhere else altogether.
    with pytest.raises(ResupplyError, match="latitude, then longitude"):
        at_km_of(ROUTE, f"{lon:.5f},{lat:.5f}")
    for text in ("here", "", "46.6", "46.6,-27,3", "146,20", "46,200", "nan,nan"):
        with pytest.raises(ResupplyError, match="no position"):
            at_km_of(ROUTE, text)


def test_where_the_route_comes_by_twice_the_rider_says_which():
    lon = np.concatenate([np.linspace(-28.0, -27.0, 120), np.linspace(-27.0, -28.0, 120)[1:]])
    road = make_route([(lon, np.full(lon.shape, 46.0), None)], name="there and back")
    with pytest.raises(ResupplyError, match=r"more than once, at km 23\.\d, 131\.\d"):
        at_km_of(road, "46.001,-27.7")


def test_the_command_takes_a_position_and_wants_one_answer(tmp_path):
    lon, lat = read_route(SAMPLES / "coast_loop.gpx").position_at(812e3)
    done = run(
        "here", SAMPLES / "coast_loop.toml", "--position", f"{lat},{lon}",
        "--time", "2027-07-12T14:10", "--food-meals", 3, "--out", tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "You are at: km 812, Mon 14:10" in done.stdout
    trip = SAMPLES / "coast_loop.toml"
    fails("here", trip, says="either --at-km or --position")
    fails("here", trip, "--at-km", 5, "--position", "46,-27", says="either --at-km")


def test_miles_pounds_gallons_and_days_of_food_say_the_same_as_metric(tmp_path):
    trip, at = sample_file(tmp_path), ("--time", "2027-07-10T11:10", "--out")
    # The same to the last digit: a choice of dishes or ice may hang on a hair.
    at_km, ice_kg, fuel_km, water_l = (
        186.411 * M_PER_MI / 1000.0, 4.409 * KG_PER_LB, 60 * M_PER_MI / 1000.0, L_PER_GAL,
    )  # fmt: skip
    metric = (
        f"--at-km {at_km!r} --food-meals 3 --ice-kg {ice_kg!r} --fuel-km {fuel_km!r} "
        f"--water-l {water_l!r}"
    )
    imperial = "--at-mi 186.411 --food-days 1.2 --ice-lb 4.409 --fuel-mi 60 --water-gal 1"
    facts = []
    for words in (metric, imperial):
        assert run("here", trip, *words.split(), *at, tmp_path).returncode == 0
        plan = json.loads((tmp_path / "plan.json").read_text("utf-8"))
        facts.append([shown_as(fact["value_words"]) for fact in plan["summary"]["facts"]])
    assert facts[0] == facts[1]
    assert "goes 97 km" in str(facts[0])
    fails("here", trip, "--at-km", 300, "--at-mi", 2, *at, tmp_path, says="say the same")


def test_a_position_needs_a_route_to_be_on():
    with pytest.raises(TripFileError, match="no route is given"):
        ridden_route(make_trip({}), Path())


@pytest.mark.parametrize(
    ("at_km", "time", "leave_on", "rides", "rested"),
    [
        # In camp: after lunch the days that follow, in the morning this one too.
        (400, "2027-07-10T18:30:00", "2027-07-12", [(3, 12), (4, 13)], [0, 0]),
        (400, "2027-07-11T07:00:00", "2027-07-12", [(3, 12), (4, 13)], [0, 0]),
        # A day that is past says nothing.
        (400, "2027-07-12T07:00:00", "2027-07-12", [(3, 12), (4, 13)], [0, 0]),
        # On the road: after tonight.
        (430, "2027-07-11T14:00:00", "2027-07-13", [(3, 11), (4, 13)], [0, 1]),
        (430, "2027-07-11T14:00:00", "2027-07-12", [(3, 11), (4, 12)], [0, 0]),
    ],
)
def test_days_of_rest_said_on_the_way_are_rested_here_or_tonight(
    at_km, time, leave_on, rides, rested
):
    legs = planned(at_km=at_km, time=time, food_meals=9, leave_on=leave_on).legs
    assert [(leg.number, leg.date.day) for leg in legs[:2]] == rides
    assert [leg.rest_days_before for leg in legs[:2]] == rested


def test_a_rest_said_in_camp_is_told_and_its_meals_are_counted():
    now = {"at_km": 400, "time": "2027-07-10T18:30:00", "food_meals": 9}
    rests = planned(**now, leave_on="2027-07-12")
    assert rests.clock.base_meals[0] == planned(**now).clock.base_meals[0] + 3
    cautions = plan_document(rests)["summary"]["cautions"]
    assert "You rest in this camp and leave on Mon 12 Jul, as you said." in cautions


@pytest.mark.parametrize("shop_km", [403, 397])
@pytest.mark.parametrize(
    ("time", "leave_on", "goes"),
    [
        # The evening in camp, a day of rest there, and the night before riding on.
        ("2027-07-10T16:00:00", "2027-07-11", (10, 16)),
        ("2027-07-11T04:00:00", "2027-07-12", (11, 10)),
        ("2027-07-10T19:40:00", "2027-07-11", (10, 19)),
    ],
)
def test_from_the_camp_where_the_rider_waits_a_shop_nearby_is_visited(
    shop_km, time, leave_on, goes
):
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        now={"at_km": 400, "time": time, "food_meals": 0, "leave_on": leave_on},
    )
    places = shops_along(ROUTE, (shop_km, 470, 560, 700, 900), hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    stop = plan.supply.stops[0]
    went = plan.clock.local(0, stop.arrive_s)
    assert (stop.from_camp, stop.on_board_m) == (True, 400e3)
    assert went.day == goes[0]
    assert went.hour >= goes[1]
    assert stop.arrive_s < plan.clock.depart_s[0]
    document = plan_document(plan)
    assert document["stops"][0]["pass"] in {one["id"] for one in document["passes"]}


def test_a_shop_behind_is_not_ridden_back_to_on_the_road():
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0},
        now={"at_km": 430, "time": "2027-07-11T14:00:00", "food_meals": 0},
    )
    places = shops_along(ROUTE, (428, 470, 560, 700, 900), hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    assert all(stop.chainage_m > 430e3 for stop in plan.supply.stops)


def test_the_evening_of_a_day_kept_free_of_shops_stays_free_in_camp():
    def first(**shops):
        trip = trip_of(
            pace={"daily_km": 200.0, "speed_kmh": 50.0},
            now={"at_km": 400, "time": "2027-07-10T16:00:00", "food_meals": 0},
            shops=shops,
        )
        places = shops_along(ROUTE, (403, 470, 560, 700, 900), hours=("24/7",))
        return plan_trip(prepared_world(ROUTE, places, trip), trip).supply.stops[0]

    assert first().arrive_s < first(none_on_days=[2]).arrive_s
    assert first().from_camp
    assert not first(none_on_days=[2]).from_camp


@pytest.mark.parametrize(
    ("shops_km", "says"), [((397, 403), "Go on to Shop 2, "), ((395, 401), "Go to Shop 1, ")]
)
def test_if_the_shop_near_camp_is_shut_the_next_door_is_tried_the_same_day(shops_km, says):
    now = {"at_km": 400, "time": "2027-07-11T07:00:00", "food_meals": 0, "leave_on": "2027-07-12"}
    trip = trip_of(pace={"daily_km": 200.0, "speed_kmh": 50.0}, now=now)
    places = shops_along(ROUTE, (*shops_km, 560, 700, 900), hours=("24/7",))
    plan = plan_trip(prepared_world(ROUTE, places, trip), trip)
    stop, stand_in = plan.supply.stops[0], plan_document(plan)["stops"][0]["fallback"]
    assert 0 < plan.supply.stops[0].fallback.arrive_s - stop.arrive_s < 3600
    assert stand_in["words"].startswith(says)
    assert (" back" in stand_in["words"]) == (says == "Go to Shop 1, ")
    assert "in the evening, there about Sun" in stand_in["words"]
    assert "past camp" not in stand_in["words"]


def test_a_rest_of_months_is_refused():
    with pytest.raises(TripFileError, match="at most 60"):
        planned(at_km=400, time="2027-07-10T18:30:00", leave_on="2027-11-12")


def test_a_shop_that_is_gone_leaves_the_ways_to_all_others_as_they_are():
    read = demo_read("coast_loop")
    gone = [place.id for place in read.prepared.places.places[:40:4]]
    trip = load_trip(SAMPLES / "coast_loop.toml", {"shops.gone": gone})
    quick = prepared_for(read.prepared, read.trip, trip)
    anew = rejoin(replace(read.prepared, joined=None), trip)
    assert 0 < len(quick.passes) < len(read.prepared.passes)
    for one, other in ((quick.passes, anew.passes), (quick.detours, anew.detours)):
        for column in fields(one):
            left, right = getattr(one, column.name), getattr(other, column.name)
            if column.name.startswith("path"):
                left, right = (
                    np.concatenate([p for line in x for p in line]) for x in (left, right)
                )
            assert np.array_equal(left, right, equal_nan=column.name == "walk_m")
    assert all(np.array_equal(mask, anew.supply[kind]) for kind, mask in quick.supply.items())
    assert np.array_equal(quick.by_road, anew.by_road)
    assert quick.no_road == anew.no_road
    # Taken back, it is passed again.
    back = prepared_for(quick, read.trip, read.trip)
    assert np.array_equal(back.passes.chainage_m, read.prepared.passes.chainage_m)


def test_ice_found_or_missed_on_the_way_counts_for_the_plan_and_can_be_taken_back():
    read = demo_read("coast_loop")
    likely = next(
        p for p in read.prepared.places.places if p.supplies.get(Supply.ICE) is Confidence.LIKELY
    )

    def ice_at(**shops):
        trip = load_trip(SAMPLES / "coast_loop.toml", {f"shops.{k}": v for k, v in shops.items()})
        made = prepared_for(read.prepared, read.trip, trip)
        again = prepared_for(made, read.trip, read.trip)
        assert [p.supplies for p in again.places.places] == [
            p.supplies for p in read.prepared.places.places
        ]
        rows = np.flatnonzero(made.supply[Supply.ICE])
        ids = {made.places.places[int(made.passes.place_ix[row])].id: int(row) for row in rows}
        place = next(p for p in made.places.places if p.id == likely.id)
        return likely.id in ids, place.supplies.get(Supply.ICE)

    assert ice_at(no_ice=[likely.id]) == (False, None)
    assert ice_at(has_ice=[likely.id]) == (True, Confidence.STATED)
    assert ice_at(has_ice=[likely.id], no_ice=[likely.id]) == (False, None)
