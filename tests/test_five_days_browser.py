"""A trip of five days ridden with the page alone: no network, and four things other than planned.

A storm day, a shut shop, ice that is not there, a shorter day. After each the screens are held
against the planner's own document for that change.
"""

from __future__ import annotations

import datetime as dt
import itertools
import json
from collections import Counter

import numpy as np
import pytest
from demo_plans import demo_read
from pocket_plans import KINDS, changes, demo_pocket, replanned

from resupply.api.in_the_pocket import changed, changes_of
from resupply.report.document.model.as_json import to_dict
from resupply.report.drawn import drawn
from resupply.report.page import render_page
from resupply.report.pocket import PocketPacker, in_pocket
from resupply.trip.hand_over import read_hand_over

pytestmark = pytest.mark.browser


# A position of a moment ago is as good as a new one to the page, but not to a test.
FRESH = """
  const ask = Geolocation.prototype.getCurrentPosition;
  Geolocation.prototype.getCurrentPosition = function (found, failed, how) {
    return ask.call(this, found, failed, { ...how, maximumAge: 0 });
  };
"""


# Everything there is to read: each part, the sheet of each stop, the strip, the map, the paper.
# In any order: what an object of one plan has more of than another comes last in a list.
SCREENS = """() => {
  const told = {};
  const texts = (node) => {
    const walk = document.createTreeWalker(node, NodeFilter.SHOW_TEXT);
    const found = [];
    while (walk.nextNode()) if (walk.currentNode.data.trim()) found.push(walk.currentNode.data);
    return found.sort();
  };
  const of = (id) => texts(document.getElementById(id));
  Resupply.card.close();
  for (const id of ["answers", "days", "lists", "kitchen", "notes"]) {
    Resupply.tabs.open(id);
    told[id] = of(`panel-${id}`);
  }
  for (const stop of Resupply.plan.stops) {
    Resupply.view.openStop(stop);
    told[`stop ${stop.number}`] = of("card");
  }
  Resupply.road.open();
  told.here = texts(document.querySelector(".road-answer"));
  Resupply.card.close();
  told.strip = of("strip");
  told.map = [...document.querySelectorAll("[data-pin]")].map((n) => n.dataset.pin).sort();
  dispatchEvent(new Event("beforeprint"));
  told.paper = of("sheet");
  return told;
}"""
# Of the page with plans on board alone: the way to them, and which one is shown.
OF_THE_POCKET = {
    "What has changed?",
    "The longest is of the plan that is shown; the table is of the plan as made.",
}


class Ride:
    """The phone, where it is and when; beside it a page that was made of the planner's answer."""

    def __init__(self, browser, path, fresh, read=None) -> None:
        read = read or demo_read()
        self.geo, self.made = read.geometry, drawn(to_dict(read.document))
        self.context = browser.new_context(
            viewport={"width": 390, "height": 844},
            has_touch=True,
            offline=True,
            permissions=["geolocation"],
        )
        self.tab = self.context.new_page()
        self.tab.set_default_timeout(20_000)
        self.tab.add_init_script(FRESH)
        self.faults: list[str] = []
        self.requests: list[str] = []
        self.tab.on("pageerror", lambda error: self.faults.append(str(error)))
        self.tab.on("request", lambda asked: self.requests.append(asked.url))
        self.tab.clock.set_fixed_time("2027-07-09T06:00:00Z")
        self.tab.goto(path.as_uri())
        self.tab.wait_for_selector("body.drawn")
        self.shut: set[str] = set()
        self.fresh = self.context.new_page()
        self.fresh.on("pageerror", lambda error: self.faults.append(str(error)))
        self.fresh.clock.set_fixed_time("2027-07-09T06:00:00Z")
        self.fresh.goto(fresh.as_uri())
        self.fresh.wait_for_selector("body.drawn")
        self.tab.bring_to_front()

    def same_as_fresh(self, plan, here_m: float, now_s: float) -> None:
        """Every screen reads as on the page of a fresh plan, at the same place and time."""
        self.fresh.clock.set_fixed_time(dt.datetime.fromtimestamp(now_s, dt.UTC))
        day = self.tab.evaluate("Resupply.strip.day")
        self.fresh.evaluate(
            "([plan, day]) => { Resupply.strip.day = day; Resupply.show(plan, Resupply.geo); }",
            [in_pocket(plan, self.made), day],
        )
        ticks = self.tab.evaluate("Resupply.ticks.all()")
        self.fresh.evaluate(
            "(all) => all.forEach((one) => Resupply.ticks.set(one.kind, one, true, one))", ticks
        )
        self.fresh.evaluate("(at_m) => Resupply.road.at(at_m)", here_m)
        wanted, read = (tab.evaluate(SCREENS) for tab in (self.fresh, self.tab))
        assert wanted.keys() == read.keys()
        # The paper says which plan it is.
        shown = self.tab.evaluate("document.querySelector('#shown-plan b')?.textContent")
        shown = f" · {shown}" if shown else ""
        for screen, texts in wanted.items():
            assert len(texts) > 3, screen
            found = [text.removesuffix(shown) for text in read[screen] if text not in OF_THE_POCKET]
            more, less = Counter(found), Counter(texts)
            assert more == less, (screen, more - less, less - more)

    def stand(self, plan, at_m: float, now_s: float) -> None:
        """Say where we are, and hold every screen against the fresh plan's."""
        self.tab.clock.set_fixed_time(dt.datetime.fromtimestamp(now_s, dt.UTC))
        self.tab.evaluate("(at_m) => Resupply.road.at(at_m)", at_m)
        self.same_as_fresh(plan, at_m, now_s)

    def at(self, chainage_m: float, now_s: float) -> str:
        """Ride to a place and ask the page where we are."""
        lon, lat = (
            float(np.interp(chainage_m, self.geo["chainage_m"], self.geo[key]))
            for key in ("lon", "lat")
        )
        place = {"longitude": lon, "latitude": lat}
        self.context.set_geolocation(place)
        self.tab.clock.set_fixed_time(dt.datetime.fromtimestamp(now_s, dt.UTC))
        self.tab.evaluate("Resupply.card.close()")
        self.tab.evaluate("Resupply.tabs.open('answers')")
        self.tab.click("#open-road")
        self.tab.get_by_role("button", name="Find me").click()
        self.tab.wait_for_selector(".road-answer .big-line, .road-answer button")
        return " ".join(self.tab.locator(".road-answer").inner_text().split())

    def choose(self, key: str) -> None:
        row = self.tab.locator(f'[data-keep="change-{key}"]')
        if not row.count():
            self.tab.click("#something-else")
        row.click()

    def open_pass(self, key: str) -> None:
        """Open the sheet of a place that is passed."""
        self.tab.evaluate(
            "(id) => Resupply.card.open({ key: 'pass', tab: 'lists',"
            " draw: () => Resupply.popups.pass(Resupply.passById.get(id)) })",
            key,
        )

    def agrees(self, plan, here_m: float, now_s: float) -> None:
        """Every screen says what the planner's document says."""
        said = self.at(here_m, now_s)
        found_m = self.tab.evaluate("Resupply.road.last")
        assert abs(found_m - here_m) < 500
        ahead = [
            stop
            for stop in plan["stops"]
            if stop["chainage_m"] > found_m + 50 and stop["place"] not in self.shut
        ]
        if ahead:
            first = ahead[0]
            name = plan["places"][first["place"]]["name"]
            assert f"Stop {first['number']} {name} in" in said
        else:
            assert "No more shop stops are planned" in said
        meals = self.meals(plan, found_m, now_s)
        assert f"{meals} meal" in said or not meals
        behind_s = now_s - self.due_s(plan, found_m)
        assert ("As planned by the clock" in said) == (abs(behind_s) < 300), behind_s
        if 300 < behind_s < 40 * 3600:
            assert "behind the plan" in said
        self.same_as_fresh(plan, found_m, now_s)
        self.tab.evaluate("Resupply.tabs.open('answers')")
        answer = self.tab.locator("#panel-answers").inner_text()
        assert (name if ahead else "No") in answer
        self.tab.evaluate("Resupply.tabs.open('days')")
        days = self.tab.locator("#panel-days").inner_text()
        for leg in plan["legs"]:
            date = dt.date.fromisoformat(leg["date"])
            assert f"{date:%a} {date.day}" in days
            assert f"{leg['length_m'] / 1000:.0f} km" in days
        tonight = next(leg for leg in plan["legs"] if leg["end_m"] > found_m)
        self.tab.click(f"[data-keep='day-{tonight['number']}']")
        assert (tonight["night"]["name"] or "") in self.tab.locator("#card").inner_text()
        self.tab.evaluate("Resupply.card.close()")
        self.tab.evaluate("Resupply.tabs.open('lists')")
        lists = self.tab.locator("#panel-lists").inner_text()
        assert all(stop["name"] in lists for stop in plan["stops"])
        assert self.tab.locator("#strip .day-band").count() == len(plan["legs"])

    def meals(self, plan, here_m: float, now_s: float) -> int:
        """Meals on board by the plan, without what was to be bought behind a shut door."""
        meals = plan["carry_profile"][0]["meals"]
        for step in plan["carry_profile"][1:]:
            near = abs(step["chainage_m"] - here_m) <= 1000
            if not (step["at_s"] <= now_s if near else step["chainage_m"] < here_m):
                continue
            stop = plan["stops"][step["stop"] - 1] if "stop" in step else None
            if stop is None:
                meals = max(meals - 1, 0)
            elif stop["place"] not in self.shut:
                meals = max(meals, stop["carry_meals"] + plan["spare"]["meals"])
        return meals

    @staticmethod
    def due_s(plan, at_m: float) -> float:
        leg = next(leg for leg in plan["legs"] if at_m <= leg["end_m"] + 0.5)
        table = leg["arrivals"]
        return float(np.interp(at_m, table["chainage_m"], table["arrive_s"]))


@pytest.fixture(scope="module")
def paths(tmp_path_factory):
    folder = tmp_path_factory.mktemp("five_days")
    return written(folder, demo_read(), demo_pocket(), replanned("style"))


def written(folder, read, pocket, other):
    """The page with plans on board, and one of another plan alone."""
    path, fresh = folder / "plan.html", folder / "fresh.html"
    text = render_page(to_dict(read.document), read.geometry, pocket=pocket)
    path.write_text(text, encoding="utf-8")
    fresh.write_text(render_page(other, read.geometry), encoding="utf-8")
    return path, fresh


@pytest.mark.long
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_late_by_two_hours_and_at_night_every_plan_reads_as_a_fresh_one(browser, paths, units):
    ride = Ride(browser, *paths)
    for tab in (ride.tab, ride.fresh):
        tab.click("#open-switches")
        tab.click(f"[data-keep='switch-units-{units}']")
    for kind in KINDS:
        plan = replanned(kind)
        ride.tab.evaluate("(key) => Resupply.pocket.show(key)", changes()[kind].key)
        for leg, after in itertools.pairwise(plan["legs"]):
            on_m = (leg["start_m"] + leg["end_m"]) / 2
            ride.stand(plan, on_m, Ride.due_s(plan, on_m) + 7200)
            night_s = (after["arrivals"]["arrive_s"][0] + leg["arrivals"]["arrive_s"][-1]) / 2
            ride.stand(plan, leg["end_m"], night_s)
    assert ride.faults == []
    ride.context.close()


@pytest.mark.long
def test_on_a_road_ridden_twice_every_plan_reads_as_a_fresh_one(browser, tmp_path):
    read = demo_read("there_and_back")
    packer, plans = PocketPacker(to_dict(read.document)), {}
    for change in changes_of(read)[::4]:
        plans[change.key] = to_dict(changed(read, change).pocket_document())
        packer.add(change, *packer.pack(plans[change.key]))
    other = to_dict(changed(read, changes_of(read)[1]).pocket_document())
    ride = Ride(browser, *written(tmp_path, read, packer.packed(), other), read)
    for key, plan in plans.items():
        ride.tab.evaluate("(key) => Resupply.pocket.show(key)", key)
        for leg in plan["legs"]:
            on_m = leg["start_m"] + 0.7 * (leg["end_m"] - leg["start_m"])
            ride.stand(plan, on_m, Ride.due_s(plan, on_m) + 60)
    assert ride.faults == []
    ride.context.close()


def test_five_days_with_four_surprises_end_where_the_planner_says(browser, paths):
    ride = Ride(browser, *paths)
    tab, made = ride.tab, to_dict(demo_read().document)

    # Day 1 as planned.
    on_the_way_m = made["legs"][0]["end_m"] / 2
    ride.agrees(made, on_the_way_m, Ride.due_s(made, on_the_way_m) + 60)

    # In camp in the evening: a storm is coming, tomorrow nobody rides.
    stormy = replanned("rest")
    tab.evaluate("Resupply.tabs.open('answers')")
    tab.click("#chip-changed")
    ride.choose(changes()["rest"].key)
    tab.click("text=Ride this plan")
    then_m = stormy["legs"][1]["start_m"] + 30_000
    assert stormy["legs"][1]["rest_days_before"] == 1
    ride.agrees(stormy, then_m, Ride.due_s(stormy, then_m) + 60)

    # The shop is shut. Both at once is not on board, and that is said.
    place = changes()["shut"].about["place"]
    stop = next(one for one in stormy["passes"] if one["place"] == place)
    ride.at(stop["chainage_m"] - 200, Ride.due_s(stormy, stop["chainage_m"]) + 600)
    ride.open_pass(stop["id"])
    tab.click("[data-keep^='tick-shut']")
    ride.shut.add(place)
    ride.choose(changes()["shut"].key)
    assert "together is not on board" in tab.locator("#card").inner_text()
    without = replanned("shut")
    on_m = stop["chainage_m"] + 20_000
    ride.agrees(without, on_m, Ride.due_s(without, on_m) + 86_400 / 2)

    # No ice where it was likely.
    iceless = replanned("no_ice")
    row = next(
        one
        for one in made["ice"]["stops"]
        if next(p for p in made["passes"] if p["id"] == one["pass"])["place"]
        == changes()["no_ice"].about["place"]
    )
    tab.evaluate("Resupply.pocket.show(null)")
    ride.open_pass(row["pass"])
    tab.click("[data-keep^='tick-no_ice']")
    ride.choose(changes()["no_ice"].key)
    later_m = row["chainage_m"] + 15_000
    ride.agrees(iceless, later_m, Ride.due_s(iceless, later_m) + 60)
    bought = sum(buy["kg"] for one in iceless["ice"]["stops"] for buy in one["buy"])
    assert bought == tab.evaluate(
        "Resupply.plan.ice.stops.flatMap((one) => one.buy).reduce((kg, buy) => kg + buy.kg, 0)"
    )

    # Tired: a shorter day, and so to the end.
    shorter = replanned("distance")
    tab.evaluate("Resupply.changed.open()")
    ride.choose(changes()["distance"].key)
    late_m = shorter["legs"][-1]["start_m"] + 5_000
    ride.agrees(shorter, late_m, Ride.due_s(shorter, late_m) + 60)

    # What was found goes home with the rider.
    ride.at(late_m, Ride.due_s(shorter, late_m) + 60)
    told = read_hand_over(
        json.dumps(tab.evaluate("Resupply.riding.told(Resupply.road.last)")), where="phone"
    )
    assert told.shut == (place,)
    assert told.no_ice == (changes()["no_ice"].about["place"],)
    assert ride.faults == []
    assert [url for url in ride.requests if not url.startswith(("file:", "data:", "blob:"))] == []
    ride.context.close()
