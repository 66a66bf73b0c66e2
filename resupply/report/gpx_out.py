"""The stops as a GPX 1.1 file for the device on the handlebar: waypoints and the route."""

from __future__ import annotations

from typing import Any

import gpxpy.gpx

from resupply.report.lines import position_at, route_lines
from resupply.report.visits import Visit, clean_line, state_words, visits

__all__ = ["stops_gpx"]


def stops_gpx(document: dict[str, Any], geo: dict[str, Any]) -> str:
    """GPX text with a waypoint for every stop, ice stop and day's end, and the route as a track.

    Same document, same bytes: no time of writing is put in.
    """
    out = gpxpy.gpx.GPX()
    out.creator = document["made_with"]
    out.name = clean_line(document["trip"]["name"])
    out.copyright_author = "OpenStreetMap contributors"
    out.copyright_license = "https://opendatacommons.org/licenses/odbl/"
    out.waypoints = [_stop(visit) for visit in visits(document)]
    for leg in document["legs"]:
        lon, lat = position_at(geo, leg["end_m"])
        said = f"End of day {leg['number']}, {leg['weekday']} {leg['date']}"
        out.waypoints.append(_waypoint(lon, lat, f"End of day {leg['number']}", said, "day's end"))
    track = gpxpy.gpx.GPXTrack(name=clean_line(document["route"]["name"]))
    for line in route_lines(geo):
        points = [
            gpxpy.gpx.GPXTrackPoint(latitude=lat, longitude=_longitude(lon)) for lon, lat in line
        ]
        track.segments.append(gpxpy.gpx.GPXTrackSegment(points))
    out.tracks.append(track)
    return str(out.to_xml(version="1.1")) + "\n"


def _stop(visit: Visit) -> gpxpy.gpx.GPXWaypoint:
    if visit.number is None:
        name, said, kind = f"Ice day {visit.leg} {visit.name}", visit.words, "ice"
        said = f"{visit.words} {visit.hours}."
    else:
        name, kind = f"{visit.number} {visit.name}", f"{visit.buys} stop"
        said = f"{visit.words} {visit.hours}. If shut: {visit.if_shut}"
    return _waypoint(visit.lon, visit.lat, name, said, f"{kind}, {state_words(visit)}")


def _waypoint(lon: float, lat: float, name: str, said: str, kind: str) -> gpxpy.gpx.GPXWaypoint:
    return gpxpy.gpx.GPXWaypoint(
        latitude=lat, longitude=_longitude(lon), name=name, description=said, type=kind
    )


def _longitude(lon: float) -> float:
    """Write the meridian of 180° as the schema has it: -180 is in its range, 180 is not."""
    return -180.0 if lon == 180.0 else lon
