"""Make every fault and write down what came of it: `python tests/faults/make_table.py`.

Writes docs/faults.md. Takes some minutes; small disks of their own need root, and Linux. With
numbers of cases behind it, only those rows are made anew.
"""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from tests.faults.cases import Row, every_case  # noqa: E402 - the path is set above
from tests.faults.catalogue_cases import every_catalogue_case  # noqa: E402 - likewise
from tests.faults.flipped_cases import every_flipped_case  # noqa: E402 - likewise

_HEAD = """# Faults, and what comes of them

Each row is a fault made on purpose, with the results of an earlier run in the folder. *Files* are
the results, the kept answers and the index after the fault; *next run* is the same command once
the fault is over, compared with the plan there would have been without it.
A *step* is every opening, writing out, renaming or removal of a file: a kill at each of them is one
between two renames too, and then each file is the old one or the new one.
Made by `python tests/faults/make_table.py`; the main rows are tests (`tests/test_faults.py`).

| fault | what the rider is told | earlier results | files | next run |
| --- | --- | --- | --- | --- |
"""


def written(row: Row, folder: Path) -> str:
    """Give a row of the table; folders and ports of this machine are left out."""
    told = re.sub(r"127\.0\.0\.1:\d+", "HOST", row.told.replace(str(folder), ""))
    told = told.replace("|", "\\|").replace("<", "&lt;")
    files = "; ".join(row.broken).replace("|", "\\|") or "all whole"
    return f"| {row.fault} | {told} | {row.earlier} | {files} | {row.rerun} |\n"


def _fault(line: str) -> str:
    return line.split(" | ")[0]


def main() -> None:
    """Run every case, or those whose number is given; the other rows stay."""
    chosen = {int(word) for word in sys.argv[1:]}
    page = ROOT / "docs" / "faults.md"
    before = {_fault(line): line for line in page.read_text("utf-8").splitlines(keepends=True)}
    lines, bad = [], 0
    with tempfile.TemporaryDirectory(prefix="resupply-faults-") as scratch:
        cases = (*every_case(), *every_catalogue_case(), *every_flipped_case())
        for number, case in enumerate(cases, start=1):
            if chosen and number not in chosen:
                continue
            folder = Path(scratch) / str(number)
            row = case(folder)
            bad += not row.good
            lines.append(written(row, folder))
            print(f"{number:3} {'' if row.good else 'BAD '}{lines[-1]}", end="", flush=True)
    if chosen:
        made = {_fault(line): line for line in lines}
        kept = {name: line for name, line in before.items() if line not in _HEAD}
        lines = list((kept | made).values())
    page.write_text(_HEAD + "".join(lines), "utf-8")
    print(f"{len(lines)} faults, {bad} with a bad outcome")
    sys.exit(bad > 0)


if __name__ == "__main__":
    main()
