"""The three answers that stand first: what they say follows from the rows of the plan."""

from __future__ import annotations

from dataclasses import replace

import pytest
from demo_plans import NAMES, demo_document, demo_plan, demo_told

from resupply.report.document import answers as first

each_trip = pytest.mark.parametrize("name", NAMES)


@each_trip
def test_the_next_shop_is_each_stop_in_turn_and_then_none(name):
    plan, told = demo_plan(name)[0], demo_told(name)
    shops = plan["answers"]["shops"]
    assert [one.get("pass") for one in shops] == [*(s["pass"] for s in plan["stops"]), None]
    for one, stop in zip(told["answers"]["shops"], told["stops"], strict=False):
        assert one["answer"] == stop["name"]
        assert one["until"] == stop["leave"]
        assert f"buy {stop['carry_meals']} meals each" in one["detail"]
    assert "None planned before the end" in told["answers"]["shops"][-1]["answer"]


def test_where_no_map_data_is_the_next_shop_has_no_kilometre():
    document = demo_document()[0]
    blank = replace(document.coverage, unknown=[replace(document.legs[0])])
    told = first._no_shop(replace(document, stops=[], coverage=blank))
    assert (told.figure, told.answer) == (["?"], ["Not known"])
    known = first._no_shop(replace(document, stops=[]))
    assert known.figure != ["?"]
    assert "meals each on board" in known.detail[0]


def test_where_nothing_is_eaten_on_the_way_no_meals_are_counted():
    document = demo_document()[0]
    carry = replace(document.start_carry, meals=0)
    told = first._no_shop(replace(document, stops=[], start_carry=carry))
    assert told.detail[0] == "no meal on the way to "


@each_trip
def test_the_longest_stretch_is_the_one_of_the_gaps(name):
    plan, told = demo_plan(name)[0], demo_told(name)
    gap, one = plan["gaps"]["groceries"]["longest"], plan["answers"]["stretch"]
    assert (one["start_m"], one["end_m"]) == (gap["start_m"], gap["end_m"])
    assert f"{gap['meals']} meals" in told["answers"]["stretch"]["detail"]
    assert one["tone"] == "caution"


@each_trip
def test_the_ice_is_all_that_is_bought_on_the_way(name):
    plan, told = demo_plan(name)[0], demo_told(name)
    kg = sum(buy["kg"] for row in plan["ice"]["stops"] for buy in row["buy"])
    ice = told["answers"]["ice"]
    assert ice["figure"] == f"{kg:g} kg"
    if not kg:
        assert ice["answer"] == "None needed"


def test_where_the_ice_is_sure_and_where_to_ask_is_told():
    detail = demo_told()["answers"]["ice"]["detail"]
    first, second = (row for row in demo_plan()[0]["ice"]["stops"] if row["buy"])
    kg = sum(buy["kg"] for buy in second["buy"])
    assert (first["confidence"], second["confidence"]) == ("stated", "likely")
    assert detail == f"km 421, sure · Mon {kg:g} kg, km 717, ask"


def test_a_door_says_till_when_it_is_open():
    assert demo_told()["answers"]["shops"][0]["state_words"] == "open till 18:00"


def test_without_a_cooler_no_ice_is_needed():
    ice = demo_told(cooler__kind="none")["answers"]["ice"]
    assert (ice["answer"], ice["detail"]) == ("None needed", "no cooler")


def test_what_costs_a_meal_outranks_a_far_fuel_station():
    # There a pump may be shut, and a shop without which meals are missing.
    cautions = " ".join(demo_told()["summary"]["cautions"])
    assert "Beir Bensin may be shut" in cautions
    worst = demo_told()["answers"]["worst"]["words"]
    assert worst.startswith("Mercado do Farol shut? Next open shop")
    assert "2 meals each would be missing" in worst


def test_a_tank_that_runs_dry_outranks_all():
    worst = demo_told("long_moor")["answers"]["worst"]["words"]
    dry = demo_plan("long_moor")[0]["fuel"]["exceeded"][0]
    far, start = (dry["end_m"] - dry["start_m"]) / 1000, dry["start_m"] / 1000
    assert worst.startswith(f"No fuel for {far:.0f} km from km {start:.0f}: beyond your tank")
