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


def measure(names: tuple[str, ...], old: Path, inputs: Path, out: Path) -> None:
    """Print what every trip wastes for one and two riders, with packs from home too, and in 0.1.0.

    The old version runs in processes of its own; this tree reads each trip once.
    """
    print(f"{HEAD}\n| --- | --- | --- | --- | --- |", flush=True)
    for name in names:
        found: dict[tuple[int, str], Waste] = {}
        for riders in RIDERS:
            trip = with_riders(name, riders, inputs)
            plan_with(old, ["plan"], trip, out / "0.1.0" / trip.stem)
            path = out / "0.1.0" / trip.stem / "plan.json"
            if path.exists():
                found[riders, "0.1.0"] = waste_of(json.loads(path.read_text("utf-8")))
        for which, document in planned_now(inputs / f"{name}.{RIDERS[0]}_riders.toml").items():
            if document.get("shopping"):
                found[which] = waste_of(document)
        print(table_row(name, found), flush=True)


def planned_now(trip: Path) -> dict[tuple[int, str], dict[str, Any]]:
    """Plan documents of this tree by number of riders, from the cupboard or with packs."""
    from resupply.api import plan
    from resupply.report.document.in_words import in_words

    first = plan(trip)
    found = {}
    for riders in RIDERS:
        weighed = first if riders == RIDERS[0] else first.replan(people=riders)
        packs = weighed.replan(settings={"food.weigh_at_home": False})
        for kind, made in (("now", weighed), ("packs", packs)):
            found[riders, kind] = in_words(made.pocket_document())
    return found


HEAD = (
    "| trip | left of what is bought, 2 riders: 0.1.0 / now / packs from home too | 1 rider: the "
    "same | kcal a rider and full day: 0.1.0 / now | kg a meal, 1 rider : 2 riders: 0.1.0 / now |"
)


def table_row(name: str, found: dict[tuple[int, str], Waste]) -> str:
    """Lay out one trip's figures, by riders and by 0.1.0, now and packs."""

    def share(riders: int, kind: str) -> str:
        one = found.get((riders, kind))
        if one is None:
            return "–"
        percent = 100.0 * one.share
        return f"{percent:.0f}" if percent >= 1.95 else f"{percent:.1f}".replace("0.0", "0")

    def ratio(kind: str) -> str:
        one, two = (found.get((riders, kind)) for riders in RIDERS)
        return f"{one.kg_per_meal / two.kg_per_meal:.2f}" if one and two else "–"

    left = [
        " / ".join(share(riders, kind) for kind in ("0.1.0", "now", "packs")) + " %"
        for riders in reversed(RIDERS)
    ]
    kcal = [
        _span([w for (_, kind), w in found.items() if kind == version])
        for version in ("0.1.0", "now")
    ]
    ratios = " / ".join(ratio(kind) for kind in ("0.1.0", "now"))
    return f"| `{name}` | {left[0]} | {left[1]} | {' / '.join(kcal)} | {ratios} |"


def _span(trips: list[Waste]) -> str:
    low = [one.kcal_low for one in trips if one.kcal_low is not None]
    high = [one.kcal_high for one in trips if one.kcal_high is not None]
    if not low:
        return "–"
    ends = sorted({f"{min(low):,.0f}", f"{max(high):,.0f}"})
    return "–".join(ends)


__all__ = [
    "KIT",
    "RIDERS",
    "Waste",
    "measure",
    "planned_now",
    "table_row",
    "waste_of",
    "with_riders",
]
