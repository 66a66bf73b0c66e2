import dataclasses
import math

import numpy as np
import pytest
from cold_world import (
    DAY,
    HOUR,
    T0,
    ambient_of,
    bare_cooler,
    food,
    ice_life_h,
    integrate,
    line_of,
    make_days,
    residual_kj,
    temp_at,
)
from cold_world import steady as steady_air

from resupply.kitchen.cold.balance import IceLoad, advance
from resupply.kitchen.cold.cooler import make_cooler
from resupply.kitchen.cold.simulate import simulate
from resupply.kitchen.cold.steps import make_timeline
from resupply.kitchen.cold.weather import Surroundings, make_ambient


def test_ice_life_in_steady_air_is_the_closed_form():
    cooler = bare_cooler(0.5)
    trace = simulate(line_of(cooler, steady_air(25.0), 100), [IceLoad(T0, 4.0)])
    assert trace.store_gone_s[0] - T0 == pytest.approx(ice_life_h(4.0, 0.5, 25.0) * HOUR)


def test_after_the_ice_the_contents_warm_exponentially():
    cooler = bare_cooler(0.5, packs_kg=0.0)
    stored = [food("stew", 0, 90, mass_kg=5.0, temp_c=0.0, cp_kj_per_kg_k=4.0)]
    line = line_of(cooler, steady_air(25.0), 80, stored=stored)
    trace = simulate(line, [IceLoad(T0, 2.0)])
    gone_s = trace.store_gone_s[0]
    capacity = 5.0 * 4.0 + 0.05  # an empty cooler keeps a little
    later_s = T0 + 70 * HOUR
    expected = 25.0 * (1.0 - math.exp(-0.5 * (later_s - gone_s) / 1000.0 / capacity))
    assert temp_at(trace, later_s) == pytest.approx(expected, abs=1e-6)


def test_one_step_equals_many_small_ones():
    many = -500.0
    for _ in range(1000):
        many = advance(many, 20.0, 30.0, 0.04)
    assert advance(-500.0, 20.0, 30.0, 40.0) == pytest.approx(many)


def test_step_agrees_with_a_continuous_solver_over_a_hot_week():
    days = make_days([(16, 31), (18, 34), (20, 36), (15, 28), (12, 22), (19, 35), (17, 30), (9, 9)])
    cooler = make_cooler("soft", 30.0, pre_chilled=False)
    stored = [
        food("meat", 0, 40, mass_kg=2.0),
        food("milk", 26, 120, mass_kg=3.0, temp_c=9.0, cp_kj_per_kg_k=3.9),
    ]
    loads = [IceLoad(T0, 6.0), IceLoad(T0 + 26 * HOUR, 5.0), IceLoad(T0 + 50 * HOUR, 1.0)]
    sun = [(T0 + d * DAY + HOUR, T0 + d * DAY + 7 * HOUR) for d in range(5)]
    marks = [load.at_s for load in loads]
    line = line_of(cooler, make_ambient(days, _utc), 130, stored=stored, sun=sun, marks_s=marks)
    ours = simulate(line, loads)
    rows = integrate(cooler, days, T0 + 130 * HOUR, stored, loads, sun)
    # An all but empty cooler (after hour 120) follows the air, here in hourly steps.
    times = np.arange(T0 + 60.0, T0 + 120 * HOUR, 600.0)
    theirs = np.interp(times, rows[:, 0], rows[:, 1])
    assert ours.temp_c.max() > 15.0  # the week does get warm inside
    found = np.interp(times, ours.times_s, ours.temp_c)
    assert found == pytest.approx(theirs, abs=0.15)
    ice = np.interp(times, ours.times_s, ours.ice_kg)
    assert ice == pytest.approx(np.interp(times, rows[:, 0], rows[:, 2]), abs=0.02)


def test_warm_food_melts_the_ice_that_cools_it():
    cooler = bare_cooler(0.5)
    stored = [food("soup", 5, 30, mass_kg=3.0, temp_c=60.0, cp_kj_per_kg_k=4.0)]
    trace = simulate(line_of(cooler, steady_air(20.0), 8, stored=stored), [IceLoad(T0, 5.0)])
    at = np.flatnonzero(trace.times_s == T0 + 5 * HOUR)
    assert trace.ice_kg[at[0]] - trace.ice_kg[at[1]] == pytest.approx(3 * 4 * 60 / 333.55)


def test_too_little_ice_leaves_the_food_lukewarm():
    stored = [food("soup", 0, 30, mass_kg=3.0, temp_c=60.0, cp_kj_per_kg_k=4.0)]
    cooler = bare_cooler(0.5)
    trace = simulate(line_of(cooler, steady_air(20.0), 8, stored=stored), [IceLoad(T0, 1.0)])
    capacity = 12.0 + 0.05
    assert trace.temp_c[0] == pytest.approx((12.0 * 60.0 - 333.55) / capacity)
    assert trace.ice_kg[0] == 0.0


def test_eating_food_leaves_the_temperature_alone():
    cooler = bare_cooler(0.5)
    stored = [food("a", 0, 10, mass_kg=2.0), food("b", 0, 50, mass_kg=2.0)]
    trace = simulate(line_of(cooler, steady_air(20.0), 20, stored=stored))
    at = np.flatnonzero(trace.times_s == T0 + 10 * HOUR)
    assert trace.temp_c[at[0]] == pytest.approx(trace.temp_c[at[1]])


def test_frozen_food_is_cold_store():
    cooler = bare_cooler(0.5)
    fresh = [food("fish", 0, 90, mass_kg=2.0, temp_c=0.0)]
    frozen = [food("fish", 0, 90, mass_kg=2.0, frozen_water_share=0.8)]
    gone = [
        simulate(line_of(cooler, steady_air(25.0), 100, stored=s), [IceLoad(T0, 2.0)]).store_gone_s
        for s in (fresh, frozen)
    ]
    # 2 kg at 80 % water hold 2 x 335 x 0.8 kJ.
    extra_h = 2 * 335 * 0.8 / (0.5 * 25.0 * 3.6)
    assert gone[1][0] - gone[0][0] == pytest.approx(extra_h * HOUR)


def test_frozen_food_eaten_early_takes_its_cold_along():
    cooler = bare_cooler(0.5)
    kept = [food("fish", 0, 90, mass_kg=2.0, frozen_water_share=0.8)]
    eaten = [food("fish", 0, 2, mass_kg=2.0, frozen_water_share=0.8)]
    stores = [
        simulate(line_of(cooler, steady_air(25.0), 8, stored=s), [IceLoad(T0, 2.0)]).store_kg[-1]
        for s in (kept, eaten)
    ]
    assert stores[1] < stores[0] - 1.0


def test_packs_are_ice_that_is_not_renewed():
    cooler = bare_cooler(0.5, packs_kg=1.5)
    trace = simulate(line_of(cooler, steady_air(25.0), 40))
    assert trace.store_gone_s[0] - T0 == pytest.approx(ice_life_h(1.5, 0.5, 25.0) * HOUR)
    assert trace.ice_kg.max() == 0.0


def test_warm_cooler_costs_ice_that_a_chilled_one_keeps():
    cold = dataclasses.replace(bare_cooler(0.5), liner_kj_per_k=3.0)
    warm = dataclasses.replace(cold, pre_chilled=False)
    loads = [IceLoad(T0, 3.0)]
    left = [simulate(line_of(c, steady_air(28.0), 1), loads).ice_kg[0] for c in (cold, warm)]
    assert left[0] - left[1] == pytest.approx(3.0 * (28.0 - 4.0) / 333.55)


def test_sun_on_the_walls_melts_more_ice():
    cooler = dataclasses.replace(bare_cooler(0.5), sun_excess_k=10.0)
    shade = simulate(line_of(cooler, steady_air(25.0), 10), [IceLoad(T0, 3.0)])
    sunny = simulate(
        line_of(cooler, steady_air(25.0), 10, sun=[(T0, T0 + 4.5 * HOUR)]), [IceLoad(T0, 3.0)]
    )
    melted = shade.ice_kg[-1] - sunny.ice_kg[-1]
    assert melted == pytest.approx(0.5 * 10.0 * 4.5 * 3.6 / 333.55)


def test_overlapping_sun_counts_once():
    cooler = dataclasses.replace(bare_cooler(0.5), sun_excess_k=10.0)
    once, twice = (
        simulate(line_of(cooler, steady_air(25.0), 10, sun=s), [IceLoad(T0, 3.0)]).ice_kg[-1]
        for s in ([(T0, T0 + 5 * HOUR)], [(T0, T0 + 3 * HOUR), (T0 + HOUR, T0 + 5 * HOUR)])
    )
    assert once == pytest.approx(twice)


def test_lid_openings_melt_more_ice():
    shut = make_cooler("hard", 30.0, openings_per_day=0.0)
    busy = make_cooler("hard", 30.0, openings_per_day=40.0)
    left = [
        simulate(line_of(c, steady_air(28.0), 24), [IceLoad(T0, 6.0)]).ice_kg[-1]
        for c in (shut, busy)
    ]
    assert left[1] < left[0]


def test_kept_meltwater_slows_the_warming_after_the_ice():
    drained = bare_cooler(0.8)
    kept = dataclasses.replace(drained, meltwater="kept")
    stored = [food("meat", 0, 60)]
    warm = [
        simulate(line_of(c, steady_air(25.0), 24, stored=stored), [IceLoad(T0, 4.0)]).temp_c[-1]
        for c in (drained, kept)
    ]
    assert warm[1] < warm[0] - 2.0


def test_frost_stops_the_melting_but_makes_no_ice():
    trace = simulate(line_of(bare_cooler(0.5), steady_air(-8.0), 48), [IceLoad(T0, 2.0)])
    assert trace.ice_kg[-1] == pytest.approx(trace.ice_kg[0])
    assert trace.temp_c.max() == 0.0


def test_without_a_cooler_food_is_as_warm_as_the_air():
    ambient = ambient_of((10, 20), (12, 30), (14, 26))
    trace = simulate(line_of(make_cooler("none", 20.0), ambient, 20))
    assert trace.temp_c == pytest.approx(trace.ambient_c)


def test_weather_that_is_not_known_makes_the_rest_not_known():
    ambient = ambient_of((10, 20), (12, 30), None, (14, 26), (14, 26))
    trace = simulate(line_of(bare_cooler(0.5), ambient, 60), [IceLoad(T0, 8.0)])
    assert trace.known_until_s == T0 + 16 * HOUR
    assert np.isnan(trace.temp_c[trace.times_s > trace.known_until_s]).all()
    assert math.isnan(temp_at(trace, T0 + 40 * HOUR))
    assert math.isnan(trace.hours_above(4.0))
    assert trace.hours_above(4.0, T0, T0 + 10 * HOUR) == 0.0


def test_hours_above_adds_up_the_warm_spans():
    stored = [food("meat", 0, 60, mass_kg=3.0, temp_c=0.0, cp_kj_per_kg_k=3.5)]
    loads = [IceLoad(T0, 1.0), IceLoad(T0 + 30 * HOUR, 3.0)]
    line = line_of(bare_cooler(0.6), steady_air(25.0), 36, stored=stored, marks_s=[T0 + 30 * HOUR])
    trace = simulate(line, loads)
    capacity = 10.5 + 0.05
    to_limit_s = capacity * 1000.0 / 0.6 * math.log(25.0 / 21.0)
    crossing_s = T0 + ice_life_h(1.0, 0.6, 25.0) * HOUR + to_limit_s
    # Liner and food start at 0 and 4 °C; the little liner capacity melts a gram of ice.
    assert trace.spans_above(4.0)[0][0] == pytest.approx(crossing_s, abs=60.0)
    assert trace.spans_above(4.0)[0][1] == T0 + 30 * HOUR
    assert trace.hours_above() == pytest.approx((T0 + 30 * HOUR - crossing_s) / HOUR, abs=0.02)


def test_energy_account_closes():
    days = [(16, 31), (18, 34), (-6, 4), (15, 28), (12, 22)]
    cooler = make_cooler("soft", 30.0, pre_chilled=False, packs_kg=1.0)
    stored = [food("meat", 0, 40, mass_kg=2.0), food("ice cream", 3, 20, frozen_water_share=0.6)]
    loads = [IceLoad(T0, 2.0), IceLoad(T0 + 60 * HOUR, 2.0)]
    sun = [(T0, T0 + 7 * HOUR)]
    line = line_of(cooler, ambient_of(*days), 80, stored=stored, sun=sun, marks_s=[T0 + 60 * HOUR])
    energy = simulate(line, loads).energy
    assert energy.frost_kj > 0.0
    assert abs(residual_kj(energy)) < 1e-9 * energy.ice_kj


def test_history_is_strictly_increasing_and_keeps_its_times():
    line = line_of(bare_cooler(0.5), steady_air(25.0), 30, marks_s=[T0 + 10 * HOUR])
    trace = simulate(line, [IceLoad(T0 + 10 * HOUR, 0.1)])
    times, temps = trace.history()
    assert (np.diff(times) > 0.0).all()
    assert times == pytest.approx(trace.times_s, abs=0.01)
    assert len(times) == len(temps)


def _utc(_date):
    import datetime as dt

    return dt.UTC


def test_riding_lets_in_more_and_parked_sun_heats_more():
    cooler = make_cooler("soft", 18.0, openings_per_day=0.0)
    ambient = steady_air(20.0)
    ride, both = ((T0, T0 + HOUR),), ((T0, T0 + 2 * HOUR),)
    made = make_timeline(cooler, Surroundings(ambient, T0, T0 + 3 * HOUR, both, ride))
    ua = cooler.ua_w_per_k
    assert made.walls_w_per_k == pytest.approx((ua * cooler.wind_factor, ua, ua))
    assert made.sun_k == pytest.approx((cooler.sun_riding_k, cooler.sun_excess_k, 0.0))


def test_half_an_hour_of_riding_is_half_an_hour_of_wind_and_of_sun():
    cooler = make_cooler("bag", 10.0, openings_per_day=0.0)
    ride = ((T0, T0 + HOUR / 2),)
    made = make_timeline(cooler, Surroundings(steady_air(20.0), T0, T0 + HOUR, ride, ride))
    ua, factor = cooler.ua_w_per_k, cooler.wind_factor
    heat_w = made.walls_w_per_k[0] * (made.air_c[0] + made.sun_k[0])
    wanted_w = 0.5 * ua * factor * (20.0 + cooler.sun_riding_k) + 0.5 * ua * 20.0
    assert heat_w == pytest.approx(wanted_w)
