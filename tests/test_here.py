"""`resupply here` in one sentence: what was found, what is wanted otherwise, and what changes."""

from __future__ import annotations

import base64
import json
from dataclasses import replace
from unittest import mock

import pytest
from command_line import PLAIN, fails, run
from demo_plans import SAMPLES, demo_plan
from worlds import prepared_world, shop, trip_of, winding_route

from resupply.cli.ask import choose
from resupply.cli.phone import phone_of
from resupply.common.errors import ResupplyError, TripFileError
from resupply.common.show import text
from resupply.plan.on_the_way import places_named
from resupply.report.document.changed import what_changed
from resupply.report.log import add_to_log
from resupply.route.read import read_route
from resupply.trip.hand_over import read_hand_over

AT = ("--at-km", 300, "--time", "2027-07-10T11:00", "--food-meals", 4)
TRIP = SAMPLES / "coast_loop.toml"


@pytest.fixture
def out(tmp_path):
    """Results of the sample trip as it was planned at home."""
    plan, _ = demo_plan("coast_loop")
    (tmp_path / "plan.json").write_text(json.dumps(plan), "utf-8")
    return tmp_path


def here(out, *words, at=AT):
    done = run("here", TRIP, *at, *PLAIN, *words, "--out", out)
    assert done.returncode == 0, done.stderr
    return done.stdout, json.loads((out / "plan.json").read_text("utf-8"))


def refused(out, *words, says, at=AT):
    before = {path: path.read_bytes() for path in out.iterdir()}
    line = fails("here", TRIP, *at, *PLAIN, *words, "--out", out, says=says)
    assert {path: path.read_bytes() for path in out.iterdir()} == before
    return line


def test_a_shop_found_shut_is_left_out_now_and_the_next_time_and_five_lines_tell_it(out):
    first = demo_plan("coast_loop")[0]["stops"][0]
    said, plan = here(out, "--shut", first["name"].upper(), "--people", 3)
    assert first["place"] not in plan["places"]
    assert plan["trip"]["people"] == 3
    told = said[said.index("Against the last plan:") :].splitlines()
    heads = ["Stops", "Next stop", "Longest stretch", "Last day", "Ice"]
    assert all(line.strip().startswith(head) for line, head in zip(told[1:6], heads, strict=True))
    assert f"{first['name']} (km 446)" in told[1]
    assert "fall" in told[1]
    assert f"Shut or gone: {first['name']}" in said
    # The day after nobody has to say it again.
    at = ("--at-km", 500, "--time", "2027-07-11T11:00", "--food-meals", 4)
    said, plan = here(out, at=at)
    assert plan["trip"]["settings"]["shops.gone"] == [first["place"]]
    assert plan["trip"]["people"] == 3
    log = (out / "log.csv").read_text("utf-8").splitlines()
    assert log[0].endswith(",said")
    assert log[1].endswith(f"Shut or gone: {first['name']}")
    assert log[2].startswith("2027-07-11T11:00,500,4,0,,")


def test_a_name_that_fits_two_places_is_one_line_with_both_and_their_ids(out):
    line = refused(out, "--shut", "mercado", says="or 6 more?")
    assert "Mercado do Farol (way/699, km 446)" in line
    assert "Ferrol Mercado (way/695, km 251)" in line


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--shut", "No Such Shop"), "no place of that name or map id"),
        (("--shut", "way/699", "--has-ice", "way/699"), "--shut and --has-ice both name"),
        (("--no-ice", "way/699", "--has-ice", "way/699"), "--no-ice and --has-ice both name"),
        (("--rest", "-1"), "days of rest are 0 to 60"),
        (("--people", 0), "--people 0"),
        (("--set", "pace.depart"), "a key and a value"),
        (("--route", "no_such.gpx"), "no_such.gpx"),
        (("--from-phone", "no_such.json"), "no_such.json"),
        (("--from-phone", "https://plan.example/#phone=eyJ"), "is not what a phone hands over"),
        (("--time", "2027-07-10"), "that is a day and no time"),
        (("--time", "2020-07-10T11:00"), "the trip begins on 2027-07-09. Check the year"),
        (("--people", 3, "--set", "party.people=4"), "--people 3 and --set party.people=4 say the"),
        (
            ("--daily-km", 200, "--set", "pace.daily_mi=99"),
            "--daily-km 200 and --set pace.daily_mi=99",
        ),
        (("--set", "now.at_km=20"), "--at-km and --set now.at_km=20 say the same"),
        (("--set", "now.ice_kg=2", "--set", "now.ice_kg=3"), "--set now.ice_kg=2 and --set now."),
        (("--stop-here",), "no camp is known near you; the nearest is"),
    ],
)
def test_what_cannot_be_meant_is_one_line_and_nothing_is_lost(out, words, says):
    refused(out, *words, says=says)


def test_an_option_or_a_number_that_cannot_be_is_one_line_too():
    fails("here", TRIP, "--people", "x", says="'--people': ", code=2)
    fails("here", TRIP, "--shutt", "x", says="--shutt", code=2)
    fails("here", says="trip", code=2)
    fails("heer", TRIP, says="heer", code=2)


def test_ice_found_where_it_was_missed_before_takes_that_back(out):
    _, plan = here(out, "--no-ice", "way/699")
    assert "ice" not in plan["places"]["way/699"]["supplies"]
    said, plan = here(out, "--has-ice", "way/699")
    assert plan["places"]["way/699"]["supplies"]["ice"] == "stated"
    assert "shops.no_ice" not in plan["trip"]["settings"]
    assert "Ice found: Mercado do Farol" in said


def test_the_day_ends_at_the_nearest_camp_and_the_rest_after_it_is_kept(out):
    at = ("--at-km", 380, "--time", "2027-07-10T13:00", "--food-meals", 4)
    said, plan = here(out, "--stop-here", "--rest", 1, at=at)
    assert "Day 2 ends at Penedo Camping (km 398), 18 km on, there about Sat" in said
    assert "1 day of rest in tonight's camp: you leave on Mon 12 Jul" in said
    today, then = plan["legs"][:2]
    assert (today["number"], today["start_m"]) == (2, 380_000)
    assert today["night"]["name"] == "Penedo Camping"
    assert (then["date"], then["rest_days_before"]) == ("2027-07-12", 1)
    # In that camp in the evening the rest is still to come, though nobody says so again.
    at = ("--at-km", 398, "--time", "2027-07-10T19:00", "--food-meals", 4)
    said, plan = here(out, at=at)
    assert plan["legs"][0]["number"] == 3
    assert plan["legs"][0]["date"] == "2027-07-12"
    # And `--rest 0` takes it back.
    _, plan = here(out, "--rest", 0, at=at)
    assert plan["legs"][0]["date"] == "2027-07-11"


def test_on_a_changed_route_the_kilometre_goes_on_by_position(out):
    line = read_route(SAMPLES / "coast_loop.gpx")
    points = (line.position_at(km * 1000.0) for km in range(250, 900, 2))
    rows = "".join(f'<trkpt lon="{lon}" lat="{lat}"/>' for lon, lat in points)
    path = out / "later.gpx"
    path.write_text(
        f'<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        f"{rows}</trkseg></trk></gpx>",
        "utf-8",
    )
    _, plan = here(out, "--route", path)
    # A straight line between points two kilometres apart is a little shorter.
    assert plan["legs"][0]["start_m"] == pytest.approx(48_500, abs=2_000)
    assert plan["route"]["length_m"] < 680_000
    # It is the trip's route from then on.
    _, plan = here(out, at=("--at-km", 100, "--time", "2027-07-11T11:00"))
    assert plan["route"]["length_m"] < 680_000


PHONE = {
    "schema": "resupply-phone/1",
    "trip": "Round Varrow",
    "time": "2027-07-10T11:00",
    "at_m": 300_000,
    "food_meals": 4,
    "no_ice": ["way/699"],
    "ticks": [
        {"time": "2027-07-10T10:00", "kind": "bought", "place": "way/695", "name": "Ferrol\u202e",
         "at_m": 251_000},
        {"time": "2027-07-10T10:30", "kind": "no_ice", "place": "way/699", "name": "Mercado"},
    ],
}  # fmt: skip


def test_without_arguments_position_stock_and_ticks_come_from_the_phones_file(out):
    (out / "on-the-road.json").write_text(json.dumps(PHONE), "utf-8")
    for _ in range(2):
        _, plan = here(out, at=())
        assert plan["legs"][0]["start_m"] == 300_000
        assert plan["start_carry"]["on_board_meals"] == 4
        assert "ice" not in plan["places"]["way/699"]["supplies"]
    log = (out / "log.csv").read_text("utf-8").splitlines()
    # Ticks are told once, however often the file is read.
    assert log[1] == "2027-07-10T10:00,251,bought: Ferrol,,,,"
    assert [row for row in log if "no ice: Mercado" in row] == log[2:3]
    assert len(log) == 5


def test_without_a_phones_file_the_line_says_what_to_give(out):
    refused(out, at=(), says="or --from-phone FILE")


def test_a_link_from_the_phone_says_the_same_as_its_file():
    code = base64.urlsafe_b64encode(json.dumps(PHONE).encode()).decode().rstrip("=")
    link = f"http://127.0.0.1:8000/#phone={code}"
    assert read_hand_over(link, where="x") == read_hand_over(json.dumps(PHONE), where="x")
    # On the command line the link stands where the file's name would.
    assert phone_of(link, (), placed=False) == read_hand_over(link, where="x")
    named = {**PHONE, "trip": "Bar #phone=eyJ"}
    assert read_hand_over(json.dumps(named), where="x").trip == "Bar #phone=eyJ"
    none = dict.fromkeys(("at_m", "ice_kg", "fuel_km", "water_l"), 0)
    told = read_hand_over(json.dumps({**PHONE, **none}), where="x")
    assert {key: getattr(told, key) for key in none} == none


@pytest.mark.parametrize(
    "text",
    [
        "", "{}", "[]", "no JSON", "#phone=", "#phone=!!!", "#phone=eyJ",
        json.dumps({**PHONE, "schema": "other/1"}),
        json.dumps({**PHONE, "food_meals": -1}),
        json.dumps({**PHONE, "ice_kg": float("nan")}),
        json.dumps({**PHONE, "lat": 91}),
        json.dumps({**PHONE, "no_ice": ["x" * 81]}),
        json.dumps({**PHONE, "ticks": [{"time": "2027-07-10T10:00", "kind": "<script>"}]}),
        json.dumps({**PHONE, "more": 1}),
        "[" * 100_000,
    ],
)  # fmt: skip
def test_what_no_phone_hands_over_is_one_line(text):
    with pytest.raises(TripFileError, match="is not what a phone hands over"):
        read_hand_over(text, where="on-the-road.json")


def test_a_question_takes_a_number_and_nothing_else():
    def answered(*lines, usual=None):
        with mock.patch("builtins.input", side_effect=[*lines, EOFError]):
            return choose("Which?", ["one", "two"], usual=usual)

    assert answered("2") == 1
    assert answered("3", "x", "1") == 0
    assert answered("", usual=1) == 1
    for lines in ((), ("0", "3", "two")):
        with pytest.raises(ResupplyError, match="no answer"):
            answered(*lines)


def test_places_are_meant_by_whole_name_first_and_the_nearest_is_named_first():
    road = winding_route(200)

    def at(number, km, name):
        return replace(shop(number, *road.position_at(km * 1000.0)), name=name)

    trip = trip_of(pace={"daily_km": 100.0})
    names = {20: "Market", 90: "Market", 50: "Old Market", 150: "Old market hall"}
    places = tuple(at(n, km, name) for n, (km, name) in enumerate(names.items(), 1))
    world = prepared_world(road, places, trip)

    def ids(words, here_km=0.0):
        return [one.id for one in places_named(world, words, here_m=here_km * 1000.0)]

    assert ids("MARKET") == ["node/1", "node/2"]
    assert ids("market ", 100) == ["node/2", "node/1"]
    assert ids("old") == ["node/3", "node/4"]
    assert ids("node/4") == ["node/4"]
    assert ids("") == ids("kiosk") == []


def test_a_last_plan_that_was_damaged_or_changed_by_hand_is_not_compared():
    plan, _ = demo_plan("coast_loop")
    assert what_changed({}, plan, behind_m=0.0) is None
    assert what_changed({**plan, "stops": [{}]}, plan, behind_m=0.0) is None
    same = what_changed(plan, plan, behind_m=0.0)
    assert same is not None
    assert all("as before" in text(line) for line in same)


def test_a_line_of_the_log_is_added_once_where_that_is_asked(tmp_path):
    for _ in range(2):
        add_to_log(tmp_path / "log.csv", {"time": "t", "said": "x"}, once=True)
    add_to_log(tmp_path / "log.csv", {"time": "t", "said": None}, once=True)
    assert (tmp_path / "log.csv").read_text("utf-8").splitlines() == ["time,said", "t,x", "t,"]
