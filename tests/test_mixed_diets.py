"""One meal for a party whose members do not all eat the same."""

from dataclasses import replace

import pytest
from kitchen_world import cookbook, given, home, make_slots, plan, shop, slot, table

from resupply.common.show import text
from resupply.kitchen.food.care import load_care
from resupply.kitchen.food.meals import Diet, Helpings
from resupply.kitchen.food.menu import reserve_dishes
from resupply.kitchen.food.mixed import eaten_shares, kept_apart
from resupply.kitchen.menu_input import diet_of
from resupply.report.document.menu import menu_document
from resupply.trip.settings import Trip

TWO_OF_FOUR = Diet(vegetarians=2)


def named(dish, numbers):
    return [dish.portions[n].use for n in numbers]


def test_meat_is_kept_apart_where_the_rest_is_a_meal():
    dishes = cookbook().dishes
    bacon = dishes["bacon-pasta"]
    assert named(bacon, kept_apart(bacon, cookbook(), TWO_OF_FOUR)) == ["bacon"]
    assert kept_apart(dishes["steak-potatoes"], cookbook(), TWO_OF_FOUR) is None
    assert kept_apart(dishes["stew-tin"], cookbook(), TWO_OF_FOUR) is None
    assert kept_apart(dishes["tomato-egg-pan"], cookbook(), TWO_OF_FOUR) == ()
    # With a vegan the butter is kept apart as well.
    vegan, ham = Diet(vegetarians=1, vegans=1), dishes["ham-rolls"]
    assert named(ham, kept_apart(ham, cookbook(), vegan)) == ["sliced-ham", "butter"]


def test_only_those_who_eat_it_get_it():
    rolls = cookbook().dishes["ham-rolls"]
    shares = eaten_shares(rolls, cookbook(), Diet(vegetarians=1, vegans=1), 4)
    by_food = dict(zip((p.use for p in rolls.portions), shares, strict=True))
    assert by_food == {"rolls": 1.0, "sliced-ham": 0.5, "peppers": 1.0, "butter": 0.75}
    assert eaten_shares(rolls, cookbook(), Diet(), 4) == ()


@pytest.mark.parametrize("helpings", [None, Helpings(4.0)])
def test_meat_for_two_of_four_is_bought_for_two(helpings):
    diet = Diet(vegetarians=2, prefer=frozenset({"bacon-pasta"}))
    menu = plan([slot(0, 0, "dinner")], [home()], diet=diet, people=4, helpings=helpings)
    (meal,) = menu.meals
    assert meal.dish.id == "bacon-pasta"
    grams = {use.ingredient: use.amount for use in meal.uses(4)}
    stated = {p.use: p.amount for p in meal.dish.portions}
    assert grams["bacon"] / grams["pasta"] == pytest.approx(
        0.5 * stated["bacon"] / stated["pasta"], rel=0.35
    )
    lists = shop(menu, [home()], people=4)
    bacon = next(row for row in lists.stops[0].lines if row.ingredient == "bacon")
    assert bacon.need == pytest.approx(2 * stated["bacon"], rel=0.16)


def test_a_dish_that_all_eat_comes_before_one_of_which_some_keep_off():
    slots = make_slots(6)
    any_of_us = plan(slots, [home()], people=4)
    mixed = plan(slots, [home()], people=4, diet=TWO_OF_FOUR)

    def meat(menu):
        return sum(cookbook().diet(m.dish) in ("meat", "fish") for m in menu.meals)

    assert 0 <= meat(mixed) < meat(any_of_us)
    for meal in mixed.meals:
        assert kept_apart(meal.dish, cookbook(), TWO_OF_FOUR) is not None


def test_spare_meals_and_snacks_are_for_all():
    for dish in reserve_dishes(cookbook(), TWO_OF_FOUR, 6):
        assert cookbook().diet(dish) in ("vegan", "vegetarian")
    menu = plan(make_slots(4), [home()], people=4, diet=Diet(vegans=1), helpings=Helpings(4.0))
    assert menu.extras
    assert {cookbook().ingredients[e.ingredient].diet for e in menu.extras} == {"vegan"}


def test_the_recipe_says_for_whom_and_how_much_each():
    diet = Diet(vegetarians=2, prefer=frozenset({"bacon-pasta"}))
    menu = plan([slot(0, 0, "dinner")], [home()], diet=diet, people=4)
    told = menu_document(
        menu, cookbook=cookbook(), table=table(), people=4, care=load_care(), diet=diet
    )
    dish = told.days[0].meals[0].dish
    assert text(dish.musts[0]).startswith("Bacon: for 2 of 4 only. Cooked apart")
    bacon = next(part for part in dish.ingredients if part.id == "bacon")
    stated = next(p.amount for p in menu.meals[0].dish.portions if p.use == "bacon")
    assert text(bacon.each_words) == f"{stated:g} g"
    assert text(bacon.words) == f"{2 * stated:g} g"


def test_a_party_of_which_all_are_vegetarian_is_a_vegetarian_party():
    def diet(**party):
        return diet_of(Trip.model_validate({"party": party}))

    assert diet(people=2, diets={"vegetarian": 2}) == Diet(vegetarian=True)
    assert diet(people=2, diets={"vegetarian": 1, "vegan": 1}) == Diet(vegetarian=True, vegans=1)
    assert diet(people=2, diets={"vegan": 2}) == Diet(vegetarian=True, vegan=True)
    assert diet(people=4, diets={"vegetarian": 2}) == TWO_OF_FOUR
    assert diet(people=4, diet="vegetarian", diets={"vegetarian": 2}) == Diet(vegetarian=True)


def test_who_eats_all_is_counted_by_kind():
    diet = Diet(vegetarians=1, vegans=1)
    assert [diet.eaters(kind, 4) for kind in ("vegan", "vegetarian", "meat", "fish")] == [
        4,
        3,
        2,
        2,
    ]
    assert given((), (), diet=diet).diet.suits("meat")
    assert not Diet(vegetarian=True).suits("fish")


@pytest.mark.parametrize("dish", ["yogurt-fruit", "pancakes"])
def test_no_vegan_is_given_dry_muesli_or_a_batter_without_its_eggs(dish):
    book = cookbook()
    one = Diet(vegans=1)
    assert kept_apart(book.dishes[dish], book, one) is None
    assert kept_apart(replace(book.dishes[dish], together=False), book, one)
    assert kept_apart(book.dishes[dish], book, Diet(vegetarians=1)) == ()
