import pytest
from kitchen_world import cookbook, home, make_slots, packed, plan, slot, table, tiny_cookbook

from resupply.kitchen.food.packing import load_packing_rules
from resupply.kitchen.food.sources import load_sources, said_by


def test_raw_meat_lies_at_the_very_bottom_below_ice():
    made = packed(plan(make_slots(3), [home()]), [home()])
    assert [layer.kind for layer in made.cooler][:2] == ["raw", "ice"]
    raw = {item.ingredient for item in made.cooler[0].items}
    assert raw
    for key in raw:
        assert table().classes[cookbook().ingredients[key].storage].kind == "raw"
    assert {"raw_bottom", "double_bag"} <= set(made.rules)


def test_what_is_eaten_last_lies_lowest_of_the_ready_food():
    made = packed(plan(make_slots(3), [home()]), [home()])
    uses = [layer.first_use for layer in made.cooler if layer.kind == "food"]
    assert len(uses) >= 2
    assert uses == sorted(uses, reverse=True)
    for layer in made.cooler:
        times = [item.first_use for item in layer.items]
        assert times == sorted(times, reverse=True)


def test_eggs_are_not_crushed_under_the_rest():
    book = tiny_cookbook(mixed=("dinner", "beef-steak", "eggs"))
    made = packed(plan([slot(0, 0, "dinner")], [home()], cookbook=book), [home()], book=book)
    assert [item.ingredient for item in made.cooler[0].items] == ["beef-steak"]


def test_ice_is_halved_between_and_on_top_and_the_rest_filled():
    made = packed(plan(make_slots(2), [home()]), [home()])
    ice = [layer for layer in made.cooler if layer.kind == "ice"]
    assert sum(layer.ice_kg for layer in ice) == pytest.approx(4.0)
    assert sum(layer.volume_l for layer in ice) == pytest.approx(6.0)
    assert made.cooler[-1].kind == "fill"
    assert sum(layer.volume_l for layer in made.cooler) == pytest.approx(20.0)
    assert made.over_l == 0.0


def test_a_cooler_too_small_says_by_how_much():
    made = packed(plan(make_slots(3), [home()]), [home()], cooler_l=5.0)
    # 95 % of five litres may be filled.
    assert made.over_l == pytest.approx(sum(layer.volume_l for layer in made.cooler) - 4.75)
    assert made.cooler[-1].kind == "ice"


def test_packs_are_a_layer_on_top_and_rests_of_packs_take_room():
    menu = plan(make_slots(2), [home()])
    bare = packed(menu, [home()])
    made = packed(menu, [home()], packs_kg=1.5, packs_l=1.65, rests_l=0.8)
    assert [layer.kind for layer in made.cooler if layer.kind in ("packs", "rests")] == [
        "rests",
        "packs",
    ]
    packs = next(layer for layer in made.cooler if layer.kind == "packs")
    assert (packs.packs_kg, packs.volume_l) == (1.5, 1.65)
    filled = [sum(x.volume_l for x in m.cooler if x.kind != "fill") for m in (bare, made)]
    assert filled[1] - filled[0] == pytest.approx(2.45)
    tight = packed(menu, [home()], cooler_l=filled[0] / 0.95, packs_kg=1.5, packs_l=1.65)
    assert tight.over_l == pytest.approx(1.65)


def test_spices_and_foil_go_apart_from_the_food():
    made = packed(plan(make_slots(3), [home()]), [home()])
    aisles = {cookbook().ingredients[item.ingredient].aisle for item in made.spice_bag}
    assert aisles <= {"spices", "household"}
    assert made.spice_bag
    assert not {"spices", "household"}.intersection(
        cookbook().ingredients[item.ingredient].aisle for item in made.food_bag
    )
    assert "apart" in made.rules


def test_the_food_bag_has_what_is_eaten_first_on_top():
    uses = [item.first_use for item in packed(plan(make_slots(3), [home()]), [home()]).food_bag]
    assert uses == sorted(uses, reverse=True)


def test_without_a_cooler_everything_is_in_the_bags():
    made = packed(plan(make_slots(2), [home()], history=None), [home()], cooler_l=None)
    assert made.cooler == ()
    assert "thermometer" not in made.rules


def test_little_ice_brings_the_advice_on_ice():
    menu = plan(make_slots(3), [home()])
    assert "ice_ratio" in packed(menu, [home()], ice_kg=0.0).rules
    assert "ice_ratio" not in packed(menu, [home()], ice_kg=15.0).rules


def test_every_food_is_packed_once_and_wholly():
    menu = plan(make_slots(3), [home()])
    made = packed(menu, [home()])
    items = [i for layer in made.cooler for i in layer.items] + [*made.food_bag, *made.spice_bag]
    want: dict[str, float] = {}
    for meal in menu.meals:
        for portion in meal.dish.portions:
            want[portion.use] = want.get(portion.use, 0.0) + 2 * portion.amount
    assert {item.ingredient: item.amount for item in items} == pytest.approx(want)


def test_every_rule_has_a_listed_source():
    sources = load_sources()
    for rule in load_packing_rules().values():
        assert said_by(rule.by, sources)
