"""Facts of the cold chain that hold for every cooler, weather and load."""

from __future__ import annotations

import dataclasses

import numpy as np
from cold_world import (
    HOUR,
    T0,
    ambient_of,
    food,
    home,
    ice_life_h,
    ice_stop,
    line_of,
    plan,
    residual_kj,
)
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from resupply.kitchen.cold.balance import IceLoad
from resupply.kitchen.cold.cooler import make_cooler, ua_from_ice_test
from resupply.kitchen.cold.ice_plan import IceGoal, IceState
from resupply.kitchen.cold.simulate import simulate

HOURS = 60.0
temps = st.floats(-10.0, 35.0)
day = st.tuples(temps, st.floats(0.0, 20.0)).map(lambda p: (p[0], p[0] + p[1]))
weather = st.lists(day, min_size=5, max_size=5)
coolers = st.builds(
    make_cooler,
    st.sampled_from(["hard", "soft", "bag"]),
    st.floats(6.0, 60.0),
    pre_chilled=st.booleans(),
    packs_kg=st.sampled_from([0.0, 0.5, 2.0]),
    openings_per_day=st.floats(0.0, 30.0),
)
foods = st.builds(
    lambda a, b, **k: food("f", a, a + b, **k),
    st.floats(0.0, 50.0),
    st.floats(1.0, 60.0),
    mass_kg=st.floats(0.05, 5.0),
    temp_c=st.floats(0.0, 40.0),
    frozen_water_share=st.sampled_from([0.0, 0.0, 0.7]),
)
stored_things = st.lists(foods, max_size=4)
loads = st.lists(
    st.builds(lambda h, kg: IceLoad(T0 + h * HOUR, kg), st.floats(0.0, 55.0), st.floats(0.0, 8.0)),
    max_size=4,
)
suns = st.lists(
    st.tuples(st.floats(0.0, 50.0), st.floats(0.1, 9.0)).map(
        lambda p: (T0 + p[0] * HOUR, T0 + (p[0] + p[1]) * HOUR)
    ),
    max_size=3,
)


def run(cooler, days, stored, ice, sun=()):
    marks = [load.at_s for load in ice]
    line = line_of(cooler, ambient_of(*days), HOURS, stored=stored, sun=sun, marks_s=marks)
    return simulate(line, ice)


def never_warmer(colder, warmer, times):
    """Compare away from the jumps at which things are put in."""
    a = np.interp(times, colder.times_s, colder.temp_c)
    b = np.interp(times, warmer.times_s, warmer.temp_c)
    return (a <= b + 0.03).all()


def grid(*traces):
    """Common times of all traces that are no jump in any of them."""
    times = np.unique(np.concatenate([t.times_s for t in traces]))
    jumps = np.concatenate([t.times_s[1:][np.diff(t.times_s) == 0.0] for t in traces])
    return np.setdiff1d(times, jumps)


@settings(max_examples=examples(27))
@given(coolers, weather, stored_things, loads, suns, st.sampled_from(["drained", "kept"]))
def test_energy_is_conserved(cooler, days, stored, ice, sun, meltwater):
    cooler = dataclasses.replace(cooler, meltwater=meltwater)
    energy = run(cooler, days, stored, ice, sun).energy
    turnover = sum(abs(getattr(energy, f.name)) for f in dataclasses.fields(energy))
    assert abs(residual_kj(energy)) <= 1e-6 * turnover + 1e-6


@settings(max_examples=examples(27))
@given(coolers, weather, stored_things, loads, st.floats(0.0, 55.0), st.floats(0.1, 6.0))
def test_more_ice_never_makes_it_warmer(cooler, days, stored, ice, at_h, kg):
    more_ice = [*ice, IceLoad(T0 + at_h * HOUR, kg)]
    # The same steps for both, so that only the ice differs.
    less = run(cooler, days, stored, [*ice, IceLoad(T0 + at_h * HOUR, 0.0)])
    more = run(cooler, days, stored, more_ice)
    assert never_warmer(more, less, grid(less, more))
    assert more.hours_above() <= less.hours_above() + 1e-6


@settings(max_examples=examples(27))
@given(coolers, weather, stored_things, loads, st.floats(0.1, 8.0))
def test_hotter_weather_never_makes_it_colder(cooler, days, stored, ice, extra):
    cool = run(cooler, days, stored, ice)
    hot = run(cooler, [(a + extra, b + extra) for a, b in days], stored, ice)
    assert never_warmer(cool, hot, grid(cool, hot))
    assert (hot.store_kg[0] <= cool.store_kg[0] + 1e-9).all()


@settings(max_examples=examples(18))
@given(coolers, weather, stored_things, loads, suns)
def test_sun_never_makes_it_colder(cooler, days, stored, ice, sun):
    shade = run(cooler, days, stored, ice)
    sunny = run(cooler, days, stored, ice, sun)
    assert never_warmer(shade, sunny, grid(shade, sunny))


@settings(max_examples=examples(18))
@given(coolers, weather, stored_things, loads)
def test_inside_is_between_freezing_and_the_warmest_thing_around(cooler, days, stored, ice):
    trace = run(cooler, days, stored, ice)
    warmest = max([4.0, *(b for _, b in days), *(s.temp_c for s in stored)])
    assert trace.temp_c.min() >= 0.0
    assert trace.temp_c.max() <= warmest + 1e-6
    assert (trace.temp_c[trace.store_kg > 1e-9] == 0.0).all()


@settings(max_examples=examples(45))
@given(st.floats(5.0, 50.0), st.floats(0.5, 400.0), st.floats(0.5, 45.0))
def test_ice_test_and_ice_life_undo_each_other(ice_kg, hours, ambient_c):
    ua = ua_from_ice_test(ice_kg, hours, ambient_c)
    assert abs(ice_life_h(ice_kg, ua, ambient_c) - hours) <= 1e-9 * hours


stop_hours = st.lists(st.floats(1.0, 55.0), max_size=5, unique_by=lambda h: round(h, 2))


@settings(max_examples=examples(18))
@given(coolers, weather, stored_things, stop_hours, st.lists(st.booleans(), min_size=5, max_size=5))
def test_plan_is_honest_about_its_own_trace(cooler, days, stored, hours, likely):
    stops = [home(), *(ice_stop(h, f"s{h}", likely=x) for h, x in zip(hours, likely, strict=False))]
    found = plan(cooler, ambient_of(*days), HOURS, stored, stops)
    loads = [IceLoad(p.stop.at_s, p.loaded_kg) for p in found.purchases]
    marks = [s.at_s for s in stops]
    again = simulate(
        line_of(cooler, ambient_of(*days), HOURS, stored=stored, needs=found.needs, marks_s=marks),
        loads,
    )
    above_h = sum(again.hours_above(4.0 + 1e-6, a, b) for a, b in found.need_spans)
    assert (above_h > 0.0) == (found.state is IceState.FAILS)
    for purchase in found.purchases:
        assert purchase.loaded_kg <= purchase.kg + 1e-9
        assert purchase.loaded_kg * 2.0 <= cooler.volume_l + 1e-6


@settings(max_examples=examples(14))
@given(coolers, weather, stored_things, stop_hours, st.floats(1.0, 55.0))
def test_another_ice_stop_never_makes_the_plan_worse(cooler, days, stored, hours, extra_h):
    stops = [home(), *(ice_stop(h, f"s{h}") for h in hours)]
    extra = ice_stop(extra_h, "extra")
    # Nothing put in at the extra stop gives both plans the same steps.
    how = {"goal": IceGoal(keep_kg=0.0), "fixed": [IceLoad(extra.at_s, 0.0)]}
    ambient = ambient_of(*days)
    fewer = plan(cooler, ambient, HOURS, stored, stops, **how)
    more = plan(cooler, ambient, HOURS, stored, [*stops, extra], **how)
    rank = [IceState.NO_NEED, IceState.HOLDS, IceState.TOO_FULL, IceState.FAILS]
    assert rank.index(more.state) <= rank.index(fewer.state)
    if fewer.state is more.state is IceState.HOLDS:
        assert more.stops <= fewer.stops
    if fewer.state is more.state is IceState.FAILS:
        # Half a degree is what a plan may give away to save stops it cannot win with anyway.
        assert more.worst_c <= max(4.0, fewer.worst_c) + 0.5 + 1e-6


@settings(max_examples=examples(14))
@given(coolers, weather, stored_things, st.integers(0, 4))
def test_losing_a_days_weather_never_reads_as_better(cooler, days, stored, lost):
    stops = [home(), ice_stop(20, "a"), ice_stop(40, "b")]
    full = plan(cooler, ambient_of(*days), HOURS, stored, stops)
    holed = [None if i == lost else d for i, d in enumerate(days)]
    part = plan(cooler, ambient_of(*holed), HOURS, stored, stops)
    if part.state is IceState.HOLDS:
        assert full.state is IceState.HOLDS
    if full.state is IceState.FAILS:
        assert part.state is not IceState.HOLDS
