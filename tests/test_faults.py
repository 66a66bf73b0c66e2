"""The main faults of docs/faults.md, which `python tests/faults/make_table.py` makes all of."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from conftest import ROOT

from resupply.common.files import write_atomic, write_together
from tests.faults import cases, flipped_cases

WRITE = """
import sys
from pathlib import Path
sys.path[:0] = [{root!r}, {faults!r}]
import launch
from resupply.common.files import write_together
out = Path({out!r})
steps = launch.watch({step}, str(out))
write_together({{out / name: b"new " * 5_000 for name in ("a.html", "b.json", "c.gpx")}})
print(steps[0])
"""


def write_killed(out: Path, step: int) -> subprocess.CompletedProcess[str]:
    code = WRITE.format(
        root=str(ROOT), faults=str(ROOT / "tests" / "faults"), out=str(out), step=step
    )
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )


@pytest.mark.skipif(sys.platform == "win32", reason="needs kill -9")
def test_a_kill_at_any_step_of_writing_leaves_each_file_old_or_new(tmp_path):
    names = ("a.html", "b.json", "c.gpx")
    old, new = b"old " * 7_000, b"new " * 5_000
    write_together({tmp_path / name: old for name in names})
    steps = int(write_killed(tmp_path, 0).stdout)
    assert steps >= 9
    for step in range(1, steps + 1):
        write_together({tmp_path / name: old for name in names})
        done = write_killed(tmp_path, step)
        assert done.returncode == -signal.SIGKILL, done.stderr
        left = [(tmp_path / name).read_bytes() for name in names]
        assert set(left) <= {old, new}
        if step <= 2 * len(names):  # not all of them are on the disk yet
            assert left == [old] * 3
    write_together({tmp_path / name: new for name in names})
    assert {(tmp_path / name).read_bytes() for name in names} == {new}


def test_what_killed_runs_left_is_swept_up_when_nobody_can_be_at_work_on_it(tmp_path):
    left, young, other = (
        tmp_path / name
        for name in (".a.json.0123456789abcdef", ".a.json.fedcba9876543210", ".b.json.01234567")
    )
    for path in (left, young, other):
        path.write_text("half")
    hours_ago = time.time() - 7_200.0
    os.utime(left, (hours_ago, hours_ago))
    os.utime(other, (hours_ago, hours_ago))
    write_atomic(tmp_path / "a.json", "{}")
    assert not left.exists()
    assert young.exists()
    assert other.exists()


@pytest.mark.skipif(sys.platform == "win32", reason="needs a limit on file sizes")
def test_a_quota_leaves_the_earlier_results_and_says_one_line(tmp_path):
    import resource

    write_together({tmp_path / "a.html": "old", tmp_path / "b.json": "old"})
    code = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r})\n"
        "from pathlib import Path\nfrom resupply.common.files import write_together\n"
        f"out = Path({str(tmp_path)!r})\n"
        "write_together({out / 'a.html': 'new', out / 'b.json': b'new ' * 50_000})"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True, text=True, check=False, timeout=60,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000)),
    )  # fmt: skip
    last = done.stderr.splitlines()[-1]
    assert "OutputError" in last
    assert "b.json: cannot be written (File too large)" in last
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {
        "a.html": "old",
        "b.json": "old",
    }


def test_half_an_answer_of_the_service_is_told_and_the_next_run_fills_it_in(tmp_path):
    row = cases.service_fault(tmp_path, "remark", after=2)
    assert row.good, row
    assert row.earlier == cases.NEW
    assert "Map data is missing" in row.told


def test_two_runs_may_gather_one_index_at_once(tmp_path):
    row = cases.at_once(tmp_path / "w", "index", runs=2)
    assert row.good, row
    assert row.told == "all 2 end well"


@pytest.mark.skipif(sys.platform == "win32", reason="needs kill -9")
@pytest.mark.long
@pytest.mark.parametrize("how", [{"some": 2}, {"at_random": 4}], ids=repr)
def test_an_index_survives_kills_while_it_is_made_anew(tmp_path, how):
    row = cases.killed_gathering(tmp_path / "w", **how)
    assert row.good, row


@pytest.mark.parametrize(
    ("case", "places"),
    [(flipped_cases.flipped_ways, 2), (flipped_cases.flipped_club, 2)],
)
def test_a_flipped_bit_in_what_is_kept_changes_no_plan(tmp_path, case, places):
    row = case(tmp_path / "w", places=places)
    assert row.good, row


@pytest.mark.parametrize(
    "places", [1, pytest.param(12, marks=pytest.mark.long)], ids="{} a file".format
)
def test_a_flipped_bit_in_an_index_changes_no_plan_or_is_one_line(tmp_path, places):
    row = flipped_cases.flipped_index(tmp_path / "w", places=places)
    assert row.good, row
    assert "refused" in row.told
