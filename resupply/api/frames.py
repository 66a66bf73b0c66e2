"""Tables of a plan: geopandas frames in EPSG:4326, made anew for every caller.

In: a `TripPlan` and what is made from it. Out: frames with the columns of docs/python-api.md.
Times are UTC to the second; the column `time_zone` names the local zone, for a route may cross
several and a column of local times holds one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import geopandas
import numpy as np
import pandas as pd
import shapely

from resupply.kitchen.on_board import food_weight
from resupply.places.fuels import supplied
from resupply.places.place import Confidence, Supply
from resupply.plan.days import surface_of
from resupply.report.document.passes import pass_id, roles_of, rows_ahead
from resupply.report.lines import stretch_lines
from resupply.roads.match import SurfaceMix
from resupply.say.names import Words
from resupply.say.states import state_key
from resupply.say.stops import explain_stops

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Sequence

    from geopandas import GeoDataFrame
    from pandas import DataFrame

    from resupply.kitchen.cold.weather import DayWeather
    from resupply.kitchen.plan import KitchenPlan
    from resupply.plan.pipeline import TripPlan
    from resupply.route.legs import Leg

__all__ = [
    "gaps_frame",
    "legs_frame",
    "nights_frame",
    "passes_frame",
    "places_frame",
    "stops_frame",
    "sweep_frame",
]

_CRS = "EPSG:4326"
_TIMES = ("arrive", "leave", "depart", "eta", "eta_early", "eta_late")
_TEXTS = ("name", "place", "pass", "state", "why", "time_zone", "kind", "role", "supply", "best")
_FLAGS = ("full", "by_road", "crosses_unknown", "longest", "chosen", "stated")
_SWEPT = ("days", "stops", "max_carry_meals", "excess_meals", "extra_min", "shut_on_arrival",
          "doubtful_stops")  # fmt: skip
_COUNTS = ("day", "carry_meals", "spare_meals", "meals", *_SWEPT)


def stops_frame(plan: TripPlan, kitchen: KitchenPlan) -> GeoDataFrame:
    """Food stops in order; food carried is for the whole party, kg, meals are a person's."""
    words, masses = Words(plan), food_weight(plan.trip, plan.supply, kitchen).stops_kg
    reasons = explain_stops(plan.supply, words)
    stops = plan.supply.stops
    zones = [_zone(plan, stop.leg_ix) for stop in stops]
    table = {
        "name": [words.name(stop.row) for stop in stops],
        "place": [words.place(stop.row).id for stop in stops],
        "pass": [pass_id(stop.row) for stop in stops],
        "day": [plan.legs[stop.leg_ix].number for stop in stops],
        "chainage_m": [words.chainage_m(stop.row) for stop in stops],
        "arrive": [stop.arrive_s for stop in stops],
        "leave": [stop.leave_s for stop in stops],
        "time_zone": zones,
        "state": [state_key(stop.risk) for stop in stops],
        "full": [stop.full for stop in stops],
        "carry_meals": [stop.carry_meals for stop in stops],
        "spare_meals": [plan.supply.spare_meals] * len(stops),
        "carry_kg": list(masses),
        "to_m": [words.next_stop_m(stop.number) for stop in stops],
        "detour_m": [float(plan.detour_m[stop.row]) for stop in stops],
        "detour_s": [float(plan.detour_s[stop.row]) for stop in stops],
        "why": [_text(plan, reason.why) for reason in reasons],
    }
    shapes = [_point(words.place(stop.row).lon, words.place(stop.row).lat) for stop in stops]
    return _geo(table, shapes, "stop", [stop.number for stop in stops])


def legs_frame(
    plan: TripPlan, weather: Sequence[DayWeather], geometry: dict[str, Any]
) -> GeoDataFrame:
    """Days of riding in order; low_c and high_c are missing where not known."""
    legs, by_date = plan.legs, {day.date: day for day in weather}
    mixes = [surface_of(plan, leg) or _unknown(leg) for leg in legs]
    days = [by_date.get(leg.date) for leg in legs]
    table = {
        "date": [pd.Timestamp(leg.date) for leg in legs],
        "start_m": [leg.start_m for leg in legs],
        "end_m": [leg.end_m for leg in legs],
        "depart": [leg.depart.timestamp() for leg in legs],
        "arrive": [float(plan.clock.arrive_s(leg.end_m)[0]) for leg in legs],
        "time_zone": [_zone(plan, ix) for ix in range(len(legs))],
        "ride_s": [leg.ride_s for leg in legs],
        "low_c": [_known(day.low_c if day else None) for day in days],
        "high_c": [_known(day.high_c if day else None) for day in days],
        **{f"{name}_m": [float(getattr(mix, f"{name}_m")) for mix in mixes] for name in _SURFACES},
    }
    lines = [_line(geometry, leg.start_m, leg.end_m) for leg in legs]
    return _geo(table, lines, "day", [leg.number for leg in legs])


def places_frame(plan: TripPlan) -> GeoDataFrame:
    """Places passed, with a column for each supply; `stated` where none of it is inferred."""
    places = plan.prepared.places.places
    used = [places[ix] for ix in sorted({int(ix) for ix in plan.prepared.passes.place_ix})]
    has = [supplied(place, plan.trip.fuel.takes) for place in used]
    table: dict[str, list[Any]] = {
        "name": [place.name for place in used],
        "kind": [place.kind for place in used],
        **{str(kind): [kind in one for one in has] for kind in Supply},
        "stated": [all(sure is Confidence.STATED for sure in one.values()) for one in has],
        "opening_hours": [place.opening_hours for place in used],
    }
    shapes = [_point(place.lon, place.lat) for place in used]
    return _geo(table, shapes, "place", [place.id for place in used])


def passes_frame(plan: TripPlan) -> GeoDataFrame:
    """Every passing of a place ahead, in order of chainage."""
    passes, roles, words = plan.prepared.passes, roles_of(plan), Words(plan)
    rows = rows_ahead(plan, roles)
    leg_ix = plan.clock.leg_ix(passes.chainage_m[rows]).tolist()
    eta_s, half_s = plan.arrive_s[rows], plan.half_width_s[rows]
    table = {
        "place": [words.place(row).id for row in rows.tolist()],
        "day": [plan.legs[ix].number for ix in leg_ix],
        "chainage_m": passes.chainage_m[rows],
        "offset_m": passes.offset_m[rows],
        "eta": eta_s,
        "eta_early": eta_s - half_s,
        "eta_late": eta_s + half_s,
        "time_zone": [_zone(plan, ix) for ix in leg_ix],
        "state": [state_key(int(plan.risk[row])) for row in rows],
        "detour_m": plan.detour_m[rows],
        "detour_s": plan.detour_s[rows],
        "by_road": plan.prepared.by_road[rows],
        "role": [roles.get(row, "other") for row in rows.tolist()],
    }
    lon, lat = plan.prepared.route.positions_at(passes.chainage_m[rows])
    shapes = [_point(*at) for at in zip(lon, lat, strict=True)]
    return _geo(table, shapes, "pass", [pass_id(row) for row in rows.tolist()])


def gaps_frame(plan: TripPlan, geometry: dict[str, Any]) -> GeoDataFrame:
    """Stretches without each supply, in order; the longest of each supply is marked."""
    told = [(kind, gap, gaps.longest) for kind, gaps in plan.gaps.items() for gap in gaps]
    table = {
        "supply": [str(kind) for kind, _, _ in told],
        "start_m": [gap.start_m for _, gap, _ in told],
        "end_m": [gap.end_m for _, gap, _ in told],
        "ride_s": [gap.ride_s for _, gap, _ in told],
        "meals": [gap.meals for _, gap, _ in told],
        "crosses_unknown": [gap.crosses_unknown for _, gap, _ in told],
        "longest": [gap == longest for _, gap, longest in told],
    }
    lines = [_line(geometry, gap.start_m, gap.end_m) for _, gap, _ in told]
    return _geo(table, lines, "number", range(1, len(told) + 1))


def nights_frame(plan: TripPlan) -> GeoDataFrame:
    """Where each day but the last ends: `camp`, or `nominal` where no camp is known."""
    words, by_day = Words(plan), {night.day: night for night in plan.nights}
    legs = plan.legs[:-1]
    rows = [by_day[leg.number].row if leg.number in by_day else -1 for leg in legs]
    camps = [words.place(row) if row >= 0 else None for row in rows]
    table = {
        "kind": ["camp" if camp else "nominal" for camp in camps],
        "name": [words.name(row) if row >= 0 else None for row in rows],
        "place": [camp.id if camp else None for camp in camps],
        "end_m": [leg.end_m for leg in legs],
        "off_route_m": [float(plan.detour_m[row]) / 2.0 if row >= 0 else 0.0 for row in rows],
    }
    ends = [plan.prepared.route.position_at(leg.end_m) for leg in legs]
    shapes = [
        _point(camp.lon, camp.lat) if camp else _point(*end)
        for camp, end in zip(camps, ends, strict=True)
    ]
    return _geo(table, shapes, "day", [leg.number for leg in legs])


def sweep_frame(plan: TripPlan) -> DataFrame:
    """Daily distances compared; `best` names what a row is best at."""
    rows, first = plan.sweep, plan.legs[0].date
    chosen_m = plan.trip.pace.daily_km * 1000.0
    table = {
        "daily_km": [row.outcome.daily_m / 1000.0 for row in rows],
        "start": [pd.Timestamp(row.outcome.start_date) for row in rows],
        **{name: [getattr(row.outcome, name) for row in rows] for name in _SWEPT},
        "best": ["; ".join(row.best) for row in rows],
        "chosen": [
            abs(row.outcome.daily_m - chosen_m) < 1.0 and row.outcome.start_date == first
            for row in rows
        ],
    }
    return _frame(table, pd.RangeIndex(len(rows)))


_SURFACES = ("paved", "gravel", "track", "unknown")


def _unknown(leg: Leg) -> SurfaceMix:
    return SurfaceMix(0.0, 0.0, 0.0, leg.length_m)


def _zone(plan: TripPlan, leg_ix: int) -> str:
    zone: dt.tzinfo | None = plan.legs[leg_ix].depart.tzinfo
    return str(getattr(zone, "key", zone))


def _known(value: float | None) -> float:
    return float("nan") if value is None else value


def _text(plan: TripPlan, said: Any) -> str:
    from resupply.common.show import Show, with_text

    return str(with_text(said, Show(plan.trip.show.units, plan.trip.show.clock)))


def _point(lon: float, lat: float) -> shapely.Point:
    return shapely.Point(lon, lat)


def _line(geometry: dict[str, Any], start_m: float, end_m: float) -> shapely.MultiLineString:
    """Every part between two chainages; several where the route is broken, none where it is not."""
    return shapely.MultiLineString(stretch_lines(geometry, start_m, end_m))


def _geo(
    table: dict[str, Any], shapes: Iterable[Any], name: str, index: Iterable[Any]
) -> GeoDataFrame:
    frame = _frame(table, pd.Index(list(index), name=name))
    return geopandas.GeoDataFrame(frame, geometry=list(shapes), crs=_CRS)


def _frame(table: dict[str, Any], index: pd.Index[Any]) -> DataFrame:
    """Columns with their types, which an empty table has as well."""
    frame = pd.DataFrame(table, index=index)
    for column in frame.columns:
        values = frame[column]
        if column in _TIMES:
            whole = np.floor(values.to_numpy(dtype=float)).astype("datetime64[s]")
            frame[column] = pd.Series(whole, index=index).dt.tz_localize("UTC")
        elif column in _COUNTS:
            frame[column] = values.astype("int64")
        elif column in _FLAGS or column in set(Supply):
            frame[column] = values.astype(bool)
        elif column in {"date", "start"}:
            frame[column] = values.astype("datetime64[s]")
        elif column not in _TEXTS and column != "opening_hours":
            frame[column] = values.astype("float64")
    return frame
