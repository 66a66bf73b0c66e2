"""A camp's freezer takes the packs for the night: counted only where the rider says so."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cold_world import HOUR, T0, ambient_of, food, line_of, residual_kj
from worlds import prepared_world, shops_along, trip_of, winding_route

from resupply.api import cook
from resupply.common.show import text
from resupply.kitchen.cold.cooler import make_cooler
from resupply.kitchen.cold.heat import LATENT_KJ_PER_KG
from resupply.kitchen.cold.simulate import simulate
from resupply.kitchen.coolers import freezer_nights
from resupply.plan.pipeline import plan_trip
from resupply.say.ice import camp_freezer_words

WARM = ambient_of(*[(18.0, 28.0)] * 6)
NIGHT = (T0 + 10 * HOUR, T0 + 24 * HOUR)
BOX = make_cooler("soft", 18.0, packs_kg=2.0)


def run(cooler, stored=(), hours=40.0):
    return simulate(line_of(cooler, WARM, hours, stored=stored))


def at(trace, hours, values):
    """The value that holds from that hour on."""
    return values[trace.times_s <= T0 + hours * HOUR + 1e-3][-1]


def test_packs_from_the_freezer_are_the_same_as_frozen_goods_put_in_and_taken_out():
    away = run(replace(BOX, packs_away=(NIGHT,)))
    water = {
        "mass_kg": 2.0,
        "cp_kj_per_kg_k": 4.19,
        "volume_l": BOX.packs_l,
        "perishable": False,
        # The latent heat of food's water is published as 335 kJ/kg, that of ice is 333.55.
        "frozen_water_share": LATENT_KJ_PER_KG / 335.0,
    }
    packs = [food("packs", 0.0, 10.0, **water), food("packs", 24.0, 48.0, **water)]
    by_hand = run(replace(BOX, packs_kg=0.0), packs)
    for hours in (2.0, 6.0, 9.5, 12.0, 23.5, 24.5, 30.0, 38.0):
        warm_c = [at(one, hours, one.temp_c) for one in (away, by_hand)]
        # The box cools with the packs in it, or before they go in: the same to a tenth.
        assert warm_c[0] == pytest.approx(warm_c[1], abs=0.1), hours
        store_kg = [at(one, hours, one.store_kg) for one in (away, by_hand)]
        assert store_kg[0] == pytest.approx(store_kg[1], abs=0.01), hours


def test_heat_is_accounted_for_and_the_room_is_free_while_they_are_away():
    away = run(replace(BOX, packs_away=(NIGHT,)), [food("ham", 0.0, 30.0, 0.5)])
    assert abs(residual_kj(away.energy)) < 1e-6
    room = [at(away, hours, away.room_l) for hours in (9.0, 12.0, 25.0)]
    assert room[0] - room[1] == pytest.approx(BOX.packs_l)
    assert room[2] == pytest.approx(room[0])


def test_the_morning_after_it_is_cold_again_and_without_it_it_is_not():
    for cooler, cold in ((BOX, False), (replace(BOX, packs_away=(NIGHT,)), True)):
        trace = run(cooler, [food("ham", 0.0, 30.0, 0.5)])
        assert bool(at(trace, 24.5, trace.store_kg) > 1.0) is cold
        assert bool(at(trace, 25.0, trace.temp_c) <= 4.0) is cold


@pytest.fixture(scope="module")
def ridden():
    trip = trip_of(
        pace={"daily_km": 200.0, "speed_kmh": 50.0, "rest_days": {1: 1}},
        cooler={"kind": "soft", "volume_l": 18.0, "packs_kg": 2.0},
        weather={"low_c": 15.0, "high_c": 26.0},
        food={"plan_menu": False},
    )
    route = winding_route(600)
    places = shops_along(route, (40, 210, 380), hours=("24/7",))
    return plan_trip(prepared_world(route, places, trip), trip)


def test_packs_are_away_from_arrival_to_departure_and_on_a_rest_day_over_night(ridden):
    clock = ridden.clock
    first, second = clock.legs[:2]
    one, two = freezer_nights((2, 1, 9), None, clock)
    assert one[0] == pytest.approx(float(clock.arrive_s(first.end_m)[0]))
    # The day after is one of rest: back in the box at eight.
    assert clock.local(first.end_m, one[1]).hour == 8
    assert clock.local(first.end_m, two[0]).hour == 20
    assert two[1] == pytest.approx(float(clock.depart_s[1]))
    assert second.date.day - first.date.day == 2
    # There is no night after the last day.
    assert freezer_nights((len(clock.legs) + 1,), None, clock) == ()


def test_nobody_counts_on_a_freezer_that_nobody_confirmed(ridden, tmp_path):
    asked, counted = (
        cook(
            replace(
                ridden,
                trip=ridden.trip.model_copy(
                    update={"cooler": ridden.trip.cooler.model_copy(update={"camp_freezer": days})}
                ),
            ),
            tmp_path,
        ).food_ice
        for days in ((), (1, 2))
    )
    local = lambda at_s: ridden.clock.local(0.0, at_s)  # noqa: E731
    assert asked.cooler.packs_away == ()
    assert text(camp_freezer_words(asked, local)).startswith("Ask at the camp: freezer for packs.")
    assert len(counted.cooler.packs_away) == 2
    said = text(camp_freezer_words(counted, local))
    assert said.startswith("As you said, a camp's freezer takes the packs: ")
    assert "Ask at the camp" not in said
    assert counted.bought_kg <= asked.bought_kg
    none = replace(asked, cooler=replace(asked.cooler, packs_kg=0.0))
    assert camp_freezer_words(none, local) is None
