"""Ice is weighed against the food it keeps: where it outweighs it by far, there is neither."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from conftest import ROOT
from cooler_trips import random_trip
from gpx_text import gpx, track
from one_programme import Case, world

from resupply.api import cook, plan
from resupply.common.show import Show, text
from resupply.kitchen.agree import agree
from resupply.kitchen.cold.ice_plan import IceState
from resupply.kitchen.food.dishes import Cookbook
from resupply.kitchen.ice_price import outweighed
from resupply.report.lists import shopping_lists
from resupply.say.ice_price import spared_words

DESERT = Case("desert", 2, 1, "hard", 20.0, 22.0, 40.0)
DRY = (
    *("scrambled-eggs", "porridge", "bread-cheese-breakfast", "salami-rolls", "white-bean-soup"),
    *("bean-tomato-salad", "bread-cheese-tomato", "couscous-vegetables"),
)
EGGS_KG = 3 * 0.06


@cache
def desert(times: float):
    asked, box = world(DESERT)
    book = asked.cookbook
    few = Cookbook(book.ingredients, {key: book.dishes[key] for key in DRY})
    asked = replace(asked, cookbook=few, helpings=None)
    return asked, agree(asked, replace(box, ice_times_food=times), (), ())


def test_nobody_buys_kilograms_of_ice_for_three_eggs():
    asked, any_price = desert(1000.0)
    assert any_price.ice.cold_kg == pytest.approx(EGGS_KG)
    assert any_price.ice.bought_kg > 10.0 * EGGS_KG
    assert any_price.spared is None
    _, weighed = desert(10.0)
    assert weighed.ice.bought_kg == 0.0
    assert weighed.ice.state is IceState.NO_NEED
    assert len(weighed.menu.unfilled) == len(any_price.menu.unfilled)
    needs = asked.storage.classes
    for meal in weighed.menu.meals:
        for bought in meal.bought:
            part = asked.cookbook.ingredients[bought.ingredient]
            assert not needs[part.storage].needs_cold


def test_what_is_given_up_and_saved_is_told():
    _, any_price = desert(1000.0)
    _, weighed = desert(10.0)
    spared = weighed.spared
    assert spared.ice_kg == pytest.approx(any_price.ice.bought_kg)
    assert spared.food_kg == pytest.approx(EGGS_KG)
    assert [meal.dish.id for meal in spared.meals] == ["scrambled-eggs"]
    said = text(spared_words(weighed.ice, spared), Show("metric", 24))
    assert said.startswith("No cold food from Kitchen at home: 0.2 kg of it would take ")
    assert "over 10 times as much (cooler.ice_times_food in the trip file)" in said
    assert said.endswith(
        "Given up: Scrambled eggs with bread (Saturday breakfast). The cooler may stay at home."
    )


@pytest.mark.parametrize(("times", "buys"), [(10.0, False), (1000.0, True)])
def test_dishes_that_stay_are_not_weighed_again(times, buys):
    """For each plan for the way that took as long as its whole menu."""
    asked, first = desert(times)
    _, box = world(DESERT)
    kept = {n: meal.dish.id for n, meal in enumerate(first.menu.meals) if meal.dish is not None}
    then = agree(replace(asked, kept=kept), replace(box, ice_times_food=10.0), (), ())
    assert then.spared is None
    assert [meal.dish for meal in then.menu.meals] == [meal.dish for meal in first.menu.meals]
    assert (then.ice.bought_kg > 0.0) == buys


def test_just_as_much_as_is_allowed_is_bought():
    _, any_price = desert(1000.0)
    times = any_price.ice.bought_kg / EGGS_KG
    assert desert(times + 0.01)[1].spared is None
    assert desert(times - 0.01)[1].spared is not None


def test_stretches_that_share_their_ice_are_weighed_together_too():
    """Alone neither saves any: the other needs the ice as well."""

    class Box:
        ice_times_food = 10.0

        def plan(self, stored):
            return Planned(4.0 if any(food.perishable for food in stored) else 0.0)

    class Planned:
        def __init__(self, kg):
            self.bought_kg = kg

    class Food:
        perishable = True

        def __init__(self, stop, kg):
            self.in_s, self.mass_kg = stop.when.timestamp(), kg

    asked, _ = world(Case("two shops", 3, 1, "hard", 20.0, 22.0, 40.0, ((1, 15.0),)))
    home, shop = asked.stops
    assert outweighed(Box(), asked.stops, [Food(home, 0.1), Food(shop, 0.1)], Planned(4.0)) == {
        0,
        1,
    }
    assert not outweighed(Box(), asked.stops, [Food(home, 0.3), Food(shop, 0.2)], Planned(4.0))
    assert outweighed(Box(), asked.stops, [Food(shop, 0.3)], Planned(4.0)) == {1}


@pytest.mark.parametrize("seed", [0, 3, 4, 11])
def test_weighing_never_takes_more_ice_more_stops_or_fewer_meals(seed):
    trip, planned = random_trip(seed)
    keys = trip.cooler.model_copy(update={"ice_times_food": 1000.0})
    at_any_price = replace(planned, trip=trip.model_copy(update={"cooler": keys}))
    free, weighed = cook(at_any_price, Path()), cook(planned, Path())
    assert weighed.food_ice.bought_kg <= free.food_ice.bought_kg
    assert free.spared is None
    if weighed.menu is not None:
        assert len(weighed.menu.unfilled) <= len(free.menu.unfilled)
    if weighed.spared is not None:
        assert weighed.food_ice.bought_kg < free.food_ice.bought_kg


def test_at_beatty_a_rider_alone_buys_no_ice_in_july(tmp_path):
    """The trip on which 14 lb of ice were bought for an egg and two yogurts."""
    points = [(-116.76, 36.91), (-117.0, 37.2), (-117.15, 37.35)]
    (tmp_path / "beatty.gpx").write_bytes(gpx(track([*points, *points[::-1]])))
    extract = ROOT / "tests" / "data" / "osm" / "beatty-nevada-2017-08.osm"
    (tmp_path / "beatty.toml").write_text(
        f"""route = "beatty.gpx"
map.extracts = ["{extract.as_posix()}"]
start.date = 2027-07-09
pace.daily_mi = 35
party.people = 1
weather.low_f = 72
weather.high_f = 104
cooler.kind = "hard"
cooler.volume_l = 20
show.units = "imperial"
""",
        "utf-8",
    )
    told = plan(tmp_path / "beatty.toml").document
    cooler = told.cold.coolers[0]
    assert cooler.ice_kg == 0.0
    assert cooler.spared_ice_kg > 5.0
    assert not told.menu.unfilled
    lists = shopping_lists(told)
    assert "Ice for" not in lists
    assert "Thermometer for the cooler" not in lists
