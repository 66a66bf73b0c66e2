"""A plan in a notebook: a map, and a short text with a row for each day.

Names come from map data and files: they are escaped, also for the script that folium writes.
"""

from __future__ import annotations

import html
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import folium

    from resupply.api.plan_object import Plan

__all__ = ["plan_html", "plan_map"]

_MOST_BYTES = 20_000
"""Of a plan shown in a notebook: our choice, so that the file stays small."""
_MOST_CAUTIONS = 12
"""Our choice: more are not read; the rest is counted."""
_LEG_COLOURS = ("#1f5f8b", "#b5541c")
_NIGHT_COLOUR = "#4a3f8f"
_STOP_COLOURS = {
    "open": "#2e7d32",
    "open_unless_holiday": "#558b2f",
    "tight": "#b26a00",
    "shut": "#b3261e",
}


def plan_map(plan: Plan, *, tiles: str | None) -> folium.Map:
    """Draw days, food stops and nights, with names on demand.

    Parameters
    ----------
    tiles
        Background as folium names it; None for none.
    """
    import folium

    drawn = folium.Map(tiles=tiles, control_scale=True)
    legs, stops, nights = plan.legs, plan.stops, plan.nights
    for day, leg in legs.iterrows():
        colour = _LEG_COLOURS[int(day) % len(_LEG_COLOURS)]
        lines = [[(lat, lon) for lon, lat in part.coords] for part in leg.geometry.geoms]
        said = _safe(f"Day {day}: km {leg.start_m / 1000.0:.0f} to {leg.end_m / 1000.0:.0f}")
        folium.PolyLine(lines, color=colour, weight=4, tooltip=said).add_to(drawn)  # type: ignore[no-untyped-call]
    for number, stop in stops.iterrows():
        local = stop.arrive.tz_convert(stop.time_zone)
        said = f"Stop {number}: {stop['name']}, {local:%a %H:%M}, {stop.state}"
        colour = _STOP_COLOURS.get(stop.state, "#616161")
        _dot(stop.geometry, said, colour, radius=8).add_to(drawn)
    for day, night in nights.iterrows():
        said = f"Night {day}: {night['name'] or 'no camp known'}"
        _dot(night.geometry, said, _NIGHT_COLOUR, radius=5).add_to(drawn)
    west, south, east, north = legs.total_bounds.tolist()
    drawn.fit_bounds([(south, west), (north, east)])
    return drawn


def _dot(at: Any, said: str, colour: str, *, radius: int) -> folium.CircleMarker:
    import folium

    return folium.CircleMarker(
        (at.y, at.x), radius=radius, color=colour, fill=True, fill_opacity=0.8, tooltip=_safe(said)
    )


def _safe(text: str) -> str:
    """Escape a text for HTML that stands in a script's template literal."""
    escaped = html.escape(text)
    for sign in ("\\", "`", "$", "{", "}"):
        escaped = escaped.replace(sign, f"&#{ord(sign)};")
    return escaped


def plan_html(plan: Plan) -> str:
    """Headline, cautions and a row for each day, at most 20 kB of HTML."""
    from resupply.report.document.in_words import in_words

    told = in_words(plan.document)
    cautions = told["summary"]["cautions"]
    left_out = len(cautions) - _MOST_CAUTIONS
    items = [f"<li>{_cut(said, 500)}</li>" for said in cautions[:_MOST_CAUTIONS]]
    if left_out > 0:
        items.append(f"<li>{left_out} more cautions stand in the document</li>")
    stops: dict[int, list[str]] = {}
    for stop in told["stops"]:
        stops.setdefault(stop["leg"], []).append(_cut(stop["name"], 60))
    head = (
        f"<p><b>{_cut(told['trip']['name'], 80)}</b>: {_cut(told['summary']['headline'], 400)}</p>"
        f"<ul>{''.join(items)}</ul>"
        "<table><thead><tr><th>Day</th><th>Date</th><th>km</th><th>Arrive</th>"
        "<th>Food stops</th></tr></thead><tbody>"
    )
    rows, size = [], len(head.encode()) + 200
    for leg in told["legs"]:
        cells = (
            leg["number"],
            leg["date"],
            f"{leg['start_m'] / 1000.0:.0f}–{leg['end_m'] / 1000.0:.0f}",
            leg["arrive"][11:16],
            ", ".join(stops.get(leg["number"], [])),
        )
        row = f"<tr>{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"
        size += len(row.encode())
        if size > _MOST_BYTES:
            rows.append("<tr><td>…</td><td colspan='4'>more days stand in `legs`</td></tr>")
            break
        rows.append(row)
    return f"{head}{''.join(rows)}</tbody></table>"


def _cut(text: str, most: int) -> str:
    return html.escape(text if len(text) <= most else f"{text[: most - 1]}…")
