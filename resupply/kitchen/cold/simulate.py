"""The inside of the cooler through the trip, and where its heat came from.

In: a `CoolerSteps` and the ice put in. Out: a `ColdTrace`, sampled at every grid point, twice where
something is put in or taken out, and at the moment the last ice melts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.common.units import S_PER_HOUR
from resupply.kitchen.cold.balance import add_ice, apply_moves, first_state, step
from resupply.kitchen.cold.heat import CP_WATER_KJ_PER_KG_K, LATENT_KJ_PER_KG

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from resupply.kitchen.cold.balance import IceLoad, State
    from resupply.kitchen.cold.steps import CoolerSteps

__all__ = ["LIMIT_C", "ColdTrace", "Energy", "simulate"]

LIMIT_C = 4.0
"""Perishables stay at or below this (40 °F, rounded down)."""

_Sample = tuple[float, float, float, float, float, float]
"""Time, inside, loose ice, frozen store, air, room taken."""
_CHORD_C = 0.02
"""So near the lines drawn are to the true curve: our choice, finer than anything told."""
_MOST_PIECES = 20
"""Samples are added within a step until chords are within 0.02 °C, twenty at most."""


@dataclass(frozen=True, slots=True)
class Energy:
    """Where the heat came from and went, kJ over the known part of the trip."""

    walls_kj: float
    sun_kj: float
    lid_kj: float
    goods_kj: float
    """Brought in by food, less what eaten food and poured-off water took out."""
    ice_kj: float
    """Bought cold: latent heat of the ice put in."""
    frost_kj: float
    """Outflow to frost that is not credited."""
    change_kj: float
    """Heat content at the end less at the start."""


@dataclass(frozen=True, slots=True, eq=False)
class ColdTrace:
    """Inside of the cooler through the trip. At a purchase there are two samples of one time."""

    times_s: NDArray[np.float64]
    """(m,) UTC seconds since 1970, not decreasing."""
    temp_c: NDArray[np.float64]
    """(m,) inside; NaN where the weather is not known."""
    ice_kg: NDArray[np.float64]
    """(m,) loose ice."""
    store_kg: NDArray[np.float64]
    """(m,) ice, packs and frozen food as kilograms of ice."""
    ambient_c: NDArray[np.float64]
    """(m,) air."""
    room_l: NDArray[np.float64]
    """(m,) room taken by food, packs and ice; without the ice where the weather is not known."""
    store_gone_s: tuple[float, ...]
    """Each time the last of the frozen store melted."""
    known_until_s: float
    energy: Energy

    def history(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Give strictly increasing times and temperatures; a jump takes a hundredth of a ms."""
        nudges_s = np.arange(len(self.times_s)) * 1e-5
        return np.maximum.accumulate(self.times_s - nudges_s) + nudges_s, self.temp_c

    def hours_above(
        self, limit_c: float = LIMIT_C, from_s: float = -math.inf, to_s: float = math.inf
    ) -> float:
        """Add up the hours above a limit between two times; NaN if any of that is not known."""
        spans = self.spans_above(limit_c, from_s, to_s)
        return sum(end - start for start, end in spans) / S_PER_HOUR

    def spans_above(
        self, limit_c: float = LIMIT_C, from_s: float = -math.inf, to_s: float = math.inf
    ) -> tuple[tuple[float, float], ...]:
        """List the times above a limit, UTC seconds; one NaN pair if part is not known."""
        from_s, to_s = max(from_s, float(self.times_s[0])), min(to_s, float(self.times_s[-1]))
        if from_s >= to_s:
            return ()
        if to_s > self.known_until_s:
            return ((math.nan, math.nan),)
        a_s, b_s, a_c, b_c = self._pieces(from_s, to_s, self.temp_c)
        part = np.maximum(a_c, b_c) > limit_c
        a_s, b_s, a_c, b_c = a_s[part], b_s[part], a_c[part], b_c[part]
        rise_c = np.where(a_c == b_c, 1.0, b_c - a_c)
        crossing_s = a_s + (b_s - a_s) * (limit_c - a_c) / rise_c
        starts_s = np.where(a_c > limit_c, a_s, crossing_s)
        ends_s = np.where(b_c > limit_c, b_s, crossing_s)
        # Pieces that touch are one span.
        apart = starts_s[1:] - ends_s[:-1] >= 1e-6
        first, last = np.append(True, apart), np.append(apart, True)
        if len(starts_s) == 0:
            return ()
        return tuple(zip(starts_s[first].tolist(), ends_s[last].tolist(), strict=True))

    def warmest_c(self, from_s: float, to_s: float) -> float:
        """Highest inside temperature between two known times, after what is put in at the first."""
        _, _, a_c, b_c = self._pieces(from_s, to_s, self.temp_c)
        return float(np.maximum(a_c, b_c).max())

    def no_store_from(self, from_s: float, to_s: float) -> float | None:
        """First time between two known times without ice, packs or frozen food."""
        a_s, _, a_kg, b_kg = self._pieces(from_s, to_s, self.store_kg)
        bare = np.flatnonzero((a_kg <= 0.0) & (b_kg <= 0.0))
        return float(a_s[bare[0]]) if len(bare) else None

    def _pieces(
        self, from_s: float, to_s: float, values: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        """Straight pieces of positive length within an interval: starts, ends, values at each."""
        a_s, b_s = self.times_s[:-1], self.times_s[1:]
        part = (b_s > a_s) & (b_s > from_s) & (a_s < to_s)
        a_s, b_s, a, b = a_s[part], b_s[part], values[:-1][part], values[1:][part]
        starts_s, ends_s = np.maximum(a_s, from_s), np.minimum(b_s, to_s)
        slope = (b - a) / (b_s - a_s)
        return starts_s, ends_s, a + slope * (starts_s - a_s), a + slope * (ends_s - a_s)


def simulate(line: CoolerSteps, loads: Sequence[IceLoad] = ()) -> ColdTrace:
    """Follow the cooler through the trip with the ice put in at given times.

    Parameters
    ----------
    loads
        Their times must have been marks of the timeline.

    Returns
    -------
    ColdTrace
        Without a cooler the inside is as warm as the air. From the first step whose weather
        is not known, everything is NaN.
    """
    at_index: dict[int, float] = {}
    for load in loads:
        at = line.index(load.at_s)
        at_index[at] = at_index.get(at, 0.0) + load.kg
    samples: list[_Sample] = []
    gone_s: list[float] = []
    account = _Account()
    state = first_state(line)
    start_kj = state.heat_kj
    bare = math.isinf(line.cooler.ua_w_per_k)
    for n in range(line.steps_known + 1):
        at_s, air_c = line.times_s[n], line.ambient_c[n]
        here = min(n, line.steps - 1)
        if bare:
            samples.append((at_s, air_c, 0.0, 0.0, air_c, line.used_l[here]))
            continue
        if n > 0:
            before = state
            state = step(line, n - 1, before)
            melted_share = account.add_step(line, n - 1, before)
            if before.heat_kj < 0.0 <= state.heat_kj:
                gone_s.append(line.times_s[n - 1] + melted_share * (at_s - line.times_s[n - 1]))
            samples.extend(_inside_step(line, n - 1, before, melted_share))
            samples.append(_sample(line, n - 1, at_s, state, air_c))
        if n in line.moves or n in at_index:
            before_kj = state.heat_kj
            state = apply_moves(state, line.moves.get(n, ()))
            if n in at_index:
                state = add_ice(state, at_index[n], line.capacity_kj_per_k[here])
                account.ice_kj += at_index[n] * LATENT_KJ_PER_KG
                before_kj -= at_index[n] * LATENT_KJ_PER_KG
            account.goods_kj += state.heat_kj - before_kj
            if n < line.steps:
                samples.append(_sample(line, here, at_s, state, air_c))
        elif n == 0:
            samples.append(_sample(line, 0, at_s, state, air_c))
    end_s = line.times_s[line.steps_known]
    samples.extend(
        (line.times_s[n], math.nan, math.nan, math.nan, line.ambient_c[n], line.used_l[n - 1])
        for n in range(line.steps_known + 1, line.steps + 1)
    )
    columns = np.array(samples).T
    columns.setflags(write=False)
    times_s, temp_c, ice_kg, store_kg, ambient_c, room_l = columns
    return ColdTrace(
        times_s=times_s,
        temp_c=temp_c,
        ice_kg=ice_kg,
        store_kg=store_kg,
        ambient_c=ambient_c,
        room_l=room_l,
        store_gone_s=tuple(gone_s),
        known_until_s=end_s,
        energy=account.close(0.0 if bare else state.heat_kj - start_kj),
    )


class _Account:
    """Running sums of the heat, by cause."""

    def __init__(self) -> None:
        self.walls_kj = self.sun_kj = self.lid_kj = self.frost_kj = 0.0
        self.goods_kj = self.ice_kj = 0.0

    def add_step(self, line: CoolerSteps, n: int, before: State) -> float:
        """Account for step n; return the share of it during which there was ice."""
        outside_c, leak = line.outside_c[n], line.leak_kj_per_k[n]
        capacity = _whole_capacity(line, n, before)
        melting_kj = leak * outside_c
        iced = 0.0
        if before.heat_kj < 0.0:
            iced = min(-before.heat_kj / melting_kj, 1.0) if melting_kj > 0.0 else 1.0
        mean_c = 0.0
        if iced < 1.0:
            warm = leak * (1.0 - iced)
            start_c = max(before.heat_kj, 0.0) / capacity
            fade = -math.expm1(-warm / capacity) * capacity / warm
            mean_c = (1.0 - iced) * (outside_c + (start_c - outside_c) * fade)
        seconds_k = (line.times_s[n + 1] - line.times_s[n]) / 1000.0
        walls = line.walls_w_per_k[n] * seconds_k
        lid = line.cooler.lid_w_per_k * seconds_k
        self.walls_kj += walls * (line.air_c[n] - mean_c)
        self.lid_kj += lid * (line.air_c[n] - mean_c)
        self.sun_kj += walls * line.sun_k[n]
        open_outside_kj = (walls + lid) * line.air_c[n] + walls * line.sun_k[n]
        self.frost_kj += leak * outside_c - open_outside_kj
        return iced

    def close(self, change_kj: float) -> Energy:
        return Energy(
            walls_kj=self.walls_kj,
            sun_kj=self.sun_kj,
            lid_kj=self.lid_kj,
            goods_kj=self.goods_kj,
            ice_kj=self.ice_kj,
            frost_kj=self.frost_kj,
            change_kj=change_kj,
        )


def _sample(line: CoolerSteps, n: int, at_s: float, state: State, air_c: float) -> _Sample:
    capacity = line.capacity_kj_per_k[n] + CP_WATER_KJ_PER_KG_K * state.water_kg
    temp_c = max(state.heat_kj, 0.0) / capacity
    room_l = line.used_l[n] + state.ice_kg * line.ice_l_per_kg
    return at_s, temp_c, state.ice_kg, state.store_kg, air_c, room_l


def _inside_step(line: CoolerSteps, n: int, before: State, iced_share: float) -> Iterator[_Sample]:
    """Sample a step where its ice ends, and after that so that straight lines are close."""
    if iced_share >= 1.0:
        return
    outside_c, leak = line.outside_c[n], line.leak_kj_per_k[n]
    capacity = _whole_capacity(line, n, before)
    start_c = max(before.heat_kj, 0.0) / capacity
    warm = leak * (1.0 - iced_share) / capacity
    # A chord of an exponential is off by its curvature times the length squared over 8.
    pieces = math.ceil(warm * math.sqrt(abs(outside_c - start_c) / (8.0 * _CHORD_C)))
    first = 0 if iced_share > 0.0 else 1
    for piece in range(first, max(min(pieces, _MOST_PIECES), 1)):
        part = piece / min(pieces, _MOST_PIECES) if pieces else 0.0
        temp_c = outside_c + (start_c - outside_c) * math.exp(-warm * part)
        share = iced_share + (1.0 - iced_share) * part
        at_s = line.times_s[n] + share * (line.times_s[n + 1] - line.times_s[n])
        air_c = line.ambient_c[n] + share * (line.ambient_c[n + 1] - line.ambient_c[n])
        yield at_s, temp_c, 0.0, 0.0, air_c, line.used_l[n]


def _whole_capacity(line: CoolerSteps, n: int, before: State) -> float:
    """Heat capacity in step n once everything is melted, kJ/K."""
    if line.cooler.meltwater == "drained":
        return line.capacity_kj_per_k[n]
    return line.capacity_kj_per_k[n] + CP_WATER_KJ_PER_KG_K * (before.water_kg + before.ice_kg)
