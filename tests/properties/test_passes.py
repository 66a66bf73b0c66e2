"""Passes on any route: true, the same backwards, and one place's passes are its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from examples import examples
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from resupply.passes.find import HYSTERESIS, HYSTERESIS_MIN_M, Passes, find_passes
from resupply.route.route import Route, make_route
from tests.line_truth import GEOD, assert_true, sample, settled_passes

few = settings(
    max_examples=examples(22),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


@dataclass(frozen=True)
class World:
    route: Route
    parts: list[tuple[np.ndarray, np.ndarray]]
    lon: np.ndarray
    lat: np.ndarray
    reach_m: float


@st.composite
def worlds(draw) -> World:
    """A wandering route anywhere on Earth, perhaps with a jump or back again, and places."""
    lon, lat = draw(
        st.sampled_from(
            [(10.0, 47.0), (180.0, 12.0), (-179.99, -65.0), (5.0, 89.95), (33.0, -89.9)]
        )
        | st.tuples(st.floats(-180.0, 180.0), st.floats(-80.0, 80.0))
    )
    step_m = draw(st.sampled_from([80.0, 700.0, 4_000.0, 25_000.0]))
    turn = draw(st.sampled_from([5.0, 40.0, 180.0]))
    turns = draw(st.lists(st.floats(-1.0, 1.0), min_size=2, max_size=25))
    lons, lats, azimuth = [lon], [lat], draw(st.floats(0.0, 360.0))
    for share in turns:
        azimuth += share * turn
        x, y, _ = GEOD.fwd(lons[-1], lats[-1], azimuth, step_m * (1.1 + share))
        lons.append(x)
        lats.append(y)
    line = (np.array(lons), np.array(lats))
    parts = [line]
    if draw(st.booleans()) and len(lons) > 3:
        cut = draw(st.integers(1, len(lons) - 1))
        jump_m = draw(st.sampled_from([10.0, 400.0, 6_000.0, 80_000.0]))
        size = len(lons) - cut
        x, y, _ = GEOD.fwd(
            line[0][cut:], line[1][cut:], np.full(size, 200.0), np.full(size, jump_m)
        )
        parts = [(line[0][:cut], line[1][:cut]), (x, y)]
    if draw(st.booleans()):
        parts = parts + [(x[::-1], y[::-1]) for x, y in reversed(parts)]
    route = make_route([(x, y, None) for x, y in parts])
    reach_m = draw(st.sampled_from([120.0, 1_000.0, 5_000.0, 14_000.0]))
    at = np.array(draw(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4))) * route.length_m
    x, y = route.positions_at(at)
    far = np.array(draw(st.lists(st.floats(0.0, 1.3), min_size=len(at), max_size=len(at))))
    away = np.array(draw(st.lists(st.floats(0.0, 360.0), min_size=len(at), max_size=len(at))))
    x, y, _ = GEOD.fwd(x, y, away, far * reach_m)
    return World(route, parts, x, y, reach_m)


def rise_m(world: World) -> float:
    return max(HYSTERESIS * world.reach_m, HYSTERESIS_MIN_M)


def rows(passes: Passes, place: int) -> list[tuple[float, float, int]]:
    mine = passes.place_ix == place
    return list(
        zip(
            *(a[mine].tolist() for a in (passes.chainage_m, passes.offset_m, passes.side)),
            strict=True,
        )
    )


def settled(world: World):
    samples = sample(world.route, max(5.0, world.route.length_m / 4_000.0))
    assume(samples.step_m < rise_m(world) / 4.0)
    truth = settled_passes(
        samples, world.lon, world.lat, reach_m=world.reach_m, rise_m=rise_m(world)
    )
    assume(truth is not None)
    return truth


@few
@given(worlds())
def test_passes_are_the_true_ones(world):
    truth = settled(world)
    passes = find_passes(world.route, world.lon, world.lat, reach_m=world.reach_m)
    assert_true(passes, truth)


@few
@given(worlds())
def test_reversing_the_route_mirrors_the_passes(world):
    # Only the count needs the truth to be settled.
    settled(world)
    route = world.route
    backwards = make_route([(x[::-1], y[::-1], None) for x, y in reversed(world.parts)])
    there = find_passes(route, world.lon, world.lat, reach_m=world.reach_m)
    back = find_passes(backwards, world.lon, world.lat, reach_m=world.reach_m)
    for place in range(len(world.lon)):
        a, b = rows(there, place), rows(back, place)[::-1]
        for (at_m, offset_m, side), (mirror_m, same_m, other) in zip(a, b, strict=True):
            assert abs(offset_m - same_m) < 0.01
            # At the chainage of a break the rider is on two parts.
            if any(abs(jump.chainage_m - at_m) < 0.1 for jump in route.breaks):
                continue
            mirrored_m = route.length_m - mirror_m
            if abs(at_m - mirrored_m) < 0.1:
                assert side == -other or offset_m < 2.0
            else:
                # There and back, or round a bend: two points equally near, the first of each.
                x, y = route.position_at(mirrored_m)
                away_m = GEOD.inv(x, y, world.lon[place], world.lat[place])[2]
                assert abs(away_m - offset_m) < 0.01


@few
@given(worlds(), st.integers(0, 2**32 - 1))
def test_a_place_keeps_its_passes_in_any_company(world, seed):
    alone = find_passes(world.route, world.lon, world.lat, reach_m=world.reach_m)
    rng = np.random.default_rng(seed)
    x, y = world.route.positions_at(rng.uniform(0.0, world.route.length_m, 300))
    x, y, _ = GEOD.fwd(x, y, rng.uniform(0.0, 360.0, 300), rng.uniform(0.0, 9_000.0, 300))
    reach_m = np.concatenate(
        [np.full(len(world.lon), world.reach_m), rng.uniform(0.0, 9_000.0, 300)]
    )
    together = find_passes(
        world.route, np.concatenate([world.lon, x]), np.concatenate([world.lat, y]), reach_m=reach_m
    )
    for place in range(len(world.lon)):
        np.testing.assert_allclose(rows(together, place), rows(alone, place), rtol=0.0, atol=1e-4)


@few
@given(worlds())
def test_a_wider_reach_keeps_every_place_and_never_moves_it_away(world):
    near = find_passes(world.route, world.lon, world.lat, reach_m=world.reach_m)
    wide = find_passes(world.route, world.lon, world.lat, reach_m=1.7 * world.reach_m)
    for place in range(len(world.lon)):
        a, b = rows(near, place), rows(wide, place)
        if a:
            assert min(r[1] for r in b) <= min(r[1] for r in a) + 0.01


@few
@given(worlds())
def test_each_pass_is_where_it_says_at_the_distance_it_says(world):
    passes = find_passes(world.route, world.lon, world.lat, reach_m=world.reach_m)
    x, y = world.route.positions_at(passes.chainage_m)
    place = passes.place_ix
    off_m = GEOD.inv(x, y, world.lon[place], world.lat[place])[2] if len(passes) else np.zeros(0)
    # At the chainage of a break the route is in two places.
    jumps_m = np.array([jump.chainage_m for jump in world.route.breaks])
    for row, at_m in enumerate(passes.chainage_m.tolist()):
        if not (np.abs(jumps_m - at_m) < 0.01).any():
            assert abs(off_m[row] - passes.offset_m[row]) < 0.01
    assert (np.diff(passes.chainage_m) >= 0.0).all()
    assert (passes.offset_m <= world.reach_m).all()
