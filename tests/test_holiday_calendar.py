"""Public holidays by country, and the countries of time zones."""

from __future__ import annotations

import datetime as dt
import zoneinfo

import pytest

from resupply.hours.holidays import country_by_zone, holidays_of

YEAR = (dt.date(2027, 1, 1), dt.date(2028, 1, 1))


def test_nationwide_holidays_of_austria_are_known():
    austria = holidays_of("at", *YEAR)

    assert {dt.date(2027, 5, 1), dt.date(2027, 10, 26), dt.date(2027, 12, 25)} <= austria.national
    assert dt.date(2027, 7, 10) not in austria.national | austria.doubtful


def test_a_regional_holiday_is_doubtful_but_not_national():
    germany = holidays_of("DE", *YEAR)
    corpus_christi = dt.date(2027, 5, 27)

    assert corpus_christi in germany.doubtful
    assert corpus_christi not in germany.national


def test_a_patron_day_of_one_town_is_no_doubt():
    # Milan keeps 7 December, one of more than a hundred Italian calendars.
    assert dt.date(2027, 12, 7) not in holidays_of("IT", *YEAR).doubtful


def test_holidays_are_those_of_the_span_only():
    week = holidays_of("AT", dt.date(2027, 7, 5), dt.date(2027, 7, 12))

    assert week.national == week.doubtful == frozenset()


def test_a_span_over_the_year_end_has_both_years():
    turn = holidays_of("AT", dt.date(2026, 12, 24), dt.date(2027, 1, 7))

    assert {dt.date(2026, 12, 26), dt.date(2027, 1, 6)} <= turn.national


@pytest.mark.parametrize("code", [None, "", "XX", "Austria", "DE-BY"])
def test_without_a_known_country_there_is_no_calendar(code):
    assert holidays_of(code, *YEAR) is None


def test_zones_lead_to_countries():
    countries = country_by_zone()

    assert countries["Europe/Vienna"] == "AT"
    assert countries["Europe/Zurich"] == "CH"
    assert countries["America/Denver"] == "US"
    assert "Etc/GMT+2" not in countries


def test_every_zone_on_land_has_a_country():
    from timezonefinder import TimezoneFinder

    names = {name for name in TimezoneFinder().timezone_names if not name.startswith("Etc/")}

    assert len(names) > 400
    assert names <= country_by_zone().keys()


def test_without_a_zone_table_no_country_is_guessed(monkeypatch, tmp_path):
    monkeypatch.setattr(zoneinfo, "TZPATH", (str(tmp_path),))

    def missing(_package):
        raise ModuleNotFoundError

    monkeypatch.setattr("importlib.resources.files", missing)

    assert country_by_zone() == {}
