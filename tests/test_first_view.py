"""The first minute: what a rider sees before touching anything, at eight sizes of screen."""

from __future__ import annotations

import itertools
import re

import pytest
from demo_plans import demo_plan
from page_words import FIRST_VIEW_WORDS, PANEL_WORDS, words_in_view, words_of_panels

from resupply.report import page

pytestmark = pytest.mark.browser

SIZES = (
    (320, 640), (390, 844), (820, 1180), (1024, 768), (1280, 800), (1366, 768), (1920, 1080),
    (2560, 1440),
)  # fmt: skip
ANSWERS = ("#answer-shop", "#answer-stretch", "#answer-ice")
PANELS = ("answers", "days", "lists", "kitchen", "change", "notes")


@pytest.fixture(scope="module")
def tab(browser, tmp_path_factory):
    """One page for all of it; each test sets the size it asks about."""
    plan, geo = demo_plan()
    path = tmp_path_factory.mktemp("first") / "coast.html"
    path.write_text(page.render_page(plan, geo), encoding="utf-8")
    context = browser.new_context(viewport={"width": 390, "height": 844}, offline=True)
    found = context.new_page()
    found.goto(path.as_uri())
    found.wait_for_selector("body.drawn")
    yield found
    context.close()


def resize(tab, size):
    tab.set_viewport_size({"width": size[0], "height": size[1]})
    tab.evaluate(
        """() => {
          Resupply.card.close();
          Resupply.tabs.open("answers");
          Resupply.strip.show(0);
          return new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
        }"""
    )


# What can be touched, outside of the map's own signs, as it is seen: cut by the panel it lies in.
CONTROLS = """
() => [...document.querySelectorAll("button, select, input, summary, a, [role=slider]")]
  .filter((node) => node.checkVisibility() && !node.matches(".skip, .folium-map *"))
  .map((node) => {
    const { left, right, top, bottom } = node.getBoundingClientRect();
    const frame = (node.closest(".ledger") || document.body).getBoundingClientRect();
    return [node.id || node.textContent.slice(0, 20) || node.className, left,
      Math.max(top, frame.top), right, Math.min(bottom, frame.bottom)];
  })
  .filter(([, left, top, right, bottom]) => right > left && bottom > top)
"""
CUT = """
() => [...document.querySelectorAll(".masthead *, .answers *, .worst *, .styles *, .tabs *")]
  .filter((node) => node.checkVisibility() && node instanceof HTMLElement
    && !node.closest(".spoken") && node.scrollWidth > node.clientWidth + 1 && node.clientWidth)
  .map((node) => node.textContent.slice(0, 40))
"""


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
def test_the_first_view_holds_what_is_asked_and_nothing_lies_over_it(tab, size):
    width, height = size
    resize(tab, size)
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
    foot = tab.locator("#tabs").bounding_box()
    ledger = tab.locator("#panels").bounding_box()
    last = ledger["y"] + ledger["height"]
    assert last <= foot["y"] + 1
    for answer in ANSWERS:
        box = tab.locator(answer).bounding_box()
        assert box["y"] >= 0
        if width >= 390:
            assert box["y"] + box["height"] <= last + 1, answer
    if width >= 390:
        assert tab.evaluate(CUT) == []
    boxes = tab.evaluate(CONTROLS)
    assert len(boxes) > 10
    for one, other in itertools.combinations(boxes, 2):
        apart_x = one[3] <= other[1] + 0.6 or other[3] <= one[1] + 0.6
        apart_y = one[4] <= other[2] + 0.6 or other[4] <= one[2] + 0.6
        assert apart_x or apart_y, (one, other)
    scale = tab.locator(".leaflet-control-scale").bounding_box()
    credit = tab.locator(".leaflet-control-attribution").bounding_box()
    assert scale["x"] + scale["width"] <= credit["x"]
    map_box = tab.locator("#map-box").bounding_box()
    assert map_box["height"] >= (230 if size == (390, 844) else 170)
    if width >= 1000:
        assert map_box["width"] * map_box["height"] >= 0.5 * width * height
    assert words_in_view(tab) <= FIRST_VIEW_WORDS


@pytest.mark.parametrize("size", [(390, 844), (1280, 800)], ids=["phone", "wide"])
def test_the_ways_to_shop_stand_in_lines_of_their_own(tab, size):
    resize(tab, size)
    lines = tab.evaluate(
        """() => {
          const { styles } = Resupply.plan;
          Resupply.plan.styles = [
            [5, 141, 12, 4, 0.384], [14, 755, 9, 12, 0.52], [3, 86, 12, 1, 0.128]].map(
            ([stops, minutes, most_meals, fresh_dinners, fail_chance], i) => ({ ...styles[i], stops,
              minutes, most_meals, fresh_dinners, fail_chance, dinners: 13, approximate: i > 0 }));
          Resupply.tabs.refresh();
          const told = [...document.querySelectorAll(".style-choice > span")]
            .map((node) => [node.textContent, node.getBoundingClientRect().height]);
          Resupply.plan.styles = styles;
          Resupply.tabs.refresh();
          return told;
        }"""
    )
    said = [text for text, _ in lines]
    assert said[:4] == ["5 shops · 2 h 21", "max 12+3 spare", "fresh 4/13", "shut 38 %"]
    assert said[4:6] == ["≈14 shops · 13 h", "max ≈9+3 spare"]
    assert said[6:8] == ["fresh ≈12/13", "shut ≈52 %"]
    assert [text for text, height in lines if height >= 20] == []


OPENED = {
    "a place": "Resupply.view.openStop(Resupply.plan.stops[0])",
    "a day": "Resupply.strip.show(2, {open: true})",
    "a list": "Resupply.tabs.open('lists')",
    "where am I": "Resupply.road.open()",
}


@pytest.mark.parametrize("what", OPENED)
def test_the_map_stays_in_sight_on_a_phone_whatever_is_read(tab, what):
    resize(tab, (390, 844))
    tab.evaluate(OPENED[what])
    assert tab.locator("#map-box").bounding_box()["height"] >= 230
    if what == "a place":
        # And the place stays on it.
        pin = tab.locator(".leaflet-pins-pane [aria-label^='Stop 1']").bounding_box()
        box = tab.locator("#map-box").bounding_box()
        assert box["y"] <= pin["y"]
        assert pin["y"] + pin["height"] <= box["y"] + box["height"]
        assert "Mercado do Farol" in tab.inner_text("#card h2")


def test_half_the_words_of_version_0_1_0(tab):
    resize(tab, (390, 844))
    assert words_of_panels(tab, PANELS) <= PANEL_WORDS


def test_every_visit_of_the_plan_is_on_the_strip_and_on_the_map(tab):
    resize(tab, (1280, 800))
    plan = demo_plan()[0]
    kinds = tab.evaluate("Resupply.visits().map((visit) => [visit.kind, ...visit.also])")
    told = list(itertools.chain.from_iterable(kinds))
    ice = [row for row in plan["ice"]["stops"] if row["buy"]]
    assert told.count("food") == len(plan["stops"])
    assert told.count("ice") == len(ice)
    assert told.count("fuel") == len(plan["fuel"]["stops"])
    assert told.count("camp") == len(plan["legs"]) - 1
    assert tab.locator(".strip-pins .pin-shape").count() == len(kinds)
    pins = tab.locator(".leaflet-pins-pane .pin-holder:not(.pin-mark)").count()
    assert pins >= 0.8 * len(kinds)


def test_a_meal_out_has_its_pin_on_map_and_strip_and_is_told_in_day_and_place(browser):
    """Lunch out on every day, its places those that the planner chose."""
    plan, geo = demo_plan(food__eat_out_daily=("lunch",))
    meals = [row for row in plan["eat_out"] if row["pass"]]
    assert meals
    context = browser.new_context(viewport={"width": 1280, "height": 800}, offline=True)
    tab = context.new_page()
    tab.set_content(page.render_page(plan, geo))
    tab.wait_for_selector("body.drawn")
    eaten = tab.evaluate("Resupply.visits().filter((one) => one.kind === 'meal_out')")
    assert [(one["pass"], one["when"]) for one in eaten] == [(m["pass"], m["at"]) for m in meals]
    kinds = tab.evaluate("Resupply.visits().length")
    assert tab.locator(".strip-pins .pin-shape").count() == kinds
    pin = tab.locator(".leaflet-pins-pane .pin-meal_out").first
    assert pin.get_attribute("aria-label").startswith("Meal out: ")
    pin.press("Enter")
    assert "Lunch out at" in tab.inner_text("#card")
    tab.evaluate("(day) => Resupply.days.open(day)", meals[0]["day"])
    assert "lunch out" in tab.inner_text("#card .day-line")
    tab.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert "lunch out" in tab.locator("#sheet").text_content()
    # On paper too a day's food stands in order of time, lunch before the shop of the evening.
    cells = tab.locator("#sheet .sheet-page >> nth=0").locator("tbody tr td:nth-child(4)")
    times = [re.findall(r"\d\d:\d\d", cell) for cell in cells.all_text_contents()]
    assert max(map(len, times)) > 1
    assert times == [sorted(row) for row in times]
    context.close()


def test_the_longest_stretch_of_the_answers_is_the_band_of_the_strip(tab):
    resize(tab, (1280, 800))
    gap = demo_plan()[0]["gaps"]["groceries"]["longest"]
    spot = "(m) => Resupply.strip.chainageAt(document.querySelector('.stretch-band')"
    left = tab.evaluate(f"{spot}.getBoundingClientRect().left)")
    right = tab.evaluate(f"{spot}.getBoundingClientRect().right)")
    assert left == pytest.approx(gap["start_m"], abs=3000)
    assert right == pytest.approx(gap["end_m"], abs=3000)
    assert f"{gap['length_m'] / 1000:.0f}" in tab.inner_text("#answer-stretch .stone")


def test_towns_do_not_lie_under_the_numbers_of_the_days(tab):
    resize(tab, (1280, 800))
    boxes = """(what) => [...document.querySelectorAll(what)].map((node) => {
      const { left, top, right, bottom } = node.getBoundingClientRect();
      return [left, top, right, bottom];
    })"""
    towns = tab.evaluate(boxes, ".town span")
    discs = tab.evaluate(boxes, ".day-disc")
    assert len(towns) > 8
    assert len(discs) >= 4
    for town, disc in itertools.product(towns, discs):
        apart_x = town[2] <= disc[0] + 2 or disc[2] <= town[0] + 2
        apart_y = town[3] <= disc[1] + 2 or disc[3] <= town[1] + 2
        assert apart_x or apart_y, (town, disc)


def test_names_are_written_for_what_is_near_and_again_where_the_map_is_moved_to(tab):
    """A country's names all at once would take a phone seconds at every zoom."""
    resize(tab, (390, 844))
    seen = tab.evaluate(
        """() => {
          const { map } = Resupply.view;
          const far = (share) => {
            map.setView(Resupply.positionAt(share * Resupply.length), 12, { animate: false });
            const size = map.getSize();
            const boxes = [...document.querySelectorAll(".town span, .peak span")]
              .map((node) => node.getBoundingClientRect());
            const frame = map.getContainer().getBoundingClientRect();
            return boxes.map(({ x, y }) => Math.max(
              Math.abs((x - frame.x) / size.x - 0.5), Math.abs((y - frame.y) / size.y - 0.5)));
          };
          return [far(0), far(0.5)];
        }"""
    )
    for away in seen:
        assert away
        assert max(away) < 2.5
        assert min(away) < 0.5
    tab.evaluate("Resupply.view.fit()")


def test_the_next_shop_is_from_now_once_the_trip_is_under_way(tab):
    resize(tab, (390, 844))
    first, second = (stop["name"] for stop in demo_plan()[0]["stops"])
    assert first in tab.inner_text("#answer-shop")
    tab.clock.set_fixed_time("2027-07-11T09:00:00Z")
    tab.evaluate("Resupply.tabs.refresh()")
    assert second in tab.inner_text("#answer-shop")
    # Where the rider is found counts more than the clock.
    tab.evaluate("Resupply.road.open()")
    tab.fill(".road-km input", "300")
    tab.press(".road-km input", "Enter")
    tab.evaluate("Resupply.card.close()")
    assert first in tab.inner_text("#answer-shop")
