"""Days on which a place tagged as seasonal may not be there."""

from __future__ import annotations

import datetime as dt

import pytest

from resupply.hours.season import doubtful_days

YEAR = (dt.date(2027, 1, 1), dt.date(2028, 1, 1))


def months_in_doubt(seasonal: str, hours: str = "", *, north: bool = True) -> set[int]:
    return {day.month for day in doubtful_days(seasonal, hours, *YEAR, north=north)}


@pytest.mark.parametrize("tag", ["", "no", " No "])
def test_a_place_not_tagged_as_seasonal_is_never_in_doubt(tag):
    assert months_in_doubt(tag) == set()


def test_a_summer_place_is_in_doubt_from_autumn_to_spring():
    assert months_in_doubt("summer") == {1, 2, 3, 4, 5, 9, 10, 11, 12}


@pytest.mark.parametrize(
    ("season", "months"),
    [("winter", {12, 1, 2}), ("spring", {3, 4, 5}), ("summer", {6, 7, 8}), ("autumn", {9, 10, 11})],
)
def test_a_season_is_three_months(season, months):
    assert months_in_doubt(season) == set(range(1, 13)) - months


def test_summer_is_half_a_year_off_in_the_south():
    assert months_in_doubt("summer", north=False) == set(range(3, 12))


def test_several_seasons_are_joined():
    assert months_in_doubt("spring; summer") == {1, 2, 9, 10, 11, 12}


@pytest.mark.parametrize("tag", ["yes", "dry_season", "<script>"])
def test_an_unnamed_season_is_always_in_doubt(tag):
    assert months_in_doubt(tag) == set(range(1, 13))


@pytest.mark.parametrize("hours", ["Apr-Oct 08:00-20:00", "week 20-30 10:00-12:00", "easter off"])
def test_hours_with_dates_know_the_season_better(hours):
    assert months_in_doubt("summer", hours) == set()
