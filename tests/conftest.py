"""Keep tests off the network and out of the source tree."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest
from hypothesis import settings

# Machines differ and are shared: how long one example takes says nothing of right or wrong.
# The same examples each time, so that a red run is due to a change; `NEW_EXAMPLES=1 pytest
# tests/properties` looks further.
settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("new", deadline=None)
settings.load_profile("new" if os.environ.get("NEW_EXAMPLES") else "same")

ROOT = Path(__file__).parents[1]
SHARED_DATA = ROOT.parent / "shared" / "data"
CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the browser, which takes longest, so that no process waits for it at the end."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is None)


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


@pytest.fixture(scope="module")
def browser():
    sync_api = pytest.importorskip("playwright.sync_api")
    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed")
    with sync_api.sync_playwright() as play:
        running = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield running
        running.close()
