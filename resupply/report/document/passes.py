"""Places and passes of a plan as rows of its document."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, Literal, TypedDict, cast

import numpy as np

from resupply.hours.state import BY_HOURS, OpenState
from resupply.hours.timetable import known_around
from resupply.places.fuels import supplied
from resupply.places.place import Supply
from resupply.places.tags import kind_words
from resupply.report.document.model.base import iso
from resupply.report.document.model.places import DoorTimes, PassRole, PassRow, PlaceRow
from resupply.roads.detours import STRAIGHT_FACTOR
from resupply.say.door_hours import door_hours
from resupply.say.states import state_key

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from resupply.common.quantity import Sentence
    from resupply.plan.pipeline import TripPlan
    from resupply.say.names import Words
    from resupply.supply.food_stops import FoodStop

__all__ = [
    "SIDES",
    "day_numbers",
    "iso",
    "pass_id",
    "pass_rows",
    "place_rows",
    "roles_of",
    "row_of",
    "rows_ahead",
]

_SHOPS: Final = (Supply.GROCERIES, Supply.SMALL_GROCERIES)
_DOORS_BEFORE_S: Final = 12 * 3600
"""A rider may be half a day early: our choice."""
_DOORS_AFTER_S: Final = 36 * 3600
"""Late by a day and a half, the plan is made anew: our choice."""


_STATE_KEYS: Final = {int(state): state_key(state) for state in OpenState}
# As `Passes.side` counts them.
SIDES: Final[dict[int, Literal["left", "on", "right"]]] = {-1: "left", 0: "on", 1: "right"}
"""The side of a pass by the sign of its offset."""


def place_rows(plan: TripPlan) -> dict[str, PlaceRow]:
    """Places that are passed, by id."""
    places = plan.prepared.places.places
    used = sorted({int(ix) for ix in plan.prepared.passes.place_ix})
    return {
        places[ix].id: PlaceRow(
            name=places[ix].name,
            kind=places[ix].kind,
            kind_words=kind_words(places[ix].kind),
            lon=round(places[ix].lon, 5),
            lat=round(places[ix].lat, 5),
            supplies={
                str(k): v.value
                for k, v in sorted(supplied(places[ix], plan.trip.fuel.takes).items())
            },
            opening_hours=places[ix].opening_hours,
            hours_words=door_hours(places[ix].opening_hours),
            tags=dict(places[ix].tags),
        )
        for ix in used
    }


def pass_id(row: int) -> str:
    """Name a pass row within the document."""
    return f"p{row}"


def row_of(name: str) -> int:
    """Pass row of a name within the document."""
    return int(name.removeprefix("p"))


def pass_rows(plan: TripPlan, words: Words, *, quick: bool = False) -> tuple[PassRow, ...]:
    """Rows of all passes ahead, in order of chainage; quick ones of those the plan uses only.

    What is behind a rider under way is no pass any more, unless the plan goes back there.

    Parameters
    ----------
    quick
        While the rider drags: the rest is told in columns (`pass_columns`), and words of the
        stops only.
    """
    roles = roles_of(plan)
    passes, prepared, places = plan.prepared.passes, plan.prepared, plan.prepared.places.places
    ahead = rows_ahead(plan, roles)
    if quick:
        ahead = ahead[np.isin(ahead, list(roles))]

    def column(values: NDArray[Any]) -> list[Any]:
        return cast("list[Any]", values[ahead].tolist())

    def whole(values: NDArray[np.float64]) -> list[int]:
        return column(np.rint(values).astype(np.int64))

    walk_m = prepared.detours.walk_m
    on_foot = np.isfinite(walk_m)
    out: list[PassRow] = []
    for row, place_ix, at_m, offset_m, side, leg, eta_s, risk, far_m, far_s, foot_m in zip(
        ahead.tolist(),
        column(passes.place_ix),
        whole(passes.chainage_m),
        whole(passes.offset_m),
        column(passes.side),
        column(day_numbers(plan)),
        column(plan.arrive_s),
        column(plan.risk),
        whole(plan.detour_m),
        whole(plan.detour_s),
        whole(np.where(on_foot, walk_m, -1.0)),
        strict=True,
    ):
        role = roles.get(row, "other")
        drawn = role != "other" and prepared.by_road[row]
        hours: _Hours = _hours(plan, words, row) if not quick or role == "stop" else {}
        out.append(
            PassRow(
                id=pass_id(row),
                place=places[place_ix].id,
                chainage_m=at_m,
                offset_m=offset_m,
                side=SIDES[side],
                leg=leg,
                eta=words.local(row, eta_s),
                state=_STATE_KEYS[risk],
                detour_m=far_m,
                detour_s=far_s,
                walk_m=foot_m if foot_m >= 0 else None,
                detour_path=_path(plan, row) if drawn else None,
                role=role,
                **hours,
            )
        )
    return tuple(out)


def rows_ahead(plan: TripPlan, roles: Mapping[int, PassRole]) -> NDArray[np.int64]:
    """Rows of the passes ahead, and of those behind that have a role: the plan goes back there."""
    passes = plan.prepared.passes
    ahead = np.maximum(passes.chainage_m, plan.prepared.leave_m) >= plan.legs[0].start_m
    ahead[[row for row in roles if row >= 0]] = True
    return np.flatnonzero(ahead)


def day_numbers(plan: TripPlan) -> NDArray[np.int64]:
    """(m,) riding day of every pass."""
    leg_ix = plan.clock.leg_ix(plan.prepared.passes.chainage_m)
    # A shop visited from camp belongs to the day that ends there, also where it lies beyond,
    # with the ice beside it.
    for row, stop in _visited(plan):
        leg_ix[row] = stop.leg_ix
    return np.array([leg.number for leg in plan.legs])[leg_ix]


def _visited(plan: TripPlan) -> Iterator[tuple[int, FoodStop]]:
    """Give the passes at the spots of the food stops, those visited on the road last."""
    stops = sorted(plan.supply.stops, key=lambda stop: not stop.from_camp)
    for stop in stops:
        yield stop.row, stop
        yield from ((row, stop) for row, number in plan.with_ice.items() if number == stop.number)


def roles_of(plan: TripPlan) -> dict[int, PassRole]:
    """Say what the plan uses each pass for; the foremost use wins."""
    stops = plan.supply.stops
    roles: dict[int, PassRole] = dict.fromkeys((s.fallback.row for s in stops), "fallback")
    roles |= dict.fromkeys((s.meal_out.row for s in stops), "fallback")
    roles |= {stop.row: "ice" for stop in plan.ice}
    return roles | {stop.row: "stop" for stop in stops}


class _Hours(TypedDict, total=False):
    """What a pass tells of hours and of the way there."""

    supplies: tuple[str, ...]
    eta_early: dt.datetime
    eta_late: dt.datetime
    state_words: Sentence
    holiday_unsaid: bool
    next_open: dt.datetime | None
    next_close: dt.datetime | None
    doors: DoorTimes | None
    detour_source: str


def _hours(plan: TripPlan, words: Words, row: int) -> _Hours:
    arrive_s, half_s = float(plan.arrive_s[row]), float(plan.half_width_s[row])
    said = words.hours(row, arrive_s)
    return {
        "supplies": tuple(str(k) for k in Supply if plan.prepared.supply[k][row]),
        "eta_early": words.local(row, arrive_s - half_s),
        "eta_late": words.local(row, arrive_s + half_s),
        "state_words": words.doubted(said, int(plan.risk[row])),
        "holiday_unsaid": said.holiday_unsaid,
        "next_open": said.next_open,
        "next_close": said.next_close,
        "doors": _doors(plan, row, arrive_s),
        "detour_source": _detour_source(plan, row),
    }


def _doors(plan: TripPlan, row: int, arrive_s: float) -> DoorTimes | None:
    """Stated openings of a shop around the planned arrival, for riders early or late.

    UTC seconds, so that a script compares them as they are; it uses nothing else.
    """
    timetable = plan.prepared.timetable
    if timetable is None or not any(plan.prepared.supply[kind][row] for kind in _SHOPS):
        return None
    since_s, until_s = int(arrive_s) - _DOORS_BEFORE_S, int(arrive_s) + _DOORS_AFTER_S
    place_ix = int(plan.prepared.passes.place_ix[row])
    near = known_around(timetable, place_ix, arrive_s, since_s=since_s, until_s=until_s)
    if not near:
        return None
    known_from_s, known_to_s = max(near[0].start_s, since_s), min(near[-1].end_s, until_s)
    return DoorTimes(
        known_from_s=known_from_s,
        known_to_s=known_to_s,
        # Cut to what is known: how many days of hours were worked out is no fact of the door.
        open=tuple(
            (max(part.start_s, known_from_s), min(part.end_s, known_to_s))
            for part in near
            if part.state in BY_HOURS
        ),
        unless_holiday=any(part.state is OpenState.UNLESS_HOLIDAY for part in near),
        stay_s=math.ceil(plan.stay_s[row]),
    )


def _path(plan: TripPlan, row: int) -> tuple[tuple[float, float], ...]:
    """Way there and back as one line of [lon, lat] points."""
    detours = plan.prepared.detours
    return tuple(
        (round(float(lon), 5), round(float(lat), 5))
        for line in (detours.path_out[row], detours.path_back[row])
        for lon, lat in zip(*line, strict=True)
    )


def _detour_source(plan: TripPlan, row: int) -> str:
    if plan.prepared.by_road[row]:
        return "by road"
    why = plan.prepared.no_road[row]
    estimate = f"estimate: straight line there and back × {STRAIGHT_FACTOR:g}"
    return f"not known by road ({why}); {estimate}" if why else estimate
