"""The plan on a terminal. Map text is shown as text: no markup, no control codes."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from resupply.cli.signs import fitted
from resupply.common.progress import Announcement
from resupply.common.quantity import day_time, duration, mass, percent, time, way
from resupply.common.quantity import meals as count_meals
from resupply.common.show import shown
from resupply.common.show import text as told
from resupply.common.text import clean
from resupply.report.document.in_words import shown_in
from resupply.say.states import words_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from rich.console import Console

    from resupply.common.progress import Progress
    from resupply.common.show import Show
    from resupply.report.document.model.days import DayRow
    from resupply.report.document.model.plan import PlanDocument

__all__ = ["print_summary", "progress_bar", "waited"]


@contextmanager
def progress_bar(console: Console) -> Iterator[Progress]:
    """Show what is being done; silent where nobody watches."""
    from rich.progress import BarColumn, SpinnerColumn, TextColumn
    from rich.progress import Progress as Bar

    with Bar(
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(bar_width=24),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    ) as bar:
        task = bar.add_task("Starting", total=None)

        def tell(what: str, share: float | None) -> None:
            if isinstance(what, Announcement) and console.is_terminal:
                console.print(clean(what), markup=False, highlight=False)
            bar.update(
                task,
                description=clean(what),
                completed=share or 0.0,
                total=None if share is None else 1.0,
            )

        yield tell


def print_summary(plan: PlanDocument, console: Console, written: dict[str, Path]) -> None:
    """Days, stops, cautions and where the files are."""
    show = shown_in(plan)

    def text(said: str, style: str = "") -> Text:
        # Before the table is laid out: a plain sign may be wider than the one it stands for.
        return Text(fitted(clean(said), console.encoding), style=style)

    console.print(Panel(text(told(plan.summary.headline, show)), title=text(plan.trip.name)))
    console.print(_days(plan))
    for leg in plan.legs:
        for row in leg.facts:
            if row.kind != "sunset":  # a column of the table
                console.print(text(f"Day {leg.number}: {told(row.words, show)}"))
    console.print(_stops(plan, text))
    console.print(_styles(plan, text))
    for fact in plan.summary.facts:
        line = text(f"{fact.label}: ", style="bold")
        line.append(text(told(fact.value_words, show), style="not bold"))
        console.print(line)
    for water in _water(plan):
        console.print(text(water))
    for caution in plan.summary.cautions:
        console.print(text(f"! {told(caution, show)}", style="yellow"))
    if plan.naive is not None and plan.naive.shut:
        console.print(text(told(plan.naive.words, show)))
    if plan.care is not None:
        rules = text("In the kitchen: ", style="bold")
        rules.append(text(told(plan.care.short_line, show), style="not bold"))
        console.print(rules)
    source = plan.attribution
    # Without map data there is nobody to credit.
    if plan.places or source.data_date:
        dated = source.data_date or "unknown date"
        console.print(text(f"{source.text}, data of {dated}", style="dim"))
    for name, path in written.items():
        label = "The map is in " if name.endswith(".html") else "Also written: "
        console.print(text(f"{label}{path}"), soft_wrap=True)


def _days(plan: PlanDocument) -> Table:
    show = shown_in(plan)
    table = Table(title="Days", title_justify="left")
    for column in ("Day", "Date", "From", "To", "Ride", "Arrive", "Sunset"):
        table.add_column(column, justify="left" if column == "Date" else "right")
    for leg in plan.legs:
        for count, what in waited(leg):
            table.add_row("", f"{count} {what}", *[""] * 5)
        table.add_row(
            str(leg.number),
            f"{leg.weekday[:3]} {leg.date}",
            shown(way(leg.start_m), show),
            shown(way(leg.end_m), show),
            shown(way(leg.length_m), show),
            shown(time(leg.arrive), show),
            shown(time(leg.sunset), show) if leg.sunset else "",
        )
    return table


def waited(leg: DayRow) -> Iterator[tuple[int, str]]:
    """Days without riding before a day: at rest, and on a ferry."""
    crossing = leg.crossing_days_before
    rests = leg.rest_days_before - crossing
    if rests:
        yield rests, f"rest day{'' if rests == 1 else 's'}"
    if crossing:
        yield crossing, f"day{'' if crossing == 1 else 's'} on a crossing"


def _stops(plan: PlanDocument, text: Callable[[str], Text]) -> Table:
    show = shown_in(plan)
    table = Table(title="Food stops", title_justify="left")
    for column in ("No", "At", "Shop", "Arrive", "State", "Carry from here"):
        table.add_column(column, justify="right" if column in ("No", "At") else "left")
    start = plan.start_carry
    place, carry = "home", _carried(start.meals, start.kg, plan.spare.meals, show)
    if start.on_board_meals is not None:
        needed = count_meals(start.meals)
        place = "where you are" if "now.at_km" in plan.trip.settings else "home"
        carry = f"{needed} needed, {start.on_board_meals} on board"
    table.add_row(text("–"), shown(way(plan.legs[0].start_m), show), place, "", "", text(carry))
    for stop in plan.stops:
        state = words_of(stop.state)
        table.add_row(
            str(stop.number),
            shown(way(stop.chainage_m), show),
            text(stop.name),
            shown(day_time(stop.arrive), show),
            text(f"{state.mark} {state.word}"),
            text(_carried(stop.carry_meals, stop.carry_kg, plan.spare.meals, show)),
        )
    return table


def _water(plan: PlanDocument) -> Iterator[str]:
    """Most water to carry, then where else a litre or more is taken on, and the way there."""
    if plan.water is None:
        return
    show, most = shown_in(plan), plan.water.longest
    yield told(plan.water.words, show)
    for gap in plan.water.gaps:
        if (gap.pass_id, gap.start_m) != (most.pass_id, most.start_m):
            yield f"Water: {told(gap.words, show)}"


def _styles(plan: PlanDocument, text: Callable[[str], Text]) -> Table:
    """Three ways to shop, a line each; the plan's own is marked."""
    table = Table(title="Ways to shop (food.style)", title_justify="left")
    for head in ("", "Stops", "Time", "Most meals", "Fresh dinners", "One is shut"):
        table.add_column(head)
    for row in plan.styles:
        mark = "> " if row.chosen else ""
        cells = (
            f"{mark}{row.style}",
            # The cooler may ask for other stops than these.
            f"about {row.stops}" if row.approximate else str(row.stops),
            duration(row.minutes * 60.0) if row.stops else "",
            f"{row.most_meals} + {plan.spare.meals} spare"
            if plan.spare.meals
            else f"{row.most_meals}",
            f"{row.fresh_dinners} of {row.dinners}" if row.dinners else "",
            percent(row.fail_chance) if row.stops else "",
        )
        table.add_row(*(text(cell) for cell in cells))
    return table


def _carried(meals: int, kg: float | None, spare: int, show: Show) -> str:
    said = f"{count_meals(meals)} + {spare} spare" if spare else count_meals(meals)
    return said if kg is None else f"{said} ({shown(mass(kg), show)})"
