"""The safety tables against the published rows.

Sources: FoodSafety.gov, Cold Food Storage Chart (official feed for salads and hot dogs; the other
rows from copies; 2006 copy for milk and hard cheese); FoodSafety.gov, Food Safety During Power
Outage; USDA / FoodSafety.gov, Safe Minimum Internal Temperature Chart; USDA FSIS and FDA on the
danger zone and the two-hour rule; CDC, Emerging Infectious Diseases 31(8), August 2025, on boiling;
Leave No Trace; US Forest Service and National Park Service; Sphere 2011; US Army water tables.
The expected rows are typed here from those publications, not read from the tables under test.
"""

import pytest

from resupply.kitchen.food.care import load_care
from resupply.kitchen.food.rations import load_rations
from resupply.kitchen.food.sources import Read, load_sources
from resupply.kitchen.food.storage_classes import load_storage

STORAGE = load_storage()
CARE = load_care()
RATIONS = load_rations()
SOURCES = load_sources()

# class: (days unopened or of the only published row, days opened, status)
COLD_STORAGE_DAYS = {
    "deli-salad": ((3, 4), None, "confirmed"),
    "hot-dogs": ((14, 14), (7, 7), "confirmed"),
    "luncheon-meat": ((14, 14), (3, 5), "copy"),
    "deli-sliced": ((3, 5), None, "copy"),
    "bacon": ((7, 7), None, "copy"),
    "raw-sausage": ((1, 2), None, "copy"),
    "cooked-sausage": ((7, 7), None, "copy"),
    "raw-ground": ((1, 2), None, "copy"),
    "raw-cuts": ((3, 5), None, "copy"),
    "raw-ham": ((3, 5), None, "copy"),
    "fresh-ham-cooked": ((3, 4), None, "copy"),
    "cured-ham-raw": ((5, 7), None, "copy"),
    "cooked-ham-sealed": ((14, 14), (3, 5), "copy"),
    "cooked-ham-whole": ((7, 7), None, "copy"),
    "cooked-ham-slices": ((3, 5), None, "copy"),
    "tinned-ham": (None, (3, 4), "copy"),
    "dry-cured-ham": ((60, 90), None, "copy"),
    "raw-poultry": ((1, 2), None, "copy"),
    "raw-fish": ((1, 3), None, "copy"),
    "fresh-crab": ((2, 4), None, "copy"),
    "live-shellfish": ((1, 1), None, "copy"),
    "raw-shrimp": ((3, 5), None, "memory"),
    "shucked-shellfish": ((3, 10), None, "memory"),
    "raw-eggs": ((21, 35), None, "copy"),
    "raw-whites-yolks": ((2, 4), None, "copy"),
    "hard-cooked-eggs": ((7, 7), None, "copy"),
    # One copy says 10 days unopened, another 3: both are kept, the low end is used.
    "egg-substitute": ((3, 10), (3, 3), "copy"),
    "soup-stew": ((3, 4), None, "copy"),
    "leftovers": ((3, 4), None, "copy"),
    "nuggets": ((3, 4), None, "copy"),
    "pizza": ((3, 4), None, "copy"),
    "mayonnaise": ((60, 60), None, "copy"),
    "fresh-milk": ((7, 7), None, "copy"),
    "hard-cheese": ((21, 28), None, "copy"),
}

# After more than two hours above 40 °F, by the outage chart.
KEEP = {
    "hard-cheese",
    "butter",
    "whole-fruit",
    "soft-vegetables",
    "firm-vegetables",
    "nuts-dried-fruit",
    "tinned-fruit",
    "bread",
    "flatbread",
    "spreads",
}
DISCARD = {
    "soft-cheese",
    "fresh-milk",
    "yogurt",
    "long-life-milk",
    "cut-produce",
    "tinned-vegetables",
    "pizza",
    "mayonnaise",
    "raw-poultry",
    "raw-ground",
    "raw-sausage",
    "raw-cuts",
    "raw-ham",
    "cured-ham-raw",
    "raw-fish",
    "live-shellfish",
    "fresh-crab",
    "raw-shrimp",
    "shucked-shellfish",
    "bacon",
    "raw-eggs",
    "raw-whites-yolks",
    "hard-cooked-eggs",
    "egg-substitute",
    "hot-dogs",
    "luncheon-meat",
    "deli-sliced",
    "cooked-sausage",
    "cooked-ham-sealed",
    "cooked-ham-whole",
    "cooked-ham-slices",
    "fresh-ham-cooked",
    "dry-cured-ham",
    "deli-salad",
    "soup-stew",
    "leftovers",
    "nuggets",
    "jerky",
    "tinned-meat",
    "tinned-ham",
    "tinned-fish",
}

# row: (°F, °C to one decimal, rest in minutes)
INTERNAL_TEMPERATURES = {
    "ground-meat": (160, 71.1, None),
    "poultry": (165, 73.9, None),
    "cuts": (145, 62.8, 3),
    "cooked-ham": (140, 60.0, None),
    "other-cooked-ham": (165, 73.9, None),
    "fin-fish": (145, 62.8, None),
    "shellfish": (None, None, None),
    "clams": (None, None, None),
    "eggs": (None, None, None),
    "egg-dishes": (160, 71.1, None),
    "leftovers": (165, 73.9, None),
}

# agency: (minutes at sea level, minutes high up, from metres)
BOILING = {
    "cdc": (1, 3, 1981),
    "epa": (1, 3, 1524),
    "epa-memo": (1, 3, 2000),
    "health-canada": (1, 2, 2000),
    "yellow-book": (1, None, None),
    "who": (0, None, None),
}


@pytest.mark.parametrize("key", COLD_STORAGE_DAYS)
def test_days_in_the_cold_are_the_published_ones(key):
    unopened, opened, status = COLD_STORAGE_DAYS[key]
    row = STORAGE.classes[key]
    assert (row.unopened, row.opened, row.days_by.status) == (unopened, opened, status)
    assert "general" not in row.days_by.source


def test_days_that_no_published_row_covers_never_claim_one():
    for key, row in STORAGE.classes.items():
        if key == "dry-sausage":
            # FSIS, Sausages and Food Safety: 3 weeks chilled once cut.
            assert (row.opened, row.days_by.source) == ((21, 21), "fsis-sausage")
        elif key not in COLD_STORAGE_DAYS and row.days_by is not None:
            assert row.days_by.source == "general", key
            assert row.days_by.status == "memory", key


def test_uncooled_days_are_told_as_a_habit_but_where_they_are_published():
    found = {key: row for key, row in STORAGE.classes.items() if row.room_days is not None}
    assert {key for key, row in found.items() if row.room_by.status == "copy"} == {"butter"}
    assert {row.room_by.status for row in found.values()} == {"practice", "copy", "ours"}


def test_keep_or_discard_is_that_of_the_outage_chart():
    for key in KEEP:
        assert STORAGE.classes[key].after_warm == "keep", key
    for key in DISCARD:
        assert STORAGE.classes[key].after_warm == "discard", key
    for key in KEEP | DISCARD:
        by = STORAGE.classes[key].warm_by
        assert (by.source, by.status) == ("outage", "copy"), key


def test_what_the_outage_chart_does_not_name_is_not_cited_to_it():
    for key in set(STORAGE.classes) - KEEP - DISCARD:
        by = STORAGE.classes[key].warm_by
        assert (by.source, by.status) == ("general", "memory"), key


def test_mayonnaise_has_the_charts_own_limit():
    row = STORAGE.classes["mayonnaise"]
    assert row.warm_above_c == pytest.approx((50 - 32) / 1.8)
    assert row.warm_h == 8


def test_the_danger_zone_and_the_two_hour_rule():
    rule = {key: row.value for key, row in STORAGE.rule.items()}
    # Published 40 °F is 4.44 °C: the plan keeps the stricter 4 °C.
    assert rule["cold_c"] == 4.0
    assert rule["cold_c"] <= (40 - 32) / 1.8
    assert rule["zone_top_c"] == pytest.approx((140 - 32) / 1.8)
    assert rule["hot_c"] == pytest.approx((90 - 32) / 1.8, abs=0.3)
    assert rule["hot_c"] <= (90 - 32) / 1.8
    assert (rule["warm_h"], rule["hot_h"], rule["doubling_min"]) == (2, 1, 20)
    assert {row.by.status for row in STORAGE.rule.values()} == {"copy"}


@pytest.mark.parametrize("key", INTERNAL_TEMPERATURES)
def test_internal_temperatures_are_the_published_ones(key):
    temp_f, temp_c, rest_min = INTERNAL_TEMPERATURES[key]
    row = CARE.temperature[key]
    assert row.temp_f == temp_f
    assert (None if row.temp_c is None else round(row.temp_c, 1)) == temp_c
    assert row.rest_min == rest_min
    assert row.by.status == "copy"
    assert temp_f is not None or row.words


def test_no_internal_temperature_is_without_a_published_row():
    assert set(CARE.temperature) == set(INTERNAL_TEMPERATURES)


@pytest.mark.parametrize("key", BOILING)
def test_boiling_times_are_those_of_the_agencies(key):
    row = CARE.boiling[key]
    assert (row.minutes, row.high_minutes, row.high_from_m) == BOILING[key]
    assert row.by.status == "confirmed"


def test_no_boiling_time_is_without_a_published_row():
    assert set(CARE.boiling) == set(BOILING)


def test_distances_of_the_notes():
    dish_water = CARE.note["dish-water"]
    assert round(200 * 0.3048) == 61
    assert "61 m (200 ft)" in dish_water.words
    assert dish_water.by.status == "copy"
    bears = CARE.note["bears"]
    assert "10 ft (3 m) up" in bears.words
    assert "4 ft (1.2 m) out" in bears.words
    assert bears.by.status == "confirmed"
    apart = CARE.note["bears-distance"]
    assert "91 m (100 yards)" in apart.words
    assert apart.by.status == "copy"


def test_water_figures():
    value = {key: row.value for key, row in RATIONS.items()}
    quart_l = 0.946353
    assert (value["water_low_l"], value["water_base_l"]) == (2.5, 3.0)
    assert value["ceiling_l_per_h"] == pytest.approx(1.5 * quart_l, abs=0.02)
    assert value["ceiling_l_per_day"] == pytest.approx(12 * quart_l, abs=0.05)
    for step, (temp_f, quarts) in enumerate([(78, 0.5), (85, 0.75), (90, 1.0)], start=1):
        assert value[f"heat_{step}_c"] == pytest.approx((temp_f - 32) / 1.8, abs=0.05)
        assert value[f"heat_{step}_l_per_h"] == pytest.approx(quarts * quart_l, abs=0.005)
    assert RATIONS["water_base_l"].by.status == "copy"
    assert RATIONS["ceiling_l_per_h"].by.status == "memory"
    assert value["fuel_l_per_day"] == 0.17
    assert RATIONS["fuel_l_per_day"].by.status == "memory"


def test_every_number_has_a_listed_source():
    sources = load_sources()
    rows = [*STORAGE.rule.values(), *RATIONS.values()]
    rows += [*CARE.note.values(), *CARE.temperature.values(), *CARE.boiling.values()]
    named = {row.by.source for row in rows}
    for row in STORAGE.classes.values():
        named |= {by.source for by in (row.days_by, row.warm_by, row.room_by) if by}
    assert named <= set(sources)
    # What is called confirmed or a copy says where it was read.
    for row in rows:
        if row.by.status in ("confirmed", "copy"):
            assert sources[row.by.source].read_at


def test_what_is_called_confirmed_was_read_at_the_publisher_and_a_copy_elsewhere():
    storage = (by for row in STORAGE.classes.values() for by in (row.days_by, row.warm_by))
    rules = (*STORAGE.rule.values(), *CARE.note.values(), *RATIONS.values())
    backings = [by for by in (*storage, *(rule.by for rule in rules)) if by is not None]
    read = {by.status: set() for by in backings}
    for by in backings:
        read[by.status].add(SOURCES[by.source].read)
    assert read["confirmed"] == {Read.OWN}
    assert read["copy"] == {Read.PUBLIC, Read.OTHER}
    assert all(
        bool(source.read_at) == (source.read is not Read.NONE) for source in SOURCES.values()
    )
