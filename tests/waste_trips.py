"""Random trips: what is left over of the food bought, and what each rider eats a day.

The trips are those of `tests/cooler_trips.py`, by seed; those without a menu are left out.

    python -m tests.waste_trips 200
    python -m tests.waste_trips 200 --first 1000
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parent.parent))

from cooler_trips import planned

from tests.baseline.waste import Waste, waste_of


def measured(seeds: range) -> dict[int, list[Waste]]:
    """What each trip wastes and feeds, by number of riders."""
    found: dict[int, list[Waste]] = {}
    for seed in seeds:
        _, document = planned(seed)
        if document.get("menu") and any(stop["lines"] for stop in document["shopping"]["stops"]):
            found.setdefault(document["shopping"]["people"], []).append(waste_of(document))
    return found


def told(found: dict[int, list[Waste]]) -> str:
    """A row for each number of riders."""
    rows = ["riders  trips  left over: median  nine of ten  most   kcal a full day: least  most"]
    for riders, trips in sorted(found.items()):
        shares = np.array([one.share for one in trips])
        low = [one.kcal_low for one in trips if one.kcal_low is not None]
        high = [one.kcal_high for one in trips if one.kcal_high is not None]
        middle, nine, most = np.quantile(shares, [0.5, 0.9, 1.0])
        kcal = f"{min(low):,.0f}  {max(high):,.0f}" if low else "–"
        rows.append(
            f"{riders:>6}  {len(trips):>5}  {middle:>17.1%}  {nine:>11.1%}  {most:>5.1%}  {kcal}"
        )
    return "\n".join(rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("trips", type=int)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    args = parser.parse_args()
    print(told(measured(range(args.first, args.first + args.trips))))


if __name__ == "__main__":
    main()
