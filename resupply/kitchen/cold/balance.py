"""The heat account of a cooler: ice melts at 0 °C, then everything in it warms together.

State is one heat content H (kJ, 0 when all is at 0 °C and melted). Below zero there is ice and
the inside is at 0 °C; above, the inside is at H / C. Within a step the outside is constant, so
each step is exact: H rises linearly while there is ice, then exponentially.

Cautious by choice: contents colder than 0 °C are not credited, meltwater is drained unless
kept on purpose, frost outside makes no ice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.kitchen.cold.cooler import cooler_data
from resupply.kitchen.cold.heat import CP_WATER_KJ_PER_KG_K, LATENT_KJ_PER_KG

if TYPE_CHECKING:
    from collections.abc import Sequence

    from resupply.kitchen.cold.cooler import IceForm
    from resupply.kitchen.cold.steps import CoolerChange, CoolerSteps

__all__ = [
    "IceLoad",
    "State",
    "add_ice",
    "advance",
    "apply_moves",
    "first_state",
    "step",
]


@dataclass(frozen=True, slots=True)
class IceLoad:
    """Ice put into the cooler."""

    at_s: float
    kg: float
    form: IceForm = "cube"
    label: str = "home"
    """Where it comes from; shown to the rider."""


@dataclass(frozen=True, slots=True)
class State:
    """What the cooler holds at an instant."""

    heat_kj: float
    """0 when all is melted and at 0 °C; negative with ice, positive when warm."""
    loose_kg: float
    """Loose ice when last put in; frozen food and packs thaw before it, a little below 0 °C."""
    water_kg: float = 0.0
    """Meltwater kept inside."""

    @property
    def store_kg(self) -> float:
        """Frozen store: ice, packs and frozen food, as kilograms of ice."""
        return max(-self.heat_kj, 0.0) / LATENT_KJ_PER_KG

    @property
    def ice_kg(self) -> float:
        """Loose ice left."""
        return min(self.loose_kg, self.store_kg)


def first_state(line: CoolerSteps) -> State:
    """State before anything is put in: a clean cooler and its packs."""
    cooler = line.cooler
    start_c = cooler_data()["pre_chilled"]["start_c"]
    if not cooler.pre_chilled:
        start_c = max(line.ambient_c[0], 0.0)
    heat_kj = cooler.liner_kj_per_k * start_c - cooler.frozen_packs_kg * LATENT_KJ_PER_KG
    if cooler.under_way:
        # Thawed packs are as warm as the cooler.
        heat_kj += cooler.packs_kg * CP_WATER_KJ_PER_KG_K * start_c
    return State(heat_kj, 0.0)


def advance(
    heat_kj: float, capacity_kj_per_k: float, outside_c: float, leak_kj_per_k: float
) -> float:
    """Heat content after one step, exact for a constant outside temperature of at least 0.

    Parameters
    ----------
    capacity_kj_per_k
        Of everything inside once melted, > 0.
    leak_kj_per_k
        Heat leak times the length of the step.

    Examples
    --------
    >>> advance(-333.55, 1.0, 20.0, 10.0)  # 200 kJ of 333.55 melt ice
    -133.55
    """
    if heat_kj < 0.0:
        gain_kj = leak_kj_per_k * outside_c
        if heat_kj + gain_kj <= 0.0:
            return heat_kj + gain_kj
        leak_kj_per_k *= 1.0 + heat_kj / gain_kj
        heat_kj = 0.0
    start_c = heat_kj / capacity_kj_per_k
    fade = math.exp(-leak_kj_per_k / capacity_kj_per_k)
    return capacity_kj_per_k * (outside_c + (start_c - outside_c) * fade)


def step(line: CoolerSteps, n: int, state: State) -> State:
    """State at the end of step n."""
    water_kg = state.water_kg
    capacity = line.capacity_kj_per_k[n]
    if line.cooler.meltwater == "kept":
        capacity += CP_WATER_KJ_PER_KG_K * (water_kg + state.ice_kg)
    heat_kj = advance(state.heat_kj, capacity, line.outside_c[n], line.leak_kj_per_k[n])
    after = State(heat_kj, state.loose_kg, water_kg)
    if line.cooler.meltwater == "kept":
        return State(heat_kj, after.ice_kg, water_kg + state.ice_kg - after.ice_kg)
    return after


def apply_moves(state: State, moves: Sequence[CoolerChange]) -> State:
    """Put in and take out food; heat content and frozen store go with it."""
    if not moves:
        return state
    heat_kj, ice_kg = state.heat_kj, state.ice_kg
    frozen_kg = state.store_kg - ice_kg
    for move in moves:
        if move.sign > 0:
            heat_kj += move.capacity_kj_per_k * move.temp_c - move.frozen_kg * LATENT_KJ_PER_KG
            frozen_kg += move.frozen_kg
        elif heat_kj > 0.0:
            # Warm: it leaves with its part of the heat.
            total = move.capacity_before_kj_per_k + CP_WATER_KJ_PER_KG_K * state.water_kg
            heat_kj *= 1.0 - move.capacity_kj_per_k / total
        elif move.frozen_kg > 0.0:
            # What is still frozen of it leaves with its cold.
            taken_kg = min(frozen_kg * move.frozen_kg / move.frozen_before_kg, frozen_kg)
            heat_kj += taken_kg * LATENT_KJ_PER_KG
        store_kg = max(-heat_kj, 0.0) / LATENT_KJ_PER_KG
        ice_kg = min(ice_kg, store_kg)
        frozen_kg = store_kg - ice_kg
    return State(heat_kj, ice_kg, state.water_kg)


def add_ice(state: State, kg: float, capacity_kj_per_k: float) -> State:
    """Pour off meltwater and put in ice at 0 °C.

    Parameters
    ----------
    capacity_kj_per_k
        Contents without meltwater.
    """
    heat_kj = state.heat_kj
    if heat_kj > 0.0:
        water = CP_WATER_KJ_PER_KG_K * state.water_kg
        heat_kj *= capacity_kj_per_k / (capacity_kj_per_k + water)
    return State(heat_kj - kg * LATENT_KJ_PER_KG, state.ice_kg + kg)
