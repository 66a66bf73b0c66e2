"""A cooler said to stay cold is never over-full, and never warm, in its own simulation."""

from __future__ import annotations

from dataclasses import replace

from cold_world import ambient_of, food, home, ice_stop, plan
from cooler_trips import faults, planned
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from resupply.kitchen.cold.cooler import make_cooler
from resupply.kitchen.cold.ice_plan import IceState

TRIPS = 8


def test_random_trips_are_told_truly_and_are_of_every_kind():
    states = []
    for seed in range(TRIPS):
        trip, document = planned(seed)
        assert faults(document, trip) == [], seed
        states.append(document["cold"]["coolers"][0]["state"])
    assert states.count("holds") >= TRIPS // 4
    assert "fails" in states


coolers = st.builds(
    lambda kind, volume_l, packs_kg, under_way: replace(
        make_cooler(kind, volume_l, packs_kg=packs_kg), under_way=under_way
    ),
    st.sampled_from(["hard", "soft", "bag"]),
    st.floats(5.0, 30.0),
    packs_kg=st.sampled_from([0.0, 0.5, 3.0]),
    under_way=st.booleans(),
)
things = st.lists(
    st.builds(
        lambda a, b, **k: food("f", a, a + b, **k),
        st.floats(0.0, 50.0),
        st.floats(1.0, 40.0),
        mass_kg=st.floats(0.1, 6.0),
        temp_c=st.floats(0.0, 20.0),
        frozen_water_share=st.sampled_from([0.0, 0.0, 0.7]),
    ),
    min_size=1,
    max_size=5,
)
days = st.lists(
    st.tuples(st.floats(-5.0, 25.0), st.floats(0.0, 15.0)).map(lambda p: (p[0], p[0] + p[1])),
    min_size=6,
    max_size=6,
)


@settings(max_examples=examples(27))
@given(coolers, days, things, st.lists(st.floats(1.0, 80.0), max_size=4, unique=True))
def test_ice_never_goes_in_where_food_of_a_later_stop_needs_the_room(cooler, lows, stored, hours):
    stops = [home(), *(ice_stop(h, f"s{h}") for h in hours)]
    found = plan(cooler, ambient_of(*lows), 96.0, stored, stops)
    trace = found.trace
    for k, (at_s, ice_kg) in enumerate(zip(trace.times_s, trace.ice_kg, strict=True)):
        if k + 1 < len(trace.times_s) and trace.times_s[k + 1] == at_s:
            continue
        inside_l = sum(s.room_l for s in stored if s.in_s <= at_s + 0.01 < s.out_s - 0.01)
        room_l = max(0.95 * cooler.volume_l - inside_l - 1.1 * cooler.packs_kg, 0.0)
        assert ice_kg * 2.0 <= room_l + 1e-6
        if inside_l + 1.1 * cooler.packs_kg > 0.95 * cooler.volume_l + 1e-6:
            assert found.over_l > 0.0
            assert found.state in (IceState.TOO_FULL, IceState.FAILS)


@settings(max_examples=examples(14))
@given(coolers, days, things, st.floats(0.1, 4.0), st.floats(1.0, 40.0))
def test_more_food_never_makes_a_cooler_read_as_less_full_or_colder(
    cooler, lows, stored, more_l, at_h
):
    stops = [home(), ice_stop(30, "a"), ice_stop(60, "b")]
    more = [*stored, food("more", at_h, at_h + 20.0, mass_kg=1.0, volume_l=more_l)]
    few, many = (plan(cooler, ambient_of(*lows), 96.0, s, stops) for s in (stored, more))
    assert many.over_l >= few.over_l - 1e-9
    if few.state is IceState.TOO_FULL:
        assert many.state in (IceState.TOO_FULL, IceState.FAILS)
