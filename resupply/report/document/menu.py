"""The menu as rows of the plan document."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resupply.common.quantity import as_sentence, line, listed, name, temp
from resupply.kitchen.food.amounts import rounded, say_amount
from resupply.kitchen.food.care import cooked_to
from resupply.kitchen.food.dishes import Heat
from resupply.kitchen.food.meals import Diet, Fire
from resupply.kitchen.food.mixed import kept_apart
from resupply.report.document.model.menu import (
    DishRow,
    ExtraRow,
    IngredientUse,
    MealRow,
    MenuDay,
    MenuDocument,
    MenuNotes,
    MovedDishRow,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from resupply.common.quantity import Sentence
    from resupply.kitchen.food.care import CareTable
    from resupply.kitchen.food.dishes import Cookbook, Dish, Ingredient
    from resupply.kitchen.food.meals import Extra, Menu, MenuMeal, MovedDish
    from resupply.kitchen.food.shopping import Shopping
    from resupply.kitchen.food.storage_classes import StorageTable

__all__ = ["menu_document"]

_COOKED_APART = (
    "Cooked apart, or put in once the others have theirs; with a spoon and a board of its own."
)
_SERVED_APART = "Put on last, with a knife and a board of its own."
_IN_THE_OPEN = "In the open, never in a tent: carbon monoxide."


@dataclass(frozen=True, slots=True)
class _Larder:
    """What the rows are told with."""

    cookbook: Cookbook
    table: StorageTable
    people: int
    care: CareTable
    diet: Diet
    shopping: Shopping | None
    first_stop: int

    def eaters(self, dish: Dish, part: Ingredient) -> int:
        """How many of the party eat a food of a dish."""
        if not kept_apart(dish, self.cookbook, self.diet):
            return self.people
        return self.diet.eaters(part.diet, self.people)


def menu_document(
    menu: Menu,
    *,
    cookbook: Cookbook,
    table: StorageTable,
    people: int,
    care: CareTable,
    diet: Diet | None = None,
    shopping: Shopping | None = None,
    first_stop: int = 0,
) -> MenuDocument:
    """Write the menu by day.

    Parameters
    ----------
    diet
        What the party eats; None for anything.
    shopping
        The lists, to tell where what is left of earlier packs was bought.
    first_stop
        Number of the plan's stop that the first of the kitchen's stops is; 0 is home.
    """
    larder = _Larder(cookbook, table, people, care, diet or Diet(), shopping, first_stop)
    days: dict[int, list[MealRow]] = {}
    for meal in menu.meals:
        row = _meal(meal, larder)
        days.setdefault(meal.slot.day, []).append(row)
    extras: dict[int, list[ExtraRow]] = {}
    for extra in menu.extras:
        extras.setdefault(extra.day, []).append(_extra(extra, larder))
    return MenuDocument(
        people=people,
        days=tuple(
            MenuDay(
                day=day,
                date=meals[0].when.date(),
                meals=tuple(meals),
                extras=tuple(extras.get(day, ())),
                kcal_each=sum(meal.dish.kcal_each for meal in meals if meal.dish is not None)
                + sum(extra.kcal_each for extra in extras.get(day, ())),
            )
            for day, meals in sorted(days.items())
        ),
        moves=tuple(_move(move, cookbook) for move in menu.moves),
        unfilled=tuple(meal.slot.index for meal in menu.unfilled),
        warnings=tuple(menu.warnings),
        words=MenuNotes(
            energy="Energy and mass are estimates from round figures (not checked).",
            allergens="Allergens are those of a typical product: read the label.",
            sources="Where these limits come from, and how sure they are: see Food care.",
        ),
    )


def _meal(meal: MenuMeal, larder: _Larder) -> MealRow:
    slot, dish = meal.slot, meal.dish
    use_by = meal.use_by.when if meal.use_by is not None else None
    return MealRow(
        slot=slot.index,
        when=slot.when,
        kind=slot.kind.value,
        stretch=slot.stretch,
        late=slot.late,
        fire_ban=slot.fire is Fire.BANNED,
        no_cook=slot.no_cook,
        dish=None if dish is None else _dish(meal, dish, larder),
        use_by=use_by,
        why=meal.why,
    )


def _extra(extra: Extra, larder: _Larder) -> ExtraRow:
    part = larder.cookbook.ingredients[extra.ingredient]
    return ExtraRow(
        id=part.id,
        name=part.name,
        amount=round(extra.amount, 3),
        unit=part.unit,
        words=as_sentence(say_amount(rounded(extra.amount, part.unit), part.unit)),
        kcal_each=round(extra.amount * part.kcal_per_unit / larder.people),
        stop=larder.first_stop + extra.stop,
    )


def _dish(meal: MenuMeal, dish: Dish, larder: _Larder) -> DishRow:
    cookbook, people, shopping = larder.cookbook, larder.people, larder.shopping
    uses = [(use, cookbook.ingredients[use.ingredient]) for use in meal.uses(people)]
    kg = [use.amount * part.unit_kg for use, part in uses]
    known = [caution for caution in dish.cautions if caution in larder.care.note]
    return DishRow(
        id=dish.id,
        name=dish.name,
        method=dish.method,
        heat=dish.heat.value,
        minutes=dish.minutes,
        kcal_each=round(sum(use.amount * part.kcal_per_unit for use, part in uses) / people),
        mass_kg=round(sum(kg), 3),
        volume_l=round(
            sum(each * part.l_per_kg for each, (_, part) in zip(kg, uses, strict=True)), 3
        ),
        water_l=round(dish.water_l * people, 3),
        diet=cookbook.diet(dish),
        allergens=tuple(allergen.value for allergen in cookbook.allergens(dish)),
        may_contain=tuple(allergen.value for allergen in cookbook.label_decides(dish)),
        care=tuple(known),
        cautions=tuple(caution for caution in dish.cautions if caution not in known),
        steps=dish.steps,
        musts=tuple(_musts(dish, larder)),
        tags=dish.tags,
        leftover_of=dish.leftover_of,
        ingredients=tuple(
            IngredientUse(
                id=part.id,
                name=part.name,
                amount=round(use.amount, 3),
                unit=part.unit,
                words=as_sentence(say_amount(rounded(use.amount, part.unit), part.unit)),
                each_words=as_sentence(
                    say_amount(
                        rounded(use.amount / larder.eaters(dish, part), part.unit), part.unit
                    )
                ),
                storage=larder.table.classes[part.storage].name,
                stop=larder.first_stop
                + (shopping.bought_at(part.id, use.bought.stop) if shopping else use.bought.stop),
                use_by=use.bought.use_by.when,
                doubtful=use.bought.doubtful,
            )
            for use, part in uses
        ),
    )


def _musts(dish: Dish, larder: _Larder) -> Iterator[Sentence]:
    parts = larder.cookbook.parts(dish)
    apart = [parts[n] for n in kept_apart(dish, larder.cookbook, larder.diet) or ()]
    if apart:
        yield line(
            "{foods}: for {eaters} only. {how}",
            foods=listed(name(part.name) for part in apart),
            eaters=listed(
                line("{n} of {people}", n=n, people=larder.people)
                for n in dict.fromkeys(larder.eaters(dish, part) for part in apart)
            ),
            how=_SERVED_APART if dish.heat is Heat.NONE else _COOKED_APART,
        )
    for part, row in cooked_to(dish, larder.cookbook, larder.table, larder.care):
        if row.temp_c is None:
            yield line("{food}: {words}.", food=name(part.name), words=row.words)
        else:
            yield line(
                "{food}: {temp} in the middle{rest}{words}.",
                food=name(part.name),
                temp=temp(row.temp_c),
                rest=f", then {row.rest_min:g} minutes of rest" if row.rest_min else None,
                words=f", {row.words}" if row.words else None,
            )
    if dish.heat is not Heat.NONE:
        yield as_sentence(_IN_THE_OPEN)


def _move(move: MovedDish, cookbook: Cookbook) -> MovedDishRow:
    return MovedDishRow(
        dish=move.dish,
        name=cookbook.dishes[move.dish].name,
        from_slot=move.from_slot,
        to_slot=move.to_slot,
        warm_from=move.warm_from,
        why=move.why,
    )
