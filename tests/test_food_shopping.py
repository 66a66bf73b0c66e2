import pytest
from kitchen_world import (
    cookbook,
    history,
    home,
    make_slots,
    moment,
    plan,
    shop,
    slot,
    tiny_cookbook,
)

from resupply.kitchen.food.dishes import AISLES, MealKind
from resupply.kitchen.food.meals import Diet, ShopVisit
from resupply.kitchen.food.menu import reserve_dishes


def lines(shopping, stop=0):
    return {line.ingredient: line for line in shopping.stops[stop].lines}


def two_stops():
    return [home(), ShopVisit("Shop", moment(1, 16), full=True)]


def test_needs_are_added_up_over_dishes_and_people():
    menu = plan(make_slots(3), [home()])
    lists = shop(menu, [home()], people=3)
    bought = {**lines(lists), **{line.ingredient: line for line in lists.kit}}
    want: dict[str, float] = {}
    for meal in menu.meals:
        for portion in meal.dish.portions:
            want[portion.use] = want.get(portion.use, 0.0) + 3 * portion.amount
    assert {key: line.need for key, line in bought.items()} == pytest.approx(want)


def test_a_list_is_sorted_as_a_shop_is_walked():
    listed = shop(plan(make_slots(3), [home()]), [home()]).stops[0].lines
    aisles = [AISLES.index(cookbook().ingredients[line.ingredient].aisle) for line in listed]
    assert aisles == sorted(aisles)
    assert AISLES[-1] == "fish"


def test_what_is_left_of_a_lasting_pack_is_used_later():
    book = tiny_cookbook(mash=("dinner", "mash-powder", "jam"))
    slots = [slot(0, 0, "dinner"), slot(1, 1, "dinner", stretch=1)]
    menu = plan(slots, two_stops(), cookbook=book)
    shopping = shop(menu, two_stops(), book=book)
    first, second = lines(shopping, 0)["jam"], lines(shopping, 1)["jam"]
    assert first.packs == ((250, 1),)
    assert first.used_later == pytest.approx(2.0)
    assert first.left_over == pytest.approx(246.0)
    assert first.keeps
    assert second.packs == ()
    assert second.in_hand == pytest.approx(2.0)


def test_an_opened_tin_is_not_shared_by_meals_beyond_its_time():
    book = tiny_cookbook(beans=("dinner", "tinned-beans"))
    part = "tinned-beans"
    slots = [slot(0, 0, "dinner"), slot(1, 1, "dinner")]
    # Half a tin at each dinner for one person; the cooler is warm, so an open tin lasts two hours.
    warm = history((-99, 12.0), (999, 12.0))
    half = plan(slots, [home()], cookbook=halved(book), history=warm)
    line = lines(shop(half, [home()], people=1, book=halved(book), kept=warm))[part]
    assert line.packs == ((1, 2),)
    assert line.left_over == pytest.approx(1.0)
    assert not line.keeps
    chilled = plan(slots, [home()], cookbook=halved(book))
    assert lines(shop(chilled, [home()], people=1, book=halved(book)))[part].packs == ((1, 1),)


def halved(book):
    from dataclasses import replace

    dish = book.dishes["beans"]
    portion = replace(dish.portions[0], amount=0.5)
    return replace(book, dishes={"beans": replace(dish, portions=(portion,))})


def test_each_stop_has_its_list_even_an_empty_one():
    stops = two_stops()
    shopping = shop(plan(make_slots(1), stops), stops)
    assert [listed.stop for listed in shopping.stops] == [0, 1]
    assert shopping.stops[1].lines == ()


def test_the_reserve_is_bought_apart():
    reserve = reserve_dishes(cookbook(), Diet(), 2)
    shopping = shop(plan(make_slots(1), [home()]), [home()], reserve=reserve)
    want = {p.use for dish in reserve for p in dish.portions}
    assert {line.ingredient for line in shopping.reserve} == want
    assert all(line.bought >= line.need > 0 for line in shopping.reserve)
    assert all(line.meals == () for line in shopping.reserve)


def test_doubtful_lines_of_a_kiosk_are_marked():
    book = tiny_cookbook(wraps=("lunch", "tortillas", "peanut-butter"))
    kiosk = [ShopVisit("Kiosk", moment(0, 9), full=False)]
    menu = plan([slot(0, 0, "lunch")], kiosk, cookbook=book)
    bought = lines(shop(menu, kiosk, book=book))
    assert bought["tortillas"].doubtful
    assert not bought["peanut-butter"].doubtful


def test_a_meal_without_a_dish_buys_nothing():
    book = tiny_cookbook(toast=("breakfast", "bread"))
    menu = plan([slot(0, 0, "dinner")], [home()], cookbook=book)
    assert shop(menu, [home()], book=book).stops[0].lines == ()


def test_kinds_of_meal_are_those_of_the_slots():
    assert {meal.slot.kind for meal in plan(make_slots(2), [home()]).meals} == set(MealKind)
