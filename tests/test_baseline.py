"""The comparison with version 0.1.0 sees every figure that differs, and nothing else."""

from __future__ import annotations

import copy
import json
import tomllib

import pytest
from conftest import ROOT
from demo_plans import demo_told

from tests.baseline.compare import compare_results, differing_figures
from tests.baseline.figures import figures_of, read_figures
from tests.baseline.run import COMMIT
from tests.baseline.trips import TRIPS, make_inputs
from tests.baseline.waste import Waste, table_row, waste_of, with_riders
from tests.waste_trips import told


@pytest.fixture(scope="module")
def document():
    return json.loads(json.dumps(demo_told("there_and_back")))


def changed(document, change):
    other = copy.deepcopy(document)
    change(other)
    return differing_figures(figures_of(document), figures_of(other))


def test_a_plan_agrees_with_itself(document):
    assert changed(document, lambda _same: None) == []


def test_each_figure_that_differs_is_named_with_both_values(document):
    def later(plan):
        plan["stops"][0]["chainage_m"] += 1000.0
        plan["cold"]["coolers"][0]["state"] = "fails"
        plan["summary"]["headline"] = "Other words"

    lines = changed(document, later)
    assert [line.partition(":")[0] for line in lines] == ["stop 1, km", "cooler food, state"]
    at_km = round(document["stops"][0]["chainage_m"] / 1000.0, 1)
    assert lines[0].startswith(f"stop 1, km: {at_km} -> ")


def test_a_format_without_a_reader_is_refused(document):
    with pytest.raises(SystemExit, match="resupply-plan/99"):
        figures_of({**document, "schema": "resupply-plan/99"})


def test_results_are_told_apart_by_figure_number_and_word(document, tmp_path):
    other = copy.deepcopy(document)
    other["route"]["length_m"] += 5000
    other["summary"]["headline"] += " Ride well."
    other["summary"]["facts"][0]["value_words"] = "1 km"
    for name, plan, text in (("old", document, "2 kg of rice"), ("new", other, "2 kg rice")):
        (tmp_path / name).mkdir()
        (tmp_path / name / "plan.json").write_text(json.dumps(plan), "utf-8")
        (tmp_path / name / "shopping.txt").write_text(text, "utf-8")
        (tmp_path / name / f"{name}.txt").write_text("", "utf-8")
    lines = compare_results(tmp_path / "old", tmp_path / "new")
    length_km = read_figures(tmp_path / "old" / "plan.json")["length_km"]
    assert lines[:2] == ["new.txt: only new", "old.txt: only old"]
    assert lines[2] == f"figure length_km: {length_km} -> {round(length_km + 5.0, 1)}"
    assert lines[3].startswith("plan.json value route.length_m: ")
    assert lines[4].startswith("plan.json numbers in words summary.facts[0].value_words: ")
    assert lines[5:] == [
        "plan.json words alone differ in 1 values",
        "shopping.txt: words alone differ",
    ]
    assert compare_results(tmp_path / "old", tmp_path / "old") == []


def test_a_sample_trip_is_copied_with_its_route_and_map(tmp_path):
    make_inputs(("long_moor",), tmp_path, ROOT / "sample_routes")
    names = ["long_moor.gpx", "long_moor.toml", "varrow.osm.pbf"]
    assert sorted(path.name for path in tmp_path.iterdir()) == names


def test_the_page_on_the_baseline_names_its_commit_and_every_trip():
    page = (ROOT / "docs" / "baseline.md").read_text("utf-8")
    assert COMMIT in page
    assert [name for name in TRIPS if f"`{name}`" not in page] == []


def line(food, need, packs_kg):
    """One pack of 1,000 units is bought."""
    return {"id": food, "aisle": "dry", "need": need, "bought": 1000.0, "mass_kg": packs_kg}


def test_waste_is_what_no_meal_uses_of_the_mass_bought_without_the_kit():
    meals = [{"dish": {"kcal_each": kcal}} for kcal in (400, 600, 800)]
    later = {**line("rice", 250.0, 0.0), "bought": 0.0}
    ice = {**line("ice-food", 0.0, 5.0), "aisle": "ice"}
    found = waste_of(
        {
            "shopping": {
                "people": 2,
                "stops": [
                    {"lines": [line("rice", 500.0, 1.0), line("oil", 10.0, 1.0)]},
                    {"lines": [later, line("milk", 1000.0, 1.0), ice]},
                ],
            },
            "menu": {
                "days": [
                    {"meals": meals, "extras": [{"kcal_each": 300}]},
                    {"meals": [*meals[:2], {"dish": None}]},
                ]
            },
        }
    )
    assert (found.bought_kg, found.left_kg, found.share) == (2.0, 0.25, 0.125)
    assert (found.kcal_low, found.kcal_high) == (2100, 2100)
    assert found.kg_per_meal == pytest.approx(2.0 / (5 * 2))
    row = table_row("a", {(1, "0.1.0"): found, (2, "0.1.0"): found, (2, "now"): found})
    assert row == ("| `a` | 12 / 12 / – % | 12 / – / – % | 2,100 / 2,100 | 1.00 / – |")


@pytest.mark.parametrize("head", ["[party]\npeople = 4\n", "party.people = 4\n", "name = 'x'\n"])
def test_a_trip_is_measured_with_another_number_of_riders(tmp_path, head):
    (tmp_path / "a.toml").write_text(head + "[food]\nmenu = true\n", "utf-8")
    with (with_riders("a", 1, tmp_path)).open("rb") as file:
        trip = tomllib.load(file)
    assert trip["party"] == {"people": 1}
    assert trip["food"] == {"menu": True}


def test_random_trips_are_measured_by_number_of_riders():
    rows = told({2: [Waste(10.0, 0.5, 2400.0, 2500.0, 0.5), Waste(10.0, 0.0, None, None, 0.4)]})
    (row,) = rows.splitlines()[1:]
    assert row.split() == ["2", "2", "2.5%", "4.5%", "5.0%", "2,400", "2,500"]
