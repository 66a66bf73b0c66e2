"""The long run: feed a reader many thousand inputs and write down what came of it.

    python -m tests.fuzz.run gpx --inputs 100000
    python -m tests.fuzz.run --table > docs/hostile-input.md

Inputs are given in batches, each to a process of its own with a bound on its memory and on the
time of every single input; so a crash or a hang inside a library is seen, too, and the batch goes
on behind it. Inputs that find a fault are kept in `--faults`. Results are added to
`tests/fuzz/results.jsonl`, one line a run, from which the table is made.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import faulthandler
import hashlib
import json
import os
import pickle
import platform
import resource
import subprocess
import sys
import time
import traceback
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings

from tests.fuzz.targets import TARGETS

RESULTS = Path(__file__).with_name("results.jsonl")
LONG_RUN = 100_000
"""Inputs of a long run; a row with fewer says so."""
MOST_MB = 1_000
"""No reading process may use more, the generator's own memory included; a breach is a fault."""
_PATIENCE = "5 s (20 s for the live page)"
_HEAD = f"""# Hostile input

Routes, maps, answers of services and trip files come from elsewhere, and a file may be made to do
harm. What you can count on:

* **Nothing in a file is run, opened or fetched.** XML document types are refused, so no entity is
  expanded; links to other files and addresses are not followed.
* **A broken file is one line that names it**, never a program that ends in the middle or hangs.
  Results of earlier runs stay as they were.
* **Sizes are bounded.** What a packed file may grow to, how deep it may nest and how many points it
  may hold is limited ([route files](route-files.md#limits)); absurd numbers are refused.
* **Names are text.** In the map, its popups and lists, the printable sheet, GPX, GeoJSON, the
  calendar and the live page they stay what they were; in the table none is a formula; the terminal
  gets no control characters (`tests/test_hostile.py`, `tests/test_outputs.py`,
  `tests/test_page_browser.py`, `tests/test_web_browser.py`).
* **The live page** answers this machine only, and no other website's page can ask it anything.

What nobody can see from a file: whether it is *true*. A map in which somebody put shops that are
not there gives a plan with those shops. Take map data from where you trust it.

## How this is tested

LEAST: sound files with damage, and documents built from a
grammar in which any part may be absurd. *Read* means that the result was looked over and made
sense (positions on Earth, lengths finite, text without control characters, answers valid JSON);
*refused* means one line of text. A **fault** is anything else: any other exception, a crash of the
process, more than {_PATIENCE} for one input, or more than {MOST_MB:,} MB of memory, with
the interpreter, all libraries and the generator of the inputs counted. *Slowest* is one input on a
shared machine. Inputs that once found a fault are kept in `tests/fuzz/corpus/` and are part of the
tests, with a short run of every reader.

A long run is of the code of its day, the column *run*; the short one, in every run of the tests, is
of the code at hand. Runs of 2026-11-25 are of version 0.1.0: every reader has changed since, some
only a little, and what has no newer date here had no long run since. The catalogue of map
extracts and the kept map near a route have had the short run only.

    python -m tests.fuzz.run NAME --inputs 100000
    python -m tests.fuzz.run --table > docs/hostile-input.md

"""
_BATCH = 5_000


def child(name: str, number: int, count: int, faults: Path) -> None:
    """Give one batch; say on the last line of the output what came of it."""
    limit = (MOST_MB + 3_000) << 20  # of addresses, which libraries take without using them
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    target = TARGETS[name]()
    outcomes: Counter[str] = Counter()
    slowest_s = 0.0
    at_work = faults / f"at-work-{os.getpid()}"

    @seed(number)
    @settings(
        max_examples=count, database=None, deadline=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck), report_multiple_bugs=False,
    )  # fmt: skip
    @given(target.inputs)
    def one(value: object) -> None:
        nonlocal slowest_s
        at_work.write_bytes(pickle.dumps(value))
        faulthandler.dump_traceback_later(target.most_s, exit=True)
        start = time.perf_counter()
        try:
            outcomes[target.check(value)] += 1
        except Exception:  # noqa: BLE001 - whatever it is, it is a fault to be written down
            outcomes["fault"] += 1
            _keep(faults, name, at_work.read_bytes(), traceback.format_exc())
        faulthandler.cancel_dump_traceback_later()
        slowest_s = max(slowest_s, time.perf_counter() - start)

    one()
    at_work.unlink()
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(json.dumps({**outcomes, "slowest_s": slowest_s, "peak_mb": peak_mb}))


def _keep(faults: Path, name: str, pickled: bytes, why: str) -> None:
    frame = [line for line in why.splitlines() if "File " in line][-1:]
    kind = hashlib.sha256((why.splitlines()[-1][:40] + "".join(frame)).encode()).hexdigest()[:8]
    path = faults / f"{name}-{kind}.pickle"
    # The first input of each kind is enough, and the smallest is the best to look at.
    if not path.exists() or path.stat().st_size > len(pickled):
        path.write_bytes(pickled)
        path.with_suffix(".txt").write_text(why, errors="backslashreplace")


def run(name: str, wanted: int, faults: Path, first: int) -> dict[str, object]:
    """Give a reader at least so many inputs."""
    faults.mkdir(parents=True, exist_ok=True)
    total: Counter[str] = Counter()
    slowest_s, peak_mb, number, start = 0.0, 0, first, time.monotonic()
    while sum(total.values()) < wanted:
        command = [sys.executable, "-m", "tests.fuzz.run", name, "--child", str(number)]
        command += ["--inputs", str(_BATCH), "--faults", str(faults)]
        made = subprocess.run(command, capture_output=True, text=True, check=False)
        number += 1
        lines = made.stdout.strip().splitlines()
        if made.returncode == 0 and lines:
            told = json.loads(lines[-1])
            slowest_s = max(slowest_s, told.pop("slowest_s"))
            peak_mb = max(peak_mb, told["peak_mb"])
            total["fault"] += told.pop("peak_mb") > MOST_MB
            total.update(told)
        else:
            total["crash or hang"] += 1
            for left in faults.glob("at-work-*"):
                _keep(faults, f"{name}-crash", left.read_bytes(), made.stderr[-4000:] or "?")
                left.unlink()
        print(f"{name}: batch {number}, {sum(total.values()):,} inputs, {dict(total)}", flush=True)
    return {
        "target": name,
        "what": TARGETS[name]().what,
        "inputs": sum(total.values()),
        "read": total["read"],
        "refused": total["refused"],
        "faults": total["fault"] + total["crash or hang"],
        "slowest_s": round(slowest_s, 2),
        "peak_mb": peak_mb,
        "minutes": round((time.monotonic() - start) / 60),
        "date": dt.datetime.now(tz=dt.UTC).date().isoformat(),
        "python": platform.python_version(),
    }


def table() -> str:
    """Write the page with the latest run of every reader."""
    latest: dict[str, dict[str, object]] = {}
    for line in RESULTS.read_text().splitlines():
        row = json.loads(line)
        latest[row["target"]] = row
    head = "| input | inputs | read | refused in one line | faults | slowest, s | peak, MB | run |"
    rows = [
        f"| {row['what']} | {row['inputs']:,} | {row['read']:,} | {row['refused']:,} | "
        f"{row['faults']} | {row['slowest_s']:.2f} | {row['peak_mb']:,} | {row['date']} |"
        for row in (latest[name] for name in TARGETS if name in latest)
    ]
    lines = [head, "| --- " * 8 + "|", *rows]
    return _HEAD.replace("LEAST", _least(latest)) + "\n".join(lines) + "\n"


def _least(latest: dict[str, dict[str, object]]) -> str:
    """Say how many inputs each reader had, and which had fewer than a long run has."""
    short = [row for row in latest.values() if int(str(row["inputs"])) < LONG_RUN]
    if not short:
        return f"Every reader of this table is given at least {LONG_RUN:,} inputs"
    named = ", ".join(f"{row['what']} ({row['inputs']:,})" for row in short)
    return (
        f"A long run gives a reader at least {LONG_RUN:,} inputs; there is only a row **from a "
        f"shorter run** of {named}. Inputs"
    )


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("target", nargs="?", choices=sorted(TARGETS))
    parser.add_argument("--inputs", type=int, default=LONG_RUN)
    parser.add_argument("--faults", type=Path, default=Path("fuzz-faults"))
    parser.add_argument("--first", type=int, default=1, help="Seed of the first batch.")
    parser.add_argument("--child", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--table", action="store_true", help="Print the page with the last runs.")
    given_ = parser.parse_args()
    if given_.table:
        print(table(), end="")
    elif given_.child is not None:
        child(given_.target, given_.child, given_.inputs, given_.faults)
    elif given_.target:
        row = run(given_.target, given_.inputs, given_.faults.resolve(), given_.first)
        with RESULTS.open("a") as results:
            results.write(json.dumps(row) + "\n")
        with contextlib.suppress(OSError):
            given_.faults.rmdir()
    else:
        parser.error("name a target")


if __name__ == "__main__":
    main()
