"""The table of usual hours, and a rider's own."""

from __future__ import annotations

import datetime as dt

import pytest

from resupply.common.errors import TripFileError
from resupply.hours.holidays import holidays_of
from resupply.hours.state import OpenState
from resupply.hours.stated import stated_hours
from resupply.hours.usual import read_usual_hours

ROW = """
[[row]]
kinds = ["shop=bakery"]
countries = ["FR"]
hours = "Tu-Sa 06:00-13:00"
source = "own experience"
"""


@pytest.fixture(scope="module")
def packaged():
    return read_usual_hours()


def rows_of(packaged):
    (table,) = packaged.tables
    return table.items()


def test_every_row_says_where_it_comes_from(packaged):
    for _, row in rows_of(packaged):
        assert "common practice, no source" in row.source or "Act" in row.source


def test_every_row_can_be_evaluated_in_its_country(packaged):
    week = (dt.date(2027, 7, 5), dt.date(2027, 7, 12))
    for (country, _), row in rows_of(packaged):
        found = stated_hours(row.hours, *week, holidays=holidays_of(country, *week))
        assert not found.problem
        wanted = OpenState.OPEN if country or row.hours == "24/7" else OpenState.UNLESS_HOLIDAY
        assert wanted in {part.state for part in found.segments}


def test_rows_that_mention_holidays_have_a_calendar(packaged):
    for (country, _), row in rows_of(packaged):
        if "PH" in row.hours:
            assert holidays_of(country, dt.date(2027, 1, 1), dt.date(2027, 2, 1)) is not None


def test_the_countries_riders_ask_for_have_a_row_for_supermarkets(packaged):
    (table,) = packaged.tables
    wanted = {"AT", "DE", "FR", "ES", "IT", "GB", "US", "PT", "CH", "NO", "SE", "FI", ""}

    assert wanted <= {country for country, kind in table if kind == "shop=supermarket"}


def test_a_country_without_a_row_falls_back_to_anywhere_else(packaged):
    assert packaged.row("shop=bakery", "UZ") == packaged.row("shop=bakery", None)
    assert packaged.text("shop=bakery", "UZ") is not None


def test_a_kind_without_a_row_has_no_estimate(packaged):
    assert packaged.text("shop=farm", "AT") is None
    assert packaged.text("tourism=camp_site", None) is None


def test_own_rows_go_before_the_packaged_ones(tmp_path, packaged):
    file = tmp_path / "own.toml"
    file.write_text(ROW)
    own = read_usual_hours(file)

    assert own.row("shop=bakery", "FR").source == "own experience"
    assert own.row("shop=bakery", "AT") == packaged.row("shop=bakery", "AT")


def test_an_own_row_for_anywhere_goes_before_a_packaged_one_for_a_country(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(ROW.replace('countries = ["FR"]\n', ""))

    assert read_usual_hours(file).text("shop=bakery", "AT") == "Tu-Sa 06:00-13:00"


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        (("Tu-Sa 06:00-13:00", "Tu-Sa 6-13"), "row 1: the hours 'Tu-Sa 6-13' cannot be read"),
        (("shop=bakery", "shop=bakrey"), "'shop=bakrey' is no kind of place"),
        (('"FR"', '"France"'), "'France' is no country code"),
        (('["FR"]', '"FR"'), "countries is no list"),
        (("own experience", " "), "source is empty"),
        (('source = "own experience"', ""), "needs kinds, hours and source"),
        (("source", "sauce"), "needs kinds, hours and source"),
        (("source =", 'colour = "red"\nsource ='), "unknown keys: colour"),
        (("[[row]]", "[[rows]]"), "holds something but rows: rows"),
        (("[[row]]", "[row]"), "holds something but rows"),
        (("[[row]]", "[[row]"), "is no valid TOML"),
        (('["shop=bakery"]', '["shop=bakery", "shop=bakery"]'), "shop=bakery in FR is there twice"),
    ],
)
def test_a_broken_own_table_is_named(tmp_path, change, complaint):
    file = tmp_path / "own.toml"
    file.write_text(ROW.replace(*change))

    with pytest.raises(TripFileError) as caught:
        read_usual_hours(file)

    assert complaint in str(caught.value)
    assert str(caught.value).startswith(str(file))
    assert caught.value.mend


def test_an_own_table_that_is_not_there_is_named(tmp_path):
    with pytest.raises(TripFileError, match="cannot be read"):
        read_usual_hours(tmp_path / "none.toml")


def test_an_own_table_that_is_not_text_is_named(tmp_path):
    file = tmp_path / "own.toml"
    file.write_bytes(b"\xff\xfe\x00")

    with pytest.raises(TripFileError, match="is not text in UTF-8"):
        read_usual_hours(file)


def test_an_estimate_can_be_taken_away(tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(ROW.replace("Tu-Sa 06:00-13:00", "unknown"))
    text = read_usual_hours(file).text("shop=bakery", "FR")

    found = stated_hours(text, dt.date(2027, 7, 5), dt.date(2027, 7, 12))
    assert {part.state for part in found.segments} == {OpenState.UNKNOWN}
