"""Food made at home and frozen: only from there, first on the menu, cold store on the way."""

from dataclasses import replace

import pytest
from kitchen_world import cold, cookbook, given, history, home, make_slots, moment, plan, shop

from resupply.kitchen.cold.heat import LATENT_KJ_PER_KG
from resupply.kitchen.food.meals import Diet, ShopVisit
from resupply.kitchen.food.menu import plan_menu
from resupply.kitchen.food.storage_classes import load_storage
from resupply.kitchen.menu_input import food_inside

FREEZER = replace(home(), freezer=True)


def frozen_meals(menu):
    parts = cookbook().ingredients
    return [
        meal
        for meal in menu.meals
        if meal.dish and any(parts[p.use].frozen for p in meal.dish.portions)
    ]


def test_what_is_frozen_comes_from_the_freezer_at_home_alone():
    assert frozen_meals(plan(make_slots(4), [home()])) == []
    full = ShopVisit("Full shop", moment(0, 9.0), full=True)
    asked = plan(make_slots(4, {(0, m): 1 for m in ("lunch",)}), [home(), full])
    assert frozen_meals(asked) == []
    assert frozen_meals(plan(make_slots(4), [FREEZER]))


def test_it_is_the_first_dinners_and_no_dish_of_it_twice():
    meals = frozen_meals(plan(make_slots(5), [FREEZER]))
    assert meals[0].slot.day == 1
    assert len({meal.dish.id for meal in meals}) == len(meals)
    # Soups and stews keep 3 days (Cold Food Storage Chart); counted from home, not from thawing.
    assert all((meal.slot.when - FREEZER.when).total_seconds() <= 3 * 86_400 for meal in meals)


def test_a_vegan_party_has_the_lentil_stew():
    menu = plan(make_slots(3), [FREEZER], diet=Diet(vegan=True))
    assert {meal.dish.id for meal in frozen_meals(menu)} == {"home-lentils"}


def test_without_cold_it_is_not_planned():
    warm = history((-240.0, 12.0), (1000.0, 12.0), name="the food bag")
    assert frozen_meals(plan(make_slots(3), [FREEZER], history=warm)) == []


def test_it_is_cold_store_until_it_is_eaten():
    asked = given(make_slots(3), [FREEZER])
    menu = plan_menu(asked, cold(), strict=True)
    inside = [row for row in food_inside(asked, menu, shop(menu, [FREEZER])) if row.frozen_kg]
    assert inside
    parts = cookbook().ingredients
    by_name = {part.name: part for part in parts.values()}
    for row in inside:
        part = by_name[row.name]
        # Latent heat of the food's water (NZIFST, appendix 7: water share times 335 kJ/kg).
        want = row.mass_kg * part.frozen * 335.0 / LATENT_KJ_PER_KG
        assert row.frozen_kg == pytest.approx(want, rel=0.01)
        assert row.temp_c == 0.0
        assert load_storage().classes[part.storage].cook_to == "leftovers"
    bare = [row for row in food_inside(asked, menu, shop(menu, [FREEZER])) if not row.frozen_kg]
    assert all(row.temp_c == 4.0 for row in bare)
