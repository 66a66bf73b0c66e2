"""Daily lows and highs from an open weather service, only when the rider asks for them.

In: where the rider is on which date. Out: a `ForecastAnswer`; a date the service does not give
stays not known, with the reason. A failing service is an answer too, never an exception.

The service speaks the JSON of the Open-Meteo forecast API: GET with `latitude`, `longitude`
(comma-separated), `daily=temperature_2m_max,temperature_2m_min`, `timezone=auto`; an object per
point with `daily.time`, `daily.temperature_2m_max`, `daily.temperature_2m_min`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from resupply.common.errors import OutputError
from resupply.common.files import write_atomic
from resupply.kitchen.cold.weather import DayWeather

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

__all__ = [
    "ENDPOINT",
    "ForecastAnswer",
    "ForecastPoint",
    "fetch_forecast",
]

ENDPOINT = "https://api.open-meteo.com/v1/forecast"
"""Address of the service asked where the trip names none."""
ATTRIBUTION = "Weather data by Open-Meteo.com (CC BY 4.0)"

_DAYS_AHEAD = 16
_POINTS_PER_REQUEST = 50
_MAX_BYTES = 5_000_000
_OK, _TOO_MANY_REQUESTS = 200, 429
_SANE_C = (-90.0, 60.0)
"""Outside the range of air temperatures ever recorded: a fault, not weather."""


@dataclass(frozen=True, slots=True)
class ForecastPoint:
    """Where the rider is on a local date; several points may share a date."""

    date: dt.date
    lon: float
    lat: float


@dataclass(frozen=True, slots=True)
class ForecastAnswer:
    """One day per date asked for, sorted; figures are None where not known."""

    days: tuple[DayWeather, ...]
    problems: tuple[str, ...]
    """Why days are missing, in words for the rider; may quote the service (hostile text)."""


class _ServiceError(Exception):
    """The service did not give a usable answer; the text says why."""


def fetch_forecast(
    points: Sequence[ForecastPoint],
    *,
    now: dt.datetime,
    endpoint: str = ENDPOINT,
    cache: Path | None = None,
    max_age_h: float = 6.0,
    timeout_s: float = 20.0,
) -> ForecastAnswer:
    """Ask for the lows and highs of every date among the points.

    Parameters
    ----------
    points
        At least one per date; of several on a date, the warmest low and high count.
    now
        Aware; decides how old a kept answer is.
    endpoint
        Address of the service, http or https.
    cache
        Folder for answers; a fresh one spares the request, an older one serves if the service
        fails, and its age is said. None keeps nothing.
    timeout_s
        For a whole request, however slowly the answer drips.
    """
    problems: list[str] = []
    found: dict[dt.date, list[tuple[float, float, str]]] = {}
    places = sorted({(round(p.lon, 2), round(p.lat, 2)) for p in points})
    for group in _groups(places):
        try:
            tables, taken = _answer(group, endpoint, cache, now, max_age_h, timeout_s, problems)
        except _ServiceError as error:
            problems.append(f"forecast: {error}")
            continue
        source = f"forecast of {taken:%Y-%m-%d %H:%M} UTC. {ATTRIBUTION}"
        for place, table in zip(group, tables, strict=True):
            for point in points:
                if (round(point.lon, 2), round(point.lat, 2)) == place and point.date in table:
                    found.setdefault(point.date, []).append((*table[point.date], source))
    days: list[DayWeather] = []
    missing: list[str] = []
    wanted: dict[dt.date, int] = {}
    for point in points:
        wanted[point.date] = wanted.get(point.date, 0) + 1
    for date, count in sorted(wanted.items()):
        rows = found.get(date, [])
        # A date is known only if it is known at every point the rider passes.
        if len(rows) < count:
            missing.append(date.isoformat())
            days.append(DayWeather(date, None, None, "not known: no forecast for this day"))
            continue
        low_c, high_c = max(r[0] for r in rows), max(r[1] for r in rows)
        days.append(DayWeather(date, low_c, high_c, rows[0][2]))
    if missing:
        problems.append(f"no forecast for {', '.join(missing)}")
    return ForecastAnswer(tuple(days), tuple(problems))


def _answer(
    group: Sequence[tuple[float, float]],
    endpoint: str,
    cache: Path | None,
    now: dt.datetime,
    max_age_h: float,
    timeout_s: float,
    problems: list[str],
) -> tuple[list[dict[dt.date, tuple[float, float]]], dt.datetime]:
    """One table per place (date to low and high), and when the service gave it."""
    params = {
        "latitude": ",".join(f"{lat:.2f}" for _, lat in group),
        "longitude": ",".join(f"{lon:.2f}" for lon, _ in group),
        "daily": "temperature_2m_max,temperature_2m_min",
        "temperature_unit": "celsius",
        "timezone": "auto",
        "forecast_days": str(_DAYS_AHEAD),
    }
    kept = None
    key = hashlib.sha256(json.dumps([endpoint, params]).encode()).hexdigest()[:24]
    path = None if cache is None else cache / f"forecast-{key}.json"
    if path is not None:
        kept = _read_kept(path, len(group))
        if kept is not None and dt.timedelta() <= now - kept[1] <= dt.timedelta(hours=max_age_h):
            return kept
    try:
        body = _get(endpoint, params, timeout_s)
        tables = _tables(body, len(group))
    except _ServiceError as error:
        if kept is None:
            raise
        problems.append(f"forecast: {error}; the one of {kept[1]:%Y-%m-%d %H:%M} UTC is used")
        return kept
    taken = now.astimezone(dt.UTC)
    if path is not None:
        try:
            write_atomic(path, json.dumps({"taken": taken.isoformat(), "body": body}))
        except OutputError as error:
            problems.append(f"forecast not kept: {error}")
    return tables, taken


def _read_kept(
    path: Path, count: int
) -> tuple[list[dict[dt.date, tuple[float, float]]], dt.datetime] | None:
    """Read a kept answer; one that is broken counts as none."""
    try:
        record = json.loads(path.read_bytes())
        taken = dt.datetime.fromisoformat(record["taken"])
        return _tables(record["body"], count), taken.astimezone(dt.UTC)
    except (OSError, ValueError, KeyError, TypeError, RecursionError, _ServiceError):
        return None


def _get(endpoint: str, params: Mapping[str, str], timeout_s: float) -> Any:
    import http.client
    import urllib.error
    import urllib.parse
    import urllib.request

    if not endpoint.lower().startswith(("http://", "https://")):
        raise _ServiceError("the address of the service must start with http:// or https://")
    deadline = time.monotonic() + timeout_s
    body = b""
    try:
        request = urllib.request.Request(  # noqa: S310 (scheme checked above)
            f"{endpoint}?{urllib.parse.urlencode(params, safe=',')}",
            headers={"User-Agent": "resupply (trip planner; one request per plan)"},
        )
        try:
            response = urllib.request.urlopen(request, timeout=timeout_s)  # noqa: S310
        except urllib.error.HTTPError as error:
            response = error
        with response:
            status = int(response.status)
            # read1 returns what has come so far, so that a drip cannot outlast the deadline.
            while part := response.read1(65_536):
                body += part
                if len(body) > _MAX_BYTES:
                    raise _ServiceError("the answer is larger than any forecast")
                if time.monotonic() > deadline:
                    raise _ServiceError(f"no whole answer within {timeout_s:g} s")
    except (OSError, http.client.HTTPException, ValueError) as error:
        if isinstance(error, TimeoutError) or "timed out" in str(error):
            raise _ServiceError(f"no answer within {timeout_s:g} s") from error
        raise _ServiceError(f"the service cannot be reached ({type(error).__name__})") from error
    if status == _TOO_MANY_REQUESTS:
        raise _ServiceError("the service asks to wait (too many requests); try again later")
    try:
        answer = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise _ServiceError(f"the answer (status {status}) is not a forecast") from error
    if status != _OK:
        reason = answer.get("reason") if isinstance(answer, dict) else None
        said = f": {str(reason)[:200]}" if reason else ""
        raise _ServiceError(f"the service refused with status {status}{said}")
    return answer


def _tables(answer: object, count: int) -> list[dict[dt.date, tuple[float, float]]]:
    """Read one table per point; days with a null or an absurd figure are left out."""
    parts = answer if isinstance(answer, list) else [answer]
    if len(parts) != count:
        raise _ServiceError(f"the answer holds {len(parts)} places instead of {count}")
    return [dict(_rows(part)) for part in parts]


def _rows(part: object) -> Iterator[tuple[dt.date, tuple[float, float]]]:
    try:
        daily = part["daily"]  # type: ignore[index]
        rows = list(
            zip(
                daily["time"],
                daily["temperature_2m_min"],
                daily["temperature_2m_max"],
                strict=True,
            )
        )
        units = part.get("daily_units", {})  # type: ignore[attr-defined]
        unit = units.get("temperature_2m_max", "°C")
    except (TypeError, KeyError, ValueError, AttributeError) as error:
        raise _ServiceError("the answer is not a daily forecast") from error
    if unit != "°C":
        raise _ServiceError("the answer is not in °C")
    for day, low, high in rows:
        if not (_is_temperature(low) and _is_temperature(high) and low <= high):
            continue
        try:
            yield dt.date.fromisoformat(day), (float(low), float(high))
        except (TypeError, ValueError):
            continue


def _is_temperature(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and math.isfinite(value)
        and _SANE_C[0] <= value <= _SANE_C[1]
    )


def _groups(
    places: Sequence[tuple[float, float]],
) -> Iterator[Sequence[tuple[float, float]]]:
    for start in range(0, len(places), _POINTS_PER_REQUEST):
        yield places[start : start + _POINTS_PER_REQUEST]
