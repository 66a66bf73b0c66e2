"""The plan on the ground as GeoJSON (RFC 7946): route, days' ends, stops, gaps, missing data."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from resupply.common.show import text
from resupply.common.text import one_line
from resupply.report.document.in_words import shown_in
from resupply.report.document.visits import Visit, nights, state_words, visits
from resupply.report.lines import cut_at_antimeridian, route_lines, stretch_lines

if TYPE_CHECKING:
    from resupply.report.document.model.plan import PlanDocument
    from resupply.report.lines import Line

__all__ = ["plan_geojson"]


def plan_geojson(plan: PlanDocument, geo: dict[str, Any]) -> str:
    """Write one feature collection; `role` tells what each feature is.

    Roles: `route`; `gap`, the longest stretch without each supply; `no map data`; `day end`;
    `stop`. Lines are cut at the antimeridian and where the route jumps.
    """
    show = shown_in(plan)
    features = [
        _line(
            route_lines(geo),
            role="route",
            name=one_line(plan.route.name, None),
            length_m=plan.route.length_m,
        )
    ]
    for supply, block in plan.gaps.items():
        gap = block.longest
        features.append(
            _line(
                stretch_lines(geo, gap.start_m, gap.end_m),
                role="gap",
                name=f"Longest stretch without {supply.replace('_', ' ')}",
                supply=supply,
                start_m=gap.start_m,
                end_m=gap.end_m,
                meals=gap.meals,
                crosses_unknown=gap.crosses_unknown,
                words=one_line(text(gap.words or [], show), None),
            )
        )
    features += [
        _line(
            stretch_lines(geo, stretch.start_m, stretch.end_m),
            role="no map data",
            name="No map data: whether there are shops is not known",
            start_m=stretch.start_m,
            end_m=stretch.end_m,
            words=one_line(text(stretch.reason, show), None),
        )
        for stretch in plan.coverage.unknown
    ]
    features += [
        _point(
            night.lon,
            night.lat,
            role="day end",
            name=night.name,
            date=night.date.isoformat(),
            arrive=night.arrive.isoformat(timespec="minutes"),
            chainage_m=night.chainage_m,
            words=night.words,
        )
        for night in nights(plan, geo)
    ]
    features += [_stop(visit, plan.spare.meals) for visit in visits(plan)]
    collection = {
        "type": "FeatureCollection",
        "name": one_line(plan.trip.name, None),
        "made_with": plan.made_with,
        "attribution": asdict(plan.attribution),
        "features": [feature for feature in features if feature["geometry"] is not None],
    }
    return json.dumps(collection, ensure_ascii=False, allow_nan=False) + "\n"


def _stop(visit: Visit, spare: int) -> dict[str, Any]:
    meals, _, kg, to_m = visit.carry or (None, None, None, None)
    return _point(
        visit.lon,
        visit.lat,
        role="stop",
        name=visit.name,
        number=visit.number,
        buys=visit.buys,
        day=visit.leg,
        arrive=visit.arrive.isoformat(timespec="minutes"),
        state=visit.state,
        state_words=state_words(visit),
        hours=visit.hours,
        chainage_m=visit.chainage_m,
        carry_meals=meals,
        spare_meals=None if meals is None else spare,
        carry_kg=kg,
        carry_to_m=to_m,
        words=visit.words,
        if_shut=visit.if_shut,
        place=visit.place_id,
    )


def _point(lon: float, lat: float, **properties: object) -> dict[str, Any]:
    geometry = {"type": "Point", "coordinates": [lon, lat]}
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _line(lines: list[Line], **properties: object) -> dict[str, Any]:
    pieces = cut_at_antimeridian(lines)
    geometry: dict[str, Any] | None = None
    if len(pieces) == 1:
        geometry = {"type": "LineString", "coordinates": pieces[0]}
    elif pieces:
        geometry = {"type": "MultiLineString", "coordinates": pieces}
    return {"type": "Feature", "geometry": geometry, "properties": properties}
