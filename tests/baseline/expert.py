"""Measure plans like an experienced rider would: `python -m tests.baseline.expert PLAN.json ...`.

Any `plan.json` of format 1 is read, of this version or of 0.1.0; what is counted is explained in
docs/expert-cases.md. `--table BEFORE NOW` compares two folders of the baseline and prints the table
that stands there.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

Document = dict[str, Any]

EVENING = dt.timedelta(minutes=90)
MORNING = dt.timedelta(hours=3)
NEAR_S = 300
"""A shop whose detour takes so long at the most, there and back."""
EARLY = dt.time(10, 30)
_OPEN = ("open", "open_unless_holiday", "usually_open")
_FOOD = {"groceries", "small_groceries"}


@dataclass(frozen=True, slots=True)
class Measured:
    """What an experienced rider looks at."""

    stops: int
    most_meals: int
    """To eat and spare (in 0.1.0 the reserve)."""
    missed: tuple[int, ...]
    """Days at whose end an open full shop near camp was passed and food bought next morning."""
    ice_alone: tuple[str, ...]
    """Shops that sell food and are visited for ice alone."""
    shut: tuple[int, ...]
    """Numbers of food stops at a door that is shut by stated hours at the planned time."""
    off_season: tuple[int, ...]
    """Days that end at a camp shut that day."""
    days_shopped: int
    early: int
    """Of these, days on which the first stop is before 10:30."""

    def row(self) -> str:
        """Cells of the table."""
        days = f" (day {', '.join(map(str, self.missed))})" if self.missed else ""
        return " | ".join(
            [
                str(self.stops),
                str(self.most_meals),
                f"{len(self.missed)}{days}",
                str(len(self.ice_alone)),
                str(len(self.shut)),
                str(len(self.off_season)),
                f"{self.early} of {self.days_shopped}",
            ]
        )


HEAD = "stops | most meals | missed evenings | ice alone | shut doors | off season | < 10:30"


def measure(document: Document) -> Measured:
    """Measure one plan document."""
    stops = document["stops"]
    spare = (document.get("spare") or document.get("reserve") or {}).get("meals", 0)
    first: dict[int, dt.datetime] = {}
    for stop in stops:
        when = _time(stop["arrive"])
        first[stop["leg"]] = min(first.get(stop["leg"], when), when)
    loads = [document["start_carry"]["meals"], *(stop["carry_meals"] for stop in stops)]
    passes = {row["id"]: row for row in document["passes"]}
    return Measured(
        stops=len(stops),
        most_meals=max(loads) + spare,
        missed=tuple(_missed_evenings(document)),
        ice_alone=tuple(_ice_alone(document)),
        shut=tuple(stop["number"] for stop in stops if _is_shut(passes[stop["pass"]])),
        off_season=tuple(_off_season(document)),
        days_shopped=len(first),
        early=sum(when.time() < EARLY for when in first.values()),
    )


def _missed_evenings(document: Document) -> Iterator[int]:
    legs = document["legs"]
    for leg, following in pairwise(legs):
        # The first night is fed from home.
        if leg is legs[0] or following["rest_days_before"]:
            continue
        arrive, depart = _time(leg["arrive"]), _time(following["depart"])
        evening = [_time(s["arrive"]) for s in document["stops"] if s["leg"] == leg["number"]]
        if any(when >= arrive - EVENING for when in evening):
            continue
        if not any(
            one["leg"] == leg["number"] and _time(one["eta"]) >= arrive - EVENING
            for one in _near_full_shops(document)
        ):
            continue
        morning = [
            stop
            for stop in document["stops"]
            if stop["leg"] == following["number"] and _time(stop["arrive"]) <= depart + MORNING
        ]
        if morning and not _shut_day_after(document, following["number"]):
            yield leg["number"]


def _near_full_shops(document: Document) -> Iterator[Document]:
    for one in document["passes"]:
        sold = document["places"][one["place"]]["supplies"]
        usual = one["state"] == "unknown" and one.get("usual") is True
        if "groceries" in sold and (one["state"] in _OPEN or usual) and one["detour_s"] <= NEAR_S:
            yield one


def _shut_day_after(document: Document, number: int) -> bool:
    """Whether no full shop near the road is open on the day after a day: it is shopped for."""
    after = [leg["number"] for leg in document["legs"] if leg["number"] == number + 1]
    return bool(after) and not any(one["leg"] in after for one in _near_full_shops(document))


def _ice_alone(document: Document) -> Iterator[str]:
    food = {stop["pass"] for stop in document["stops"]}
    passes = {row["id"]: row for row in document["passes"]}
    for row in document["ice"]["stops"]:
        place = document["places"][passes[row["pass"]]["place"]]
        sells_food = not _FOOD.isdisjoint(place["supplies"])
        if row["buy"] and row["pass"] not in food and not row.get("at_stop") and sells_food:
            yield place["name"] or passes[row["pass"]]["place"]


def _is_shut(crossing: Document) -> bool:
    """Whether the door is shut at the planned time: the next thing it does is open."""
    if crossing["state"] == "shut":
        return True
    opens, closes = crossing.get("next_open"), crossing.get("next_close")
    if crossing["state"] != "tight" or not opens:
        return False
    return not closes or _time(opens) < _time(closes)


def _off_season(document: Document) -> Iterator[int]:
    shut = {(row["place"], row["leg"]) for row in document["passes"] if row["state"] == "shut"}
    for leg in document["legs"][:-1]:
        if (leg["night"]["place"], leg["number"]) in shut:
            yield leg["number"]


def _time(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def read(path: Path) -> Measured:
    """Measure the plan in a file."""
    return measure(json.loads(path.read_text("utf-8")))


def table(before: Path, now: Path) -> str:
    """Compare the trips that are planned in two folders."""
    lines = [f"| trip | version | {HEAD} |", f"| {' | '.join(['---'] * 9)} |"]
    for path in sorted(now.glob("*/plan.json")):
        name = path.parent.name
        for version, folder in (("0.1.0", before), ("now", now)):
            lines.append(f"| `{name}` | {version} | {read(folder / name / 'plan.json').row()} |")
    return "\n".join(lines)


def main() -> None:
    """Read the command line and do what it says."""
    ask = argparse.ArgumentParser("tests.baseline.expert", description=__doc__)
    ask.add_argument("plans", nargs="*", type=Path, metavar="PLAN.json")
    ask.add_argument("--table", nargs=2, type=Path, metavar=("BEFORE", "NOW"))
    given = ask.parse_args()
    if given.table:
        print(table(*given.table))
    if given.plans:
        print(f"| plan | {HEAD} |\n| {' | '.join(['---'] * 8)} |")
    for path in given.plans:
        print(f"| {path} | {read(path).row()} |")


if __name__ == "__main__":
    main()
