"""All visits that may be made: shops on the road, and near camp in the evening or on a rest day.

In: candidates, the clock and a judge of opening hours. Out: the `VisitProblem` that the solver is
asked, and what each of its rows stands for.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from resupply.hours.state import OpenState
from resupply.supply.hours_from_camp import camps_of
from resupply.supply.open_risk import shut_chance
from resupply.supply.trip_hours import TripHours
from resupply.supply.visit_solver import NEVER, STEP_MIN, VisitProblem

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.supply.candidates import Candidates, Judge
    from resupply.trip.choice import ChanceKeys, ChoiceKeys

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

__all__ = ["OUT_HALF_S", "Asked", "VisitOptions", "make_options"]

_DELAY_STEPS: Final = 48
"""Up to four hours in earlier shops of the same day."""
OUT_HALF_S: Final = 600.0
"""From camp the rider chooses the hour and keeps it within ten minutes (ours)."""
_LATER_MIN_PER_H: Final = 0.02
"""Among equally sure hours the later one: fresher food (breaks ties, nothing more)."""
_FALLBACK_STEP: Final = 6
"""A fallback is judged half an hour late: the time lost at the shut door."""
_PIN_MIN: Final = 20_000.0
"""A wish goes before all minutes, and after the carry limit."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the rider asks of the choice."""

    weights: ChoiceKeys
    chances: ChanceKeys
    style: float
    limit_meals: int
    """To eat; spare ones not counted."""
    habit_meals: int
    start_meals: int | None
    """What is on board of a rider under way, or in the larder; None: what is needed."""
    latest_camp: dt.time
    cooler: bool
    tank: bool
    """Fuel is planned."""
    from_home: bool
    """The first stretch is fed from a kitchen."""
    ice_rows: frozenset[int] = frozenset()
    """Passes where the cooler needs ice: food is bought there too, as if the rider had asked."""
    shop_free_days: frozenset[int] = frozenset()
    """Numbers of the riding days on which the rider does not want to shop."""

    def keeps_free(self, clock: RideClock) -> NDArray[np.bool_]:
        """(L,) riding days without a shop."""
        return np.array([leg.number in self.shop_free_days for leg in clock.legs], dtype=bool)

    def wished(self, candidates: Candidates) -> NDArray[np.bool_]:
        """(n,) where a stop is made whatever it costs, if the door is open."""
        return candidates.pinned | np.isin(candidates.row, sorted(self.ice_rows))


@dataclass(frozen=True, slots=True, eq=False)
class VisitOptions:
    """v possible visits; rows of `problem`."""

    problem: VisitProblem
    candidate: Ints
    """(v,) row of the candidates."""
    at_s: Floats
    """(v,) UTC epoch at the door without other stops; from camp, the hour chosen."""
    state: NDArray[np.int8]
    """(v, D) codes of `OpenState` by steps lost."""
    shut_chance: Floats
    """(v, D) chance that the door is shut."""
    way_s: Floats
    """(v,) riding seconds there and back."""

    def on_road(self) -> Ints:
        """(n,) the visit on the road of each candidate."""
        road = np.flatnonzero(self.problem.from_camp == 0)
        return road[np.argsort(self.candidate[road], kind="stable")]


def make_options(
    candidates: Candidates, clock: RideClock, judge: Judge, asked: Asked
) -> VisitOptions:
    """Lay out every visit that may be made.

    Parameters
    ----------
    candidates
        n food shops passed, in order of chainage, their ways within their days.
    """
    road = _on_the_road(candidates, clock, judge, asked)
    # A wish counts once: from camp only where the door is shut to those who pass.
    wished = asked.wished(candidates) & ~np.isfinite(road.cost_min).any(axis=1)
    camp = _from_camp(candidates, clock, judge, asked, steps=road.cost_min.shape[1], wished=wished)
    order = np.lexsort(
        (
            # Where the route is left for it: nobody rides back to a shop passed before.
            candidates.chainage_m[np.concatenate([road.candidate, camp.candidate])],
            np.concatenate([road.from_camp, camp.from_camp]),
            np.concatenate([road.leg_ix, camp.leg_ix]),
        )
    )

    def both(name: str) -> NDArray[Any]:
        return np.concatenate([getattr(road, name), getattr(camp, name)])[order]

    candidate, at_s, meals = both("candidate"), both("at_s"), both("meals")
    hours = TripHours(clock, asked.weights)
    w, cost_min = asked.weights, both("cost_min")
    never = ~np.isfinite(cost_min)
    cost = np.where(never, NEVER, np.rint(np.where(never, 0.0, cost_min) * 1000.0))
    start_s = np.append(at_s, clock.start_s)
    fresh_min, dinner = hours.fresh(start_s, cold_from_home=asked.cooler and asked.from_home)
    first_meal = np.append(meals, 0)
    limit = asked.limit_meals
    problem = VisitProblem(
        leg_ix=both("leg_ix"),
        from_camp=both("from_camp"),
        meals=meals,
        own_steps=both("own_steps"),
        cost=cost.astype(np.int64),
        load_from=hours.until_meal(start_s, first_meal),
        over_from=_over_from(candidates, w, clock.end_meals)[candidate],
        meal_hours=hours.at_meals,
        dinner=dinner,
        fresh_min=fresh_min,
        style=asked.style,
        carry_min=w.carry_min,
        convex_from=w.convex_meals,
        limit=limit,
        start_limit=limit if asked.start_meals is None else min(asked.start_meals, limit),
        habit=asked.habit_meals,
        habit_min=w.habit_min,
    )
    return VisitOptions(
        problem=problem,
        candidate=candidate,
        at_s=at_s,
        state=both("state"),
        shut_chance=both("shut_chance"),
        way_s=both("way_s"),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _VisitRows:
    """Columns of visits of one kind."""

    candidate: Ints
    leg_ix: Ints
    from_camp: Ints
    at_s: Floats
    meals: Ints
    own_steps: Ints
    cost_min: Floats
    """(v, D); infinite where the door is shut."""
    state: NDArray[np.int8]
    shut_chance: Floats
    way_s: Floats


def _visit_min(way_min: Floats, rows: Ints, candidates: Candidates, asked: Asked) -> Floats:
    """Minutes of a visit that depend on neither the hour nor what is bought."""
    w = asked.weights
    minutes = way_min + (w.far_factor - 1.0) * np.maximum(way_min - w.far_min, 0.0)
    minutes = minutes + candidates.stop_min[rows]
    small = np.where(candidates.special, w.special_min, w.small_min)
    minutes = minutes + np.where(candidates.full, 0.0, small)[rows]
    if asked.cooler:
        minutes = minutes + np.where(candidates.ice, 0.0, w.no_ice_min)[rows]
    if asked.tank:
        minutes = minutes - np.where(candidates.pump, w.pump_min, 0.0)[rows]
    return np.asarray(minutes)


def _on_the_road(
    candidates: Candidates, clock: RideClock, judge: Judge, asked: Asked
) -> _VisitRows:
    w, rows = asked.weights, np.arange(len(candidates.row))
    own_steps = np.ceil(
        (candidates.stop_min * 60.0 + candidates.detour_s) / (STEP_MIN * 60.0) - 1e-9
    ).astype(np.int64)
    # Wishes may need more than the usual four hours in one day.
    steps = _DELAY_STEPS + int(own_steps[asked.wished(candidates)].sum())
    lost_s = np.arange(steps) * STEP_MIN * 60.0
    at_s = candidates.nominal_s(clock)
    arrive_s = at_s[:, None] + lost_s[None, :]
    chainage_m = np.broadcast_to(candidates.chainage_m[:, None], arrive_s.shape)
    judged = judge(
        np.broadcast_to(candidates.row[:, None], arrive_s.shape),
        arrive_s,
        clock.half_width_s(chainage_m, arrive_s),
        np.broadcast_to(candidates.stop_min[:, None] * 60.0, arrive_s.shape),
    )
    chance = shut_chance(asked.chances, judged)
    way_min = candidates.detour_s / 60.0
    leg_ix = clock.leg_ix(candidates.chainage_m)
    base_min = _visit_min(way_min, rows, candidates, asked)
    base_min = base_min - np.where(asked.wished(candidates), _PIN_MIN, 0.0)
    fallback_min = _fallback_min(candidates, leg_ix, judged.state, chance, w)
    doubt = chance * (w.door_min + fallback_min[:, None]) + np.where(chance > 0.5, w.doubt_min, 0.0)
    late = _late_min(clock, asked.latest_camp, 2 * steps)[leg_ix]
    after = np.minimum(np.arange(steps)[None, :] + own_steps[:, None], 2 * steps - 1)
    more_late = np.take_along_axis(late, after, axis=1) - late[:, :steps]
    cost_min = base_min[:, None] + doubt + w.late_factor * more_late
    cost_min[:, 1:] += w.second_min
    free = asked.keeps_free(clock)[leg_ix] & ~candidates.pinned
    # What lies behind a rider under way is reached from the camp only, if at all.
    behind = candidates.chainage_m < clock.legs[0].start_m
    no_visit = (judged.state == OpenState.SHUT) | (free | behind)[:, None]
    return _VisitRows(
        candidate=rows,
        leg_ix=leg_ix,
        from_camp=np.zeros(len(rows), dtype=np.int64),
        at_s=at_s,
        meals=clock.meals_before(candidates.chainage_m),
        own_steps=own_steps,
        cost_min=np.where(no_visit, np.inf, cost_min),
        state=judged.state,
        shut_chance=chance,
        way_s=candidates.detour_s,
    )


def _late_min(clock: RideClock, latest_camp: dt.time, steps: int) -> Floats:
    """(L, steps) minutes in camp after the latest time, by steps lost."""
    rows = []
    for ix, leg in enumerate(clock.legs):
        latest = dt.datetime.combine(leg.date, latest_camp, tzinfo=clock.zone_after(ix))
        over_min = (leg.arrive - latest).total_seconds() / 60.0
        rows.append(np.maximum(over_min + STEP_MIN * np.arange(steps), 0.0))
    return np.stack(rows)


def _fallback_min(
    candidates: Candidates,
    leg_ix: Ints,
    state: NDArray[np.int8],
    chance: Floats,
    w: ChoiceKeys,
) -> Floats:
    """(n,) what a shut door costs: the cheapest other shop that day, with its own doubt."""
    step = min(_FALLBACK_STEP, chance.shape[1] - 1)
    kind = np.where(candidates.full, 0.0, np.where(candidates.special, w.special_min, w.small_min))
    # What each costs as a fallback, but for its own fallback.
    own_min = (candidates.detour_s / 60.0 + kind + chance[:, step] * w.door_min).tolist()
    shut_code = int(OpenState.SHUT)
    shut, doubt = (state[:, step] == shut_code).tolist(), chance[:, step].tolist()
    legs, places = leg_ix.tolist(), candidates.place_ix.tolist()
    worth = np.full(len(legs), w.no_fallback_min)
    # Only the two cheapest of different places can ever be asked for.
    first, second, leg = (np.inf, -1), (np.inf, -1), -1
    for j in range(len(legs) - 1, -1, -1):
        if legs[j] != leg:
            first, second, leg = (np.inf, -1), (np.inf, -1), legs[j]
        other = second[0] if first[1] == places[j] else first[0]
        worth[j] = fallback = min(other, w.no_fallback_min)
        if shut[j]:
            continue
        own = (own_min[j] + doubt[j] * fallback, places[j])
        if own[0] < first[0]:
            first, second = own, second if first[1] == own[1] else first
        elif own[0] < second[0] and own[1] != first[1]:
            second = own
    return worth


def _from_camp(
    candidates: Candidates,
    clock: RideClock,
    judge: Judge,
    asked: Asked,
    *,
    steps: int,
    wished: NDArray[np.bool_],
) -> _VisitRows:
    """Shops a short ride from a camp, each evening and rest day at its best hour."""
    w = asked.weights
    found: list[tuple[int, int, int, float, float, int, float, float]] = []
    ride_time = clock.legs[0].ride_time
    for leg_ix, camp_m, turns in camps_of(clock, asked.shop_free_days):
        ride_s = np.abs(ride_time.at(candidates.pass_m) - float(ride_time.at(camp_m)))
        # The way is back and forth along the route, and off it there and back.
        one_way_s = ride_s + candidates.out_s
        near = np.flatnonzero(one_way_s <= w.evening_way_min * 60.0)
        if not near.size:
            continue
        for turn, hours_s in turns:
            shape = (near.size, len(hours_s))
            judged = judge(
                np.broadcast_to(candidates.row[near][:, None], shape),
                np.broadcast_to(hours_s[None, :], shape),
                np.full(shape, OUT_HALF_S),
                np.broadcast_to(candidates.stop_min[near][:, None] * 60.0, shape),
            )
            chance = shut_chance(asked.chances, judged)
            doubt = chance * (w.door_min + w.no_fallback_min)
            doubt += np.where(chance > 0.5, w.doubt_min, 0.0)
            later = (hours_s - hours_s[0]) / 3600.0 * _LATER_MIN_PER_H
            doubt = np.where(judged.state == OpenState.SHUT, np.inf, doubt - later[None, :])
            best = doubt.argmin(axis=1)
            for k, j in enumerate(near.tolist()):
                hour = int(best[k])
                if np.isfinite(doubt[k, hour]):
                    found.append(
                        (
                            j, leg_ix, turn, float(hours_s[hour]), float(doubt[k, hour]),
                            int(judged.state[k, hour]), float(chance[k, hour]),
                            2.0 * float(one_way_s[j]),
                        )
                    )  # fmt: skip
    columns = list(zip(*found, strict=True)) if found else [()] * 8
    rows, at_s, way_s = (
        np.array(columns[0], dtype=np.int64),
        np.array(columns[3], dtype=float),
        np.array(columns[7], dtype=float),
    )
    minutes = _visit_min(way_s / 60.0, rows, candidates, asked) + np.array(columns[4])
    first = np.zeros(len(rows), dtype=bool)
    first[np.unique(rows, return_index=True)[1]] = True
    minutes -= np.where(first & wished[rows], _PIN_MIN, 0.0)
    cost_min = np.full((len(rows), steps), np.inf)
    cost_min[:, 0] = minutes
    meal_s = np.array([meal.when.timestamp() for meal in clock.meals])
    return _VisitRows(
        candidate=rows,
        leg_ix=np.array(columns[1], dtype=np.int64),
        from_camp=np.array(columns[2], dtype=np.int64),
        at_s=at_s,
        meals=np.searchsorted(meal_s, at_s, side="left").astype(np.int64),
        own_steps=np.zeros(len(rows), dtype=np.int64),
        cost_min=cost_min,
        state=np.broadcast_to(np.array(columns[5], dtype=np.int8)[:, None], cost_min.shape),
        shut_chance=np.broadcast_to(np.array(columns[6])[:, None], cost_min.shape),
        way_s=way_s,
    )


def _over_from(candidates: Candidates, w: ChoiceKeys, meals: int) -> Ints:
    """(n, M + 1) milli-minutes for buying more meals at a small shop than it is good for."""
    n = np.arange(meals + 1)

    def row(good_for: int, over_min: float) -> Floats:
        k = np.maximum(n - good_for, 0)
        return np.asarray(over_min * k * (k + 1) / 2)

    small = row(w.small_meals, w.small_over_min)
    special = row(w.special_meals, w.special_over_min)
    minutes = np.where(candidates.special[:, None], special[None, :], small[None, :])
    minutes = np.where(candidates.full[:, None] & ~candidates.special[:, None], 0.0, minutes)
    return np.rint(minutes * 1000.0).astype(np.int64)
