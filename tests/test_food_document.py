import json
import runpy

import pytest
from conftest import ROOT
from demo_plans import demo_plan
from kitchen_world import (
    cookbook,
    given,
    history,
    home,
    load_of,
    make_slots,
    moment,
    packed,
    plan,
    shop,
    situation,
    slot,
    table,
    tiny_cookbook,
)
from plan_classes import as_json

from resupply.common.show import text
from resupply.kitchen.food.care import boil_minutes, care_for, load_care
from resupply.kitchen.food.meals import Diet, Fire, ShopVisit
from resupply.kitchen.food.menu import reserve_dishes
from resupply.kitchen.food.packing import load_packing_rules
from resupply.kitchen.food.rations import load_rations, water_need
from resupply.kitchen.food.sources import load_sources
from resupply.kitchen.food.stove import stove_fuel
from resupply.report.document.food import (
    care_document,
    load_document,
    packing_document,
    shopping_document,
)
from resupply.report.document.menu import menu_document

STOPS = [home(), ShopVisit("<b>Kiosk</b>", moment(2, 15), full=False)]


@pytest.fixture(scope="module")
def documents():
    kept = history((-99, 2), (30, 2), (31, 9), (60, 9), (61, 2), (200, 2))
    slots = make_slots(4, {(2, "dinner"): 1}, fire=Fire.YES)
    menu = plan(slots, STOPS, history=kept)
    reserve = reserve_dishes(cookbook(), Diet(), 2)
    shopping = shop(menu, STOPS, kept=kept, reserve=reserve)
    rations, care, sources = load_rations(), load_care(), load_sources()
    water = {1: water_need(rations, high_c=33.0, riding_h=5.0, people=2)}
    made = {
        "menu": menu_document(menu, cookbook=cookbook(), table=table(), people=2, care=care),
        "shopping": shopping_document(shopping, STOPS, cookbook=cookbook(), reserve=reserve),
        "packing": packing_document(
            [packed(menu, STOPS, n) for n in range(2)],
            STOPS,
            cookbook=cookbook(),
            rules=load_packing_rules(),
            sources=sources,
        ),
        "load": load_document(
            load_of(menu, shopping, STOPS, luggage_kg=1.0),
            water=water,
            fuel=stove_fuel(given((), ()), menu.meals, rations, lambda _: 0.0),
            rations=rations,
            sources=sources,
        ),
        "care": care_document(
            care_for(situation(menu), care),
            care=care,
            sources=sources,
            situation=situation(menu),
            limits=[table().classes["bread"], table().classes["raw-poultry"]],
            boil_min=boil_minutes(care, 1800.0),
        ),
    }
    return {name: as_json(block) for name, block in made.items()}


def test_documents_are_plain_json_without_nan(documents):
    assert json.loads(json.dumps(documents, allow_nan=False)) == documents


def test_the_menu_is_told_by_day_with_iso_times(documents):
    menu = documents["menu"]
    assert [day["day"] for day in menu["days"]] == [1, 2, 3, 4]
    assert menu["days"][0]["date"] == "2027-07-09"
    assert [len(day["meals"]) for day in menu["days"]] == [2, 3, 3, 3]
    meal = menu["days"][0]["meals"][0]
    assert meal["when"] == "2027-07-09T12:30-01:00"
    assert meal["dish"]["ingredients"][0]["stop"] == 0
    assert menu["moves"]
    assert all(move["why"] for move in menu["moves"])


def test_map_names_pass_unescaped_to_whoever_shows_them(documents):
    assert documents["shopping"]["stops"][1]["name"] == "<b>Kiosk</b>"
    assert "guess" in text(documents["shopping"]["stops"][1]["words"])


def test_lists_say_packs_as_bought(documents):
    lines = [line for stop in documents["shopping"]["stops"] for line in stop["lines"]]
    words = {line["id"]: text(line["words"]) for line in reversed(lines)}
    assert "foil" not in words
    kit = {line["id"]: text(line["words"]) for line in documents["shopping"]["kit"]["lines"]}
    assert int(kit["foil"]) > 4
    for line in [*lines, *documents["shopping"]["kit"]["lines"]]:
        # What is in hand and bought is what is needed and left.
        total = line["need"] + line["used_later"] + line["left_over"]
        assert line["in_hand"] + line["bought"] == pytest.approx(total, abs=0.01)


def test_statuses_stand_beside_numbers(documents):
    assert text(documents["load"]["stove_fuel"]["words"]).endswith("(our figures).")
    for row in documents["care"]["temperatures"]:
        assert row["source"].endswith("(published, read second-hand)")
    sources = documents["care"]["sources"]
    assert len({row["source"] for row in sources}) == len(sources)
    bread = next(row for row in sources if "days of bread" in " ".join(row["backs"]))
    assert bread["source"] == "riders and campers (common practice, no source)"
    assert documents["care"]["boil_min"] == 3.0
    assert documents["load"]["over"][0]["words"][-1] == " more than the luggage may carry"


def test_dish_cautions_are_ids_or_the_riders_own_sentences():
    from dataclasses import replace

    book = tiny_cookbook(stew=("dinner", "tinned-stew"))
    dish = replace(book.dishes["stew"], cautions=("eat-at-once", "Lid is <sharp>"))
    book = replace(book, dishes={"stew": dish})
    menu = plan([slot(0, 0, "dinner")], [home()], cookbook=book)
    told = as_json(menu_document(menu, cookbook=book, table=table(), people=1, care=load_care()))
    dish_document = told["days"][0]["meals"][0]["dish"]
    assert dish_document["care"] == ["eat-at-once"]
    assert dish_document["cautions"] == ["Lid is <sharp>"]


def test_an_unfilled_meal_has_no_dish_but_a_reason():
    book = tiny_cookbook(toast=("breakfast", "bread"))
    menu = plan([slot(0, 0, "dinner")], [home()], cookbook=book)
    told = as_json(menu_document(menu, cookbook=book, table=table(), people=1, care=load_care()))
    assert told["unfilled"] == [0]
    assert told["days"][0]["meals"][0]["dish"] is None
    assert told["days"][0]["meals"][0]["why"][0].startswith("No dish fits Friday dinner")


def test_the_page_of_safety_sources_is_up_to_date():
    made = runpy.run_path(str(ROOT / "docs" / "make_safety_sources.py"))["render_safety_sources"]()
    page = ROOT / "docs" / "safety-sources.md"
    assert page.read_text("utf-8") == made, "run docs/make_safety_sources.py"


def test_no_line_of_a_list_says_nothing_to_buy_of_what_is_to_be_packed():
    document, _ = demo_plan()
    kit = {line["id"]: text(line["words"]) for line in document["shopping"]["kit"]["lines"]}
    assert kit["lighter"] == "one is enough"
    assert all(said and not said.startswith("nothing") for said in kit.values())
