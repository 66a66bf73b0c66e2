"""What is left of packs while it waits in the cooler for its meal, or for the next bin.

In: the lists and the menu. Out: amounts with the time they lie in the cooler. A pack takes all of
its room from the shop on; what no meal uses leaves at the next stop, as the load has it. A tin
rides in the bag until it is opened; then what a later meal uses of it lies in the cooler.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.common.units import S_PER_DAY
from resupply.kitchen.food.load import goes_in_cooler
from resupply.kitchen.food.storage_classes import Keeping, class_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from resupply.kitchen.food.meals import Menu, MenuInput
    from resupply.kitchen.food.shopping import Shopping, ShoppingLine
    from resupply.kitchen.food.storage_classes import StorageClass

__all__ = ["Rest", "rests_of"]

_NOTHING = 1e-9
"""Less of an amount is the rounding of floats."""


@dataclass(frozen=True, slots=True)
class Rest:
    """Part of a pack in the cooler that belongs to no meal yet."""

    ingredient: str
    amount: float
    """Of the ingredient's unit, for the whole party."""
    in_s: float
    """UTC seconds since 1970."""
    out_s: float


def rests_of(given: MenuInput, menu: Menu, shopping: Shopping) -> tuple[Rest, ...]:
    """List the rests that lie in the cooler, in order of time."""
    table = given.storage
    by_part: dict[str, list[tuple[int, ShoppingLine]]] = {}
    for listed in shopping.stops:
        for line in listed.lines:
            by_part.setdefault(line.ingredient, []).append((listed.stop, line))
    uses = _uses(menu, shopping.people)
    end_s = max((when_s for rows in uses.values() for when_s, _ in rows), default=0.0)
    times_s = [*(stop.when.timestamp() for stop in given.stops), end_s]
    rests: list[Rest] = []
    for key, lines in by_part.items():
        row = class_of(table, given.cookbook.ingredients[key].storage)
        if goes_in_cooler(table, row.id):
            rests += _of_cold_packs(key, lines, times_s)
        elif row.keeping is Keeping.STABLE and row.opened and row.after_warm == "discard":
            rests += _of_opened(key, lines, uses.get(key, []), times_s, row)
    inside = [rest for rest in rests if rest.amount > _NOTHING and rest.out_s > rest.in_s]
    return tuple(sorted(inside, key=lambda rest: (rest.in_s, rest.ingredient, rest.out_s)))


def _uses(menu: Menu, people: int) -> dict[str, list[tuple[float, float]]]:
    """Time and amount of each use by ingredient, in order of time."""
    uses: dict[str, list[tuple[float, float]]] = {}
    for meal in menu.meals:
        for use in meal.uses(people):
            row = (meal.slot.when.timestamp(), use.amount)
            uses.setdefault(use.ingredient, []).append(row)
    for extra in menu.extras:
        uses.setdefault(extra.ingredient, []).append((extra.when.timestamp(), extra.amount))
    return {key: sorted(rows) for key, rows in uses.items()}


def _of_cold_packs(
    key: str, lines: Sequence[tuple[int, ShoppingLine]], times_s: Sequence[float]
) -> Iterator[Rest]:
    """Rests of what rides in the cooler from the shop on."""
    waiting: list[list[float]] = []  # amount, time put in
    for stop, line in lines:
        # Meals bought for here take of earlier packs first, oldest first.
        wanted = line.in_hand
        for lot in waiting:
            some = min(lot[0], wanted)
            yield Rest(key, some, lot[1], times_s[stop])
            lot[0] -= some
            wanted -= some
        waiting.append([line.used_later, times_s[stop]])
        if not line.keeps:
            yield Rest(key, line.left_over, times_s[stop], times_s[stop + 1])
        else:
            yield Rest(key, line.left_over, times_s[stop], times_s[-1])


def _of_opened(
    key: str,
    lines: Sequence[tuple[int, ShoppingLine]],
    uses: Sequence[tuple[float, float]],
    times_s: Sequence[float],
    row: StorageClass,
) -> Iterator[Rest]:
    """Rests of tins and the like from one use to the next, as long as they keep once opened."""
    keeps_s = (row.opened or (0.0, 0.0))[0] * S_PER_DAY
    coming = [
        (times_s[stop], float(size))
        for stop, line in lines
        for size, count in line.packs
        for _ in range(count)
    ]
    open_amount = opened_s = 0.0
    for (when_s, amount), (next_s, _) in zip(uses, [*uses[1:], (0.0, 0.0)], strict=True):
        if when_s - opened_s > keeps_s:
            open_amount = 0.0
        while open_amount < amount - _NOTHING and coming and coming[0][0] <= when_s:
            open_amount += coming.pop(0)[1]
            opened_s = when_s
        open_amount = max(open_amount - amount, 0.0)
        if next_s - opened_s <= keeps_s:
            yield Rest(key, open_amount, when_s, next_s)
