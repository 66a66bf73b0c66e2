"""What to buy at each stop: needs added up over dishes, rounded to packs, in walking order.

In: a menu, the stops, how many eat. Out: a list per stop. What is left of a pack is used later if
it still keeps once opened; otherwise it is said to be left over.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from resupply.kitchen.food.dishes import AISLES
from resupply.kitchen.food.larder import NOTHING, Larder, fixed_wish, weighed_out
from resupply.kitchen.food.packs import cover
from resupply.kitchen.food.storage_classes import class_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from resupply.kitchen.food.dishes import Cookbook, Dish, Ingredient
    from resupply.kitchen.food.larder import Served, Wish
    from resupply.kitchen.food.meals import Menu, MenuInput
    from resupply.kitchen.food.storage import Storage

__all__ = ["Shopping", "ShoppingLine", "StopList", "make_shopping"]

_NO_MEAL = -1
"""Stands for the slot of what belongs to no meal: snacks and drinks."""


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
    weighed: float = 0.0
    """Weighed out at home instead of bought in packs: the rest stays in the cupboard."""

    @property
    def bought(self) -> float:
        """Amount that comes on board."""
        return float(sum(size * count for size, count in self.packs)) + self.weighed


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
    kit: tuple[ShoppingLine, ...] = ()
    """The pantry kit: what the trip needs of it, decanted at home."""

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
        return max((n for n, line in lines.items() if line.used_later > NOTHING), default=stop)


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
    larder = Larder(cookbook, storage, given.stops)
    by_stop: dict[int, list[ShoppingLine]] = {n: [] for n in range(len(given.stops))}
    kit = []
    for key, needs in sorted(_needs(menu, people).items()):
        part = cookbook.ingredients[key]
        if part.kit:
            kit.append(_of_kit(part, needs))
            continue
        served = larder.serve(key, needs.wishes)
        for stop, line in _lines(part, needs, served, larder):
            by_stop[stop].append(line)
    return Shopping(
        people,
        tuple(StopList(n, _walked(lines, cookbook)) for n, lines in by_stop.items()),
        reserve=_walked(_reserve(reserve, cookbook, people), cookbook),
        kit=_walked(kit, cookbook),
    )


@dataclass(frozen=True, slots=True)
class _Needs:
    """One food's wishes, and which of them a small shop may not serve."""

    wishes: list[Wish] = field(default_factory=list)
    doubtful: set[tuple[int, int]] = field(default_factory=set)


def _needs(menu: Menu, people: int) -> dict[str, _Needs]:
    needs: dict[str, _Needs] = {}
    for meal in menu.meals:
        slot = meal.slot
        for use in meal.uses(people):
            key = (slot.index, use.portion)
            mine = needs.setdefault(use.ingredient, _Needs())
            mine.wishes.append(fixed_wish(key, slot.when, use.bought.stop, use.amount))
            if use.bought.doubtful:
                mine.doubtful.add(key)
    for number, extra in enumerate(menu.extras):
        mine = needs.setdefault(extra.ingredient, _Needs())
        mine.wishes.append(fixed_wish((_NO_MEAL, number), extra.when, extra.stop, extra.amount))
    return needs


def _of_kit(part: Ingredient, needs: _Needs) -> ShoppingLine:
    """Take what the trip needs of one thing of the kit; the rest of its pack stays at home."""
    need = sum(wish.want for wish in needs.wishes)
    return ShoppingLine(
        part.id, need, 0.0, (), 0.0, 0.0, True, _meals(needs.wishes), False, weighed=need
    )


def _lines(
    part: Ingredient, needs: _Needs, served: Served, larder: Larder
) -> Iterator[tuple[int, ShoppingLine]]:
    """Tell what is bought of one food: (stop, line) in order."""
    table = larder.storage.table
    from_home = sum(run.from_home for run in served.runs)
    for stop in sorted({run.stop for run in served.runs} | ({0} if from_home else set())):
        here = [run for run in served.runs if run.stop == stop]
        weighed = larder.stops[stop].weighed and weighed_out(part, table)
        packs: dict[int, int] = {}
        for run in here if not weighed else ():
            for size, count in cover(run.bought, part.sold):
                packs[size] = packs.get(size, 0) + count
        wishes = [wish for run in here for wish in run.wishes]
        carried = from_home if stop == 0 else 0.0
        yield (
            stop,
            ShoppingLine(
                ingredient=part.id,
                need=sum(wish.want for wish in wishes),
                in_hand=sum(
                    run.from_home + (run.taken if run.taken_stop < stop else 0.0) for run in here
                ),
                packs=tuple(sorted(packs.items(), reverse=True)),
                used_later=carried
                + sum(run.taken for run in served.runs if run.taken_stop == stop < run.stop),
                left_over=served.left.get(stop, 0.0),
                keeps=class_of(table, part.storage).keeps_opened,
                meals=_meals(wishes),
                doubtful=any(wish.key in needs.doubtful for wish in wishes),
                weighed=carried + sum(run.bought for run in here) if weighed else 0.0,
            ),
        )


def _meals(wishes: Iterable[Wish]) -> tuple[int, ...]:
    return tuple(wish.key[0] for wish in wishes if wish.key[0] != _NO_MEAL)


def _reserve(dishes: Iterable[Dish], cookbook: Cookbook, people: int) -> list[ShoppingLine]:
    needs: dict[str, float] = {}
    for dish in dishes:
        for portion in dish.portions:
            needs[portion.use] = needs.get(portion.use, 0.0) + portion.amount * people
    lines = []
    for key, need in needs.items():
        packs = cover(need, cookbook.ingredients[key].sold)
        left = sum(size * count for size, count in packs) - need
        lines.append(ShoppingLine(key, need, 0.0, packs, 0.0, left, True, (), False))
    return lines


def _walked(lines: Iterable[ShoppingLine], cookbook: Cookbook) -> tuple[ShoppingLine, ...]:
    def place(line: ShoppingLine) -> tuple[int, str, str]:
        part = cookbook.ingredients[line.ingredient]
        return AISLES.index(part.aisle), part.name, part.id

    return tuple(sorted(lines, key=place))
