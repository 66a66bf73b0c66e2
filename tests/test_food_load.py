import pytest
from kitchen_world import (
    cold,
    cookbook,
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

from resupply.kitchen.food.load import LoadChange, goes_in_cooler
from resupply.kitchen.food.meals import ShopVisit


def test_the_load_jumps_at_a_shop_and_falls_at_meals():
    book = tiny_cookbook(stew=("dinner", "tinned-stew"))
    stops = [home(), ShopVisit("Shop", moment(1, 16), full=True)]
    slots = [slot(0, 0, "dinner"), slot(1, 1, "dinner", stretch=1)]
    menu = plan(slots, stops, cookbook=book)
    made = load_of(menu, shop(menu, stops, book=book), stops, book=book)
    # Two tins of 0.9 kg are bought, eaten, bought again and eaten.
    assert [point.mass_kg for point in made.points] == pytest.approx([1.8, 0.0, 1.8, 0.0])
    assert [point.change.kind for point in made.points] == ["stop", "meal", "stop", "meal"]
    assert made.peak_kg is made.points[0]


def test_what_needs_cold_takes_room_in_the_cooler_else_in_the_bag():
    book = tiny_cookbook(mixed=("dinner", "beef-steak", "tinned-stew"))
    menu = plan([slot(0, 0, "dinner")], [home()], cookbook=book)
    shopping = shop(menu, [home()], book=book)
    with_box = load_of(menu, shopping, [home()], book=book).points[0]
    assert with_box.cooler_l == pytest.approx(0.18 * 1.2)
    assert with_box.bag_l == pytest.approx(1.8 * 1.05)
    without = load_of(menu, shopping, [home()], book=book, cooler_l=None).points[0]
    assert without.cooler_l == 0.0
    assert without.bag_l == pytest.approx(with_box.bag_l + with_box.cooler_l)


def test_a_peak_above_the_luggage_is_told_by_how_much():
    menu = plan(make_slots(3), [home()])
    shopping = shop(menu, [home()])
    peak = load_of(menu, shopping, [home()]).peak_kg.mass_kg
    made = load_of(menu, shopping, [home()], luggage_kg=peak - 1.5, bag_l=1000.0, cooler_l=0.5)
    assert made.over_kg == pytest.approx(1.5)
    assert made.over_bag_l == 0.0
    assert made.over_cooler_l > 0.0


def test_a_peak_that_just_fits_is_not_over():
    menu = plan(make_slots(3), [home()])
    shopping = shop(menu, [home()])
    peak = load_of(menu, shopping, [home()]).peak_kg.mass_kg
    assert load_of(menu, shopping, [home()], luggage_kg=peak - 1e-12).over_kg == 0.0


def test_ice_and_water_of_the_lead_are_counted_in():
    menu = plan([slot(0, 0, "dinner")], [home()])
    shopping = shop(menu, [home()])
    ice = LoadChange(moment(0, 9), "other", 0, "ice", 4.0, 0.0, 6.0)
    made = load_of(menu, shopping, [home()], others=[ice])
    assert made.points[1].change is ice
    assert made.points[1].mass_kg == pytest.approx(made.points[0].mass_kg + 4.0)


def test_perishable_remains_leave_at_the_next_stop_and_jam_stays():
    book = tiny_cookbook(toast=("dinner", "bread", "jam"))
    stops = [home(), ShopVisit("Shop", moment(1, 16), full=True)]
    menu = plan([slot(0, 0, "dinner")], stops, cookbook=book)
    shopping = shop(menu, stops, book=book, kept=cold())
    made = load_of(menu, shopping, stops, book=book)
    assert made.points[-1].change.kind == "stop"
    # 400 g of bread and 250 g of jam are bought, 2 g of each eaten; the old bread goes.
    assert made.points[-1].mass_kg == pytest.approx(0.248)


def test_reserve_meals_stay_on_board_to_the_end():
    from resupply.kitchen.food.meals import Diet
    from resupply.kitchen.food.menu import reserve_dishes

    menu = plan([slot(0, 0, "dinner")], [home()])
    reserve = reserve_dishes(cookbook(), Diet(), 2)
    with_it = load_of(menu, shop(menu, [home()], reserve=reserve), [home()])
    without = load_of(menu, shop(menu, [home()]), [home()])
    assert with_it.points[-1].mass_kg > without.points[-1].mass_kg + 0.2


def test_a_trip_without_events_has_no_peak():
    menu = plan([], [])
    made = load_of(menu, shop(menu, []), [])
    assert made.points == ()
    assert made.peak_kg is None


def test_cheese_and_butter_ride_in_the_cooler_tomatoes_do_not():
    assert goes_in_cooler(table(), "hard-cheese")
    assert goes_in_cooler(table(), "raw-poultry")
    assert not goes_in_cooler(table(), "soft-vegetables")
    assert not goes_in_cooler(table(), "tinned-fish")
