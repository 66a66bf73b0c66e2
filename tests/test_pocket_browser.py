"""The plans for the way on a phone with no network: told, switched to, and back."""

from __future__ import annotations

import json
from functools import cache

import pytest
from browser_tabs import Visit
from demo_plans import demo_read
from pocket_plans import KINDS, changes, demo_pocket, replanned

from resupply.report.document.model.as_json import to_dict
from resupply.report.drawn import drawn
from resupply.report.page import render_page
from resupply.report.pocket import in_pocket

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 844}


@cache
def page_text():
    read = demo_read()
    return render_page(to_dict(read.document), read.geometry, pocket=demo_pocket())


@pytest.fixture(scope="module")
def phone(browser, tmp_path_factory):
    path = tmp_path_factory.mktemp("pocket") / "plan.html"
    path.write_text(page_text(), encoding="utf-8")
    with Visit(browser, (PHONE["width"], PHONE["height"]), offline=True, is_mobile=True) as visit:
        visit.tab.goto(path.as_uri())
        visit.tab.wait_for_selector("body.drawn")
        yield visit.tab
        assert visit.faults == []


@pytest.fixture
def page(phone):
    phone.evaluate("() => { Resupply.card.close(); Resupply.pocket.show(null); }")
    phone.evaluate("() => Resupply.tabs.open('answers')")
    return phone


def shown(page, key):
    """Show the plan of a change through the sheet, as a rider does."""
    page.evaluate("() => Resupply.changed.open()")
    row = page.locator(f'[data-keep="change-{key}"]')
    if not row.count():
        page.click("#something-else")
    row.click()


def test_each_choice_tells_what_it_comes_to_before_it_is_chosen(page):
    page.click("#chip-changed")
    told = page.inner_text(f'[data-keep="change-{changes()["rest"].key}"]')
    assert "We rest on Sat 10 Jul" in told
    assert "home a day later" in told
    assert page.evaluate("Resupply.pocket.current") is None


def test_a_choice_switches_every_part_and_the_way_back_stays_in_sight(page):
    page.evaluate(
        "() => addEventListener('resupply-plan-shown', (e) => (window.told = e.detail.key), true)"
    )
    first = page.locator("#strip").inner_html()
    key, plan = changes()["shut"].key, replanned("shut")
    # A shop next door is another shop: the sheet names it before it is chosen.
    said = page.evaluate("(key) => Resupply.changed.effect(Resupply.pocket.plan(key))", key)
    others = {stop["place"] for stop in plan["stops"]}
    others -= {stop["place"] for stop in to_dict(demo_read().document)["stops"]}
    assert others
    assert all(plan["places"][place]["name"] in said for place in others), said
    shown(page, key)
    assert page.evaluate("window.told") == key
    stops = page.evaluate("Resupply.plan.stops.map((stop) => stop.place)")
    assert stops == [stop["place"] for stop in plan["stops"]]
    assert page.locator("#strip").inner_html() != first
    assert "is shut" in page.inner_text("#shown-plan")
    page.click("text=Ride this plan")
    page.click("#tab-lists")
    name = plan["places"][plan["stops"][0]["place"]]["name"]
    assert name in page.inner_text("#panel-lists")
    page.evaluate("() => dispatchEvent(new Event('beforeprint'))")
    paper = page.evaluate("document.getElementById('sheet').textContent")
    assert name in paper
    assert " is shut" in paper
    back = page.locator("#plan-as-made")
    assert back.is_visible()
    box = back.bounding_box()
    assert box["height"] >= 40 and box["x"] + box["width"] <= PHONE["width"]
    back.click()
    assert page.locator("#strip").inner_html() == first
    assert page.locator("#shown-plan").is_hidden()
    assert page.evaluate("window.told") is None


@pytest.mark.parametrize("kind", KINDS)
def test_the_page_reads_each_plan_as_the_planner_made_it(page, kind):
    made = drawn(to_dict(demo_read().document))
    page.evaluate("(key) => Resupply.pocket.show(key)", changes()[kind].key)
    read = json.loads(page.evaluate("JSON.stringify(Resupply.plan)"))
    wanted = in_pocket(replanned(kind), made)
    # Which distance is the shown one is marked by the page.
    del read["sweep"], wanted["sweep"]
    assert read == wanted


def test_a_reload_shows_the_same_plan_and_a_lost_one_is_told(page):
    shown(page, changes()["rest"].key)
    page.reload()
    page.wait_for_selector("body.drawn")
    assert page.evaluate("Resupply.pocket.current") == changes()["rest"].key
    assert "We rest on Sat 10 Jul" in page.inner_text("#shown-plan")
    # The second is cut off in the middle of a letter.
    for address in ("#plan=rest-99", "#plan=shut-caf%C3"):
        page.evaluate("(hash) => history.replaceState(null, '', hash)", address)
        page.reload()
        page.wait_for_selector("body.drawn")
        assert "not on board" in page.inner_text("#shown-plan")
        assert page.evaluate("Resupply.pocket.current") is None
    page.evaluate("() => history.replaceState(null, '', location.pathname)")
    page.reload()
    page.wait_for_selector("body.drawn")


def test_the_map_keeps_its_size_and_is_drawn_once(page):
    size = "[...['clientWidth', 'clientHeight'].map((of) => Resupply.view.map.getContainer()[of])]"
    for part in ("answers", "days"):
        page.evaluate("(part) => Resupply.tabs.open(part)", part)
        before = page.evaluate(size)
        page.evaluate("(key) => Resupply.pocket.show(key)", changes()["rest"].key)
        assert page.evaluate(size) == before
        assert page.locator("#plan-as-made").is_visible()
        page.evaluate("() => Resupply.pocket.show(null)")


def test_with_the_position_known_a_choice_draws_map_strip_and_sheet_once(page):
    page.evaluate("() => Resupply.road.at(50000)")
    page.evaluate("() => Resupply.changed.open()")
    page.evaluate(
        """() => {
          window.drawn = { labels: 0, strip: 0, card: 0, answers: 0 };
          const count = (of, name, as) => {
            const draw = of[name];
            of[name] = (...all) => ((window.drawn[as] += 1), draw(...all));
          };
          count(Resupply.labels, "place", "labels");
          count(Resupply.answers, "panel", "answers");
          Resupply.on("strip", () => (window.drawn.strip += 1));
          Resupply.on("card", (what) => what && (window.drawn.card += 1));
        }"""
    )
    page.click(f'[data-keep="change-{changes()["rest"].key}"]')
    # What lies under the sheet is drawn when the sheet is closed.
    assert page.evaluate("window.drawn") == {"labels": 1, "strip": 1, "card": 1, "answers": 0}
    page.evaluate("() => Resupply.card.close()")
    assert page.evaluate("window.drawn.answers") == 1
    at = "Resupply.plan.legs.at(-1).date"
    assert replanned("rest")["legs"][-1]["date"] == page.evaluate(at)
    page.evaluate("() => { Resupply.road.last = null; }")


def test_a_finger_on_a_choice_has_its_plan_unpacked_before_it_is_lifted(page):
    key = changes()["distance"].key
    page.evaluate("() => Resupply.changed.open()")
    if page.locator("#something-else").count():
        page.click("#something-else")
    page.evaluate(
        "() => { const read = Resupply.readData; window.read = [];"
        " Resupply.readData = (name) => (window.read.push(name), read(name)); }"
    )
    row = page.locator(f'[data-keep="change-{key}"]')
    row.dispatch_event("pointerdown")
    before = page.evaluate("window.read.length")
    row.click()
    assert page.evaluate("window.read.length") == before
    assert page.evaluate("Resupply.pocket.current") == key


def test_a_rest_that_was_not_foreseen_is_fed_from_what_is_spare(page):
    row = next(one for one in demo_pocket().index["plans"] if one["kind"] == "rest")
    page.evaluate("(at_m) => Resupply.road.at(at_m)", row["from_m"] + 2000)
    page.evaluate("(key) => Resupply.changed.open({ key })", row["key"])
    told = page.inner_text(f'[data-keep="change-{row["key"]}"]')
    spare = demo_read().document.spare.meals
    assert spare >= 3
    assert f"which is behind you. Your {spare} spare meals each feed that day." in told
    # Of a camp that is behind nothing is promised.
    page.evaluate("(at_m) => Resupply.road.at(at_m)", demo_read().document.legs[0].end_m + 9000)
    page.evaluate("(key) => Resupply.changed.open({ key })", row["key"])
    told = page.inner_text(f'[data-keep="change-{row["key"]}"]')
    assert "behind you" in told and "spare meals each feed" not in told
    page.evaluate("() => { Resupply.road.last = null; }")


def test_two_changes_at_once_are_said_not_to_be_on_board(page):
    shown(page, changes()["rest"].key)
    page.click("text=Ride this plan")
    shown(page, changes()["shut"].key)
    assert "together is not on board" in page.inner_text("#card")
    page.click("text=Keep the old one")
    assert page.evaluate("Resupply.pocket.current") == changes()["rest"].key


def test_styles_and_distances_elsewhere_on_the_page_show_what_is_on_board(page):
    page.click('[data-keep="style-fresh"]')
    assert page.evaluate("Resupply.pocket.current") == "style-fresh"
    page.evaluate("() => Resupply.chooseStyle('few')")
    assert "not on board" in page.inner_text("#card")
    assert page.evaluate("Resupply.pocket.current") == "style-fresh"
    distance = changes()["distance"]
    page.evaluate("(m) => Resupply.chooseDaily({ daily_m: m })", distance.about["daily_m"] + 1000)
    assert page.evaluate("Resupply.pocket.current") == distance.key
    chosen = "Resupply.plan.sweep.rows.filter((row) => row.chosen).map((row) => row.daily_m)"
    assert set(page.evaluate(chosen)) <= {distance.about["daily_m"]}
    own_m = demo_read().trip.pace.daily_km * 1000
    page.evaluate("(m) => Resupply.chooseDaily({ daily_m: m })", own_m)
    assert page.evaluate("Resupply.pocket.current") is None


def test_what_was_found_on_the_way_opens_the_sheet_at_its_plan(page):
    def found(kind, place):
        page.evaluate(
            "(detail) => document.dispatchEvent(new CustomEvent('resupply-found', { detail }))",
            {"kind": kind, "place": place},
        )
        return page.inner_text("#card")

    found("no_ice", changes()["no_ice"].about["place"])
    asked = page.locator(".change-row.asked")
    assert asked.count() == 1
    assert "No ice at" in asked.inner_text()
    # Where it is bought instead, not its weight alone.
    index, places = demo_pocket().index, to_dict(demo_read().document)["places"]
    then = next(one["ice_at"] for one in index["plans"] if one["kind"] == "no_ice")
    other = [place for place in then if place not in index["plan"]["ice_at"]]
    told = f"ice at {places[other[0]]['name']} (" if other else "ice only at "
    assert told in asked.inner_text()
    assert page.evaluate("Resupply.pocket.current") is None
    page.evaluate("() => Resupply.card.close()")
    tick = "Resupply.ticks.set('shut', { place, name: 'it' }, true, { at_ms: 1, time: '' })"
    page.evaluate(f"(place) => {tick}", changes()["shut"].about["place"])
    assert "is shut" in page.locator(".change-row.asked").inner_text()
    other = demo_read().document.stops[1]
    told = found("shut", other.place)
    assert f"That {other.name} is shut is not on board as a plan" in told
    assert "nothing changes" in found("shut", "node/1")


def test_stretches_of_the_plan_as_made_are_not_drawn_as_those_of_another(page):
    bars = (
        "Resupply.tracks.picture(700, [0, Resupply.length], 'bars', [Resupply.tracks.gaps])"
        ".root.querySelectorAll('.gap-bar').length"
    )
    assert page.evaluate(bars) > 1
    shown(page, changes()["distance"].key)
    assert page.evaluate(bars) == 1
    page.evaluate("() => Resupply.tabs.open('days')")
    assert "the table is of the plan as made" in page.inner_text("#panel-days")


def test_what_is_not_on_board_is_named(page):
    page.click("#chip-changed")
    if page.locator("#something-else").count():
        page.click("#something-else")
    assert "Not on board: " in page.inner_text("#card")


def test_nothing_hangs_over_the_edge(page):
    shown(page, changes()["distance"].key)
    wide = page.evaluate(
        "() => [...document.querySelectorAll('#card *, #shown-plan *')]"
        ".filter((n) => n.getBoundingClientRect().right > innerWidth + 1).map((n) => n.className)"
    )
    assert wide == []


def damaged(text, name):
    """The file with one letter changed in the middle of what it carries packed."""
    start = text.index(">", text.index(f'id="data-{name}"')) + 1
    at = (start + text.index("<", start)) // 2
    return text[:at] + ("A" if text[at] != "A" else "B") + text[at + 1 :]


def test_what_came_damaged_is_told_and_never_shown(browser, tmp_path):
    text, key = page_text(), changes()["rest"].key
    (tmp_path / "all.html").write_text(damaged(text, "plan"), encoding="utf-8")
    (tmp_path / "one.html").write_text(damaged(text, f"pocket-{key}"), encoding="utf-8")
    with Visit(browser, (PHONE["width"], PHONE["height"]), offline=True, is_mobile=True) as visit:
        visit.tab.goto((tmp_path / "all.html").as_uri())
        assert "damaged or not whole" in visit.tab.inner_text("#fault")
        assert visit.tab.evaluate("Resupply.plan") is None
        visit.tab.goto(f"{(tmp_path / 'one.html').as_uri()}#plan={changes()['shut'].key}")
        visit.tab.wait_for_selector("body.drawn")
        visit.tab.evaluate("(key) => Resupply.pocket.show(key)", key)
        assert visit.tab.evaluate("Resupply.pocket.current") is None
        told = visit.tab.inner_text("#shown-plan")
        assert told.startswith("That plan came damaged in this file")
        assert "Shown is the plan as made" in told
        assert visit.faults == []
