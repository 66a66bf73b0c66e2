"""What is commonly said of coolers (no source), held against our own heat account."""

from __future__ import annotations

import pytest
from cold_world import DAY, HOUR, T0, ambient_of, food, home, ice_stop, line_of, plan

from resupply.kitchen.cold.balance import IceLoad
from resupply.kitchen.cold.cooler import make_cooler
from resupply.kitchen.cold.ice_plan import IceState
from resupply.kitchen.cold.simulate import simulate

SUMMER = [(17.0, 31.0)] * 20
SUNNY = [(T0 + d * DAY, T0 + d * DAY + 7 * HOUR) for d in range(14)]


@pytest.mark.parametrize("kind", ["hard", "soft", "bag"])
def test_packs_hold_no_cold_on_the_second_day(kind):
    cooler = make_cooler(kind, 20.0, packs_kg=1.5)
    stored = [food("lunch", 0, 48, mass_kg=2.0)]
    trace = simulate(line_of(cooler, ambient_of(*SUMMER), 48, stored=stored, sun=SUNNY))
    assert trace.store_gone_s[0] < T0 + DAY
    second_day = trace.hours_above(4.0, T0 + DAY, T0 + 2 * DAY)
    assert second_day > 20.0


@pytest.mark.parametrize("ice_kg", [2.0, 4.0, 8.0])
def test_ice_lasts_longest_in_a_hard_cooler_and_shortest_in_a_bag(ice_kg):
    gone = [
        simulate(
            line_of(make_cooler(kind, 25.0), ambient_of(*SUMMER), 200), [IceLoad(T0, ice_kg)]
        ).store_gone_s[0]
        for kind in ("bag", "soft", "hard")
    ]
    assert gone[0] < gone[1] < gone[2]
    assert (gone[2] - T0) / (gone[1] - T0) > 1.5


def test_ten_days_of_cold_food_take_five_ice_stops_and_eight_times_their_mass_of_ice():
    # Ten days of cold food in summer, ice to be had twice a day. Food bought and eaten the same
    # day takes no ice at all, so every stop and kilogram here is extra.
    hours = 10 * 24
    stops = [home(), *(ice_stop(h, f"s{h}") for h in range(5, hours, 12))]
    kept = [food("meat, milk, cheese", 0, hours - 1, mass_kg=4.0)]
    found = plan(make_cooler("hard", 20.0), ambient_of(*SUMMER), hours, kept, stops, sun=SUNNY)
    assert found.state is IceState.HOLDS
    assert found.stops >= 5
    assert found.bought_kg >= 8 * 4.0  # the ice weighs eight times the food it cools


def test_ice_from_home_lasts_two_summer_days():
    found = plan(
        make_cooler("hard", 25.0), ambient_of(*SUMMER), 48, [food("meat", 0, 46)], [home()]
    )
    assert found.state is IceState.HOLDS
    assert found.stops == 0
