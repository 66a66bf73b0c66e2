"""Portions come out at whole packs, dishes share opened ones, and snacks give what is lacking."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product

import pytest
from kitchen_world import (
    cold,
    cookbook,
    given,
    history,
    home,
    make_slots,
    moment,
    plan,
    shop,
    slot,
    table,
    tiny_cookbook,
)

from resupply.kitchen.food.dishes import MealKind, sold_in
from resupply.kitchen.food.larder import Larder, Wish, fixed_wish, weighed_out
from resupply.kitchen.food.load import goes_in_cooler
from resupply.kitchen.food.meals import Diet, Helpings, ShopVisit
from resupply.kitchen.food.snacks import meal_kcal
from resupply.kitchen.food.storage import make_storage

CUPBOARD = ShopVisit("home", home().when, full=True, weighed=True)
SHOPS = [CUPBOARD, ShopVisit("Shop", moment(1, 17), full=True)]
FIVE_DAYS = make_slots(5, {(1, MealKind.DINNER): 1})


def larder(stops, kept=None):
    return Larder(cookbook(), make_storage(table(), kept or cold()), stops)


def wish(number, want, *, stop=0, day=0, give=0.15):
    when = moment(day, 12 + number / 10)
    return Wish((number, 0), when, stop, want * (1 - give), want, want * (1 + give))


def waste_kg(lists):
    book = cookbook().ingredients
    lines = [line for listed in lists.stops for line in listed.lines]
    kg = [(line.bought - line.need) * book[line.ingredient].unit_kg for line in lines]
    return sum(kg), sum(line.bought * book[line.ingredient].unit_kg for line in lines)


def test_portions_give_way_to_a_whole_pack():
    served = larder([home()]).serve("pasta", [wish(0, 120.0), wish(1, 120.0)])
    assert served.amounts == {(0, 0): 125.0, (1, 0): 125.0}
    assert served.wasted == 0.0
    assert [run.bought for run in served.runs] == [250.0]


def test_what_does_not_give_so_far_is_left():
    served = larder([home()]).serve("pasta", [wish(0, 200.0)])
    assert served.amounts == {(0, 0): pytest.approx(230.0)}
    assert served.left == {0: pytest.approx(20.0)}


def test_from_the_cupboard_comes_just_what_is_needed():
    served = larder([CUPBOARD]).serve("pasta", [wish(0, 120.0)])
    assert ([run.bought for run in served.runs], served.wasted) == ([120.0], 0.0)
    tins = larder([CUPBOARD]).serve("tinned-beans", [fixed_wish((0, 0), moment(0, 12), 0, 0.5)])
    assert tins.left == {0: 0.5}


def test_a_little_for_a_later_day_is_weighed_out_at_home_rather_than_bought_in_a_pack():
    served = larder(SHOPS).serve("oats", [wish(0, 80.0, stop=1, day=2)])
    assert [(run.bought, run.from_home) for run in served.runs] == [(0.0, 80.0)]
    whole = larder([home(), SHOPS[1]]).serve("oats", [wish(0, 80.0, stop=1, day=2)])
    assert [(run.bought, run.from_home) for run in whole.runs] == [(500.0, 0.0)]
    meat = larder(SHOPS).serve("ground-beef", [wish(0, 80.0, stop=1, day=2)])
    assert [run.from_home for run in meat.runs] == [0.0]


def test_what_would_have_to_be_cut_or_opened_is_not_weighed_out():
    parts = cookbook().ingredients
    no = ("cabbage", "tinned-tomatoes", "milk", "ground-beef", "sliced-ham", "oat-drink")
    assert [key for key in no if weighed_out(parts[key], table())] == []
    yes = ("oats", "jam", "bread", "eggs", "hard-cheese", "butter", "onions", "potatoes")
    assert [key for key in yes if not weighed_out(parts[key], table())] == []


@pytest.mark.parametrize("seed", range(40))
def test_every_way_of_buying_keeps_bounds_and_sums_and_leaves_no_more_than_need_be(seed):
    chance = random.Random(seed)
    food = chance.choice(["pasta", "milk", "ground-beef", "bread", "eggs", "rice", "bacon"])
    part = cookbook().ingredients[food]
    wishes = [
        wish(n, chance.choice([30.0, 70.0, 110.0, 160.0]) / (40 if part.unit == "piece" else 1))
        for n in range(chance.randint(1, 4))
    ]
    served = larder([home()]).serve(food, wishes)
    bought = sum(run.bought for run in served.runs)
    assert bought == pytest.approx(sum(served.amounts.values()) + served.wasted)
    step = 0.5 if part.unit == "piece" else 1.0
    for one in wishes:
        assert one.low - step <= served.amounts[one.key] <= one.high + step
    # Independent: all meals are within an hour, so any number of packs may be shared.
    low, high = sum(one.low for one in wishes), sum(one.high for one in wishes)
    counts = product(range(int(high // min(part.packs)) + 2), repeat=len(part.packs))
    totals = [sum(n * size for n, size in zip(each, part.packs, strict=True)) for each in counts]
    least = min(max(total - high, 0.0) for total in totals if total >= low - 1e-9)
    assert served.wasted <= least + 1e-6


def test_an_opened_pack_serves_no_meal_past_its_time():
    beans = [fixed_wish((n, 0), moment(day, 12), 0, 0.5) for n, day in enumerate((0, 6))]
    served = larder([home()]).serve("tinned-beans", beans)
    assert [run.bought for run in served.runs] == [1.0, 1.0]
    assert served.wasted == 1.0


@pytest.mark.parametrize("riders", [1, 2])
def test_a_thrifty_menu_wastes_little_and_the_same_input_gives_the_same_menu(riders):
    helpings = Helpings(float(riders))
    menu = plan(FIVE_DAYS, SHOPS, people=riders, helpings=helpings)
    left_kg, bought_kg = waste_kg(shop(menu, SHOPS, people=riders))
    assert left_kg <= (0.15 if riders == 1 else 0.08) * bought_kg
    plain_kg, all_kg = waste_kg(shop(plan(FIVE_DAYS, SHOPS), SHOPS, people=riders))
    assert left_kg / bought_kg < plain_kg / all_kg
    again = plan(FIVE_DAYS, SHOPS, people=riders, helpings=helpings)
    assert [meal.dish.id for meal in again.meals] == [meal.dish.id for meal in menu.meals]
    assert again.extras == menu.extras


def test_portions_stay_within_what_is_still_the_dish():
    menu = plan(FIVE_DAYS, SHOPS, helpings=Helpings(2.0))
    assert all(meal.shares for meal in menu.meals)
    for meal in menu.meals:
        for use, portion in zip(meal.uses(2), meal.dish.portions, strict=True):
            stated = portion.amount * 2
            part = cookbook().ingredients[use.ingredient]
            give = max(0.151 * stated, min(stated / 3 + 0.01, 1.0) if part.unit == "piece" else 1.0)
            assert abs(use.amount - stated) <= give, (meal.dish.id, use)


@pytest.mark.parametrize("kcal", [2200.0, 2500.0, 3200.0])
@pytest.mark.parametrize("diet", [Diet(), Diet(vegetarian=True, vegan=True)])
def test_every_full_day_gives_the_energy_asked_for_within_a_tenth(kcal, diet):
    helpings = Helpings(2.0, kcal)
    menu = plan(FIVE_DAYS, SHOPS, diet=diet, helpings=helpings)
    asked = given(FIVE_DAYS, SHOPS, helpings=helpings)
    parts = cookbook().ingredients
    days = {}
    for meal in menu.meals:
        days.setdefault(meal.slot.day, []).append(meal_kcal(meal, asked))
    for extra in menu.extras:
        days[extra.day].append(extra.amount * parts[extra.ingredient].kcal_per_unit)
        assert not diet.vegan or parts[extra.ingredient].diet == "vegan"
    for day in (2, 3, 4, 5):
        assert sum(days[day]) / 2 == pytest.approx(kcal, rel=0.1)


def test_a_hungrier_rider_gets_more_of_everything():
    def total(appetite):
        menu = plan(FIVE_DAYS, SHOPS, helpings=Helpings(appetite))
        kcal = cookbook().ingredients
        extra = sum(e.amount * kcal[e.ingredient].kcal_per_unit for e in menu.extras)
        asked = given(FIVE_DAYS, SHOPS, helpings=Helpings(appetite))
        return extra + sum(meal_kcal(meal, asked) for meal in menu.meals)

    assert total(2.4) == pytest.approx(1.2 * total(2.0), rel=0.05)


def test_snacks_are_on_the_lists_need_no_cooler_and_suit_the_diet():
    nuts = frozenset(cookbook().ingredients["mixed-nuts"].allergens)
    menu = plan(FIVE_DAYS, SHOPS, diet=Diet(avoid=nuts), helpings=Helpings(2.0))
    lists = shop(menu, SHOPS)
    listed = {line.ingredient for stop in lists.stops for line in stop.lines}
    listed |= {line.ingredient for line in lists.kit}
    eaten = {use.ingredient for meal in menu.meals for use in meal.uses(2)}
    assert menu.extras
    for extra in menu.extras:
        part = cookbook().ingredients[extra.ingredient]
        assert extra.ingredient in listed
        assert not nuts.intersection((*part.allergens, *part.may_contain))
        assert SHOPS[extra.stop].when <= extra.when
        assert extra.ingredient in eaten or not goes_in_cooler(table(), part.storage)


@pytest.mark.parametrize(("beside", "nibbled"), [("tinned-peaches", False), ("rolls", True)])
def test_spreads_are_nibbled_on_days_with_bread_alone(beside, nibbled):
    book = tiny_cookbook(sweet=("dinner", "jam", beside))
    parts = {key: book.ingredients[key] for key in ("jam", beside)}
    book = replace(book, ingredients=parts)
    slots = [slot(0, 0, "dinner"), slot(1, 1, "dinner")]
    menu = plan(slots, [home()], cookbook=book, helpings=Helpings(2.0))
    assert all(meal.dish is not None for meal in menu.meals)
    assert ("jam" in {extra.ingredient for extra in menu.extras}) == nibbled


def test_the_kit_is_listed_once_and_never_bought():
    menu = plan(FIVE_DAYS, SHOPS, helpings=Helpings(2.0))
    lists = shop(menu, SHOPS)
    parts = cookbook().ingredients
    kit = {use.ingredient for meal in menu.meals for use in meal.uses(2)}
    kit |= {extra.ingredient for extra in menu.extras}
    kit = {key for key in kit if parts[key].kit}
    assert {"coffee", "tea", "oil"} <= kit
    assert {line.ingredient for line in lists.kit} == kit
    bought = {line.ingredient for stop in lists.stops for line in stop.lines}
    assert not kit & bought
    assert all(line.bought == line.need for line in lists.kit)


def test_loose_goods_are_bought_by_the_piece():
    book = tiny_cookbook(onion=("dinner", "onions"))
    slots = [slot(0, 0, "dinner"), slot(1, 1, "dinner")]
    lists = shop(plan(slots, [home()], cookbook=book), [home()], book=book, people=3)
    assert [line.packs for line in lists.stops[0].lines] == [((1, 6),)]


def test_a_snack_of_an_opened_pack_is_dropped_where_the_pack_no_longer_keeps():
    warm = history((-240.0, 2.0), (40.0, 2.0), (40.1, 12.0), (1000.0, 12.0))
    menu = plan(FIVE_DAYS, SHOPS, history=warm, strict=True, helpings=Helpings(1.0), people=1)
    storage = make_storage(table(), warm, strict=True)
    for extra in menu.extras:
        part = cookbook().ingredients[extra.ingredient]
        assert storage.use_by(part.storage, SHOPS[extra.stop].when).allows(extra.when)


def test_a_longer_search_finds_a_menu_at_least_as_thrifty():
    short = plan(FIVE_DAYS, SHOPS, people=1, helpings=Helpings(1.0))
    longer = plan(FIVE_DAYS, SHOPS, people=1, helpings=Helpings(1.0, searches=4))
    left_kg = [waste_kg(shop(menu, SHOPS, people=1))[0] for menu in (short, longer)]
    assert longer.cost + 30.0 * left_kg[1] <= short.cost + 30.0 * left_kg[0] + 1.0


def test_packs_in_the_united_states_have_the_sizes_sold_there():
    there = sold_in(cookbook(), "US").ingredients
    assert (there["butter"].packs, there["eggs"].packs) == ((227, 454), (12,))
    assert there["foil"].packs == cookbook().ingredients["foil"].packs
    assert sold_in(cookbook(), None) == sold_in(cookbook(), "DE") == cookbook()


@pytest.mark.parametrize("people", [1, 2, 3])
@pytest.mark.parametrize("appetite", [1.0, 1.15])
def test_eggs_chops_and_onions_are_eaten_by_the_piece(people, appetite):
    slots = make_slots(4, {(1, MealKind.DINNER): 1})
    menu = plan(slots, SHOPS, people=people, helpings=Helpings(people * appetite))
    parts = cookbook().ingredients
    for meal in menu.meals:
        for use, portion in zip(meal.uses(people), meal.dish.portions, strict=True):
            part = parts[use.ingredient]
            if part.unit == "piece" and part.aisle != "tins" and not part.kit:
                # As a dish states them for one: whole, halves, quarters.
                step = next(s for s in (1.0, 0.5, 0.25) if portion.amount % s == 0.0)
                assert use.amount / step == pytest.approx(round(use.amount / step))


def test_after_a_bakery_snacks_come_from_the_shop_before():
    stops = [*SHOPS, ShopVisit("Bakery", moment(2, 17), full=False, trade="shop=bakery")]
    slots = make_slots(5, {(1, MealKind.DINNER): 1, (2, MealKind.DINNER): 2})
    menu = plan(slots, stops, helpings=Helpings(2.0))
    parts = cookbook().ingredients
    for day in (4, 5):
        extras = [extra for extra in menu.extras if extra.day == day]
        meals = [meal for meal in menu.meals if meal.slot.day == day and meal.dish]
        kcal = sum(meal_kcal(meal, given((), ())) for meal in meals)
        kcal += sum(extra.amount * parts[extra.ingredient].kcal_per_unit for extra in extras)
        if len(meals) == 3:
            assert 2250 <= kcal / 2 <= 2750
        at_bakery = {extra.ingredient for extra in extras if extra.stop == 2}
        assert at_bakery <= {"bread", "rolls"}
