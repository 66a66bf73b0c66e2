"""The live page as a rider meets it: real Chromium, a real server, what is on the screen."""

from __future__ import annotations

import base64
import datetime as dt
import json
import math
import re
import threading
import time
from urllib.parse import urlsplit

import pytest
from browser_tabs import Visit
from gpx_text import gpx, track
from live_world import SAMPLES, serving
from overpass_server import OverpassServer, node
from route_files import every_format
from test_page_browser import NODE_MODULES

from resupply.api import plan_files
from resupply.common.show import text as shown_as
from resupply.places import overpass
from resupply.report.document.model.as_json import to_dict
from resupply.trip.read_file import load_trip, parse_trip
from resupply.web import answers as desk
from resupply.web.settings import ServerMap

pytestmark = pytest.mark.browser

COAST = SAMPLES / "coast_loop.gpx"
SIZES = {390: 844, 820: 1100, 1440: 900}


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    own = ServerMap((str(SAMPLES / "varrow.osm.pbf"),))
    with serving(own, tmp_path_factory.mktemp("served")) as found:
        yield found


# Other daily distances and remedies are worked out only where a test is about them, and the menu:
# it is most of the work.
BRIEF = "&show.sweep=false&show.remedies=false"
LEAN = f"&food.plan_menu=false{BRIEF}"
# The same in a trip file, which is dropped together with a route.
BRIEF_FILE = "[show]\nsweep = false\nremedies = false\n"
LEAN_FILE = f"{BRIEF_FILE}[food]\nplan_menu = false\n"

# Where a kilometre of the route is on the screen.
SPOT = """
(chainage) => {
  const { map } = Resupply.view;
  const at = map.latLngToContainerPoint(Resupply.positionAt(chainage));
  const frame = map.getContainer().getBoundingClientRect();
  return [at.x + frame.x, at.y + frame.y];
}
"""


# Told by the page's own changes: asking at every frame would draw frames while the plan is made.
AT_REST = """
() => new Promise((done, never) => {
  const { classList } = document.body;
  const busy = ["working", "loading", "reading"];
  const watch = new MutationObserver(look);
  const last = setTimeout(() => { watch.disconnect(); never(new Error(document.body.className)); },
    60_000);
  function look() {
    if (!classList.contains("drawn") || busy.some((one) => classList.contains(one))) return;
    watch.disconnect();
    clearTimeout(last);
    done();
  }
  watch.observe(document.body, { attributeFilter: ["class"] });
  look();
})
"""


class Rider(Visit):
    """A page and the hands on it; everything that goes wrong in it is kept."""

    def __init__(self, browser, address, width=1440, *, size=None, **settings):
        self.address = address
        super().__init__(browser, size or (width, SIZES[width]), accept_downloads=True, **settings)

    def open(self, hash_=""):
        self.tab.goto(f"{self.address}/{hash_}")
        if hash_:
            self.rest()

    def upload(self, path, settings=LEAN_FILE):
        route = {"name": path.name, "mimeType": "", "buffer": path.read_bytes()}
        trip = {"name": "brief.toml", "mimeType": "", "buffer": settings.encode()}
        with self.tab.expect_file_chooser() as chooser:
            self.tab.click("#choose-route")
        chooser.value.set_files([route, trip])
        self.until(lambda: "show.sweep=false" in self.hash())
        self.rest()

    def rest(self):
        """Wait until the whole plan of the newest change is on the screen."""
        self.tab.evaluate(AT_REST)
        assert self.tab.locator(".live-card.alarm").all_inner_texts() == []

    def until(self, true, seconds=60.0):
        """Ask again until it is so; the page itself may run no text as a script."""
        last = time.monotonic() + seconds
        while not true():
            assert time.monotonic() < last, "it never came to be"
            self.tab.wait_for_timeout(30)

    def drawn(self):
        """Wait until what the page was told so far has been drawn: two frames later it has."""
        self.tab.evaluate(
            "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
        )

    def hash(self):
        return self.tab.evaluate("location.hash")

    def told(self):
        return " ".join(self.tab.inner_text("#pace-told").split())

    def plan(self):
        # As one text: handed over value by value a plan costs ten times as much.
        return json.loads(self.tab.evaluate("JSON.stringify(Resupply.plan)"))

    def view(self):
        return self.tab.evaluate("[Resupply.view.map.getCenter().lng, Resupply.view.map.getZoom()]")

    def drag(self, locator, dx, dy=0, steps=6, during=lambda: None):
        locator.scroll_into_view_if_needed()
        box = locator.bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        mouse = self.tab.mouse
        mouse.move(x, y)
        mouse.down()
        mouse.move(x + dx, y + dy, steps=steps)
        self.drawn()
        during()
        mouse.up()
        self.rest()

    def finger(self, path):
        """Draw one finger along points of the screen."""
        link = self.tab.context.new_cdp_session(self.tab)
        for n, (x, y) in enumerate(path):
            kind = "touchMove" if n else "touchStart"
            link.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
        link.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        self.rest()

    def save(self, name):
        if not self.tab.locator(f"[data-file='{name}']").count():
            self.tab.click("#open-save")
        with self.tab.expect_download() as download:
            self.tab.click(f"[data-file='{name}']")
        return download.value.path()


def test_the_whole_story(browser, address, tmp_path):
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open()
        assert "Drop your route here" in tab.inner_text("#live-controls")
        rider.upload(COAST)
        assert "250" in tab.input_value("#pace-typed")
        tab.click("#tab-days")
        assert tab.locator(".day-card").count() == 4
        tab.click("#open-settings")
        tab.fill("[id='set-food.carry_limit_days']", "2")
        tab.press("[id='set-food.carry_limit_days']", "Tab")
        rider.rest()
        tab.click("#open-settings")
        tab.evaluate(
            "Resupply.view.moved = true; void Resupply.view.map.setZoom(8, {animate: false})"
        )

        # The daily distance: the plan follows while the finger is down, the map stays.
        before = rider.view()
        seen = []
        at_km = lambda: seen.append((tab.input_value("#pace-typed"), rider.told()))  # noqa: E731
        slider = tab.locator(".pace-slider")
        slider.scroll_into_view_if_needed()  # the panel may have been scrolled in the settings
        box = slider.bounding_box()
        share = (250 - 40) / 600
        tab.mouse.move(box["x"] + 15 + share * (box["width"] - 30), box["y"] + 22)
        tab.mouse.down()
        for step in range(1, 7):
            tab.mouse.move(
                box["x"] + 15 + (share - 0.03 * step) * (box["width"] - 30), box["y"] + 22
            )
            rider.drawn()
        # The quick answer for where the pointer stands now.
        asked_m = 1000.0 * float(tab.input_value("#pace-typed"))
        shown_m = "Resupply.plan.trip.daily_m"
        rider.until(lambda: abs(tab.evaluate(shown_m) - asked_m) < 1000.0)
        rider.drawn()
        at_km()
        assert tab.locator(".panel.stale").count() > 0
        tab.mouse.up()
        rider.rest()
        assert tab.locator(".panel.stale").count() == 0
        assert 130 <= float(seen[0][0]) <= 160
        assert seen[0][1] == rider.told()
        assert tab.locator(".day-card").count() == rider.plan()["trip"]["days"] >= 6
        assert tab.locator("#panel-lists, #panel-kitchen").count() == 2
        assert rider.view() == pytest.approx(before)
        assert "pace.daily_km=" in rider.hash()

        # Keep it, then change it.
        tab.click("#keep-plan")
        tab.fill("#pace-typed", "230")
        tab.press("#pace-typed", "Enter")
        rider.rest()
        assert "fewer" in tab.inner_text("#pace-kept")

        # Pin a shop that is no stop; it becomes one.
        tab.click("#tab-lists")
        tab.click("#block-places summary")
        place, name = tab.evaluate(
            """() => {
              const R = Resupply;
              const c = R.plan.passes.find((c) => R.glyphs.isShop(R.place(c.place))
                && c.state === "open" && !R.stopByPass.has(c.id) && c.chainage_m > 500000);
              return [c.place, R.placeName(c.place)];
            }"""
        )
        tab.locator("#block-places").get_by_role("button", name=name, exact=True).first.click()
        assert tab.evaluate("document.activeElement.id") == "card"
        tab.locator("#card").get_by_role("button", name="I’ll stop here").click()
        tab.wait_for_selector(".toast:has-text('Stop at')", timeout=20_000)
        rider.rest()
        plan = rider.plan()
        assert place in [stop["place"] for stop in plan["stops"]], rider.hash()
        assert f"Stop at {name}" in tab.inner_text(".toast")
        assert name in tab.inner_text("#block-stops")

        # Another shop is gone: no trace of it in the plan.
        other = tab.evaluate(
            """(pinned) => {
              const R = Resupply;
              const c = R.plan.passes.find((c) => R.glyphs.isShop(R.place(c.place))
                && c.place !== pinned && ["stop", "fallback"].includes(c.role));
              R.view.openPass(c);
              return { place: c.place, name: R.placeName(c.place) };
            }""",
            place,
        )
        tab.locator("#card").get_by_role("button", name="It’s gone").click()
        rider.until(lambda: "shops.gone" in rider.hash())
        rider.rest()
        assert other["place"] not in rider.plan()["places"]
        assert f"{other['name']} is gone" in tab.inner_text(".toast")
        assert other["name"] not in tab.text_content("#block-places")

        # A rest day by touching a day on the strip.
        days = rider.plan()["trip"]["days"]
        band = tab.locator(".strip-days .day-band").nth(1).bounding_box()
        tab.mouse.click(band["x"] + band["width"] / 2, band["y"] + 10)
        tab.locator("#card").get_by_role("button", name="One rest day more").click()
        rider.rest()
        assert rider.plan()["trip"]["days"] == days + 1
        assert "1 rest day after it" in tab.inner_text("#card")
        tab.keyboard.press("Escape")
        assert tab.locator("#card").is_hidden()

        # The end of a day, on the strip and on the map.
        first = rider.plan()["legs"][0]["end_m"]
        rider.drag(
            tab.locator(".strip-handle").first,
            -60,
            during=lambda: seen.append(tab.inner_text(".drag-tag")),
        )
        moved = rider.plan()["legs"][0]["end_m"]
        assert moved < first - 40_000
        assert seen[-1] == f"Day 1: {math.floor(moved / 1000 + 0.5)} km"  # half up, as the page
        tab.click("[aria-label='Show the whole route']")
        rider.drag(tab.locator(".pin-camp[data-day='1']"), 30, -30)
        dragged = rider.plan()["legs"][0]["end_m"]
        assert dragged != moved
        assert rider.plan()["legs"][0]["start_m"] == 0

        # Undo takes it all back one by one, redo does it again.
        steps = [rider.hash()]
        for _ in range(4):
            tab.click("#undo")
            steps.append(rider.hash())
        assert len(set(steps)) == 5
        assert "rest_days" not in steps[3]
        assert "gone" not in steps[4]
        rider.rest()
        assert other["place"] in rider.plan()["places"]
        tab.keyboard.press("Control+Shift+z")
        assert rider.hash() == steps[3]
        for _ in range(3):
            tab.click("#redo")
        assert rider.hash() == steps[0]
        rider.rest()

        # Nothing is lost on reload.
        shown = (rider.told(), tab.inner_text("#pace-kept"), tab.get_attribute("#undo", "title"))
        tab.reload()
        rider.rest()
        assert rider.hash() == steps[0]
        assert shown == (
            rider.told(),
            tab.inner_text("#pace-kept"),
            tab.get_attribute("#undo", "title"),
        )
        assert rider.plan()["legs"][0]["end_m"] == dragged
        tab.click("#undo")
        assert rider.hash() == steps[1]
        tab.click("#redo")
        rider.rest()

        # Two plans side by side.
        tab.click("#pace-kept button")
        table = tab.inner_text("#block-compare")
        assert "Kept" in table
        assert "Now" in table
        assert all(stop["name"] in table for stop in rider.plan()["stops"])
        assert "no stop" in table

        # The trip as the command line reads it, and the map that needs no network.
        trip = parse_trip(rider.save("trip.toml").read_text())
        assert trip.route == "coast_loop.gpx"
        assert trip.shops.gone == (other["place"],)
        assert trip.shops.pinned == (place,)
        assert trip.pace.rest_days == {2: 1}
        exported = tmp_path / "plan.html"
        exported.write_bytes(rider.save("plan.html").read_bytes())
        stops = [stop["name"] for stop in rider.plan()["stops"]]
        assert rider.faults == []
        outside = [u for u in rider.requests if not u.startswith((address, "data:", "blob:"))]
        assert outside == []
    with Rider(browser, address, 390, offline=True) as rider:
        tab = rider.tab
        tab.goto(exported.as_uri())
        tab.wait_for_selector("body.drawn")
        tab.click("#tab-lists")
        cards = tab.locator(".stop-card .stop-words b").all_inner_texts()
        assert cards == stops
        assert tab.locator("#live-controls *, .pace, .strip-handle, .day-actions").count() == 0
        assert rider.faults == []
        assert [u for u in rider.requests if not u.startswith(("file:", "data:"))] == []


def test_a_file_can_be_dropped_on_the_page(browser, address):
    with Rider(browser, address, 820) as rider:
        rider.open()
        rider.tab.evaluate(
            """([name, text]) => {
              const data = new DataTransfer();
              data.items.add(new File([text], name));
              for (const kind of ["dragenter", "dragover", "drop"]) {
                document.body.dispatchEvent(
                  new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true }));
              }
            }""",
            ["loop.gpx", COAST.read_text()],
        )
        rider.rest()
        assert "960 km" in rider.tab.inner_text("#trip-line")
        assert "file=loop.gpx" in rider.hash()
        assert rider.tab.locator(".drop-veil").is_hidden()


@pytest.mark.parametrize(
    "kind",
    ["kmz", *(pytest.param(kind, marks=pytest.mark.long) for kind in ("kml", "geojson", "fit"))],
)
def test_routes_of_every_format_can_be_dropped_and_chosen(browser, address, tmp_path, kind):
    ride = every_format([(-26.0 + k / 50, 46.5) for k in range(101)])[kind]
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open()
        for name in ("GPX", "KML", "KMZ", "GeoJSON", "FIT"):
            assert name in tab.inner_text(".drop-zone")
        tab.evaluate(
            """([name, text]) => {
              const data = new DataTransfer();
              data.items.add(new File([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))], name));
              document.body.dispatchEvent(
                new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
            }""",
            [f"ride.{kind}", base64.b64encode(ride).decode()],
        )
        rider.rest()
        assert "154 km" in tab.inner_text("#trip-line")
        (tmp_path / f"own.{kind}").write_bytes(ride)
        tab.click("#open-routes")
        with tab.expect_file_chooser() as chooser:
            tab.click("#choose-route")
        accepted = chooser.value.element.get_attribute("accept").split(",")
        assert {f".{kind}", ".gpx", ".json"} <= set(accepted)
        chooser.value.set_files(tmp_path / f"own.{kind}")
        tab.wait_for_selector(".toast:has-text('own.')")
        rider.rest()


def test_what_a_jump_of_the_line_is_can_be_said_on_the_page(browser, address, tmp_path):
    parts = [[(west + k / 50, 46.5) for k in range(51)] for west in (-26.0, -24.0)]
    ride = tmp_path / "sound.gpx"
    ride.write_bytes(gpx(track(*parts)))
    with Rider(browser, address) as rider:
        rider.open(f"#route=sample:coast_loop{LEAN}")
        rider.tab.click("#open-settings")
        assert rider.tab.locator("[id='set-jumps.kind']").count() == 0
        rider.open()
        rider.upload(ride)
        said = rider.tab.evaluate("Resupply.plan.summary.cautions.map(Resupply.format.words)")
        asked = " ".join(said)
        assert "a ferry, or do you ride it?" in asked
        rider.tab.click("#open-settings")
        rider.tab.select_option("[id='set-jumps.kind']", "ferry")
        rider.rest()
        assert rider.plan()["route"]["breaks"][0]["kind"] == "ferry"
        rider.tab.select_option("[id='set-jumps.kind']", "ridden")
        rider.rest()
        assert rider.plan()["route"]["breaks"] == []
        # It can be taken back.
        rider.tab.select_option("[id='set-jumps.kind']", "unknown")
        rider.rest()
        assert rider.plan()["route"]["breaks"][0]["kind"] == "unknown"


def test_every_file_of_the_save_panel_is_written(browser, address):
    starts = {
        "plan.html": b"<!doctype html>",
        "shopping.txt": b"Round Varrow",
        "stops.gpx": b"<?xml",
        "stops.ics": b"BEGIN:VCALENDAR",
        "stops.csv": b"\xef\xbb\xbfstop,",
        "plan.geojson": b'{"type":',
        "trip.toml": b'name = "Round Varrow"',
        "plan.json": b"{",
    }
    with Rider(browser, address) as rider:
        rider.open(f"#route=sample:coast_loop{BRIEF}")
        rider.tab.click("#open-save")
        shown = rider.tab.locator("[data-file]").evaluate_all("all => all.map(n => n.dataset.file)")
        assert set(shown) == {*starts, "print", "link"}
        for name, start in starts.items():
            content = rider.save(name).read_bytes()
            assert content.replace(b" ", b"").startswith(start.replace(b" ", b"")), name
        # One tap on another way to shop: map, lists and files are its own.
        before, told = rider.plan()["stops"], {row["style"]: row for row in rider.plan()["styles"]}
        rider.tab.keyboard.press("Escape")
        rider.tab.click("#tab-answers")
        rider.tab.click("[data-keep=style-fresh]")
        rider.rest()
        stops = rider.plan()["stops"]
        assert len(stops) == told["fresh"]["stops"] != len(before)
        pins = rider.tab.locator(".leaflet-pins-pane .pin-food")
        assert pins.count() == len(stops)
        rider.tab.click("#tab-lists")
        cards = " ".join(rider.tab.locator("#panel-lists .stop-button").all_inner_texts())
        places = rider.plan()["places"]
        assert [n for stop in stops if (n := places[stop["place"]]["name"]) not in cards] == []
        table = rider.save("stops.csv").read_text("utf-8-sig").splitlines()
        assert [row for row in table if row[0].isdigit()][-1].startswith(f"{len(stops)},")
        assert 'style = "fresh"' in rider.save("trip.toml").read_text("utf-8")
        assert rider.faults == []


# What is saved and what the server plans have cheaper tests (the whole story, test_web).
@pytest.mark.long
def test_a_trip_saved_by_the_page_plans_the_same_on_the_command_line(browser, address, tmp_path):
    with Rider(browser, address) as rider:
        rider.open()
        rider.upload(COAST, BRIEF_FILE)
        rider.tab.click("#open-settings")
        rider.tab.select_option("#set-rest", "1")
        rider.rest()
        assert rider.plan()["legs"][2]["rest_days_before"] == 1
        (tmp_path / "mine.toml").write_bytes(rider.save("trip.toml").read_bytes())
        (tmp_path / COAST.name).write_bytes(COAST.read_bytes())
        plan = to_dict(plan_files(load_trip(tmp_path / "mine.toml"), tmp_path)[0])
        shown = rider.plan()
        for key in ("legs", "stops", "gaps", "shopping"):
            assert plan[key] == shown[key]


def test_pointing_at_the_strip_marks_the_map_and_the_other_way_round(browser, address):
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open(f"#route=sample:coast_loop{LEAN}")
        strip = tab.locator(".strip-frame").bounding_box()
        tab.mouse.move(strip["x"] + 14 + (strip["width"] - 28) / 2, strip["y"] + 90)
        assert "km 480" in tab.inner_text(".strip-readout")
        mark = tab.locator(".leaflet-marker-icon.here")
        seen, wanted = mark.bounding_box(), tab.evaluate(SPOT, 480_000)
        assert abs(seen["x"] + seen["width"] / 2 - wanted[0]) < 4
        assert abs(seen["y"] + seen["height"] / 2 - wanted[1]) < 4
        tab.mouse.move(*tab.evaluate(SPOT, 333_000))
        assert re.search(r"km 33\d · day 2", tab.inner_text(".strip-readout"))
        cursor = float(tab.get_attribute(".strip-cursor", "x1"))
        assert cursor == pytest.approx(14 + 0.347 * (strip["width"] - 28), abs=8)


def test_a_finger_moves_the_ends_of_days_on_strip_and_map(browser, address):
    with Rider(browser, address, 390) as rider:
        tab = rider.tab
        rider.open(f"#route=sample:coast_loop{LEAN}")
        ends = lambda: [leg["end_m"] for leg in rider.plan()["legs"]]  # noqa: E731
        for what, near in (
            (".strip-handle >> nth=0", "#strip"),
            (".pin-camp[data-day='2']", "#map-box"),
        ):
            tab.evaluate(
                """(id) => document.querySelector(id)
                  .scrollIntoView({block: 'center', behavior: 'instant'})""",
                near,
            )
            before, at = ends(), tab.locator(what).bounding_box()
            x, y = at["x"] + at["width"] / 2, at["y"] + at["height"] / 2
            rider.finger([(x - 6 * k, y - 2 * k) for k in range(8)])
            assert ends() != before, what
            assert tab.evaluate("Resupply.view.moved") is False
        assert "pace.own_km.1=" in rider.hash()
        assert "pace.own_km.2=" in rider.hash()


def test_a_saved_trip_is_opened_again_and_finds_its_route(browser, address, tmp_path):
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open(f"#route=sample:there_and_back&pace.daily_km=190&party.people=3{LEAN}")
        assert rider.plan()["trip"]["people"] == 3
        saved = tmp_path / "mine.toml"
        saved.write_bytes(rider.save("trip.toml").read_bytes())
        before = rider.hash()
        tab.click("#open-routes")
        tab.click("[data-sample='sample:coast_loop']")
        rider.until(lambda: rider.hash() != before)
        tab.click("#open-routes")
        with tab.expect_file_chooser() as chooser:
            tab.click("#choose-trip")
        chooser.value.set_files(saved)
        rider.rest()
        assert rider.hash() == before
        saved.write_text("[pace]\ndaily = 3\n")
        tab.click("#open-routes")
        with tab.expect_file_chooser() as chooser:
            tab.click("#choose-trip")
        chooser.value.set_files(saved)
        tab.wait_for_selector(".live-card.alarm")
        assert "line 2" in tab.inner_text(".live-card.alarm")
        assert rider.hash() == before
        # In sight, above the panel the file was opened from.
        card, panel = tab.locator(".live-card"), tab.locator("#live-panel")
        assert 0 <= card.bounding_box()["y"] < panel.bounding_box()["y"]


def test_a_server_that_was_started_again_gets_the_route_back(browser, tmp_path):
    own = ServerMap((str(SAMPLES / "varrow.osm.pbf"),))
    with serving(own, tmp_path) as address:
        rider = Rider(browser, address)
        rider.open()
        rider.upload(SAMPLES / "there_and_back.gpx")
        rider.tab.fill("#pace-typed", "300")
        rider.tab.press("#pace-typed", "Enter")
        rider.rest()
    with rider:
        rider.tab.fill("#pace-typed", "310")
        rider.tab.press("#pace-typed", "Enter")
        rider.tab.wait_for_selector(".live-card.alarm")
        assert "does not answer" in rider.tab.inner_text(".live-card.alarm")
        with serving(own, tmp_path, port=urlsplit(address).port):
            rider.tab.click("#resume")
            rider.rest()
            assert rider.plan()["trip"]["daily_m"] == 310_000
            assert rider.tab.locator(".live-card.alarm").count() == 0
            # And a page opened anew finds the route where it was kept.
            rider.tab.goto(address)
            rider.tab.click(".route-card:has-text('there_and_back.gpx')")
            rider.rest()
            assert rider.plan()["trip"]["daily_m"] == 250_000
            rider.tab.goto(address)
            rider.tab.click("#last-trip")
            rider.rest()
            assert rider.plan()["trip"]["daily_m"] == 250_000
            assert "there_and_back.gpx" in rider.hash()


def test_a_link_carries_trip_and_route_to_whoever_has_no_file_of_it(browser, address):
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open()
        rider.upload(SAMPLES / "there_and_back.gpx")
        tab.evaluate(
            "Resupply.trip.change({'food.plan_menu': false, 'show.sweep': false, "
            "'show.remedies': false, 'pace.daily_km': 300}, 'less to plan')"
        )
        rider.rest()
        length_m, name = rider.plan()["route"]["length_m"], rider.plan()["trip"]["name"]
        tab.context.grant_permissions(["clipboard-read", "clipboard-write"])
        tab.click("#open-save")
        tab.click("[data-file='link']")
        tab.wait_for_selector("[data-file='link']:has-text('Copied')")
        link = tab.evaluate("navigator.clipboard.readText()")
        assert len(link) < 8000
        # Elsewhere neither the server nor the browser has the route.
        known = re.search(r"route=(\w+)", link).group(1)
        tab.goto("about:blank")
        tab.goto(link.replace(known, "0" * len(known)))
        rider.rest()
        assert rider.plan()["trip"]["daily_m"] == 300_000
        assert rider.plan()["trip"]["name"] == name
        assert rider.plan()["route"]["length_m"] == pytest.approx(length_m, rel=0.005)
        assert "line=" not in rider.hash()
        assert f"route={'0' * len(known)}" not in rider.hash()
        # Without the line the page says what it lacks.
        tab.goto("about:blank")
        tab.goto(re.sub("&line=.*", "", link).replace(known, "1" * len(known)))
        tab.wait_for_selector(".live-card:has-text('Open its file again')")


def test_settings_change_the_plan(browser, address):
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open(f"#route=sample:coast_loop{LEAN}")
        tab.click("#open-settings")
        tab.fill("[id='set-pace.depart']", "7.15")
        tab.press("[id='set-pace.depart']", "Tab")
        tab.fill("[id='set-start.date']", "2027-07-12")
        tab.press("[id='set-start.date']", "Tab")
        tab.click("[aria-label='Riders: more']")
        tab.select_option("[id='set-map.corridor_km']", "1")
        tab.click("[aria-label='Carry at most (days): more']")
        rider.rest()
        assert rider.plan()["legs"][0]["depart"].startswith("2027-07-12T07:15")
        assert "12–16 Jul" in tab.inner_text("#trip-line")
        told = rider.plan()["trip"]
        assert told["people"] == 3
        assert (told["corridor_m"], told["carry_limit_days"]) == (1000, 3.5)
        notes = {note["title"] for note in rider.plan()["care"]["notes"]}
        for tick in ("food.stove", "food.untreated_water", "map.roads", "food.fire_ban"):
            tab.click(f"[data-keep='set-{tick}']")
        tab.select_option("[id='set-cooler.colour']", "light")
        tab.select_option("[id='set-food.eat_out_daily']", "lunch,dinner")
        tab.select_option("[id='set-eat-out-on']", "2")
        tab.select_option("[id='set-food.eat_out.2']", "breakfast")
        tab.select_option("[id='set-party.appetite.1']", "0.85")
        tab.click("[data-keep='set-food.weigh_at_home']")
        tab.click("[aria-label='Each eats a day: more']")
        tab.fill("[id='set-start.food_meals']", "2")
        tab.press("[id='set-start.food_meals']", "Tab")
        rider.rest()
        trip = parse_trip(rider.save("trip.toml").read_text())
        assert (trip.cooler.colour, trip.start.food_meals) == ("light", 2)
        assert trip.food.eat_out_daily == ("lunch", "dinner")
        assert trip.food.eat_out == {2: ("breakfast",)}
        assert trip.party.appetite == (1.0, 0.85)
        # The address holds it all: a reload reads back the same trip.
        before = tab.evaluate("Resupply.trip.state.trip")
        tab.reload()
        rider.rest()
        assert tab.evaluate("Resupply.trip.state.trip") == before
        tab.click("#open-settings")
        tab.select_option("[id='set-food.eat_out.2']", "null")
        tab.select_option("[id='set-party.appetite.1']", "1")
        assert (trip.food.weigh_at_home, trip.food.kcal_per_day) == (False, 2600)
        tab.select_option("[id='set-region.bears']", "yes")
        tab.evaluate("Resupply.trip.change({'food.plan_menu': true}, 'a menu')")
        rider.rest()
        assert rider.plan()["cold"]["coolers"]
        tab.select_option("[id='set-cooler.kind']", "none")
        rider.rest()
        told = rider.plan()["trip"]["settings"]
        assert not {"food.eat_out", "party.appetite"} & set(told)
        assert [told[f"food.{key}"] for key in ("stove", "untreated_water", "fire_ban")] == [
            False,
            False,
            True,
        ]
        assert (told["map.roads"], told["region.bears"]) == (False, "yes")
        more = {note["title"] for note in rider.plan()["care"]["notes"]} - notes
        assert any("bear" in title.lower() for title in more), more
        assert not rider.plan().get("cold", {}).get("coolers")
        tab.fill("[id='set-pace.depart']", "soon")
        tab.press("[id='set-pace.depart']", "Tab")
        assert "7:15" in rider.plan()["legs"][0]["depart"]
        tab.get_by_role("button", name="mi", exact=True).click()
        tab.get_by_role("button", name="12 h", exact=True).click()
        rider.rest()
        assert tab.input_value("[id='set-pace.depart']") == "7:15 am"
        assert "mi a day" in tab.inner_text(".pace-label")
        assert float(tab.input_value("#pace-typed")) == pytest.approx(230 / 1.609344, abs=0.1)
        assert "mi" in tab.evaluate("Resupply.format.words(Resupply.plan.summary.headline)")
        assert rider.faults == []


# Where the map is not laid out, as it may be when the first plan arrives, it must still draw.
UNLAID = """
() => {
  const { map, fit } = Resupply.view;
  const box = map.getContainer();
  box.style.height = "0px";
  map.invalidateSize({ pan: false });
  fit();
  box.style.height = "";
  map.invalidateSize({ pan: false });
  fit();
  return map.getZoom();
}
"""


FACTS = """
Resupply.plan.summary.facts
  .map((fact) => `${fact.label} ${Resupply.format.words(fact.value_words)}`).join(" ")
"""


def test_a_trip_goes_on_from_where_the_rider_is(browser, address):
    with Rider(browser, address, own=True) as rider:
        tab = rider.tab
        tab.add_init_script("Date.now = () => Date.parse('2027-07-10T15:10:00Z')")
        rider.open(f"#route=sample:coast_loop&fuel.range_km=300{LEAN}")
        whole = rider.view()
        assert tab.evaluate(UNLAID) == pytest.approx(whole[1])
        tab.click("#open-settings")
        assert not tab.is_checked("#set-now")
        tab.click("#set-now")
        rider.rest()
        assert "now.at_km=0&now.time=2027-07-10T15:10:00" in rider.hash()

        def give(key, value):
            tab.fill(f"[id='set-now.{key}']", value)
            tab.press(f"[id='set-now.{key}']", "Tab")

        give("at_km", "400")
        give("clock", "14.10")
        give("food_meals", "4")
        give("ice_kg", "2")
        rider.rest()
        facts = tab.evaluate(FACTS)
        assert "You are at km 400, Sat 14:10 Food on board 4 meals each" in facts
        assert "Fuel in the tank not stated" in facts
        assert "Water on board not stated" in facts
        cautions = [shown_as(said) for said in rider.plan()["summary"]["cautions"]]
        assert any("fuel" in said and "not known" in said for said in cautions), cautions
        give("fuel_km", "180")
        give("water_l", "5")
        rider.rest()
        assert "Fuel in the tank goes 180 km" in tab.evaluate(FACTS)

        # Nothing but what is ahead, on the strip too.
        plan = rider.plan()
        assert (plan["legs"][0]["number"], plan["legs"][0]["start_m"]) == (2, 400_000)
        assert min(one["chainage_m"] for one in plan["passes"]) >= 400_000
        whole_km = plan["route"]["length_m"] / 1000
        line = tab.inner_text("#trip-line")
        assert f"{whole_km - 400:.0f} km to go" in line
        assert tab.evaluate("Resupply.strip.words(100000)") == "km 100 · behind you"
        assert "4 meals on board" in tab.evaluate("Resupply.strip.words(401000)")
        # The end of the day being ridden is set by what is left of it.
        tab.click("#tab-days")
        tab.click("[data-keep='day-2']")
        tab.locator("[data-keep='day-km-2']").fill("70")
        tab.keyboard.press("Tab")
        rider.rest()
        assert rider.plan()["legs"][0]["end_m"] == pytest.approx(470_000, abs=100)
        assert "Day 2: 70 km from here" in tab.inner_text(".toast")
        tab.click("#undo")

        # Miles, the saved trip, a reload.
        tab.click("#open-settings")
        tab.get_by_role("button", name="mi", exact=True).click()
        rider.rest()
        assert tab.input_value("[id='set-now.at_km']") == "248.5"
        assert tab.input_value("[id='set-now.fuel_km']") == "111.8"
        assert tab.evaluate(TOO_SMALL) == []
        tab.get_by_role("button", name="km", exact=True).click()
        now = parse_trip(rider.save("trip.toml").read_text()).now
        assert (now.at_km, now.food_meals, now.ice_kg, now.fuel_km, now.water_l) == (
            (400, 4, 2, 180, 5)
        )
        assert now.time == dt.datetime.fromisoformat("2027-07-10T14:10")
        before = rider.hash()
        tab.reload()
        rider.rest()
        assert rider.hash() == before
        assert rider.plan()["legs"][0]["start_m"] == 400_000

        # At the first stop, from its own card on the map; then home again, and back.
        stop = rider.plan()["stops"][0]
        tab.evaluate("Resupply.view.openStop(Resupply.plan.stops[0])")
        tab.locator("#card").get_by_role("button", name="I am here").click()
        rider.until(lambda: tab.evaluate("Resupply.plan.legs[0].start_m > 400_000"))
        rider.rest()
        here = rider.plan()["legs"][0]
        assert here["start_m"] == pytest.approx(stop["chainage_m"], abs=10)
        assert here["depart"].startswith("2027-07-10T15:10")
        tab.click("#open-settings")
        tab.click("#set-now")
        rider.rest()
        assert "now." not in rider.hash()
        assert rider.plan()["legs"][0]["start_m"] == 0
        tab.click("#undo")
        assert "now.fuel_km=180" in rider.hash()
        assert tab.is_checked("#set-now")
        tab.click("#set-now")
        # Before the trip it goes on from its own start.
        tab.evaluate("Date.now = () => Date.parse('2027-05-01T12:00:00Z')")
        tab.click("#set-now")
        rider.rest()
        assert "now.time=2027-07-09T08:30:00" in rider.hash()
        assert rider.faults == []


def test_what_the_phone_hands_over_is_planned_on(browser, address, tmp_path):
    told = {
        "schema": "resupply-phone/1", "trip": "Round Varrow", "time": "2027-07-10T14:10",
        "at_m": 400_000, "route_m": None, "food_meals": 4, "ice_kg": None, "fuel_km": 180,
        "shut": ["way/699"], "no_ice": ["way/700", "</script><b>"],
    }  # fmt: skip
    code = base64.urlsafe_b64encode(json.dumps(told).encode()).decode().rstrip("=")
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open(f"#route=sample:coast_loop{LEAN}")
        tab.click("#open-settings")
        tab.fill("#phone-link", "#phone=no")
        tab.press("#phone-link", "Tab")
        assert "not what a phone handed over" in tab.inner_text("#phone-said")
        tab.fill("#phone-link", f"file:///plan.html#phone={code}")
        tab.press("#phone-link", "Tab")
        rider.until(lambda: "now.at_km=400" in rider.hash())
        rider.rest()
        plan = rider.plan()
        assert plan["legs"][0]["start_m"] == 400_000
        assert "way/699" not in plan["places"]
        assert plan["trip"]["settings"]["shops.no_ice"] == ["way/700", "</script><b>"]
        assert plan["trip"]["settings"]["now.fuel_km"] == 180
        # The same as a file, after one step back.
        tab.click("#undo")
        assert "now." not in rider.hash()
        path = tmp_path / "on-the-road.json"
        path.write_text(json.dumps(told), "utf-8")
        tab.set_input_files("#phone-file", path)
        rider.until(lambda: "now.at_km=400" in rider.hash())
        rider.rest()
        assert rider.faults == []


def test_a_distance_is_chosen_in_the_chart(browser, address):
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open("#route=sample:coast_loop&show.remedies=false&food.plan_menu=false")
        tab.click("#tab-change")
        bars = tab.locator(".sweep-bar")
        rows = rider.plan()["sweep"]["rows"]
        assert bars.count() == len(rows)
        bars.nth(3).locator(".sweep-fill").click()
        rider.rest()
        assert rider.plan()["trip"]["daily_m"] == rows[3]["daily_m"]
        assert tab.locator(".sweep-bar.chosen").count() == 1


def test_keys_alone_move_the_days(browser, address):
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open(f"#route=sample:coast_loop{LEAN}")
        before = rider.plan()["legs"]
        tab.focus(".strip-handle >> nth=1")
        for _ in range(3):
            tab.keyboard.press("ArrowLeft")
        rider.rest()
        after = rider.plan()["legs"]
        assert after[0]["end_m"] == before[0]["end_m"]
        assert after[1]["end_m"] == pytest.approx(before[1]["end_m"] - 15_000, abs=100)
        label = tab.evaluate("document.activeElement.getAttribute('aria-label')")
        assert label == "End of day 2"
        tab.focus(".pace-slider")
        tab.keyboard.press("ArrowRight")
        tab.keyboard.press("ArrowRight")
        rider.rest()
        assert rider.plan()["trip"]["daily_m"] == 240_000
        tab.keyboard.press("Control+z")
        rider.rest()
        assert rider.plan()["trip"]["daily_m"] == 230_000


def test_answers_to_older_questions_are_not_drawn(browser, address, monkeypatch):
    make_plan, late = desk.make_plan, threading.Event()

    def slowly(world, trip, *rest, **options):
        if trip.pace.daily_km == 111.0:
            time.sleep(0.7)
            late.set()
            options["step"] = lambda: None
        return make_plan(world, trip, *rest, **options)

    monkeypatch.setattr(desk, "make_plan", slowly)
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open(f"#route=sample:coast_loop{LEAN}")
        tab.evaluate(
            """() => {
              window.names = [];
              Resupply.on("plan", (plan) => window.names.push(plan.trip.name));
              Resupply.trip.change({ "pace.daily_km": 111 }, "slow");
              const moor = Resupply.trip.samples["sample:long_moor"];
              const trip = { ...moor, food: { ...moor.food, plan_menu: false },
                show: { ...moor.show, sweep: false, remedies: false } };
              setTimeout(() => Resupply.trip.open({ route: "sample:long_moor", file: "", trip },
                "another"), 200);
            }"""
        )
        rider.until(late.is_set)
        rider.rest()
        assert late.is_set()
        assert set(tab.evaluate("window.names")) == {"The long moor and Sundra"}
        assert tab.inner_text("#trip-name") == "The long moor and Sundra"


def test_nothing_lies_over_something_else_on_screens_between(browser, address):
    with Rider(browser, address, size=(320, 640)) as rider:
        rider.open(f"#route=sample:coast_loop{LEAN}")
        for width, height in ((320, 640), (360, 740), (844, 390), (1024, 700)):
            rider.tab.set_viewport_size({"width": width, "height": height})
            rider.drawn()
            _nothing_lies_over(rider.tab, width)


def _nothing_lies_over(tab, width):
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
    if width < 1000:
        tab.click("#tab-change")
    boxes = tab.evaluate(
        """() => [...document.querySelectorAll(
            ".pace-typed, .pace-steps, .pace-told, .keep-button, .pace-rail")]
          .map((node) => node.getBoundingClientRect().toJSON())"""
    )
    assert len(boxes) == 5
    for n, one in enumerate(boxes):
        assert 0 <= one["left"] <= one["right"] <= width
        for other in boxes[n + 1 :]:
            apart_x = one["right"] <= other["left"] or other["right"] <= one["left"]
            assert apart_x or one["bottom"] <= other["top"] or other["bottom"] <= one["top"]
    tools, box = (
        tab.locator("#map-tools").bounding_box(),
        tab.locator("#map-box").bounding_box(),
    )
    assert tools["y"] + tools["height"] <= box["y"] + box["height"] - 20


HOSTILE = '<img src=x onerror="window.broken=1"><script>window.broken=1</script>'


def test_hostile_names_and_addresses_stay_text(browser, address, tmp_path):
    with Rider(browser, address) as rider:
        tab = rider.tab
        rider.open()
        ride = gpx(
            track([(-26.0 + k / 50, 46.5) for k in range(101)], name="<![CDATA[" + HOSTILE + "]]>")
        )
        tab.evaluate(
            """([name, text]) => {
              const data = new DataTransfer();
              data.items.add(new File([text], name));
              document.body.dispatchEvent(
                new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
            }""",
            [f"{HOSTILE}.gpx", ride.decode()],
        )
        rider.rest()
        assert HOSTILE in tab.inner_text("#trip-name")
        for panel in ("settings", "save", "routes"):
            tab.click(f"#open-{panel}")
        tab.click("#tab-change")
        tab.click("#keep-plan")
        tab.goto(
            f"{address}/#route={HOSTILE[:28]}&pace.daily_km={HOSTILE}&__proto__.polluted=1&shops.gone=,,"
        )
        tab.reload()
        tab.wait_for_selector(".live-card.alarm")
        assert "not held any more" in tab.inner_text(".live-card.alarm")
        tab.goto(f"{address}/#route=sample:coast_loop&pace.daily_km={HOSTILE}")
        tab.reload()
        tab.wait_for_selector(".live-card.alarm")
        assert "pace.daily_km" in tab.inner_text(".live-card.alarm")
        assert tab.evaluate("window.broken") is None
        assert tab.evaluate("({}).polluted") is None
        assert tab.locator("img[src='x']").count() == 0


class SlowService(OverpassServer):
    def __init__(self, elements=()):
        super().__init__(elements)
        self.let = threading.Semaphore(0)

    def answer_to(self, query):
        self.let.acquire(timeout=20.0)
        return super().answer_to(query)


def test_loading_is_shown_stopped_and_resumed(browser, tmp_path, monkeypatch):
    import geopandas

    monkeypatch.setattr(geopandas.GeoDataFrame, "estimate_utm_crs", lambda *_, **__: "EPSG:32626")
    monkeypatch.setattr(overpass, "STRETCH_M", 30_000.0)
    shop = node(11, -25.5, 46.51, shop="supermarket", name="Teal & Sons")
    ride = tmp_path / "ride.gpx"
    ride.write_bytes(gpx(track([(-26.0 + k / 50, 46.5) for k in range(101)])))
    with (
        SlowService([shop]) as service,
        serving(ServerMap(service=True, service_url=service.endpoint), tmp_path) as address,
        Rider(browser, address, 390) as rider,
    ):
        tab = rider.tab
        rider.open()
        assert "live map service" in tab.inner_text(".map-source")
        with tab.expect_file_chooser() as chooser:
            tab.click("#choose-route")
        chooser.value.set_files(ride)
        tab.wait_for_selector(".live-card progress, .live-card .load-meter")
        service.let.release()
        tab.wait_for_selector("text=part 2 of")
        meter = tab.locator(".load-meter")
        assert float(meter.get_attribute("aria-valuenow")) > 0
        assert "ride.gpx" in tab.inner_text(".live-card")
        tab.click("#stop-loading")
        service.let.release(1)
        tab.wait_for_selector("#resume")
        assert "stopped" in tab.inner_text(".live-card")
        assert tab.locator("#open-save").is_hidden()
        service.let.release(100)
        tab.click("#resume")
        rider.rest()
        assert "Teal & Sons" in tab.evaluate("JSON.stringify(Resupply.plan.places)")
        assert tab.locator(".live-card").count() == 0


def test_missing_data_is_hatched_and_said(browser, tmp_path):
    with serving(ServerMap(), tmp_path) as address, Rider(browser, address) as rider:
        tab = rider.tab
        rider.open()
        assert "No map data loaded" in tab.inner_text(".map-source")
        rider.upload(COAST)
        assert tab.locator(".strip-dark path").count() == 1
        tab.click("#tab-days")
        assert "no map data" in tab.text_content(".strip-picture")
        assert "no map data" in tab.inner_text("#block-gaps").lower()
        assert "without map data: where there are shops is not known" in tab.text_content(
            "#panel-answers"
        )


# Less than a fingertip in height or width. Ends of short days share their room, the link
# beside the distance reaches over its line, and the map's credit is no control.
TOO_SMALL = """
() => [...document.querySelectorAll("button, select, input, summary, [role=slider]")]
  .filter((node) => {
    const { width, height } = node.getBoundingClientRect();
    const apart = node.matches(".strip-handle, .pace-kept .link, [type=checkbox], .place-link");
    return width && height && !apart && Math.min(width, height) < 43.5;
  })
  .map((node) => `${node.className} ${node.textContent.slice(0, 30)}`)
"""


@pytest.mark.parametrize(
    ("width", "theme"),
    [
        (390, "light"),
        pytest.param(820, "light", marks=pytest.mark.long),
        pytest.param(1440, "dark", marks=pytest.mark.long),
    ],
)
def test_axe_finds_no_serious_issue(browser, address, width, theme):
    axe = NODE_MODULES / "axe-core" / "axe.min.js"
    if not axe.exists():
        pytest.skip("axe-core is not installed (npm ci in tests/node)")
    source = axe.read_text(encoding="utf-8")
    with Rider(browser, address, width, color_scheme=theme) as rider:
        tab = rider.tab

        def check(where, part="html"):
            tab.evaluate(source)
            found = tab.evaluate(f"axe.run('{part}', {{resultTypes: ['violations']}})")
            bad = [
                (v["id"], [n["target"] for n in v["nodes"]][:3])
                for v in found["violations"]
                if v["impact"] in ("serious", "critical")
            ]
            assert bad == [], json.dumps([where, bad])
            assert tab.evaluate(TOO_SMALL) == [], where
            assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth"), where

        rider.open()
        check("start")
        rider.open(
            "#route=sample:coast_loop&shops.gone=node/1&pace.own_km.1=200&now.at_km=150"
            f"&now.time=2027-07-09T14:10:00{BRIEF}"
        )
        tab.click("#tab-change")
        tab.click("#keep-plan")
        tab.fill("#pace-typed", "260")
        tab.press("#pace-typed", "Enter")
        rider.rest()
        check("comparison")
        tab.click("#open-settings")
        check("settings", "#live-panel")
        tab.click("#open-save")
        check("saving", "#live-panel")
        tab.evaluate("Resupply.strip.show(3, {open: true})")
        check("a day", "#card")
        tab.evaluate("Resupply.view.openStop(Resupply.plan.stops[0])")
        check("a stop", "#card")
        tab.click("#open-routes")
        check("routes", "#live-panel")
        with tab.expect_file_chooser() as chooser:
            tab.click("#choose-route")
        chooser.value.set_files({"name": "no.gpx", "mimeType": "", "buffer": b"<gpx><trk>"})
        tab.wait_for_selector(".live-card.alarm")
        check("a fault")
