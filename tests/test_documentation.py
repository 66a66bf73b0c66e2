"""What the code says of itself: every public name has words, every example is true."""

from __future__ import annotations

import ast
import doctest
import importlib
import inspect
import pkgutil
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from conftest import ROOT

import resupply

if TYPE_CHECKING:
    from types import ModuleType

# A name that ends so tells its unit; longitude and latitude are degrees everywhere.
_UNIT = re.compile(
    r"(^|_)(m|km|mi|s|h|min|ms|c|f|k|kg|lb|gal|l|l_per_kg|kj|kmh|deg|w|w_per_k|mb|bytes|px|ratio|"
    r"share|lon|lat|lonlat|m2|ns|ix|days|hours|seconds|per_day)$"
)
_NUMBERS = re.compile(r"\b(float|NDArray\[np\.float64\]|ArrayLike|Floats)\b")


@cache
def modules() -> tuple[ModuleType, ...]:
    names = [found.name for found in pkgutil.walk_packages(resupply.__path__, "resupply.")]
    return tuple(importlib.import_module(name) for name in names if not name.endswith("__main__"))


def public():
    for module in modules():
        for name in getattr(module, "__all__", ()):
            yield module, name, getattr(module, name)


def test_every_module_says_what_it_is_and_what_of_it_is_public():
    for module in modules():
        assert module.__doc__, module.__name__
        has_code = any(
            inspect.getmodule(value) is module and callable(value) and not name.startswith("_")
            for name, value in vars(module).items()
        )
        if has_code:
            assert hasattr(module, "__all__"), module.__name__


def described_constants(module: ModuleType) -> set[str]:
    """Names given a value with words: a string under it, or a comment on or above it."""
    source = inspect.getsource(module)
    lines, found = source.splitlines(), set()
    body = ast.parse(source).body
    for node, after in zip(body, [*body[1:], None], strict=True):
        targets = getattr(node, "targets", None) or [getattr(node, "target", None)]
        names = {
            part.id
            for one in targets
            if one
            for part in ast.walk(one)
            if isinstance(part, ast.Name)
        }
        words = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        above = lines[node.lineno - 2].lstrip().startswith("#")
        beside = any("#" in line for line in lines[node.lineno - 1 : node.end_lineno])
        if words or above or beside:
            found |= names
        elif isinstance(node, ast.ImportFrom):
            # Described where it comes from.
            found |= {alias.asname or alias.name for alias in node.names}
    return found


def test_every_public_name_has_words():
    bare = [
        f"{module.__name__}.{name}"
        for module, name, value in public()
        if not (
            (inspect.getdoc(value) or "").strip()
            if inspect.isclass(value) or inspect.isroutine(value)
            else name in (described_constants(module) | {"app"})
        )
    ]
    assert bare == []


def test_every_public_function_tells_the_units_of_its_numbers():
    silent = [
        f"{module.__name__}.{name}({parameter.name})"
        for module, name, value in public()
        if inspect.isfunction(value) and value.__module__ == module.__name__
        for parameter in inspect.signature(value).parameters.values()
        if _NUMBERS.search(str(parameter.annotation))
        and "Callable" not in str(parameter.annotation)
        and not _UNIT.search(parameter.name)
        and not re.search(rf"\b{parameter.name}\b", inspect.getdoc(value) or "")
    ]
    assert silent == []


def test_every_example_in_a_docstring_is_true():
    tried = 0
    for module in modules():
        outcome = doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE)
        assert outcome.failed == 0, module.__name__
        tried += outcome.attempted
    assert tried >= 20


def test_every_changed_version_has_an_entry_in_the_changelog():
    text = (ROOT / "docs" / "changelog.md").read_text("utf-8")
    assert re.search(rf"^## {re.escape(resupply.__version__)}\b", text, re.MULTILINE)


def links() -> list[tuple[Path, str]]:
    """List every link to a file, with the page it stands on."""
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")]
    return [
        (page, target)
        for page in pages
        for target in re.findall(r"\]\(([^)#\s]+)", page.read_text("utf-8"))
        if "://" not in target
    ]


def test_every_link_between_pages_leads_somewhere():
    assert len(links()) > 30
    assert [(page, to) for page, to in links() if not (page.parent / to).exists()] == []


def test_every_page_is_linked_from_another():
    linked = {(page.parent / target).resolve() for page, target in links()}
    assert [page for page in (ROOT / "docs").rglob("*.md") if page.resolve() not in linked] == []
