"""Nothing in a menu is past its limit; lists cover and equal the need; the menu is the optimum."""

from __future__ import annotations

import datetime as dt
from itertools import product

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from kitchen_world import (
    FRIDAY,
    cookbook,
    history,
    home,
    load_of,
    make_slots,
    moment,
    plan,
    shop,
    slot,
    table,
    tiny_cookbook,
)

from resupply.common.show import text
from resupply.kitchen.food.assign import EMPTY, DishChoice, assign, total_cost
from resupply.kitchen.food.dishes import MealKind
from resupply.kitchen.food.meals import Diet, Fire, ShopVisit
from resupply.kitchen.food.packs import cover
from resupply.kitchen.food.storage import make_storage

FEW = settings(max_examples=examples(11))
MANY = settings(max_examples=examples(90))

# Temperatures every six hours over five days; None is a gap in the record.
TEMPS = st.lists(
    st.one_of(st.none(), st.floats(-2, 45), st.just(2.0), st.just(2.0)), min_size=20, max_size=20
)


def kept_at(temps):
    points = [(6.0 * n, np.nan if t is None else t) for n, t in enumerate(temps)]
    return history(*points)


def warm_hours(temps, start_h, end_h, above_c):
    """Warm and hot time by brute force, minute by minute; unknown counts as hot."""
    hours = np.arange(start_h + 1 / 120, end_h, 1 / 60)
    inside = np.interp(
        hours,
        6.0 * np.arange(len(temps)),
        [np.nan if t is None else t for t in temps],
        left=np.nan,
        right=np.nan,
    )
    unknown = np.isnan(inside)
    warm = unknown | (inside > above_c)
    hot = unknown | (inside > 32.0)
    return warm.sum() / 60, bool(hot.any())


@MANY
@given(TEMPS, st.floats(0, 60), st.floats(0.1, 60))
def test_food_still_good_was_never_warm_too_long(temps, bought_h, wait_h):
    storage = make_storage(table(), kept_at(temps))
    bought, eaten = moment(0, bought_h), moment(0, bought_h + wait_h)
    limit = storage.use_by("dry-cured-ham", bought)
    warm_h, hot = warm_hours(temps, bought_h, bought_h + wait_h, 4.0)
    allowed = 1.0 if hot else 2.0
    # Half a minute of the brute force, and the tolerance at the threshold.
    if limit.allows(eaten):
        assert warm_h <= allowed + 0.1
    elif limit.when is not None and limit.limit in ("warm", "unknown"):
        assert warm_h >= allowed - 0.1 or hot


@MANY
@given(TEMPS, st.lists(st.floats(0, 20), min_size=20, max_size=20), st.floats(0, 100))
def test_a_warmer_history_never_lets_food_last_longer(temps, more, bought_h):
    warmer = [None if t is None else t + extra for t, extra in zip(temps, more, strict=True)]
    bought = moment(0, bought_h)
    for class_id in ("raw-cuts", "hard-cheese", "mayonnaise"):
        cool = make_storage(table(), kept_at(temps)).use_by(class_id, bought).when
        hot = make_storage(table(), kept_at(warmer)).use_by(class_id, bought).when
        assert hot is not None
        assert hot - cool <= dt.timedelta(milliseconds=1)


@MANY
@given(TEMPS, st.floats(0, 100), st.floats(0, 40))
def test_opening_a_pack_never_lets_it_last_longer(temps, bought_h, wait_h):
    storage = make_storage(table(), kept_at(temps))
    bought, opened = moment(0, bought_h), moment(0, bought_h + wait_h)
    for class_id in table().classes:
        sealed = storage.use_by(class_id, bought).when
        after = storage.use_by(class_id, bought, opened=opened).when
        assert sealed is None or (after is not None and after <= sealed)


@st.composite
def trips(draw):
    days = draw(st.integers(1, 5))
    stop_days = sorted(draw(st.sets(st.integers(1, 4), max_size=2)))
    kinds = list(MealKind)
    at = {(d, MealKind.DINNER): n for n, d in enumerate(stop_days, start=1)}
    stops = [home()] + [
        ShopVisit(f"Shop {d}", moment(d, draw(st.floats(13, 18))), full=draw(st.booleans()))
        for d in stop_days
    ]
    flags = {
        "late": draw(st.booleans()),
        "fire": draw(st.sampled_from(Fire)),
        "no_cook": draw(st.booleans()),
    }
    assert kinds
    slots = make_slots(days, at, **flags)
    diet = Diet(vegetarian=draw(st.booleans()), vegan=draw(st.booleans()))
    return slots, stops, diet


@FEW
@given(trips(), st.one_of(st.none(), TEMPS))
def test_nothing_in_a_menu_is_past_its_limit(trip, temps):
    slots, stops, diet = trip
    kept = None if temps is None else kept_at(temps)
    menu = plan(slots, stops, history=kept, diet=diet)
    storage = make_storage(table(), kept)
    assert [meal.slot for meal in menu.meals] == list(slots)
    for before, meal in zip((None, *menu.meals), menu.meals, strict=False):
        if meal.dish is None:
            assert text(meal.why).startswith("No dish")
            continue
        parts = cookbook().parts(meal.dish)
        assert len(meal.bought) == len(parts)
        for part, bought in zip(parts, meal.bought, strict=True):
            assert bought.stop <= meal.slot.stretch
            assert stops[bought.stop].when <= meal.slot.when
            assert storage.use_by(part.storage, stops[bought.stop].when).allows(meal.slot.when)
        if meal.dish.leftover_of is not None:
            assert before is not None
            assert before.dish.id == meal.dish.leftover_of
        if meal.slot.no_cook:
            assert meal.dish.method == "no-cook"
        if meal.slot.late:
            assert meal.dish.minutes <= 20
        if meal.slot.fire is not Fire.YES:
            assert meal.dish.heat != "fire"
        if diet.vegan:
            assert cookbook().diet(meal.dish) == "vegan"


@FEW
@given(trips(), st.one_of(st.none(), TEMPS), st.integers(1, 5))
def test_lists_equal_the_dishes_and_cover_them(trip, temps, people):
    slots, stops, diet = trip
    kept = None if temps is None else kept_at(temps)
    menu = plan(slots, stops, history=kept, diet=diet)
    shopping = shop(menu, stops, people=people, kept=kept)
    want: dict[str, float] = {}
    for key, amount in eaten_of(menu, people):
        if not cookbook().ingredients[key].kit:
            want[key] = want.get(key, 0.0) + amount
    need: dict[str, float] = {}
    later: dict[str, float] = {}
    for listed in shopping.stops:
        for line in listed.lines:
            need[line.ingredient] = need.get(line.ingredient, 0.0) + line.need
            later[line.ingredient] = later.get(line.ingredient, 0.0) + line.used_later
            later[line.ingredient] -= line.in_hand
            assert line.in_hand + line.bought == pytest.approx(
                line.need + line.used_later + line.left_over
            )
            assert min(line.left_over, line.used_later, line.in_hand) >= 0.0
            sold = cookbook().ingredients[line.ingredient].sold
            assert {size for size, _ in line.packs} <= set(sold)
    assert need == pytest.approx(want)
    # What is used later at one stop is what is in hand at another.
    assert all(value == pytest.approx(0.0, abs=1e-6) for value in later.values())


def eaten_of(menu, people):
    """Food and amount of every meal, snack and drink, for the whole party."""
    for meal in menu.meals:
        yield from ((use.ingredient, use.amount) for use in meal.uses(people))
    yield from ((extra.ingredient, extra.amount) for extra in menu.extras)


@FEW
@given(trips(), st.integers(1, 4))
def test_the_load_is_never_negative_and_ends_with_what_is_left(trip, people):
    slots, stops, diet = trip
    menu = plan(slots, stops, diet=diet)
    shopping = shop(menu, stops, people=people)
    made = load_of(menu, shopping, stops)
    for point in made.points:
        assert min(point.mass_kg, point.bag_l, point.cooler_l) >= -1e-9
    lists = [*(listed.lines for listed in shopping.stops), shopping.kit]
    bought = sum(
        line.bought * cookbook().ingredients[line.ingredient].unit_kg
        for lines in lists
        for line in lines
    )
    eaten = sum(
        amount * cookbook().ingredients[key].unit_kg for key, amount in eaten_of(menu, people)
    )
    gone = sum(
        line.left_over * cookbook().ingredients[line.ingredient].unit_kg
        for listed in shopping.stops[:-1]
        for line in listed.lines
        if not line.keeps
    )
    assert made.points[-1].mass_kg == pytest.approx(bought - eaten - gone, abs=1e-6)


@MANY
@given(st.integers(0, 300_000), st.sets(st.integers(1, 900), min_size=1, max_size=4))
def test_packs_cover_the_need_with_the_least_left_over(hundredths, sizes):
    need = hundredths / 100
    packs = dict(cover(need, sorted(sizes)))
    total = sum(size * count for size, count in packs.items())
    assert total >= need
    assert set(packs) <= sizes
    reachable = {0}
    top = int(need) + min(sizes) + 1
    for size in sizes:
        for t in range(size, top + 1):
            if t - size in reachable:
                reachable.add(t)
    assert total == min(t for t in reachable if t >= need)


@st.composite
def assignments(draw):
    n_slots = draw(st.integers(1, 4))
    dishes = "abcd"[: draw(st.integers(1, 4))]
    choices = [
        DishChoice(n, dish, draw(st.integers(-300, 300)) / 100)
        for n in range(n_slots)
        for dish in dishes
        if draw(st.booleans())
    ]
    window = draw(st.integers(1, 4))
    leftovers = draw(st.sampled_from([{}, {"a": frozenset("b")}, {"a": frozenset("bc")}]))
    return n_slots, choices, window, leftovers


@MANY
@given(assignments())
def test_the_assignment_is_the_optimum_of_brute_force(problem):
    n_slots, choices, window, leftovers = problem
    picked = assign(n_slots, choices, window=window, leftovers=leftovers)
    assert tied(picked, n_slots, leftovers)
    options = [[None, *(c.dish for c in choices if c.slot == n)] for n in range(n_slots)]
    best = min(
        brute_cost(trial, choices, window)
        for trial in product(*options)
        if tied({n: d for n, d in enumerate(trial) if d}, n_slots, leftovers)
    )
    got = brute_cost(tuple(picked.get(n) for n in range(n_slots)), choices, window)
    assert got == pytest.approx(best, abs=1e-5)
    assert total_cost(n_slots, choices, picked, window=window) == pytest.approx(got)


def tied(picked, n_slots, leftovers):
    for maker, users in leftovers.items():
        for n in range(-1, n_slots):
            if (picked.get(n) == maker) != (picked.get(n + 1) in users):
                return False
    return True


def brute_cost(trial, choices, window):
    """The objective once more, from its words."""
    cost = sum(EMPTY for dish in trial if dish is None)
    for n, dish in enumerate(trial):
        if dish is not None:
            cost += next(c.cost for c in choices if (c.slot, c.dish) == (n, dish))
    for dish in set(trial) - {None}:
        cost += 3.0 * (trial.count(dish) - 1)
        starts = range(len(trial) - window + 1) if len(trial) > window else [0]
        for start in starts:
            cost += 30.0 * max(trial[start : start + window].count(dish) - 1, 0)
    return cost


DINNERS = {
    "chicken": "chicken-thigh",
    "steak": "beef-steak",
    "ham": "dry-cured-ham",
    "pepper": "peppers",
    "potato": "potatoes",
    "tin": "tinned-stew",
    "sardine": "tinned-sardines",
}


@FEW
@given(st.sets(st.sampled_from(sorted(DINNERS)), min_size=2, max_size=5), TEMPS)
def test_no_two_meals_of_a_stretch_could_be_swapped_to_eat_sooner_what_spoils_sooner(keys, temps):
    book = tiny_cookbook(**{key: ("dinner", DINNERS[key]) for key in keys})
    slots = [slot(n, n, "dinner") for n in range(3)]
    menu = plan(slots, [home()], cookbook=book, history=kept_at(temps))
    storage = make_storage(table(), kept_at(temps))

    def deadline(dish):
        when = storage.use_by(book.ingredients[DINNERS[dish.id]].storage, FRIDAY).when
        return float("inf") if when is None else when.timestamp()

    filled = [meal for meal in menu.meals if meal.dish is not None]
    for n, early in enumerate(filled):
        for late in filled[n + 1 :]:
            if early.dish.id == late.dish.id:
                continue
            can_swap = deadline(early.dish) >= late.slot.when.timestamp()
            if can_swap:
                assert deadline(early.dish) <= deadline(late.dish) + 1.0
