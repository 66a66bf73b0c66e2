"""Camps, fuel and water of a prepared trip, and how the document tells them."""

from __future__ import annotations

import datetime as dt

import pytest
from demo_plans import demo_told
from told import plan_document
from worlds import prepared_world, shop, shops_along, trip_of, winding_route

from resupply.api import cook
from resupply.common.errors import TripFileError
from resupply.places.place import Confidence, Supply
from resupply.plan.pipeline import plan_trip

ROUTE = winding_route(800)
CAMP = {Supply.CAMP: Confidence.STATED}
FUEL = {Supply.FUEL: Confidence.STATED}
WATER = {Supply.WATER: Confidence.STATED}


def at(km, number, supplies, kind, **options):
    lon, lat = ROUTE.position_at(km * 1000.0)
    return shop(number, lon, lat + 0.004, supplies=supplies, kind=kind, **options)


def camp(km, number, **tags):
    return at(km, number, CAMP, "tourism=camp_site", tags={"tents": "yes", **tags})


def planned(places, **tables):
    tables.setdefault("pace", {"daily_km": 200.0, "speed_kmh": 50.0})
    trip = trip_of(**tables)
    food = shops_along(ROUTE, (60, 310, 520, 700), hours=("24/7",))
    return plan_trip(prepared_world(ROUTE, (*food, *places), trip), trip)


def test_days_end_at_camps_within_the_tolerance():
    camps = (camp(185, 101), camp(425, 102))
    plan = planned(camps, night={"camps": True, "tolerance_km": 30})
    ends = [round(leg.end_m / 1000) for leg in plan.legs]
    assert ends[0] == 185
    assert ends[1] == 425
    assert ends[2] == 600
    document = plan_document(plan)
    kinds = [leg["night"]["kind"] for leg in document["legs"]]
    assert kinds[:4] == ["camp", "camp", "nominal", "nominal"]
    assert kinds[-1] == "end"
    assert "tents allowed" in document["legs"][0]["night"]["words"]
    assert "local rules" in document["legs"][2]["night"]["words"]


def test_a_last_day_that_a_camp_leaves_too_short_is_spread_over_the_days_before():
    """By distance alone 65 km are left, just a day; the only camp near leaves 41."""
    pace = {"daily_km": 312.0, "speed_kmh": 50.0}
    last = camp(960, 102)

    def lengths(*camps, **more):
        return [leg.length_m / 1000 for leg in planned(camps, pace={**pace, **more}).legs]

    assert [round(km) for km in lengths()][2:] == [312, 65]
    assert len(lengths(last)) == 3
    assert min(lengths(last)) > 300
    assert [round(km) for km in lengths(last, even_days=False)] == [312, 312, 336, 41]
    # The rider's own last day stays as short as it is.
    assert [round(km) for km in lengths(last, own_km={3: 336.0, 4: 41.2})][-1] == 41


def test_a_day_set_by_hand_stays_and_camps_move_no_day_of_a_rider_who_does_not_want_them():
    camps = (camp(185, 101), camp(425, 102))
    pace = {"daily_km": 200.0, "speed_kmh": 50.0, "own_km": {1: 205.0}}
    by_hand = planned(camps, night={"camps": True}, pace=pace)
    assert by_hand.legs[0].end_m == 205e3
    assert round(by_hand.legs[1].end_m / 1000) == 425
    plain = planned(camps, night={"camps": False})
    assert plain.legs[0].end_m == 200e3
    assert plain.nights == ()


def test_a_camp_without_tents_is_no_night_and_an_own_place_is():
    no_tents = (camp(195, 101, tents="no"),)
    assert planned(no_tents, night={"camps": True}).nights[0].row == -1
    own = planned(no_tents, night={"camps": True, "own": ["node/101"]})
    assert round(own.nights[0].end_m / 1000) == 195


def test_fuel_stops_keep_the_reserve_and_a_gap_beyond_the_range_comes_first():
    stations = tuple(
        at(km, 200 + i, FUEL, "amenity=fuel", hours="24/7") for i, km in enumerate((100, 250, 650))
    )
    enough = planned(stations, fuel={"range_km": 500, "reserve_km": 50})
    assert enough.fuel is not None
    assert not enough.fuel.shortfalls
    assert all(gap.road_m <= 450e3 for gap in enough.fuel.gaps)
    short = planned(stations, fuel={"range_km": 380, "reserve_km": 50})
    document = plan_document(short)
    assert document["fuel"]["exceeded"]
    assert "range" in document["summary"]["cautions"][0]
    assert planned(stations).fuel is None
    with pytest.raises(TripFileError, match="reserve"):
        planned(stations, fuel={"range_km": 50, "reserve_km": 60})


def test_a_shut_station_is_no_station():
    stations = (
        at(250, 200, FUEL, "amenity=fuel", hours="24/7"),
        at(500, 201, FUEL, "amenity=fuel", hours="off"),
    )
    plan = planned(stations, fuel={"range_km": 400, "reserve_km": 50})
    assert [stop.chainage_m // 1000 for stop in plan.fuel.stops] != [250, 500]
    assert plan.fuel.shortfalls


def test_water_by_heat_and_springs_to_treat(tmp_path):
    places = (
        at(330, 300, WATER, "natural=spring"),
        at(500, 301, WATER, "amenity=drinking_water"),
    )
    cool = planned(places, weather={"low_c": 10, "high_c": 20})
    hot = planned(places, weather={"low_c": 20, "high_c": 38})
    cool_doc, hot_doc = (plan_document(plan, cook(plan, tmp_path)) for plan in (cool, hot))
    assert (
        hot_doc["water"]["litres_by_day"][0]["litres"]
        > cool_doc["water"]["litres_by_day"][0]["litres"]
    )
    # Every filling, and what is used between, for a phone that follows the ride.
    water = hot_doc["water"]
    assert [round(row["start_m"] / 1000) for row in water["fills"]] == [0, 310, 330, 500, 701]
    # At km 310 and 701 it is bought, with the food.
    first, *_, last = water["litres_by_day"]
    assert first["road_l"] + first["camp_l"] == pytest.approx(first["litres"], abs=0.06)
    assert last["camp_l"] == 0.0
    big = {row["start_m"]: row["litres"] for row in water["gaps"]}
    assert big.items() <= {row["start_m"]: row["litres"] for row in water["fills"]}.items()
    treated = [gap for gap in hot_doc["water"]["gaps"] if gap["treat"]]
    assert [round(gap["start_m"] / 1000) for gap in treated] == [330]
    assert "Treat this water" in treated[0]["words"]


def test_the_way_to_a_camp_far_off_is_told_and_counts_for_the_latest_time_in_camp():
    lon, lat = ROUTE.position_at(200e3)
    tags = {"tents": "yes"}
    far = shop(101, lon, lat + 0.08, supplies=CAMP, kind="tourism=camp_site", tags=tags)
    pace = {"daily_km": 200.0, "speed_kmh": 50.0, "rest_every_h": 0.0}

    def first_day(latest):
        night = {"camps": True, "tolerance_km": 20}
        plan = planned((far,), night=night, pace={**pace, "latest_camp": latest})
        return plan_document(plan)["legs"][0]

    leg = first_day("20:00:00")
    # 200 km at 50 km/h from 8:30; at most 9 km off in a straight line, half as much again by road.
    assert leg["arrive"][11:16] >= "12:20"
    assert " more off the route (tents allowed" in leg["night"]["words"]
    assert not leg["cautions"]
    on_route, minutes = leg["arrive"][11:16], int(leg["night"]["words"].split(" min more")[0][-2:])
    assert 8 <= minutes <= 16
    # In time where the route is left, but not in camp.
    just = dt.datetime.fromisoformat(leg["arrive"]) + dt.timedelta(minutes=minutes // 2)
    late = first_day(f"{just:%H:%M:%S}")
    assert late["arrive"][11:16] == on_route
    assert any("latest time in camp" in text for text in late["cautions"])


def test_each_filling_says_where_it_is_and_how_far_after_the_last():
    pumps = [at(km, n, FUEL, "amenity=fuel") for n, km in enumerate((150, 300, 450, 600, 750), 201)]
    document = plan_document(planned(pumps, fuel={"range_km": 250.0, "reserve_km": 40.0}))
    stops = document["fuel"]["stops"]
    assert len(stops) > 2
    for number, stop in enumerate(stops):
        since = "after the last filling" if number else "after the start"
        assert stop["words"].startswith(
            f"Fill up at {stop['name']} (km {stop['chainage_m'] / 1000:.0f}), "
            f"{stop['since_m'] / 1000:.0f} km {since}"
        )


def test_loose_surface_on_many_days_is_one_caution_and_each_day_keeps_its_own():
    document = demo_told("long_moor")
    loose_m = {
        leg["number"]: leg["surface"]["gravel_m"] + leg["surface"]["track_m"]
        for leg in document["legs"]
        if any("gravel or track" in text for text in leg["cautions"])
    }
    (said,) = [text for text in document["summary"]["cautions"] if "ravel or track" in text]
    worst = max(loose_m, key=loose_m.__getitem__)
    assert len(loose_m) > 4
    assert said == (
        f"Gravel or track on {len(loose_m)} days, {sum(loose_m.values()) / 1000:.0f} km in all; "
        f"most on day {worst}: {loose_m[worst] / 1000:.0f} km."
    )


def fuelled(km, number, **fuels):
    tags = {f"fuel:{name}": value for name, value in fuels.items()}
    return at(km, number, FUEL, "amenity=fuel", hours="24/7", tags=tags)


def test_no_plan_fills_up_at_hydrogen_gas_or_where_petrol_is_said_not_to_be():
    wrong = (fuelled(250, 200, h70="yes"), fuelled(400, 201, cng="yes"),
             fuelled(550, 202, octane_95="no", diesel="yes"))  # fmt: skip
    plan = planned(wrong, fuel={"range_km": 400, "reserve_km": 50})
    assert not plan.fuel.stops
    assert plan.fuel.shortfalls
    assert plan.gaps[Supply.FUEL][0].length_m == pytest.approx(ROUTE.length_m)
    supplies = [place["supplies"] for place in plan_document(plan)["places"].values()]
    assert supplies
    assert not any("fuel" in one for one in supplies)
    gas = planned(wrong, fuel={"range_km": 600, "reserve_km": 50, "takes": ["gas"]})
    assert [round(stop.chainage_m / 1000) for stop in gas.fuel.stops] == [400]


def test_where_only_other_fuels_are_named_petrol_is_likely_and_that_is_said():
    diesel, both = fuelled(380, 200, diesel="yes"), fuelled(420, 201, octane_95="yes")
    keys = {"range_km": 500, "reserve_km": 50}
    only = plan_document(planned((diesel,), fuel=keys))
    stop = only["fuel"]["stops"][0]
    assert stop["confidence"] == "likely"
    assert "does not name petrol there (diesel)" in stop["words"]
    assert any("does not name your fuel at Shop 200" in c for c in only["summary"]["cautions"])
    sure = plan_document(planned((diesel, both), fuel=keys))
    assert [row["name"] for row in sure["fuel"]["stops"]] == ["Shop 201"]
    assert not any("does not name your fuel" in c for c in sure["summary"]["cautions"])


def test_pumps_without_staff_are_told():
    station = at(400, 200, FUEL, "amenity=fuel", hours="24/7", tags={"automated": "yes"})
    document = plan_document(planned((station,), fuel={"range_km": 500, "reserve_km": 50}))
    assert "bring a card" in document["fuel"]["stops"][0]["words"]


OCTOBER = {"start": {"date": "2027-10-20"}, "night": {"camps": True, "tolerance_km": 30}}


def night_of(plan, number=0):
    leg = plan_document(plan)["legs"][number]
    return leg["night"], " ".join(leg["cautions"])


@pytest.mark.parametrize(
    ("hours", "tags"),
    [
        ("15 Jun-15 Sep", {}),
        ("Apr-Sep", {}),
        ("closed", {}),
        (None, {"seasonal": "Apr-Sep"}),
        (None, {"end_date": "2025"}),
        (None, {"access:conditional": "no @ (Oct-Mar)"}),
    ],
)
def test_a_camp_whose_season_is_over_is_no_night_and_that_is_said(hours, tags):
    shut = at(195, 101, CAMP, "tourism=camp_site", hours=hours, tags={"tents": "yes", **tags})
    night, _ = night_of(planned((shut,), **OCTOBER))
    assert night["kind"] == "nominal"
    assert "are shut that night. For wild camping" in night["words"]
    camps = plan_document(planned((shut,), **OCTOBER))["gaps"]["camp"]
    assert camps["count_passes"] == 0
    assert "shut when you pass" in camps["longest"]["words"]
    own = planned((shut,), **OCTOBER | {"night": {"camps": True, "own": ["node/101"]}})
    night, cautions = night_of(own)
    assert night["kind"] == "camp"
    assert "Your own place for this night may be shut" in cautions


def test_the_same_camp_in_its_season_is_a_night_that_is_called_open():
    summer = OCTOBER | {"start": {"date": "2027-07-09"}}
    place = at(195, 101, CAMP, "tourism=camp_site", hours="15 Jun-15 Sep", tags={"tents": "yes"})
    night, cautions = night_of(planned((place,), **summer))
    assert night["kind"] == "camp"
    assert "open then, says the map" in night["words"]
    assert "may be shut" not in cautions


def test_a_camp_out_of_a_season_by_name_comes_last_and_is_cautioned():
    summer_only, silent = camp(195, 101, seasonal="summer"), camp(178, 102)
    night, _ = night_of(planned((summer_only, silent), **OCTOBER))
    assert night["name"] == "Shop 102"
    assert "season and hours: not stated" in night["words"]
    night, cautions = night_of(planned((summer_only,), **OCTOBER))
    assert night["name"] == "Shop 101"
    assert "The camp may be shut when you arrive" in cautions
    in_july = planned((summer_only, silent), **OCTOBER | {"start": {"date": "2027-07-09"}})
    assert night_of(in_july)[0]["name"] == "Shop 101"


def test_a_camp_without_a_known_road_or_with_guests_that_stay_says_so():
    night, _ = night_of(planned((camp(195, 101, static_caravans="yes"),), **OCTOBER))
    assert "static caravans" in night["words"]
    plan = planned((camp(195, 101, backcountry="yes"), camp(178, 102)), **OCTOBER)
    assert night_of(plan)[0]["name"] == "Shop 102"


@pytest.mark.parametrize(
    ("hours", "tags"),
    [
        ("Nov-Mar", {}),
        ("closed", {}),
        (None, {"seasonal": "winter"}),
        (None, {"seasonal": "yes"}),
        (None, {"intermittent": "yes"}),
        (None, {"seasonal": "Nov-Mar"}),
        (None, {"end_date": "2020"}),
    ],
)
def test_a_tap_that_is_turned_off_or_may_be_dry_is_no_water_and_that_is_said(hours, tags, tmp_path):
    tap = at(300, 300, WATER, "amenity=drinking_water", hours=hours, tags=tags)
    plan = planned((tap,), weather={"low_c": 10, "high_c": 20})
    document = plan_document(plan, cook(plan, tmp_path))
    assert len(plan.gaps[Supply.WATER]) == 1
    gaps = document["water"]["gaps"]
    assert [gap["start_m"] for gap in gaps if not gap["buy"]] == [0]
    assert "1 place with water not counted" in document["water"]["words"]


def test_a_tap_in_its_season_is_water(tmp_path):
    tap = at(300, 300, WATER, "amenity=drinking_water", tags={"seasonal": "summer"})
    plan = planned((tap,), weather={"low_c": 10, "high_c": 20})
    assert len(plan.gaps[Supply.WATER]) == 2
    assert "not counted" not in plan_document(plan, cook(plan, tmp_path))["water"]["words"]


def test_water_that_nobody_has_tested_is_to_be_treated(tmp_path):
    tags = {"drinking_water": "yes", "drinking_water:legal": "no"}
    tap = at(330, 300, WATER, "amenity=drinking_water", tags=tags)
    plan = planned((tap,), weather={"low_c": 10, "high_c": 20})
    gaps = plan_document(plan, cook(plan, tmp_path))["water"]["gaps"]
    # What is bought with the food is not.
    assert [gap["treat"] for gap in gaps if not gap["buy"]] == [False, True]


@pytest.mark.parametrize(
    "tags",
    [
        {"end_date": "2026-12-31"},
        {"opening_date": "2028"},
        {"start_date": "2027-09"},
        {"access:conditional": "no @ (Mar-Oct)"},
    ],
)
def test_a_shop_that_is_not_there_on_the_day_is_shut_on_every_pass(tags):
    lon, lat = ROUTE.position_at(410e3)
    shop_then = shop(400, lon, lat + 0.004, hours="24/7", tags=tags)
    plan = planned((shop_then,))
    rows = {row["place"]: row for row in plan_document(plan)["passes"]}
    assert rows["node/400"]["state"] == "shut"
    assert "says the map" in rows["node/400"]["state_words"]


def test_camps_on_the_map_are_used_without_being_asked_for():
    assert planned((camp(195, 101),)).nights[0].row >= 0
    assert planned((camp(195, 101),), night={"camps": False}).nights == ()


def test_tents_not_stated_is_the_normal_case_and_no_fault():
    near = at(199, 101, CAMP, "tourism=camp_site")
    far = camp(175, 102)
    plan = planned((near, far))
    assert plan.prepared.places.places[plan.prepared.passes.place_ix[plan.nights[0].row]].id == (
        "node/101"
    )
