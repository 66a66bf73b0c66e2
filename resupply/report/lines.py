"""Stretches of the drawn route as lines, cut where a format wants them cut.

In: the `geo` block beside the plan document. Out: lists of (lon, lat) in degrees.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from resupply.route.route import Route

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "Line",
    "cut_at_antimeridian",
    "position_at",
    "route_lines",
    "stretch_lines",
    "stretch_points",
]

Line = list[tuple[float, float]]
"""Longitude and latitude, degrees, 5 decimals."""


def route_lines(geo: dict[str, Any]) -> list[Line]:
    """Every part of the route, between its breaks."""
    starts = [*geo["part_start"], len(geo["lon"])]
    return [
        list(zip(geo["lon"][start:end], geo["lat"][start:end], strict=True))
        for start, end in pairwise(starts)
    ]


def stretch_lines(geo: dict[str, Any], start_m: float, end_m: float) -> list[Line]:
    """Cut out the stretch between two chainages, in as many lines as it has parts."""
    lines = []
    for part in _parts(geo):
        first_m, last_m = float(part.chainage_m[0]), float(part.chainage_m[-1])
        low_m, high_m = max(start_m, first_m), min(end_m, last_m)
        if high_m <= low_m:
            continue
        inner = (part.chainage_m > low_m) & (part.chainage_m < high_m)
        lon, lat = part.positions_at([low_m, high_m])
        lines.append(
            _rounded(
                [lon[0], *part.lon[inner].tolist(), lon[1]],
                [lat[0], *part.lat[inner].tolist(), lat[1]],
            )
        )
    return lines


def stretch_points(
    geo: dict[str, Any], start_m: float, end_m: float
) -> tuple[Floats, Floats, Floats]:
    """Give the drawn points between two chainages, and both ends.

    Returns
    -------
    lon, lat, chainage
        (k,) degrees, degrees, metres.
    """
    at_m = np.array(geo["chainage_m"], dtype=float)
    inner = (at_m > start_m) & (at_m < end_m)
    ends = np.array([position_at(geo, start_m), position_at(geo, end_m)]).T
    lon, lat = (
        np.concatenate([[first], np.array(geo[key], dtype=float)[inner], [last]])
        for key, (first, last) in zip(("lon", "lat"), ends, strict=True)
    )
    return lon, lat, np.concatenate([[start_m], at_m[inner], [end_m]])


def position_at(geo: dict[str, Any], at_m: float) -> tuple[float, float]:
    """Longitude and latitude at a chainage; before the jump where there is one."""
    parts = _parts(geo)
    part = next((part for part in parts if part.chainage_m[-1] >= at_m), parts[-1])
    lon, lat = part.positions_at([max(at_m, float(part.chainage_m[0]))])
    return _rounded(lon.tolist(), lat.tolist())[0]


def cut_at_antimeridian(lines: Iterable[Line]) -> list[Line]:
    """Cut lines where they cross 180°, so that each piece stays on one side (RFC 7946, 3.1.9).

    Pieces of a single point are left out.
    """
    pieces: list[Line] = []
    for line in lines:
        piece: Line = line[:1]
        for (lon, lat), (next_lon, next_lat) in pairwise(line):
            if abs(next_lon - lon) > 180.0:
                side = 180.0 if lon > 0.0 else -180.0
                # Between the two, on a map where the meridian is an ordinary line.
                before, after = abs(side - lon), abs(-side - next_lon)
                share = before / (before + after) if before + after else 0.5
                cut_lat = round(lat + share * (next_lat - lat), 5)
                pieces.append([*piece, (side, cut_lat)])
                piece = [(-side, cut_lat)]
            piece.append((next_lon, next_lat))
        pieces.append(piece)
    return [kept for kept in map(_without_repeats, pieces) if len(kept) > 1]


def _without_repeats(line: Line) -> Line:
    return line[:1] + [point for last, point in pairwise(line) if point != last]


def _parts(geo: dict[str, Any]) -> list[Route]:
    starts = [*geo["part_start"], len(geo["lon"])]
    return [
        Route(
            name="",
            lon=np.array(geo["lon"][start:end], dtype=float),
            lat=np.array(geo["lat"][start:end], dtype=float),
            ele_m=np.full(end - start, np.nan),
            # Rounded to metres: neighbours may share one.
            chainage_m=np.array(geo["chainage_m"][start:end], dtype=float),
        )
        for start, end in pairwise(starts)
    ]


def _rounded(lon: Sequence[float], lat: Sequence[float]) -> Line:
    return [(round(float(x), 5), round(float(y), 5)) for x, y in zip(lon, lat, strict=True)]
