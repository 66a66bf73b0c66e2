"""Faults of a provider of map extracts: rows of docs/faults.md, with real extracts."""

from __future__ import annotations

import resource
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from tests.catalogue_server import FAULTS, CatalogueServer, box
from tests.faults.cases import KEPT, Row, earlier_of, rerun_said, small_disk
from tests.faults.world import contents, faults_of, plan_of, run, said
from tests.gpx_text import gpx, track

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_CUT = Path(__file__).parents[1] / "data" / "osm" / "andorra-2025-01.osm.pbf"
_LISTED = {
    "europe": (None, box(-30, 30, 45, 72), None),
    "andorra": (_CUT, box(1.29, 42.32, 1.82, 42.78), "europe"),
}
_RIDE = [(1.5148, 42.5449), (1.5331, 42.5560), (1.5345, 42.5800), (1.5290, 42.6000)]
_GOES_ON = "goes on: the extract is whole"


def _words(folder: Path, server: CatalogueServer, to: Path) -> list[object]:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "ride.gpx").write_bytes(gpx(track(_RIDE, name="Up the valley")))
    keys = ["--daily-km", 10, "--start", "2027-07-09", "--set", "show.sweep=false"]
    keys += ["--set", "show.pocket_plans=false"]
    named = ["--catalogue", server.address, "--yes", "--to", to, "--out", folder / "out"]
    return ["fetch", folder / "ride.gpx", *named, *keys]


def _row(
    folder: Path,
    what: str,
    *,
    fault: str | None = None,
    to: Path | None = None,
    keys: dict[str, object] | None = None,
) -> Row:
    """Fetch and plan once; again with the fault, the extract gone; and once more without it."""
    maps, out = to or folder / "maps", folder / "out"
    with CatalogueServer(_LISTED) as server:
        first = run(*_words(folder, server, folder / "first"), cwd=folder)
        assert first.returncode == 0, first.stderr
        wanted, before = plan_of(out), contents(out)
        server.fault = fault
        words = _words(folder, server, maps)
        shutil.rmtree(folder / "cache", ignore_errors=True)
        done = run(*words, own=["--hurry"], cwd=folder, **(keys or {}))
        told = said(done) or (_GOES_ON if done.returncode == 0 else "")
        if done.returncode == 0 and "no checksum" in done.stdout:
            told = next(line[2:] for line in done.stdout.splitlines() if "no checksum" in line)
        earlier = earlier_of(before, contents(out))
        target = maps / "andorra.osm.pbf"
        broken = faults_of(out)
        if target.exists() and target.read_bytes() != _CUT.read_bytes():
            broken.append(target.name)
        server.fault = None
        again = run(*(_words(folder, server, folder / "again") if to else words), cwd=folder)
        same = again.returncode == 0 and plan_of(out) == wanted
    return Row(what, told, earlier, broken, rerun_said(again, same=same))


def catalogue_fault(folder: Path, fault: str) -> Row:
    """The provider misbehaves."""
    return _row(folder, f"provider of map data: {FAULTS[fault]}", fault=fault)


def small_disk_for_maps(folder: Path) -> Row:
    """The disk has no room for an extract."""
    with small_disk(folder / "disk", 100) as disk:
        return _row(folder, "disk full, 100 kB left for map data", to=disk)


def quota_for_maps(folder: Path) -> Row:
    """Files may not grow as large as the extract is."""
    limit = 150 * 1024
    return _row(
        folder,
        "no file larger than 150 kB (a quota), while map data is fetched",
        keys={"before": lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))},
    )


def killed_fetching(folder: Path) -> Row:
    """Kill -9 at each step of fetching an extract."""
    kills = 0
    with CatalogueServer(_LISTED) as server:
        maps = folder / "maps"
        words = [*_words(folder, server, maps), "--no-plan"]
        counted = run(*words, own=["--die-at", 0, maps], cwd=folder)
        steps = int(counted.stderr.rpartition("steps: ")[2])
        broken = []
        for step in range(1, steps + 1):
            shutil.rmtree(maps, ignore_errors=True)
            run(*words, own=["--die-at", step, maps], cwd=folder)
            kills += 1
            target = maps / "andorra.osm.pbf"
            if target.exists() and target.read_bytes() != _CUT.read_bytes():
                broken.append(f"{target.name} at step {step}")
            if run(*words, cwd=folder).returncode or not target.exists():
                broken.append(f"not mended after step {step}")
        again = run(*words[:-1], cwd=folder)
        same = again.returncode == 0 and not plan_of(folder / "out")["unknown"]
    return Row(
        f"kill -9 while fetching map data, at each of the {steps} steps", f"killed {kills} times",
        KEPT, broken, "same plan" if same else said(again),
    )  # fmt: skip


def every_catalogue_case() -> Iterator[Callable[[Path], Row]]:
    """Give each case as a function of the folder to use."""
    for fault in FAULTS:
        yield lambda folder, fault=fault: catalogue_fault(folder, fault)
    yield small_disk_for_maps
    yield quota_for_maps
    yield killed_fetching
