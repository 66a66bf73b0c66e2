"""Sunrise and sunset against a published time and those of a reference library.

The sunrise printed with the sample of the NREL Solar Position Algorithm (Reda and Andreas 2008,
spa_tester.c): 17 October 2003 at 39.742476 N, 105.1786 W, 06:12:43. Its printed sunset,
17:20:19, fits the evening of 16 October and is no target for the 17th.

The other rows are those of astral 3.2 (`Observer` at sea level), which follows the NOAA solar
equations; its refraction at the horizon is a few minutes of arc smaller than the US Naval
Observatory's 34 minutes used here (zenith 90 degrees 50 minutes), which is worth up to 20 s at mid
latitudes and more where the sun sets at a flat angle. Useful precision of any such time is one
minute.
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from resupply.hours.sun import sunrise, sunset

MOUNTAIN = dt.timezone(dt.timedelta(hours=-7))

BY_ASTRAL = [
    (-105.1786, 39.742476, "2003-10-17", MOUNTAIN, "06:12:57", "17:18:37"),
    (-104.9903, 39.7392, "2025-06-21", ZoneInfo("America/Denver"), "05:32:30", "20:31:16"),
    (-109.5498, 38.5733, "2026-09-15", ZoneInfo("America/Denver"), "07:00:07", "19:25:52"),
    (0.0, 51.4769, "2024-06-20", dt.UTC, "03:43:00", "20:20:25"),
    (10.7522, 59.9139, "2025-12-21", ZoneInfo("Europe/Oslo"), "09:18:47", "15:11:34"),
    (-78.4678, -0.1807, "2025-03-20", ZoneInfo("America/Guayaquil"), "06:18:05", "18:24:15"),
]


def seconds_between(when: dt.datetime, clock: str) -> float:
    return abs(
        (
            when - dt.datetime.fromisoformat(f"{when.date()}T{clock}").replace(tzinfo=when.tzinfo)
        ).total_seconds()
    )


def test_sunrise_of_the_nrel_sample():
    rise = sunrise(-105.1786, 39.742476, dt.date(2003, 10, 17), MOUNTAIN)

    assert seconds_between(rise, "06:12:43") < 5.0


@pytest.mark.parametrize(("lon", "lat", "date", "zone", "rises", "sets"), BY_ASTRAL)
def test_sun_within_a_minute_of_astral(lon, lat, date, zone, rises, sets):
    day = dt.date.fromisoformat(date)

    assert seconds_between(sunrise(lon, lat, day, zone), rises) < 60.0
    assert seconds_between(sunset(lon, lat, day, zone), sets) < 60.0


def test_reykjavik_at_midsummer_sets_after_midnight():
    day, zone = dt.date(2025, 6, 21), ZoneInfo("Atlantic/Reykjavik")
    evening = sunset(-21.9426, 64.1466, day, zone)

    # The sun sets at a flat angle there: the difference in refraction weighs four times more.
    assert seconds_between(sunrise(-21.9426, 64.1466, day, zone), "02:56:23") < 120.0
    assert evening.date() == dt.date(2025, 6, 22)
    assert seconds_between(evening, "00:02:43") < 120.0
