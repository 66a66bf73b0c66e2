"""Write docs/coverage.md: which lines the tests never run, and why that is so.

    pytest --cov=resupply --cov-report=json
    python tests/make_coverage_page.py coverage.json

Neighbouring untested lines are one group. Its reason is in tests/untested.toml, found by the module
and a piece of one of the lines. A group without a reason makes the command fail, and so does a
reason that nothing needs any more.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from collections import defaultdict
from pathlib import Path
from typing import Any

import resupply

ROOT = Path(__file__).parents[1]
_HEAD = """# Coverage

Lines of code that the tests run, and every group of lines they do not, with the reason. Lines of
child processes count; those of processes ended on purpose (kill -9) cannot. Made by
`pytest --cov=resupply --cov-report=json` and `python tests/make_coverage_page.py coverage.json`,
from a run on {day} of {code}.

**{covered:.1f} %** of {statements:,} statements are run; {missing:,} are not.

## Lines that are not run

"""


def groups(file: dict[str, Any]) -> list[tuple[int, int]]:
    """Untested lines with nothing tested between them, as first and last line."""
    run, found = set(file["executed_lines"]), []
    for line in file["missing_lines"]:
        if found and not run & set(range(found[-1][1], line)):
            found[-1] = (found[-1][0], line)
        else:
            found.append((line, line))
    return found


def reason_of(module: str, text: str, reasons: list[dict[str, Any]]) -> tuple[int | None, str]:
    """Number of the reason that names the module and a piece of the text, and what names it."""
    for number, reason in enumerate(reasons):
        for where in reason["at"]:
            path, _, piece = where.partition(": ")
            if path == module and piece in text:
                return number, where
    return None, ""


def names_nothing(reasons: list[dict[str, Any]]) -> list[str]:
    """Give what no module holds any more: the module is gone, or the piece of a line is."""
    gone = []
    for where in (where for reason in reasons for where in reason["at"]):
        path, _, piece = where.partition(": ")
        module = ROOT / "resupply" / path
        if not module.is_file() or piece not in module.read_text("utf-8"):
            gone.append(where)
    return gone


def _code() -> str:
    """Which code was run: its version, and the commit where that is known."""
    words = ["git", "-C", str(ROOT), "rev-parse", "--short", "HEAD"]
    commit = subprocess.run(words, capture_output=True, text=True, check=False).stdout.strip()
    return f"version {resupply.__version__}" + (f", commit {commit}" if commit else "")


def page(report: dict[str, Any], reasons: list[dict[str, Any]]) -> tuple[str, list[str]]:
    """Give the page, and what is wrong: groups without a reason, reasons without a group."""
    by_reason: dict[int, list[str]] = defaultdict(list)
    wrong, rows, needed = [], [], set()
    for path, file in sorted(report["files"].items()):
        module = path.removeprefix("resupply/")
        lines = (ROOT / path).read_text("utf-8").splitlines()
        about = file["summary"]
        rows.append(
            f"| `{module}` | {about['num_statements']} | {about['missing_lines']} | "
            f"{about['percent_covered']:.0f} % |"
        )
        for first, last in groups(file):
            where = f"`{module}` {first}" + (f"–{last}" if last > first else "")
            number, by = reason_of(module, "\n".join(lines[first - 1 : last]), reasons)
            needed.add(by)
            if number is None:
                code = "\n    ".join(lines[first - 1 : last])
                wrong.append(f"{where} has no reason:\n    {code}")
            else:
                by_reason[number].append(where)
    total = report["totals"]
    text = _HEAD.format(
        day=report["meta"]["timestamp"][:10],
        code=_code(),
        covered=total["percent_covered"],
        statements=total["num_statements"],
        missing=total["missing_lines"],
    )
    for number, reason in enumerate(reasons):
        if number in by_reason:
            text += f"* **{reason['why']}** {', '.join(by_reason[number])}\n"
    wrong += [
        f"a reason is not needed any more: {where}"
        for reason in reasons
        for where in reason["at"]
        if where not in needed
    ]
    head = "| module | statements | not run | run |\n| --- | --- | --- | --- |\n"
    text += "\n## By module\n\n" + head + "\n".join(rows) + "\n"
    return text, wrong


def main() -> None:
    """Read what coverage wrote, and write the page."""
    report = json.loads(Path(sys.argv[1] if len(sys.argv) > 1 else "coverage.json").read_text())
    reasons = tomllib.loads((ROOT / "tests" / "untested.toml").read_text("utf-8"))["reason"]
    text, wrong = page(report, reasons)
    (ROOT / "docs" / "coverage.md").write_text(text, "utf-8")
    print("\n".join(wrong) or "docs/coverage.md written")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
