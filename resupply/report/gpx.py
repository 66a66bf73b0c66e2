"""The stops as a GPX 1.1 file for the device on the handlebar: waypoints and the route."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import gpxpy.gpx

from resupply.common.text import one_line
from resupply.report.document.visits import Visit, nights, state_words, visits
from resupply.report.lines import route_lines

if TYPE_CHECKING:
    from resupply.report.document.model.plan import PlanDocument

__all__ = ["stops_gpx"]


def stops_gpx(plan: PlanDocument, geo: dict[str, Any]) -> str:
    """GPX text with a waypoint for every stop and day's end, and the route as a track.

    Same document, same bytes: no time of writing is put in.
    """
    out = gpxpy.gpx.GPX()
    out.creator = plan.made_with
    out.name = one_line(plan.trip.name, None)
    out.copyright_author = "OpenStreetMap contributors"
    out.copyright_license = "https://opendatacommons.org/licenses/odbl/"
    out.waypoints = [_stop(visit) for visit in visits(plan)]
    out.waypoints += [
        _waypoint(night.lon, night.lat, night.name, f"{night.date}: {night.words}", "day's end")
        for night in nights(plan, geo)
    ]
    track = gpxpy.gpx.GPXTrack(name=one_line(plan.route.name, None))
    for line in route_lines(geo):
        points = [
            gpxpy.gpx.GPXTrackPoint(latitude=lat, longitude=_longitude(lon)) for lon, lat in line
        ]
        track.segments.append(gpxpy.gpx.GPXTrackSegment(points))
    out.tracks.append(track)
    return str(out.to_xml(version="1.1")) + "\n"


def _stop(visit: Visit) -> gpxpy.gpx.GPXWaypoint:
    head = visit.buys.capitalize() if visit.number is None else str(visit.number)
    said = f"{visit.words} {visit.hours[:1].upper()}{visit.hours[1:]}."
    if visit.if_shut:
        said += f" If shut: {visit.if_shut}"
    kind = f"{visit.buys} stop, {state_words(visit)}"
    return _waypoint(visit.lon, visit.lat, f"{head} {visit.name}", said, kind)


def _waypoint(lon: float, lat: float, name: str, said: str, kind: str) -> gpxpy.gpx.GPXWaypoint:
    return gpxpy.gpx.GPXWaypoint(
        latitude=lat, longitude=_longitude(lon), name=name, description=said, type=kind
    )


def _longitude(lon: float) -> float:
    """Write the meridian of 180° as the schema has it: -180 is in its range, 180 is not."""
    return -180.0 if lon == 180.0 else lon
