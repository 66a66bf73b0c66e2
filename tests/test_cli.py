"""The command line as a rider meets it: results, one clear line for each fault, no traceback."""

from __future__ import annotations

import json
import sys

import pytest
from command_line import PLAIN, fails, run, run_apart
from conftest import ROOT
from demo_plans import SAMPLES, demo_read

from resupply.common.version import __version__
from resupply.report.write import MEDIA_TYPES


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    out = tmp_path_factory.mktemp("demo")
    done = run_apart("demo", "--out", out)
    assert done.returncode == 0, done.stderr
    return done, out


def test_demo_plans_without_network_and_says_where_the_map_is(demo):
    done, out = demo
    assert f"The map is in {out / 'plan.html'}" in done.stdout.replace("\n", "")
    assert {path.name for path in out.iterdir()} == set(MEDIA_TYPES)


def test_same_inputs_give_the_same_bytes(demo, tmp_path):
    # In another process, whose sets have another order.
    _, out = demo
    demo_read().write(tmp_path)
    for name in MEDIA_TYPES:
        assert (tmp_path / name).read_bytes() == (out / name).read_bytes()


def test_demo_shows_a_sunday_that_breaks_a_naive_plan(demo):
    plan = json.loads((demo[1] / "plan.json").read_text())
    shut = plan["naive"]["shut"]
    assert any(row["arrive"].startswith("2027-07-11") for row in shut)
    assert plan["shortfalls"] == []
    assert all(stop["state"] == "open" for stop in plan["stops"])


def test_demo_prefers_the_farther_shop_that_is_nearer_by_road(demo):
    plan = json.loads((demo[1] / "plan.json").read_text())
    by_name = {
        plan["places"][p["place"]]["name"]: p
        for p in plan["passes"]
        if "groceries" in p["supplies"]
    }
    gorge, far = by_name["Supermercado Orlagja"], by_name["Mercado Fjellarinha"]
    assert gorge["offset_m"] < far["offset_m"]
    assert gorge["detour_m"] > 4 * far["detour_m"]
    assert gorge["detour_source"] == far["detour_source"] == "by road"
    assert [s["name"] for s in plan["stops"]][1] == "Mercado Fjellarinha"


def test_an_option_is_the_same_as_its_key(tmp_path):
    trip = SAMPLES / "coast_loop.toml"
    for words, out in (("--daily-km 300", "a"), ("--set pace.daily_km=300", "b")):
        done = run("plan", trip, *words.split(), *PLAIN, "--out", tmp_path / out)
        assert done.returncode == 0, done.stderr
    one, other = ((tmp_path / x / "plan.json").read_text() for x in "ab")
    assert one == other
    assert json.loads(one)["trip"]["daily_m"] == 300_000


def test_a_route_without_map_data_is_planned_and_nothing_is_known(tmp_path):
    done = run(
        "plan", SAMPLES / "coast_loop.gpx", "--start", "2027-07-09", "--out", tmp_path / "out"
    )
    assert done.returncode == 0, done.stderr
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    (hole,) = plan["coverage"]["unknown"]
    assert hole["start_m"] == 0
    assert hole["end_m"] == plan["route"]["length_m"]
    assert any("missing" in str(part) for part in plan["gaps"]["groceries"]["longest"]["words"])
    assert "No map data was given" in done.stdout
    assert "OpenStreetMap contributors" not in done.stdout


def test_a_route_without_a_date_is_planned_from_tomorrow_and_says_so():
    done = run("plan", SAMPLES / "coast_loop.gpx", "--out", "out")
    assert "No start date was given" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"not xml", "not"),
        (b"<html/>", "web page"),
        (b"<gpx version='1.1'/>", "point"),
        (b"", "empty"),
    ],
)
def test_a_bad_route_is_one_line_and_earlier_results_stay(tmp_path, content, says):
    route = tmp_path / "bad.gpx"
    route.write_bytes(content)
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.html").write_text("earlier")
    line = fails("plan", route, "--out", out, says="bad.gpx")
    assert says in line.lower()
    assert (out / "plan.html").read_text() == "earlier"


def test_a_wrong_key_names_the_line(tmp_path):
    trip = tmp_path / "trip.toml"
    trip.write_text("route = 'x.gpx'\n[pace]\ndaily = 3\n")
    assert "line 3" in fails("plan", trip, says="pace.daily")


def test_missing_files_and_unwritable_folders_are_one_line(tmp_path):
    fails("plan", tmp_path / "none.gpx", says="none.gpx")
    fails("plan", tmp_path / "none.toml", says="none.toml")
    fails("demo", "atlantis", says="atlantis")
    blocked = tmp_path / "file"
    blocked.write_text("")
    trip = SAMPLES / "coast_loop.toml"
    fails("plan", trip, *PLAIN, "--out", blocked / "inside", says="cannot be written")


def test_a_broken_extract_is_one_line(tmp_path):
    extract = tmp_path / "cut.osm.pbf"
    extract.write_bytes((SAMPLES / "varrow.osm.pbf").read_bytes()[:50_000])
    fails("plan", SAMPLES / "coast_loop.gpx", "--extract", extract, says="cut.osm.pbf")


def test_a_wrong_option_value_is_one_line():
    fails("plan", SAMPLES / "coast_loop.toml", "--set", "pace", says="--set")
    fails("plan", SAMPLES / "coast_loop.toml", "--start", "soon", says="--start soon")
    fails("plan", SAMPLES / "coast_loop.toml", "--daily-km", "-3", says="--daily-km -3")


def test_the_version_is_that_of_the_package():
    shown = run("--version")
    assert (shown.returncode, shown.stdout) == (0, f"resupply {__version__}\n")


def test_every_command_has_help_and_is_in_the_readme():
    shown = run("--help").stdout
    readme = (ROOT / "README.md").read_text()
    for command in ("plan", "demo", "here", "page", "gather"):
        assert command in shown
        assert f"resupply {command}" in readme
        assert run(command, "--help").returncode == 0


def test_a_fault_of_the_program_is_one_line_too(monkeypatch, capsys):
    from resupply.cli import app as cli

    def broken(*_args, **_options):
        raise ZeroDivisionError("by chance")

    monkeypatch.setattr(cli, "app", broken)
    monkeypatch.setattr(sys, "argv", ["resupply", "demo"])
    with pytest.raises(SystemExit) as caught:
        cli.main()
    assert caught.value.code == 70
    lines = capsys.readouterr().err.strip().splitlines()
    assert len(lines) == 1
    assert "by chance" in lines[0]
    monkeypatch.setattr(sys, "argv", ["resupply", "demo", "--debug"])
    with pytest.raises(ZeroDivisionError):
        cli.main()


def test_rest_days_stand_between_the_days(tmp_path):
    trip = SAMPLES / "there_and_back.toml"
    done = run("plan", trip, "--set", "pace.rest_days={1=2}", *PLAIN, "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    assert "2 rest days" in done.stdout
