"""The page as a rider meets it: Chromium, no network, a file on the device."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import os
import re
from pathlib import Path

import numpy as np
import page_fixture
import pytest
from browser_tabs import Visit
from demo_plans import demo_plan

from resupply.hours.timetable import OpenState, build_timetable, states
from resupply.places.place import Place
from resupply.report import page

pytestmark = pytest.mark.browser

NODE_MODULES = Path(
    os.environ.get("RESUPPLY_NODE_MODULES", Path(__file__).parent / "node" / "node_modules")
)
WIDTHS = (390, 1280)
TABS = ("answers", "days", "lists", "kitchen", "change", "notes")


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory):
    demo = page_fixture.varrow()
    return _write(tmp_path_factory.mktemp("page") / "varrow.html", demo)


def _write(path: Path, document: page_fixture.Json) -> Path:
    path.write_text(page.render_page(document["plan"], document["geo"]), encoding="utf-8")
    return path


class _Opened(Visit):
    """A page opened with the network off, and everything that went wrong in it."""

    def __init__(self, browser, path: Path, width: int = 1280, **settings) -> None:
        super().__init__(browser, (width, 844 if width < 500 else 900), offline=True, **settings)
        self.listen("requestfailed", lambda asked: self.faults.append(f"failed {asked.url[:80]}"))
        self.tab.goto(path.as_uri())
        self.tab.wait_for_selector("body.drawn")

    def outside(self) -> list[str]:
        return [url for url in self.requests if not url.startswith(("file:", "data:"))]


# Counts canvas pixels by nearest of the given colours, at the drawn positions of the route.
ROUTE_PIXELS = """
(chainages) => chainages.map((chainage) => {
  const R = window.Resupply;
  const canvas = document.querySelector(".leaflet-overlay-pane canvas");
  const at = R.view.map.latLngToContainerPoint(R.positionAt(chainage));
  const box = canvas.getBoundingClientRect();
  const frame = R.view.map.getContainer().getBoundingClientRect();
  const ratio = canvas.width / box.width;
  const [x, y] = [(at.x + frame.left - box.left) * ratio, (at.y + frame.top - box.top) * ratio];
  return [...canvas.getContext("2d").getImageData(Math.round(x), Math.round(y), 1, 1).data];
})
"""


@pytest.mark.parametrize("width", WIDTHS)
def test_file_opens_with_no_network_and_no_fault(browser, demo_file, width):
    with _Opened(browser, demo_file, width) as opened:
        tab = opened.tab
        assert opened.outside() == []
        assert opened.faults == []
        assert tab.locator(".leaflet-pins-pane [aria-label^='Stop']").count() >= 3
        assert tab.locator(".day-disc").count() >= 3
        assert "Port Ness" in tab.locator(".leaflet-labels-pane").inner_text()
        tab.click("#tab-days")
        assert tab.locator(".day-card").count() == 5
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_every_day_is_drawn_in_its_own_colour(browser, demo_file):
    plan = page_fixture.varrow()["plan"]
    with _Opened(browser, demo_file) as opened:
        marks = [
            leg["start_m"] + share * leg["length_m"]
            for leg in plan["legs"]
            for share in (0.15, 0.35, 0.6, 0.85)
        ]
        seen = opened.tab.evaluate(ROUTE_PIXELS, marks)
        for n in range(5):
            colour = opened.tab.evaluate(f"Resupply.css('--day-{n + 1}')")
            wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
            four = seen[4 * n : 4 * n + 4]
            hits = [sum(abs(a - b) for a, b in zip(p[:3], wanted, strict=True)) < 40 for p in four]
            assert sum(hits) >= 2, (n, wanted, four)


def test_backdrop_shows_land_and_sea(browser, demo_file):
    with _Opened(browser, demo_file) as opened:
        colours = opened.tab.evaluate(
            """() => {
              const canvas = document.querySelector(".leaflet-backdrop-pane canvas");
              const { width, height } = canvas;
              const { data } = canvas.getContext("2d").getImageData(0, 0, width, height);
              const seen = {};
              for (let i = 0; i < data.length; i += 4) {
                const key = [data[i], data[i + 1], data[i + 2], data[i + 3]].join();
                seen[key] = (seen[key] || 0) + 1;
              }
              return seen;
            }"""
        )
        land = opened.tab.evaluate("Resupply.css('--map-land')")
        red, green, blue = (int(land[i : i + 2], 16) for i in (1, 3, 5))
        total = sum(colours.values())
        assert colours[f"{red},{green},{blue},255"] > 0.1 * total
        assert colours["0,0,0,0"] > 0.2 * total
        assert "sea" in opened.tab.locator("#map_resupply").get_attribute("class")


def test_unknown_stretch_is_said_in_words(browser, demo_file):
    with _Opened(browser, demo_file) as opened:
        opened.tab.focus(".strip-frame")
        opened.tab.evaluate("Resupply.tell('place', {chainage: 500000, from: 'keys'})")
        assert "no map data here" in opened.tab.locator(".strip-readout").inner_text()
        assert "no map data here" in opened.tab.get_attribute(".strip-frame", "aria-valuetext")
        opened.tab.click("#tab-days")
        assert "km 470 to km 545: no map data" in opened.tab.locator("#block-gaps").inner_text()


# The boxes of what is written on the bars of the strip.
ON_THE_BARS = """
(what) => [...document.querySelectorAll(what)].map((node) => {
  const { left, top, right, bottom } = node.getBoundingClientRect();
  return [left, top, right, bottom];
})
"""


@pytest.mark.parametrize("width", WIDTHS)
def test_a_trip_in_miles_without_map_data_has_its_days_and_its_scale_in_sight(
    browser, tmp_path, width
):
    demo = page_fixture.varrow()
    plan = demo["plan"]
    plan["trip"]["units"] = "imperial"
    whole = {"start_m": 0, "end_m": plan["route"]["length_m"], "reason": None}
    plan["coverage"]["unknown"] = [whole]
    with _Opened(browser, _write(tmp_path / "dark.html", demo), width) as opened:
        tab = opened.tab
        assert tab.inner_text(".leaflet-control-scale").endswith("mi")
        days = tab.evaluate(ON_THE_BARS, ".strip-picture .day-text")
        said = tab.evaluate(ON_THE_BARS, ".strip-dark text")
        assert len(days) == 5
        assert len(said) == (width == 1280)
        for one, other in itertools.product(said, days):
            assert one[2] <= other[0] or other[2] <= one[0], (one, other)


UNFOLD = "document.querySelectorAll('details').forEach((one) => (one.open = true))"


def test_a_stop_opens_in_a_sheet_with_its_state_in_word_and_shape(browser, demo_file):
    with _Opened(browser, demo_file, 390) as opened:
        tab = opened.tab
        tab.evaluate("Resupply.view.openStop(Resupply.plan.stops[3])")
        tab.evaluate(UNFOLD)
        text = tab.locator("#card").inner_text()
        for part in ("Orlo Stores", "usually open", "none on the map", "Why here", "Detour"):
            assert part in text
        assert tab.locator("#card .state svg.glyph").count() == 1
        # The map stays in sight beside it.
        assert tab.locator("#map-box").bounding_box()["height"] >= 230
        tab.keyboard.press("Escape")
        assert tab.locator("#card").is_hidden()


def test_a_pin_opens_its_sheet_and_the_way_back_closes_it(browser, demo_file):
    with _Opened(browser, demo_file) as opened:
        tab = opened.tab
        tab.locator(".leaflet-pins-pane [aria-label^='Stop 1']").press("Enter")
        assert "Tollan Market Hall" in tab.inner_text("#card")
        tab.go_back()
        tab.wait_for_selector("#card", state="hidden")
        assert tab.locator("#answer-shop").is_visible()
        assert opened.faults == []


def test_a_tap_on_the_strip_reads_a_kilometre_and_a_tap_on_a_day_chooses_it(browser, demo_file):
    with _Opened(browser, demo_file, 390) as opened:
        tab = opened.tab
        strip = tab.locator(".strip-frame").bounding_box()
        tab.mouse.click(strip["x"] + strip["width"] * 0.7, strip["y"] + 3)
        said = tab.inner_text("#card")
        assert re.search(r"km \d+", said) and "day" in said
        # What was read stays marked, on the map as well.
        assert tab.locator(".leaflet-pins-pane .here").count() == 1
        bar = tab.locator(".strip-days .day-3").bounding_box()
        tab.mouse.click(bar["x"] + bar["width"] / 2, bar["y"] + bar["height"] / 2)
        assert tab.evaluate("Resupply.strip.day") == 3
        assert tab.locator(".strip-days .day-3.faint").count() == 0
        assert tab.locator(".strip-days .day-2.faint").count() >= 1
        assert tab.locator("#card .day-line li").count() >= 2
        assert tab.locator(".leaflet-pins-pane .here").count() == 0


# The strip is not among them: it shows numbers only.
SHOWING_NAMES = (
    "#trip-name", ".headline", "#answer-shop", "#block-stops",
    "#block-downs", "#block-places", "#block-lists", "#block-menu", "#block-packing", "#block-ice",
    "#block-fuel", "#block-data", "#sheet .sheet-table", "#sheet .sheet-lists",
)  # fmt: skip


@pytest.mark.parametrize("width", [390, pytest.param(1280, marks=pytest.mark.long)])
def test_hostile_names_show_as_text_everywhere(browser, tmp_path, width):
    hostile = page_fixture.hostile()
    with _Opened(browser, _write(tmp_path / "hostile.html", hostile), width) as opened:
        tab = opened.tab
        for name in TABS:
            tab.evaluate(f"Resupply.tabs.open('{name}')")
        tab.evaluate("Resupply.plan.passes.forEach((c) => Resupply.view.openPass(c))")
        tab.evaluate("Resupply.plan.legs.forEach((leg) => Resupply.days.open(leg.number))")
        tab.evaluate("Resupply.plan.legs.forEach((leg) => Resupply.view.openNight(leg))")
        shown = re.compile(r"window\.broken|<b>bold")
        assert shown.search(tab.evaluate("Resupply.answers.title() || document.title"))
        tab.evaluate("Resupply.view.openStop(Resupply.plan.stops[0])")
        assert shown.search(tab.locator("#card").text_content())
        tab.emulate_media(media="print")
        unseen = [
            place
            for place in SHOWING_NAMES
            if not shown.search("".join(tab.locator(place).all_text_contents()))
        ]
        assert unseen == []
        tab.emulate_media(media="screen")
        assert tab.evaluate("window.broken") is None
        assert opened.faults == []
        assert tab.locator("body img[src='x'], body b b, body script script").count() == 0
        assert tab.locator("#trip-name").inner_text() == hostile["plan"]["trip"]["name"]
        assert tab.locator("a[href^='javascript']").count() == 0
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_fallback_shows_its_state_when_reached_late(browser, demo_file):
    # Tollan Fuel is open when the plan passes it, and shut when it is the fallback.
    with _Opened(browser, demo_file) as opened:
        opened.tab.click("#tab-lists")
        first = opened.tab.locator(".fall-card").first
        assert first.locator(".state").inner_text() == "shut"


def test_what_is_on_board_needs_no_tick(browser, tmp_path):
    demo = page_fixture.varrow()
    line = demo["plan"]["shopping"]["stops"][1]["lines"][0]
    line["packs"], line["bought"], line["words"] = (
        [],
        0,
        "nothing to buy: enough is left from before",
    )
    with _Opened(browser, _write(tmp_path / "aboard.html", demo)) as opened:
        opened.tab.click("#tab-lists")
        opened.tab.evaluate(UNFOLD)
        text = opened.tab.locator(".list").nth(1).inner_text()
        assert "Enough on board: Peppers" in text
        assert "0 of 5" in text
        assert opened.tab.locator("[data-item='1:peppers']").count() == 0


def test_ticks_survive_a_reload(browser, demo_file):
    with _Opened(browser, demo_file, 390) as opened:
        tab = opened.tab
        tab.click("#tab-lists")
        tab.check("[data-item='1:chicken-thighs']")
        assert "1 of 6" in tab.locator("#block-lists").inner_text()
        tab.reload()
        tab.wait_for_selector("body.drawn")
        assert tab.is_checked("[data-item='1:chicken-thighs']")
        assert not tab.is_checked("[data-item='1:flatbread']")
        # What another tab of the trip has ticked meanwhile is not written over.
        theirs = (
            "const key = Object.keys(localStorage).find((one) => one.includes(':ticks:'));"
            "const kept = JSON.parse(localStorage[key]);"
        )
        tab.evaluate(
            f"() => {{ {theirs} kept.theirs = 1; localStorage[key] = JSON.stringify(kept); }}"
        )
        tab.check("[data-item='1:flatbread']")
        tab.uncheck("[data-item='1:chicken-thighs']")
        kept = tab.evaluate(f"() => {{ {theirs} return Object.keys(kept); }}")
        assert sorted(one.partition(":")[2] or one for one in kept) == ["flatbread", "theirs"]
        tab.check("[data-item='1:chicken-thighs']")
        # Another plan of the trip, with other settings, finds them too.
        tab.evaluate(
            "() => { const { plan, geo } = Resupply;"
            " Resupply.show({ ...plan, trip: { ...plan.trip, id: 'other' } }, geo); }"
        )
        assert tab.is_checked("[data-item='1:chicken-thighs']")
        assert tab.get_attribute("#tab-lists", "aria-selected") == "true"


def test_miles_and_twelve_hours_change_sentences_but_not_names(browser, tmp_path):
    demo = page_fixture.varrow()
    stop = demo["plan"]["stops"][0]
    demo["plan"]["places"][stop["place"]]["name"] = "Depot 100 km House"
    stop["why"] = [
        {"name": "Depot 100 km House"},
        " is ",
        {"way_m": 10_000},
        " nearer, at ",
        {"at_m": 118_000},
        ", before ",
        {"time": "2027-07-09T18:30:00+00:00"},
        " and below ",
        {"limit_c": 4},
        ".",
    ]
    with _Opened(browser, _write(tmp_path / "miles.html", demo)) as opened:
        tab = opened.tab
        tab.click("#tab-lists")
        tab.click("#open-switches")
        tab.get_by_role("button", name="mi", exact=True).click()
        # What others published is text and stays as it is.
        said = "at 4 °C (40 °F), 10 km on"
        assert tab.evaluate("(text) => Resupply.format.words(text)", said) == said
        tab.get_by_role("button", name="12 h", exact=True).click()
        # What lies under a sheet is drawn when the sheet is closed.
        tab.click(".card-close")
        first = tab.locator(".stop-card").first
        text = first.text_content()
        assert "Depot 100 km House is 6.2 mi nearer, at mile 73, before 6:30 pm" in text
        assert "below 40 °F." in text
        assert "10:39 am" in text
        tab.click("#open-switches")
        tab.get_by_role("button", name="km", exact=True).click()
        tab.click(".card-close")
        assert "is 10 km nearer" in first.text_content()


def test_position_is_read_on_the_route(browser, demo_file):
    at = page_fixture.varrow()["geo"]
    ix = 700
    with _Opened(browser, demo_file, 390) as opened:
        tab = opened.tab
        opened.put_at(at["lon"][ix], at["lat"][ix] + 0.002)
        tab.click("#open-road")
        tab.get_by_role("button", name="Find me").click()
        tab.wait_for_selector(".road-answer .big-line")
        text = tab.locator(".road-answer").inner_text()
        found = tab.evaluate("Resupply.road.last")
        assert abs(found - at["chainage_m"][ix]) < 400.0
        assert "Sandwick Grocer" in text
        assert "meals each on board" in text
        assert "the state above may be wrong" in text
        assert opened.outside() == []


@pytest.fixture(scope="module")
def coast_file(tmp_path_factory):
    """A planned trip of the samples, with the openings of its shops."""
    plan, geo = demo_plan()
    path = tmp_path_factory.mktemp("coast") / "coast.html"
    path.write_text(page.render_page(plan, geo), encoding="utf-8")
    return path


def _at_km(tab, km):
    tab.fill(".road-km input", str(km))
    tab.get_by_role("button", name="Show", exact=True).click()
    return tab.locator(".road-answer").inner_text()


@pytest.fixture(scope="module")
def on_the_road(browser, coast_file):
    """The panel where a rider asks on the way; each test sets the clock of the device."""
    with _Opened(browser, coast_file, 390, own=True) as opened:
        opened.tab.click("#open-road")
        yield opened


def test_next_shop_is_told_by_the_device_s_own_clock(on_the_road):
    # Stop 1 is 3 h 53 min on with two rests, planned for Sat 14:14 and open 08:00 to 18:00.
    tab = on_the_road.tab
    tab.clock.set_fixed_time("2027-07-10T12:00:00Z")
    late = " ".join(_at_km(tab, 300).split())
    assert "Mercado do Farol in 146 km" in late
    assert "If you ride on now, there about Sat 15:53" in late
    assert "open , shuts 18:00" in late.replace("open,", "open ,")
    assert "Planned: Sat 14:14." in late
    tab.clock.set_fixed_time("2027-07-10T13:30:00Z")
    assert "tight, shuts 18:00" in " ".join(_at_km(tab, 300).split()).replace("tight ,", "tight,")
    tab.clock.set_fixed_time("2027-07-10T16:00:00Z")
    assert "about Sat 19:53" in _at_km(tab, 300)
    assert tab.locator(".ahead").first.locator(".state").inner_text() == "shut"
    # Another day altogether: nothing is known by the clock, and it is said.
    tab.clock.set_fixed_time("2026-11-25T12:00:00Z")
    assert "the state above may be wrong" in _at_km(tab, 300)
    assert on_the_road.faults == []


def test_the_page_judges_a_visit_early_or_late_as_the_planner_does(browser, coast_file):
    plan = demo_plan()[0]
    passes = [p for p in plan["passes"] if "doors" in p]
    zone, country = plan["trip"]["time_zone"], plan["trip"]["country"]
    rows = [plan["places"][p["place"]] for p in passes]
    table = build_timetable(
        [Place(p["place"], r["lon"], r["lat"], "", r["kind"], {}, r["opening_hours"], r["tags"])
         for p, r in zip(passes, rows, strict=True)],
        start=dt.datetime.fromisoformat(plan["legs"][0]["depart"]) - dt.timedelta(days=1),
        end=dt.datetime.fromisoformat(plan["legs"][-1]["arrive"]) + dt.timedelta(days=3),
        zone_of=zone,
        country=country,
    )  # fmt: skip
    eta_s = np.array([dt.datetime.fromisoformat(p["eta"]).timestamp() for p in passes])
    late_min = np.arange(-690, 2101, 45)
    half_min, stay_s = 25, np.array([p["doors"]["stay_s"] for p in passes])[:, None]
    codes = states(
        table,
        np.arange(len(passes))[:, None],
        eta_s[:, None] + 60.0 * late_min,
        60.0 * half_min,
        stay_s,
    )
    wanted = [[OpenState(int(code)).name.lower() for code in row] for row in codes]
    with _Opened(browser, coast_file, 390) as opened:
        seen = opened.tab.evaluate(
            """([late, half]) => Resupply.plan.passes.filter((one) => one.doors).map((one) =>
              late.map((at) =>
                Resupply.lookup.state(
                  one.doors, Date.parse(one.eta) / 1000 + 60 * at, 60 * half)))""",
            [late_min.tolist(), half_min],
        )
    assert {"open", "shut", "tight"} <= {state for row in wanted for state in row}
    for mine, theirs in zip(seen, wanted, strict=True):
        # Less may be known to the page, which holds two days: never anything else.
        assert all(a in (b, "unknown") for a, b in zip(mine, theirs, strict=True))
        assert sum(a == b for a, b in zip(mine, theirs, strict=True)) > 0.8 * len(mine)


def test_the_stop_after_a_night_is_told_as_planned(on_the_road):
    tab = on_the_road.tab
    tab.clock.set_fixed_time("2027-07-11T12:00:00Z")
    on_its_day = _at_km(tab, 600)
    assert "As planned, Mon 09:37" in on_its_day
    assert "the state above may be wrong" not in on_its_day
    # In camp the next morning the day after has begun.
    tab.clock.set_fixed_time("2027-07-12T07:30:00Z")
    assert ", day 4" in _at_km(tab, 670.9)
    tab.clock.set_fixed_time("2027-07-13T12:00:00Z")
    assert "it is not Sun 11 Jul: the state above may be wrong" in _at_km(tab, 600)


def test_no_shop_that_is_shut_when_the_rider_comes_by_is_offered_sooner(on_the_road):
    tab = on_the_road.tab
    shops = tab.evaluate(
        """() => Resupply.plan.passes.filter((one) => one.state === "shut" && one.doors &&
          Resupply.glyphs.isShop(Resupply.place(one.place)) && !Resupply.stopByPass.has(one.id))
          .map((one) => [one.chainage_m / 1000 - 1, one.eta, one.place])"""
    )
    assert shops
    for km, eta, place in shops:
        tab.clock.set_fixed_time(eta)
        said = _at_km(tab, km).split("What still fits today")[0]
        name = demo_plan()[0]["places"][place]["name"]
        assert f"{name} in " not in said


def test_before_the_first_and_after_the_last_shop_the_food_is_told(browser, coast_file):
    with _Opened(browser, coast_file, 390) as opened:
        tab = opened.tab
        tab.click("#open-road")
        start = _at_km(tab, 0)
        assert "km 0, day 1" in start
        assert "7 meals each on board" in start
        assert "to stop 1, 446 km on, Sat 14:14" in start
        end = _at_km(tab, 930)
        assert "No more shop stops are planned" in end
        assert "to the end of the route" in end
        assert "The route is 960 km long" in _at_km(tab, 1000)


@pytest.mark.parametrize(
    ("away", "accuracy_m", "words"),
    [
        (0.0, 3000, "knows its position only to 3 km: the distances here are as rough"),
        (0.0, 45_000, "only to 45 km: that says nothing about the route"),
        (0.02, 10, "off the route"),
        (3.0, 10, "from the route: nothing can be read from it here"),
    ],
)
def test_a_rough_or_far_position_is_said(browser, coast_file, away, accuracy_m, words):
    geo = demo_plan()[1]
    ix = len(geo["lon"]) // 3
    with _Opened(browser, coast_file, 390) as opened:
        opened.put_at(geo["lon"][ix] - away, geo["lat"][ix], accuracy_m=accuracy_m)
        opened.tab.click("#open-road")
        opened.tab.get_by_role("button", name="Find me").click()
        opened.tab.wait_for_selector(f".road-answer:has-text('{words}')")
        assert opened.outside() == []


def test_without_consent_the_distance_can_be_typed(browser, coast_file):
    with _Opened(browser, coast_file, 390) as opened:
        opened.tab.click("#open-road")
        opened.tab.get_by_role("button", name="Find me").click()
        opened.tab.wait_for_selector(".road-answer:has-text('did not allow its position')")
        assert "km 300, day 2" in _at_km(opened.tab, 300)


def _out_and_back():
    """Out and back over the same road: every place is passed twice."""
    demo = page_fixture.varrow()
    geo = demo["geo"]
    n = len(geo["lon"])
    half = n // 2
    geo["lon"][half:] = geo["lon"][: n - half][::-1]
    geo["lat"][half:] = geo["lat"][: n - half][::-1]
    return demo


# The colours right and left of the middle between two points of the line, seen as it is ridden.
BOTH_SIDES = """
async (i) => {
  const R = window.Resupply;
  const { map } = R.view;
  const at = (k) => [R.line.lat[k], R.line.lon[k]];
  map.setView(at(i), 13, { animate: false });
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  const [a, b] = [map.latLngToContainerPoint(at(i)), map.latLngToContainerPoint(at(i + 1))];
  const far = a.distanceTo(b);
  const canvas = document.querySelector(".leaflet-overlay-pane canvas");
  const box = canvas.getBoundingClientRect();
  const frame = map.getContainer().getBoundingClientRect();
  const ratio = canvas.width / box.width;
  return [3, -3].map((aside) => {
    const x = (a.x + b.x) / 2 - ((b.y - a.y) / far) * aside + frame.left - box.left;
    const y = (a.y + b.y) / 2 + ((b.x - a.x) / far) * aside + frame.top - box.top;
    const [left, top] = [Math.round(x * ratio), Math.round(y * ratio)];
    return [...canvas.getContext("2d").getImageData(left, top, 1, 1).data].slice(0, 3);
  });
}
"""


def test_days_that_share_a_road_are_drawn_side_by_side(browser, tmp_path):
    demo = _out_and_back()
    chain, legs = demo["geo"]["chainage_m"], demo["plan"]["legs"]

    def day(ix):
        return next(leg["number"] for leg in legs if chain[ix] <= leg["end_m"])

    with _Opened(browser, _write(tmp_path / "beside.html", demo)) as opened:
        for ix in (len(chain) // 10, len(chain) // 6, len(chain) // 4):
            ridden, back = day(ix), day(len(chain) - 1 - ix)
            assert ridden != back
            for seen, number in zip(
                opened.tab.evaluate(BOTH_SIDES, ix), (ridden, back), strict=True
            ):
                colour = opened.tab.evaluate(f"Resupply.css('--day-{number}')")
                wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
                assert sum(abs(a - b) for a, b in zip(seen, wanted, strict=True)) < 40, (ix, seen)


def test_crossing_roads_ask_which_pass_it_is(browser, tmp_path):
    demo = _out_and_back()
    geo = demo["geo"]
    with _Opened(browser, _write(tmp_path / "twice.html", demo)) as opened:
        opened.put_at(geo["lon"][200], geo["lat"][200])
        opened.tab.click("#open-road")
        opened.tab.get_by_role("button", name="Find me").click()
        opened.tab.wait_for_selector(".road-answer button")
        assert opened.tab.locator(".road-answer button").count() == 2


def test_route_across_the_date_line_is_drawn_in_one_piece(browser, tmp_path):
    demo = page_fixture.varrow()
    shift = 206.5
    wrap = lambda lon: round((lon + shift + 180.0) % 360.0 - 180.0, 5)  # noqa: E731
    demo["geo"]["lon"] = [wrap(lon) for lon in demo["geo"]["lon"]]
    assert min(demo["geo"]["lon"]) < -178 and max(demo["geo"]["lon"]) > 178
    for place in demo["plan"]["places"].values():
        place["lon"] = wrap(place["lon"])
    demo["geo"]["backdrop"] = {}
    with _Opened(browser, _write(tmp_path / "date-line.html", demo)) as opened:
        assert opened.tab.evaluate("Resupply.view.map.getZoom()") > 6
        boxes = opened.tab.locator(".leaflet-pins-pane .pin-food").evaluate_all(
            "pins => pins.map(p => p.getBoundingClientRect().x)"
        )
        frame = opened.tab.locator("#map_resupply").bounding_box()
        assert all(frame["x"] < x < frame["x"] + frame["width"] for x in boxes)
        assert opened.faults == []


def test_absent_block_leaves_the_rest(browser, demo_file):
    optional = "cold menu shopping packing load sweep ice fuel water care explain answers styles"
    with _Opened(browser, demo_file, 390) as opened:
        for absent in optional.split(" "):
            opened.tab.evaluate(
                """(absent) => {
                  const plan = Resupply.readData("plan");
                  delete plan[absent];
                  Resupply.show(plan, Resupply.readData("geo"));
                }""",
                absent,
            )
            assert opened.faults == [], absent
            opened.tab.evaluate("Resupply.tabs.open('days')")
            assert opened.tab.locator(".day-card").count() == 5


def test_plan_with_nothing_known_still_draws(browser, tmp_path):
    demo = page_fixture.varrow()
    plan = demo["plan"]
    for block in ("cold", "menu", "shopping", "packing", "load", "sweep", "ice", "fuel", "water"):
        del plan[block]
    plan["stops"], plan["passes"], plan["places"], plan["shortfalls"] = [], [], {}, []
    plan["gaps"] = {"groceries": {"longest": None, "all": [], "count_passes": 0}}
    demo["geo"]["ele_m"], demo["geo"]["backdrop"] = None, {}
    with _Opened(browser, _write(tmp_path / "bare.html", demo), 390) as opened:
        assert opened.faults == []
        opened.tab.click("#tab-lists")
        assert "No shop stop is planned" in opened.tab.locator("#block-stops").inner_text()


def test_next_plan_keeps_the_view(browser, demo_file):
    with _Opened(browser, demo_file) as opened:
        tab = opened.tab
        tab.click("#tab-lists")
        tab.evaluate("Resupply.view.moved = true; Resupply.view.map.setView([47, -26], 9)")
        before = tab.evaluate("[Resupply.view.map.getCenter().lat, Resupply.view.map.getZoom()]")
        tab.evaluate(
            """() => {
              const plan = structuredClone(Resupply.plan);
              plan.stops.pop();
              Resupply.show(plan, Resupply.geo);
            }"""
        )
        assert tab.locator(".stop-card").count() == 3
        after = tab.evaluate("[Resupply.view.map.getCenter().lat, Resupply.view.map.getZoom()]")
        assert after == pytest.approx(before, abs=0.002)
        assert tab.get_attribute("#tab-lists", "aria-selected") == "true"


def test_sheet_prints_on_two_pages_and_one_to_cook_from(browser, demo_file):
    with _Opened(browser, demo_file) as opened:
        printed = opened.tab.pdf(format="A4")
        assert len(re.findall(rb"/Type /Page\b", printed)) == 3
        opened.tab.emulate_media(media="print")
        assert opened.tab.locator(".sheet").is_visible()
        assert not opened.tab.locator(".desk").is_visible()
        assert "Tollan Market Hall" in opened.tab.locator(".sheet").inner_text()
        # The first page has a line per day and room to spare: it never runs on.
        days = opened.tab.locator(".sheet-page").first.locator("tbody tr")
        assert days.count() == 5
        assert "Local rules first" in opened.tab.locator(".sheet-rules").inner_text()
        chicken = opened.tab.locator(".sheet-recipe", has_text="chicken").first.inner_text()
        assert "Stir it in." in chicken
        assert "74 °C in the middle" in chicken
        assert "; Water 700 ml" in opened.tab.locator(".sheet-recipes").inner_text()


CARDS = {
    "a stop": "Resupply.view.openStop(Resupply.plan.stops[0])",
    "a day": "Resupply.strip.show(2, {open: true})",
    "a kilometre": "Resupply.strip.readAt(500000)",
    "the key": "document.querySelector('#map-tools button').click()",
    "the road": "Resupply.road.open()",
    "units": "document.querySelector('#open-switches').click()",
}


@pytest.mark.parametrize(("width", "theme"), [(390, "light"), (1280, "dark")])
def test_axe_finds_no_serious_issue(browser, demo_file, width, theme):
    axe = NODE_MODULES / "axe-core" / "axe.min.js"
    if not axe.exists():
        pytest.skip("axe-core is not installed (npm ci in tests/node)")
    with _Opened(browser, demo_file, width, color_scheme=theme) as opened:
        tab = opened.tab
        # The page's policy refuses foreign scripts; evaluate() runs outside of it.
        tab.evaluate(axe.read_text(encoding="utf-8"))
        for name in (*TABS, *CARDS):
            tab.evaluate(CARDS.get(name, f"Resupply.tabs.open('{name}')"))
            # The whole page with a panel and with a card; of the others what they change.
            part = "#card" if name in CARDS else f"#panel-{name}"
            part = "html" if name in ("answers", "a day") else part
            found = tab.evaluate(f"axe.run('{part}', {{resultTypes: ['violations']}})")
            bad = [
                (v["id"], [n["target"] for n in v["nodes"]][:3])
                for v in found["violations"]
                if v["impact"] in ("serious", "critical")
            ]
            assert bad == [], json.dumps([name, bad])
