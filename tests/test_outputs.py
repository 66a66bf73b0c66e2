from __future__ import annotations

import copy
import csv
import datetime as dt
import io
import itertools
import json
import os
import re
from pathlib import Path

import icalendar
import numpy as np
import pytest
from demo_plans import demo_plan, demo_told

from resupply.common import show
from resupply.common.errors import OutputError
from resupply.common.files import write_together
from resupply.common.geodesy import segment_lengths_m
from resupply.report.calendar import WARN_BEFORE, stops_calendar
from resupply.report.csv_file import COLUMNS, stops_csv
from resupply.report.document.in_words import in_words
from resupply.report.document.visits import state_words, visits
from resupply.report.geojson import plan_geojson
from resupply.report.gpx import MOST_POINTS, stops_gpx
from resupply.report.lines import cut_at_antimeridian, position_at, stretch_lines, stretch_points
from resupply.report.lists import shopping_lists
from resupply.report.write import MEDIA_TYPES, make_result, write_results
from resupply.route.gpx import parse_gpx
from resupply.route.simplify import foremost
from tests.output_world import GEO, document
from tests.plan_classes import as_plan

HOSTILE = "=cmd|' /C calc'!A0, \"<b>&;\n\r\tEND:VEVENT\x00\x1b[31m\ud800"


@pytest.fixture
def demo():
    """The sample trip, planned: its document and geometry."""
    return demo_plan()


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


def all_events(content: bytes) -> list[icalendar.Event]:
    return list(icalendar.Calendar.from_ical(content).walk("VEVENT"))


def events(content: bytes, kind: str = "Stop") -> list[icalendar.Event]:
    """Those of one category: Stop, Door, Day or Night."""
    return [one for one in all_events(content) if one["categories"].cats == [kind]]


def lines_of(feature: dict) -> list[list[list[float]]]:
    geometry = feature["geometry"]
    lines = geometry["coordinates"]
    return [lines] if geometry["type"] == "LineString" else lines


# -- what is visited --


def test_stops_and_ice_are_one_list_in_order_of_the_route():
    found = visits(as_plan(document()))
    assert [(v.number, v.buys, v.chainage_m) for v in found] == [
        (1, "food and ice", 11000),
        (None, "ice and fuel", 55000),
        (None, "fuel", 66000),
        (2, "food", 77000),
    ]


MEAL_OUT = {
    "day": 1,
    "date": "2027-07-09",
    "meal": "lunch",
    "pass": "p2",
    "name": "Corner Shop",
    "at": "2027-07-09T12:40+12:00",
    "earliest": "2027-07-09T12:10+12:00",
    "latest": "2027-07-09T13:10+12:00",
    "state": "usually_open",
    "state_words": "hours not known",
    "words": "Lunch out at Corner Shop (km 55).",
}
WATER = {
    "pass": "p4",
    "start_m": 66000,
    "end_m": 83490,
    "litres": 4.0,
    "dry_camps": 1,
    "treat": False,
    "crosses_unknown": False,
    "words": "4 L for all, from km 66.",
}


def with_lunch_and_water():
    at_home = WATER | {"pass": None, "start_m": 0}
    carried = MEAL_OUT | {"pass": None, "at": None, "earliest": None, "latest": None}
    return as_plan(
        document(eat_out=[MEAL_OUT, carried], water={"gaps": [at_home, WATER], "longest": WATER})
    )


def test_a_meal_out_is_a_visit_of_its_own_and_water_is_taken_on_with_the_fuel():
    found = visits(with_lunch_and_water())
    assert [(v.stop, v.name) for v in found[1:4]] == [
        ("Ice and fuel stop", "Corner Shop"),
        ("Fuel and water stop", "Pump"),
        ("Lunch out", "Corner Shop"),
    ]
    ice, _pump, lunch = found[1:4]
    assert (
        f"{lunch.arrive:%H:%M} {lunch.earliest:%H:%M} {lunch.latest:%H:%M}" == "12:40 12:10 13:10"
    )
    assert (lunch.state, ice.state) == ("usually_open", "open")


def test_every_file_has_the_meal_out_and_the_water():
    plan = with_lunch_and_water()
    summaries = [str(event["summary"]) for event in events(stops_calendar(plan))]
    assert "Lunch out Corner Shop: hours not known" in summaries
    assert "Fuel and water stop Pump: open 06:00–22:00" in summaries
    gpx = stops_gpx(plan, GEO)
    assert "<name>Lunch out Corner Shop</name>" in gpx
    assert "<type>lunch out, not known, usually open then</type>" in gpx
    assert "<name>Fuel and water Pump</name>" in gpx
    assert [row["buys"] for row in rows(stops_csv(plan))] == [
        "", "food and ice", "ice and fuel", "fuel and water", "lunch out", "food",
    ]  # fmt: skip
    stops = [one["properties"] for one in json.loads(plan_geojson(plan, GEO))["features"]]
    assert "lunch out" in [one.get("buys") for one in stops]


def test_a_place_without_a_name_is_called_by_its_kind():
    assert visits(as_plan(document()))[3].name == "unnamed supermarket"


def test_hours_not_known_are_never_called_open():
    unknown = visits(as_plan(document()))[3]
    assert state_words(unknown) == "not known, usually open then"
    (row,) = [row for row in rows(stops_csv(as_plan(document()))) if row["stop"] == "2"]
    assert row["state"].startswith("not known")
    assert "not known" in events(stops_calendar(as_plan(document())))[-1]["description"]
    assert "not known" in stops_gpx(as_plan(document()), GEO)


# -- lines --


def test_a_stretch_is_cut_between_its_points_and_at_the_jump():
    before, after = stretch_lines(GEO, 22_264, 77_924)
    assert before[0] == (179.7, 0.0)
    assert before[1:] == [(179.9, 0.0), (-179.9, 0.0), (-179.85, 0.0)]
    assert after == [(-179.6, 0.0), (-179.55, 0.0)]


def test_a_position_at_the_jump_is_before_it():
    assert position_at(GEO, 72_358) == (-179.85, 0.0)
    assert position_at(GEO, 83_490) == (-179.5, 0.0)
    assert position_at(GEO, 0) == (179.5, 0.0)


def test_a_line_over_the_antimeridian_is_cut_on_it():
    assert cut_at_antimeridian([[(179.0, 0.0), (-179.0, 1.0)]]) == [
        [(179.0, 0.0), (180.0, 0.5)],
        [(-180.0, 0.5), (-179.0, 1.0)],
    ]
    west = [(-179.5, 10.0), (179.0, 13.0)]
    assert cut_at_antimeridian([west])[0][-1] == (-180.0, 11.0)


def test_points_on_the_antimeridian_are_not_cut_twice():
    assert cut_at_antimeridian([[(179.0, 0.0), (180.0, 1.0), (-179.0, 2.0)]]) == [
        [(179.0, 0.0), (180.0, 1.0)],
        [(-180.0, 1.0), (-179.0, 2.0)],
    ]
    assert cut_at_antimeridian([[(-180.0, 0.0), (179.0, 1.0)]]) == [[(180.0, 0.0), (179.0, 1.0)]]


# -- GeoJSON --


def test_every_feature_has_its_role_and_lines_are_cut():
    made = json.loads(plan_geojson(as_plan(document()), GEO))
    roles = [feature["properties"]["role"] for feature in made["features"]]
    assert roles == [
        "route", "gap", "no map data", "day end", "day end", "stop", "stop", "stop", "stop",
    ]  # fmt: skip
    route, gap, unknown = made["features"][:3]
    assert len(lines_of(route)) == 3
    assert lines_of(route)[0][-1] == [180.0, 0.0]
    assert len(lines_of(gap)) == 3
    assert lines_of(unknown) == [
        [[179.94916, 0.0], [180.0, 0.0]],
        [[-180.0, 0.0], [-179.96101, 0.0]],
    ]


def test_a_gap_without_geometry_is_left_out_and_nothing_is_null():
    made = document(
        gaps={
            "groceries": {"longest": {**document()["gaps"]["groceries"]["longest"], "end_m": 11000}}
        }
    )
    features = json.loads(plan_geojson(as_plan(made), GEO))["features"]
    assert all(feature["geometry"] for feature in features)
    assert not any(feature["properties"]["role"] == "gap" for feature in features)


def test_lengths_on_the_ground_are_those_of_the_plan(demo):
    made = json.loads(plan_geojson(as_plan(demo[0]), demo[1]))
    for feature in made["features"]:
        properties = feature["properties"]
        if properties["role"] == "gap":
            length_m = sum(segment_lengths_m(*np.array(line).T).sum() for line in lines_of(feature))
            stated_m = properties["end_m"] - properties["start_m"]
            # The drawn line is simplified to 10 m, so it is a little shorter.
            assert 0.98 * stated_m < length_m <= 1.001 * stated_m + 5.0


def test_gdal_reads_the_same_plan(demo, tmp_path):
    import pyogrio

    plan, geo = demo
    path = tmp_path / "plan.geojson"
    path.write_text(plan_geojson(as_plan(plan), geo), "utf-8")
    frame = pyogrio.read_dataframe(path)
    stops = frame[(frame["role"] == "stop") & frame["number"].notna()]
    assert list(stops["name"]) == [stop["name"] for stop in plan["stops"]]
    places = [plan["places"][stop["place"]] for stop in plan["stops"]]
    assert list(stops.geometry.x) == [place["lon"] for place in places]
    assert list(stops.geometry.y) == [place["lat"] for place in places]
    assert list(stops["carry_meals"]) == [stop["carry_meals"] for stop in plan["stops"]]
    assert set(stops["spare_meals"]) == {plan["spare"]["meals"]}
    route = frame[frame["role"] == "route"].geometry.iloc[0]
    assert [list(xy) for xy in route.coords] == [
        list(p) for p in zip(geo["lon"], geo["lat"], strict=True)
    ]
    assert frame.crs == "EPSG:4326"


# -- GPX --


def test_gdal_and_the_own_reader_find_the_route_and_the_stops_in_the_gpx(demo, tmp_path):
    import pyogrio

    plan, geo = demo
    path = tmp_path / "stops.gpx"
    path.write_text(stops_gpx(as_plan(plan), geo), "utf-8")
    points = pyogrio.read_dataframe(path, layer="waypoints")
    wanted = [f"{stop['number']} {stop['name']}" for stop in plan["stops"]]
    assert [name for name in points["name"] if name in wanted] == wanted
    assert sum(points["type"] == "day's end") == len(plan["legs"])
    (track,) = pyogrio.read_dataframe(path, layer="tracks").geometry
    assert [xy for line in track.geoms for xy in line.coords] == list(
        zip(geo["lon"], geo["lat"], strict=True)
    )
    own = parse_gpx(path.read_bytes(), name="stops.gpx")
    assert own.lon.tolist() == geo["lon"]
    assert own.length_m == pytest.approx(plan["route"]["length_m"], rel=0.005)


def test_parts_of_the_route_are_segments_of_the_track():
    own = parse_gpx(stops_gpx(as_plan(document()), GEO).encode(), name="stops.gpx")
    assert [jump.index for jump in own.breaks] == [3]
    assert own.length_m == pytest.approx(83_490, abs=2)


def test_every_day_is_a_route_from_camp_to_camp_through_its_visits(demo, tmp_path):
    import pyogrio

    plan, geo = demo
    path = tmp_path / "stops.gpx"
    path.write_text(stops_gpx(as_plan(plan), geo), "utf-8")
    points = pyogrio.read_dataframe(path, layer="route_points")
    routes = pyogrio.read_dataframe(path, layer="routes")
    assert list(routes["number"]) == [leg["number"] for leg in plan["legs"]]
    days = dict(list(points.groupby("route_fid")))
    named = [list(day["name"].dropna()) for day in days.values()]
    assert named[0][0] == "Start"
    assert [names[0] for names in named[1:]] == [names[-1] for names in named[:-1]]
    on_way = {name for names in named for name in names[1:-1]}
    assert {f"{stop['number']} {stop['name']}" for stop in plan["stops"]} <= on_way
    assert all(len(day) <= MOST_POINTS + 2 for day in days.values())


def test_the_route_of_a_day_keeps_to_the_line(demo):
    """Nowhere farther from it than 300 m: a device between two points has no other way to take."""
    plan, geo = demo
    leg = plan["legs"][0]
    lon, lat, _ = stretch_points(geo, leg["start_m"], leg["end_m"])
    kept = foremost(lon, lat, MOST_POINTS)
    assert kept.size <= MOST_POINTS < lon.size
    scale = np.array([np.cos(np.radians(lat.mean())), 1.0]) * 111_320.0
    line = np.column_stack([lon, lat]) * scale
    for begin, end in itertools.pairwise(kept.tolist()):
        chord = line[end] - line[begin]
        away = line[begin : end + 1] - line[begin]
        share = np.clip(away @ chord / max(chord @ chord, 1e-9), 0.0, 1.0)
        assert np.hypot(*(away - share[:, None] * chord).T).max() < 300.0


def test_what_is_visited_from_camp_is_a_waypoint_and_on_no_route():
    plan = document()
    plan["stops"][0]["arrive"] = "2027-07-09T17:40+12:00"
    text = stops_gpx(as_plan(plan), GEO)
    way, routes = text.split("<rte>")[0], text.split("<trk>")[0].split("<rte>", 1)[1]
    assert "<name>1 Corner Shop</name>" in way
    assert "<name>1 Corner Shop</name>" not in routes
    assert "<name>Ice and fuel Corner Shop</name>" in routes


# -- CSV --


def test_the_table_has_a_row_for_home_and_one_for_each_stop():
    table = rows(stops_csv(as_plan(document())))
    assert [row["stop"] for row in table] == ["0", "1", "", "", "2"]
    assert (table[0]["carry_meals"], table[0]["spare_meals"]) == ("1", "3")
    first = table[1]
    assert (first["arrive"], first["earliest"], first["latest"]) == ("09:30", "08:30", "10:30")
    assert (float(first["km"]), float(first["lon"]), float(first["lat"])) == (11.0, 179.6, -0.01)
    assert all("© OpenStreetMap contributors, ODbL" in row["map_data"] for row in table)


def test_no_text_cell_is_a_formula_and_numbers_stay_numbers():
    for head in ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "\x00=1"):
        for row in rows(stops_csv(as_plan(document(head))))[1:3]:
            assert row["name"].startswith("'"), head
            assert float(row["lat"]) == -0.01
        for row in rows(stops_csv(as_plan(document(head)))):
            for column in set(COLUMNS) - {"lon", "lat"}:
                assert not row[column].startswith(("=", "+", "-", "@", "\t", "\r", "＝"))


def test_no_formula_hides_behind_another_mark():
    for name in ("x;=WEB(A1);y", "x; +1", "x|@SUM(A1)"):
        for row in rows(stops_csv(as_plan(document(name))))[1:3]:
            assert "'=" in row["name"] or "'+" in row["name"] or "'@" in row["name"]
            assert not re.search(r"[;\t|]\s*[=+@-]", row["name"])


def test_pandas_and_gdal_read_the_same_table(demo, tmp_path):
    import pandas as pd
    import pyogrio

    path = tmp_path / "stops.csv"
    path.write_bytes(stops_csv(as_plan(demo[0])).encode())
    own = rows(path.read_text("utf-8"))
    by_pandas = pd.read_csv(path, dtype=str, keep_default_na=False)
    assert list(by_pandas.columns) == list(COLUMNS)
    assert by_pandas.to_dict("records") == own
    by_gdal = pyogrio.read_dataframe(path, read_geometry=False)
    assert list(by_gdal["name"]) == [row["name"] for row in own]
    assert list(by_gdal.columns) == list(COLUMNS)


# -- iCalendar --


def test_every_visit_is_in_the_calendar():
    summaries = [str(event["summary"]) for event in events(stops_calendar(as_plan(document())))]
    assert summaries == [
        "Food and ice stop 1 Corner Shop: open 08:00–18:00",
        "Ice and fuel stop Corner Shop: open around the clock",
        "Fuel stop Pump: open 06:00–22:00",
        "Food stop 2 unnamed supermarket: hours not known",
    ]


def test_every_day_is_in_the_calendar_from_leaving_to_arriving_with_its_night():
    plan = demo_told()
    days = events(stops_calendar(as_plan(plan)), "Day")
    assert [str(day["summary"]) for day in days][:2] == [
        "Day 1: 219 km, night at Bosque de Vila",
        "Day 2: 236 km, night at Baía Escura",
    ]
    for day, leg in zip(days, plan["legs"], strict=True):
        assert day["dtstart"].dt == dt.datetime.fromisoformat(leg["depart"])
        assert day["dtend"].dt == dt.datetime.fromisoformat(leg["arrive"])
    assert len({str(day["uid"]) for day in days}) == len(days)


def test_an_event_is_the_arrival_window_and_its_alarm_comes_before_closing():
    first, _ice, _pump, unknown = events(stops_calendar(as_plan(document())))
    assert first.decoded("dtstart") == dt.datetime(2027, 7, 8, 20, 30, tzinfo=dt.UTC)
    assert first.decoded("dtend") == dt.datetime(2027, 7, 8, 22, 30, tzinfo=dt.UTC)
    door, _pump_shuts = events(stops_calendar(as_plan(document())), "Door")
    assert str(door["summary"]) == "Corner Shop shuts Fri 18:00"
    assert "Go on to Corner Shop" in door["description"]
    (alarm,) = door.walk("VALARM")
    closing = dt.datetime(2027, 7, 9, 6, 0, tzinfo=dt.UTC)
    assert door.decoded("dtend") == closing
    assert alarm.decoded("trigger") == door.decoded("dtstart") == closing - WARN_BEFORE
    assert not unknown.walk("VALARM")


def test_every_night_but_the_last_is_in_the_calendar_until_one_rides_on():
    plan = document()
    plan["legs"].append(plan["legs"][1] | {"number": 3, "depart": "2027-07-12T08:30+12:00"})
    plan["legs"][2]["rest_days_before"] = 1
    plan["legs"][0]["night"] = plan["legs"][0]["night"] | {"name": "Dune Camp"}
    first, second = events(stops_calendar(as_plan(plan)), "Night")
    assert str(first["summary"]) == "Night 1: Dune Camp"
    assert first.decoded("dtstart") == dt.datetime.fromisoformat("2027-07-09T17:00+12:00")
    assert first.decoded("dtend") == dt.datetime.fromisoformat("2027-07-10T08:30+12:00")
    assert str(second["summary"]) == "Night 2 and 1 day of rest: no camp known"
    assert second.decoded("dtend") == dt.datetime.fromisoformat("2027-07-12T08:30+12:00")


def test_a_window_of_no_width_is_an_event_without_an_end():
    plan = document()
    plan["passes"][0] |= {
        "eta_early": "2027-07-09T09:30+12:00",
        "eta_late": "2027-07-09T09:30+12:00",
    }
    assert "dtend" not in events(stops_calendar(as_plan(plan)))[0]


def test_the_calendar_keeps_the_line_rules_of_the_standard():
    content = stops_calendar(as_plan(document(HOSTILE * 5)))
    assert content.endswith(b"END:VCALENDAR\r\n")
    lines = content.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    unfolded = re.sub(rb"\r\n[ \t]", b"", content).decode("utf-8")
    begins = [line for line in unfolded.split("\r\n") if line.startswith(("BEGIN:", "END:"))]
    days = len(document()["legs"])
    assert begins.count("BEGIN:VEVENT") == begins.count("END:VEVENT") == 4 + 2 + days + 1
    for line in unfolded.split("\r\n")[:-1]:
        assert re.match(r"[A-Z-]+[:;]", line), line


def test_the_same_stop_keeps_its_name_when_the_plan_is_made_anew():
    first = events(stops_calendar(as_plan(document())))[0]
    later = document()
    later["passes"][0]["eta_late"] = "2027-07-09T11:30+12:00"
    again = events(stops_calendar(as_plan(later)))[0]
    assert again["uid"] == first["uid"]
    other = events(stops_calendar(as_plan(document("Other trip"))))[0]
    assert other["uid"] != first["uid"]


def test_a_place_passed_twice_has_two_events():
    plan = document()
    plan["passes"][2]["place"] = "node/1"
    first, _ice, _pump, second = events(stops_calendar(as_plan(plan)))
    assert first["uid"] != second["uid"]


def test_twelve_hour_riders_read_twelve_hour_times():
    plan = document()
    plan["trip"] |= {"clock": 12, "units": "imperial"}
    description = str(events(stops_calendar(as_plan(plan)))[0]["description"])
    assert (
        "at mile 7. Arrive between Fri 8:30 am and Fri 10:30 am, planned Fri 9:30 am."
        in description
    )


# -- shopping lists --


def test_shopping_lists_have_a_box_for_all_that_is_bought_and_none_for_what_is_on_board(demo):
    plan = demo[0]
    text = shopping_lists(as_plan(plan))
    assert "\r\n" in text
    assert "BEFORE YOU LEAVE" in text
    for stop in plan["stops"]:
        assert f"{stop['number']}. {stop['name']}" in text
        assert f"On arrival: {show.text(stop['state_words'])}" in text
    lines = [line for one in plan["shopping"]["stops"] for line in one["lines"]]
    lines += [row for of in ("reserve", "kit", "gear") for row in plan["shopping"][of]["lines"]]
    bought = [line for line in lines if line["bought"]]
    assert text.count("[ ]") == len(bought) < len(lines)
    for line in bought:
        assert f"[ ] {line['name']}, {show.text(line['words'])}" in text
        assert show.text(line["doubt_words"]) in text


def test_each_list_says_where_and_when_and_whether_the_door_is_open_also_for_ice(demo):
    plan, _ = demo
    text = shopping_lists(as_plan(plan))
    passes = {row["id"]: row for row in plan["passes"]}
    ice = [row for row in plan["shopping"]["stops"] if row["full"] is None]
    assert ice
    for row in ice:
        said = text.split(f"{row['name']}\r\n")[1].split("\r\n")
        assert said[0].startswith(f"km {row['chainage_m'] / 1000:.0f}, ")
        assert said[1] == f"On arrival: {show.text(passes[row['pass']]['state_words'])}"


def test_lists_for_a_12_hour_clock_and_miles_read_as_the_page_does(demo):
    plan = copy.deepcopy(demo[0])
    plan["trip"] |= {"units": "imperial", "clock": 12}
    first = plan["stops"][0]
    text = shopping_lists(as_plan(plan))
    assert f"mile {first['chainage_m'] / 1609.344:.0f}, " in text
    assert " pm\r\n" in text
    assert " PM" not in text


def test_without_a_menu_the_lists_say_what_to_carry(demo):
    plan = {key: block for key, block in demo[0].items() if key != "shopping"}
    text = shopping_lists(as_plan(plan))
    assert "No menu is planned" in text
    told = in_words(as_plan(plan))
    for words in (told["start_carry"]["words"], *(s["carry_words"] for s in told["stops"])):
        assert words in text


# -- all of them --


@pytest.mark.parametrize("name", MEDIA_TYPES)
def test_every_result_is_the_same_again_and_names_its_source(demo, name):
    content = make_result(name, as_plan(demo[0]), demo[1])
    assert content == make_result(name, as_plan(demo[0]), demo[1])
    text = content.decode() if isinstance(content, bytes) else content
    assert "OpenStreetMap contributors" in text


def test_results_are_utf_8_whatever_a_name_holds(tmp_path):
    contents = {
        "stops.gpx": stops_gpx(as_plan(document(HOSTILE)), GEO),
        "stops.csv": stops_csv(as_plan(document(HOSTILE))),
        "plan.geojson": plan_geojson(as_plan(document(HOSTILE)), GEO),
    }
    for content in contents.values():
        content.encode("utf-8")
        assert "\x00" not in content
        assert "\x1b" not in content


def test_a_disk_that_fills_up_leaves_the_earlier_results_and_no_rubbish(
    demo, tmp_path, monkeypatch
):
    out = tmp_path / "out"
    write_results(as_plan(demo[0]), demo[1], out)
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    assert set(before) == set(MEDIA_TYPES)
    plan = {**demo[0], "trip": {**demo[0]["trip"], "name": "Another"}}
    calls = iter(range(100))
    really = os.fsync

    def full(handle: int) -> None:
        if next(calls) == 4:
            raise OSError(28, "No space left on device")
        really(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left on device"):
        write_results(as_plan(plan), demo[1], out)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_a_folder_in_the_way_of_one_file_leaves_no_temporary_file(tmp_path):
    (tmp_path / "b").mkdir()
    with pytest.raises(OutputError):
        write_together({tmp_path / "a": "new", tmp_path / "b": "new"})
    assert {path.name for path in tmp_path.iterdir()} == {"a", "b"}


def test_results_have_the_riders_usual_mode(tmp_path):
    write_together({tmp_path / "x" / "a": "1", tmp_path / "b": b"2"})
    umask = os.umask(0)
    os.umask(umask)
    for path in (tmp_path / "x" / "a", Path(tmp_path / "b")):
        assert path.stat().st_mode & 0o777 == 0o666 & ~umask


def test_the_mode_of_other_files_made_meanwhile_is_left_alone(tmp_path, monkeypatch):
    def refuse(_mask):
        raise AssertionError("the mask belongs to the whole process")

    monkeypatch.setattr(os, "umask", refuse)
    write_together({tmp_path / "a.txt": "a"})
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_without_a_cooler_no_file_asks_for_ice():
    made = document()
    made["trip"]["settings"] = {}
    plan = as_plan(made)
    assert plan.ice.stops
    assert [visit.buys for visit in visits(plan) if "ice" in visit.buys] == []
    calendar = stops_calendar(plan).decode()
    for told in (stops_gpx(plan, GEO), calendar, stops_csv(plan)):
        assert "food and ice" not in told
        assert "Pump" in told
    made["trip"]["settings"] = {"cooler.kind": "hard"}
    assert [visit.buys for visit in visits(as_plan(made)) if "ice" in visit.buys]
