"""Sunrise, sunset and dawn of a local day, where the sun has them.

In: a point, a local date, a zone. Out: an aware local time, or None where the sun stays up or
down. Sunrise and sunset at zenith 90°50′ (34′ refraction and 16′ radius, US Naval
Observatory), civil dawn at 96°; level horizon at sea level, good to about a minute.
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

__all__ = ["dawn", "sunrise", "sunset"]

_RISE_ZENITH_DEG = 90.0 + 50.0 / 60.0
"""Upper limb on the horizon: 34' of refraction and 16' of radius (US Naval Observatory)."""
_CIVIL_ZENITH_DEG = 96.0
"""Sun 6° below the horizon: civil twilight (US Naval Observatory)."""
_HALF_DAY = dt.timedelta(hours=12, minutes=30)
"""An event of the day lies within this of its solar noon, clock irregularities included."""


def sunrise(lon: float, lat: float, date: dt.date, zone: dt.tzinfo) -> dt.datetime | None:
    """Last sunrise before the solar noon of a local day.

    Parameters
    ----------
    lon, lat
        Degrees, WGS84.
    date
        Local calendar day in `zone`.

    Returns
    -------
    datetime or None
        Aware, in `zone`; None where the sun does not rise.

    Examples
    --------
    >>> sunrise(0.0, 51.4769, dt.date(2024, 6, 20), dt.UTC).strftime("%H:%M")
    '03:42'
    """
    return _event(lon, lat, date, zone, zenith_deg=_RISE_ZENITH_DEG, rising=True)


def dawn(lon: float, lat: float, date: dt.date, zone: dt.tzinfo) -> dt.datetime | None:
    """Begin of civil twilight on a local day; None where nights stay light or days dark."""
    return _event(lon, lat, date, zone, zenith_deg=_CIVIL_ZENITH_DEG, rising=True)


def sunset(lon: float, lat: float, date: dt.date, zone: dt.tzinfo) -> dt.datetime | None:
    """First sunset after the solar noon of a local day.

    Parameters
    ----------
    lon, lat
        Degrees, WGS84.
    date
        Local calendar day in `zone`.

    Returns
    -------
    datetime or None
        Aware, in `zone`. It may fall after midnight, on the next calendar day: Reykjavik at
        midsummer. None where the sun does not set, or does not rise, that day.

    Examples
    --------
    >>> sunset(0.0, 51.4769, dt.date(2024, 6, 20), dt.UTC).strftime("%H:%M")
    '20:20'
    """
    return _event(lon, lat, date, zone, zenith_deg=_RISE_ZENITH_DEG, rising=False)


# Days of other plans of a trip end at the same camps, on the same dates.
@lru_cache(maxsize=8192)
def _event(
    lon: float, lat: float, date: dt.date, zone: dt.tzinfo, *, zenith_deg: float, rising: bool
) -> dt.datetime | None:
    """Ask the library for three UTC days and keep the event next to this day's noon.

    The library files events under UTC days, which puts them on the wrong date far from
    Greenwich and in high latitudes.
    """
    from astral import Observer, SunDirection
    from astral.sun import time_of_transit

    observer = Observer(latitude=lat, longitude=lon, elevation=0.0)
    direction = SunDirection.RISING if rising else SunDirection.SETTING
    noon = _solar_noon(lon, date, zone)
    for shift in (0, -1, 1):
        day = noon.date() + dt.timedelta(days=shift)
        try:
            when = time_of_transit(observer, day, zenith_deg, direction, with_refraction=False)
        except ValueError:  # the sun does not cross that zenith on that day
            continue
        ahead = when - noon if not rising else noon - when
        if dt.timedelta(0) <= ahead <= _HALF_DAY:
            return when.astimezone(zone)
    return None


def _solar_noon(lon: float, date: dt.date, zone: dt.tzinfo) -> dt.datetime:
    """Mean solar noon nearest the clock's noon, UTC; zones may be a day off their meridian."""
    clock = dt.datetime.combine(date, dt.time(12), tzinfo=zone).astimezone(dt.UTC)
    mean = dt.datetime.combine(date, dt.time(12), tzinfo=dt.UTC) - dt.timedelta(hours=lon / 15.0)
    days = round((clock - mean) / dt.timedelta(days=1))
    return mean + dt.timedelta(days=days)
