"""What of packs waits in the cooler, hour by hour, worked by hand."""

import datetime as dt
from types import SimpleNamespace

import pytest

from resupply.kitchen.food.dishes import load_cookbook
from resupply.kitchen.food.load import goes_in_cooler
from resupply.kitchen.food.rests import Rest, rests_of
from resupply.kitchen.food.shopping import ShoppingLine
from resupply.kitchen.food.storage_classes import Keeping, class_of, load_storage

TABLE = load_storage()
BOOK = load_cookbook(TABLE)
START = dt.datetime(2027, 7, 9, 16, tzinfo=dt.UTC)
DAY_S = 86_400.0


def first_ingredient(wanted):
    return next(
        key for key, one in BOOK.ingredients.items() if wanted(class_of(TABLE, one.storage))
    )


COLD = first_ingredient(lambda row: goes_in_cooler(TABLE, row.id))
TIN = first_ingredient(
    lambda row: (
        not goes_in_cooler(TABLE, row.id)
        and row.keeping is Keeping.STABLE
        and row.opened
        and row.after_warm == "discard"
    )
)
TIN_KEEPS_DAYS = class_of(TABLE, BOOK.ingredients[TIN].storage).opened[0]
DRY = first_ingredient(lambda row: row.keeping is Keeping.STABLE and not row.opened)


def line(ingredient, *, in_hand=0.0, packs=((500, 1),), used_later=0.0, left_over=0.0, keeps=False):
    return ShoppingLine(
        ingredient, 400.0, in_hand, packs, used_later, left_over, keeps, (0,), False
    )


def rests(lists, uses=(), stop_days=(0.0, 1.0, 2.0)):
    """Rests of (stop, line), uses of (days, ingredient, amount), stops after so many days."""
    at = lambda days: START + dt.timedelta(days=days)  # noqa: E731
    meals = [
        SimpleNamespace(
            slot=SimpleNamespace(when=at(days)),
            uses=lambda people, key=key, amount=amount: [
                SimpleNamespace(ingredient=key, amount=amount * people)
            ],
        )
        for days, key, amount in uses
    ]
    listed = [SimpleNamespace(stop=stop, lines=[one]) for stop, one in lists]
    stops = [SimpleNamespace(when=at(days)) for days in stop_days]
    found = rests_of(
        SimpleNamespace(stops=stops, cookbook=BOOK, storage=TABLE),
        SimpleNamespace(meals=meals, extras=()),
        SimpleNamespace(stops=listed, people=1),
    )
    start_s = START.timestamp()
    return [
        Rest(
            one.ingredient, one.amount, (one.in_s - start_s) / DAY_S, (one.out_s - start_s) / DAY_S
        )
        for one in found
    ]


LAST_MEAL = (3.0, DRY, 1.0)


def test_what_no_meal_uses_of_a_cold_pack_leaves_at_the_next_stop():
    assert rests([(0, line(COLD, left_over=100.0))], [LAST_MEAL]) == [Rest(COLD, 100.0, 0.0, 1.0)]


def test_what_keeps_like_a_sealed_pack_rides_to_the_end():
    found = rests([(1, line(COLD, left_over=100.0, keeps=True))], [LAST_MEAL])
    assert found == [Rest(COLD, 100.0, 1.0, 3.0)]


def test_what_a_later_meal_uses_lies_there_until_the_stop_it_is_counted_for():
    first = line(COLD, used_later=150.0)
    found = rests([(0, first), (2, line(COLD, in_hand=150.0))], [LAST_MEAL])
    assert found == [Rest(COLD, 150.0, 0.0, 2.0)]


def test_the_oldest_rest_is_taken_first():
    lists = [
        (0, line(COLD, used_later=100.0)),
        (1, line(COLD, used_later=100.0)),
        (2, line(COLD, in_hand=150.0)),
    ]
    found = rests(lists, [LAST_MEAL])
    assert found == [Rest(COLD, 100.0, 0.0, 2.0), Rest(COLD, 50.0, 1.0, 2.0)]


def test_a_tin_takes_room_from_the_meal_that_opens_it_to_the_next_that_uses_it():
    later = min(1.0, TIN_KEEPS_DAYS / 2.0)
    uses = [(0.5, TIN, 300.0), (0.5 + later, TIN, 200.0)]
    found = rests([(0, line(TIN))], uses)
    assert [(one.ingredient, one.amount) for one in found] == [(TIN, 200.0)]
    assert (found[0].in_s, found[0].out_s) == pytest.approx((0.5, 0.5 + later))


def test_an_opened_tin_that_does_not_keep_until_the_next_meal_takes_no_room():
    uses = [(0.5, TIN, 300.0), (1.0 + TIN_KEEPS_DAYS, TIN, 200.0)]
    assert rests([(0, line(TIN, packs=((500, 2),)))], uses) == []


def test_dry_food_never_lies_in_the_cooler():
    assert rests([(0, line(DRY, left_over=100.0, keeps=True))], [LAST_MEAL]) == []
