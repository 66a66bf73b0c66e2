"""Run the program with a fault built in: `python launch.py [--hurry] [--die-at N DIR] -- ARGS…`.

`--hurry` makes the live map service's client give up after tenths of seconds instead of minutes.
`--die-at N DIR` ends the process as kill -9 does, just before its N-th step that changes
something under DIR; the steps are those the interpreter reports to audit hooks. With N = 0 the
steps are only counted, and told on the last line of the output of errors.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

_STEPS = frozenset(
    ("os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.chmod", "os.link", "os.truncate")
)


def watch(die_at: int, folder: str) -> list[int]:
    """Count the steps under a folder; end the process at one of them."""
    steps = [0]

    def hook(event: str, args: tuple[object, ...]) -> None:
        if event == "open":
            path, mode, flags = args
            writes = isinstance(flags, int) and bool(flags & (os.O_WRONLY | os.O_RDWR))
            changes = writes or (isinstance(mode, str) and any(c in mode for c in "wax+"))
        else:
            path, changes = args[0] if args else "", event in _STEPS
        if not changes or not isinstance(path, str | bytes | os.PathLike):
            return
        if os.fsdecode(path).startswith(folder):
            steps[0] += 1
            if steps[0] == die_at:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(hook)
    real = os.fsync

    def fsync(handle: int) -> None:
        # Written, but not yet renamed: the moment at which a temporary file is whole.
        steps[0] += 1
        if steps[0] == die_at:
            os.kill(os.getpid(), signal.SIGKILL)
        real(handle)

    os.fsync = fsync
    return steps


def hurry() -> None:
    """Have the clients of the map and weather services wait for seconds only."""
    import functools

    from resupply.common import download
    from resupply.kitchen.cold import forecast
    from resupply.places import fetch, overpass

    keys = {"timeout_s": 2.0, "pause_s": 0.05, "attempts": 2, "deadline_s": 15.0}
    download._PAUSE_S = fetch._PAUSE_S = 0.05
    overpass.make_client = functools.partial(overpass.make_client, **keys)
    forecast.fetch_forecast = functools.partial(
        forecast.fetch_forecast, timeout_s=1.0, pause_s=0.05
    )


def main() -> None:
    """Read the options before `--`, and run the program with those after it."""
    at = sys.argv.index("--")
    own, sys.argv[1:] = sys.argv[1:at], sys.argv[at + 1 :]
    sys.path.insert(0, str(Path(__file__).parents[2]))
    steps = [0]
    if "--hurry" in own:
        hurry()
    if "--die-at" in own:
        n = own.index("--die-at")
        steps = watch(int(own[n + 1]), os.path.realpath(own[n + 2]))
    from resupply.cli.app import main as program
    from resupply.places import overpass

    # A short trip, and yet several questions.
    overpass.STRETCH_M = 10_000.0
    try:
        program()
    finally:
        if "--die-at" in own:
            print(f"steps: {steps[0]}", file=sys.stderr)


if __name__ == "__main__":
    main()
