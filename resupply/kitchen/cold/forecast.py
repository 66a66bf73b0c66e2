"""Daily lows and highs from an open weather service, only when the rider asks for them.

In: where the rider is on which date. Out: a `ForecastAnswer`; a date the service does not give
stays not known, with the reason. A failing service is an answer too, never an exception.

The service speaks the JSON of the Open-Meteo forecast API: GET with `latitude`, `longitude`
(comma-separated), `daily=temperature_2m_max,temperature_2m_min`, `timezone=auto`; an object per
point with `daily.time`, `daily.temperature_2m_max`, `daily.temperature_2m_min`.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import urllib.parse
from dataclasses import dataclass
from http import HTTPStatus
from typing import TYPE_CHECKING, Any

from resupply.common.kept_answers import age_s, keep, kept, kept_path
from resupply.common.units import S_PER_HOUR
from resupply.common.web_client import Question, WebClient, WebError, is_web_address
from resupply.kitchen.cold.weather import DayWeather

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
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
"""The most the service gives (its documentation; from memory)."""
_POINTS_PER_REQUEST = 50
"""Our choice: the address of a question stays short enough for any server."""
_MAX_BYTES = 5_000_000
"""Of an answer: our choice, far above what fifty points of sixteen days take."""
_ATTEMPTS = 2
"""Our choice: a rider waits for a plan; without a forecast there is one too."""
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


def fetch_forecast(
    points: Sequence[ForecastPoint],
    *,
    now: dt.datetime,
    endpoint: str = ENDPOINT,
    cache: Path | None = None,
    max_age_h: float = 6.0,
    timeout_s: float = 20.0,
    pause_s: float = 1.0,
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
        Seconds for all questions together, however slowly the answers drip.
    pause_s
        Seconds before the one other attempt after a fault that may pass.
    """
    client = WebClient(
        who="the weather service",
        deadline_s=timeout_s,
        timeout_s=timeout_s,
        most_bytes=_MAX_BYTES,
        pause_s=pause_s,
        attempts=_ATTEMPTS,
    )
    problems: list[str] = []
    found: dict[dt.date, list[tuple[float, float, str]]] = {}
    places = sorted({(round(p.lon, 2), round(p.lat, 2)) for p in points})
    for group in _groups(places):
        try:
            tables, taken = _answer(group, client, endpoint, cache, now, max_age_h, problems)
        except WebError as error:
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
    return ForecastAnswer(tuple(days), tuple(dict.fromkeys(problems)))


def _answer(
    group: Sequence[tuple[float, float]],
    client: WebClient,
    endpoint: str,
    cache: Path | None,
    now: dt.datetime,
    max_age_h: float,
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
    url = f"{endpoint}?{urllib.parse.urlencode(params, safe=',')}"
    path = None if cache is None else kept_path(cache, "forecast", url)
    before = None if path is None else _read_kept(path, url, len(group))
    if before is not None and 0.0 <= age_s(before[1].isoformat(), now) <= max_age_h * S_PER_HOUR:
        return before
    try:
        body = client.patiently(lambda: _get(client, url))
        tables = _tables(_parsed(body), len(group))
    except WebError as error:
        if before is None:
            raise
        problems.append(f"forecast: {error}; the one of {before[1]:%Y-%m-%d %H:%M} UTC is used")
        return before
    taken = now.astimezone(dt.UTC)
    if path is not None and (why := keep(path, url, body, taken.isoformat())):
        problems.append(f"forecast not kept: {path.parent}: {why}")
    return tables, taken


def _read_kept(
    path: Path, url: str, count: int
) -> tuple[list[dict[dt.date, tuple[float, float]]], dt.datetime] | None:
    """Read a kept answer; one that is broken counts as none."""
    found = kept(path, url)
    try:
        if found is not None:
            taken = dt.datetime.fromisoformat(found.fetched).astimezone(dt.UTC)
            return _tables(_parsed(found.body), count), taken
    except WebError:
        pass
    return None


def _get(client: WebClient, url: str) -> bytes:
    if not is_web_address(url):
        raise WebError("the address of the weather service must start with http:// or https://")
    reply = client.ask(Question(url, headers={"User-Agent": client.agent}))
    if reply.status != HTTPStatus.OK:
        answer = _parsed(reply.body, f" (status {reply.status})")
        reason = answer.get("reason") if isinstance(answer, dict) else None
        said = f": {str(reason)[:200]}" if reason else ""
        raise WebError(f"the weather service refused with status {reply.status}{said}")
    return reply.body


def _parsed(body: bytes, note: str = "") -> Any:
    try:
        return json.loads(body)
    except (ValueError, RecursionError) as error:
        raise WebError(f"the answer{note} is not a forecast") from error


def _tables(answer: object, count: int) -> list[dict[dt.date, tuple[float, float]]]:
    """Read one table per point; days with a null or an absurd figure are left out."""
    parts = answer if isinstance(answer, list) else [answer]
    if len(parts) != count:
        raise WebError(f"the answer holds {len(parts)} places instead of {count}")
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
        raise WebError("the answer is not a daily forecast") from error
    if unit != "°C":
        raise WebError("the answer is not in °C")
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
