"""What to buy at each stop: needs added up over dishes, rounded to packs, in walking order.

In: a menu, the stops, how many eat. Out: a list per stop. What is left of a pack is used later if
it still keeps once opened; otherwise it is said to be left over.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from resupply.kitchen.food.dishes import AISLES
from resupply.kitchen.food.packs import cover
from resupply.kitchen.food.storage_classes import class_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Sequence

    from resupply.kitchen.food.dishes import Cookbook, Dish, Ingredient
    from resupply.kitchen.food.meals import Menu, MenuInput, ShopVisit
    from resupply.kitchen.food.storage import Storage

__all__ = ["Shopping", "ShoppingLine", "StopList", "make_shopping"]

_NOTHING = 1e-9
"""Less of an amount is the rounding of floats."""


@dataclass(frozen=True, slots=True)
class ShoppingLine:
    """One ingredient on one list. Amounts are in the ingredient's unit, for the whole party."""

    ingredient: str
    need: float
    """For the meals bought for here."""
    in_hand: float
    """Of that, what is left from packs bought before."""
    packs: tuple[tuple[int, int], ...]
    """(size, count)."""
    used_later: float
    """Left in these packs and used by meals bought for at later stops."""
    left_over: float
    """Left in these packs and not in the menu."""
    keeps: bool
    """Whether what is left over keeps like a sealed pack."""
    meals: tuple[int, ...]
    """Slot indexes it is bought for; empty for the reserve."""
    doubtful: bool
    """A small shop may not have it."""

    @property
    def bought(self) -> float:
        """Amount in the packs."""
        return float(sum(size * count for size, count in self.packs))


@dataclass(frozen=True, slots=True)
class StopList:
    """The list for one stop, in the order in which a shop is walked."""

    stop: int
    lines: tuple[ShoppingLine, ...]


@dataclass(frozen=True, slots=True)
class Shopping:
    """All lists."""

    people: int
    stops: tuple[StopList, ...]
    """One for every stop, also where nothing is bought."""
    reserve: tuple[ShoppingLine, ...] = ()
    """Emergency meals, bought once, before the trip."""

    def bought_at(self, ingredient: str, stop: int) -> int:
        """Stop at which an ingredient planned for a stop is really bought.

        That is an earlier one where packs from before are enough.
        """
        lines = {
            listed.stop: line
            for listed in self.stops
            for line in listed.lines
            if line.ingredient == ingredient and listed.stop <= stop
        }
        if stop not in lines or lines[stop].packs:
            return stop
        return max((n for n, line in lines.items() if line.used_later > _NOTHING), default=stop)


@dataclass(frozen=True, slots=True)
class _Use:
    """One meal's need of one ingredient."""

    slot: int
    when: dt.datetime
    stop: int
    amount: float
    doubtful: bool


@dataclass(slots=True)
class _Lot:
    """What is left of packs bought at a stop."""

    line: int
    amount: float
    stop: int
    opened: dt.datetime
    used_later: float = 0.0


@dataclass(slots=True)
class _Book:
    """Lines of one ingredient while they are worked out."""

    lines: list[tuple[int, ShoppingLine]] = field(default_factory=list)
    lots: list[_Lot] = field(default_factory=list)


def make_shopping(
    given: MenuInput, menu: Menu, storage: Storage, reserve: Iterable[Dish] = ()
) -> Shopping:
    """Make the lists.

    Parameters
    ----------
    menu
        As planned; meals without a dish buy nothing.
    storage
        The limits and temperatures the menu was planned with.
    reserve
        Emergency meals; each is for the whole party.
    """
    cookbook, people = given.cookbook, given.people
    by_stop: dict[int, list[ShoppingLine]] = {n: [] for n in range(len(given.stops))}
    for key, uses in sorted(_uses(menu, people).items()):
        for stop, line in _buy(cookbook.ingredients[key], uses, given.stops, storage):
            by_stop[stop].append(line)
    lists = tuple(StopList(n, _walked(lines, cookbook)) for n, lines in by_stop.items())
    return Shopping(people, lists, _walked(_reserve(reserve, cookbook, people), cookbook))


def _uses(menu: Menu, people: int) -> dict[str, list[_Use]]:
    uses: dict[str, list[_Use]] = {}
    for meal in menu.meals:
        if meal.dish is None:
            continue
        for portion, bought in zip(meal.dish.portions, meal.bought, strict=True):
            use = _Use(
                meal.slot.index,
                meal.slot.when,
                bought.stop,
                portion.amount * people,
                bought.doubtful,
            )
            uses.setdefault(portion.use, []).append(use)
    return uses


def _buy(
    part: Ingredient, uses: list[_Use], stops: Sequence[ShopVisit], storage: Storage
) -> list[tuple[int, ShoppingLine]]:
    """Buy one ingredient for all its uses: (stop, line) in order."""
    book = _Book()
    keeps = class_of(storage.table, part.storage).keeps_opened
    for stop in sorted({use.stop for use in uses}):
        here = [use for use in uses if use.stop == stop]
        in_hand = 0.0
        groups: list[list[tuple[_Use, float]]] = []
        for use in here:
            taken = _take(book.lots, use, part, stops, storage)
            in_hand += taken
            rest = use.amount - taken
            if rest <= _NOTHING:
                continue
            # A pack is shared only by meals within its time once opened.
            if groups and _lasts(part, stop, groups[-1][0][0].when, use.when, stops, storage):
                groups[-1].append((use, rest))
            else:
                groups.append([(use, rest)])
        packs: dict[int, int] = {}
        number = len(book.lines)
        for group in groups:
            need = sum(rest for _, rest in group)
            chosen = cover(need, part.packs)
            for size, count in chosen:
                packs[size] = packs.get(size, 0) + count
            left = sum(size * count for size, count in chosen) - need
            if left > _NOTHING:
                book.lots.append(_Lot(number, left, stop, group[0][0].when))
        line = ShoppingLine(
            ingredient=part.id,
            need=sum(use.amount for use in here),
            in_hand=in_hand,
            packs=tuple(sorted(packs.items(), reverse=True)),
            used_later=0.0,
            left_over=0.0,
            keeps=keeps,
            meals=tuple(use.slot for use in here),
            doubtful=any(use.doubtful for use in here),
        )
        book.lines.append((stop, line))
    return [
        (
            stop,
            replace(
                line,
                used_later=sum(lot.used_later for lot in book.lots if lot.line == number),
                left_over=sum(lot.amount for lot in book.lots if lot.line == number),
            ),
        )
        for number, (stop, line) in enumerate(book.lines)
    ]


def _take(
    lots: list[_Lot], use: _Use, part: Ingredient, stops: Sequence[ShopVisit], storage: Storage
) -> float:
    """Take what an earlier pack still gives, oldest first."""
    taken = 0.0
    for lot in lots:
        wanted = use.amount - taken
        if lot.amount > _NOTHING and wanted > _NOTHING:
            if not _lasts(part, lot.stop, lot.opened, use.when, stops, storage):
                continue
            some = min(lot.amount, wanted)
            lot.amount -= some
            lot.used_later += some
            taken += some
    return taken


def _lasts(
    part: Ingredient,
    stop: int,
    opened: dt.datetime,
    when: dt.datetime,
    stops: Sequence[ShopVisit],
    storage: Storage,
) -> bool:
    return storage.use_by(part.storage, stops[stop].when, opened=opened).allows(when)


def _reserve(dishes: Iterable[Dish], cookbook: Cookbook, people: int) -> list[ShoppingLine]:
    needs: dict[str, float] = {}
    for dish in dishes:
        for portion in dish.portions:
            needs[portion.use] = needs.get(portion.use, 0.0) + portion.amount * people
    lines = []
    for key, need in needs.items():
        packs = cover(need, cookbook.ingredients[key].packs)
        left = sum(size * count for size, count in packs) - need
        lines.append(ShoppingLine(key, need, 0.0, packs, 0.0, left, True, (), False))
    return lines


def _walked(lines: Iterable[ShoppingLine], cookbook: Cookbook) -> tuple[ShoppingLine, ...]:
    def place(line: ShoppingLine) -> tuple[int, str, str]:
        part = cookbook.ingredients[line.ingredient]
        return AISLES.index(part.aisle), part.name, part.id

    return tuple(sorted(lines, key=place))
