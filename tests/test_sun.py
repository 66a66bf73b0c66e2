"""Sunrise and sunset on local days."""

from __future__ import annotations

import datetime as dt
import itertools
from zoneinfo import ZoneInfo

import pytest

from resupply.hours.sun import dawn, sunrise, sunset

MIDSUMMER = dt.date(2025, 6, 21)
REYKJAVIK = (-21.9426, 64.1466, ZoneInfo("Atlantic/Reykjavik"))
TROMSO = (18.96, 69.65, ZoneInfo("Europe/Oslo"))


def of(event, where, date):
    lon, lat, zone = where
    return event(lon, lat, date, zone)


def test_sunset_after_midnight_belongs_to_the_evening_before():
    evening = of(sunset, REYKJAVIK, MIDSUMMER)

    assert evening.date() == MIDSUMMER + dt.timedelta(days=1)
    assert evening.time() < dt.time(0, 10)


def test_each_evening_at_midsummer_has_its_own_sunset():
    evenings = [of(sunset, REYKJAVIK, dt.date(2025, 6, day)) for day in range(10, 30)]
    gaps = {later - earlier for earlier, later in itertools.pairwise(evenings)}

    assert all(abs(gap - dt.timedelta(days=1)) < dt.timedelta(minutes=5) for gap in gaps)


@pytest.mark.parametrize("date", [MIDSUMMER, dt.date(2025, 12, 21)])
def test_midnight_sun_and_polar_night_have_no_events(date):
    assert of(sunset, TROMSO, date) is None
    assert of(sunrise, TROMSO, date) is None


@pytest.mark.parametrize("lat", [90.0, -90.0])
@pytest.mark.parametrize("month", range(1, 13))
def test_the_poles_do_not_crash(lat, month):
    found = sunset(0.0, lat, dt.date(2025, month, 15), dt.UTC)

    assert found is None or isinstance(found, dt.datetime)


def test_light_nights_have_no_dawn_but_a_sunrise():
    helsinki = (24.94, 60.17, ZoneInfo("Europe/Helsinki"))

    # At 60.17 degrees the sun goes down to 6.4 degrees at midsummer: civil dawn exists.
    assert of(dawn, helsinki, MIDSUMMER) < of(sunrise, helsinki, MIDSUMMER)
    assert of(dawn, REYKJAVIK, MIDSUMMER) is None
    assert of(sunrise, REYKJAVIK, MIDSUMMER) is not None


@pytest.mark.parametrize(
    ("lon", "lat", "zone"),
    [
        (-157.4, 1.87, "Pacific/Kiritimati"),
        (179.9, -16.8, "Pacific/Fiji"),
        (-171.8, -13.8, "Pacific/Apia"),
        (-28.0, 47.0, "Atlantic/Azores"),
    ],
)
def test_events_fall_on_the_local_day_near_the_date_line(lon, lat, zone):
    date = dt.date(2027, 7, 10)

    assert sunrise(lon, lat, date, ZoneInfo(zone)).date() == date
    assert sunset(lon, lat, date, ZoneInfo(zone)).date() == date


def test_sunset_is_in_the_zone_asked_for():
    evening = sunset(14.0, 48.0, dt.date(2027, 7, 10), ZoneInfo("Europe/Vienna"))

    assert evening.utcoffset() == dt.timedelta(hours=2)
    assert dt.time(20, 45) < evening.time() < dt.time(21, 15)
