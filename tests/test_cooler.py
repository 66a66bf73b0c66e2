import math

import pytest
from cold_world import ice_life_h

from resupply.common.errors import TripFileError
from resupply.kitchen.cold.cooler import (
    IceTest,
    cooler_data,
    make_cooler,
    stowage_l_per_kg,
    ua_from_ice_test,
)
from resupply.trip.read_file import make_trip


def test_ice_test_gives_the_leak_that_melts_it():
    ua = ua_from_ice_test(4.5, 31.0, 27.0)
    assert ua == pytest.approx(4.5 * 333.55e3 / (31.0 * 3600.0 * 27.0))
    assert ice_life_h(4.5, ua, 27.0) == pytest.approx(31.0)


def test_ice_test_that_ends_warm_counts_the_warming():
    # 40 kJ/K warming from 0 to 6 °C in 20 °C air takes C/UA ln(20/14) longer than the melting.
    ua = ua_from_ice_test(5.0, 60.0, 20.0, contents_kj_per_k=40.0, end_c=6.0)
    melting_h = 5.0 * 333.55 / (ua * 20.0 * 3.6)
    warming_h = 40.0 / (ua * 3.6) * math.log(20.0 / 14.0)
    assert melting_h + warming_h == pytest.approx(60.0)


@pytest.mark.parametrize(
    ("ice_kg", "hours", "ambient_c"),
    [(0.0, 10.0, 20.0), (3.0, 0.0, 20.0), (3.0, 10.0, 0.0), (3.0, 10.0, -5.0), (math.nan, 1, 20)],
)
def test_impossible_ice_test_is_refused(ice_kg, hours, ambient_c):
    with pytest.raises(TripFileError, match="ice test"):
        ua_from_ice_test(ice_kg, hours, ambient_c)


@pytest.mark.parametrize("test", [(3.0, 24_000.0, 25.0), (5e-324, 5e16, 0.95), (9e307, 1e-5, 1.0)])
def test_an_ice_test_that_no_cooler_can_pass_is_refused(test):
    with pytest.raises(TripFileError, match="which no cooler has"):
        ua_from_ice_test(*test)


@pytest.mark.parametrize(
    ("name", "key"), [("food", "cooler.test_hours"), ("drinks", "drinks_cooler.test_hours")]
)
def test_an_ice_test_at_fault_names_its_key(name, key):
    with pytest.raises(TripFileError) as refused:
        make_cooler("hard", 26.0, name=name, ice_test=IceTest(3.0, 24_000.0, 25.0))
    assert refused.value.key == key
    said = refused.value.named({key: "--set test_hours=24000"})
    assert str(said).startswith("--set test_hours=24000: this ice test gives a heat leak of")


def test_a_bag_of_ice_too_small_to_plan_with_is_refused_by_its_key():
    with pytest.raises(TripFileError, match=r"0\.25") as refused:
        make_trip({"drinks_cooler": {"bag_kg": 0.2}})
    assert refused.value.key == "drinks_cooler.bag_kg"


def test_own_ice_test_wins_over_the_default_and_is_named():
    cooler = make_cooler("soft", 20.0, ice_test=IceTest(3.0, 24.0, 25.0))
    assert cooler.ua_w_per_k == pytest.approx(ua_from_ice_test(3.0, 24.0, 25.0))
    assert "own ice test: 3 kg lasted 24 h at 25 °C" in cooler.ua_source


@pytest.mark.parametrize("volume_l", [8.0, 25.0, 60.0])
def test_hard_leaks_less_than_soft_less_than_bag(volume_l):
    hard, soft, bag = (make_cooler(k, volume_l).ua_w_per_k for k in ("hard", "soft", "bag"))
    assert hard < soft < bag


def test_default_leak_says_what_is_assumed():
    source = make_cooler("hard", 25.0).ua_source
    assert "default" in source
    assert "assumption" in source


def test_no_cooler_has_no_insulation_and_no_packs():
    cooler = make_cooler("none", 20.0, packs_kg=1.0)
    assert cooler.ua_w_per_k == math.inf
    assert cooler.packs_kg == 0.0


def test_lid_lets_in_the_empty_space_once_per_opening():
    cooler = make_cooler("hard", 40.0, openings_per_day=10.0)
    # 40 L of air, 1.2 g/L, 1.005 J/(g K), doubled for moisture, ten times a day.
    assert cooler.lid_w_per_k == pytest.approx(10 * 40 * 1.2 * 1.005 * 2.0 / 86_400.0)
    assert make_cooler("hard", 40.0, openings_per_day=0.0).lid_w_per_k == 0.0


def test_blocks_take_less_room_than_cubes():
    assert stowage_l_per_kg("block") < stowage_l_per_kg("cube")


@pytest.mark.parametrize("volume_l", [0.0, -1.0, math.nan])
def test_impossible_cooler_is_refused(volume_l):
    with pytest.raises(TripFileError):
        make_cooler("hard", volume_l)


def test_every_default_carries_its_source():
    data = cooler_data()
    for kind in data["kinds"].values():
        assert kind["thickness_source"]
        assert kind["conductivity_source"]
        assert kind["liner_source"]
    assert all(data[part]["source"] for part in ("sun", "lid", "pre_chilled"))


@pytest.mark.parametrize(
    ("kind", "volume_l", "parked", "riding"),
    [("hard", 30.0, 0.64, 0.69), ("soft", 18.0, 1.10, 1.33), ("bag", 10.0, 1.42, 2.22)],
)
def test_the_wind_of_riding_lets_more_heat_through_thin_walls(kind, volume_l, parked, riding):
    # Area / (thickness / conductivity + 1 / film), films of 10 and 40 W/(m² K), by hand.
    cooler = make_cooler(kind, volume_l)
    assert cooler.ua_w_per_k == pytest.approx(parked, abs=0.006)
    assert cooler.ua_w_per_k * cooler.wind_factor == pytest.approx(riding, abs=0.006)


def test_an_ice_test_is_of_still_air_and_the_wind_adds_to_it_as_to_the_usual_wall():
    usual = make_cooler("soft", 18.0)
    tested = make_cooler("soft", 18.0, ice_test=IceTest(3.0, 24.0, 25.0))
    assert tested.wind_factor == usual.wind_factor > 1.0


def test_a_dark_cooler_takes_in_three_times_the_sun_of_a_light_one():
    light, middle, dark = (make_cooler("soft", 18.0, colour=c) for c in ("light", "middle", "dark"))
    assert (light.sun_excess_k, middle.sun_excess_k, dark.sun_excess_k) == (12.0, 24.0, 36.0)
    # In the wind the skin is cooled as much better as the leak's film says: four times.
    assert middle.sun_riding_k == middle.sun_excess_k / 4.0
    assert dark.sun_riding_k == 3.0 * light.sun_riding_k


def test_films_of_still_air_and_riding_are_within_the_published_relation():
    wall = cooler_data()["wall"]

    def smooth(v):
        return 10.22 + 3.1 * v

    def very_smooth(v):
        return 8.23 + 3.33 * v - 0.036 * v * v

    assert very_smooth(0.0) <= wall["film_w_per_m2_k"] <= smooth(0.0)
    # In the lee half of the wind: between half of it and all of it, at 45 km/h.
    assert smooth(45 / 3.6 / 2) <= wall["riding_film_w_per_m2_k"] <= very_smooth(45 / 3.6)
