"""The plan as a GPX 1.1 file for the device on the handlebar: waypoints, days and the whole line.

A waypoint for every visit and every night; a route for each day, with its visits and enough points
of the line between them that a device which works the way out itself keeps to it; and the whole
line as a track, which no device changes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import gpxpy.gpx

from resupply.common.text import one_line
from resupply.report.document.visits import Visit, nights, state_words, visits
from resupply.report.lines import position_at, route_lines, stretch_points
from resupply.route.simplify import foremost

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.report.document.model.days import DayRow
    from resupply.report.document.model.plan import PlanDocument

__all__ = ["MOST_POINTS", "stops_gpx"]

MOST_POINTS = 100
"""Points of a day's route, so that small devices take it: many take 200 or more, old ones 50 (from
memory); our choice."""


def stops_gpx(plan: PlanDocument, geo: dict[str, Any]) -> str:
    """Write waypoints, a route for each day and the line as a track.

    Same document, same bytes: no time of writing is put in.
    """
    out = gpxpy.gpx.GPX()
    out.creator = plan.made_with
    out.name = one_line(plan.trip.name, None)
    out.copyright_author = "OpenStreetMap contributors"
    out.copyright_license = "https://opendatacommons.org/licenses/odbl/"
    stops = visits(plan)
    ends = {
        night.leg: _waypoint(
            night.lon, night.lat, night.name, f"{night.date}: {night.words}", "day's end"
        )
        for night in nights(plan, geo)
    }
    out.waypoints = [*map(_stop, stops), *ends.values()]
    begin = _waypoint(*position_at(geo, plan.legs[0].start_m), "Start", "", "start")
    for leg in plan.legs:
        here = [visit for visit in stops if visit.leg == leg.number]
        out.routes.append(_day(leg, geo, here, begin, begin := ends[leg.number]))
    track = gpxpy.gpx.GPXTrack(name=one_line(plan.route.name, None))
    for line in route_lines(geo):
        points = [
            gpxpy.gpx.GPXTrackPoint(latitude=lat, longitude=_longitude(lon)) for lon, lat in line
        ]
        track.segments.append(gpxpy.gpx.GPXTrackSegment(points))
    out.tracks.append(track)
    return str(out.to_xml(version="1.1")) + "\n"


def _day(
    leg: DayRow,
    geo: dict[str, Any],
    here: Sequence[Visit],
    begin: gpxpy.gpx.GPXWaypoint,
    end: gpxpy.gpx.GPXWaypoint,
) -> gpxpy.gpx.GPXRoute:
    """Put a day together: where it begins, its visits on the way among points of the line, its end.

    What is visited from camp, in the evening or on a day of rest, is a waypoint only: it lies on
    no way from camp to camp.
    """
    on_way = [
        (float(visit.chainage_m), _stop(visit))
        for visit in here
        if visit.arrive < leg.arrive and leg.start_m <= visit.chainage_m <= leg.end_m
    ]
    lon, lat, at_m = stretch_points(geo, leg.start_m, leg.end_m)
    kept = foremost(lon, lat, max(2, MOST_POINTS - len(on_way)))[1:-1]
    shaping = [
        (float(at_m[i]), gpxpy.gpx.GPXWaypoint(float(lat[i]), _longitude(float(lon[i]))))
        for i in kept
    ]
    route = gpxpy.gpx.GPXRoute(name=f"Day {leg.number}", number=leg.number)
    between = sorted([*shaping, *on_way], key=lambda one: one[0])
    route.points = [_route_point(one) for one in (begin, *(one for _, one in between), end)]
    return route


def _route_point(point: gpxpy.gpx.GPXWaypoint) -> gpxpy.gpx.GPXRoutePoint:
    return gpxpy.gpx.GPXRoutePoint(
        latitude=point.latitude,
        longitude=point.longitude,
        name=point.name,
        description=point.description,
        type=point.type,
    )


def _stop(visit: Visit) -> gpxpy.gpx.GPXWaypoint:
    head = visit.buys.capitalize() if visit.number is None else str(visit.number)
    said = f"{visit.words} {visit.hours[:1].upper()}{visit.hours[1:]}."
    if visit.if_shut:
        said += f" If shut: {visit.if_shut}"
    kind = f"{visit.stop.lower()}, {state_words(visit)}"
    return _waypoint(visit.lon, visit.lat, f"{head} {visit.name}", said, kind)


def _waypoint(lon: float, lat: float, name: str, said: str, kind: str) -> gpxpy.gpx.GPXWaypoint:
    return gpxpy.gpx.GPXWaypoint(
        latitude=lat, longitude=_longitude(lon), name=name, description=said or None, type=kind
    )


def _longitude(lon: float) -> float:
    """Write the meridian of 180° as the schema has it: -180 is in its range, 180 is not."""
    return -180.0 if lon == 180.0 else lon
