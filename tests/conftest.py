"""Keep tests off the network and out of the source tree."""

from __future__ import annotations

import gc
import os
import shutil
import socket
import tempfile
from pathlib import Path

import pytest
from examples import FEW
from hypothesis import settings
from made_once import FOLDER
from read_once import read_once

# Machines differ and are shared: how long one example takes says nothing of right or wrong.
# A few, the same each time, so that a red run is due to a change;
# `pytest tests/properties --hypothesis-profile=long` draws others, and many more.
settings.register_profile("same", deadline=None, derandomize=True, max_examples=FEW)
settings.register_profile("long", deadline=None, max_examples=10 * FEW)
settings.load_profile("same")

ROOT = Path(__file__).parents[1]
SHARED_DATA = ROOT.parent / "shared" / "data"
DEMOS = {"demo_read", "demo_document", "demo_plan", "demo_told"}
# Without windows of its own, which nobody sees here, Chromium opens a page in half the computing.
CHROMIUM = next(
    (
        path
        for name in ("chromium-headless-shell", "chromium")
        if (path := Path("/usr/bin") / name).exists()
    ),
    Path("/usr/bin/chromium"),
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


# A process of its own, as some tests start, would else compile the whole package again.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder for what all processes of this run share; they are started later."""
    if FOLDER not in os.environ:
        folder = os.environ[FOLDER] = tempfile.mkdtemp(prefix="resupply-tests-")

        def end() -> None:
            del os.environ[FOLDER]
            shutil.rmtree(folder)

        config.add_cleanup(end)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the browser, which takes longest, so that no process waits for it at the end.

    What looks at the sample trips comes next: one process plans them, for both.
    """

    def turn(item: pytest.Item) -> int:
        if item.get_closest_marker("browser"):
            return 0
        return 2 - (not DEMOS.isdisjoint(vars(item.module)))

    items.sort(key=turn)


def pytest_collection_finish() -> None:
    """Look for garbage less often, and never among the libraries: a sixth of the time goes there.

    The command line does the same.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000)


@pytest.fixture(autouse=True)
def _own_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


@pytest.fixture(autouse=True)
def _loopback_only(monkeypatch):
    """Refuse any connection that leaves this machine."""
    connect = socket.socket.connect

    def guarded(self, address):
        if isinstance(address, tuple) and address[0] not in ("127.0.0.1", "::1", "localhost"):
            raise OSError(f"a test tried to reach {address[0]}")
        return connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", guarded)


@pytest.fixture(scope="session", autouse=True)
def _maps_read_once():
    """Let a plan take what another test of this process read of the same files near the same route.

    A third of what a command costs on a sample trip is the reading of its extract; that it is read
    right is shown by tests which call the readers themselves.
    """
    with read_once():
        yield


@pytest.fixture(scope="session")
def browser():
    sync_api = pytest.importorskip("playwright.sync_api")
    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed")
    with sync_api.sync_playwright() as play:
        running = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield running
        running.close()
