"""Plans for the way: which there are, that each is the planner's own, and how they are packed."""

from __future__ import annotations

import datetime as dt
import json
import os
import random
import re
import shutil
import subprocess
from dataclasses import replace

import pytest
from command_line import PLAIN as PLAIN_TRIP
from command_line import run
from conftest import ROOT
from demo_plans import SAMPLES, demo_read
from hypothesis import given
from hypothesis import strategies as st
from pocket_plans import KINDS, all_changes, changes, demo_pocket, replanned, unpacked
from read_differences import with_differences

from resupply.api import in_the_pocket
from resupply.api.again import prepared_for
from resupply.api.plan_object import plan_prepared
from resupply.common.errors import TripFileError
from resupply.plan.pocket import PocketChange, kept_changes, pocket_changes
from resupply.report.differences import Against
from resupply.report.document.model.as_json import to_dict
from resupply.report.drawn import drawn
from resupply.report.page import render_page
from resupply.report.pocket import PocketPacker, facts_of, in_pocket
from resupply.trip.read_file import load_trip


@pytest.fixture(scope="module")
def made():
    return drawn(to_dict(demo_read().document))


def keys_of(kind):
    return [one.key for one in all_changes() if one.kind == kind]


# Which plans there are


def test_each_shop_each_night_and_each_style_may_be_otherwise():
    plan = demo_read().document
    assert keys_of("shut") == [f"shut-{stop.place}" for stop in plan.stops]
    assert keys_of("rest") == [f"rest-{leg.number}" for leg in plan.legs[:-1]]
    assert keys_of("style") == ["style-fresh", "style-few"]
    assert keys_of("no_ice")


def test_at_least_nine_distances_lie_around_the_chosen_one():
    daily_km = [one.settings["pace.daily_km"] for one in all_changes() if one.kind == "distance"]
    own_km = demo_read().trip.pace.daily_km
    assert len(set(daily_km)) >= 9
    assert sum(km < own_km for km in daily_km) >= 4
    assert sum(km > own_km for km in daily_km) >= 4


@pytest.mark.parametrize("daily_km", [25.0, 45.0, 99.0, 100.0, 300.0])
def test_on_short_days_and_long_ones_too_nine_distances_lie_around(daily_km):
    trip = demo_read().trip
    pace = trip.pace.model_copy(update={"daily_km": daily_km})
    other = replace(demo_read().trip_plan, trip=trip.model_copy(update={"pace": pace}))
    told = [one.about["daily_m"] for one in pocket_changes(other, ()) if one.kind == "distance"]
    assert len(set(told)) >= 9
    assert all(0.5 <= one / (1000 * daily_km) <= 1.3 for one in told)


def test_far_distances_are_needed_least_and_then_ice():
    kinds = [one.kind for one in all_changes()]
    ice = kinds.index("no_ice")
    assert set(kinds[ice + kinds.count("no_ice") :]) == {"distance"}
    assert kinds[:ice].count("distance") == 4
    own_m = demo_read().trip.pace.daily_km * 1000
    away = [abs(one.about["daily_m"] - own_m) for one in all_changes() if one.kind == "distance"]
    assert max(away[:4]) <= min(away[4:])


def test_a_number_bounds_the_plans():
    kept, over = kept_changes(all_changes(), 3)
    assert len(kept) == 3
    assert kept + over == all_changes()


# Each is the planner's own


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_unpacked_is_what_the_planner_made(kind, made):
    pocket = demo_pocket()
    told = unpacked(pocket.plans[changes()[kind].key])
    read = with_differences(made, told, pocket.index["looked_through"])
    planned = replanned(kind)
    assert read == in_pocket(planned, made)
    assert read != made
    # Nothing of it is the plan's as made but what the page says is.
    own = planned.keys() - {"gaps", "sweep"}
    assert [key for key in sorted(own) if read[key] != planned[key]] == []
    for key, block in planned["gaps"].items():
        assert read["gaps"][key]["longest"] == block["longest"]


@pytest.mark.parametrize("kind", ["distance", "rest", "shut"])
def test_it_rides_as_a_trip_with_that_setting_does(kind):
    read = demo_read()
    trip = load_trip(SAMPLES / "coast_loop.toml", changes()[kind].settings)
    prepared = prepared_for(read.prepared, read.trip, trip)
    alone = to_dict(plan_prepared(prepared, trip, SAMPLES).pocket_document())
    pocket = replanned(kind)
    assert pocket["legs"] == alone["legs"]
    assert pocket["carry_profile"] == alone["carry_profile"]
    assert pocket["styles"] == alone["styles"]
    assert [row["eta"] for row in pocket["passes"]] == [row["eta"] for row in alone["passes"]]
    assert pocket["gaps"]["groceries"]["longest"] == alone["gaps"]["groceries"]["longest"]


def test_a_shut_shop_is_no_stop_and_its_plan_has_one_more_day_of_rest():
    shut = changes()["shut"].about["place"]
    assert shut not in {stop["place"] for stop in replanned("shut")["stops"]}
    last = dt.date.fromisoformat(replanned("rest")["legs"][-1]["date"])
    assert last - dt.date.fromisoformat(str(demo_read().document.legs[-1].date)) == dt.timedelta(1)


def test_ice_that_is_not_there_is_bought_nowhere_near():
    place = changes()["no_ice"].about["place"]
    plan = replanned("no_ice")
    place_of = {row["id"]: row["place"] for row in plan["passes"]}
    assert place not in {place_of[stop["pass"]] for stop in plan["ice"]["stops"]}


@pytest.mark.parametrize("kind", KINDS)
def test_no_plan_for_the_way_reassures_more_than_the_doors_and_the_map_allow(kind):
    plan, own = replanned(kind), to_dict(demo_read().document)
    passes = {row["id"]: row for row in plan["passes"]}
    judged = 0
    for row in passes.values():
        if not plan["places"][row["place"]].get("opening_hours"):
            assert row["state"] in ("unknown", "usually_open", "usually_shut"), row
        if row["state"] == "open" and (doors := row.get("doors")):
            early, late = (
                dt.datetime.fromisoformat(row[key]).timestamp() for key in ("eta_early", "eta_late")
            )
            # Times in a plan are cut to the minute.
            assert any(a <= early + 60.0 and late <= b + 60.0 for a, b in doors["open"]), row
            judged += 1
    assert judged > 10
    gone = changes()[kind].about["place"] if kind == "shut" else None
    for stop in plan["stops"]:
        assert stop["state"] not in ("shut", "usually_shut")
        fallback = stop["fallback"].get("pass")
        assert gone is None or fallback is None or passes[fallback]["place"] != gone
    assert plan["coverage"]["words"] == own["coverage"]["words"]
    for row in plan["ice"]["stops"]:
        assert row["confidence"] == "stated" or "likely" in json.dumps(row["words"])


def test_dishes_stay_where_they_may():
    def dishes(plan):
        return [
            meal["dish"] and meal["dish"]["id"]
            for day in plan["menu"]["days"]
            for meal in day["meals"]
        ]

    own = dishes(to_dict(demo_read().document))
    kept = [a == b for a, b in zip(own, dishes(replanned("style")), strict=True)]
    assert sum(kept) >= 0.7 * len(kept)


# What is told before one is chosen


def test_the_facts_stand_in_the_plans(made):
    index = demo_pocket().index
    assert index["plan"] == facts_of(made)
    for row in index["plans"]:
        plan = replanned(row["kind"])
        assert row["stops_m"] == [stop["chainage_m"] for stop in plan["stops"]]
        assert row["stops_at"] == [stop["place"] for stop in plan["stops"]]
        named = {*row["stops_at"], *row["ice_at"]}
        assert named <= set(made["places"]), "the sheet names them"
        place_of = {one["id"]: one["place"] for one in plan["passes"]}
        bought = [one for one in plan["ice"]["stops"] if one["buy"]]
        assert row["ice_m"] == [one["chainage_m"] for one in bought]
        assert row["ice_at"] == [place_of[one["pass"]] for one in bought]
        assert row["last_date"] == plan["legs"][-1]["date"]
        assert row["ice_kg"] == sum(b["kg"] for s in plan["ice"]["stops"] for b in s["buy"])
        assert row["minutes"] == next(one["minutes"] for one in plan["styles"] if one["chosen"])


def test_where_two_plans_part_is_told(made):
    rows = {row["kind"]: row for row in demo_pocket().index["plans"]}
    for kind, row in rows.items():
        before = [
            [
                (s["place"], s["carry_meals"])
                for s in plan["stops"]
                if s["chainage_m"] < row["from_m"]
            ]
            for plan in (made, replanned(kind))
        ]
        assert before[0] == before[1], kind
    packer = PocketPacker(made)
    packer.add(PocketChange("style", {}, {"style": "balanced"}), *packer.pack(made))
    assert packer.packed().index["plans"][0]["from_m"] is None


# Room


def test_where_there_is_no_room_the_least_needed_is_left_out_and_named(made):
    distance = [one for one in all_changes() if one.kind == "distance"][:3]
    whole = PocketPacker(made)
    for one in distance:
        whole.add(one, *whole.pack(replanned("distance")))
    size = len(whole.packed().plans[distance[0].key].text)
    packer = PocketPacker(made, room=2 * size + 10)
    for one in distance:
        packer.add(one, *packer.pack(replanned("distance")))
    pocket = packer.packed([changes()["no_ice"]])
    assert list(pocket.plans) == [one.key for one in distance[:2]]
    left_out = [one["key"] for one in pocket.index["left_out"]]
    assert left_out == [distance[2].key, changes()["no_ice"].key]
    assert sum(len(one.text) for one in pocket.plans.values()) <= 2 * size + 10


def test_a_plan_that_cannot_be_made_is_named_and_the_others_are_made(monkeypatch):
    other, one = all_changes()[:2]

    def fails(plan, change):
        if change is one:
            raise TripFileError("no such trip", key="shops.gone")
        return real(plan, change)

    real = in_the_pocket.changed
    monkeypatch.setattr(in_the_pocket, "changed", fails)
    monkeypatch.setattr(in_the_pocket, "changes_of", lambda plan: (one, other))
    packer = PocketPacker(to_dict(demo_read().document))
    told = []
    pocket = in_the_pocket.pocket_of(demo_read(), lambda what, share: told.append((what, share)))
    assert pocket.plans == {other.key: packer.pack(replanned(other.kind))[1]}
    assert [row["key"] for row in pocket.index["left_out"]] == [one.key]
    assert told == [("Plans for the way, 1 of 2", 0.0), ("Plans for the way, 2 of 2", 0.5)]


# Files


def test_the_command_writes_the_map_first_and_then_the_plans_into_it(tmp_path, monkeypatch):
    monkeypatch.setattr(in_the_pocket, "changes_of", lambda plan: all_changes()[:1])
    done = run("demo", "--out", tmp_path, pocket=True)
    assert done.returncode == 0, done.stderr
    last = done.stdout.rstrip().splitlines()[-1]
    assert last.startswith("Plans for the way in it: 1;")
    assert last.isascii()
    html = (tmp_path / "plan.html").read_text("utf-8")
    assert re.findall('id="data-pocket-([^"]+)"', html) == [all_changes()[0].key]


def test_stopped_while_they_are_made_the_map_is_whole_without_them(tmp_path, monkeypatch):
    def stopped(plan):
        raise KeyboardInterrupt

    monkeypatch.setattr(in_the_pocket, "changes_of", stopped)
    done = run("plan", SAMPLES / "coast_loop.toml", *PLAIN_TRIP, "--out", tmp_path, pocket=True)
    assert done.returncode != 0
    assert "Traceback" not in done.stderr
    html = (tmp_path / "plan.html").read_text("utf-8")
    assert html.rstrip().endswith("</html>")
    assert "data-pocket" not in html


def test_the_key_turns_them_off(tmp_path):
    off = (*PLAIN_TRIP, "--set", "show.pocket_plans=false")
    done = run("plan", SAMPLES / "coast_loop.toml", *off, "--out", tmp_path, pocket=True)
    assert done.returncode == 0, done.stderr
    assert "data-pocket" not in (tmp_path / "plan.html").read_text("utf-8")


def test_a_hostile_id_does_not_leave_its_attribute(made):
    packer = PocketPacker(made)
    evil = 'node/1"><script>broken()</script>'
    packer.add(PocketChange("shut", {}, {"place": evil}), *packer.pack(replanned("style")))
    html = render_page(to_dict(demo_read().document), demo_read().geometry, pocket=packer.packed())
    assert "<script>broken" not in html


# Differences


TEXTS = st.sampled_from(
    ["", "open till", "2027-07-09", "2027-07-09T08:30-02:00", "2027-07-09T08:30:15+00:00",
     "2027-02-30", "2027-07-09T24:00-02:00", "node/12", "Mercado do Farol, by the old harbour"]
)  # fmt: skip
NUMBERS = st.one_of(
    st.integers(-300, 300),
    st.sampled_from([2**53, -(2**60), 0.1, 2.5, -7.25, 1 / 3, 1e300, 3.0]),
)
VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), NUMBERS, TEXTS),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.sampled_from(["place", "at", "t", "1", "words"]), inner, max_size=4),
    ),
    max_leaves=12,
)
DOCUMENTS = st.dictionaries(st.sampled_from(["a", "b", "rows"]), VALUES, max_size=3)


@given(DOCUMENTS, DOCUMENTS)
def test_any_document_is_read_back_from_its_differences(other, document):
    told = json.loads(Against(other, sorted(other)).differences(document))
    read = with_differences(other, told, sorted(other))
    assert read == document
    assert json.dumps(read).count("true") == json.dumps(document).count("true")


NODE_READS = """
const assert = require("node:assert");
const R = require(process.argv[1]).load("differences.js");
for (const { other, told, document } of JSON.parse(require("node:fs").readFileSync(0)))
  assert.deepEqual(R.against(other, Object.keys(other).sort())(told), document);
"""


PLAIN = (
    *(None, True, False, 3, -70, 2.5, 0.1, "", "p12", "p13", "2027-07-11"),
    *("2027-07-09T08:30-02:00", "2027-07-11T09:15:02+00:00", "a sentence that stands elsewhere"),
)


@pytest.mark.skipif(shutil.which("node") is None, reason="Node is not installed")
def test_the_script_of_the_page_reads_back_what_the_second_reader_reads():
    drawn_from = random.Random(4004)

    def value(depth):
        kind = drawn_from.randrange(9 if depth else 6)
        if kind >= 7:
            return {key: value(depth - 1) for key in drawn_from.sample("abcde", 3)} | {"place": "x"}
        if kind == 6:
            return [value(depth - 1) for _ in range(drawn_from.randrange(7))]
        return drawn_from.choice(PLAIN)

    def changed(one):
        if drawn_from.random() < 0.2:
            return value(2)
        if isinstance(one, dict):
            return {key: changed(inner) for key, inner in one.items() if drawn_from.random() > 0.1}
        if isinstance(one, list):
            return [changed(inner) for inner in one if drawn_from.random() > 0.1]
        return one

    cases = []
    for _ in range(120):
        other = {key: value(4) for key in "abc"}
        document = {key: changed(inner) for key, inner in other.items()}
        told = json.loads(Against(other, sorted(other)).differences(document))
        assert with_differences(other, told, sorted(other)) == document
        cases.append({"other": other, "told": told, "document": document})
    later = [table(range(300), 0), table([n for n in range(300) if n % 50], 61)]
    told = json.loads(Against(later[0], ["passes"]).differences(later[1]))
    cases.append({"other": later[0], "told": told, "document": later[1]})
    done = subprocess.run(
        ["node", "-e", NODE_READS, str(ROOT / "tests/node/load.js")],
        input=json.dumps(cases), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def table(rows, late):
    def row(n):
        minute = n + late
        clock = f"{8 + minute // 60 % 12:02}:{minute % 60:02}"
        return {
            "id": f"p{n}",
            "place": f"node/{n // 2}",
            "at": 100 * n + (n % 3),
            "eta": f"2027-07-{9 + n // 100:02}T{clock}-01:00",
            "state": ("open", "shut")[minute // 7 % 2],
        }

    return {"passes": [row(n) for n in rows]}


def test_a_table_that_comes_an_hour_later_is_told_in_a_few_words():
    one, later = table(range(300), 0), table(range(300), 60)
    told = Against(one, []).differences(later)
    assert with_differences(one, json.loads(told), []) == later
    assert len(told) < 0.2 * len(json.dumps(later))


def test_rows_that_went_are_told_against_those_that_stay():
    one, fewer = table(range(300), 0), table([n for n in range(300) if n not in (40, 41)], 0)
    told = Against(one, []).differences(fewer)
    assert with_differences(one, json.loads(told), []) == fewer
    assert len(told) < 0.1 * len(json.dumps(fewer))


# Several processes


def test_two_processes_make_what_one_makes_also_where_one_of_them_is_killed(monkeypatch, made):
    """The planner stands still here: what is made where, and in which order, is what counts."""
    kept, own = all_changes()[:5], os.getpid()
    killed_at = [None]

    def packed(_plan, packer, change):
        if os.getpid() != own and change == killed_at[0]:
            os._exit(9)
        if change == kept[3]:
            return None
        return packer.pack({**made, "number": kept.index(change)})

    monkeypatch.setattr(in_the_pocket, "kept_changes", lambda _all: (kept, ()))
    monkeypatch.setattr(in_the_pocket, "_packed", packed)

    def pocket(processes):
        told = []
        found = in_the_pocket.pocket_of(
            demo_read(), lambda words, _share: told.append(words), processes=processes
        )
        assert told == [f"Plans for the way, {n} of 5" for n in range(1, 6)]
        return found

    alone = pocket(1)
    assert list(alone.plans) == [one.key for one in kept if one != kept[3]]
    assert pocket(2) == alone
    for killed_at[0] in (kept[0], kept[2]):
        assert pocket(2) == alone
