"""The Python API: tables, files, replanning, errors in the caller's words."""

from __future__ import annotations

import datetime as dt
import doctest
import json
import pickle
import subprocess
import sys
from types import ModuleType

import geopandas
import pandas as pd
import pytest
from conftest import ROOT
from demo_plans import demo_read

import resupply
from resupply.report.document.model.as_json import to_dict, to_json
from resupply.report.write import MEDIA_TYPES
from resupply.trip.samples import samples_folder

COAST = samples_folder() / "coast_loop.toml"
COLUMNS = {
    "stops": "name place pass day chainage_m arrive leave time_zone state full carry_meals "
    "spare_meals carry_kg to_m detour_m detour_s why geometry",
    "legs": "date start_m end_m depart arrive time_zone ride_s low_c high_c paved_m gravel_m "
    "track_m unknown_m geometry",
    "places": "name kind groceries small_groceries ice water fuel camp meal_out stated "
    "opening_hours geometry",
    "passes": "place day chainage_m offset_m eta eta_early eta_late time_zone state detour_m "
    "detour_s by_road role geometry",
    "gaps": "supply start_m end_m ride_s meals crosses_unknown longest geometry",
    "nights": "kind name place end_m off_route_m geometry",
    "sweep": "daily_km start days stops max_carry_meals excess_meals extra_min shut_on_arrival "
    "doubtful_stops best chosen",
}
INDEX = {"stops": "stop", "legs": "day", "places": "place", "passes": "pass", "gaps": "number",
         "nights": "day", "sweep": None}  # fmt: skip


@pytest.fixture(scope="module")
def plan():
    return demo_read()


@pytest.fixture(scope="module")
def unmapped():
    """A route without any map data: no stop, no pass, no night at a camp."""
    return resupply.plan(samples_folder() / "coast_loop.gpx", start="2027-07-09")


def test_the_public_names_are_listed_and_sorted():
    assert list(resupply.__all__) == sorted(resupply.__all__, key=str.casefold)
    assert all(getattr(resupply, name) is not None for name in resupply.__all__)
    loaded = {
        name
        for name, value in vars(resupply).items()
        if not name.startswith("_") and not isinstance(value, ModuleType)
    }
    assert loaded - {"TYPE_CHECKING", "call_through", "lazy_names"} <= set(resupply.__all__)
    assert len((ROOT / "resupply" / "__init__.py").read_text("utf-8").splitlines()) <= 25
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = resupply.nothing


def test_the_package_plan_is_the_function_too():
    import inspect

    from resupply.api import calls
    from resupply.plan import pipeline

    assert resupply.plan.pipeline is pipeline
    assert inspect.signature(resupply.plan) == inspect.signature(calls.plan)


def test_importing_the_package_loads_no_heavy_library():
    heavy = ("geopandas", "folium", "numpy")
    code = f"import resupply, sys; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", COLUMNS)
def test_tables_have_their_columns_types_and_places(plan, unmapped, name):
    frame, bare = getattr(plan, name), getattr(unmapped, name)
    assert list(frame.columns) == COLUMNS[name].split()
    assert frame.index.name == INDEX[name]
    assert len(frame)
    # A table without rows has the same columns and types of numbers.
    assert list(bare.columns) == list(frame.columns)
    numbers = frame.select_dtypes(["number", "bool"]).columns
    assert frame[numbers].dtypes.equals(bare[numbers].dtypes)
    for column in {"arrive", "leave", "depart", "eta"} & set(frame.columns):
        assert str(frame[column].dtype) == str(bare[column].dtype) == "datetime64[s, UTC]"
    if name != "sweep":
        assert isinstance(frame, geopandas.GeoDataFrame)
        assert frame.crs.to_epsg() == bare.crs.to_epsg() == 4326
    # The table is the caller's own.
    frame[frame.columns[0]] = None
    assert getattr(plan, name)[frame.columns[0]].notna().any()


def test_tables_say_the_same_as_the_document(plan):
    document = to_dict(plan.document)
    for row, (number, stop) in zip(document["stops"], plan.stops.iterrows(), strict=True):
        assert number == row["number"]
        local = stop.arrive.tz_convert(stop.time_zone)
        assert local.isoformat(timespec="minutes") == row["arrive"]
        assert (stop["pass"], stop.state, stop.carry_kg) == (
            row["pass"], row["state"], row["carry_kg"]
        )  # fmt: skip
        assert stop["name"] == document["places"][stop.place]["name"]
    assert list(plan.passes.index) == [row["id"] for row in document["passes"]]
    assert list(plan.passes.role) == [row["role"] for row in document["passes"]]
    assert set(plan.places.index) == set(document["places"])
    longest = plan.gaps[plan.gaps.longest & (plan.gaps.supply == "groceries")]
    assert longest.start_m.round().tolist() == [document["gaps"]["groceries"]["longest"]["start_m"]]
    nights = [leg["night"] for leg in document["legs"][:-1]]
    assert [place if pd.notna(place) else None for place in plan.nights.place] == [
        night["place"] for night in nights
    ]
    (chosen,) = plan.sweep[plan.sweep.chosen].itertuples()
    assert chosen.daily_km * 1000 == document["trip"]["daily_m"]
    surface = document["legs"][0]["surface"]
    assert plan.legs.loc[1, ["paved_m", "gravel_m"]].round().tolist() == [
        surface["paved_m"], surface["gravel_m"]
    ]  # fmt: skip


def test_lengths_of_lines_are_those_of_the_days(plan):
    metres = plan.legs.to_crs(plan.legs.estimate_utm_crs()).length
    ridden = plan.legs.end_m - plan.legs.start_m
    # Drawn within 10 m of the route; the projection is off by up to a few per mille.
    assert ((metres / ridden - 1).abs() < 0.02).all()


def test_without_map_data_stops_are_none_and_unknown_is_said(unmapped):
    assert unmapped.stops.empty
    assert (unmapped.nights.kind == "nominal").all()
    assert unmapped.gaps.crosses_unknown.all()
    assert unmapped.legs.unknown_m.sum() == pytest.approx(unmapped.route.length_m)
    assert unmapped.legs.low_c.isna().all()
    assert unmapped.replan(daily_km=100).shortfalls


def test_a_plan_can_be_sent_to_another_process(plan):
    sent = pickle.loads(pickle.dumps(plan))
    assert to_json(sent.document) == to_json(plan.document)
    assert sent.geometry == plan.geometry


def test_planning_again_is_the_same_as_planning_anew(plan, monkeypatch):
    def refuse(*_args, **_options):
        raise AssertionError("something is read again")

    gone = plan.stops.place.iloc[0]
    settings = {"shops.gone": [gone], "show.sweep": False, "show.remedies": False}
    anew = resupply.plan(COAST, daily_km=300, start="2027-08-01", people=4, settings=settings)
    monkeypatch.setattr("resupply.api.calls.prepare", refuse)
    monkeypatch.setattr("resupply.places.read.read_map", refuse)
    again = plan.replan(daily_km=300, start=dt.date(2027, 8, 1), people=4, settings=settings)
    assert to_json(again.document) == to_json(anew.document)
    # And back: what was left out is there again.
    back = again.replan(daily_km=plan.trip.pace.daily_km, start="2027-07-09", people=2,
                        settings={"shops.gone": []})  # fmt: skip
    pd.testing.assert_frame_equal(back.stops, plan.stops)


@pytest.mark.parametrize(
    ("options", "key", "says"),
    [
        ({"daily_km": -3}, "pace.daily_km", "daily_km=-3: must be at least 5 km"),
        ({"start": "soon"}, "start.date", "start='soon': must be a date like 2027-07-09"),
        ({"people": 0}, "party.people", "people=0: must be at least 1"),
        ({"settings": {"pace.daily_mi": 1}}, "pace.daily_km", "['pace.daily_mi'] = 1: must be"),
        ({"settings": {"pace.dialy": 1}}, "pace.dialy", "did you mean pace.daily_km?"),
        (
            {"settings": {"now.at_km": 5000, "now.time": "2027-07-09T09:00:00"}},
            "now.at_km",
            "settings['now.at_km'] = 5000: is at or past the end of the route (960 km)",
        ),
        ({"settings": {"map.extracts": ["x.pbf"]}}, "map.extracts", "call resupply.plan for it"),
        ({"settings": {"map.corridor_km": 40}}, "map.corridor_km", "nothing farther than 10 km"),
        ({"settings": {"food.dishes": "mine"}}, "food.dishes", "call resupply.plan for it"),
        ({"daily_km": 200, "settings": {"pace.daily_mi": 100}}, "", "daily_km= and settings["),
        (
            {"settings": {"fuel.range_km": 100, "fuel.reserve_km": 120}},
            "fuel.reserve_km",
            "settings['fuel.reserve_km'] = 120: is not less than the range, 100 km",
        ),
    ],
)
def test_errors_speak_of_arguments(plan, options, key, says):
    with pytest.raises(resupply.TripFileError) as caught:
        plan.replan(**options)
    assert caught.value.key == key
    assert says in str(caught.value)
    assert "toml" not in str(caught.value)


def test_errors_of_the_cooler_which_is_asked_late_speak_of_arguments_too(plan, tmp_path):
    tight = {"cooler.packs_kg": 10, "cooler.volume_l": 5}
    says = r"^settings\['cooler\.packs_kg'\] = 10: 10 kg of packs take 11 L"
    again = plan.replan(settings=tight)
    with pytest.raises(resupply.TripFileError, match=says):
        _ = again.document
    # Also one plan on, where the setting is no longer given.
    with pytest.raises(resupply.TripFileError, match=says):
        again.replan(people=3).to_json(tmp_path / "plan.json")
    assert not (tmp_path / "plan.json").exists()


def test_errors_of_a_first_plan_speak_of_arguments_too():
    with pytest.raises(resupply.TripFileError, match=r"^daily_km=0: must be at least 5 km$"):
        resupply.plan("any.gpx", daily_km=0)
    with pytest.raises(resupply.RouteError, match=r"none\.gpx"):
        resupply.plan("none.gpx")
    with pytest.raises(resupply.MapDataError, match=r"none\.osm\.pbf"):
        resupply.plan(samples_folder() / "coast_loop.gpx", extracts="none.osm.pbf")


def test_a_route_a_trip_and_a_file_give_the_same_plan(unmapped):
    route = resupply.read_route(samples_folder() / "coast_loop.gpx")
    read = resupply.plan(route, start=dt.datetime(2027, 7, 9, 12, tzinfo=dt.UTC))
    pd.testing.assert_frame_equal(read.legs, unmapped.legs)
    trip = resupply.Trip(route="coast_loop.gpx")
    whole = resupply.plan(trip, start="2027-07-09", folder=samples_folder())
    pd.testing.assert_frame_equal(whole.legs, unmapped.legs)
    assert resupply.load_trip(COAST).name == "Round Varrow"


def test_what_was_assumed_is_said_until_it_is_given(unmapped):
    (said,) = unmapped._notes.values()
    assert said == "No daily distance was given: planned with 250 km a day."
    assert [said] in unmapped.document.summary.cautions
    assert unmapped.replan(people=3)._notes == unmapped._notes
    assert unmapped.replan(daily_km=250)._notes == {}


def test_files_are_those_of_the_command_line(plan, tmp_path):
    written = plan.write(tmp_path / "all")
    assert set(written) == set(MEDIA_TYPES)
    for method, name in {
        "to_html": "plan.html",
        "to_json": "plan.json",
        "to_geojson": "plan.geojson",
        "to_gpx": "stops.gpx",
        "to_csv": "stops.csv",
        "to_calendar": "stops.ics",
    }.items():
        getattr(plan, method)(tmp_path / "one")
        assert (tmp_path / "one").read_bytes() == written[name].read_bytes()
    (tmp_path / "file").write_text("")
    with pytest.raises(resupply.OutputError, match="cannot be written"):
        plan.to_json(tmp_path / "file" / "plan.json")


def test_a_plan_is_shown_in_a_line_and_in_a_short_table(plan):
    assert repr(plan) == (
        "<resupply.Plan 'Round Varrow': 960 km, 5 days from 2027-07-09, 2 food stops>"
    )
    shown = plan._repr_html_()
    assert shown.count("<tr>") == 1 + len(plan.legs)
    assert plan.stops.name.iloc[0] in shown
    assert len(shown.encode()) < 20_000


HOSTILE = "</script><img src=x onerror=alert(1)>`${alert(1)}\\"


def test_hostile_names_are_text_in_the_table_and_on_the_map(plan):
    named = plan.replan(settings={"name": HOSTILE + "\x1b[31m" * 50})
    assert "<img" not in named._repr_html_()
    assert len(repr(named)) < 160
    assert "\x1b" not in repr(named)
    from resupply.api.explore import _safe

    assert not set("<>`${}\\") & set(_safe(HOSTILE))
    drawn = plan.explore().get_root().render()
    assert "Stop 1: " in drawn
    assert "tile.openstreetmap" not in drawn
    assert "tile.openstreetmap" in plan.explore(tiles="OpenStreetMap").get_root().render()


def test_a_long_plan_stays_short_in_a_notebook(unmapped):
    long = unmapped.replan(daily_km=5, settings={"show.sweep": False, "show.remedies": False,
                                                 "food.plan_menu": False})  # fmt: skip
    assert len(long.legs) > 150
    assert len(long._repr_html_().encode()) <= 20_500


def test_the_examples_of_the_page_run():
    done = doctest.testfile(
        str(ROOT / "docs" / "python-api.md"),
        module_relative=False,
        optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE,
    )
    assert done.attempted > 15
    assert done.failed == 0


def test_the_page_tells_every_public_name_and_column():
    page = (ROOT / "docs" / "python-api.md").read_text("utf-8")
    missing = [name for name in resupply.__all__ if f"`{name}" not in page]
    missing += [
        f"{table}.{column}"
        for table, columns in COLUMNS.items()
        for column in columns.split()
        if f"`{column}`" not in page
    ]
    assert missing == []


def test_the_example_notebook_runs(tmp_path, monkeypatch):
    notebook = json.loads((ROOT / "docs" / "example.ipynb").read_text("utf-8"))
    assert notebook["nbformat"] == 4
    cells = ["".join(c["source"]) for c in notebook["cells"] if c["cell_type"] == "code"]
    assert len(cells) > 5
    # Nothing that was printed once is kept: it would grow old.
    assert not any(c.get("outputs") for c in notebook["cells"])
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for cell in cells:
        exec(compile(cell, "example.ipynb", "exec"), names)
    assert (tmp_path / "plan.html").stat().st_size > 100_000
