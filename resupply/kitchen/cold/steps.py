"""The trip cut into steps: what pushes heat in, and what goes in and out of the cooler.

In: a cooler, the air temperature, what is stored when. Out: a `CoolerSteps` of at most hourly
steps with everything the heat account needs, so that one plan can be tried many times cheaply.

Outside temperature of a step is the exact mean over it, sun included. Below 0 °C it counts as
0 °C: frost outside stops the melting but is not credited with making ice.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from resupply.kitchen.cold.cooler import stowage_l_per_kg
from resupply.kitchen.cold.heat import CP_WATER_KJ_PER_KG_K, LATENT_KJ_PER_KG, food_latent_kj_per_kg

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from resupply.kitchen.cold.cooler import Cooler, IceForm
    from resupply.kitchen.cold.weather import Span, Surroundings

__all__ = [
    "CoolerChange",
    "CoolerSteps",
    "Need",
    "Stored",
    "kept_by_frost",
    "make_timeline",
    "needs_of",
]

_STEP_S = 3600.0
"""An hour: the air's temperature is hardly curved within it."""
_VOLUME_L_PER_KG = 1.3
"""Room for packed food where none is stated (assumption)."""
_MIN_CAPACITY_KJ_PER_K = 0.05
"""An empty cooler still holds some air and skin."""


@dataclass(frozen=True, slots=True)
class Stored:
    """Something in the cooler, from when it is put in until it is eaten."""

    name: str
    mass_kg: float
    in_s: float
    """UTC seconds since 1970."""
    out_s: float
    temp_c: float = 4.0
    """When put in; frozen food counts as 0 °C, colder is not credited."""
    cp_kj_per_kg_k: float = 3.5
    volume_l: float | None = None
    frozen_water_share: float = 0.0
    """Share of water of food put in frozen; 0 for food that is not frozen."""
    perishable: bool = True

    @property
    def room_l(self) -> float:
        """Volume it takes."""
        return self.mass_kg * _VOLUME_L_PER_KG if self.volume_l is None else self.volume_l

    @property
    def frozen_kg(self) -> float:
        """Ice that would absorb as much heat in thawing."""
        latent_kj = self.mass_kg * food_latent_kj_per_kg(self.frozen_water_share)
        return latent_kj / LATENT_KJ_PER_KG


@dataclass(frozen=True, slots=True)
class Need:
    """A time during which something must stay cold."""

    start_s: float
    end_s: float
    what: str = ""
    kg: float = 0.0
    """Mass of food; 0 where it is none or not known."""


@dataclass(frozen=True, slots=True)
class CoolerChange:
    """One thing put in (`sign` +1) or taken out (-1) at a grid point."""

    sign: int
    capacity_kj_per_k: float
    temp_c: float
    frozen_kg: float
    capacity_before_kj_per_k: float
    frozen_before_kg: float
    """All that was put in frozen and is still inside (packs too), as if unmelted."""


@dataclass(frozen=True, slots=True, eq=False)
class CoolerSteps:
    """n steps between n + 1 grid points. Plain tuples, for quick scalar stepping."""

    cooler: Cooler
    times_s: tuple[float, ...]
    """(n + 1,) UTC seconds since 1970, increasing."""
    ambient_c: tuple[float, ...]
    """(n + 1,) air at each grid point; NaN where not known."""
    air_c: tuple[float, ...]
    """(n,) mean air over each step."""
    walls_w_per_k: tuple[float, ...]
    """(n,) mean heat leak through the walls; more while riding."""
    sun_k: tuple[float, ...]
    """(n,) mean excess of the skin over the air, weighted with that leak."""
    outside_c: tuple[float, ...]
    """(n,) effective outside temperature, at least 0."""
    leak_kj_per_k: tuple[float, ...]
    """(n,) heat let in per kelvin over each step, walls and lid."""
    capacity_kj_per_k: tuple[float, ...]
    """(n,) contents, liner and packs; meltwater not included."""
    used_l: tuple[float, ...]
    """(n,) room taken by food and packs."""
    ice_l_per_kg: float
    """Room a kilogram of ice takes; of several forms the roomiest."""
    needed: tuple[bool, ...]
    """(n,) something inside must stay cold during the step."""
    moves: dict[int, tuple[CoolerChange, ...]]
    """By grid point, in order; things taken out come first."""
    steps_known: int
    """Steps before the first one whose weather is not known."""

    @property
    def steps(self) -> int:
        """Number of steps."""
        return len(self.air_c)

    def index(self, time_s: float) -> int:
        """Grid point at a time that was given as a mark, or the first one after it."""
        return min(bisect_left(self.times_s, time_s - 1e-6), self.steps)

    def room_kg(self, n: int) -> float:
        """Ice that has room beside food and packs during a step, or the last one; at least 0."""
        free_l = self.cooler.usable_l - self.used_l[min(n, self.steps - 1)]
        return max(free_l, 0.0) / self.ice_l_per_kg


def needs_of(stored: Iterable[Stored]) -> tuple[Need, ...]:
    """One need for every perishable thing, for as long as it is inside."""
    return tuple(Need(s.in_s, s.out_s, s.name, s.mass_kg) for s in stored if s.perishable)


def kept_by_frost(line: CoolerSteps) -> tuple[bool, ...]:
    """(n,) steps of times of need whose air is at or below 0 °C from beginning to end.

    No ice need be left then, as long as the inside stays at or below the limit: it is warmed by the
    sun at most. One mild or unknown hour, and it must be as ever.
    """
    frost = [False] * line.steps
    start = 0
    for n in range(line.steps + 1):
        if n < line.steps and line.needed[n]:
            continue
        if all(air_c <= 0.0 for air_c in line.ambient_c[start : n + 1]):
            frost[start:n] = [True] * (n - start)
        start = n + 1
    return tuple(frost)


def make_timeline(
    cooler: Cooler,
    around: Surroundings,
    *,
    stored: Sequence[Stored] = (),
    needs: Sequence[Need] = (),
    marks_s: Iterable[float] = (),
    forms: Iterable[IceForm] = (),
) -> CoolerSteps:
    """Lay out the steps.

    Parameters
    ----------
    stored, needs
        Clipped to the trip; what ends before it starts is ignored.
    marks_s
        Times that must be grid points, such as ice purchases.
    forms
        Forms of the ice that may be put in; none stated: cubes, which take most room.
    """
    start_s, end_s, ambient = around.start_s, around.end_s, around.ambient
    inside = [s for s in stored if s.out_s > max(s.in_s, start_s) and s.in_s < end_s]
    needs = [n for n in needs if n.end_s > n.start_s and n.end_s > start_s and n.start_s < end_s]
    marks = {start_s, end_s, *marks_s, *np.arange(start_s, end_s, _STEP_S)}
    marks |= {t for s in inside for t in (s.in_s, s.out_s)}
    marks |= {t for span in cooler.packs_away for t in span}
    marks |= {t for n in needs for t in (n.start_s, n.end_s)}
    times = np.array(sorted(t for t in marks if start_s <= t <= end_s))
    # Grid points less than a millisecond apart are one.
    times = times[np.concatenate([[True], np.diff(times) > 1e-3])]
    lengths_s = np.diff(times)
    air_c = ambient.mean(times[:-1], times[1:])
    walls_w_per_k, sun_k = _walls(cooler, around, times)
    if math.isinf(cooler.ua_w_per_k):
        outside_c, leak_w_per_k = air_c + sun_k, walls_w_per_k
    else:
        leak_w_per_k = walls_w_per_k + cooler.lid_w_per_k
        # Sun warms the walls only; the lid lets in air.
        outside_c = np.maximum(air_c + sun_k * walls_w_per_k / leak_w_per_k, 0.0)
    unknown = np.flatnonzero(np.isnan(air_c))
    capacity, used_l, moves = _contents(cooler, inside, times)
    return CoolerSteps(
        cooler=cooler,
        times_s=tuple(times.tolist()),
        ambient_c=tuple(ambient.at(times).tolist()),
        air_c=tuple(air_c.tolist()),
        walls_w_per_k=tuple(walls_w_per_k.tolist()),
        sun_k=tuple(sun_k.tolist()),
        outside_c=tuple(outside_c.tolist()),
        leak_kj_per_k=tuple((leak_w_per_k * lengths_s / 1000.0).tolist()),
        capacity_kj_per_k=tuple(capacity.tolist()),
        used_l=tuple(used_l.tolist()),
        ice_l_per_kg=max(
            (stowage_l_per_kg(form) for form in forms), default=stowage_l_per_kg("cube")
        ),
        needed=tuple(_any_of([(n.start_s, n.end_s) for n in needs], times).tolist()),
        moves=moves,
        steps_known=int(unknown[0]) if len(unknown) else len(lengths_s),
    )


def _walls(
    cooler: Cooler, around: Surroundings, times: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Leak through the walls in each step, W/K, and excess of the skin in the sun, K."""
    riding = _share_of(around.rides, times)
    sunny_ride = _share_of(_both(around.sun, around.rides), times)
    sunny_rest = _share_of(around.sun, times) - sunny_ride
    # In parts of the leak in still air, which is infinite without a cooler.
    leak = 1.0 + riding * (cooler.wind_factor - 1.0)
    heat_k = (
        sunny_rest * cooler.sun_excess_k + sunny_ride * cooler.wind_factor * cooler.sun_riding_k
    )
    return cooler.ua_w_per_k * leak, heat_k / leak


def _both(some: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """Find the times within one of the first spans and one of the second."""
    pairs = ((max(a, c), min(b, d)) for a, b in some for c, d in others)
    return [(start_s, end_s) for start_s, end_s in pairs if end_s > start_s]


def _contents(
    cooler: Cooler, stored: Sequence[Stored], times: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], dict[int, tuple[CoolerChange, ...]]]:
    own = max(cooler.liner_kj_per_k, _MIN_CAPACITY_KJ_PER_K)
    own += cooler.packs_kg * CP_WATER_KJ_PER_KG_K
    capacity = np.full(len(times) - 1, own)
    used_l = np.full(len(times) - 1, cooler.packs_l)
    changes: list[tuple[int, int, float, float, float]] = []
    for thing in stored:
        first = int(np.searchsorted(times, max(thing.in_s, times[0]) - 1e-3))
        last = int(np.searchsorted(times, thing.out_s - 1e-3))
        heat_kj_per_k = thing.mass_kg * thing.cp_kj_per_kg_k
        capacity[first:last] += heat_kj_per_k
        used_l[first:last] += thing.room_l
        temp_c = 0.0 if thing.frozen_water_share > 0.0 else max(thing.temp_c, 0.0)
        changes.append((first, 1, heat_kj_per_k, temp_c, thing.frozen_kg))
        if last < len(times) - 1:
            changes.append((last, -1, heat_kj_per_k, 0.0, thing.frozen_kg))
    packs_kj_per_k, packs_kg = cooler.packs_kg * CP_WATER_KJ_PER_KG_K, cooler.frozen_packs_kg
    for out_s, in_s in cooler.packs_away:
        first, last = np.searchsorted(times, (out_s - 1e-3, in_s - 1e-3)).tolist()
        if not 0 < first < last < len(times):
            continue
        capacity[first:last] -= packs_kj_per_k
        used_l[first:last] -= cooler.packs_l
        changes.append((first, -1, packs_kj_per_k, 0.0, packs_kg))
        packs_kg = cooler.packs_kg
        changes.append((last, 1, packs_kj_per_k, 0.0, packs_kg))
    moves: dict[int, list[CoolerChange]] = {}
    now_kj_per_k, frozen_kg = own, cooler.frozen_packs_kg
    for at, sign, heat_kj_per_k, temp_c, item_kg in sorted(changes):
        move = CoolerChange(sign, heat_kj_per_k, temp_c, item_kg, now_kj_per_k, frozen_kg)
        moves.setdefault(at, []).append(move)
        now_kj_per_k += sign * heat_kj_per_k
        frozen_kg += sign * item_kg
    return capacity, used_l, {at: tuple(list_) for at, list_ in moves.items()}


def _share_of(spans: Sequence[Span], times: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of each step that lies within any of the spans."""
    covered_s = np.zeros(len(times) - 1)
    reached_s = -math.inf
    for start_s, end_s in sorted(spans):
        from_s = max(start_s, reached_s)
        if end_s > from_s:
            covered_s += np.clip(
                np.minimum(times[1:], end_s) - np.maximum(times[:-1], from_s), 0.0, None
            )
            reached_s = end_s
    return covered_s / np.diff(times)


def _any_of(spans: Sequence[Span], times: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which steps touch any of the spans."""
    return _share_of(spans, times) > 0.0
