"""On the way with the page: where I am, ticks that are kept or said not to be, handing back."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from demo_plans import demo_plan

from resupply.report import page
from resupply.trip.hand_over import read_hand_over

pytestmark = pytest.mark.browser

FULL = """
  const real = Storage.prototype.setItem;
  Storage.prototype.setItem = function (key, value) {
    if (key.includes("found:")) throw new DOMException("full", "QuotaExceededError");
    return real.call(this, key, value);
  };
"""


@pytest.fixture(scope="module")
def coast(tmp_path_factory):
    plan, geo = demo_plan()
    path = tmp_path_factory.mktemp("riding") / "coast.html"
    path.write_text(page.render_page(plan, geo), encoding="utf-8")
    return path


@contextlib.contextmanager
def on_the_phone(browser, path: Path, *, at_km: float, time: str, before: str = ""):
    """The page at 390 px with the network off, the clock and the position as said."""
    _, geo = demo_plan()
    ix = next(i for i, at_m in enumerate(geo["chainage_m"]) if at_m >= at_km * 1000.0)
    context = browser.new_context(
        viewport={"width": 390, "height": 844},
        has_touch=True,
        offline=True,
        accept_downloads=True,
        geolocation={"longitude": geo["lon"][ix], "latitude": geo["lat"][ix]},
        permissions=["geolocation"],
    )
    tab = context.new_page()
    faults: list[str] = []
    tab.on("pageerror", lambda error: faults.append(str(error)))
    tab.on(
        "console",
        lambda told: faults.append(told.text) if told.type in ("error", "warning") else None,
    )
    tab.clock.set_fixed_time(time)
    if before:
        tab.add_init_script(before)
    tab.goto(path.as_uri())
    tab.wait_for_selector("body.drawn")
    yield tab
    context.close()
    assert faults == []


def find_me(tab) -> str:
    tab.evaluate("Resupply.road.open()")
    tab.get_by_role("button", name="Find me").click()
    tab.wait_for_selector(".road-answer .big-line")
    return " ".join(tab.locator(".road-answer").inner_text().split())


def handed_over(tab):
    if not tab.locator("#hand-over").evaluate("node => node.open"):
        tab.click("#hand-over summary")
    with tab.expect_download() as download:
        tab.click("#hand-file")
    assert download.value.suggested_filename == "on-the-road.json"
    text = Path(download.value.path()).read_text("utf-8")
    return read_hand_over(text, where="on-the-road.json")


def planned_l(at_m: float) -> float:
    """Water on board by the plan on the road, litres: what is used from there to the next fill."""
    plan = demo_plan()[0]
    fills = [*(row["start_m"] for row in plan["water"]["fills"]), plan["legs"][-1]["end_m"]]
    next_m = min(fill_m for fill_m in fills if fill_m > at_m)
    litres = 0.0
    for leg, day in zip(plan["legs"], plan["water"]["litres_by_day"], strict=True):
        part_m = min(next_m, leg["end_m"]) - max(at_m, leg["start_m"])
        litres += day["road_l"] * max(part_m, 0.0) / (leg["end_m"] - leg["start_m"])
        if at_m < leg["end_m"] < next_m - 500 and leg is not plan["legs"][-1]:
            litres += day["camp_l"]
    return litres


def test_a_shut_shop_is_ticked_kept_told_and_handed_back(browser, coast):
    stop = demo_plan()[0]["stops"][0]
    with on_the_phone(browser, coast, at_km=448, time="2027-07-10T15:20:00Z") as tab:
        said = find_me(tab)
        assert " min behind the plan" in said
        # Passed and not ticked: counted as planned, and said so.
        assert f"Counted as bought as planned, not ticked: {stop['name']}." in said
        full = tab.evaluate("Resupply.riding.told(Resupply.road.last).food_meals")
        tab.evaluate(
            "document.addEventListener('resupply-found', (e) => (window.heard = e.detail))"
        )
        tab.evaluate("Resupply.view.openStop(Resupply.plan.stops[0])")
        tab.click("[data-keep^='tick-shut']")
        assert tab.evaluate("window.heard") == {"kind": "shut", "place": stop["place"]}
        tab.reload()
        tab.wait_for_selector("body.drawn")
        said = find_me(tab)
        assert "Not saved" not in said
        assert stop["name"] not in said.split("What still fits")[0]
        assert "too little to stop 2" in said
        told = handed_over(tab)
        assert told.shut == (stop["place"],)
        assert (told.ticks[0].kind, told.ticks[0].name) == ("shut", stop["name"])
        assert told.time.isoformat() == "2027-07-10T15:20:00"
        assert abs((told.at_m or 0) - 448_000) < 400
        assert told.lat is not None
        assert told.food_meals == full - stop["carry_meals"]
        # The link holds the same.
        tab.click("#hand-show")
        assert read_hand_over(tab.locator("#hand-link").input_value(), where="link") == told


def test_a_full_store_is_said_and_the_tick_is_handed_back_all_the_same(browser, coast):
    with on_the_phone(browser, coast, at_km=447, time="2027-07-10T14:20:00Z", before=FULL) as tab:
        tab.evaluate("Resupply.view.openStop(Resupply.plan.stops[0])")
        tab.click("[data-keep^='tick-bought']")
        assert "Not saved" in tab.locator("#card").inner_text()
        assert tab.locator("[data-keep^='tick-bought']").get_attribute("aria-pressed") == "true"
        assert "Not saved" in find_me(tab)
        assert [tick.kind for tick in handed_over(tab).ticks] == ["bought"]


def test_a_tap_on_the_route_is_a_place_to_be_at_and_what_is_typed_is_handed_over(browser, coast):
    # By the clock the first stop is behind, by the place it is not: the large pin follows.
    with on_the_phone(browser, coast, at_km=0, time="2027-07-10T16:00:00Z") as tab:
        by_clock = tab.locator("#strip .pin-next").bounding_box()["x"]
        tab.evaluate(
            "const draw = () => Resupply.popups.here(3e5);"
            "Resupply.card.open({ key: 'here', tab: 'days', draw })"
        )
        tab.click("#at-here")
        assert "km 300, day 2" in tab.locator(".road-answer").inner_text()
        assert tab.locator("#strip .pin-next").bounding_box()["x"] < by_clock - 20
        # Today's meals, and what is on board as the rider says.
        dinner = tab.locator("#road-meals [data-keep*='dinner']")
        dinner.click()
        assert dinner.get_attribute("aria-pressed") == "true"
        tab.click("#hand-over summary")
        before = handed_over(tab)
        tab.fill("#stock-water_l", "3.5")
        tab.fill("#stock-food_meals", "2")
        tab.locator("#stock-food_meals").blur()
        told = handed_over(tab)
        # Nobody ticked anything: what the plan has on board there.
        assert before.water_l == pytest.approx(planned_l(300_000), abs=0.11)
        assert (told.water_l, told.food_meals) == (3.5, 2)
        assert (told.at_m, told.lat) == (300_000, None)
        assert [tick.kind for tick in told.ticks] == ["eaten"]
        # In the rider's own units, and handed over in the plan's.
        tab.evaluate("Resupply.card.close()")
        tab.click("#open-switches")
        tab.click("[data-keep='switch-units-imperial']")
        tab.evaluate("Resupply.road.open()")
        tab.click("#hand-over summary")
        labels = tab.locator("#hand-over label").all_inner_texts()
        assert [label.rsplit(", ")[-1] for label in labels[1:]] == ["lb", "mi", "gal"]
        fuel_km = told.fuel_km or 0.0
        assert int(tab.input_value("#stock-fuel_km")) == int(fuel_km / 1.609344)
        assert tab.input_value("#stock-water_l") == "0.9"
        assert handed_over(tab).water_l == 3.5
        tab.fill("#stock-water_l", "2")
        tab.locator("#stock-water_l").blur()
        assert handed_over(tab).water_l == pytest.approx(7.5708, abs=1e-3)
        # Filled up there and then: told to be ticked, counted from here, and handed over.
        plan = demo_plan()[0]
        camps = (
            one for one in plan["passes"] if "camp" in plan["places"][one["place"]]["supplies"]
        )
        crossing = next(camps)
        tab.evaluate("(one) => Resupply.view.openPass(one)", crossing)
        tab.click("[data-keep^='tick-filled']")
        tab.evaluate("(at_m) => Resupply.road.at(at_m)", crossing["chainage_m"] + 900)
        told_water = tab.locator("#road-water").inner_text()
        assert "left for all" in told_water
        tab.click("#hand-over summary")
        assert "filled" in [tick.kind for tick in handed_over(tab).ticks]
