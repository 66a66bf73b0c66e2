"""Many plans side by side: the key figures of each, and a page that sums them up.

In: plan documents (`resupply-plan/2`), one at a time. Out: an `ClubRow` each, and HTML of all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from importlib import resources
from typing import TYPE_CHECKING, Any, Final

from resupply.common.quantity import days
from resupply.common.show import text
from resupply.report.document.in_words import shown_in
from resupply.report.lines import cut_at_antimeridian, route_lines

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.report.document.model.plan import PlanDocument

__all__ = ["ClubRow", "outcome_of", "render_club"]

Line = tuple[tuple[float, float], ...]

_SKETCH_PX: Final = (72, 48)
"""Width and height: one row of a table stays two lines high."""
_SKETCH_POINTS: Final = 120
"""Our choice: more than the sketch has pixels across shows nothing more."""


@dataclass(frozen=True, slots=True)
class ClubRow:
    """One row: the figures of a plan, or why there is none. Texts may be hostile."""

    file: str
    name: str = ""
    error: str = ""
    """Why it was not planned; "" if it was."""
    start_date: str | None = None
    days: int | None = None
    length_m: int | None = None
    stops: int | None = None
    most_carried_days: float | None = None
    carry_limit_days: float | None = None
    limit_kept: bool | None = None
    """None where it is not known, for want of map data."""
    longest_gap_m: int | None = None
    """Longest stretch on which no full food shop is known that is open when passed."""
    gap_certain: bool | None = None
    """False where map data is missing on part of that stretch."""
    unknown_m: int | None = None
    """Length of route of which the map data says nothing."""
    data_date: str | None = None
    source: str = ""
    headline: str = ""
    lines: tuple[Line, ...] = ()
    """The route, degrees."""


def outcome_of(file: str, plan: PlanDocument, geo: dict[str, Any]) -> ClubRow:
    """Take the key figures out of a plan document."""
    unknown_m = sum(part.end_m - part.start_m for part in plan.coverage.unknown)
    longest = plan.gaps["groceries"].longest
    carried = max([plan.start_carry.days, *(stop.carry_days for stop in plan.stops)])
    kept = not plan.shortfalls
    return ClubRow(
        file=file,
        name=plan.trip.name or plan.route.name,
        start_date=plan.trip.start_date.isoformat(),
        days=plan.trip.days,
        length_m=plan.route.length_m,
        stops=len(plan.stops),
        most_carried_days=carried,
        carry_limit_days=plan.trip.carry_limit_days,
        limit_kept=kept if kept or not unknown_m else None,
        longest_gap_m=longest.length_m,
        gap_certain=not longest.crosses_unknown,
        unknown_m=unknown_m,
        data_date=plan.coverage.data_date,
        source=plan.coverage.source,
        headline=text(plan.summary.headline, shown_in(plan)),
        lines=tuple(tuple(line) for line in cut_at_antimeridian(route_lines(geo))),
    )


def render_club(outcomes: Sequence[ClubRow]) -> str:
    """Write the page: totals, what failed and why, then a row for each route."""
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("resupply.report"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    planned = [one for one in outcomes if not one.error]
    colours = (resources.files("resupply.report") / "assets/tokens.css").read_text("utf-8")
    environment.filters |= {"sketch": _sketch, "days": days}
    sources = {one.source for one in planned}
    return environment.get_template("club.html.j2").render(
        planned=planned,
        failed=[one for one in outcomes if one.error],
        total_km=round(sum(one.length_m or 0 for one in planned) / 1000.0),
        over=[one for one in planned if one.limit_kept is False],
        doubtful=[one for one in planned if one.limit_kept is None],
        unsure=[one for one in planned if one.unknown_m],
        sketch_px=_SKETCH_PX,
        # What all rest on is told once, below.
        source=sources.pop() if len(sources) == 1 else "",
        # Without a script, the theme is the device's.
        colours=colours.replace("@media screen", "@media (prefers-color-scheme: dark)").replace(
            ':root[data-theme="dark"]', ":root"
        ),
    )


def _sketch(lines: Sequence[Line]) -> str:
    """Draw a route as an SVG path, north up, to fill the sketch's box."""
    points = [point for line in lines for point in line]
    if not points:
        return ""
    squeeze = math.cos(math.radians(sum(lat for _, lat in points) / len(points)))
    west, north = min(lon for lon, _ in points), max(lat for _, lat in points)
    wide = (max(lon for lon, _ in points) - west) * squeeze
    high = north - min(lat for _, lat in points)
    scale = min(
        (size - 6.0) / max(extent, 1e-6)
        for size, extent in zip(_SKETCH_PX, (wide, high), strict=True)
    )
    left, top = (
        (size - extent * scale) / 2.0 for size, extent in zip(_SKETCH_PX, (wide, high), strict=True)
    )
    step = math.ceil(len(points) / _SKETCH_POINTS)
    return " ".join(
        "M"
        + " L".join(
            f"{left + (lon - west) * squeeze * scale:.1f} {top + (north - lat) * scale:.1f}"
            for lon, lat in (*line[::step], line[-1])
        )
        for line in lines
    )
