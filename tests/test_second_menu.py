"""What to eat, leave and buy if ice that is only likely is not there."""

from dataclasses import replace

import pytest
from demo_plans import SAMPLES, demo_document, demo_read
from kitchen_world import given, home, make_slots, moment, plan, shop, warm_from

from resupply.api import cook
from resupply.common.show import text
from resupply.kitchen.food.meals import Helpings, ShopVisit
from resupply.kitchen.food.menu import plan_menu
from resupply.kitchen.second_menu import SecondMenu, menu_difference
from resupply.places.place import Confidence
from resupply.report.lists import shopping_lists
from resupply.say.second_menu import second_menu_words

SHOP = ShopVisit("Harbour shop", moment(2, 15.0), full=True)
STOPS = [home(), SHOP]
SLOTS = make_slots(5, {(2, "dinner"): 1})


@pytest.fixture(scope="module")
def two():
    """The same meals for a cooler that stays cold, and for one that is warm from the shop on."""
    asked = given(SLOTS, STOPS, helpings=Helpings(2.0))
    cold = plan(SLOTS, STOPS, helpings=Helpings(2.0))
    only = {n: {m.dish.id} for n, m in enumerate(cold.meals) if m.slot.when < SHOP.when}
    stays = replace(asked, kept={n: m.dish.id for n, m in enumerate(cold.meals)})
    warm = plan_menu(stays, warm_from(63.0), keep=cold, only=only, say_moves=False)
    lists = [shop(menu, STOPS, kept=kept) for menu, kept in ((cold, None), (warm, warm_from(63.0)))]
    return asked, (cold, lists[0]), (warm, lists[1])


def test_the_difference_is_the_dishes_that_change_and_what_they_take(two):
    asked, first, second = two
    told = menu_difference(asked, first, second, SHOP.when.timestamp())
    assert told.meals
    for meal in told.meals:
        assert meal.slot.when >= SHOP.when
        assert meal.before != meal.after
    ((stop, changes),) = told.lists
    assert stop == 1
    bought = [
        {row.ingredient: row.bought for row in one[1].stops[1].lines} for one in (first, second)
    ]
    for change in changes:
        before, after = (one.get(change.ingredient, 0.0) for one in bought)
        assert change.amount == pytest.approx(after - before)
        assert change.gone is (after == 0.0)
    parts = asked.cookbook.ingredients
    cold = {
        c.ingredient
        for c in changes
        if asked.storage.classes[parts[c.ingredient].storage].needs_cold
    }
    assert [c for c in changes if c.ingredient in cold and c.gone]


def test_nothing_differs_from_itself(two):
    asked, first, _ = two
    same = menu_difference(asked, first, first, SHOP.when.timestamp())
    assert (same.meals, same.lists) == ((), ())


def test_a_menu_changes_no_meal_that_need_not_change(two):
    _, (cold, _), (warm, _) = two
    strict = plan(SLOTS, STOPS, helpings=Helpings(2.0), history=warm_from(63.0))
    kept = sum(a.dish == b.dish for a, b in zip(cold.meals, warm.meals, strict=True))
    assert kept >= sum(a.dish == b.dish for a, b in zip(cold.meals, strict.meals, strict=True))
    for meal in (m for m in warm.meals if m.slot.when >= SHOP.when and m.dish is not None):
        assert meal.use_by is None or meal.use_by.when >= meal.slot.when


@pytest.fixture(scope="module")
def sample():
    """The sample trip, on which ice at one shop is only likely."""
    return demo_read()._bare, cook(demo_read()._bare, SAMPLES)


def test_a_second_menu_for_each_likely_purchase_and_for_no_other(sample):
    _, kitchen = sample
    likely = [
        p.stop for p in kitchen.food_ice.purchases if p.stop.confidence is not Confidence.STATED
    ]
    assert likely
    assert [second.stop for second in kitchen.second] == likely


def test_without_that_ice_nothing_is_eaten_that_needs_cold_for_long(sample):
    _, kitchen = sample
    (second,) = kitchen.second
    changed = second.difference.meals
    assert changed
    at = kitchen.given.stops[second.difference.lists[0][0]].when
    table = kitchen.given.storage
    for meal in changed:
        assert meal.after is not None
        raw = [
            part
            for part in kitchen.given.cookbook.parts(meal.after)
            if table.classes[part.storage].kind == "raw" and part.aisle in ("meat", "fish")
        ]
        assert not raw or (meal.slot.when - at).total_seconds() <= 2 * 3600


def test_the_ice_stop_its_list_and_the_text_tell_the_same():
    document = demo_document()[0]
    (row,) = (row for row in document.ice.stops if any(buy.if_none for buy in row.buy))
    assert row.confidence == "likely"
    (told,) = (buy.if_none for buy in row.buy if buy.if_none)
    (listed,) = (stop for stop in document.shopping.stops if stop.if_no_ice)
    assert listed.if_no_ice == told
    assert [text(said) for said in told][0].startswith("No ice at ")
    plain = shopping_lists(document)
    assert all(
        text(said).replace("\u2068", "").replace("\u2069", "")[:30] in plain for said in told
    )


def test_where_nothing_was_worked_out_that_is_said(sample):
    _, kitchen = sample
    (second,) = kitchen.second
    (said,) = second_menu_words(
        SecondMenu(second.stop, None, None), kitchen.given, lambda _: SHOP.when
    )
    assert "no second menu is worked out" in text(said)
    nothing = replace(second, difference=replace(second.difference, meals=(), lists=()))
    assert second_menu_words(nothing, kitchen.given, lambda _: SHOP.when) == ()
    first = replace(second, difference=replace(second.difference, eat_first=("eggs", "butter")))
    told = second_menu_words(first, kitchen.given, lambda _: SHOP.when)
    assert text(told[0]) == "No ice: eat first, it is cold until Sun 15:00: Eggs; Butter."
