"""What a stop costs by road, worked by hand on drawn networks."""

import numpy as np
import pytest
from road_world import draw, lon_lat, matched, passes_of, ride

from resupply.roads.detours import detours, straight_detours
from resupply.roads.search import no_dead_ends

PRIMARY = {"highway": "primary", "surface": "asphalt"}
KMH = 70.0
LINE = {"A": (0, 0), "B": (10, 0), "C": (20, 0), "D": (30, 0), "E": (40, 0), "F": (60, 0)}
MAIN = (["A", "B", "C", "D", "E", "F"], PRIMARY)


def by_road(spots, ways, through, places, **options):
    route = ride(spots, *through)
    graph = draw(spots, ways, route=route)
    passes, lon, lat = passes_of(route, places)
    return detours(graph, matched(graph, route), passes, lon, lat, **options), passes


def km(found, i=0):
    return found.extra_m[i] / 1000.0


def test_there_and_back_on_a_side_road():
    spots = {**LINE, "shop": (20, 3)}
    found, _ = by_road(spots, [MAIN, (["C", "shop"], PRIMARY)], "AF", [(20, 3)])
    assert found.known.all()
    assert km(found) == pytest.approx(6.0, rel=2e-3)
    assert found.extra_s[0] == pytest.approx(6.0 / KMH * 3600.0, rel=2e-3)
    assert found.leave_m[0] == found.rejoin_m[0] == pytest.approx(20_000.0, rel=2e-3)
    assert found.source == "by road (drawing)"


def test_a_shop_two_km_off_across_a_gorge_is_36_km_by_road():
    spots = {**LINE, "bridge": (28, 0), "over": (28, 1), "shop": (11, 2)}
    main = (["A", "B", "C", "bridge", "D", "E", "F"], PRIMARY)
    rim = (["bridge", "over", "shop"], PRIMARY)
    found, passes = by_road(spots, [main, rim], "AF", [(11, 2)])
    assert passes.offset_m[0] == pytest.approx(2_000.0, rel=5e-3)
    assert km(found) == pytest.approx(2 * (1.0 + np.hypot(17, 1)), rel=2e-3)
    assert found.leave_m[0] == found.rejoin_m[0] == pytest.approx(28_000.0, rel=2e-3)


def test_rejoining_farther_on_where_that_is_best():
    # The quick road bends to the shop's town; the shop is 1 km beside a road that runs along.
    spots = {**LINE, "u": (20, 2), "v": (29, 2), "D": (29, 0)}
    ways = [MAIN, (["C", "u", "v", "D"], PRIMARY)]
    found, _ = by_road(spots, ways, "AF", [(25, 2.0)])
    assert km(found) == pytest.approx(4.0, rel=2e-3)
    assert found.leave_m[0] == pytest.approx(20_000.0, rel=2e-3)
    assert found.rejoin_m[0] == pytest.approx(29_000.0, rel=2e-3)


def test_rejoining_is_bounded_by_the_window():
    spots = {**LINE, "u": (20, 2), "v": (29, 2), "D": (29, 0)}
    ways = [MAIN, (["C", "u", "v", "D"], PRIMARY)]
    found, _ = by_road(spots, ways, "AF", [(25, 2.0)], window_m=5_000.0)
    assert km(found) == pytest.approx(2 * 6.0, rel=2e-3)
    assert found.leave_m[0] == found.rejoin_m[0]


def test_a_shop_beside_the_route_is_not_ridden_to_by_a_short_cut():
    # The short cut saves 8 s over 10 km and comes by the shop; half a kilometre back from where
    # it joins the route again the shop is reached as well.
    spots = {**LINE, "x": (15, 0.9), "y": (19, -0.06)}
    ways = [(["A", "B", "x", "C", "D", "E", "F"], PRIMARY), (["B", "y", "C"], PRIMARY)]
    found, _ = by_road(spots, ways, ["A", "B", "x", "C", "F"], [(19.5, -0.03)])
    assert found.leave_m[0] == found.rejoin_m[0] == pytest.approx(20_160.0, rel=2e-3)
    assert km(found) == pytest.approx(1.0, rel=2e-2)
    assert found.out_s[0] == pytest.approx(0.5 / KMH * 3600.0, rel=2e-2)


def test_a_shop_at_the_start_is_visited_there_and_not_from_a_quicker_road_14_km_on():
    # 2 km of narrow road at the start, or 4 km of a fast one later that saves less than 70 s.
    spots = {"A": (0, 0), "s": (0, -4), "t": (4, -4), "B": (4, 2), "E": (30, 2), "shop": (0, 2)}
    narrow = (["A", "shop"], {"highway": "residential", "surface": "asphalt"})
    main = (["A", "s", "t", "B", "E"], PRIMARY)
    route = ride(spots, "A", "s", "t", "B", "E")
    graph = draw(spots, [main, narrow, (["shop", "B"], PRIMARY)], route=route)
    passes, lon, lat = passes_of(route, [(0, 2)], reach_m=3_000.0)
    found = detours(graph, matched(graph, route), passes, lon, lat)
    assert len(passes) == 1
    assert found.leave_m[0] == found.rejoin_m[0] == pytest.approx(0.0, abs=10.0)
    assert 8.0 / KMH * 3600.0 < found.extra_s[0] < 8.0 / KMH * 3600.0 + 70.0


def test_the_way_there_is_told_apart_from_the_way_back():
    spots = {**LINE, "C": (22, 0), "shop": (28, 1)}
    ways = [MAIN, (["C", "shop"], PRIMARY), (["shop", "D"], PRIMARY)]
    found, _ = by_road(spots, ways, "AF", [(28, 1)])
    assert found.leave_m[0] == pytest.approx(22_000.0, rel=2e-3)
    assert found.rejoin_m[0] == pytest.approx(30_000.0, rel=2e-3)
    assert found.out_s[0] == pytest.approx(np.hypot(6, 1) / KMH * 3600.0, rel=2e-3)
    assert found.out_s[0] > 5 * found.extra_s[0]


def test_a_loop_is_not_cut_short():
    # The route goes round by the top; the shop is on the straight road it avoids.
    spots = {"A": (0, 0), "B": (4, 0), "t1": (4, 3), "t2": (8, 3), "C": (8, 0), "D": (12, 0)}
    ways = [(["A", "B", "t1", "t2", "C", "D"], PRIMARY), (["B", "C"], PRIMARY)]
    found, _ = by_road(spots, ways, ["A", "B", "t1", "t2", "C", "D"], [(5, 0.02)])
    assert km(found) == pytest.approx(2.0 + 0.04, rel=1e-2)
    assert found.leave_m[0] == found.rejoin_m[0] == pytest.approx(4_000.0, rel=3e-3)


def test_a_spur_is_ridden_to_its_end():
    # There and back to a view point; leaving it out would "save" 6 km.
    spots = {"A": (0, 0), "B": (5, 0), "C": (10, 0), "view": (5, 3), "shop": (5, -1)}
    ways = [(["A", "B", "C"], PRIMARY), (["shop", "B", "view"], PRIMARY)]
    found, passes = by_road(spots, ways, ["A", "B", "view", "B", "C"], [(5, -1)])
    assert found.known.all()
    assert found.extra_m / 1000.0 == pytest.approx([2.0] * len(passes), rel=5e-3)
    assert (found.leave_m == found.rejoin_m).all()


def test_a_place_on_the_road_ridden_costs_only_the_steps_to_its_door():
    found, _ = by_road(LINE, [MAIN], "AF", [(24.5, 0.03)])
    assert found.extra_m[0] == pytest.approx(60.0, abs=5.0)
    assert found.leave_m[0] == found.rejoin_m[0] == pytest.approx(24_500.0, rel=2e-3)


def test_from_the_end_of_a_side_road_the_rest_of_the_way_is_on_foot():
    spots = {**LINE, "end": (20, 2)}
    found, _ = by_road(spots, [MAIN, (["C", "end"], PRIMARY)], "AF", [(20, 2.4)])
    assert found.walk_m[0] == pytest.approx(400.0, rel=5e-3)
    assert km(found) == pytest.approx(2 * 2.4, rel=2e-3)


def test_a_place_on_the_first_and_last_piece_of_road_is_no_detour():
    spots = {**LINE, "s": (3, 0), "e": (52, 0)}
    found, _ = by_road(spots, [MAIN], ["s", "e"], [(4, 0.01), (51, 0.01)])
    assert found.extra_m == pytest.approx([20.0, 20.0], rel=0.1)


def test_a_place_behind_the_start_must_be_ridden_to():
    spots = {**LINE, "s": (13, 0)}
    found, _ = by_road(spots, [MAIN], ["s", "F"], [(12, 0.01)])
    assert km(found) == pytest.approx(2.02, rel=1e-2)
    assert found.leave_m[0] == pytest.approx(0.0, abs=10.0)


def test_no_road_within_half_a_kilometre_is_not_known():
    found, _ = by_road(LINE, [MAIN], "AF", [(20, 0.7)])
    assert not found.known[0]
    assert np.isnan(found.extra_m[0]) and np.isnan(found.extra_s[0])
    assert "no road" in found.why_not[0]
    assert found.path_out[0][0].size == 0


def test_a_road_cut_off_from_the_route_is_not_known():
    spots = {**LINE, "i": (20, 5), "j": (25, 5)}
    found, _ = by_road(spots, [MAIN, (["i", "j"], PRIMARY)], "AF", [(22, 5.0)])
    assert not found.known[0] and found.why_not[0]


def test_a_near_road_across_a_gorge_does_not_serve_the_shop():
    # 300 m from the route, but on a road that this map connects with nothing.
    spots = {**LINE, "i": (20, 0.3), "j": (25, 0.3)}
    found, _ = by_road(spots, [MAIN, (["i", "j"], PRIMARY)], "AF", [(22, 0.28)])
    assert not found.known[0]
    assert "not connected" in found.why_not[0]


def test_a_bollard_on_the_side_road_makes_it_not_known():
    spots = {**LINE, "post": (20, 1), "shop": (20, 3)}
    graph = draw(spots, [MAIN, (["C", "post", "shop"], PRIMARY)], closed=["post"])
    route = ride(spots, "A", "F")
    passes, lon, lat = passes_of(route, [(20, 3)])
    assert not detours(graph, matched(graph, route), passes, lon, lat).known[0]


def test_a_shop_beside_a_motorway_is_not_entered_from_it():
    fast = (["A", "B", "C", "D", "E", "F"], {"highway": "motorway"})
    back = (["F", "E", "D", "C", "B", "A"], {"highway": "motorway"})
    spots = {**LINE, "shop": (15, 0.1)}
    lane = (["B", "shop"], {"highway": "service"})
    found, _ = by_road(spots, [fast, back], "AF", [(15, 0.1)])
    assert not found.known[0]
    found, _ = by_road(spots, [fast, back, lane], "AF", [(15, 0.1)])
    assert km(found) > 5.0


def test_one_way_streets_make_the_way_back_another_one():
    spots = {**LINE, "n": (20, 1), "m": (22, 1), "k": (22, 0)}
    main = (["A", "B", "C", "k", "D", "E", "F"], PRIMARY)
    ring = (["k", "m", "n", "C"], {**PRIMARY, "oneway": "yes"})
    found, _ = by_road(spots, [main, ring], "AF", [(21, 1.0)])
    # In at k (22), out at C (20): the two kilometres between are ridden again.
    assert found.leave_m[0] == pytest.approx(22_000.0, rel=3e-3)
    assert found.rejoin_m[0] == pytest.approx(20_000.0, rel=3e-3)
    assert km(found) == pytest.approx(4.0 + 2.0, rel=3e-3)


def test_each_pass_of_a_place_keeps_its_own_leave_point():
    spots = {"A": (0, 0), "J": (20, 0), "T": (40, 0), "shop": (20, 2)}
    ways = [(["A", "J", "T"], PRIMARY), (["J", "shop"], PRIMARY)]
    found, passes = by_road(spots, ways, ["A", "J", "T", "J", "A"], [(20, 2)])
    assert len(passes) == 2
    assert found.leave_m == pytest.approx([20_000.0, 60_000.0], rel=2e-3)
    assert found.extra_m / 1000.0 == pytest.approx([4.0, 4.0], rel=2e-3)


def test_the_quicker_of_two_ways_is_taken_though_it_is_longer():
    spots = {**LINE, "shop": (20, 4), "w": (18, 4)}
    track = (["C", "shop"], {"highway": "track", "surface": "ground"})
    road = (["B", "w", "shop"], PRIMARY)
    found, _ = by_road({**spots, "B": (18, 0)}, [MAIN, track, road], "AF", [(20, 4)])
    assert km(found) == pytest.approx(12.0, rel=3e-3)
    assert found.leave_m[0] == pytest.approx(18_000.0, rel=3e-3)


def test_the_way_is_drawn_from_the_route_to_the_door_and_back():
    spots = {**LINE, "u": (20, 2), "v": (29, 2), "D": (29, 0)}
    ways = [MAIN, (["C", "u", "v", "D"], PRIMARY)]
    found, _ = by_road(spots, ways, "AF", [(25, 2.02)])
    out, back = found.path_out[0], found.path_back[0]
    expected_out = lon_lat([20, 20, 25], [0, 2, 2.02])
    expected_back = lon_lat([25, 29, 29], [2.02, 2, 0])
    assert np.allclose(out, expected_out, atol=1e-9)
    assert np.allclose(back, expected_back, atol=1e-9)


def test_no_way_leads_through_roads_that_end_nowhere():
    spots = {**LINE, "shop": (20, 3), "lane": (10, 2), "end": (10, 4), "left": (11, 4)}
    loop = {"p": (30, 2), "q": (31, 3)}
    ways = [MAIN, (["C", "shop"], PRIMARY), (["B", "lane"], PRIMARY), (["lane", "end"], PRIMARY)]
    ways += [(["lane", "left"], PRIMARY), (["D", "p", "q", "D"], PRIMARY)]
    graph = draw({**spots, **loop}, ways, route=ride(spots, "A", "F"))
    number = {name: place + 1 for place, name in enumerate({**spots, **loop})}
    row = {name: int(np.flatnonzero(graph.node_id == number[name])[0]) for name in "ABCDF"}
    row |= {name: int(np.flatnonzero(graph.node_id == number[name])[0]) for name in ("lane", "end")}
    through = no_dead_ends(graph, np.array([row["A"], row["F"], row["end"]]))
    assert through[[row[name] for name in ("A", "B", "D", "F", "lane", "end")]].all()
    assert not no_dead_ends(graph, np.array([row["A"], row["F"]]))[[row["lane"], row["end"]]].any()


def test_without_roads_nothing_is_known():
    found, passes = by_road(LINE, [], "AF", [(20, 1), (30, 2)])
    assert len(passes) == 2
    assert not found.known.any()
    assert np.isnan(found.extra_m).all()


def test_no_passes_no_detours():
    found, _ = by_road(LINE, [MAIN], "AF", [])
    assert len(found) == 0


def test_straight_estimate_says_that_it_is_one():
    passes, _, _ = passes_of(ride(LINE, "A", "F"), [(20, 3), (30, -1)])
    found = straight_detours(passes, speed_kmh=50.0, factor=1.5)
    assert "estimate" in found.source and "1.5" in found.source
    assert found.extra_m / 1000.0 == pytest.approx([9.0, 3.0], rel=5e-3)
    assert found.extra_s == pytest.approx(found.extra_m * 3.6 / 50.0)
    assert found.known.all()
    assert (found.leave_m == passes.chainage_m).all()


def test_a_far_way_is_found_by_the_second_wider_search():
    # 45 km each way: more than the first search looks.
    spots = {**LINE, "shop": (20, 45)}
    graph = draw(spots, [MAIN, (["C", "shop"], {"highway": "primary", "surface": "gravel"})])
    route = ride(spots, "A", "F")
    passes, lon, lat = passes_of(route, [(20, 45)], reach_m=50_000.0)
    found = detours(graph, matched(graph, route), passes, lon, lat)
    assert km(found) == pytest.approx(90.0, rel=3e-3)
