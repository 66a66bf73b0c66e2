"""Read a GPX file as a route.

In: a GPX 1.0 or 1.1 file, or its bytes. Out: a `Route`, with warnings that say what was left
out and where it is too sparse to trust. The reading itself is in
`resupply.route.gpx_xml`.
"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from resupply.common.errors import RouteError
from resupply.common.quantity import at, count, line, way
from resupply.common.text import one_line
from resupply.route.content import MAX_BYTES, MAX_MARKS, GpxContent, TrackPart
from resupply.route.gpx_xml import read_content, too_large
from resupply.route.route import Route, make_route

if TYPE_CHECKING:
    from collections.abc import Iterable

    from resupply.common.quantity import Said, Sentence

__all__ = ["MAX_BYTES", "SPARSE_M", "content_route", "parse_gpx", "read_gpx"]

SPARSE_M: Final = 5_000.0
"""Where two points are farther apart than this, the road between them may leave the reach
in which shops are looked for, so a shop on it could be missed: the rider is told."""

_PIECE_BYTES: Final = 1 << 17
"""Parsed at once: our choice; bounds the memory."""


def read_gpx(path: Path) -> Route:
    """Read a route from a GPX file.

    Parameters
    ----------
    path
        A GPX 1.0 or 1.1 file of at most `MAX_BYTES`.

    Returns
    -------
    Route
        See `parse_gpx`.

    Raises
    ------
    RouteError
        The file cannot be read, is no GPX, or holds no usable route.
    """
    shown = _shown_path(path)
    if "\0" in shown:
        raise RouteError("the file cannot be read: no path holds a NUL", where=one_line(shown))
    try:
        with Path(path).open("rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            if size > MAX_BYTES:
                raise too_large(size, shown)
            return _read(iter(lambda: stream.read(_PIECE_BYTES), b""), shown)
    except OSError as error:
        reason = error.strerror or str(error)
        raise RouteError(
            f"the file cannot be read: {reason}", where=shown, mend="Check the path"
        ) from error


def parse_gpx(data: bytes, *, name: str) -> Route:
    """Read a route from the bytes of a GPX file.

    Tracks and their segments are joined in the order of the file; routes are used where there
    is no track to ride. Jumps of more than `resupply.route.route.JOIN_M` are breaks. Waypoints
    become marks. `Route.warnings` says what was left out and where the line is sparse.

    Parameters
    ----------
    data
        At most `MAX_BYTES`.
    name
        The file's name, for errors and as the route's name where the file has none.

    Raises
    ------
    RouteError
        The bytes are no GPX, or hold no usable route.

    Examples
    --------
    >>> points = b'<trkpt lat="0" lon="0"/><trkpt lat="0" lon="1"/>'
    >>> gpx = b"<gpx><trk><trkseg>" + points + b"</trkseg></trk></gpx>"
    >>> round(parse_gpx(gpx, name="equator.gpx").length_m)
    111319
    """
    shown = one_line(name) or "upload.gpx"
    if len(data) > MAX_BYTES:
        raise too_large(len(data), shown)
    view = memoryview(data)
    pieces = (bytes(view[at : at + _PIECE_BYTES]) for at in range(0, len(data), _PIECE_BYTES))
    return _read(pieces, shown)


def _read(pieces: Iterable[bytes], shown: str) -> Route:
    return content_route(read_content(pieces, shown), shown)


def content_route(content: GpxContent, shown: str) -> Route:
    """Join what a file holds to one route; also for files of other formats.

    Parameters
    ----------
    content
        Points, parts, marks and notes, in the order of the file.
    shown
        The file's name, for errors and as the route's name where the file has none.

    Raises
    ------
    RouteError
        There is no line, or none that anyone rides.
    """
    line, warnings = _choose(content)
    if len(line.lon) < 2:
        raise _no_route(content, len(line.lon), shown)
    own_name = line.names[0] if line.count == 1 and line.names else ""
    name = content.title or own_name or Path(shown).stem
    try:
        route = make_route(line.parts(), name=name, marks=content.marks)
    except RouteError as error:
        raise RouteError(error.what, where=shown, mend=error.mend) from error
    own: tuple[Said, ...] = (*content.notes, *warnings, *_sparse_warnings(route))
    return replace(route, warnings=own)


def _choose(content: GpxContent) -> tuple[TrackPart, list[str]]:
    """Tracks, or routes where there is no track to ride; and what to tell the rider."""
    tracks, routes = content.tracks, content.routes
    warnings: list[str] = []
    line = tracks
    if len(tracks.lon) < 2 <= len(routes.lon):
        line = routes
        if tracks.count:
            warnings.append("The file's tracks hold no line, so its routes are used")
    elif routes.lon:
        warnings.append(
            "The file holds tracks and routes, often the same ride twice: only the tracks are used"
        )
    if line is routes and content.shape_points:
        warnings.append(
            f"The road between the route points was read from {content.shape_points:,} "
            "shape points in an extension of the file"
        )
    if line is routes and routes.count > 1:
        warnings.append(f"The file's {routes.count:,} routes are joined in their order")
    if content.marks_left_out:
        warnings.append(
            f"Only the first {MAX_MARKS:,} waypoints are kept; "
            f"{content.marks_left_out:,} are left out"
        )
    return line, warnings


def _no_route(content: GpxContent, points: int, shown: str) -> RouteError:
    if points:
        what = "the file holds a track or route of one point only"
    elif content.marks:
        count = len(content.marks) + content.marks_left_out
        what = f"the file holds only waypoints ({count:,}), no track or route"
    else:
        what = "the file holds no points"
    return RouteError(what, where=shown, mend="Export the whole ride as a track from your planner")


def _sparse_warnings(route: Route) -> list[Sentence]:
    step_m = np.diff(route.chainage_m)
    longest = int(np.argmax(step_m))
    if step_m[longest] <= SPARSE_M:
        return []
    start_m, end_m = (float(m) for m in route.chainage_m[longest:][:2])
    n_long = int(np.count_nonzero(step_m > SPARSE_M))
    return [
        line(
            "The route is sparse: its longest straight piece is {far} (from {start} to {end})"
            "{others}. The road between is not known, so distances are too short and places may "
            "be missed. Export the ride as a track with all its points.",
            far=way(float(step_m[longest])),
            start=at(start_m),
            end=at(end_m),
            others=line(
                ", and {pieces} are longer than {limit}",
                pieces=count(n_long, "piece"),
                limit=way(SPARSE_M),
            )
            if n_long > 1
            else None,
        )
    ]


def _shown_path(path: Path) -> str:
    return os.fsencode(path).decode("utf-8", "replace")
