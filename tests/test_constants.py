"""Every number that the code fixes for all riders says why, or where it is from."""

from __future__ import annotations

import ast
import re
from typing import TYPE_CHECKING

import pytest
from conftest import ROOT

from resupply.common import units

if TYPE_CHECKING:
    from collections.abc import Iterator

# NIST Special Publication 811 (2008), appendix B.8, factors in bold type (exact), and B.6 for the
# pint's and the ounce's shares; from memory.
PUBLISHED = {
    "M_PER_MI": 1609.344,
    "KM_PER_MI": 1.609344,
    "M_PER_FT": 0.3048,
    "M_PER_YD": 0.9144,
    "KG_PER_LB": 0.45359237,
    "G_PER_OZ": 28.349523125,
    # 231 cubic inches of 2.54 cm each.
    "L_PER_GAL": 231 * 2.54**3 / 1000,
    "QT_PER_GAL": 4.0,
    "ML_PER_FL_OZ": 29.5735295625,
    "M_PER_KM": 1e3,
    "G_PER_KG": 1e3,
    "ML_PER_L": 1e3,
    "S_PER_HOUR": 60.0 * 60.0,
    "S_PER_DAY": 86_400.0,
}


@pytest.mark.parametrize(("name", "published"), PUBLISHED.items())
def test_a_factor_between_units_is_the_published_one(name, published):
    assert getattr(units, name) == pytest.approx(published, rel=1e-12)


def test_every_factor_between_units_is_pinned():
    assert sorted(PUBLISHED) == sorted(name for name in units.__all__ if "_PER_" in name)


def test_factors_in_the_page_s_scripts_are_the_published_ones_too():
    # Whatever begins like a factor is one.
    begins = re.compile(r"\b(?:1\.609|1609\.|0\.4535|3\.785|28\.34|29\.57|0\.304|0\.914)\d*")
    known = {f"{value:.13g}" for value in PUBLISHED.values()}
    found = {
        (path.name, number)
        for path in (ROOT / "resupply").glob("*/assets/*.js")
        for number in begins.findall(path.read_text("utf-8"))
    }
    assert {number for _, number in found} >= {"1609.344", "0.45359237"}
    assert {one for one in found if one[1] not in known} == set()


def has_number(value: ast.expr) -> bool:
    return any(
        isinstance(part, ast.Constant) and type(part.value) in (int, float)
        for part in ast.walk(value)
    )


def told_above(lines: list[str], first: int) -> bool:
    """Whether a comment stands above a line, or above the block of assignments it is in."""
    above = first - 1
    while above >= 0 and "=" in lines[above] and not lines[above].lstrip().startswith(("#", '"')):
        above -= 1
    return above >= 0 and lines[above].lstrip().startswith("#")


def unexplained(source: str) -> Iterator[str]:
    """Names of constants with a number that have neither docstring nor comment."""
    lines, body = source.splitlines(), ast.parse(source).body
    for statement, after in zip(body, [*body[1:], None], strict=True):
        if not isinstance(statement, ast.Assign | ast.AnnAssign) or statement.value is None:
            continue
        if not has_number(statement.value):
            continue
        is_text = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        own = lines[statement.lineno - 1 : statement.end_lineno]
        told = is_text or any("  # " in line and "# fmt" not in line for line in own)
        if not told and not told_above(lines, statement.lineno - 1):
            target = statement.targets[0] if isinstance(statement, ast.Assign) else statement.target
            yield ast.unparse(target)


def test_the_check_finds_what_is_not_explained():
    source = (
        'A = 1\n\nB = 2\n"""Why."""\n# Why both.\nC = 3\nD = 4\n\nE = 5  # why\nF = ("x", {7: 8})\n'
    )
    assert list(unexplained(source)) == ["A", "F"]


def test_every_constant_with_a_number_says_why_or_where_it_is_from():
    bare = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in sorted((ROOT / "resupply").rglob("*.py"))
        for name in unexplained(path.read_text("utf-8"))
    ]
    assert bare == []
