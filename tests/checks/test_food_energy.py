"""Energy of foods and dishes against published food composition values.

Source: USDA National Nutrient Database for Standard Reference, release 28, kcal per 100 g edible
portion. "copy": read in a stored copy of the table; "memory": not looked up. The collection's
figures are round, so each may be off by a fifth, and a dish by a tenth.
"""

from __future__ import annotations

import pytest
from kitchen_world import cookbook

PUBLISHED = {
    # food: (kcal per 100 g, status)
    "couscous": (376, "copy"),
    "rice": (365, "copy"),
    "pasta": (371, "copy"),
    "oats": (389, "copy"),
    "red-lentils": (358, "memory"),
    "flour": (364, "memory"),
    "polenta": (362, "memory"),
    "egg-noodles": (384, "memory"),
    "mash-powder": (354, "memory"),
    "crispbread": (366, "memory"),
    "rice-cakes": (387, "memory"),
    "potatoes": (77, "memory"),
    "carrots": (41, "memory"),
    "tomatoes": (18, "memory"),
    "mushrooms": (22, "memory"),
    "cabbage": (25, "memory"),
    "bread": (254, "memory"),
    "hard-cheese": (403, "memory"),
    "mozzarella": (280, "memory"),
    "feta": (264, "memory"),
    "butter": (717, "memory"),
    "milk": (61, "memory"),
    "yogurt": (61, "memory"),
    "chicken-thigh": (180, "memory"),
    "ground-beef": (254, "memory"),
    "white-fish": (82, "memory"),
    "bacon": (393, "memory"),
    "dry-sausage": (407, "memory"),
    "oil": (810, "memory"),  # 884 per 100 g, at 0.916 g/ml
    "peanut-butter": (588, "memory"),
    "honey": (304, "memory"),
    "sugar": (387, "memory"),
    "raisins": (299, "memory"),
    "dates": (282, "memory"),
    "sunflower-seeds": (584, "memory"),
    "mixed-nuts": (607, "memory"),
}
BY_THE_PIECE = {
    # food: kcal per 100 g of the edible part, and grams of it in a piece; all from memory
    "eggs": (143, 50),
    "apples": (52, 150),
    "bananas": (89, 115),
    "onions": (40, 100),
    "peppers": (26, 150),
    "courgettes": (17, 210),
    "cucumber": (15, 290),
    "avocado": (160, 140),
    "tortillas": (312, 60),
    "rolls": (270, 60),
    "tinned-beans": (105, 250),
    "tinned-chickpeas": (120, 250),
    "tinned-sweetcorn": (81, 285),
    "tinned-tomatoes": (22, 400),
}


@pytest.mark.parametrize("food", PUBLISHED)
def test_energy_of_a_food_is_within_a_fifth_of_the_published(food):
    published = PUBLISHED[food][0] / 100.0
    ours = cookbook().ingredients[food].kcal_per_unit
    assert ours == pytest.approx(published, rel=0.2)


@pytest.mark.parametrize("food", BY_THE_PIECE)
def test_energy_of_a_piece_is_that_of_its_edible_part(food):
    kcal, grams = BY_THE_PIECE[food]
    assert cookbook().ingredients[food].kcal_per_unit == pytest.approx(
        kcal * grams / 100.0, rel=0.2, abs=15.0
    )


def test_energy_of_dishes_made_of_such_foods_is_within_a_tenth_on_average():
    known = {food: kcal / 100.0 for food, (kcal, _) in PUBLISHED.items()}
    known |= {food: kcal * grams / 100.0 for food, (kcal, grams) in BY_THE_PIECE.items()}
    free = {"foil", "herb-salt"}
    ratios = {}
    for dish in cookbook().dishes.values():
        parts = [p for p in dish.portions if p.use not in free]
        if all(p.use in known for p in parts):
            ratios[dish.id] = cookbook().kcal(dish) / sum(known[p.use] * p.amount for p in parts)
    assert len(ratios) >= 15
    assert sum(ratios.values()) / len(ratios) == pytest.approx(1.0, abs=0.05)
    assert all(ratio == pytest.approx(1.0, abs=0.1) for ratio in ratios.values()), ratios
