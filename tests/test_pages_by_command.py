"""Pages that a command writes say from what they were made, and are what it would write today."""

from __future__ import annotations

import json
import re
import tomllib

from conftest import ROOT

from tests import make_coverage_page, mutate_constants
from tests.fuzz import run

DOCS = ROOT / "docs"


def reasons():
    return tomllib.loads((ROOT / "tests" / "untested.toml").read_text("utf-8"))["reason"]


def test_reasons_for_lines_that_no_test_runs_name_code_that_is_there():
    assert make_coverage_page.names_nothing(reasons()) == []
    gone = [{"why": "?", "at": ["kitchen/gone.py: return 1", "common/units.py: not in it"]}]
    assert len(make_coverage_page.names_nothing(gone)) == 2


def test_the_coverage_page_says_of_which_code_it_is_and_misses_no_stale_reason():
    lines = (ROOT / "resupply" / "common" / "units.py").read_text("utf-8").splitlines()
    at = next(n for n, line in enumerate(lines, 1) if line.startswith("M_PER_KM"))
    about = {"num_statements": 9, "missing_lines": 1, "percent_covered": 88.0}
    report = {
        "meta": {"timestamp": "2027-01-02T03:04:05"},
        "totals": about,
        "files": {
            "resupply/common/units.py": {
                "executed_lines": [], "missing_lines": [at], "summary": about,
            }
        },
    }  # fmt: skip
    known = [{"why": "So it is.", "at": ["common/units.py: M_PER_KM", "common/units.py: M_PER_MI"]}]
    text, wrong = make_coverage_page.page(report, known)
    assert "2027-01-02 of version 0." in text
    assert f"So it is.** `common/units.py` {at}" in text
    assert wrong == ["a reason is not needed any more: common/units.py: M_PER_MI"]


def test_the_page_on_hostile_input_is_made_from_the_runs_that_are_kept():
    assert (DOCS / "hostile-input.md").read_text("utf-8") == run.table()


def test_a_shorter_run_on_hostile_input_says_so_on_the_page(tmp_path, monkeypatch):
    rows = [json.loads(line) for line in run.RESULTS.read_text("utf-8").splitlines()]
    rows = [row for row in rows if row["inputs"] >= run.LONG_RUN]
    monkeypatch.setattr(run, "RESULTS", tmp_path / "results.jsonl")
    run.RESULTS.write_text("\n".join(map(json.dumps, rows)), "utf-8")
    assert "at least 100,000 inputs: sound files" in run.table()
    rows.append({**rows[0], "inputs": 5_000})
    run.RESULTS.write_text("\n".join(map(json.dumps, rows)), "utf-8")
    assert f"from a shorter run** of {rows[0]['what']} (5,000)" in run.table()
    assert "is given at least" not in run.table()


def test_every_section_of_the_benchmarks_says_when_it_was_measured():
    _, *sections = (DOCS / "benchmarks.md").read_text("utf-8").split("\n## ")
    bare = [
        text.partition("\n")[0]
        for text in sections
        if not re.search(r"\n\n\*Measured[a-z ]* on 20\d\d-", text)
    ]
    assert len(sections) >= 12
    assert bare == []


def test_a_changed_constant_has_its_first_number_a_fifth_larger_and_the_rest_as_it_was():
    source = 'A = 60  # s\nB: dict = {"ä": 3, 4: 5.5}\nC = "x"\n\n\ndef d():\n    return 7\n'
    first, second = mutate_constants.mutants_of("x.py", source)
    assert (first.name, first.was, first.now) == ("A", "60", "72")
    assert first.source == source.replace("60", "72")
    assert second.source == source.replace("3", "4")
    assert mutate_constants.changed(0.0) == 1.0


def test_every_constant_that_no_test_minds_has_a_reason_on_the_page():
    found = mutate_constants.results(mutate_constants.RESULTS)
    text, wrong = mutate_constants.page(found, 6.0)
    assert wrong == []
    # Of constants that are gone since, nothing is told.
    left = [key for key in found if f"`{key}` (" in text]
    page = (DOCS / "constants.md").read_text("utf-8")
    assert left
    assert all(f"`{key}` (" in page for key in left)
