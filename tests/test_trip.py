from __future__ import annotations

import datetime as dt
import importlib.util
import time

import pytest
from conftest import ROOT
from hypothesis import given
from hypothesis import strategies as st

from resupply.common.errors import TripFileError
from resupply.trip.read_file import dump_trip, load_trip, make_trip, parse_trip
from resupply.trip.settings import Trip


def test_an_empty_file_is_a_trip_of_defaults():
    assert parse_trip("") == Trip()


def test_other_units_are_converted_on_reading():
    trip = parse_trip("[pace]\ndaily_mi = 100\nown_mi = { 2 = 50 }\n[weather]\nlow_f = 50\n")
    assert trip.pace.daily_km == pytest.approx(160.9344)
    assert trip.pace.own_km[2] == pytest.approx(80.4672)
    assert trip.weather.low_c == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("text", "line", "key"),
    [
        ("[pace]\n\ndaily_km = 'far'", "line 3", "pace.daily_km"),
        ("[pace]\nspeed = 3", "line 2", "pace.speed"),
        ("name = 'x'\n[party]\npeople = 0", "line 3", "party.people"),
        ("[pace]\ndaily_mi = -4", "line 2", "pace.daily_km"),
        ("[weather]\nlow_c = 1\ndays = [{ day = 1, low_c = 9, high_c = 2 }]", "line 3", "weather"),
        ("[region]\ncountry = 'Austria'", "line 2", "region.country"),
    ],
)
def test_errors_name_file_line_and_key(tmp_path, text, line, key):
    path = tmp_path / "trip.toml"
    path.write_text(text)
    with pytest.raises(TripFileError) as caught:
        load_trip(path)
    said = str(caught.value)
    assert "trip.toml" in said
    assert line in said
    assert key in said
    assert "\n" not in said


@pytest.mark.parametrize(
    "line",
    [
        "[fuel]\nreserve_km = 0", "[cooler]\npacks_kg = 0\nice_start_kg = 0",
        "[chances]\nopen = 0\nunknown = 1", "[choice]\nsmall_meals = 0\nfresh_road_h = 0",
        "[now]\nat_km = 0\ntime = 2027-07-09T08:00:00\nice_kg = 0\nfuel_km = 0\nwater_l = 0",
        "[luggage]\nfood_kg = 0.5\nfood_l = 0.5",
    ],
)  # fmt: skip
def test_nothing_and_half_are_amounts(line):
    parse_trip(line)


@pytest.mark.parametrize("line", ["[luggage]\nfood_kg = 0", "[fuel]\nreserve_km = -0.1"])
def test_no_room_at_all_and_less_than_nothing_are_refused(line):
    with pytest.raises(TripFileError):
        parse_trip(line)


@pytest.mark.parametrize("text", ["= 3", "a = [", "x" * 100, "[a]\n[a]", "a.b = 1\na = 2"])
def test_text_that_is_no_toml_is_one_clear_line(text):
    with pytest.raises(TripFileError, match="trip"):
        parse_trip(text)


def test_missing_huge_and_binary_files_are_refused(tmp_path):
    with pytest.raises(TripFileError, match="cannot be read"):
        load_trip(tmp_path / "none.toml")
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * 1_000_001)
    with pytest.raises(TripFileError, match="1 MB"):
        load_trip(big)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TripFileError, match="UTF-8"):
        load_trip(binary)


def test_the_command_line_wins_over_the_file_whatever_the_unit():
    trip = parse_trip("[pace]\ndaily_mi = 100\n", overrides={"pace.daily_km": 90.0})
    assert trip.pace.daily_km == 90.0
    trip = parse_trip("[pace]\ndaily_km = 100\n", overrides={"pace.daily_mi": 50})
    assert trip.pace.daily_km == pytest.approx(80.4672)


def test_an_ice_test_is_given_whole_or_not_at_all():
    with pytest.raises(TripFileError, match="ice test"):
        parse_trip("[cooler]\nkind = 'soft'\ntest_ice_kg = 4\n")


@given(
    daily=st.floats(5, 2000),
    people=st.integers(1, 40),
    rest=st.dictionaries(st.integers(1, 50), st.integers(0, 9), max_size=3),
    gone=st.lists(st.text(max_size=20), max_size=3),
    name=st.text(max_size=40),
    date=st.dates(dt.date(2000, 1, 1), dt.date(2100, 1, 1)),
)
def test_a_written_trip_reads_back_equal(daily, people, rest, gone, name, date):
    trip = make_trip(
        {
            "name": name,
            "start": {"date": date},
            "pace": {"daily_km": daily, "rest_days": rest},
            "party": {"people": people},
            "shops": {"gone": gone},
        }
    )
    assert parse_trip(dump_trip(trip)) == trip


def test_every_key_is_documented():
    spec = importlib.util.spec_from_file_location(
        "make_trip_reference", ROOT / "docs" / "make_trip_reference.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert (ROOT / "docs" / "trip-file.md").read_text("utf-8") == module.reference()
    for name, field in Trip.model_fields.items():
        inner = getattr(field.annotation, "model_fields", {})
        said = module.meanings(field.annotation) if inner else {}
        for key in inner:
            assert said.get(key), f"{name}.{key} has no description"


@pytest.mark.parametrize("line", ["[" + " " * 4000 + "x", "a" + " " * 200_000 + "x"])
def test_no_made_up_line_keeps_the_reader_busy(line):
    started = time.process_time()
    with pytest.raises(TripFileError):
        parse_trip(f'name = """\n{line}\n"""\nnot_a_key = 1\n')
    assert time.process_time() - started < 2.0


@pytest.mark.parametrize("text", ["a." * 3000 + "b = 1", f"[{'.'.join('a' * 3000)}]"])
def test_tables_within_tables_without_end_are_one_clear_line(text):
    with pytest.raises(TripFileError, match="without end"):
        parse_trip(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("pace.daily_km = 0", "must be at least 5"),
        ("pace.daily_km = nan", "must be a number"),
        ("pace.daily_km = 'far'", "must be a number"),
        ("pace.depart = 8", "must be local, like 08:30:00"),
        ("party.people = 1.5", "must be a whole number"),
        ("cooler.kind = 'big'", "must be 'hard', 'soft', 'bag' or 'none'"),
        ("map.extracts = 'a'", "must be a list in square brackets"),
        ("show.sweep = 3", "must be true or false"),
        ("start.date = 'soon'", "must be a date like 2027-07-09"),
        ("region.country = 'ZZZ'", "must be two capital letters"),
        ("pace = 3", "must be a table"),
        (f"food.dishes = '{'x' * 5000}'", "must be at most 500 characters long"),
    ],
)
def test_a_wrong_value_is_told_in_plain_words(text, said):
    with pytest.raises(TripFileError) as refused:
        parse_trip(text, where="trip.toml")
    assert said in str(refused.value)
    assert "trip.toml, line 1" in str(refused.value)
    assert "nput should" not in str(refused.value)
