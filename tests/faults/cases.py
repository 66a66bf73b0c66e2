"""Every fault, and what came of it: the rows of docs/faults.md.

A case makes a fault in a world of its own and returns a `Row`. `tests/test_faults.py` demands the
same of the main ones.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import shapely

from tests.faults import world
from tests.faults.world import cache_faults, command, contents, faults_of, plan_of, run, said
from tests.kept_files import flip_a_bit, make_older
from tests.overpass_server import FAULTS, OverpassServer

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_MANY = 100
KEPT = "untouched"
NEW = "replaced, all of them"


@dataclass
class Row:
    """One fault and its outcome."""

    fault: str
    told: str
    """The line a rider reads, or in how many ways it ended."""
    earlier: str
    """What became of the results of an earlier run."""
    broken: list[str]
    """Files that are not whole."""
    rerun: str
    """Whether the next run, without the fault, gives the plan there would have been."""

    @property
    def good(self) -> bool:
        """Whether nothing is lost, broken or unsaid."""
        return (
            not self.broken
            and self.earlier in (KEPT, NEW)
            and self.rerun == "same plan"
            and bool(self.told)
            and "TRACEBACK" not in self.told
        )


def rerun_said(done: subprocess.CompletedProcess[str], *, same: bool) -> str:
    """What the run without the fault gave: the plan there would have been, or what it said."""
    return "same plan" if same else said(done) or "OTHER PLAN"


def earlier_of(before: dict[str, bytes], after: dict[str, bytes]) -> str:
    """What became of the files of an earlier run."""
    if after == before:
        return KEPT
    return NEW if set(after) == set(before) else f"LOST {sorted(set(before) - set(after))}"


# -- the live map service --


def service_fault(folder: Path, fault: str, *, after: int = 0) -> Row:
    """Every question but the first so many meets the fault; an earlier run's results are there."""
    with OverpassServer(world.SHOPS, retry_after="1") as server:
        trip = world.write_trip(folder, service=server.endpoint)
        out = folder / "out"
        assert run("plan", trip, "--out", out).returncode == 0
        wanted, before = plan_of(out), contents(out)
        shutil.rmtree(folder / "cache")
        server.faults = [None] * after + [fault] * _MANY
        done = run("plan", trip, "--out", out, own=["--hurry"])
        earlier, broken = earlier_of(before, contents(out)), faults_of(out) + cache_faults(folder)
        told = said(done)
        if done.returncode == 0 and not plan_of(out)["unknown"]:
            told = "recovers: asks again" if plan_of(out) == wanted else f"WRONG PLAN {told}"
        server.faults = []
        again = run("plan", trip, "--out", out)
        same = again.returncode == 0 and plan_of(out) == wanted
    where = f"from question {after + 1} on" if after else "to every question"
    what = f"{FAULTS[fault]}, {where}"
    return Row(what, told, earlier, broken, rerun_said(again, same=same))


def service_hiccup(folder: Path, fault: str) -> Row:
    """The first question meets the fault, the next attempt does not."""
    with OverpassServer(world.SHOPS, faults=[fault], retry_after="1") as server:
        trip = world.write_trip(folder, service=server.endpoint)
        done = run("plan", trip, "--out", folder / "out", own=["--hurry"])
        first = plan_of(folder / "out")
        again = run("plan", trip, "--out", folder / "out")
        same = again.returncode == 0 and plan_of(folder / "out") == first and not first["unknown"]
    told = "recovers: asks again" if done.returncode == 0 and not first["unknown"] else said(done)
    broken = faults_of(folder / "out") + cache_faults(folder)
    return Row(f"{FAULTS[fault]}, once", told, NEW, broken, "same plan" if same else "OTHER PLAN")


def service_gone(folder: Path) -> Row:
    """Nothing listens at the address; answers of another day are on disk, too old to be fresh."""
    with OverpassServer(world.SHOPS) as server:
        trip = world.write_trip(folder, service=server.endpoint)
        out = folder / "out"
        assert run("plan", trip, "--out", out).returncode == 0
        wanted, before = plan_of(out), contents(out)
    make_older(folder / "cache", days=400)
    done = run("plan", trip, "--out", out, own=["--hurry"])
    earlier, broken = earlier_of(before, contents(out)), faults_of(out) + cache_faults(folder)
    same = done.returncode == 0 and plan_of(out) == wanted
    return Row(
        "no service at the address, answers on disk 400 days old",
        said(done), earlier, broken, "same plan" if same else "OTHER PLAN",
    )  # fmt: skip


def status_page(folder: Path, fault: str) -> Row:
    """The page that tells of free slots never ends; questions are answered."""
    with OverpassServer(world.SHOPS, status_page=fault) as server:
        trip = world.write_trip(folder, service=server.endpoint)
        done = run("plan", trip, "--out", folder / "out", own=["--hurry"])
        first = plan_of(folder / "out")
        server.status_page = None
        again = run("plan", trip, "--out", folder / "out")
        same = again.returncode == 0 and plan_of(folder / "out") == first and not first["unknown"]
    told = "goes on without it" if done.returncode == 0 and not first["unknown"] else said(done)
    broken = faults_of(folder / "out") + cache_faults(folder)
    return Row(
        f"status page: {FAULTS[fault]}", told, NEW, broken, "same plan" if same else "OTHER PLAN"
    )


def lacking_answer(folder: Path, what: str) -> Row:
    """Answers name shops without a position, or the service knows only part of the ground."""
    keys: dict[str, object] = {"left_out": range(101, 104)}
    name = "shops without a position in the answer"
    if what == "land":
        keys = {"land": shapely.box(-27.0, 46.0, -25.8, 47.0)}
        name = "a service that knows the roads of the first 15 km only"
    with OverpassServer([*world.SHOPS, *world.BUILDINGS], **keys) as server:
        trip = world.write_trip(folder, service=server.endpoint)
        done = run("plan", trip, "--out", folder / "out", own=["--hurry"])
        assert done.returncode == 0, done.stderr
        broken = faults_of(folder / "out") + cache_faults(folder)
        server.left_out, server.land = set(), None
        # An answer that holds no roads is whole, and kept: the rider has it asked anew.
        shutil.rmtree(folder / "cache")
        again = run("plan", trip, "--out", folder / "out")
        same = again.returncode == 0 and not plan_of(folder / "out")["unknown"]
    return Row(name, said(done), NEW, broken, "same plan" if same else said(again))


WEATHER_FAULTS = (
    "dripping headers", "continue", "busy", "overloaded", "silent", "reset", "web page", "cut off",
    "drip", "nothing", "refused", "blocked", "nonsense", "other host",
)  # fmt: skip
"""Those that mean anything to a service of figures."""


def weather_fault(folder: Path, fault: str) -> Row:
    """The weather service misbehaves likewise; the plan comes without its figures."""
    with OverpassServer(world.SHOPS, status_page=fault) as server:
        trip = world.write_trip(folder, extract=True, weather=f"{server.endpoint}/status")
        done = run("plan", trip, "--out", folder / "out", own=["--hurry"])
        assert done.returncode == 0, done.stderr
        broken = faults_of(folder / "out") + cache_faults(folder)
        first = plan_of(folder / "out")
    again = run("plan", trip, "--out", folder / "out", own=["--hurry"])
    same = again.returncode == 0 and plan_of(folder / "out") == first
    return Row(
        f"weather service: {FAULTS[fault]}", said(done), NEW, broken,
        rerun_said(again, same=same),
    )  # fmt: skip


def flipped_bits(folder: Path) -> Row:
    """One bit of each kept answer is wrong; the service answers."""
    with OverpassServer(world.SHOPS) as server:
        trip = world.write_trip(folder, service=server.endpoint)
        out = folder / "out"
        assert run("plan", trip, "--out", out).returncode == 0
        wanted, before, asked = plan_of(out), contents(out), len(server.questions)
        files = sorted((folder / "cache").iterdir())
        for path in files:
            flip_a_bit(path, path.stat().st_size * 2 // 3)
        done = run("plan", trip, "--out", out)
        same = done.returncode == 0 and plan_of(out) == wanted
        asks_again = len(server.questions) == 2 * asked
    return Row(
        "one bit flipped in kept answers", "asks again" if asks_again else "NOT NOTICED",
        earlier_of(before, contents(out)), faults_of(out) + cache_faults(folder),
        "same plan" if same else "OTHER PLAN",
    )  # fmt: skip


def damaged_cache(folder: Path) -> Row:
    """Files of the cache are cut off or hold something else; the service answers."""
    with OverpassServer(world.SHOPS) as server:
        trip = world.write_trip(folder, service=server.endpoint)
        out = folder / "out"
        assert run("plan", trip, "--out", out).returncode == 0
        wanted, before = plan_of(out), contents(out)
        for n, path in enumerate(sorted((folder / "cache").iterdir())):
            path.write_bytes([path.read_bytes()[:100], b"", b"[" * 5_000, b"\xff\xfe"][n % 4])
        done = run("plan", trip, "--out", out)
        same = done.returncode == 0 and plan_of(out) == wanted
        told = "asks again" if done.returncode == 0 else said(done)
    return Row(
        "kept answers cut off, empty or of another kind", told, earlier_of(before, contents(out)),
        faults_of(out) + cache_faults(folder), "same plan" if same else "OTHER PLAN",
    )  # fmt: skip


# -- kill -9 --


def _jobs(folder: Path, server: OverpassServer | None) -> list[object]:
    trip = world.write_trip(
        folder, service=server.endpoint if server else "", extract=server is None
    )
    return ["plan", trip, "--out", folder / "out"]


def killed_planning(folder: Path, *, every: int = 1, service: bool = False) -> Row:
    """Kill a run just before each of its steps that change a file (or every so many-th)."""
    server = OverpassServer(world.SHOPS) if service else None
    with server or contextlib.nullcontext():
        words = _jobs(folder, server)
        whole = run(*words, own=["--hurry", "--die-at", 0, folder])
        assert whole.returncode == 0, whole.stderr
        steps = int(whole.stderr.rsplit("steps: ", 1)[1])
        wanted, before = plan_of(folder / "out"), contents(folder / "out")
        ended: Counter[str] = Counter()
        broken: list[str] = []
        kept = True
        for step in range(1, steps + 1, every):
            shutil.rmtree(folder / "cache", ignore_errors=True)
            done = run(*words, own=["--hurry", "--die-at", step, folder])
            ended["killed" if done.returncode == -signal.SIGKILL else "ended first"] += 1
            broken += faults_of(folder / "out") + cache_faults(folder)
            kept &= set(contents(folder / "out")) == set(before)
        again = run(*words)
        same = again.returncode == 0 and plan_of(folder / "out") == wanted
    what = "asking, keeping answers and writing results" if service else "writing results"
    told = f"killed at {ended['killed']} of the {steps} steps of {what}"
    return Row(
        f"kill -9 while {what}", told, KEPT if kept else "LOST", broken,
        rerun_said(again, same=same),
    )  # fmt: skip


def _gathered(folder: Path) -> list[object]:
    extract = world.write_extract(folder / "island.osm.pbf")
    return ["gather", extract, "--out", folder / "island.places"]


def index_plan(folder: Path) -> dict[str, object] | str:
    """Plan from the index: the plan, or the line that says why not."""
    trip = world.write_trip(folder)
    trip.write_text(trip.read_text() + 'extracts = ["island.places"]\n')
    done = run("plan", trip, "--out", folder / "out")
    return plan_of(folder / "out") if done.returncode == 0 else said(done)


def killed_gathering(folder: Path, *, at_random: int = 0, some: int = 0, seed: int = 8) -> Row:
    """Kill the making of an index at each or some of its steps, or at random, over an old index."""
    folder.mkdir(parents=True, exist_ok=True)
    words = _gathered(folder)
    start = time.monotonic()
    whole = run(*words, own=["--die-at", 0, folder])
    lasts_s = time.monotonic() - start
    assert whole.returncode == 0, whole.stderr
    steps = int(whole.stderr.rsplit("steps: ", 1)[1])
    wanted = index_plan(folder)
    assert isinstance(wanted, dict), wanted
    dice = random.Random(seed)
    broken: list[str] = []
    killed = 0
    moments = range(1, (at_random or steps) + 1)
    if some:
        moments = range(steps, 0, -(steps // some))
    for n in moments:
        # A changed file is read anew; what was gathered before must stay of use until then.
        os.utime(folder / "island.osm.pbf", (n, n))
        if at_random:
            with subprocess.Popen(
                command(*words), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            ) as process:
                time.sleep(dice.uniform(0.0, lasts_s))
                process.kill()
            killed += process.returncode == -signal.SIGKILL
        else:
            done = run(*words, own=["--die-at", n, folder])
            killed += done.returncode == -signal.SIGKILL
        if (found := index_plan(folder)) != wanted:
            broken.append(f"step {n}: {str(found)[:80]}")
    again = run(*words)
    same = again.returncode == 0 and index_plan(folder) == wanted
    left = [path.name for path in (folder / "island.places").glob("unfinished-*")]
    when = f"{at_random} random moments" if at_random else f"each of the {steps} steps"
    return Row(
        f"kill -9 while gathering an index, at {when}", f"killed {killed} times",
        KEPT if not broken else "LOST", [*broken, *left], "same plan" if same else said(again),
    )  # fmt: skip


# -- disks --


@contextlib.contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    """Give a folder on a disk of its own of so many kilobytes (needs root)."""
    folder.mkdir(parents=True, exist_ok=True)
    size = f"size={kilobytes}k"
    subprocess.run(["mount", "-t", "tmpfs", "-o", size, "none", str(folder)], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def fill(folder: Path) -> None:
    """Leave no room at all."""
    with contextlib.suppress(OSError), (folder / "filler").open("wb") as stream:
        while True:
            stream.write(b"\0" * 4096)
            stream.flush()


def full_disk(folder: Path, job: str, kilobytes: int) -> Row:
    """Fill the disk up but for so many kilobytes, then run a job that writes to it."""
    with small_disk(folder / "disk", 40_000) as disk, OverpassServer(world.SHOPS) as server:
        trip = world.write_trip(folder, service=server.endpoint)
        out = folder / "out"
        if job == "results":
            out = disk / "out"
        elif job == "answers":
            (disk / "cache").mkdir()
            (folder / "cache").symlink_to(disk / "cache")
        words: list[object] = ["plan", trip, "--out", out]
        if job == "index":
            words = [*_gathered(folder)[:-1], disk / "island.places"]
        first = run(*words)
        assert first.returncode == 0, first.stderr
        wanted = plan_of(out) if job != "index" else {}
        before = contents(out) if job != "index" else _tree(disk / "island.places")
        if job == "index":
            os.utime(folder / "island.osm.pbf", (1, 1))
        elif job == "answers":
            shutil.rmtree(disk / "cache")
            (disk / "cache").mkdir()
        else:
            trip.write_text(trip.read_text().replace("daily_km = 10", "daily_km = 12"))
        (disk / "room").write_bytes(b"\0" * kilobytes * 1024)
        fill(disk)
        (disk / "room").unlink()
        done = run(*words, own=["--hurry"])
        told = said(done) or "goes on: it had room enough"
        after = contents(out) if job != "index" else _tree(disk / "island.places")
        earlier = (
            KEPT
            if after == before or (job == "index" and before.items() <= after.items())
            else (NEW if set(after) == set(before) else "LOST")
        )
        broken = (faults_of(out) if job != "index" else []) + cache_faults(folder)
        (disk / "filler").unlink()
        trip.write_text(trip.read_text().replace("daily_km = 12", "daily_km = 10"))
        again = run(*words)
        same = again.returncode == 0 and (job == "index" or plan_of(out) == wanted)
    what = {"results": "results", "answers": "kept answers", "index": "an index"}[job]
    return Row(
        f"disk full, {kilobytes} kB left for {what}", told, earlier, broken,
        rerun_said(again, same=same),
    )  # fmt: skip


def _tree(folder: Path) -> dict[str, bytes]:
    """Files of an index that count: named by its table of contents, or that table."""
    named = {part["folder"] for part in json.loads((folder / "index.json").read_text())["parts"]}
    files = [folder / "index.json", *(f for name in named for f in (folder / name).iterdir())]
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}


def limited_file(folder: Path, kilobytes: int) -> Row:
    """No file may grow past so many kilobytes, as under a quota."""
    trip = world.write_trip(folder, extract=True)
    out = folder / "out"
    assert run("plan", trip, "--out", out).returncode == 0
    wanted, before = plan_of(out), contents(out)
    limit = kilobytes * 1024
    done = run(
        "plan", trip, "--out", out, "--daily-km", 12,
        before=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit)),
    )  # fmt: skip
    earlier, broken = earlier_of(before, contents(out)), faults_of(out)
    again = run("plan", trip, "--out", out)
    same = again.returncode == 0 and plan_of(out) == wanted
    return Row(
        f"no file larger than {kilobytes} kB (a quota)", said(done), earlier, broken,
        "same plan" if same else "OTHER PLAN",
    )  # fmt: skip


def read_only(folder: Path, job: str) -> Row:
    """The folder to be written is on a disk mounted read-only (needs root)."""
    with small_disk(folder / "disk", 40_000) as disk, OverpassServer(world.SHOPS) as server:
        trip = world.write_trip(disk if job == "answers" else folder, service=server.endpoint)
        out = (disk if job == "results" else folder) / "out"
        words: list[object] = ["plan", trip, "--out", out]
        if job == "index":
            words = [*_gathered(folder)[:-1], disk / "island.places"]
        first = run(*words)
        assert first.returncode == 0, first.stderr
        wanted = plan_of(out) if job != "index" else {}
        before = contents(out) if job != "index" else _tree(disk / "island.places")
        if job == "index":
            os.utime(folder / "island.osm.pbf", (1, 1))
        elif job == "answers":
            shutil.rmtree(disk / "cache")
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        done = run(*words, own=["--hurry"])
        after = contents(out) if job != "index" else _tree(disk / "island.places")
        subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
        again = run(*words)
        same = again.returncode == 0 and (job == "index" or plan_of(out) == wanted)
        broken = faults_of(out) if job != "index" else []
    earlier = earlier_of(before, after)
    what = {"results": "results", "answers": "the trip and its cache", "index": "the index"}[job]
    return Row(
        f"read-only folder for {what}", said(done), earlier, broken,
        rerun_said(again, same=same),
    )  # fmt: skip


# -- terminal --


def poor_encoding(folder: Path, encoding: str) -> Row:
    """What is printed goes where many signs cannot be shown."""
    trip = world.write_trip(folder, extract=True)
    words = ["plan", trip, "--out", folder / "out"]
    assert run(*words).returncode == 0
    wanted, before = plan_of(folder / "out"), contents(folder / "out")
    done = run(*words, encoding=encoding, env={"PYTHONIOENCODING": encoding})
    same = done.returncode == 0 and plan_of(folder / "out") == wanted
    told = "written with plain signs" if "plan.html" in done.stdout else said(done)
    return Row(
        f"output in {encoding}", told, earlier_of(before, contents(folder / "out")),
        faults_of(folder / "out"), rerun_said(done, same=same),
    )  # fmt: skip


def endless_file(folder: Path, what: str) -> Row:
    """A named pipe to which nobody writes stands where a file should."""
    trip = world.write_trip(folder, extract=True)
    words = ["plan", trip, "--out", folder / "out"]
    assert run(*words).returncode == 0
    wanted, before = plan_of(folder / "out"), contents(folder / "out")
    pipe = folder / {"route": "pipe.gpx", "map extract": "pipe.osm.pbf"}[what]
    os.mkfifo(pipe)
    done = run(*words, {"route": "--route", "map extract": "--extract"}[what], pipe)
    earlier, broken = earlier_of(before, contents(folder / "out")), faults_of(folder / "out")
    again = run(*words)
    same = again.returncode == 0 and plan_of(folder / "out") == wanted
    return Row(
        f"a named pipe as {what}", said(done), earlier, broken,
        rerun_said(again, same=same),
    )  # fmt: skip


def interrupted(folder: Path) -> Row:
    """Ctrl-C while the map service is silent."""
    with OverpassServer(world.SHOPS) as server:
        trip = world.write_trip(folder, service=server.endpoint)
        words = ["plan", trip, "--out", folder / "out"]
        assert run(*words).returncode == 0
        wanted, before = plan_of(folder / "out"), contents(folder / "out")
        shutil.rmtree(folder / "cache")
        asked, server.faults = len(server.questions), ["silent"] * _MANY
        with subprocess.Popen(
            command(*words), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        ) as process:
            deadline = time.monotonic() + 60.0
            while len(server.questions) == asked and time.monotonic() < deadline:
                time.sleep(0.05)
            process.send_signal(signal.SIGINT)
            out, err = process.communicate(timeout=60)
        done = subprocess.CompletedProcess([], process.returncode, out, err)
        earlier, broken = earlier_of(before, contents(folder / "out")), faults_of(folder / "out")
        server.faults = []
        again = run(*words)
        same = again.returncode == 0 and plan_of(folder / "out") == wanted
    return Row(
        "Ctrl-C while the map service is silent", said(done), earlier,
        broken + cache_faults(folder), rerun_said(again, same=same),
    )  # fmt: skip


# -- at once --


def at_once(folder: Path, job: str, *, runs: int = 3) -> Row:
    """Several runs start together on the same cache and folder."""
    with OverpassServer(world.SHOPS) as server:
        words = (
            _gathered(folder)
            if job == "index" and folder.mkdir(parents=True) is None
            else (_jobs(folder, server))
        )
        processes = [
            subprocess.Popen(
                command(*words),
                stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            )
            for _ in range(runs)
        ]  # fmt: skip
        ended = []
        for process in processes:
            out, err = process.communicate(timeout=300)
            ended.append(subprocess.CompletedProcess([], process.returncode, out, err))
        faults = [said(done) for done in ended if done.returncode]
        broken = faults_of(folder / "out") + cache_faults(folder)
        if job == "index":
            found = index_plan(folder)
            again = run(*words)
            same = again.returncode == 0 and index_plan(folder) == found
            broken += [] if isinstance(found, dict) else [found]
        else:
            first = plan_of(folder / "out")
            again = run(*words)
            same = again.returncode == 0 and plan_of(folder / "out") == first
    told = "; ".join(faults) or f"all {runs} end well"
    what = "gathering one index" if job == "index" else "on one trip, cache and folder"
    return Row(
        f"{runs} runs at once {what}", told, NEW, broken, "same plan" if same else said(again)
    )


def every_case() -> Iterator[Callable[[Path], Row]]:
    """Give each case as a function of the folder to use."""
    for fault in FAULTS:
        yield lambda folder, fault=fault: service_fault(folder, fault)
    for fault in ("remark", "reset", "busy"):
        yield lambda folder, fault=fault: service_fault(folder, fault, after=2)
    for fault in ("busy", "overloaded", "silent", "reset", "web page", "cut off", "nothing"):
        yield lambda folder, fault=fault: service_hiccup(folder, fault)
    yield service_gone
    yield damaged_cache
    yield killed_planning
    yield lambda folder: killed_planning(folder, service=True)
    yield killed_gathering
    yield lambda folder: killed_gathering(folder, at_random=20)
    for kilobytes in (0, 200, 700):
        yield lambda folder, kb=kilobytes: full_disk(folder, "results", kb)
    for kilobytes in (0, 4):
        yield lambda folder, kb=kilobytes: full_disk(folder, "answers", kb)
        yield lambda folder, kb=kilobytes: full_disk(folder, "index", kb)
    yield lambda folder: limited_file(folder, 100)
    for job in ("results", "answers", "index"):
        yield lambda folder, job=job: read_only(folder, job)
    yield lambda folder: at_once(folder, "plan")
    yield lambda folder: at_once(folder, "index")
    for fault in ("dripping headers", "continue"):
        yield lambda folder, fault=fault: status_page(folder, fault)
    for what in ("places", "land"):
        yield lambda folder, what=what: lacking_answer(folder, what)
    for fault in WEATHER_FAULTS:
        yield lambda folder, fault=fault: weather_fault(folder, fault)
    yield flipped_bits
    for encoding in ("cp1252", "ascii"):
        yield lambda folder, encoding=encoding: poor_encoding(folder, encoding)
    for what in ("route", "map extract"):
        yield lambda folder, what=what: endless_file(folder, what)
    yield interrupted
