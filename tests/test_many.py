"""Many routes at once: every outcome listed, failures too; nothing finished is done again."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from command_line import run
from conftest import ROOT
from kept_files import flip_a_bit

from resupply.cli import club as cli_club
from resupply.cli.club import Job, jobs_of, plan_many, plan_one, without_folders
from resupply.common.errors import OutputError, ResupplyError
from resupply.report.club import ClubRow, render_club
from resupply.trip.read_file import make_trip

pytest.importorskip("distributed")
geopandas = pytest.importorskip("geopandas")

SAMPLES = ROOT / "sample_routes"
START = dt.date(2027, 7, 9)
PLAIN = {"map.roads": False, "show.sweep": False, "show.remedies": False, "food.plan_menu": False}
GPX = """<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="46.5" lon="-26"/><trkpt lat="46.6" lon="-25"/></trkseg></trk></gpx>"""


@pytest.fixture
def routes(tmp_path):
    good, bad = tmp_path / "good <b>.gpx", tmp_path / "bad.gpx"
    good.write_text(GPX)
    bad.write_text("<gpx/>")
    return [SAMPLES / "coast_loop.toml", bad, good]


def planned(paths, out, **keys):
    jobs, failures = jobs_of(paths, {**PLAIN, **keys}, start=START)
    told = []
    outcomes = plan_many(
        jobs, out, failures=failures, progress=lambda what, share: told.append((what, share))
    )
    return outcomes, told


@pytest.fixture(scope="module")
def world(tmp_path_factory):
    """The sample trip, a route without map data and two that fail, planned once."""
    folder = tmp_path_factory.mktemp("many")
    good, bad, wrong = (folder / name for name in ("good <b>.gpx", "bad.gpx", "wrong.toml"))
    good.write_text(GPX)
    bad.write_text("<gpx/>")
    wrong.write_text("route = 'x.gpx'\n[pace]\ndaily = 3\n")
    paths = [SAMPLES / "coast_loop.toml", wrong, bad, good]
    outcomes, told = planned(paths, folder / "out")
    return paths, folder / "out", outcomes, told


def test_failures_are_told_route_by_route_and_stop_nothing(world):
    _, _, outcomes, told = world
    by_name = {outcome.file.rsplit("/", 1)[-1]: outcome for outcome in outcomes}
    assert "points" in by_name["bad.gpx"].error
    assert "pace.daily" in by_name["wrong.toml"].error
    assert by_name["coast_loop.toml"].error == by_name["good <b>.gpx"].error == ""
    assert [outcome.file for outcome in outcomes] == sorted(outcome.file for outcome in outcomes)
    assert told[0] == ("Planning 3 routes", 0.0)
    assert told[-1] == ("Planning 3 routes", 1.0)


def test_the_figures_are_those_of_the_single_plan(world, tmp_path):
    _, _, outcomes, _ = world
    (found,) = [one for one in outcomes if one.file.endswith("coast_loop.toml")]
    trip, folder = SAMPLES / "coast_loop.toml", tmp_path / "one"
    options = [f"--set={key}={str(value).lower()}" for key, value in PLAIN.items()]
    assert run("plan", trip, *options, "--out", folder).returncode == 0
    plan = json.loads((folder / "plan.json").read_text())
    assert found.days == plan["trip"]["days"]
    assert found.stops == len(plan["stops"]) > 0
    assert found.longest_gap_m == plan["gaps"]["groceries"]["longest"]["length_m"]
    assert found.most_carried_days == max(
        plan["start_carry"]["days"], *(stop["carry_days"] for stop in plan["stops"])
    )
    assert found.limit_kept is True


def test_a_route_without_map_data_is_not_known_rather_than_fine(world):
    _, out, outcomes, _ = world
    (found,) = [one for one in outcomes if "good" in one.file]
    assert found.unknown_m == found.length_m
    assert found.gap_certain is False
    page = (out / "index.html").read_text()
    assert "not known, up to" in page


def test_the_table_has_a_row_and_a_line_for_each_route(world):
    paths, out, outcomes, _ = world
    table = geopandas.read_parquet(out / "routes.parquet")
    assert sorted(Path(name).name for name in table["file"]) == sorted(path.name for path in paths)
    assert table.crs.equals("OGC:CRS84")
    failed = table[table["error"] != ""]
    assert failed.geometry.isna().all()
    assert (table[table["error"] == ""].geometry.geom_type == "MultiLineString").all()
    assert list(table["days"].dropna()) == [one.days for one in outcomes if not one.error]


def test_what_is_shared_names_no_folder_of_this_machine(world):
    _, out, _, _ = world
    page = (out / "index.html").read_text()
    table = geopandas.read_parquet(out / "routes.parquet")
    kept = [path.read_text("utf-8") for path in (out / "routes").iterdir()]
    assert kept
    for text in (page, *kept, *table["file"], *table["error"]):
        assert str(out.parent) not in text
        assert str(SAMPLES) not in text
    assert ">wrong.toml<" in page


def test_only_the_folders_of_a_path_are_left_out_of_an_error():
    rows = [
        ClubRow("/home/me/north/a.gpx", error="/maps of mine/b.pbf: no file; http://x.org/a/b"),
        ClubRow("/home/me/south/a.gpx"),
        ClubRow("/home/me/south/b.gpx"),
    ]
    told = without_folders(rows)
    assert [one.file for one in told] == ["north/a.gpx", "south/a.gpx", "b.gpx"]
    assert told[0].error == "b.pbf: no file; http://x.org/a/b"


WATCH = """
import sys
def watch(event, given):
    if event in ("socket.bind", "socket.connect") and isinstance(given[1], tuple):
        open({told!r}, "a").write(f"{{event}} {{given[1]}}\\n")
sys.addaudithook(watch)
open({told!r} + ".on", "a").write("on\\n")
"""
"""Read at the start of every Python: notes whatever asks for a network address."""


def test_a_club_opens_no_port_leaves_no_temporary_file_and_says_nothing_of_its_engine(tmp_path):
    (temporary := tmp_path / "tmp").mkdir()
    (site := tmp_path / "site").mkdir()
    told = tmp_path / "addresses.txt"
    (site / "sitecustomize.py").write_text(WATCH.format(told=str(told)))
    routes = [tmp_path / f"{n}.gpx" for n in "ab"]
    for route in routes:
        route.write_text(GPX)
    keys = [f"--set={key}={str(value).lower()}" for key, value in PLAIN.items()]
    done = subprocess.run(
        [sys.executable, "-m", "resupply", "club", *routes, *keys, "--out", tmp_path / "club"],
        capture_output=True, text=True, check=False, timeout=120,
        env={
            **os.environ, "TMPDIR": str(temporary),
            "PYTHONPATH": os.pathsep.join([str(site), str(ROOT)]),
        },
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    # Its own process and one for each route are watched.
    assert len(Path(f"{told}.on").read_text().split()) >= 3
    assert not told.exists()
    assert list(temporary.iterdir()) == []


def test_the_page_escapes_names_and_loads_nothing(world):
    page = (world[1] / "index.html").read_text()
    assert "good <b>" not in page
    assert "good &lt;b&gt;" in page
    assert not re.search(r"<script|src=|<link|@import|url\(", page)
    assert "2 of 4 routes planned" in page


def test_a_second_run_plans_only_what_failed_and_what_changed(world, tmp_path):
    paths, out, outcomes, _ = world
    again, told = planned(paths, out)
    assert told[0][0] == "Planning 1 route"
    assert again == outcomes
    other, told = planned([paths[0]], out, **{"pace.daily_km": 400.0})
    assert told[0][0] == "Planning 1 route"
    assert other[0].days != outcomes[0].days


@pytest.mark.parametrize("damage", ["half", "one bit"])
def test_a_damaged_result_is_made_again(world, damage):
    paths, out, outcomes, _ = world
    whole = {done: done.read_bytes() for done in (out / "routes").iterdir()}
    for done in whole:
        if damage == "half":
            done.write_bytes(done.read_bytes()[:50])
        else:
            # A figure that would still be one.
            flip_a_bit(done, done.read_bytes().index(b'"days": ') + 8)
    again, told = planned([paths[3]], out)
    assert told[0][0] == "Planning 1 route"
    assert again[0] in outcomes
    for done, content in whole.items():
        done.write_bytes(content)


def test_a_fault_of_the_program_in_one_route_is_an_outcome(tmp_path):
    broken = Job("broken.gpx", trip=None, folder=tmp_path, key="broken")
    (outcome,) = plan_many([broken], tmp_path / "out")
    assert outcome.error.startswith("fault of the program: ")
    assert not list((tmp_path / "out").glob("routes/*"))


def test_an_outcome_is_planned_in_this_process_too(routes):
    jobs, _ = jobs_of(routes, PLAIN, start=START)
    outcomes = [plan_one(job) for job in jobs]
    assert [bool(outcome.error) for outcome in outcomes].count(True) == 1


def test_a_cluster_by_address_is_used_and_a_missing_one_is_one_line(tmp_path):
    from distributed import LocalCluster

    route = tmp_path / "a.gpx"
    route.write_text(GPX)
    jobs, _ = jobs_of([route], PLAIN, start=START)
    broken = Job("broken.gpx", trip=None, folder=tmp_path, key="broken")
    with LocalCluster(
        n_workers=1, processes=False, dashboard_address=None, protocol="tcp://"
    ) as cluster:
        one, two = plan_many([*jobs, broken], tmp_path / "out", cluster=cluster.scheduler_address)
    assert one.error == ""
    assert two.error.startswith("fault of the program: ")
    with pytest.raises(ResupplyError, match="cluster cannot be reached"):
        plan_many(jobs, tmp_path / "other", cluster="nonsense://127.0.0.1:1")


def test_the_key_changes_with_the_route_and_the_settings(tmp_path):
    route = tmp_path / "a.gpx"
    route.write_text(GPX)

    def key(**keys):
        return jobs_of([route], {**PLAIN, **keys}, start=START)[0][0].key

    first = key()
    assert first == key()
    assert first != key(**{"pace.daily_km": 300.0})
    route.write_text(GPX.replace("46.6", "46.7"))
    assert first != key()


def test_the_limit_is_not_known_where_map_data_is_missing():
    page = render_club(
        [
            ClubRow(
                "a.gpx", name="A", start_date="2027-07-09", days=2, length_m=1000, stops=0,
                most_carried_days=4.0, carry_limit_days=3.0, limit_kept=None, longest_gap_m=900,
                gap_certain=False, unknown_m=500,
            )
        ]
    )  # fmt: skip
    assert '<span class="caution">not known</span>' in page
    assert "On 1 it is not known whether the carrying limit can be kept" in page
    assert "is kept on all" not in page
    assert "the map data does not cover the whole route" in page


def test_a_disk_that_fills_up_under_a_club_is_one_line_and_leaves_the_earlier_results(
    tmp_path, monkeypatch
):
    row = ClubRow(
        "a.gpx", start_date="2027-07-09", days=2, length_m=1000, stops=0, most_carried_days=1.0,
        carry_limit_days=3.0, limit_kept=True, longest_gap_m=900, gap_certain=True, unknown_m=0,
    )  # fmt: skip
    monkeypatch.setattr(cli_club, "plan_one", lambda _job: row)
    (tmp_path / "a.gpx").write_text(GPX)
    out = tmp_path / "out"
    planned([tmp_path / "a.gpx"], out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert {path.name for path in before} >= {"index.html", "routes.parquet"}

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for keys in ({}, {"pace.daily_km": 90}):
        with pytest.raises(OutputError, match="No space left on device") as fault:
            planned([tmp_path / "a.gpx"], out, **keys)
        assert "\n" not in str(fault.value)
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


def test_map_data_that_all_routes_rest_on_is_named_once():
    row = ClubRow(
        "a.gpx", start_date="2027-07-09", days=2, length_m=1000, stops=0, most_carried_days=1.0,
        carry_limit_days=3.0, limit_kept=True, longest_gap_m=900, gap_certain=True, unknown_m=0,
        source="extract a.osm.pbf", data_date="2027-06-01",
    )  # fmt: skip
    page = render_club([row, replace(row, file="b.gpx")])
    assert page.count("extract a.osm.pbf") == 1
    assert "1 day (limit 3)" in page
    page = render_club([row, replace(row, file="b.gpx", source="extract b.osm.pbf")])
    assert "a.gpx; extract a.osm.pbf, data of 2027-06-01" in page
    assert "b.gpx; extract b.osm.pbf, data of 2027-06-01" in page


@pytest.mark.parametrize("width_px", [1280, 1024, 390])
def test_the_page_of_a_club_is_no_wider_than_the_screen(browser, tmp_path, width_px):
    row = ClubRow(
        "a_long_name_of_a_route_file_2027.toml", name="From the northern capes to the desert",
        source="extract some_region-2027-05.osm.pbf", data_date="2027-06-01",
        start_date="2027-07-09", days=22, length_m=5_312_000, stops=19, most_carried_days=4.0,
        carry_limit_days=3.0, limit_kept=None, longest_gap_m=1_905_000, gap_certain=False,
        unknown_m=1_500_000, lines=(((0.0, 50.0), (1.0, 51.0)),),
    )  # fmt: skip
    (tmp_path / "index.html").write_text(render_club([row]))
    tab = browser.new_page(viewport={"width": width_px, "height": 700})
    tab.goto((tmp_path / "index.html").as_uri())
    assert tab.evaluate("document.documentElement.scrollWidth") == width_px
    tab.close()


def test_a_trip_without_a_start_gets_the_given_one(tmp_path):
    route = tmp_path / "a.gpx"
    route.write_text(GPX)
    ((job,), failures) = jobs_of([route], PLAIN, start=START)
    assert job.trip.start.date == START
    assert failures == ()
    assert make_trip({}).start.date is None
