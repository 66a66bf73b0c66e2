"""Change each fixed number of the code once, and see whether a test minds.

    python -m tests.mutate_constants            # go on where the last run ended; hours in all
    python -m tests.mutate_constants common/units.py say   # only these modules or packages
    python -m tests.mutate_constants --page     # write docs/constants.md from what was found

A mutant is one module-level constant whose first number is a fifth larger (a whole number below
ten: one more). It is given to the nearest tests: the test files that reach the module by the
fewest imports, the quick ones first, until `--seconds` of computing are used up. Results
go to `tests/constants.jsonl`, one line a mutant, and are kept until the constant or its module's
tests change; so a run may be stopped at any time.

A mutant lives in a process of its own that is forked from one with the heavy libraries loaded; no
file is changed. Tests that start processes of their own do not see it.
"""

from __future__ import annotations

import argparse
import ast
import datetime as dt
import importlib.util
import json
import math
import os
import re
import resource
import signal
import sys
import time
import tomllib
from collections import deque
from dataclasses import dataclass
from functools import cache
from importlib.machinery import SourceFileLoader
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[1]
RESULTS = ROOT / "tests" / "constants.jsonl"
REASONS = ROOT / "tests" / "constants_left.toml"
DOCUMENTED = "tests/test_documented_numbers.py"
PAGE = ROOT / "docs" / "constants.md"
# What a rider can notice comes first: units, speeds, food, heat, times, margins.
FIRST = (
    "common/units.py", "common/quantity.py", "common/show.py", "supply", "hours", "plan", "say",
    "roads", "kitchen/coolers.py", "kitchen/cold", "trip", "route", "passes", "report", "kitchen",
    "common", "places", "web", "api",
)  # fmt: skip
_LIBRARIES = ("pytest", "numpy", "scipy.optimize", "shapely", "pyproj", "hypothesis", "pydantic",
              "geopandas", "typer", "rich", "gpxpy", "osmium", "opening_hours", "holidays",
              "folium", "osmnx", "icalendar", "astral")  # fmt: skip


_HANGS_S = 1_800.0
"""A test that has not ended by then waits for something that does not come."""
_MOST_S = 40.0
"""A file of tests that computes longer without a mutant is not used."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One constant, and the source of its module with the number changed."""

    module: str
    """Path below `resupply`."""
    name: str
    was: str
    now: str
    source: str

    @property
    def path(self) -> str:
        """The name as one would import it, below `resupply`."""
        return f"{self.module.removesuffix('.py').replace('/', '.')}.{self.name}"

    @property
    def key(self) -> str:
        """The module and the name, as the results and the reasons name it."""
        return f"{self.module}: {self.name}"


def changed(number: float) -> float:
    """Give the number of a mutant: a fifth more, or one more for a small whole number.

    >>> changed(3), changed(60), changed(0.5), changed(0.0)
    (4, 72, 0.6, 1.0)
    """
    if isinstance(number, int):
        return number + 1 if number < 10 else number + max(number // 5, 1)
    return round(number * 1.2, 12) or number * 1.2 or 1.0


def mutants_of(module: str, source: str) -> Iterator[Mutant]:
    """Give a mutant of every module-level constant that holds a number."""
    for statement in ast.parse(source).body:
        if not isinstance(statement, ast.Assign | ast.AnnAssign) or statement.value is None:
            continue
        numbers = [
            part
            for part in ast.walk(statement.value)
            if isinstance(part, ast.Constant) and type(part.value) in (int, float)
        ]
        if not numbers:
            continue
        first = min(numbers, key=lambda part: (part.lineno, part.col_offset))
        target = statement.targets[0] if isinstance(statement, ast.Assign) else statement.target
        lines = source.encode().splitlines(keepends=True)
        line, (start, end) = lines[first.lineno - 1], (first.col_offset, first.end_col_offset)
        now = repr(changed(first.value))
        lines[first.lineno - 1] = line[:start] + now.encode() + line[end:]
        yield Mutant(
            module, ast.unparse(target), line[start:end].decode(), now, b"".join(lines).decode()
        )


def every_mutant(chosen: list[str]) -> list[Mutant]:
    """All mutants in the order they are tried; of the chosen modules and packages only."""
    found = [
        mutant
        for path in sorted((ROOT / "resupply").rglob("*.py"))
        for mutant in mutants_of(str(path.relative_to(ROOT / "resupply")), path.read_text("utf-8"))
        if not chosen or any(_within(mutant.module, one) for one in chosen)
    ]
    told = {mutant.key: names(mutant.path, DOCUMENTED) for mutant in found}
    return sorted(found, key=lambda mutant: (not told[mutant.key], _rank(mutant.module)))


def _within(module: str, package: str) -> bool:
    return module == package or module.startswith(package.rstrip("/") + "/")


def _rank(module: str) -> int:
    return next((n for n, one in enumerate(FIRST) if _within(module, one)), len(FIRST))


# -- which tests are near --


def _name_of(path: Path) -> str:
    """Give the name by which a module is imported; helpers of the tests have a bare one."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    if parts[0] == "tests" and len(parts) == 2:
        return parts[1]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def imports() -> dict[str, frozenset[str]]:
    """Give what each module, helper and file of tests imports, by name."""
    paths = [*(ROOT / "resupply").rglob("*.py"), *(ROOT / "tests").rglob("*.py")]
    known = {_name_of(path): path for path in paths if "node_modules" not in path.parts}
    found = {}
    for name, path in known.items():
        wanted: set[str] = set()
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                wanted |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                wanted |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        found[name] = frozenset(one.removeprefix("tests.") if one not in known else one
                                for one in wanted)  # fmt: skip
    return {name: wanted & known.keys() for name, wanted in found.items()}


def nearest(mutant: Mutant) -> list[tuple[int, str]]:
    """Give the files of tests that reach a module, with the number of imports between.

    A file that names the constant by its whole path, to look it up, is as near as one import.
    """
    users: dict[str, set[str]] = {}
    for name, wanted in imports().items():
        for one in wanted:
            users.setdefault(one, set()).add(name)
    start = _name_of(ROOT / "resupply" / mutant.module)
    steps, waiting = {start: 0}, deque([start])
    while waiting:
        here = waiting.popleft()
        for user in users.get(here, ()):
            # A package's own front door is a step, and so is a helper of the tests.
            if user not in steps:
                steps[user] = steps[here] + 1
                waiting.append(user)
    files = {
        _name_of(path): str(path.relative_to(ROOT))
        for path in (ROOT / "tests").rglob("test_*.py")
        if "node_modules" not in path.parts
    }
    for name, file in files.items():
        if names(mutant.path, file):
            steps[name] = 1
    return sorted((steps[name], file) for name, file in files.items() if name in steps)


# -- running --


class _Changed(SourceFileLoader):
    """Load one module from a changed source."""

    source = b""

    def get_code(self, fullname: str) -> object:  # type: ignore[override]
        return compile(self.source, self.get_filename(fullname), "exec", dont_inherit=True)


class _Quick:
    """Have hypothesis end at the first failure: the smallest one is not needed."""

    @staticmethod
    def pytest_collection_finish() -> None:
        from hypothesis import Phase, settings

        phases = [Phase.explicit, Phase.generate]
        settings.register_profile("quick", settings(phases=phases))
        settings.load_profile("quick")


def _install(mutant: Mutant) -> None:
    """Have the module be the mutant wherever it is imported in this process."""
    name = _name_of(ROOT / "resupply" / mutant.module)

    class Finder:
        @staticmethod
        def find_spec(fullname: str, path: object = None, target: object = None) -> object:
            if fullname != name:
                return None
            where = str(ROOT / "resupply" / mutant.module)
            loader = _Changed(fullname, where)
            loader.source = mutant.source.encode()
            return importlib.util.spec_from_file_location(fullname, where, loader=loader)

    sys.meta_path.insert(0, Finder)


def run(file: str, mutant: Mutant | None, most_s: float) -> tuple[str, float]:
    """Run a file of tests in a process of its own: "passed", "failed", "too slow", "no tests".

    The second value is the seconds of computing it took, whatever else the machine does.
    """
    child = os.fork()
    if child == 0:
        os.setsid()
        # Seconds of computing: on a busy machine minutes may pass in which nothing is done.
        resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(most_s), math.ceil(most_s) + 1))
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        if mutant is not None:
            _install(mutant)
        import pytest

        words = ["-x", "-q", "-o", "addopts=--import-mode=importlib --benchmark-skip",
                 "-m", "not long and not browser", "-p", "no:cacheprovider", "-p", "no:xdist",
                 "-W", "ignore:Module already imported",
                 str(ROOT / file)]  # fmt: skip
        try:
            code = int(pytest.main(words, plugins=[_Quick()]))
        except BaseException:  # noqa: BLE001 - a module that cannot be imported is noticed
            code = 1
        os._exit(code)
    start, ended = time.monotonic(), 0
    while not ended and time.monotonic() - start < _HANGS_S:
        time.sleep(0.05)
        ended, status, used = os.wait4(child, os.WNOHANG)
    if not ended:
        os.killpg(child, signal.SIGKILL)
        _, status, used = os.wait4(child, 0)
    code = os.waitstatus_to_exitcode(status)
    if code in (-signal.SIGXCPU, -signal.SIGKILL):
        told = "too slow"
    else:
        told = {0: "passed", 5: "no tests"}.get(code, "failed")
    return told, used.ru_utime + used.ru_stime


class Usual:
    """How long each file of tests takes without a mutant, asked once."""

    def __init__(self, results: Path) -> None:
        self._path = results.with_suffix(".usual.json")
        self._known = json.loads(self._path.read_text()) if self._path.exists() else {}

    def guess(self, file: str) -> float:
        """Give the seconds, by the length of the file where it never ran."""
        known = self._known.get(file)
        return known or len((ROOT / file).read_bytes()) / 2_000.0

    def of(self, file: str) -> float | None:
        """Give the seconds; None for one that does not pass, or is too slow to be of use."""
        if file not in self._known:
            told, lasted_s = run(file, None, 10.0 * _MOST_S)
            usable = told == "passed" and lasted_s < _MOST_S
            self._known[file] = round(lasted_s, 1) if usable else None
            self._path.write_text(json.dumps(self._known, indent=0, sort_keys=True))
        found: float | None = self._known[file]
        return found


@cache
def names(constant: str, file: str) -> bool:
    """Whether a file of tests has the name of a constant in it."""
    return constant in _words(file)


@cache
def _words(file: str) -> frozenset[str]:
    """Names in a file, dotted ones whole and their last part too."""
    found = re.findall(r"[\w.]+", (ROOT / file).read_text("utf-8"))
    return frozenset(found) | {word.rpartition(".")[2] for word in found}


@cache
def taken(module: str, file: str) -> int:
    """How many names a file of tests imports from a module."""
    return sum(
        len(node.names)
        for node in ast.walk(ast.parse((ROOT / file).read_text("utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module == module
    )


def judge(mutant: Mutant, usual: Usual, seconds: float) -> dict[str, object]:
    """Give the mutant to its nearest tests."""
    used_s, tried, told = 0.0, [], "no test near"
    own = Path(mutant.module).stem
    # The table of documented numbers is asked first where the constant stands in it. Then a file
    # that names the constant is nearest, one named as the module, and one that takes most from it
    # and imports little else.
    near = sorted(
        (
            file != DOCUMENTED or not names(mutant.path, file),
            step - (own in file) - 9 * names(mutant.name, file),
            -taken(_name_of(ROOT / "resupply" / mutant.module), file),
            len(imports()[_name_of(ROOT / file)]),
            usual.guess(file),
            file,
        )
        for step, file in nearest(mutant)
    )
    for *_, lasts_s, file in near:
        if used_s >= seconds:
            break
        if used_s + lasts_s > 2.0 * seconds or (lasts := usual.of(file)) is None:
            continue
        told, took_s = run(file, mutant, 10.0 + 3.0 * lasts)
        tried.append(file.removeprefix("tests/"))
        used_s += took_s
        if told not in ("passed", "no tests"):
            return _result(mutant, told, tried)
    return _result(mutant, "survived" if tried else told, tried)


def _result(mutant: Mutant, told: str, tried: list[str]) -> dict[str, object]:
    return {
        "constant": mutant.key, "was": mutant.was, "now": mutant.now, "told": told,
        "by": tried[-1] if told in ("failed", "too slow") else "", "files": len(tried),
    }  # fmt: skip


def results(path: Path) -> dict[str, dict[str, object]]:
    """Read the latest result of each constant."""
    found: dict[str, dict[str, object]] = {}
    for line in path.read_text("utf-8").splitlines() if path.exists() else []:
        row = json.loads(line)
        before = found.get(row["constant"])
        # What a test has noticed once is noticed, however many others were asked later.
        if before is None or before["was"] != row["was"] or before["told"] != "failed":
            found[row["constant"]] = row
    return found


# -- the page --

_HEAD = """# Constants

Numbers that the code fixes: each was made a fifth larger once (a small whole number one larger),
and the tests nearest to it were run. Made by `python -m tests.mutate_constants` and then `--page`.

**{run} of {all} constants were tried** until {day}, those a rider can notice first; tests noticed
{minded} of them, {left} stayed unnoticed.{untried} Only the nearest tests were asked, for about
2 to {seconds:.0f} s of computing each, without a browser and without those that start a process; so
"unnoticed" is the most there can be. One change is no proof: a smaller one may pass.

| package | tried | noticed | unnoticed |
| --- | --- | --- | --- |
{rows}

## What stayed unnoticed, and why

"""


def reasons() -> list[dict[str, object]]:
    """Read why constants may change without a test minding."""
    found: list[dict[str, object]] = tomllib.loads(REASONS.read_text("utf-8"))["reason"]
    return found


def page(found: dict[str, dict[str, object]], seconds: float) -> tuple[str, list[str]]:
    """Give the page, and what is wrong: a survivor without a reason, a reason without one."""
    names = {mutant.key for mutant in every_mutant([])}
    rows = {key: row for key, row in found.items() if key in names}
    left = {key for key, row in rows.items() if row["told"] in ("survived", "no test near")}
    packages: dict[str, list[int]] = {}
    for key in sorted(rows):
        count = packages.setdefault(key.split("/")[0], [0, 0])
        count[key in left] += 1
    text = _HEAD.format(
        day=dt.datetime.now(tz=dt.UTC).date().isoformat(),
        run=len(rows), all=len(names), minded=len(rows) - len(left), left=len(left),
        untried=f" {len(names) - len(rows)} have not been tried yet."
        if len(names) > len(rows) else "",
        seconds=seconds,
        rows="\n".join(
            f"| `{package}` | {minded + unminded} | {minded} | {unminded} |"
            for package, (minded, unminded) in packages.items()
        ),
    )  # fmt: skip
    wrong, told = [], set()
    for reason in reasons():
        at = [key for key in reason["at"] if key in left]  # type: ignore[attr-defined]
        told |= set(at)
        wrong += [
            f"a reason is not needed any more: {key}"
            for key in reason["at"]  # type: ignore[attr-defined]
            if key not in left and (key in rows or key not in names)
        ]
        if at:
            named = ", ".join(f"`{key}` ({rows[key]['was']} → {rows[key]['now']})" for key in at)
            text += f"* **{reason['why']}** {named}\n"
    wrong += [f"no reason: {key}" for key in sorted(left - told)]
    return text, wrong


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("where", nargs="*", help="Modules or packages below resupply.")
    parser.add_argument("--seconds", type=float, default=15.0, help="Computing time a mutant.")
    parser.add_argument("--results", type=Path, default=RESULTS)
    parser.add_argument("--again", action="store_true", help="Try what survived once more.")
    parser.add_argument("--page", action="store_true")
    given = parser.parse_args()
    if given.page:
        text, wrong = page(results(given.results), given.seconds)
        PAGE.write_text(text, "utf-8")
        print("\n".join(wrong) or f"{PAGE.name} written")
        sys.exit(bool(wrong))
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    for name in _LIBRARIES:
        importlib.import_module(name)
    known, usual = results(given.results), Usual(given.results)
    for mutant in every_mutant(given.where):
        row = known.get(mutant.key)
        if row and row["was"] == mutant.was and not (given.again and row["told"] == "survived"):
            continue
        row = judge(mutant, usual, given.seconds)
        with given.results.open("a", encoding="utf-8") as stream:
            stream.write(json.dumps(row) + "\n")
        print(
            f"{row['told']:12} {mutant.key}: {mutant.was} -> {mutant.now} {row['by']}", flush=True
        )


if __name__ == "__main__":
    main()
