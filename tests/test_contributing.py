"""The guide for contributors and the import contract name every module there is."""

from __future__ import annotations

import re
import tomllib

import pytest
from conftest import ROOT

import resupply

GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
MODULES = sorted(
    path.stem
    for path in (ROOT / "resupply").iterdir()
    if path.suffix == ".py" or (path / "__init__.py").exists()
)


def contract() -> list[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    rules = project["tool"]["importlinter"]["contracts"]
    (rule,) = [rule for rule in rules if rule["containers"] == ["resupply"]]
    return [name for layer in rule["layers"] for name in layer.split(" | ")]


def test_the_contract_names_every_module_once():
    assert sorted(contract()) == [name for name in MODULES if not name.startswith("__")]


@pytest.mark.parametrize("name", [name for name in MODULES if not name.startswith("__")])
def test_the_map_of_the_code_names_every_module(name):
    rows = [line for line in GUIDE.splitlines() if line.startswith("| `")]
    assert any(re.search(rf"`{name}/?`", row.split(" | ")[0]) for row in rows)


def test_every_file_and_command_the_guide_names_is_there():
    named = re.findall(r"\]\((docs/[\w./-]+)\)|`python ([\w./]+\.py)", GUIDE)
    paths = {path for pair in named for path in pair if path}
    assert len(paths) > 8
    assert [path for path in sorted(paths) if not (ROOT / path).exists()] == []


def test_the_version_is_told_once():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert project["project"]["version"] == resupply.__version__
