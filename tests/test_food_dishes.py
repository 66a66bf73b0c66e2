from pathlib import Path

import pytest
from kitchen_world import cookbook, table

from resupply.common.errors import TripFileError
from resupply.kitchen.food.care import cooked_to, load_care
from resupply.kitchen.food.dishes import Allergen, Heat, MealKind, load_cookbook

OWN = """
[ingredient.goat]
name = "Goat, diced"
storage = "raw-cuts"
aisle = "meat"
unit = "g"
packs = [300]
l_per_kg = 1.3
kcal_per_unit = 1.4
diet = "meat"
allergens = []

[dish.goat-pot]
name = "Goat pot"
kinds = ["dinner"]
method = "pot"
heat = "either"
minutes = 40
portions = [
  { use = "goat", amount = 6, unit = "oz" },
  { use = "rice", amount = 0.1, unit = "kg" },
  { use = "oil", amount = 1, unit = "tbsp" },
]
cautions = ["Bones splinter"]
"""


def own(text: str) -> Path:
    path = Path("own.toml")
    path.write_text(text, "utf-8")
    return path


def load(text: str):
    return load_cookbook(table(), own(text))


def dishes():
    return cookbook().dishes.values()


def test_the_starter_collection_is_wide_enough():
    kept = [dish for dish in dishes() if not dish.reserve]
    foil = [dish for dish in kept if dish.method == "foil"]
    assert len(kept) >= 36
    assert len(foil) >= 6
    assert all(dish.cautions for dish in foil)
    assert len([d for d in kept if d.method == "no-cook"]) >= 8
    assert len([d for d in kept if cookbook().diet(d) in ("vegan", "vegetarian")]) >= 10
    for kind in ("breakfast", "lunch", "dinner"):
        assert len([d for d in kept if kind in d.kinds]) >= 10


def test_each_meal_can_be_made_from_dry_and_tinned_stores_alone():
    for kind in ("breakfast", "lunch", "dinner"):
        stable = [
            dish
            for dish in dishes()
            if kind in dish.kinds
            and not dish.reserve
            and dish.leftover_of is None
            and all(table().classes[p.storage].keeping == "stable" for p in cookbook().parts(dish))
        ]
        assert len(stable) >= 3, kind


def test_a_vegan_who_avoids_gluten_and_nuts_gets_every_meal():
    avoid = {Allergen.GLUTEN, Allergen.NUTS, Allergen.PEANUTS}
    for kind in ("breakfast", "lunch", "dinner"):
        assert any(
            kind in dish.kinds
            and cookbook().diet(dish) == "vegan"
            and not avoid.intersection(cookbook().allergens(dish))
            for dish in dishes()
            if not dish.reserve
        ), kind


def test_reserve_meals_need_neither_cooking_nor_cooling():
    reserve = [dish for dish in dishes() if dish.reserve]
    assert len(reserve) >= 4
    for dish in reserve:
        assert dish.heat is Heat.NONE
        assert all(table().classes[p.storage].keeping == "stable" for p in cookbook().parts(dish))


def test_every_caution_of_the_collection_is_a_care_note():
    notes = load_care().note
    assert {c for dish in dishes() for c in dish.cautions} <= set(notes)


def test_every_dish_feeds_a_rider():
    for dish in dishes():
        # Leftovers come with what was made before.
        if dish.leftover_of is None:
            assert 400 <= cookbook().kcal(dish) <= 1000, dish.id
        assert 0.05 <= cookbook().mass_kg(dish) <= 0.9, dish.id
        assert 0.05 <= cookbook().volume_l(dish) <= 2.0, dish.id


def test_leftovers_carry_the_allergens_of_the_dish_they_come_from():
    left = cookbook().dishes["pan-bread-left"]
    assert Allergen.GLUTEN in cookbook().allergens(left)
    assert Allergen.CELERY in cookbook().allergens(left)


def test_the_fourteen_allergens_of_the_law_are_known():
    assert len(Allergen) == 14


def test_own_dishes_join_the_collection_in_the_units_sold():
    book = load(OWN)
    assert len(book.dishes) == len(cookbook().dishes) + 1
    goat, rice, oil = book.dishes["goat-pot"].portions
    assert (goat.unit, rice.unit, oil.unit) == ("g", "g", "ml")
    assert goat.amount == pytest.approx(6 * 28.349523125)
    assert rice.amount == pytest.approx(100)
    assert oil.amount == pytest.approx(15)
    assert next(iter(book.dishes)) == "goat-pot"


def test_an_own_dish_replaces_the_one_of_the_same_id():
    book = load(OWN.replace("dish.goat-pot", "dish.mince-chilli"))
    assert book.dishes["mince-chilli"].name == "Goat pot"
    assert len(book.dishes) == len(cookbook().dishes)


def test_hostile_names_are_kept_as_they_are():
    name = "<script>alert(1)</script> & 'x' \\u0000"
    book = load(OWN.replace('"Goat pot"', f'"{name}"'))
    assert book.dishes["goat-pot"].name == "<script>alert(1)</script> & 'x' \x00"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('use = "goat"', 'use = "gaot"', r"dish\.goat-pot\.portions\.0: use = 'gaot'"),
        ('unit = "oz"', 'unit = "ell"', "unit = 'ell' is not known"),
        ('unit = "oz"', 'unit = "g**9**9"', "is not known"),
        ('unit = "oz"', 'unit = "ml"', "cannot be turned into g"),
        ("amount = 6", "amount = -6", r"dish\.goat-pot: portions\.0\.amount = -6"),
        ("amount = 6", "amount = inf", r"portions\.0\.amount"),
        ("minutes = 40", "minutes = 'long'", "minutes"),
        ("minutes = 40\n", "", "minutes is missing"),
        ('kinds = ["dinner"]', 'kinds = ["supper"]', r"kinds\.0"),
        ('kinds = ["dinner"]', "kinds = []", "kinds"),
        ('heat = "either"', 'heat = "none"', "no-cook"),
        ("minutes = 40", 'minutes = 40\ncolour = "red"', "there is no key colour"),
        ('storage = "raw-cuts"', 'storage = "shelf"', r"ingredient\.goat: storage = 'shelf'"),
        ("allergens = []\n", "", "allergens is missing"),
        ("allergens = []", 'allergens = ["hay"]', r"allergens\.0"),
        ("packs = [300]", "packs = []", "packs"),
        ("packs = [300]", "packs = [0]", r"packs\.0"),
        ('unit = "g"\n', 'unit = "piece"\n', "kg_per_unit is missing"),
        ('aisle = "meat"', 'aisle = "cellar"', "aisle"),
        ("[dish.goat-pot]", "[dish.Goat]", "id"),
        ("[dish.goat-pot]", "[plate.goat-pot]", "there is no table plate"),
        ("minutes = 40", 'minutes = 40\nleftover_of = "porridge"', "leftover_of"),
        ("minutes = 40", 'minutes = 40\nleftover = "fridge"', "leftover = 'fridge'"),
        ("minutes = 40", "minutes = 40\nreserve = true", "a reserve dish"),
        ('name = "Goat pot"', "name = Goat", "no valid TOML"),
    ],
)
def test_a_wrong_dish_file_names_file_and_key(old, new, said):
    text = OWN.replace(old, new, 1)
    assert text != OWN
    with pytest.raises(TripFileError, match=said) as caught:
        load(text)
    assert "own.toml" in str(caught.value)


def test_a_missing_dish_file_is_named():
    with pytest.raises(TripFileError, match=r"nowhere\.toml.*cannot be read"):
        load_cookbook(table(), Path("nowhere.toml"))


def test_a_dish_file_that_is_no_text_is_refused():
    Path("own.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TripFileError, match="UTF-8"):
        load_cookbook(table(), Path("own.toml"))


def test_a_huge_dish_file_is_refused():
    with pytest.raises(TripFileError, match="1 MB"):
        load("#" * 1_000_001)


def test_a_table_that_is_no_table_is_refused():
    with pytest.raises(TripFileError, match="dish is not a table"):
        load("dish = 3")


def test_what_is_kept_like_cooked_meat_says_that_it_is_cooked():
    # The chart lists nuggets and patties among cooked leftovers: raw ones keep half as long.
    for part in cookbook().ingredients.values():
        if part.storage == "nuggets":
            assert "cooked" in part.name


def test_there_are_sixty_dishes_to_plan_and_twenty_lunches():
    planned = [dish for dish in dishes() if not dish.reserve]
    assert len(planned) >= 60
    assert len([d for d in planned if MealKind.LUNCH in d.kinds]) >= 20


def test_every_dish_is_told_in_three_to_six_short_steps():
    for dish in dishes():
        if not dish.reserve:
            assert 3 <= len(dish.steps) <= 6, dish.id
            assert all(len(step) <= 120 and step.endswith(".") for step in dish.steps), dish.id


def test_coffee_and_tea_are_in_no_dish():
    assert not {"coffee", "tea"} & {p.use for dish in dishes() for p in dish.portions}


def test_whatever_is_raw_and_cooked_has_a_safe_temperature():
    care = load_care()
    for dish in dishes():
        raw = {
            part.id
            for part in cookbook().parts(dish)
            if table().classes[part.storage].kind == "raw" and part.id != "bacon"
        }
        assert raw <= {part.id for part, _ in cooked_to(dish, cookbook(), table(), care)}, dish.id


def test_chicken_is_cooked_to_the_temperature_of_poultry():
    dish = cookbook().dishes["chicken-foil-packs"]
    ((part, row),) = cooked_to(dish, cookbook(), table(), load_care())
    assert (part.id, row.temp_f) == ("chicken-thigh", 165)
    assert cooked_to(cookbook().dishes["ham-rolls"], cookbook(), table(), load_care()) == ()
