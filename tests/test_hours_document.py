"""What docs/how/hours.md says is what the program and its tests hold."""

from __future__ import annotations

import tomllib

from conftest import ROOT

from resupply.hours.holidays import LEAST_SHARE_OF_REGIONS
from resupply.hours.stated import LONGEST_TEXT
from resupply.hours.usual import UsualHours, UsualRow, read_usual_hours

DOCUMENT = (ROOT / "docs/how/hours.md").read_text(encoding="utf-8")
TABLE = ROOT / "tests/checks/opening_hours_disagreements.toml"


def table_markdown(usual: UsualHours) -> str:
    """Rows of the last (the packaged) table as Markdown, equal ones joined."""
    kinds: dict[tuple[str, UsualRow], list[str]] = {}
    for (country, kind), row in usual.tables[-1].items():
        kinds.setdefault((country, row), []).append(f"`{kind}`")
    countries: dict[tuple[str, UsualRow], list[str]] = {}
    for (country, row), names in kinds.items():
        countries.setdefault((", ".join(names), row), []).append(country or "anywhere else")
    lines = ["| country | kinds of place | usual hours | source |", "| --- | --- | --- | --- |"]
    lines += [
        f"| {', '.join(where)} | {names} | `{row.hours}` | {row.source} |"
        for (names, row), where in countries.items()
    ]
    return "\n".join(lines) + "\n"


def test_the_table_of_usual_hours_is_the_packaged_one():
    _, after = DOCUMENT.split(" by tests/test_hours_document.py -->\n")
    written, _ = after.split("<!-- end of usual hours -->")

    assert written.strip() == table_markdown(read_usual_hours()).strip()


def test_every_difference_between_the_evaluators_is_listed_with_its_count():
    reasons = tomllib.loads(TABLE.read_text(encoding="utf-8"))["reason"]
    listed = [line for line in DOCUMENT.splitlines() if line.startswith("| ")]

    assert len(reasons) > 5
    for reason in reasons:
        assert f"| {reason['name']}: {reason['why']} | {len(reason['rows'])} |" in listed


def test_limits_are_the_ones_in_use():
    assert f"longer than {LONGEST_TEXT:,} characters" in DOCUMENT
    assert LEAST_SHARE_OF_REGIONS == 1 / 20
    assert "one region in twenty" in DOCUMENT


def test_the_example_of_an_own_table_is_one(tmp_path):
    example = DOCUMENT.split("```toml\n")[1].split("```")[0]
    file = tmp_path / "own.toml"
    file.write_text(example, encoding="utf-8")

    own = read_usual_hours(file)
    assert own.row("shop=supermarket", "FR").source == "my last three summers there"
