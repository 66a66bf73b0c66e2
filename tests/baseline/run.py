"""Plan trips with the code of a tree, each in a process of its own, and keep the results."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

COMMIT = "6a34b2c99f94e280220af9bfa680c4d5f3f463ee"
"""The commit of version 0.1.0, which docs/baseline.md names too."""


def old_tree(root: Path, folder: Path) -> Path:
    """Give the code of version 0.1.0: a worktree of its commit, made where it is not there yet.

    It runs in the environment of this tree (its dependencies are a part of today's), its folder
    first on the path.
    """
    if not (folder / "resupply").is_dir():
        git = ["git", "-C", str(root), "worktree"]
        subprocess.run([*git, "prune"], check=True)
        made = subprocess.run([*git, "add", "-q", "--detach", str(folder), COMMIT], check=False)
        if made.returncode:
            raise SystemExit(f"no worktree of {COMMIT}: a clone with all its history is needed")
    return folder


def plan_with(tree: Path, command: list[str], trip: Path, out: Path) -> None:
    """Run `resupply` of a tree, unless results of the same inputs and code are there.

    Results go into `out`, with what the terminal showed (`run.txt`) and how it went
    (`run.json`).
    """
    mark = _mark(tree, command, trip)
    kept = out / "run.json"
    if kept.exists() and json.loads(kept.read_text("utf-8"))["mark"] == mark:
        return
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir(parents=True)
    environment = {**os.environ, "PYTHONPATH": str(tree), "COLUMNS": "80", "NO_COLOR": "1"}
    _check_tree(tree, environment)
    words = [sys.executable, "-m", "resupply", command[0], str(trip), *command[1:]]
    begun = time.perf_counter()
    done = subprocess.run(
        [*words, "--out", str(out)], cwd=tree, env=environment, capture_output=True, check=False
    )
    text = (done.stdout + done.stderr).decode("utf-8", "replace")
    (out / "run.txt").write_text(text.replace(str(out), "OUT"), "utf-8")
    (out / "log.csv").unlink(missing_ok=True)
    how = {"mark": mark, "exit": done.returncode, "seconds": time.perf_counter() - begun}
    kept.write_text(json.dumps(how), "utf-8")
    if done.returncode:
        print(f"{out.name}: exit {done.returncode}\n{text}", file=sys.stderr)


def _check_tree(tree: Path, environment: dict[str, str]) -> None:
    if tree in _CHECKED:
        return
    ask = [sys.executable, "-c", "import resupply; print(resupply.__file__)"]
    where = subprocess.run(
        ask, cwd=tree, env=environment, capture_output=True, text=True, check=True
    ).stdout.strip()
    if not Path(where).is_relative_to(tree.resolve()):
        raise SystemExit(f"the code of {where} would run, not that of {tree}")
    _CHECKED.add(tree)


_CHECKED: set[Path] = set()


def _mark(tree: Path, command: list[str], trip: Path) -> str:
    digest = hashlib.sha256(json.dumps(command).encode())
    # Code, trip, route and map; the map by its size alone, it is large.
    code = sorted(path for path in (tree / "resupply").rglob("*") if path.suffix != ".pyc")
    for path in (path for path in code if path.is_file()):
        digest.update(path.read_bytes())
    name = trip.name.partition(".")[0]
    for path in (trip, trip.parent / f"{name}.gpx"):
        digest.update(path.read_bytes())
    for path in sorted(trip.parent.glob("*.osm.pbf")):
        digest.update(f"{path.name} {path.stat().st_size}".encode())
    return digest.hexdigest()
