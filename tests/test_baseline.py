"""The comparison with version 0.1.0 sees every figure that differs, and nothing else."""

from __future__ import annotations

import copy
import json

import pytest
from conftest import ROOT
from demo_plans import demo_told

from tests.baseline.compare import compare_results, differing_figures
from tests.baseline.figures import figures_of, read_figures
from tests.baseline.run import COMMIT
from tests.baseline.trips import TRIPS, make_inputs


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
