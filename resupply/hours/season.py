"""On which days a place tagged `seasonal` may not be there.

In: the raw tag, the hours, a hemisphere. Out: local days on which "open" cannot be believed.
A place outside its season is *not known*, never shut for certain: where a season begins is not
written anywhere. OpenStreetMap wiki, Key:seasonal.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Final

__all__ = ["doubtful_days", "has_dates"]


_MONTHS: Final = {
    "winter": (12, 1, 2),
    "spring": (3, 4, 5),
    "summer": (6, 7, 8),
    "autumn": (9, 10, 11),
}
"""Meteorological seasons of the north; the south is half a year off."""
_DATED: Final = re.compile(
    r"\b(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|week|easter)\b", re.IGNORECASE
)


def has_dates(text: str) -> bool:
    """Tell whether a text names months, weeks or Easter."""
    return bool(_DATED.search(text))


def doubtful_days(
    seasonal: str, hours: str, start: dt.date, end: dt.date, *, north: bool
) -> frozenset[dt.date]:
    """Days on which the place may be shut for the season.

    Parameters
    ----------
    seasonal
        Raw tag text: `yes`, `no`, seasons joined by `;`, or anything.
    hours
        Raw `opening_hours`; where they name months or weeks, they know the season better.
    start, end
        Days, end exclusive.

    Examples
    --------
    >>> sorted(doubtful_days("summer", "", dt.date(2027, 5, 31), dt.date(2027, 6, 2), north=True))
    [datetime.date(2027, 5, 31)]
    """
    if seasonal.strip().lower() in ("", "no") or has_dates(hours):
        return frozenset()
    names = [name.strip().lower() for name in seasonal.split(";")]
    months = {month for name in names for month in _MONTHS.get(name, ())}
    if not north:
        months = {(month + 5) % 12 + 1 for month in months}
    days = (start + dt.timedelta(days=n) for n in range((end - start).days))
    return frozenset(day for day in days if day.month not in months)
