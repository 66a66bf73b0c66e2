"""Run benchmarks and write the results down: `python benchmarks/make_table.py [words]`.

Writes docs/benchmarks.md: every section, or those whose title or command holds all the words; the
others stay, each with the day and the version it was measured on. About ten minutes for all on a machine with nothing else to do; a benchmark that
lacks something (real extracts beside the checkout, osmium-tool, Chromium) says so in its place.
"""

from __future__ import annotations

import datetime as dt
import os
import platform
import subprocess
import sys
from pathlib import Path

import resupply

ROOT = Path(__file__).parents[1]
PYTEST = ["-m", "pytest", "-o", "addopts=", "-q", "-s", "--benchmark-columns=median,stddev,rounds"]
SECTIONS = (
    (
        "Against what one would use instead",
        (
            "Every stage and its baselines in one run. “To ours” above 1x: the other takes that much "
            "longer."
        ),
        ["benchmarks/bench_against.py"],
    ),
    (
        "How cost grows",
        (
            "The exponent is fitted to time and memory at 1x, 4x and 16x; 1.0 is linear, below it a "
            "fixed part weighs in."
        ),
        ["benchmarks/bench_scaling.py"],
    ),
    (
        "Tracks of 200,000 points, 200,000 places",
        "Memory is of a fresh process, its libraries included.",
        [*PYTEST, "benchmarks/bench_route.py"],
    ),
    (
        "Reading extracts",
        (
            "Against osmium-tool on the same file in the same run: real extracts merged, and copies of "
            "one country side by side. Goal for places with area points: within 2x of decoding alone, "
            "and faster than a tag filter with references."
        ),
        ["benchmarks/bench_index.py", "gather"],
    ),
    (
        "Memory of making an index",
        "Copies of one country, node positions kept on disk.",
        ["benchmarks/bench_index.py", "memory"],
    ),
    (
        "Planning from an index of two million places",
        (
            "Goal: a route of 4,000 km matched against the index in under 1 s from process start, "
            "under 300 MB (second row). The whole command also sweeps 40 daily distances, cooks, "
            "and writes every file."
        ),
        ["benchmarks/bench_index.py", "plan"],
    ),
    (
        "Planning from a large extract",
        (
            "60 copies of a country side by side, 28 million nodes, 157 MB; CPU time from process "
            "start to the files written, without the sweep. Memory: 400 MB for a route in one copy, "
            "700 MB through many. The goals are 3x for reading (8x through many), 5x and 10x for the "
            "first plan, 8x for gathering, and 3 s for another day and from the index."
        ),
        ["benchmarks/bench_extract.py"],
    ),
    (
        "Where the time of `resupply plan` goes",
        (
            "From process start to the files written. Goal: the page of 4,000 km and 2,000 shops "
            "under 3 MB."
        ),
        ["benchmarks/bench_cli.py"],
    ),
    (
        "Panning the map on a slow phone",
        (
            "The page of 4,000 km, 2,000 shops, woods, lakes, towns and summits, 390 px wide, "
            "processor slowed down four times, network off. 17 ms a frame is as smooth as the screen. "
            "*Own time* is that of the page's thread alone: below 17 ms it keeps up."
        ),
        ["benchmarks/bench_pan.py"],
    ),
    (
        "Plans for the way",
        (
            "4,004 km, 2,000 shops, 14 days, a cooler; the page 390 px wide, processor slowed down four "
            "times, network off. *Own time* is that of the page's thread alone."
        ),
        ["benchmarks/bench_pocket.py"],
    ),
    (
        "The live page, from drag to drawn",
        "4,000 km, 2,000 shops, real Chromium. Goal: 0.3 s.",
        [*PYTEST, "benchmarks/bench_live.py", "--benchmark-only"],
    ),
    (
        "Choosing visits",
        (
            "The exact choice of visits, a plan with its three styles, and the comparison of daily "
            "distances, in CPU seconds (other work may run beside it). One plan is what a drag of "
            "the live page waits for before its document is made."
        ),
        ["benchmarks/bench_supply.py"],
    ),
    (
        "Hours and roads",
        (
            "Against asking hours one by one, against networkx on the same graph, and of the choice of "
            "visits against a mixed-integer solver."
        ),
        [
            *PYTEST,
            "benchmarks/bench_supply.py",
            "benchmarks/bench_hours.py",
            "benchmarks/bench_roads.py",
            "--benchmark-only",
        ],
    ),
)
PAGE = ROOT / "docs" / "benchmarks.md"


def main() -> None:
    """Run all, or those chosen, and put each section in its place."""
    head, *old = PAGE.read_text("utf-8").split("\n## ")
    sections = {text.partition("\n")[0]: text for text in old}
    for title, words, command in SECTIONS:
        if not all(word in f"{title} {' '.join(command)}" for word in sys.argv[1:]):
            continue
        done = subprocess.run(
            [sys.executable, *command], cwd=ROOT, capture_output=True, text=True, check=False
        )
        if done.returncode:
            raise SystemExit(f"{title}: {done.stdout[-1000:]}{done.stderr[-1000:]}")
        shown = " ".join(command)
        sections[title] = (
            f"{title}\n\n{measured()}\n\n{words}\n\n`python {shown}`\n\n{_told(done.stdout)}\n"
        )
        PAGE.write_text("\n## ".join([head, *sections.values()]), "utf-8")
        print(title, flush=True)


def measured() -> str:
    """Say when a section was measured, on which version, and how busy the machine was."""
    day, load = dt.datetime.now(tz=dt.UTC).date().isoformat(), os.getloadavg()[0]
    return (
        f"*Measured on {day}, version {resupply.__version__}, Python {platform.python_version()}, "
        f"{os.cpu_count()} cores, load {load:.0f}.*"
    )


def _told(output: str) -> str:
    """Tables as they are; other lines, as pytest-benchmark's, as they stand on a terminal."""
    lines = [line.rstrip() for line in output.splitlines()]
    parts: list[list[str]] = [[]]
    kinds = [False]
    for line in lines:
        if not line or set(line) <= {"."} or line.strip().startswith(("Legend", "Outliers", "OPS")):
            continue
        is_table = line.startswith("|")
        if is_table != kinds[-1]:
            parts.append([])
            kinds.append(is_table)
        parts[-1].append(line)
    shown = [
        "\n".join(part if is_table else ["```", *part, "```"])
        for part, is_table in zip(parts, kinds, strict=True)
        if part
    ]
    return "\n\n".join(shown)


if __name__ == "__main__":
    main()
