import math
from dataclasses import replace

import numpy as np
import pytest
from cold_world import (
    DAY,
    HOUR,
    T0,
    ambient_of,
    bare_cooler,
    food,
    home,
    ice_stop,
    integrate,
    line_of,
    make_days,
    plan,
    steady,
    temp_at,
    utc,
)

from resupply.common.errors import TripFileError
from resupply.kitchen.cold.balance import IceLoad, add_ice, apply_moves, first_state, step
from resupply.kitchen.cold.cooler import make_cooler
from resupply.kitchen.cold.ice_plan import IceGoal, IceState
from resupply.kitchen.cold.ice_search import choose, excuse, make_problem
from resupply.kitchen.cold.simulate import simulate
from resupply.kitchen.cold.steps import Need
from resupply.kitchen.cold.weather import make_ambient


def bought(found):
    return [(p.stop.label, p.bags) for p in found.purchases]


def test_ice_for_one_day_is_the_melt_and_the_reserve():
    # 0.5 W/K at 25 °C melts 3.24 kg a day; half a kilogram must be left.
    cooler = bare_cooler(0.5)
    stored = [food("meat", 0, 24, temp_c=0.0)]
    found = plan(cooler, steady(25.0), 24, stored, [home(bag_kg=1.0)])
    assert found.state is IceState.HOLDS
    assert bought(found) == [("home", 4)]
    assert found.trace.ice_kg[-1] == pytest.approx(4.0 - 0.5 * 25 * 86.4 / 333.55, abs=0.01)


def test_nothing_perishable_needs_no_ice():
    stored = [food("beans", 0, 48, perishable=False)]
    found = plan(bare_cooler(0.5), steady(25.0), 48, stored, [home()])
    assert found.state is IceState.NO_NEED
    assert found.purchases == ()


def test_no_cooler_is_an_outcome_not_an_error():
    found = plan(make_cooler("none", 20.0), steady(25.0), 48, [food("meat", 0, 10)], [home()])
    assert found.state is IceState.NO_COOLER
    assert found.purchases == ()
    assert found.fails_at_s == T0
    assert found.worst_c == pytest.approx(25.0)


def test_no_ice_at_all_says_when_it_fails_and_by_how_much():
    stored = [food("meat", 0, 20, mass_kg=2.0, temp_c=2.0)]
    found = plan(bare_cooler(0.5), steady(25.0), 20, stored, [])
    capacity = 7.0 + 0.05
    expected_h = capacity / (0.5 * 3.6) * math.log((25.0 - 2.0) / (25.0 - 4.0))
    assert found.state is IceState.FAILS
    assert found.fails_at_s - T0 == pytest.approx(expected_h * HOUR, abs=120.0)
    assert 20.0 < found.worst_c < 25.0


def test_bags_are_whole_and_a_part_bag_is_loaded_as_it_fits():
    cooler = bare_cooler(0.5, volume_l=8.0)  # 7.6 L for cubes of 2 L/kg, less the food
    stored = [food("meat", 0, 20, mass_kg=0.5, volume_l=1.0)]
    found = plan(cooler, steady(20.0), 20, stored, [home(bag_kg=5.0)])
    (purchase,) = found.purchases
    assert (purchase.bags, purchase.kg) == (1, 5.0)
    assert purchase.loaded_kg == pytest.approx(3.3)


def test_blocks_carry_a_small_cooler_further_than_cubes():
    cooler = bare_cooler(0.7, volume_l=10.0)
    stored = [food("meat", 0, 72, mass_kg=0.5, volume_l=1.0)]
    fails = [
        plan(cooler, steady(25.0), 72, stored, [home(form=form)]).fails_at_s
        for form in ("cube", "block")
    ]
    assert fails[1] > fails[0] + 6 * HOUR


def test_fewest_stops_come_before_least_ice():
    # A day's ice fits thrice: one stop in the middle is enough though four are passed.
    cooler = bare_cooler(0.5, volume_l=26.0)
    stored = [food("meat", 0, 120, mass_kg=0.5)]
    stops = [home(), *(ice_stop(h, f"s{h}") for h in (24, 48, 72, 96))]
    found = plan(cooler, steady(25.0), 120, stored, stops)
    assert found.state is IceState.HOLDS
    assert found.stops == 1


def test_stated_ice_is_preferred_to_likely_ice():
    cooler = bare_cooler(0.5, volume_l=26.0)
    stored = [food("meat", 0, 100, mass_kg=0.5)]
    stops = [home(), ice_stop(40, "likely", likely=True), ice_stop(50, "stated")]
    found = plan(cooler, steady(25.0), 100, stored, stops)
    assert "likely" not in dict(bought(found))
    assert found.without == ()


def test_likely_ice_is_flagged_with_what_happens_without_it():
    cooler = bare_cooler(0.5, volume_l=26.0)
    stored = [food("meat", 0, 100, mass_kg=0.5)]
    stops = [home(), ice_stop(50, "likely", likely=True)]
    found = plan(cooler, steady(25.0), 100, stored, stops)
    assert found.state is IceState.HOLDS
    (doubt,) = found.without
    assert doubt.stop.label == "likely"
    assert doubt.then == ()
    assert T0 + 50 * HOUR < doubt.fails_at_s < T0 + 100 * HOUR


def test_next_stop_saves_a_likely_one_that_has_none():
    cooler = bare_cooler(0.5, volume_l=26.0)
    stored = [food("meat", 0, 160, mass_kg=0.5)]
    stops = [home(), ice_stop(70, "likely", likely=True), ice_stop(71, "next", likely=True)]
    found = plan(cooler, steady(25.0), 160, stored, stops)
    first = found.purchases[1].stop.label
    if first == "likely":
        assert found.without[0].fails_at_s is None
        assert found.without[0].then[0].stop.label == "next"
    else:
        assert found.without[0].fails_at_s is not None


def test_gap_too_long_fails_late_and_recovers_at_the_next_stop():
    cooler = bare_cooler(0.7, volume_l=12.0)
    stored = [food("meat", 0, 100, mass_kg=0.5)]
    stops = [home(), ice_stop(60, "second"), ice_stop(80, "third")]
    found = plan(cooler, steady(28.0), 100, stored, stops)
    assert found.state is IceState.FAILS
    # As full as can be at the start, so that it fails as late as can be.
    fits_kg = (0.95 * 12.0 - 0.65) / 2.0
    assert found.purchases[0].loaded_kg == pytest.approx(fits_kg)
    melted_h = fits_kg * 333.55 / (0.7 * 28.0 * 3.6)
    assert (found.fails_at_s - T0) / HOUR == pytest.approx(melted_h, abs=2.0)
    assert {p.stop.label for p in found.purchases} == {"home", "second", "third"}
    assert temp_at(found.trace, T0 + 99 * HOUR) == 0.0


def test_without_room_for_the_reserve_the_limit_still_counts():
    # The reserve cannot be kept to the end; 4 °C can.
    cooler = bare_cooler(0.5, volume_l=9.4)
    stored = [food("soup", 0, 32, mass_kg=2.0, volume_l=2.0, temp_c=0.0, cp_kj_per_kg_k=4.2)]
    found = plan(cooler, steady(20.0), 32, stored, [home()])
    assert found.state is IceState.HOLDS
    assert found.trace.ice_kg[-1] < found.keep_kg


def test_ice_gone_with_food_inside_is_told():
    stored = [food("meat", 0, 3, mass_kg=4.0, temp_c=0.0)]
    found = plan(bare_cooler(0.2), steady(15.0), 3, stored, [])
    assert found.state is IceState.HOLDS  # 4 °C is not reached in three hours
    assert found.no_ice_from_s == T0


def test_unknown_weather_is_never_fine():
    ambient = ambient_of((10, 20), (12, 30), None, (14, 26))
    found = plan(bare_cooler(0.5), ambient, 60, [food("meat", 0, 50)], [home()])
    assert found.state is IceState.UNKNOWN
    assert found.unknown_from_s == T0 + 16 * HOUR
    assert found.purchases  # what is known is planned for


def test_no_weather_at_all_is_not_known_and_buys_nothing():
    found = plan(bare_cooler(0.5), ambient_of(), 60, [food("meat", 0, 50)], [home()])
    assert found.state is IceState.UNKNOWN
    assert found.unknown_from_s == T0
    assert found.purchases == ()


def test_failure_before_the_unknown_is_a_failure():
    ambient = ambient_of((10, 20), (12, 30), None, (14, 26))
    found = plan(bare_cooler(0.5), ambient, 60, [food("meat", 0, 50)], [])
    assert found.state is IceState.FAILS
    assert found.unknown_from_s == T0 + 16 * HOUR


def test_stated_load_from_home_counts_before_buying():
    cooler = bare_cooler(0.5)
    stored = [food("meat", 0, 24, temp_c=0.0)]
    found = plan(
        cooler,
        steady(25.0),
        24,
        stored,
        [ice_stop(1, "shop", bag_kg=1.0)],
        fixed=[IceLoad(T0, 4.0)],
    )
    assert found.purchases == ()
    assert found.state is IceState.HOLDS


def test_drinks_cooler_uses_its_own_limit_and_needs():
    cooler = make_cooler("soft", 12.0, name="drinks")
    stored = [food("water", 0, 12, mass_kg=3.0, temp_c=22.0, cp_kj_per_kg_k=4.19, perishable=False)]
    needs = [Need(T0 + HOUR, T0 + 12 * HOUR, "cold drinks")]
    found = plan(
        cooler,
        steady(30.0),
        24,
        stored,
        [home(bag_kg=1.0)],
        needs=needs,
        goal=IceGoal(10.0, keep_kg=0.0),
    )
    assert found.state is IceState.HOLDS
    assert found.worst_c <= 10.0
    less = simulate(
        line_of(cooler, steady(30.0), 24, stored=stored, needs=needs),
        [IceLoad(T0, found.purchases[0].loaded_kg - 1.0)],
    )
    assert less.warmest_c(T0 + HOUR, T0 + 12 * HOUR) > 10.0


def test_ice_is_bought_for_food_put_in_at_the_same_stop():
    cooler = bare_cooler(0.5)
    stored = [food("meat", 30, 50, temp_c=4.0)]
    found = plan(cooler, steady(30.0), 60, stored, [ice_stop(30, "shop")])
    assert found.state is IceState.HOLDS
    assert found.worst_c == 0.0


def test_no_ice_is_carried_from_home_for_food_bought_days_later():
    stored = [food("meat", 50, 60)]
    stops = [home(bag_kg=1.0), ice_stop(50, "shop", bag_kg=1.0, anyway=True)]
    found = plan(bare_cooler(0.3), steady(20.0), 60, stored, stops)
    assert found.state is IceState.HOLDS
    assert [label for label, _ in bought(found)] == ["shop"]


def test_ice_is_bought_early_where_there_is_none_beside_the_food():
    found = plan(bare_cooler(0.3), steady(20.0), 60, [food("meat", 50, 60)], [home()])
    assert found.state is IceState.HOLDS
    assert [label for label, _ in bought(found)] == ["home"]
    # Nor is a stop made for it alone that the rider would not make anyway.
    lonely = [home(), ice_stop(49, "ice alone")]
    found = plan(bare_cooler(0.3), steady(20.0), 60, [food("meat", 50, 60)], lonely)
    assert [label for label, _ in bought(found)] == ["home"]


def test_in_frost_no_ice_is_prescribed():
    found = plan(bare_cooler(0.5), steady(-3.0), 40, [food("meat", 0, 40)], [home()])
    assert found.state is IceState.HOLDS
    assert found.purchases == ()
    assert found.worst_c <= 4.0
    assert found.no_ice_from_s is None


@pytest.mark.parametrize(("excess_k", "iced"), [(6.0, False), (60.0, True)])
def test_sun_on_a_cooler_in_frost_asks_for_ice_only_where_it_warms_the_inside(excess_k, iced):
    box = replace(bare_cooler(0.5), sun_excess_k=excess_k)
    noon = (T0 + 2 * HOUR, T0 + 8 * HOUR)
    found = plan(box, steady(-3.0), 40, [food("meat", 0, 40, 2.0)], [home()], sun=[noon])
    assert bool(found.purchases) is iced
    assert found.worst_c <= 4.0


def test_frost_by_night_alone_asks_for_ice_as_ever():
    by_day = ambient_of(*[(-4.0, 9.0)] * 5)
    found = plan(bare_cooler(0.5), by_day, 40, [food("meat", 0, 40)], [home()])
    assert found.purchases
    assert found.no_ice_from_s is None


def test_tiny_bags_are_refused():
    with pytest.raises(TripFileError, match="too small"):
        plan(bare_cooler(0.5), steady(20.0), 5, [food("a", 0, 5)], [home(bag_kg=0.01)])


def test_plan_holds_in_a_continuous_model_too():
    days = make_days(
        [(16, 31), (18, 34), (20, 36), (15, 28), (12, 22), (19, 35), (17, 30), (18, 30)]
    )
    cooler = make_cooler("hard", 26.0, pre_chilled=False)
    stored = [food("meat", 0, 40), food("milk", 50, 110, temp_c=6.0, cp_kj_per_kg_k=3.9)]
    stops = [home(), *(ice_stop(h, f"s{h}", likely=h % 3 == 0) for h in range(6, 120, 13))]
    sun = [(T0 + d * DAY, T0 + d * DAY + 8 * HOUR) for d in range(6)]
    found = plan(cooler, make_ambient(days, utc), 120, stored, stops, sun=sun)
    assert found.state is IceState.HOLDS
    loads = [IceLoad(p.stop.at_s, p.loaded_kg) for p in found.purchases]
    rows = integrate(cooler, days, T0 + 120 * HOUR, stored, loads, sun)
    for start_h, end_h in ((0, 40), (50, 110)):
        inside = (rows[:, 0] > T0 + start_h * HOUR) & (rows[:, 0] < T0 + end_h * HOUR)
        assert rows[inside, 1].max() <= 4.0
        assert rows[inside, 2].min() > 0.4


def test_failure_time_agrees_with_a_continuous_model():
    days = make_days([(16, 31), (18, 34), (20, 36), (15, 28)])
    cooler = make_cooler("soft", 20.0)
    stored = [food("meat", 0, 48, mass_kg=2.0)]
    found = plan(cooler, make_ambient(days, utc), 48, stored, [home()])
    assert found.state is IceState.FAILS
    loads = [IceLoad(p.stop.at_s, p.loaded_kg) for p in found.purchases]
    rows = integrate(cooler, days, T0 + 48 * HOUR, stored, loads)
    above = np.flatnonzero(rows[:, 1] > 4.0)
    first_s = np.interp(
        4.0, rows[above[0] - 1 : above[0] + 1, 1], rows[above[0] - 1 : above[0] + 1, 0]
    )
    assert found.fails_at_s == pytest.approx(first_s, abs=300.0)


def room_kg(line, n, state):
    """Ice that fits from a grid point to the end: followed step by step with a mountain of it."""
    state, put_in_kg = add_ice(state, 5000.0, line.capacity_kj_per_k[n]), state.ice_kg + 5000.0
    rooms = []
    while True:
        free_l = 0.95 * line.cooler.volume_l - line.used_l[n]
        rooms.append(max(free_l, 0.0) / 2.0 + (put_in_kg - state.ice_kg) * (len(rooms) > 0))
        state, n = step(line, n, state), n + 1
        if n == line.steps:
            return max(min(rooms) - put_in_kg + 5000.0, 0.0)
        state = apply_moves(state, line.moves.get(n, ()))


def brute_force(line, stops, keep_kg):
    """Try every number of bags at every stop; None if nothing holds."""
    at = {line.index(s.at_s): s for s in stops}
    best = None

    def too_warm(n, heat_kj):
        if not line.needed[n]:
            return False
        if keep_kg > 0.0:
            return -heat_kj / 333.55 < keep_kg - 1e-9
        return heat_kj / line.capacity_kj_per_k[n] > 4.0 + 1e-9

    def ride(n, state, rank):
        nonlocal best
        while n < line.steps:
            after = step(line, n, state)
            if too_warm(n, state.heat_kj) or too_warm(n, after.heat_kj):
                return
            n += 1
            state = apply_moves(after, line.moves.get(n, ()))
            if n in at and n < line.steps:
                arrive(n, state, rank)
                return
        best = rank if best is None else min(best, rank)

    def arrive(n, state, rank):
        stop = at[n]
        ride(n, state, rank)
        fits_kg = room_kg(line, n, state)
        bags = 0
        while bags * stop.bag_kg < fits_kg - 1e-9:
            bags += 1
            full = add_ice(state, min(bags * stop.bag_kg, fits_kg), line.capacity_kj_per_k[n])
            likely = stop.counts and stop.confidence == "likely"
            ride(n, full, (rank[0] + stop.counts, rank[1] + likely, rank[2] + bags * stop.bag_kg))

    arrive(0, apply_moves(first_state(line), line.moves.get(0, ())), (0, 0, 0.0))
    return best


def random_trip(seed):
    rng = np.random.default_rng(seed)
    cooler = bare_cooler(
        rng.uniform(0.5, 1.5), volume_l=rng.uniform(9.0, 24.0), packs_kg=rng.choice([0.0, 0.8])
    )
    ambient = ambient_of(*[(t, t + rng.uniform(5, 18)) for t in rng.uniform(5, 22, 6)])
    stored = [
        food(
            f"f{i}",
            a,
            min(a + rng.uniform(10, 50), 71.0),
            mass_kg=rng.uniform(0.3, 2.0),
            frozen_water_share=float(rng.choice([0.0, 0.0, 0.7])),
        )
        for i, a in enumerate(rng.uniform(0, 40, 2))
    ]
    stops = [
        ice_stop(h, f"s{i}", likely=bool(rng.integers(2)), counts=i > 0)
        for i, h in enumerate(sorted([0.0, *rng.uniform(1, 60, 4)]))
    ]
    line = line_of(
        cooler,
        ambient,
        72,
        stored=stored,
        needs=[Need(s.in_s, s.out_s) for s in stored],
        marks_s=[s.at_s for s in stops],
    )
    return line, stops, float(rng.choice([0.0, 0.5]))


@pytest.mark.parametrize("seed", range(50))
def test_plan_is_the_best_of_all_plans(seed):
    line, stops, keep_kg = random_trip(seed)
    best = brute_force(line, stops, keep_kg)
    problem = make_problem(line, stops, fixed=[], keep_kg=keep_kg, limit_c=4.0)
    found = choose(problem)
    if best is None:
        assert found is None
        assert choose(excuse(problem)) is not None
        return
    chosen = [(problem.stops[c.stop_ix], c.bags) for c in found]
    rank = (
        sum(s.counts for s, _ in chosen),
        sum(s.counts and s.confidence == "likely" for s, _ in chosen),
        sum(n * s.bag_kg for s, n in chosen),
    )
    assert rank == pytest.approx(best)


def test_random_trips_are_of_every_kind():
    bests = [brute_force(*random_trip(seed)) for seed in range(50)]
    assert sum(best is None for best in bests) >= 3
    assert sum(best is not None and best[0] >= 2 for best in bests) >= 3
