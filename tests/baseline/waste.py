"""What a kitchen wastes, feeds and weighs, from the plan documents of any version.

Waste is the mass bought and not eaten by this trip's meals, as a share of the mass bought; the
pantry kit and what is never eaten stand apart, and so do the reserve meals. Energy is that of days
with all three meals, snacks and drinks included. Mass bought is told per meal and person.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.baseline.run import plan_with

RIDERS = (1, 2)
KIT = frozenset(
    {
        *("oil", "herb-salt", "sugar", "curry-powder", "chilli-powder", "stock-cubes", "mustard"),
        *("coffee", "tea", "foil"),
    }
)
"""What every version is measured without: decanted at home, refilled, not bought for a trip."""


@dataclass(frozen=True, slots=True)
class Waste:
    """One trip's figures."""

    bought_kg: float
    """Kit and reserve apart."""
    left_kg: float
    """Of it, what no meal of the trip uses."""
    kcal_low: float | None
    """Least a person gets on a day with all meals; None where there is no such day."""
    kcal_high: float | None
    kg_per_meal: float
    """Bought, per filled meal and person."""

    @property
    def share(self) -> float:
        """Part of the bought mass that is thrown away or left over."""
        return self.left_kg / self.bought_kg if self.bought_kg else 0.0


def waste_of(document: dict[str, Any]) -> Waste:
    """Measure a plan document of any format."""
    lines = [
        line
        for stop in document["shopping"]["stops"]
        for line in stop["lines"]
        if line["id"] not in KIT and line["aisle"] not in ("ice", "household")
    ]
    unit_kg = {line["id"]: line["mass_kg"] / line["bought"] for line in lines if line["bought"]}
    bought_kg = sum(line["mass_kg"] for line in lines)
    # Of what is used of earlier packs the mass stands on the line of those packs.
    left_kg = sum((line["bought"] - line["need"]) * unit_kg.get(line["id"], 0.0) for line in lines)
    filled = 0
    kcal: list[float] = []
    for day in document["menu"]["days"]:
        meals = [meal for meal in day["meals"] if meal.get("dish")]
        filled += len(meals)
        if len(meals) == 3:
            extra = sum(one["kcal_each"] for one in day.get("extras") or ())
            kcal.append(sum(meal["dish"]["kcal_each"] for meal in meals) + extra)
    people = document["shopping"]["people"]
    return Waste(
        bought_kg=bought_kg,
        left_kg=max(left_kg, 0.0),
        kcal_low=min(kcal, default=None),
        kcal_high=max(kcal, default=None),
        kg_per_meal=bought_kg / (filled * people) if filled else 0.0,
    )


def with_riders(name: str, riders: int, inputs: Path) -> Path:
    """Write a copy of a trip file for so many riders, beside it."""
    lines = (inputs / f"{name}.toml").read_text("utf-8").splitlines()
    in_party = False
    kept = []
    for line in lines:
        if line.startswith("["):
            in_party = line.strip() == "[party]"
        if not line.startswith("party.people") and not (in_party and line.startswith("people")):
            kept.append(line)
    if "[party]" in kept:
        kept.insert(kept.index("[party]") + 1, f"people = {riders}")
    else:
        kept.insert(0, f"party.people = {riders}")
    path = inputs / f"{name}.{riders}_riders.toml"
    path.write_text("\n".join(kept) + "\n", "utf-8")
    return path


def measure(names: tuple[str, ...], trees: dict[str, Path], inputs: Path, out: Path) -> str:
    """Plan every trip for one and two riders with each tree, and lay the figures side by side."""
    found: dict[tuple[str, int, str], Waste] = {}
    for name in names:
        for riders in RIDERS:
            trip = with_riders(name, riders, inputs)
            for version, tree in trees.items():
                results = out / version / trip.stem
                plan_with(tree, ["plan"], trip, results)
                path = results / "plan.json"
                if path.exists():
                    document = json.loads(path.read_text("utf-8"))
                    if document.get("shopping"):
                        found[name, riders, version] = waste_of(document)
    return table(names, found, tuple(trees))


def table(
    names: tuple[str, ...], found: dict[tuple[str, int, str], Waste], versions: tuple[str, ...]
) -> str:
    """Lay out the figures: a row for each trip and number of riders, columns for each version."""
    arrow = " → "
    head = (
        "| trip | riders | left over or thrown away | kcal a person and day | kg a meal | 1 : 2 |"
    )
    rows = [head, "| --- | --- | --- | --- | --- | --- |"]
    for name in names:
        for riders in RIDERS:
            each = [found.get((name, riders, version)) for version in versions]
            other = [found.get((name, 2, version)) for version in versions]
            ratios = [
                f"{one.kg_per_meal / two.kg_per_meal:.2f}" if one and two else "–"
                for one, two in zip(each, other, strict=True)
            ]
            cells = [
                arrow.join(f"{one.share:.0%}" if one else "–" for one in each),
                arrow.join(_span(one) for one in each),
                arrow.join(f"{one.kg_per_meal:.2f}" if one else "–" for one in each),
                arrow.join(ratios) if riders == 1 else "",
            ]
            rows.append(f"| `{name}` | {riders} | {' | '.join(cells)} |")
    return "\n".join(rows)


def _span(one: Waste | None) -> str:
    if one is None or one.kcal_low is None or one.kcal_high is None:
        return "–"
    return f"{one.kcal_low:,.0f}–{one.kcal_high:,.0f}"


__all__ = ["KIT", "RIDERS", "Waste", "measure", "table", "waste_of", "with_riders"]
