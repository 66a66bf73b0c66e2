"""The exact assignment of dishes to meals, as a mixed-integer programme.

In: which dish fits which slot, and what each choice costs. Out: one dish or none per slot, at the
least total cost, proven by the solver (HiGHS, through scipy; no gap is allowed).

The objective, in this order of size: no meal without a dish; no dish again within the next few
meals; no dish twice on the trip; fresh food where it may be eaten, what spoils first first, and
heavy food before light.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

__all__ = ["EMPTY", "NEAR_REPEAT", "TRIP_REPEAT", "DishChoice", "assign", "total_cost"]

EMPTY = 1000.0
"""A meal without a dish."""
NEAR_REPEAT = 30.0
"""Each time a run of meals as long as the variety window holds a dish once too often."""
TRIP_REPEAT = 3.0
"""Each further time that a dish is eaten on the trip."""


@dataclass(frozen=True, slots=True)
class DishChoice:
    """One dish that fits one slot."""

    slot: int
    """Position in the list of slots."""
    dish: str
    cost: float


def assign(
    n_slots: int,
    choices: Sequence[DishChoice],
    *,
    window: int,
    leftovers: Mapping[str, frozenset[str]],
) -> dict[int, str]:
    """Choose dishes.

    Parameters
    ----------
    n_slots
        Slots are numbered from 0 in order of time.
    choices
        What fits where.
    window
        Number of consecutive meals in which no dish should come twice, >= 1.
    leftovers
        Dish to the dishes made from its leftovers: if it is eaten, one of those must follow in the
        next slot, and they follow nothing else.

    Returns
    -------
    dict
        Slot to dish; empty slots are missing.
    """
    if not choices:
        return {}
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    rows = _Rows()
    by_slot: dict[int, list[int]] = {}
    by_dish: dict[str, list[int]] = {}
    for number, choice in enumerate(choices):
        by_slot.setdefault(choice.slot, []).append(number)
        by_dish.setdefault(choice.dish, []).append(number)
    cost = [choice.cost - EMPTY for choice in choices]
    for numbers in by_slot.values():
        rows.add([(n, 1.0) for n in numbers], high=1.0)

    def count_over(numbers: Sequence[int], each: float) -> None:
        # One more variable, at least the number of uses beyond the first.
        cost.append(each)
        rows.add([*((n, 1.0) for n in numbers), (len(cost) - 1, -1.0)], high=1.0)

    for numbers in by_dish.values():
        if len(numbers) > 1:
            count_over(numbers, TRIP_REPEAT)
        for start in range(max(n_slots - window, 0) + 1):
            inside = [n for n in numbers if start <= choices[n].slot < start + window]
            if len(inside) > 1:
                count_over(inside, NEAR_REPEAT)
    _tie_leftovers(rows, choices, n_slots, leftovers)
    n_extra = len(cost) - len(choices)
    row, col, value = rows.triplets()
    matrix = coo_array((value, (row, col)), shape=(len(rows.low), len(cost))).tocsr()
    solved = milp(
        np.array(cost),
        constraints=LinearConstraint(matrix, np.array(rows.low), np.array(rows.high)),
        integrality=np.array([1] * len(choices) + [0] * n_extra),
        bounds=Bounds(0.0, np.array([1.0] * len(choices) + [np.inf] * n_extra)),
        options={"mip_rel_gap": 0.0},
    )
    if solved.x is None:
        # Leaving every meal empty is always allowed, so this is a fault of the solver.
        raise RuntimeError(f"the menu could not be solved: {solved.message}")
    chosen: NDArray[np.float64] = solved.x[: len(choices)]
    return {choices[n].slot: choices[n].dish for n in np.flatnonzero(chosen > 0.5).tolist()}


def total_cost(
    n_slots: int, choices: Sequence[DishChoice], picked: Mapping[int, str], *, window: int
) -> float:
    """Cost of an assignment, added up directly from its definition."""
    each = {(choice.slot, choice.dish): choice.cost for choice in choices}
    total = EMPTY * (n_slots - len(picked))
    total += sum(each[slot, dish] for slot, dish in picked.items())
    for dish in set(picked.values()):
        uses = [slot for slot, other in picked.items() if other == dish]
        total += TRIP_REPEAT * (len(uses) - 1)
        for start in range(max(n_slots - window, 0) + 1):
            inside = sum(start <= slot < start + window for slot in uses)
            total += NEAR_REPEAT * max(inside - 1, 0)
    return total


class _Rows:
    """Constraint rows, gathered as triplets."""

    def __init__(self) -> None:
        self.low: list[float] = []
        self.high: list[float] = []
        self._parts: list[list[tuple[int, float]]] = []

    def add(
        self, terms: list[tuple[int, float]], *, low: float = -np.inf, high: float = np.inf
    ) -> None:
        self._parts.append(terms)
        self.low.append(low)
        self.high.append(high)

    def triplets(self) -> tuple[list[int], list[int], list[float]]:
        flat = [(row, col, v) for row, terms in enumerate(self._parts) for col, v in terms]
        return [f[0] for f in flat], [f[1] for f in flat], [f[2] for f in flat]


def _tie_leftovers(
    rows: _Rows,
    choices: Sequence[DishChoice],
    n_slots: int,
    leftovers: Mapping[str, frozenset[str]],
) -> None:
    place = {(choice.slot, choice.dish): n for n, choice in enumerate(choices)}
    for maker, users in leftovers.items():
        for slot in range(-1, n_slots):
            terms = [(place[slot, maker], -1.0)] if (slot, maker) in place else []
            terms += [(place[slot + 1, u], 1.0) for u in users if (slot + 1, u) in place]
            if terms:
                rows.add(terms, low=0.0, high=0.0)
