"""The command line in this process: as a rider calls it, without starting Python each time."""

from __future__ import annotations

import contextlib
import gc
import io
import os
import subprocess
import sys
from pathlib import Path
from unittest import mock

from resupply.cli.app import main

# For a plan whose roads, comparison and menu are not what a test is about.
PLAIN = ("--set", "map.roads=false", "--set", "show.sweep=false", "--set", "food.plan_menu=false")


def run(
    *args: object, cwd: Path | None = None, columns: int = 100, pocket: bool = False
) -> subprocess.CompletedProcess[str]:
    """Call the program's `main` with these words; what it prints and its exit code come back.

    The plans for the way are twenty plans more: they are made where `pocket` asks for them.

    A fault that `main` lets through is a fault of the test that called it.
    """
    words = ["resupply", *map(str, args)]
    out, err, code = io.StringIO(), io.StringIO(), 0
    often = gc.get_threshold()
    off = mock.patch("resupply.cli.pocket.add_pocket")
    with (
        contextlib.nullcontext() if pocket else off,
        contextlib.chdir(cwd or Path.cwd()),
        mock.patch.object(sys, "argv", words),
        mock.patch.dict(os.environ, {"COLUMNS": str(columns), "NO_COLOR": "1"}),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else int(end.code is not None)
        finally:
            gc.set_threshold(*often)
    return subprocess.CompletedProcess(words, code, out.getvalue(), err.getvalue())


_WITHOUT_POCKET = """
import resupply.cli.pocket
resupply.cli.pocket.add_pocket = lambda *_: None
from resupply.cli.app import main
main()
"""


def run_apart(*args: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run the program as a process of its own, where that is the point; no plans for the way."""
    return subprocess.run(
        [sys.executable, "-c", _WITHOUT_POCKET, *map(str, args)],
        capture_output=True,
        text=True,
        cwd=cwd,
        timeout=120,
        check=False,
        env={**os.environ, "COLUMNS": "100", "NO_COLOR": "1"},
    )


def fails(*args: object, says: str, code: int = 1) -> str:
    """Give the one line with which the program refuses."""
    done = run(*args)
    lines = done.stderr.strip().splitlines()
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    assert len(lines) == 1, lines
    assert says in lines[0]
    return lines[0]
