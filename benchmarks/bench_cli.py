"""Where the time of `resupply plan` goes, from process start to the files written.

Run: `python benchmarks/bench_cli.py`; a minute. The sample trip, and a road of 4,000 km with
2,000 shops from its extract and from a regional index. Prints a table of stages in CPU seconds.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

STAGES = """
import time
seen = [("Python itself", time.process_time())]
import sys
from pathlib import Path
from resupply.cli import app as cli
from resupply.cli import terminal as text
def telling(console):
    import contextlib
    @contextlib.contextmanager
    def bar():
        yield lambda what, share: seen.append((what, time.process_time()))
    return bar()
text.progress_bar = telling
seen.append(("Reading the trip", time.process_time()))
sys.argv = ["resupply", *sys.argv[1:]]
try:
    cli.app()
except SystemExit:
    pass
seen.append(("", time.process_time()))
status = Path("/proc/self/status").read_text().split()
rows = {}
for (what, start), (_, end) in zip(seen, seen[1:]):
    rows[what] = rows.get(what, 0.0) + end - start
for what, took in rows.items():
    print(f"@{what}@{took:.2f}")
print(f"@peak MB@{int(status[status.index('VmHWM:') + 1]) / 1024:.0f}")
"""


def stages(*arguments: str) -> dict[str, str]:
    """CPU seconds of each stage, best of three runs by their sum."""
    best: dict[str, str] = {}
    for _ in range(3):
        done = subprocess.run(
            [sys.executable, "-c", STAGES, *arguments], capture_output=True, text=True, check=True
        )
        rows = dict(
            line[1:].split("@") for line in done.stdout.splitlines() if line.startswith("@")
        )
        total = sum(float(took) for what, took in rows.items() if what != "peak MB")
        rows["together"] = f"{total:.2f}"
        if not best or total < float(best["together"]):
            best = rows
    return best


def main() -> None:
    """Measure the three runs and print one table."""
    from live_world import write_world

    from resupply.trip.samples import samples_folder

    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        route, extract = write_world(folder, length_km=4000.0, shops=2000, points=40_000)
        index = folder / "road.places"
        gather = ["gather", str(extract), "--out", str(index)]
        subprocess.run([sys.executable, "-m", "resupply", *gather], check=True, capture_output=True)
        long = ["plan", str(route), "--daily-km", "300", "--start", "2027-07-09"]
        # The plans for the way have a benchmark of their own.
        alone = ["--set", "show.pocket_plans=false"]
        long += alone
        runs = {
            "sample trip": ["plan", str(samples_folder() / "coast_loop.toml"), *alone],
            "4,000 km, extract": [*long, "--extract", str(extract)],
            "4,000 km, index": [*long, "--extract", str(index)],
        }
        found = {
            name: stages(*command, "--out", f"{folder}/{name}") for name, command in runs.items()
        }
        for name in runs:
            size = (folder / name / "plan.html").stat().st_size
            found[name]["plan.html MB"] = f"{size / 1e6:.2f}"
    names = list(dict.fromkeys(what for rows in found.values() for what in rows))
    names.sort(key=lambda what: what in ("together", "peak MB", "plan.html MB"))
    print(f"| CPU s | {' | '.join(runs)} |\n| --- |{' --- |' * len(runs)}")
    for what in names:
        print(f"| {what} | {' | '.join(rows.get(what, '') for rows in found.values())} |")


if __name__ == "__main__":
    main()
