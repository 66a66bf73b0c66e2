"""The guide for contributors and the import contract name every module there is."""

from __future__ import annotations

import ast
import functools
import re
import tomllib
from typing import TYPE_CHECKING

import pytest
from conftest import ROOT

import resupply

if TYPE_CHECKING:
    from collections.abc import Iterator

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
    assert "version" not in project["project"]
    assert project["project"]["dynamic"] == ["version"]
    told = ROOT / project["tool"]["hatch"]["version"]["path"]
    assert f'__version__ = "{resupply.__version__}"' in told.read_text("utf-8").splitlines()


@functools.cache
def sources() -> list[tuple[str, ast.Module]]:
    paths = sorted((ROOT / "resupply").rglob("*.py"))
    return [(str(p.relative_to(ROOT)), ast.parse(p.read_text("utf-8"))) for p in paths]


def test_no_module_is_longer_than_400_lines():
    lengths = {name: len((ROOT / name).read_text("utf-8").splitlines()) for name, _ in sources()}
    assert {name for name, size in lengths.items() if size > 400} == set()


SCRIPTS = sorted((ROOT / "resupply").glob("*/assets/*.js"))


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_no_line_of_a_script_is_wider_than_120(path):
    lines = path.read_text("utf-8").splitlines()
    wide = [number for number, line in enumerate(lines, start=1) if len(line) > 120]
    assert wide == []


def parameters(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    own = function.args
    names = [one.arg for one in (*own.posonlyargs, *own.args, *own.kwonlyargs)]
    return len([name for name in names if name not in ("self", "cls")])


# Every option of a command is a parameter of its function: the library for commands wants it so.
COMMANDS = ("resupply/cli/",)


def test_no_function_has_more_than_eight_parameters():
    many = {
        f"{name}: {node.name}"
        for name, tree in sources()
        if not name.startswith(COMMANDS)
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and parameters(node) > 8
    }
    assert many == set()


def test_no_module_imports_a_private_name_of_another():
    taken = [
        f"{name}: {one.name}"
        for name, tree in sources()
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for one in node.names
        if re.match(r"_(?!_)", one.name) or re.search(r"\._(?!_)", node.module or "")
    ]
    assert taken == []


def test_no_two_classes_bear_one_name():
    where: dict[str, list[str]] = {}
    for name, tree in sources():
        for node in tree.body:
            if isinstance(node, ast.ClassDef):
                where.setdefault(node.name, []).append(name)
    assert {name: found for name, found in where.items() if len(found) > 1} == {}


def test_nothing_in_the_package_is_there_for_tests_alone():
    makers = [ast.parse(path.read_text("utf-8")) for path in (ROOT / "docs").glob("make_*.py")]
    taken: set[tuple[str, str]] = set()
    for tree in [*(tree for _, tree in sources()), *makers]:
        modules = {}
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom):
                for one in node.names:
                    taken.add((node.module or "", one.name))
                    modules[one.asname or one.name] = f"{node.module}.{one.name}"
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                taken.add((modules.get(node.value.id, ""), node.attr))
    idle = [
        f"{name}: {made}"
        for name, tree in sources()
        for node, made in made_in(tree)
        if (module_of(name), made) not in taken and not used_in(tree, node, made)
    ]
    assert idle == []


# Words of others: of the library that checks settings, and of a map service's page of its state.
FOREIGN = {"Value error, ", "Rate limit"}
SEARCHES = {"startswith", "endswith", "split", "partition", "rpartition", "find", "index",
            "removeprefix", "removesuffix"}  # fmt: skip


def test_no_code_searches_its_own_english():
    """What a sentence says is known as a value before it is said."""
    found = []
    for name, tree in sources():
        for node in ast.walk(tree):
            sought: list[ast.expr] = []
            if isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
                sought = [node.left]
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                sought = node.args if node.func.attr in SEARCHES else []
            found += [
                f"{name}:{node.lineno}: {one.value}"
                for one in sought
                if isinstance(one, ast.Constant)
                and re.search(r"[a-z]{2,}[,;.]? | [a-z]{2,}", str(one.value))
                and one.value not in FOREIGN
            ]
    assert found == []


def module_of(path: str) -> str:
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def made_in(tree: ast.Module) -> Iterator[tuple[ast.stmt, str]]:
    """Functions without a decorator (those may be commands or routes), classes and constants."""
    for node in tree.body:
        names: list[str] = []
        if isinstance(node, ast.ClassDef) or (
            isinstance(node, ast.FunctionDef) and not node.decorator_list
        ):
            names = [node.name]
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names = [target.id for target in targets if isinstance(target, ast.Name)]
        yield from ((node, name) for name in names if not name.startswith("__"))


def used_in(tree: ast.Module, made: ast.stmt, name: str) -> bool:
    own = {id(node) for node in ast.walk(made)}
    return any(
        isinstance(node, ast.Name) and node.id == name and id(node) not in own
        for node in ast.walk(tree)
    )


def test_the_top_level_holds_at_most_fifteen_entries():
    assert len([name for name in MODULES if not name.startswith("__")]) <= 15


def test_imports_for_types_alone_keep_the_order_of_layers_too():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert project["tool"]["importlinter"]["exclude_type_checking_imports"] is False
