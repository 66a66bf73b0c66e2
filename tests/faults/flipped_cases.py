"""Flipped bits in every kind of file that a run keeps, and a disk that fills up under a club."""

from __future__ import annotations

import shutil
from collections import Counter
from typing import TYPE_CHECKING

from resupply.plan import kept_corridor
from tests.faults import world
from tests.faults.cases import KEPT, NEW, Row, fill, index_plan, rerun_said, small_disk
from tests.faults.world import contents, faults_of, plan_of, run, said
from tests.kept_files import flip_a_bit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

_PLACES = 12
"""So many bits of each file are flipped, one at a time."""


def _flips(files: Iterable[Path], places: int) -> Iterator[Path]:
    """Flip one bit after the other, evenly spread over each file; each is mended again."""
    for path in files:
        whole = path.read_bytes()
        for n in range(min(places, len(whole))):
            flip_a_bit(path, n * (len(whole) - 1) // max(places - 1, 1))
            yield path
            path.write_bytes(whole)


def flipped_index(folder: Path, *, places: int = _PLACES) -> Row:
    """One bit of each file of an index is wrong: the same plan comes of it, or one line."""
    folder.mkdir(parents=True, exist_ok=True)
    extract = world.write_extract(folder / "island.osm.pbf")
    words = ["gather", extract, "--out", folder / "island.places"]
    first = run(*words)
    assert first.returncode == 0, said(first)
    wanted = index_plan(folder)
    assert isinstance(wanted, dict), wanted
    files = sorted(path for path in (folder / "island.places").rglob("*") if path.is_file())
    ended: Counter[str] = Counter()
    broken, line = [], ""
    for path in _flips(files, places):
        shutil.rmtree(folder / "cache", ignore_errors=True)
        found = index_plan(folder)
        if found == wanted:
            ended["same plan"] += 1
        elif isinstance(found, str) and found and "TRACEBACK" not in found:
            ended["refused"] += 1
            line = found
        else:
            broken.append(f"{path.name}: {str(found)[:80]}")
    again = run(*words)
    same = again.returncode == 0 and index_plan(folder) == wanted
    told = f"{ended['refused']} of {sum(ended.values())} refused, the others change nothing: {line}"
    return Row(
        "one bit flipped in each file of an index, at several places", told, KEPT, broken,
        rerun_said(again, same=same),
    )  # fmt: skip


def flipped_ways(folder: Path, *, places: int = _PLACES) -> Row:
    """One bit of the kept map near a route, and of the kept ways to its shops, is wrong."""
    trip = world.write_trip(folder, extract=True)
    out, least = folder / "out", kept_corridor._LEAST_BYTES
    # However small the extract, what was read of it is kept.
    kept_corridor._LEAST_BYTES = 0
    try:
        (folder / "cache").mkdir()
        assert run("plan", trip, "--out", out).returncode == 0
        wanted, before = plan_of(out), contents(out)
        files = sorted((folder / "cache").glob("*.kept"))
        kinds = {path.name.partition("-")[0] for path in files}
        assert kinds == {"corridor", "match", "ways"}, kinds
        broken = []
        for path in _flips(files, places):
            done = run("plan", trip, "--out", out)
            if done.returncode or plan_of(out) != wanted:
                broken.append(f"{path.name}: {said(done)}")
        again = run("plan", trip, "--out", out)
        same = again.returncode == 0 and plan_of(out) == wanted
    finally:
        kept_corridor._LEAST_BYTES = least
    earlier = KEPT if contents(out) == before else NEW
    return Row(
        "one bit flipped in the kept map near a route and in the kept ways to its shops",
        "reads the map and finds the ways again", earlier, [*broken, *faults_of(out)],
        rerun_said(again, same=same),
    )  # fmt: skip


def _club(folder: Path, out: Path) -> list[object]:
    trip = world.write_trip(folder, extract=True)
    return ["club", trip, "--out", out]


def flipped_club(folder: Path, *, places: int = _PLACES) -> Row:
    """One bit of a club's kept results is wrong: that route is planned again."""
    words = _club(folder, folder / "club")
    first = run(*words)
    assert first.returncode == 0, said(first)
    page = folder / "club" / "index.html"
    wanted = page.read_bytes()
    broken = []
    for path in _flips(sorted((folder / "club" / "routes").iterdir()), places):
        done = run(*words)
        if done.returncode or page.read_bytes() != wanted:
            broken.append(f"{path.name}: {said(done)}")
    again = run(*words)
    same = again.returncode == 0 and page.read_bytes() == wanted
    return Row(
        "one bit flipped in a club's kept results", "plans that route again", KEPT, broken,
        rerun_said(again, same=same),
    )  # fmt: skip


def full_disk_club(folder: Path, kilobytes: int) -> Row:
    """The disk is full but for so many kilobytes while a club's routes are planned."""
    with small_disk(folder / "disk", 40_000) as disk:
        out = disk / "club"
        words = _club(folder, out)
        first = run(*words)
        assert first.returncode == 0, said(first)
        before = {path: path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}
        # Another day's distance: every route is planned anew.
        other = [*words, "--daily-km", 12]
        (disk / "room").write_bytes(b"\0" * kilobytes * 1024)
        fill(disk)
        (disk / "room").unlink()
        done = run(*other)
        after = {path: path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}
        told = said(done) or "goes on: it had room enough"
        (disk / "filler").unlink()
        again = run(*words)
        same = again.returncode == 0 and (out / "index.html").read_bytes() == before[
            out / "index.html"
        ]  # fmt: skip
    earlier = KEPT if before.items() <= after.items() else "LOST"
    return Row(
        f"disk full, {kilobytes} kB left for the results of a club", told, earlier, [],
        rerun_said(again, same=same),
    )  # fmt: skip


def every_flipped_case() -> Iterator[Callable[[Path], Row]]:
    """Give each case as a function of the folder to use."""
    yield flipped_index
    yield flipped_ways
    yield flipped_club
    yield lambda folder: full_disk_club(folder, 0)
    yield lambda folder: full_disk_club(folder, 8)
