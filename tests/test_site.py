"""The plan on a web host: opened once in Chromium, it works with the network cut ever after."""

from __future__ import annotations

import base64
import contextlib
import functools
import html
import http.server
import json
import re
import threading
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import page_fixture
import pytest
from command_line import PLAIN, run
from demo_plans import SAMPLES, demo_document

from resupply.common.errors import OutputError
from resupply.report.icon import BASKET, GROUND, icon_png
from resupply.report.page import render_page
from resupply.report.site import site_files, write_site

if TYPE_CHECKING:
    from collections.abc import Iterator


BESIDE = {"stops.gpx": b"<gpx/>", "stops.ics": b"BEGIN:VCALENDAR"}


def trip(name: str = "Round Varrow") -> dict[str, bytes]:
    demo = page_fixture.varrow()
    demo["plan"]["trip"]["name"] = name
    return site_files(demo["plan"], demo["geo"], results=BESIDE)


def put(folder: Path, files: dict[str, bytes]) -> None:
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)


@pytest.fixture(scope="module")
def first() -> dict[str, bytes]:
    return trip()


@pytest.fixture(scope="module")
def second() -> dict[str, bytes]:
    return trip("Round Varrow, slower")


# The files


def test_the_same_plan_gives_the_same_folder_and_another_plan_another_worker(first, second):
    assert trip() == first
    assert second["worker.js"] != first["worker.js"]
    assert {n for n in first if first[n] != second[n]} == {
        "index.html",
        "manifest.webmanifest",
        "worker.js",
    }


def test_the_worker_is_written_last_and_keeps_every_other_file(first):
    *beside, last = first
    assert last == "worker.js"
    told = json.loads(first[last].decode().splitlines()[0].removeprefix("self.SITE = ")[:-1])
    assert set(told["files"]) == {"./", *beside} - {"index.html"}
    assert first["index.html"].decode().rstrip().endswith(told["mark"])


def test_only_the_page_for_a_host_may_load_its_own_files(first):
    demo = page_fixture.varrow()
    rules, alone = map(policy, (first["index.html"].decode(), render_page(**demo)))
    assert {kind for kind in rules if "'self'" in rules[kind]} == {
        "worker-src",
        "manifest-src",
        "img-src",
    }
    assert "'self'" not in " ".join(alone.values())
    assert rules["connect-src"] == rules["default-src"] == "'none'"
    changed = {kind for kind in rules if rules[kind] != alone.get(kind)}
    assert changed == {"worker-src", "manifest-src", "img-src", "script-src"}


def policy(page: str) -> dict[str, str]:
    found = re.search(r'Policy" content="([^"]+)', page)
    assert found
    return dict(rule.split(" ", 1) for rule in html.unescape(found[1]).split("; "))


def test_a_hostile_name_stays_inside_the_manifest():
    name = '</script>"\u202e & a name that is far too long for a home screen'
    told = json.loads(trip(name)["manifest.webmanifest"])
    assert told["name"].startswith('</script>"')
    assert "\u202e" not in told["name"]
    assert len(told["short_name"]) <= 12
    assert {told[key] for key in ("id", "start_url", "scope")} == {"./"}


def test_every_icon_of_the_manifest_is_there_in_the_size_it_tells(first):
    for icon in json.loads(first["manifest.webmanifest"])["icons"]:
        pixels = png(first[icon["src"]])
        assert "x".join(map(str, pixels.shape[1::-1])) == icon["sizes"]


def png(content: bytes) -> np.ndarray:
    """Read back rows of RGB: one chunk of data, rows without a filter."""
    side = int.from_bytes(content[16:20])
    at = content.index(b"IDAT")
    size = int.from_bytes(content[at - 4 : at])
    raw = np.frombuffer(zlib.decompress(content[at + 4 : at + 4 + size]), np.uint8)
    return raw.reshape(-1, 1 + 3 * side)[:, 1:].reshape(-1, side, 3)


def test_a_phone_that_cuts_a_round_icon_cuts_nothing_of_the_basket():
    pixels = png(icon_png(192)).astype(int)
    drawn = (pixels != GROUND).any(axis=2)
    rows, columns = np.nonzero(drawn)
    away = np.hypot(rows - 95.5, columns - 95.5)
    assert away.max() <= 0.4 * 192
    assert (pixels[drawn] == BASKET).all(axis=1).mean() > 0.8


@pytest.mark.long
def test_chromium_reads_the_icon_as_we_do(browser):
    content = icon_png(192)
    page = browser.new_page()
    page.set_content("<canvas width=192 height=192></canvas>")
    seen = page.evaluate(
        """async (text) => {
          const image = new Image();
          image.src = `data:image/png;base64,${text}`;
          await image.decode();
          const pen = document.querySelector("canvas").getContext("2d");
          pen.drawImage(image, 0, 0);
          return [...pen.getImageData(0, 0, 192, 192).data];
        }""",
        base64.b64encode(content).decode(),
    )
    page.close()
    assert (np.array(seen).reshape(192, 192, 4)[..., :3] == png(content)).all()


# The commands


def test_every_command_that_plans_a_trip_writes_the_folder(tmp_path):
    brief = (*PLAIN, "--set", "show.pocket_plans=false")
    trip_file = SAMPLES / "coast_loop.toml"
    done = run("plan", trip_file, *brief, "--out", "out", "--site", "web", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "serve the folder web over https" in done.stdout
    web = tmp_path / "web"
    assert {path.name for path in web.iterdir()} == {*trip(), "shopping.txt", "stops.csv"}
    for name in ("stops.gpx", "stops.ics", "shopping.txt", "stops.csv"):
        assert (web / name).read_bytes() == (tmp_path / "out" / name).read_bytes()
    for command in ("demo", "here"):
        assert "--site" in run(command, "--help").stdout


def test_a_folder_that_cannot_be_written_keeps_the_worker_that_was_there(tmp_path, first):
    put(tmp_path / "web", first)
    (tmp_path / "web" / "manifest.webmanifest").unlink()
    (tmp_path / "web" / "manifest.webmanifest" / "in the way").mkdir(parents=True)
    with pytest.raises(OutputError, match=r"manifest\.webmanifest: cannot be written"):
        write_site(*demo_document(), tmp_path / "web")
    assert (tmp_path / "web" / "worker.js").read_bytes() == first["worker.js"]


# In the browser


class Host:
    """A static web host on this machine that can be switched off and on again."""

    def __init__(self, folder: Path) -> None:
        class Quiet(http.server.SimpleHTTPRequestHandler):
            def log_message(self, *_: Any) -> None:
                """Say nothing."""

        self._handler = functools.partial(Quiet, directory=str(folder))
        self._server: http.server.ThreadingHTTPServer | None = None
        self.port = 0
        self.start()

    def start(self) -> None:
        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", self.port), self._handler)
        self.port = self._server.server_port
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def stop(self) -> None:
        if self._server:
            self._server.shutdown()
            self._server.server_close()
            self._server = None

    def at(self, folder: str) -> str:
        return f"http://127.0.0.1:{self.port}/{folder}/"


@pytest.fixture
def host(tmp_path) -> Iterator[Host]:
    running = Host(tmp_path)
    yield running
    running.stop()


@contextlib.contextmanager
def phone(browser):
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    context.set_default_timeout(60_000)
    yield context
    context.close()


@contextlib.contextmanager
def opened(context, address):
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda m: faults.append(m.text) if m.type in ("error", "warning") else None)
    page.goto(address)
    page.wait_for_selector("body.drawn")
    yield page
    page.close()
    assert faults == []


def state(page, wanted: str) -> None:
    page.wait_for_function("(wanted) => Resupply.onThisPhone.state === wanted", arg=wanted)


def not_installable(context, page) -> list[str]:
    """What keeps Chromium from offering to install, other than the private window of the test."""
    asked = context.new_cdp_session(page)
    faults = asked.send("Page.getInstallabilityErrors")["installabilityErrors"]
    return [fault["errorId"] for fault in faults if fault["errorId"] != "in-incognito"]


@contextlib.contextmanager
def cut(context, host):
    """No network at all: the phone is offline, and the host is gone as well."""
    host.stop()
    context.set_offline(True)
    yield
    context.set_offline(False)
    host.start()


@pytest.mark.browser
def test_opened_once_it_works_without_a_network_and_a_newer_plan_keeps_what_was_ticked(
    browser, host, tmp_path, first, second
):
    put(tmp_path / "trip", first)
    with phone(browser) as context:
        with opened(context, host.at("trip")) as page:
            state(page, "kept")
            assert not_installable(context, page) == []
            assert "opens with no signal" in page.locator("#kept").inner_text()
            page.get_by_role("button", name="Close").click()
            assert page.locator("#kept").is_hidden()
            page.evaluate("localStorage.setItem('ticks', 'oats')")
        with cut(context, host), opened(context, host.at("trip")) as page:
            assert page.locator("#trip-name").inner_text() == "Round Varrow"
            assert page.evaluate("localStorage.getItem('ticks')") == "oats"
            page.click("#tab-lists")
            links = page.locator("#panel-lists .file-link")
            assert [link.get_attribute("href") for link in links.all()] == list(BESIDE)
            for link, name in zip(links.all(), BESIDE, strict=True):
                with page.expect_download() as saved:
                    link.click()
                assert saved.value.suggested_filename == name
                assert Path(saved.value.path()).read_bytes() == BESIDE[name]
            page.reload()
            page.wait_for_selector("body.drawn")
            state(page, "kept")
        put(tmp_path / "trip", second)
        with opened(context, host.at("trip")) as page:
            page.get_by_text("There is a newer plan").wait_for()
            assert page.locator("#trip-name").inner_text() == "Round Varrow"
            # Nothing changes under the rider's hands: also after a reload it is the plan they know.
            page.reload()
            page.get_by_text("There is a newer plan").wait_for()
            assert page.locator("#trip-name").inner_text() == "Round Varrow"
            page.get_by_role("button", name="Show the new plan").click()
            page.get_by_role("heading", name="Round Varrow, slower").wait_for()
            page.wait_for_function("caches.keys().then((names) => names.length === 1)")
        with cut(context, host), opened(context, host.at("trip") + "index.html?from=home") as page:
            assert page.locator("#trip-name").inner_text() == "Round Varrow, slower"
            assert page.evaluate("localStorage.getItem('ticks')") == "oats"


@pytest.mark.browser
def test_a_page_cut_short_or_of_another_version_is_not_kept_and_that_is_told(
    browser, host, tmp_path, first, second
):
    put(tmp_path / "trip", first | {"worker.js": second["worker.js"]})
    with phone(browser) as context, opened(context, host.at("trip")) as page:
        state(page, "failed")
        assert "so without a signal it will not open" in page.locator("#kept").inner_text()
        assert page.evaluate("caches.keys()") == []
        page.get_by_role("button", name="Units and colours").click()
        assert "could not be kept" in page.locator("#card").inner_text()


# Waits until the browser has thrown away the worker it finds on the host.
REFUSED = """async () => {
  const found = await navigator.serviceWorker.getRegistration();
  await found.update().catch(() => {});
  const next = found.installing;
  if (next && next.state !== "redundant")
    await new Promise((done) => {
      next.onstatechange = () => next.state === "redundant" && done();
    });
}"""


@pytest.mark.browser
def test_an_unfinished_copy_of_a_newer_plan_leaves_the_kept_one(
    browser, host, tmp_path, first, second
):
    put(tmp_path / "trip", first)
    with phone(browser) as context:
        with opened(context, host.at("trip")) as page:
            state(page, "kept")
        put(tmp_path / "trip", second | {"index.html": second["index.html"][:-40]})
        with opened(context, host.at("trip")) as page:
            page.evaluate(REFUSED)
            assert page.evaluate("Resupply.onThisPhone.state") == "kept"
        with cut(context, host), opened(context, host.at("trip")) as page:
            assert page.locator("#trip-name").inner_text() == "Round Varrow"


@pytest.mark.long
@pytest.mark.browser
def test_two_trips_on_one_host_do_not_touch_each_other(browser, host, tmp_path, first, second):
    put(tmp_path / "one", first)
    put(tmp_path / "two", second)
    with phone(browser) as context:
        for name in ("one", "two"):
            with opened(context, host.at(name)) as page:
                state(page, "kept")
        with cut(context, host):
            for name, title in (("one", "Round Varrow"), ("two", "Round Varrow, slower")):
                with opened(context, host.at(name)) as page:
                    assert page.locator("#trip-name").inner_text() == title


@pytest.mark.browser
def test_saved_as_a_file_the_page_of_a_host_still_draws(browser, tmp_path, first):
    put(tmp_path / "copy", {"index.html": first["index.html"]})
    with phone(browser) as context:
        page = context.new_page()
        page.goto((tmp_path / "copy" / "index.html").as_uri())
        page.wait_for_selector("body.drawn")
        assert page.locator("#kept").is_hidden()


@pytest.mark.browser
def test_a_browser_that_cannot_keep_a_page_is_told_so(browser, host, tmp_path, first):
    """As on plain http, where browsers have no workers."""
    put(tmp_path / "trip", first)
    with phone(browser) as context:
        context.add_init_script(
            "Object.defineProperty(Navigator.prototype, 'serviceWorker', { value: undefined })"
        )
        with opened(context, host.at("trip")) as page:
            state(page, "none")
            assert "without a signal it will not open" in page.locator("#kept").inner_text()
