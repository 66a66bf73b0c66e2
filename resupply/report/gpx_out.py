"""The stops as a GPX 1.1 file for the device on the handlebar: waypoints and the route."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import gpxpy.gpx

__all__ = ["stops_gpx"]


def stops_gpx(document: dict[str, Any], geo: dict[str, Any]) -> str:
    """GPX text with a waypoint for every stop, ice stop and day's end, and the route as a track.

    Same document, same bytes: no time of writing is put in.
    """
    out = gpxpy.gpx.GPX()
    out.creator = document["made_with"]
    out.name = _clean(document["trip"]["name"])
    out.copyright_author = "OpenStreetMap contributors"
    out.copyright_license = "https://opendatacommons.org/licenses/odbl/"
    passes = {p["id"]: p for p in document["passes"]}
    for stop in document["stops"]:
        place = document["places"][stop["place"]]
        out.waypoints.append(
            _waypoint(
                place,
                f"{stop['number']} {stop['name']}",
                f"{stop['carry_words']} {stop['state_words']}. If shut: "
                f"{stop['fallback']['words']}",
                f"food stop, {stop['state']}",
            )
        )
    at_stops = {stop["pass"] for stop in document["stops"]}
    for ice in document["ice"]["stops"]:
        if ice["pass"] not in at_stops:
            place = document["places"][passes[ice["pass"]]["place"]]
            name = f"Ice day {ice['leg']}"
            out.waypoints.append(_waypoint(place, name, ice["words"], "ice"))
    track = gpxpy.gpx.GPXTrack(name=_clean(document["route"]["name"]))
    starts = [*geo["part_start"], len(geo["lon"])]
    for start, end in pairwise(starts):
        segment = gpxpy.gpx.GPXTrackSegment()
        segment.points = [
            gpxpy.gpx.GPXTrackPoint(latitude=lat, longitude=lon)
            for lon, lat in zip(geo["lon"][start:end], geo["lat"][start:end], strict=True)
        ]
        track.segments.append(segment)
    out.tracks.append(track)
    return str(out.to_xml(version="1.1")) + "\n"


def _waypoint(
    place: dict[str, Any], name: str, description: str, kind: str
) -> gpxpy.gpx.GPXWaypoint:
    return gpxpy.gpx.GPXWaypoint(
        latitude=place["lat"],
        longitude=place["lon"],
        name=_clean(name),
        description=_clean(description),
        type=kind,
    )


def _clean(text: str) -> str:
    """Leave out what XML 1.0 cannot hold."""
    kept = "".join(c for c in text if c in "\t\n" or (c >= " " and c not in "\ufffe\uffff"))
    return kept.encode("utf-8", "replace").decode("utf-8")
