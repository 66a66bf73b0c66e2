"""How long food is carried, and how fresh a dinner is, by when it was bought.

In: the clock without stops and the weights. Out: weighted hours between instants and meals, and
what the dinner of a day is worth when cooked from food bought at an instant.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from resupply.route.clock import RideClock
    from resupply.trip.choice import ChoiceKeys

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

__all__ = ["TripHours"]


class TripHours:
    """Weighted hours, road hours and dinners along the trip, by the nominal clock."""

    def __init__(self, clock: RideClock, weights: ChoiceKeys) -> None:
        self.clock, self.weights = clock, weights
        depart = clock.depart_s
        arrive = np.array([leg.arrive.timestamp() for leg in clock.legs])
        self.knots_s = np.stack([depart, arrive], axis=1).ravel()
        spans_h = np.diff(self.knots_s, prepend=min(clock.start_s, self.knots_s[0])) / 3600.0
        on_road = np.tile([0.0, 1.0], len(depart))
        self.road_h = np.cumsum(spans_h * on_road)
        self.weighted_h = np.cumsum(spans_h * np.where(on_road > 0, 1.0, weights.camp_share))
        self.meal_s = np.array([meal.when.timestamp() for meal in clock.meals])
        self.at_meals = self._weighted(self.meal_s)

    def _weighted(self, at_s: Floats) -> Floats:
        inside = np.interp(at_s, self.knots_s, self.weighted_h)
        outside = np.minimum(at_s - self.knots_s[0], 0) + np.maximum(at_s - self.knots_s[-1], 0)
        return np.asarray(inside + outside / 3600.0 * self.weights.camp_share)

    def until_meal(self, at_s: Floats, meal: Ints) -> Floats:
        """Weighted hours from instants to the meals eaten first, never negative."""
        hours = np.append(self.at_meals, np.inf)[np.minimum(meal, len(self.at_meals))]
        apart = np.where(np.isfinite(hours), hours, 0.0) - self._weighted(at_s)
        return np.asarray(np.maximum(apart, 0.0))

    def fresh(self, at_s: Floats, *, cold_from_home: bool) -> tuple[Floats, Ints]:
        """Minutes that the dinner of each day is worth from there, and which meal it is.

        Parameters
        ----------
        cold_from_home
            The last instant is the start, and the first dinner comes cold from the kitchen.
        """
        w = self.weights
        dinners = [meal for meal in self.clock.meals if meal.kind == "dinner"]
        zone = self.clock.legs[0].depart.tzinfo
        # Each dinner's day, from midnight to midnight; never two of one day.
        days_s = np.array(
            [
                [dt.datetime.combine(day, dt.time(), tzinfo=zone).timestamp() for day in span]
                for span in ((one.date, one.date + dt.timedelta(days=1)) for one in dinners)
            ]
        ).reshape(-1, 2)
        number = np.searchsorted(days_s[:, 0], at_s, side="right") - 1
        inside = (number >= 0) & (at_s < np.append(days_s[:, 1], -np.inf)[number])
        index = np.append([meal.index for meal in dinners], -1).astype(np.int64)
        dinner = np.where(inside, index[number], -1)
        dinner_s = np.append(self.meal_s, np.inf)[dinner]
        known = np.where(dinner >= 0, dinner_s, at_s)
        road_h = np.interp(known, self.knots_s, self.road_h) - np.interp(
            at_s, self.knots_s, self.road_h
        )
        share = _falling(road_h, (w.fresh_road_h, w.stale_road_h)) * _falling(
            (known - at_s) / 3600.0, (w.fresh_h, w.stale_h)
        )
        share[-1] = float(cold_from_home)
        return np.where(dinner >= 0, w.fresh_min * share, 0.0), dinner


def _falling(x: Floats, span: tuple[float, float]) -> Floats:
    """1 up to the first bound, 0 from the second on, straight between."""
    return np.asarray(np.clip((span[1] - x) / max(span[1] - span[0], 1e-6), 0.0, 1.0))
