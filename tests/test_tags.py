"""The tag table: what counts, what doesn't, and how sure."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resupply.common.text import one_line
from resupply.places.left_out import left_out_markdown
from resupply.places.place import Confidence, Supply
from resupply.places.tags import (
    RULES,
    classify,
    kept_tags,
    kind_words,
    table_markdown,
)

STATED, LIKELY = Confidence.STATED, Confidence.LIKELY


def supplies_of(**tags):
    found = classify({key.replace("__", ":"): value for key, value in tags.items()})
    return {} if found is None else dict(found[1])


@pytest.mark.parametrize(
    "tags",
    [
        {"amenity": "ice_cream"},
        {"shop": "ice_cream"},
        {"vending": "ice_cream"},
        {"amenity": "vending_machine", "vending": "ice_cream;sweets"},
        {"ice_cream": "yes"},
        {"sells:ice_cream": "yes"},
        {"shop": "kiosk", "ice_cream": "yes"},
        {"leisure": "ice_rink"},
        {"sport": "ice_hockey"},
    ],
)
def test_ice_cream_and_ice_rinks_are_not_ice(tags):
    found = classify(tags)
    assert found is None or Supply.ICE not in found[1]


@pytest.mark.parametrize(
    "tags",
    [
        {"amenity": "vending_machine", "vending": "ice_cubes"},
        {"amenity": "vending_machine", "vending": "water; ice_cubes"},
        {"shop": "ice"},
        {"amenity": "restaurant", "ice": "yes"},
        {"shop": "convenience", "sells:ice": "yes"},
    ],
)
def test_the_map_saying_ice_is_stated(tags):
    assert classify(tags)[1][Supply.ICE] is STATED


@pytest.mark.parametrize("tags", [{"amenity": "fuel"}, {"shop": "supermarket"}])
def test_ice_at_pumps_and_supermarkets_is_a_guess_and_says_so(tags):
    assert classify(tags)[1][Supply.ICE] is LIKELY


def test_stated_ice_beats_likely_ice():
    assert supplies_of(shop="supermarket", ice="yes")[Supply.ICE] is STATED


@pytest.mark.parametrize("unmanned", [{"automated": "yes"}, {"shop": "no"}])
def test_an_unmanned_pump_sells_fuel_alone(unmanned):
    assert supplies_of(amenity="fuel", **unmanned) == {Supply.FUEL: STATED}


def test_a_bare_filling_station_is_no_grocery():
    assert not {Supply.GROCERIES, Supply.SMALL_GROCERIES} & set(supplies_of(amenity="fuel"))


def test_a_filling_station_with_its_shop_is_one_place_with_both():
    kind, supplies = classify({"amenity": "fuel", "shop": "convenience"})
    assert kind == "amenity=fuel"
    assert supplies == {
        Supply.FUEL: STATED,
        Supply.SMALL_GROCERIES: STATED,
        Supply.ICE: LIKELY,
    }


def test_a_filling_station_with_some_shop_has_small_groceries_as_a_guess():
    assert supplies_of(amenity="fuel", shop="yes")[Supply.SMALL_GROCERIES] is LIKELY


def test_a_supermarket_with_pumps_is_a_supermarket():
    assert classify({"amenity": "fuel", "shop": "supermarket"})[0] == "shop=supermarket"


def test_several_values_separated_by_semicolons_all_count():
    kind, supplies = classify({"shop": "car_repair; bakery ;supermarket"})
    assert kind == "shop=supermarket"
    assert set(supplies) == {Supply.GROCERIES, Supply.SMALL_GROCERIES, Supply.ICE}


@pytest.mark.parametrize("value", ["bakery", "butcher", "farm", "deli", "grocery", "food"])
def test_narrow_food_shops_are_small_groceries(value):
    assert supplies_of(shop=value) == {Supply.SMALL_GROCERIES: STATED}


@pytest.mark.parametrize("value", ["beverages", "alcohol", "vacant", "yes", "bicycle", "gas"])
def test_shops_that_sell_no_food_are_no_places(value):
    assert classify({"shop": value}) is None


def test_fuel_in_cans_is_fuel_but_another_kind():
    assert classify({"shop": "fuel"}) == ("shop=fuel", {Supply.FUEL: LIKELY})
    assert kind_words("shop=fuel") != kind_words("amenity=fuel")


@pytest.mark.parametrize(
    ("tags", "takes_tents"),
    [
        ({"tourism": "camp_site"}, True),
        ({"tourism": "camp_site", "tents": "no"}, False),
        ({"tourism": "camp_site", "group_only": "yes"}, False),
        ({"tourism": "camp_pitch"}, True),
        ({"tourism": "camp_pitch", "tents": "no"}, False),
        ({"tourism": "camp_site", "static_caravans": "only"}, False),
        ({"tourism": "camp_site", "static_caravans": "yes"}, True),
        ({"tourism": "camp_site", "permanent_camping": "only"}, False),
        ({"tourism": "camp_site", "canoe": "designated"}, False),
        ({"tourism": "camp_site", "capacity:tents": "0"}, False),
        ({"tourism": "camp_site", "caravans": "only"}, False),
        ({"tourism": "caravan_site"}, False),
        ({"tourism": "caravan_site", "tents": "yes", "permanent_camping": "only"}, False),
        ({"tourism": "caravan_site", "tents": "yes"}, True),
        ({"tourism": "caravan_site", "tents": "no"}, False),
    ],
)
def test_a_camp_counts_only_if_it_takes_tents(tags, takes_tents):
    assert (Supply.CAMP in supplies_of(**tags)) is takes_tents


def test_a_camp_with_water_is_a_water_place_too():
    found = classify({"tourism": "camp_site", "drinking_water": "yes"})
    assert found == ("tourism=camp_site", {Supply.CAMP: STATED, Supply.WATER: STATED})


@pytest.mark.parametrize(
    ("tags", "confidence"),
    [
        ({"amenity": "drinking_water"}, STATED),
        ({"amenity": "drinking_water", "drinking_water": "no"}, None),
        ({"amenity": "water_point"}, STATED),
        ({"amenity": "fountain", "drinking_water": "yes"}, STATED),
        ({"amenity": "fountain"}, None),
        ({"natural": "spring"}, LIKELY),
        ({"natural": "spring", "drinking_water": "yes"}, STATED),
        ({"natural": "spring", "drinking_water": "no"}, None),
        ({"amenity": "drinking_water", "drinking_water:legal": "no"}, LIKELY),
        ({"amenity": "water_point", "drinking_water:legal": "no"}, LIKELY),
        ({"amenity": "drinking_water", "drinking_water": "conditional"}, LIKELY),
        ({"natural": "spring", "drinking_water": "yes", "drinking_water:legal": "no"}, LIKELY),
        ({"amenity": "fountain", "drinking_water": "yes", "drinking_water:legal": "no"}, LIKELY),
        ({"man_made": "water_tap"}, LIKELY),
        ({"man_made": "water_tap", "drinking_water": "no"}, None),
        ({"man_made": "water_well"}, None),
        ({"man_made": "water_well", "drinking_water": "yes"}, STATED),
    ],
)
def test_water_is_stated_only_where_the_map_calls_it_drinkable(tags, confidence):
    assert supplies_of(**tags).get(Supply.WATER) is confidence


def test_what_the_map_says_of_a_spring_is_kept_for_showing():
    tags = {"natural": "spring", "drinking_water:legal": "no", "seasonal": "yes", "source": "gps"}
    assert kept_tags(tags) == {"drinking_water:legal": "no", "seasonal": "yes"}


@pytest.mark.parametrize("value", ["restaurant", "cafe", "fast_food", "food_court"])
def test_eating_places_are_meals_out(value):
    assert supplies_of(amenity=value) == {Supply.MEAL_OUT: STATED}


@pytest.mark.parametrize("value", ["pub", "biergarten"])
def test_food_at_a_pub_is_a_guess_unless_the_map_says_no(value):
    assert supplies_of(amenity=value) == {Supply.MEAL_OUT: LIKELY}
    assert supplies_of(amenity=value, food="no") == {}


PREFIXES = (
    "proposed", "planned", "construction", "disused", "abandoned", "ruins", "demolished", "removed",
    "razed", "destroyed", "historic", "was", "not",
)  # fmt: skip


@pytest.mark.parametrize("prefix", PREFIXES)
def test_a_lifecycle_prefix_means_it_is_not_there(prefix):
    assert classify({f"{prefix}:shop": "supermarket", "name": "Old Mill Stores"}) is None


@pytest.mark.parametrize(
    "tag",
    [
        ("disused", "yes"),
        ("abandoned", "yes"),
        ("vacant", "yes"),
        ("construction", "yes"),
        ("operational_status", "closed"),
        ("access", "private"),
        ("access", "no"),
        ("access", "members"),
        ("access", "private;permit"),
        ("membership", "required"),
        ("members_only", "yes"),
        ("access", "members_only"),
        ("access", "staff"),
        ("access", "restricted"),
        ("access", "closed"),
        ("operational_status", "closed_permanently"),
        ("operational_status", "temporarily_closed"),
        ("building", "construction"),
        ("wholesale", "only"),
        ("customers", "trade"),
        ("delivery", "only"),
        ("description", "Village store, PERMANENTLY CLOSED since spring"),
        ("note", "fermée définitivement"),
    ],
)
@pytest.mark.parametrize(
    "place", [("shop", "supermarket"), ("amenity", "fuel"), ("tourism", "camp_site")]
)
def test_disused_private_and_members_only_places_do_not_count(place, tag):
    assert classify(dict([place])) is not None
    assert classify(dict([place, tag])) is None


@pytest.mark.parametrize(
    "tag",
    [
        ("access", "customers"),
        ("access", "yes"),
        ("access", "permissive"),
        ("disused", "no"),
        ("vacant", ""),
        ("membership", "no"),
        ("disused:amenity", "pub"),
        ("operational_status", "operational"),
        ("building", "yes"),
        ("wholesale", "yes"),
        ("customers", "trade;public"),
        ("delivery", "yes"),
        ("description", "never closed"),
        ("description", "was permanently closed, reopened in May"),
        ("end_date", "2019"),
        ("start_date", "1930"),
    ],
)
def test_open_doors_and_denials_do_count(tag):
    assert classify({"shop": "supermarket", tag[0]: tag[1]}) is not None


def test_every_row_of_the_table_can_be_reached():
    for rule in RULES:
        tags = {rule.key: rule.value, **{key: min(some) for key, some in rule.needs}}
        assert rule.supply in classify(tags)[1], rule


def test_every_row_names_its_page_or_says_it_has_none():
    without = {f"{rule.key}={rule.value}" for rule in RULES if not rule.page}
    assert without == {"shop=ice", "ice=yes", "sells:ice=yes"}
    for rule in RULES:
        assert not rule.page or re.fullmatch(r"(Tag|Key):\S+", rule.page)
        assert rule.words


def test_no_row_is_written_twice():
    assert len(set(RULES)) == len(RULES)


def test_kinds_have_plain_words():
    assert kind_words("shop=supermarket") == "supermarket"
    assert kind_words("amenity=fuel") == "filling station"
    assert kind_words("shop=from_elsewhere") == "from elsewhere"
    for rule in RULES:
        assert "_" not in kind_words(f"{rule.key}={rule.value}")


@given(st.dictionaries(st.text(max_size=12), st.text(max_size=40), max_size=8))
def test_any_tags_at_all_are_taken(tags):
    assert classify({**tags, "shop": tags.get("shop", "")}) is None or "shop" in tags
    kept_tags(tags)


@given(
    st.dictionaries(
        st.sampled_from(["shop", "amenity", "access", "disused", "tents", "ice", "vending"]),
        st.text(alphabet=";abcdefimnoprstuy_ ", max_size=30)
        | st.sampled_from(sorted({rule.value for rule in RULES})),
    )
)
def test_whatever_is_found_comes_from_the_table(tags):
    found = classify(tags)
    if found is not None:
        kind, supplies = found
        assert kind in {f"{rule.key}={rule.value}" for rule in RULES}
        assert supplies


@given(st.text(max_size=400))
def test_cleaned_text_is_one_printable_line_of_bounded_length(text):
    clean = one_line(text)
    assert len(clean) <= 255
    assert not any(ord(char) < 32 or 127 <= ord(char) < 160 for char in clean)
    clean.encode("utf-8")


def test_markup_stays_as_text_and_escape_codes_lose_their_escape():
    assert one_line("<script>alert('x')</script>") == "<script>alert('x')</script>"
    assert one_line("Shop\x1b[31m red\nline\ttwo \ud800") == "Shop[31m red line two ?"


def test_a_place_shut_but_for_some_times_is_a_place():
    tags = {"shop": "farm", "access": "private", "access:conditional": "yes @ (Sa 09:00-12:00)"}
    assert classify(tags) is not None
    assert classify({**tags, "access:conditional": "staff @ (Mo-Fr)"}) is None


def test_the_documented_tables_are_the_tables():
    page = (Path(__file__).parents[1] / "docs" / "how" / "places.md").read_text(encoding="utf-8")
    assert table_markdown() in page
    assert left_out_markdown() in page
