"""Passes of a plan column by column, for a page that draws each step of a drag.

A row a pass (`passes.pass_rows`) is what files hold; thousands of rows are most of the work of an
answer, on both sides. What no setting changes is told once, the rest with each step.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, Final, cast
from zoneinfo import ZoneInfo

import numpy as np

from resupply.hours.state import OpenState
from resupply.report.document.passes import SIDES, day_numbers, roles_of, rows_ahead
from resupply.say.states import state_key

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.plan.pipeline import TripPlan
    from resupply.plan.prepared import Prepared

__all__ = ["columns_along", "columns_now"]

_WEEK_S: Final = 7 * 86_400
"""No zone changes its clocks there and back within a week: our choice."""


def columns_along(prepared: Prepared) -> dict[str, Any]:
    """Give what is the same for every plan on this map, one value a pass."""
    passes, walk_m = prepared.passes, prepared.detours.walk_m
    places = prepared.places.places
    return {
        "place": [places[ix].id for ix in passes.place_ix.tolist()],
        "chainage_m": _whole(passes.chainage_m),
        "offset_m": _whole(passes.offset_m),
        "side": [SIDES[side] for side in passes.side.tolist()],
        "walk_m": [
            round(foot_m) if known else None
            for foot_m, known in zip(walk_m.tolist(), np.isfinite(walk_m).tolist(), strict=True)
        ],
        # What the numbers of `state` mean.
        "states": [state_key(state) for state in sorted(OpenState)],
    }


def columns_now(plan: TripPlan) -> dict[str, Any]:
    """Give what this plan has for the passes ahead, one value each, in order of `rows`."""
    ahead = rows_ahead(plan, roles_of(plan))
    every = ahead.size == plan.prepared.passes.chainage_m.size
    return {
        "rows": None if every else ahead.tolist(),
        "leg": day_numbers(plan)[ahead].tolist(),
        "eta": _local(plan, ahead),
        "state": plan.risk[ahead].tolist(),
        "detour_m": _whole(plan.detour_m[ahead]),
        "detour_s": _whole(plan.detour_s[ahead]),
    }


def _whole(values: NDArray[np.float64]) -> list[int]:
    return cast("list[int]", np.rint(values).astype(np.int64).tolist())


def _local(plan: TripPlan, rows: NDArray[np.int64]) -> list[str]:
    """Local times of arrival as `model.base.iso` writes them, a whole zone at once."""
    timetable, clock = plan.prepared.timetable, plan.clock
    at_s = np.floor(plan.arrive_s[rows]).astype(np.int64)
    legs = clock.leg_ix(plan.prepared.passes.chainage_m[rows]).tolist()
    names = timetable.zones if timetable is not None else ()
    zones: dict[dt.tzinfo | None, list[int]] = {}
    for k, (place_ix, leg) in enumerate(
        zip(plan.prepared.passes.place_ix[rows].tolist(), legs, strict=True)
    ):
        name = names[place_ix] if names else ""
        zone = ZoneInfo(name) if name else clock.legs[leg].depart.tzinfo
        zones.setdefault(zone, []).append(k)
    offset_s = np.zeros(rows.size, dtype=np.int64)
    for zone, of in zones.items():
        offset_s[of] = _offsets_s(zone, at_s[of])
    local = np.datetime_as_string((at_s + offset_s).astype("M8[s]"), unit="m").tolist()
    return [f"{time}{_signed(ahead)}" for time, ahead in zip(local, offset_s.tolist(), strict=True)]


def _offsets_s(zone: dt.tzinfo | None, at_s: NDArray[np.int64]) -> NDArray[np.int64]:
    """How far a zone's clocks are ahead of UTC at each instant, seconds."""
    offset_s = np.empty(at_s.size, dtype=np.int64)
    weeks = at_s // _WEEK_S
    for week in np.unique(weeks).tolist():
        within = np.flatnonzero(weeks == week)
        first, last = (_offset_s(zone, int(end(at_s[within]))) for end in (np.min, np.max))
        if first == last:
            offset_s[within] = first
        else:
            offset_s[within] = [_offset_s(zone, one) for one in at_s[within].tolist()]
    return offset_s


def _offset_s(zone: dt.tzinfo | None, at_s: int) -> int:
    offset = dt.datetime.fromtimestamp(at_s, zone or dt.UTC).utcoffset()
    return round(offset.total_seconds()) if offset is not None else 0


def _signed(ahead_s: int) -> str:
    """Write an offset as ISO 8601 does: +02:00."""
    hours, minutes = divmod(abs(ahead_s) // 60, 60)
    return f"{'-' if ahead_s < 0 else '+'}{hours:02d}:{minutes:02d}"
