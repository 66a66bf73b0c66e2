"""Public holidays by country, and how far two calendars agree on them.

In: an ISO country code and a span of days. Out: `Holidays`. Also which country a time zone
belongs to, by the zone table of the tz database.
"""

from __future__ import annotations

import datetime as dt
import importlib.resources
import zoneinfo
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from resupply.hours.state import days_of

__all__ = ["Holidays", "country_by_zone", "country_of", "holidays_of"]

LEAST_SHARE_OF_REGIONS: Final = 0.05
"""A regional holiday casts doubt on a country's calendar if one region in 20 keeps it.
Our own choice: some calendars list every town's patron day."""


@dataclass(frozen=True, slots=True)
class Holidays:
    """A country's public holidays over a span, as far as two calendars agree."""

    country: str
    """ISO 3166-1 code."""
    national: frozenset[dt.date]
    """Days on which either calendar sees a nationwide holiday."""
    doubtful: frozenset[dt.date]
    """Days on which the calendars differ or only a region has a holiday."""
    in_evaluator: bool = True
    """Whether opening-hours-py has a calendar of the country; else `holidays` alone has one."""


def holidays_of(country: str | None, start: dt.date, end: dt.date) -> Holidays | None:
    """Look up a country's public holidays in two calendars.

    The evaluator has a nationwide calendar of half the countries; the `holidays` package adds
    the other countries, the regional days and a second opinion.

    Parameters
    ----------
    country
        ISO 3166-1 two-letter code, any case.
    start, end
        Days, end exclusive.

    Returns
    -------
    Holidays or None
        None if neither has a calendar for the country.
    """
    import holidays

    if not country:
        return None
    code = country.upper()
    ours = _in_evaluator(code, start, end)
    years = range(start.year, end.year + 1)
    try:
        calendar = holidays.country_holidays(code, years=years)
    except NotImplementedError:
        return Holidays(code, frozenset(ours), frozenset()) if ours is not None else None
    theirs = {day for day in calendar if start <= day < end}
    both = theirs if ours is None else ours
    kept: Counter[dt.date] = Counter()
    for region in calendar.subdivisions:
        kept.update(
            day
            for day in holidays.country_holidays(code, subdiv=region, years=years)
            if start <= day < end
        )
    least = LEAST_SHARE_OF_REGIONS * len(calendar.subdivisions)
    regional = {day for day, regions in kept.items() if regions >= least}
    return Holidays(
        code,
        national=frozenset(both | theirs),
        doubtful=frozenset((both ^ theirs) | (regional - both)),
        in_evaluator=ours is not None,
    )


def _in_evaluator(code: str, start: dt.date, end: dt.date) -> set[dt.date] | None:
    """Nationwide holidays by the evaluator's calendar; None if it has none of the country."""
    # The package's stub leaves its own exceptions out.
    from opening_hours import OpeningHours, State, UnknownCountryError  # type: ignore[attr-defined]

    try:
        calendar = OpeningHours("PH", country=code, auto_country=False, auto_timezone=False)
    except UnknownCountryError:
        return None
    first = dt.datetime.combine(start, dt.time())
    last = dt.datetime.combine(end, dt.time())
    return {
        day
        for since, until, state, _ in calendar.intervals(first, last)
        if state == State.OPEN
        for day in days_of(since, until)
    }


def country_of(stated: str | None, zone: dt.tzinfo | None) -> str | None:
    """Two letters of the country stated, or of the one that keeps this time; None: not known."""
    return stated or country_by_zone().get(getattr(zone, "key", ""))


def country_by_zone() -> dict[str, str]:
    """Time zone name to ISO 3166-1 country code, e.g. `Europe/Vienna` to `AT`.

    Returns
    -------
    dict
        Empty where the system has no `zone.tab`; zones at sea are never in it.

    References
    ----------
    tz database, `zone.tab`: one row per zone and country.
    """
    for folder in zoneinfo.TZPATH:
        table = Path(folder) / "zone.tab"
        if table.is_file():
            text = table.read_text(encoding="utf-8")
            break
    else:
        try:
            text = (
                importlib.resources.files("tzdata.zoneinfo")
                .joinpath("zone.tab")
                .read_text(encoding="utf-8")
            )
        except (ModuleNotFoundError, FileNotFoundError):
            return {}
    rows = [line.split("\t") for line in text.splitlines() if not line.startswith("#")]
    named = [(row[2], row[0]) for row in rows if len(row) >= 3]
    # Two countries claim such a zone: whose holidays are kept there is not for us to say.
    twice = {zone for zone, count in Counter(zone for zone, _ in named).items() if count > 1}
    return {zone: country for zone, country in named if zone not in twice}
