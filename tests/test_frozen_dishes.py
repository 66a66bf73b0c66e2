"""Food made at home and frozen: only from there, first on the menu, cold store on the way."""

from dataclasses import replace

import numpy as np
import pytest
from cold_world import HOUR, T0, ambient_of, food, line_of
from examples import examples
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st
from kitchen_world import cold, cookbook, given, history, home, make_slots, moment, plan, shop

from resupply.kitchen.cold.cooler import make_cooler
from resupply.kitchen.cold.heat import LATENT_KJ_PER_KG
from resupply.kitchen.cold.simulate import simulate
from resupply.kitchen.food.meals import Diet, ShopVisit
from resupply.kitchen.food.menu import plan_menu
from resupply.kitchen.food.rations import load_rations
from resupply.kitchen.food.storage import make_storage
from resupply.kitchen.food.storage_classes import load_storage
from resupply.kitchen.food.stove import meal_fuel
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


SENSIBLE = 18.0 * 2.0 / 335.0
"""Cold that food of −18 °C has beside its latent heat, as a share of water: 2 kJ/(kg K) for frozen
food (from memory) over the 335 kJ/kg of water."""


@settings(max_examples=examples(6))
@drawn(
    st.sampled_from(["hard", "soft", "bag"]),
    st.floats(8.0, 30.0),
    st.floats(0.2, 4.0),
    st.lists(st.floats(2.0, 40.0), min_size=5, max_size=5),
    st.floats(6.0, 70.0),
)
def test_what_is_not_credited_of_frozen_food_would_only_keep_it_colder(
    kind, volume_l, mass_kg, highs_c, eaten_h
):
    box, air = make_cooler(kind, volume_l), ambient_of(*[(c - 2.0, c + 2.0) for c in highs_c])
    ham = food("ham", 0.0, 72.0, 0.3)
    traces = [
        simulate(
            line_of(
                box,
                air,
                80.0,
                stored=[ham, food("stew", 0.0, eaten_h, mass_kg, frozen_water_share=share)],
            )
        )
        for share in (0.75, 0.75 + SENSIBLE)
    ]
    # Until it is eaten: what it takes with it then is no longer inside.
    at_s = T0 + np.arange(0.1, eaten_h - 0.1, 0.5) * HOUR
    ours, colder = (np.interp(at_s, *trace.history()) for trace in traces)
    # The lines between samples are within 0.02 °C of the curve, each.
    assert (colder <= ours + 0.05).all()


@settings(max_examples=examples(20))
@drawn(st.floats(0.0, 60.0), st.sampled_from(["soup-stew", "leftovers"]))
def test_days_count_from_home_which_is_never_later_than_from_thawing(thawed_h, kind):
    storage = make_storage(load_storage(), cold(), strict=True)
    from_home = storage.use_by(kind, FREEZER.when)
    from_thawing = storage.use_by(kind, FREEZER.when + (moment(0, thawed_h) - moment(0)))
    assert from_home.when <= from_thawing.when


def test_what_is_still_hard_takes_the_gas_that_melts_it():
    asked = given(make_slots(4), [FREEZER])
    stew = next(m for m in frozen_meals(plan(make_slots(4), [FREEZER])) if m.dish.method == "pot")
    thawed = {key: replace(part, frozen=0.0) for key, part in asked.cookbook.ingredients.items()}
    soft = replace(asked, cookbook=replace(asked.cookbook, ingredients=thawed))
    figures = load_rations()
    more_kg = meal_fuel(asked, stew, figures, 0.0)[0] - meal_fuel(soft, stew, figures, 0.0)[0]
    # Two portions of 450 g, three quarters water: 335 kJ/kg (NZIFST, appendix 7), and from 0 °C
    # instead of 10; on a flame of which 40 % reach the pot, in gas of 46 MJ/kg, a spare of 1.3.
    kj = 2 * 0.45 * (0.75 * 335.0 + 3.5 * 10.0)
    assert more_kg == pytest.approx(kj / 0.4 * 1.3 / 46_000.0, rel=1e-6)
    assert 0.015 < more_kg < 0.025
