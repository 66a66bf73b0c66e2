"""One door, one answer: the same stay, the same day, the same word wherever it is told."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from builders import candidates_at, plan_at, straight_clock
from conftest import ROOT
from told import plan_document
from worlds import FULL, SMALL, prepared_world, shop, trip_of, winding_route

from resupply.common.show import text
from resupply.hours.state import OpenState
from resupply.plan.pipeline import plan_trip
from resupply.report.document.visits import visits
from resupply.say.states import STATES, words_of
from resupply.supply.candidates import Judged
from resupply.supply.visit_options import shut_chance
from resupply.supply.within_days import within_days
from resupply.trip.choice import ChanceKeys, ChoiceKeys

ROUTE = winding_route(450, points=300)
PACE = {"daily_km": 200.0, "speed_kmh": 50.0}


def plan_of(*places, **tables):
    trip = trip_of(**{"pace": PACE, **tables})
    return plan_trip(prepared_world(ROUTE, places, trip), trip)


def beside(number, km, hours, **options):
    lon, lat = ROUTE.position_at(km * 1000.0)
    return shop(number, lon, lat + 0.002, hours=hours, **options)


# -- shut at the planned time --


def test_no_stop_is_planned_where_the_hours_are_over_at_the_planned_time():
    # km 175 of the first day is reached at 12:30 or so, give or take half an hour.
    arrive = plan_of(beside(1, 175, "24/7")).arrive_s[0]
    planned = dt.datetime.fromtimestamp(arrive, dt.UTC)
    since, until = ((planned - dt.timedelta(minutes=m)).strftime("%H:%M") for m in (240, 4))

    plan = plan_of(beside(1, 175, f"{since}-{until}"))
    assert plan.half_width_s[0] > 240.0
    assert plan.risk[0] == OpenState.SHUT
    assert not plan.supply.stops


def test_of_two_tight_shops_the_one_open_for_more_of_the_window_is_surer():
    state = np.array([OpenState.TIGHT] * 3 + [OpenState.OPEN], dtype=np.int8)
    share = np.array([0.1, 0.5, 0.9, 0.1])

    chance = shut_chance(ChanceKeys(open=0.02), Judged(state, share))
    assert chance.tolist() == pytest.approx([0.9, 0.5, 0.1, 0.02])


def test_a_door_open_unless_it_is_a_holiday_is_far_surer_than_one_not_known():
    states = np.array([OpenState.UNLESS_HOLIDAY, OpenState.UNKNOWN], dtype=np.int8)

    holiday, unknown = shut_chance(ChanceKeys(), Judged(states, np.ones(2))).tolist()
    assert 0 < holiday * 5 <= unknown


# -- a country that is not known --


def test_hours_hold_unless_it_is_a_holiday_where_the_country_is_not_known():
    places = (beside(1, 100, "08:00-20:00; PH off"), beside(2, 300, "08:00-20:00; PH off"))
    trip = trip_of(pace=PACE)
    plan = plan_trip(replace(prepared_world(ROUTE, places, trip), country="XX"), trip)
    document = plan_document(plan)

    assert {row["state"] for row in document["passes"]} == {"open_unless_holiday"}
    assert document["passes"][0]["state_words"].endswith("unless it is a public holiday")
    assert document["passes"][0]["doors"]["unless_holiday"]
    cautions = document["summary"]["cautions"]
    assert any("Public holidays are not known" in text(said) for said in cautions)
    assert not any("may be shut when you arrive" in text(said) for said in cautions)
    assert plan.sure_gap.length_m < ROUTE.length_m


# -- a pass and a stop at one door --


def test_a_pass_and_a_stop_at_one_door_are_judged_alike():
    # The shop shuts so soon that half an hour is too long and a quarter is not.
    arrive = plan_of(beside(1, 100, "24/7"), shops={"pinned": ["node/1"]}).supply.stops[0].arrive_s
    shuts = dt.datetime.fromtimestamp(arrive, dt.UTC) + dt.timedelta(minutes=45)

    plan = plan_of(beside(1, 100, f"06:00-{shuts:%H:%M}"), shops={"pinned": ["node/1"]})
    (stop,) = plan.supply.stops
    assert plan.stay_s[stop.row] == stop.leave_s - stop.arrive_s == 1800.0
    assert plan.arrive_s[stop.row] == stop.arrive_s
    assert plan.risk[stop.row] == stop.risk == OpenState.TIGHT


def test_every_place_has_its_stay():
    plan = plan_of(
        beside(1, 50, "24/7", supplies=FULL),
        beside(2, 90, "24/7", supplies=SMALL, kind="shop=bakery"),
        food={"full_stop_min": 40, "small_stop_min": 10},
    )
    assert plan.stay_s.tolist() == [2400.0, 600.0]


# -- days and nights --


def test_ways_keep_to_the_day_of_their_pass():
    clock = straight_clock(400, 200)
    pass_m = np.array([199e3, 201e3, 150e3, 199e3])
    leave_m = np.array([203e3, 198e3, 149e3, 198e3])
    rejoin_m = np.array([203e3, 198e3, 151e3, 202e3])

    ways = within_days(clock, pass_m, leave_m, rejoin_m)
    assert ways.leave_m == pytest.approx([200e3, 200e3, 149e3, 198e3], abs=1.5)
    assert clock.leg_ix(ways.leave_m).tolist() == [0, 1, 0, 0]
    # To km 203, back to camp and out again in the morning: 6 km more than without a night.
    # From camp 2 km back to the road and forth; nothing; 2 km back to camp and forth.
    assert ways.more_m == pytest.approx([6e3, 4e3, 0.0, 4e3], abs=10.0)
    assert ways.more_s == pytest.approx([432.0, 288.0, 0.0, 288.0], abs=1.0)
    assert ways.more_out_s == pytest.approx([216.0, 144.0, 0.0, 0.0], abs=1.0)


def test_a_shop_passed_today_is_not_judged_for_tomorrow():
    # The best road leaves the route past the camp; the shop itself is passed on Friday.
    trip = trip_of(pace=PACE)
    prepared = prepared_world(ROUTE, (beside(1, 198, "Fr 06:00-22:00"),), trip)
    detours = replace(prepared.detours, leave_m=np.array([204e3]), rejoin_m=np.array([204e3]))
    plan = plan_trip(replace(prepared, detours=detours, by_road=np.array([True])), trip)

    row = plan_document(plan)["passes"][0]
    assert (row["leg"], row["eta"][:10], row["state"]) == (1, "2027-07-09", "open")


def judge_by_day(open_until_s):
    """Every door is open until an instant, then shut; row 0 is always shut when asked as such."""

    def judge(rows, arrive_s, half_width_s, stay_s):
        shape = np.broadcast_shapes(np.shape(rows), np.shape(arrive_s))
        late = np.broadcast_to(np.asarray(arrive_s) > open_until_s, shape)
        codes = np.where(late, OpenState.SHUT, OpenState.OPEN).astype(np.int8)
        return Judged(codes, np.ones(shape))

    return judge


def test_a_fallback_just_past_camp_is_reached_in_the_evening(monkeypatch):
    # Camp at km 200, a shop at km 203: passed tomorrow, when it is shut, but open tonight.
    midnight = dt.datetime(2027, 7, 10, tzinfo=dt.UTC).timestamp()
    monkeypatch.setattr("builders.judge_all", lambda _risks: judge_by_day(midnight))
    plan = plan_at(
        candidates_at(150, 203, pinned=(150,)),
        length_km=800, daily_km=200, weights=ChoiceKeys(evening_way_min=0),
    )  # fmt: skip
    fallback = plan.stops[0].fallback

    assert (fallback.kind, fallback.chainage_m, fallback.risk) == ("shop", 203e3, OpenState.OPEN)
    when = dt.datetime.fromtimestamp(fallback.arrive_s, dt.UTC)
    assert when.date() == dt.date(2027, 7, 9)
    in_camp = plan.clock.legs[0].arrive
    assert in_camp < when < in_camp + dt.timedelta(hours=1)


def test_a_fallback_reached_in_the_evening_says_that_it_lies_past_camp():
    # Friday 9 July: the shop at km 203 is open until ten at night, and not on Saturday.
    chosen = beside(1, 150, "Mo-Su 06:00-23:00")
    past_camp = beside(2, 203, "Mo-Fr 08:00-22:00")
    later = beside(3, 320, "Mo-Su 06:00-23:00")

    def fallbacks(**pace):
        plan = plan_of(chosen, past_camp, later, shops={"pinned": [chosen.id]}, **pace)
        stops = plan_document(plan)["stops"]
        return {stop["place"]: stop["fallback"]["words"] for stop in stops}

    said = fallbacks()
    assert ", the same day, past camp, there about Fri" in said[chosen.id]
    assert "past camp" not in said[later.id]
    said = fallbacks(pace={**PACE, "depart": "13:30:00"})
    assert ", in the evening, past camp, there about Fri" in said[chosen.id]


# -- alarms --


def visit_with(state, arrive, closes):
    from output_world import document
    from plan_classes import as_plan

    told = document()
    stop = told["stops"][0]
    crossing = next(row for row in told["passes"] if row["id"] == stop["pass"])
    stop["state"], stop["arrive"], crossing["next_close"] = state, arrive, closes
    return next(visit for visit in visits(as_plan(told)) if visit.number == 1)


@pytest.mark.parametrize(
    ("state", "closes", "rings"),
    [
        ("open", "2027-07-10T19:00-12:00", True),
        ("unknown", "2027-07-10T19:00-12:00", True),
        ("unknown", "2027-07-12T19:00-12:00", False),
        ("shut", "2027-07-12T12:00-12:00", False),
        ("open", "2027-07-11T02:00-12:00", True),
        ("open", "2027-07-14T22:00-12:00", False),
    ],
)
def test_an_alarm_names_the_closing_of_the_day_of_arrival(state, closes, rings):
    visit = visit_with(state, "2027-07-10T18:00-12:00", closes)

    assert (visit.closes is not None) == rings


# -- one table of words --


def test_every_state_has_a_word_and_a_sign_everywhere():
    assert list(STATES) == list(OpenState)
    for part in ("key", "word", "meaning", "mark"):
        told = [getattr(words, part) for words in STATES.values()]
        assert all(told)
        assert len(set(told)) == len(OpenState)
    glyphs = (ROOT / "resupply/report/assets/signs.js").read_text()
    guide = (ROOT / "docs/reading-the-map.md").read_text()
    for words in STATES.values():
        assert words_of(words.key) is words
        assert f"    {words.key}: {{" in glyphs
        assert f"`{words.mark}`" in guide
