"""The rules of the kitchen in a few lines."""

from __future__ import annotations

from resupply.common.show import text
from resupply.kitchen.food.care import Situation, load_care
from resupply.say.kitchen_rules import short_line, short_list

CARE = load_care()


def rules(**facts):
    facts = {"has_menu": True, **facts}
    boil_min = facts.pop("boil_min", None)
    said = short_list(Situation(**facts), CARE, boil_min)
    return [text(row) for row in said]


def test_local_rules_come_first_and_animals_are_always_told():
    said = rules()
    assert said[0].startswith("Local rules first")
    assert "from animals" in said[-1]
    assert len(said) == 2


def test_what_matters_is_told_and_nothing_else():
    told = " ".join(rules(cooler=True, perishable=True, raw_meat=True, stove=True, boil_min=3.0))
    assert "above 4 °C for 2 hours in all, 1 hour above 32 °C" in told
    assert "No ice left" in told
    assert "poultry 74 °C, mince and raw sausage 71 °C, steaks, chops and fish 63 °C" in told
    assert "a rolling boil of 3 min" in told
    assert "carbon monoxide" in told
    assert "200 ft" in told
    assert "ice" not in " ".join(rules(stove=True))


def test_without_a_menu_everything_may_matter():
    told = " ".join(rules(has_menu=False))
    assert "poultry" in told
    assert "carbon monoxide" in told


def test_the_terminal_has_one_line():
    facts = Situation(has_menu=True, cooler=True, raw_meat=True, stove=True)
    said = text(short_line(facts, CARE, 1.0))
    assert "no ice left: throw out what needs cold" in said
    assert "boil untreated water 1 min" in said
    assert said.endswith("never cook in a tent.")
    assert "\n" not in said
